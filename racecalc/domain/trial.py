"""The runs of a test, in SI, and how they are read."""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any, Literal, cast

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.errors import InputError
from racecalc.files.opening import remembered
from racecalc.files.table_kinds import RunTable, read_run_table

# --- The runs of a test, and what they say about an item once analysed ---------------------------

Measure = Literal["cda", "power", "drag"]

SAME_YAW = float(np.radians(0.1))
"""Yaws nearer to each other than this are one setting [rad]; common practice, no source."""

LEAST_SWEEP = float(np.radians(8.0))
LEAST_SETTINGS = 3
"""Range of yaw [rad] and number of shared settings from which runs are a sweep; our choice."""

SI_UNIT: dict[Measure, str] = {"cda": "m^2", "power": "W", "drag": "N"}


@dataclass(frozen=True, eq=False)
class Runs:
    """Runs of a test, one value a run in the order of the file; less is faster.

    Raises
    ------
    ValueError
        If lengths disagree, there is no run, or a value or order is not finite.
    """

    source: str
    """File name as the user gave it."""
    measure: Measure
    """What was measured: drag area [m^2], power at the given speed [W], or drag force [N]."""
    item: tuple[str, ...]
    """What was worn or mounted."""
    rider: tuple[str, ...]
    """Who rode; the empty text where the table has no such column."""
    session: tuple[str, ...]
    """Which session (day, or stretch of a day) the run belongs to."""
    order: FloatArray
    """Clock or counter within the session; drift is taken as linear in it; shape (n,)."""
    value: FloatArray
    """What was measured, in the SI unit of the measure; shape (n,)."""
    speed: FloatArray
    """Speed of the run [m/s]; NaN where it is not stated; shape (n,)."""
    density: FloatArray
    """Air density [kg/m^3]; NaN where it is not stated; shape (n,)."""
    yaw: FloatArray
    """Yaw [rad]; NaN where it is not stated; shape (n,)."""
    note: tuple[str, ...]
    """The tester's own words."""
    line: tuple[int, ...]
    """Line of the file, for messages."""
    notes: tuple[str, ...] = ()
    """What was taken for granted on reading, in sentences."""
    excluded: tuple[str, ...] = ()
    """Why the tester leaves a run out; "" for the runs that count, as all do by default."""

    def __post_init__(self) -> None:
        count = len(self.value)
        if not self.excluded:
            object.__setattr__(self, "excluded", ("",) * count)
        if not count:
            raise ValueError("a test needs at least one run")
        for name in (
            "item",
            "rider",
            "session",
            "order",
            "speed",
            "density",
            "yaw",
            "note",
            "line",
            "excluded",
        ):
            if len(getattr(self, name)) != count:
                raise ValueError(f"{name} needs one value a run ({count})")
        if not (np.all(np.isfinite(self.value)) and np.all(np.isfinite(self.order))):
            raise ValueError("values and order must be finite")

    def kept(self, rows: Sequence[int]) -> "Runs":
        """Return some of the runs, by their position from 0; at least one."""
        picked = np.asarray(rows, dtype=np.intp)
        columns: dict[str, Any] = {field.name: getattr(self, field.name) for field in fields(self)}
        kept: dict[str, Any] = {
            name: column[picked]
            if isinstance(column, np.ndarray)
            else tuple(column[row] for row in picked)
            for name, column in columns.items()
            if name not in {"source", "measure", "notes"}
        }
        return replace(self, **kept)

    def counted(self) -> "Runs":
        """Return the runs that the tester did not leave out."""
        rows = [row for row, reason in enumerate(self.excluded) if not reason]
        if len(rows) == len(self.excluded):
            return self
        if not rows:
            raise InputError(self.source, "all runs are left out", "empty a cell of 'excluded'")
        return self.kept(rows)

    @property
    def unit(self) -> str:
        """SI unit of the values."""
        return SI_UNIT[self.measure]

    @property
    def items(self) -> tuple[str, ...]:
        """Names of the items in the order they first appear."""
        return tuple(dict.fromkeys(self.item))

    @property
    def riders(self) -> tuple[str, ...]:
        """Names of the riders in the order they first appear."""
        return tuple(dict.fromkeys(self.rider))

    @property
    def is_sweep(self) -> bool:
        """Whether yaw was set and not met: each item at three or more of the same yaws.

        On the road the yaw of a run is what the wind made of it, small and never twice the same.
        """
        if not np.all(np.isfinite(self.yaw)) or np.ptp(self.yaw) < LEAST_SWEEP:
            return False
        settings: dict[str, set[int]] = {name: set() for name in self.items}
        for name, yaw in zip(self.item, self.yaw, strict=True):
            settings[name].add(round(float(yaw) / SAME_YAW))
        return len(set.intersection(*settings.values())) >= LEAST_SETTINGS


# --- From a table of test runs to `Runs` that can be compared with each other --------------------

ONE_SPEED = 0.02
"""Share by which the speeds of runs that count as ridden at one speed may differ from their
median; watts then differ by up to 6 %. Common practice, no source."""


@remembered
def load_runs(path: Path) -> Runs:
    """Read the runs of a test.

    Drag forces become drag areas where speed and density are stated: F / (1/2 rho v^2), the
    definition of the drag area.
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
