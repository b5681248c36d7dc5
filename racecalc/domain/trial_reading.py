"""From a table of test runs to `Runs` that can be compared with each other."""

from dataclasses import fields
from pathlib import Path
from typing import Any, cast

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.domain.trial import Measure, Runs
from racecalc.errors import InputError
from racecalc.files.opening import remembered
from racecalc.files.run_table import RunTable, read_run_table

ONE_SPEED = 0.02
"""Share by which the speeds of runs that count as ridden at one speed may differ from their
median; watts then differ by up to 6 %. Common practice, no source."""


@remembered
def load_runs(path: Path) -> Runs:
    """Read the runs of a test.

    Drag forces become drag areas where speed and density are stated: F / (1/2 rho v^2), the
    definition of the drag area.

    Parameters
    ----------
    path : Path
        CSV table, see `read_run_table`.

    Returns
    -------
    Runs
        Comparable runs; its notes say what was taken for granted.

    Raises
    ------
    InputError
        As `read_run_table`; and if power or drag is given without speed, or at speeds too far
        apart to be compared.
    """
    read = read_run_table(path)
    columns: dict[str, Any] = {field.name: getattr(read, field.name) for field in fields(read)}
    columns["notes"] = read.notes + _doubtful_names(read.item)
    if read.measure != "cda":
        _need(read, "speed", read.speed)
    if read.measure == "drag" and np.any(np.isfinite(read.density)):
        _need(read, "density", read.density)
        columns["measure"] = "cda"
        columns["value"] = read.value / (0.5 * read.density * read.speed**2)
        columns["notes"] += ("Drag forces were turned into drag areas: F / (1/2 rho v^2).",)
    elif read.measure != "cda":
        _refuse_other_speeds(read)
    if columns["measure"] == "drag":
        columns["notes"] += (
            "Air density is not stated, so drag forces are compared as they are: they change"
            " with the air by about 0.4 % a degree.",
        )
    return Runs(**{**columns, "measure": cast(Measure, columns["measure"])})


def _need(read: RunTable, name: str, values: FloatArray) -> None:
    missing = ~np.isfinite(values)
    if np.any(missing):
        unit = {"speed": "km/h", "density": "kg/m^3"}[name]
        raise InputError(
            f"{read.source}, line {read.line[int(np.argmax(missing))]}",
            f"{read.measure} is given without {name}, so the run cannot be compared",
            f"state it in a column '{name} [{unit}]'",
        )


def _refuse_other_speeds(read: RunTable) -> None:
    """Watts and newtons compare only at one speed, that of all riders."""
    middle = float(np.median(read.speed))
    away = np.abs(read.speed - middle) > ONE_SPEED * middle
    if np.any(away):
        row = int(np.argmax(away))
        remedy = (
            "convert each run to CdA first and give 'cda [m^2]'"
            if read.measure == "power"
            else "add 'density [kg/m^3]', so that the forces can be turned into CdA"
        )
        raise InputError(
            f"{read.source}, line {read.line[row]}, column 'speed'",
            f"{3.6 * read.speed[row]:.1f} km/h is more than {ONE_SPEED:.0%} from the"
            f" {3.6 * middle:.1f} km/h of the other runs, and {read.measure} at different"
            " speeds cannot be compared",
            remedy,
        )


def _doubtful_names(items: tuple[str, ...]) -> tuple[str, ...]:
    """Point at items that differ by capitals or spaces alone."""
    spelled: dict[str, str] = {}
    notes = []
    for name in dict.fromkeys(items):
        first = spelled.setdefault("".join(name.casefold().split()), name)
        if first != name:
            notes.append(f"'{first}' and '{name}' are taken as two items.")
    return tuple(notes)
