"""The runs of a test as a CSV table: to plain columns in SI, each row with its line."""

from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.errors import InputError
from racecalc.files.table import Table, read_table
from racecalc.quantities.kinds import ANGLE, AREA, DENSITY, FORCE, POWER, RATIO, SPEED, TIME, Kind

MEASURES: dict[str, tuple[Kind, float, float]] = {
    "cda": (AREA, 0.001, 1.2),
    "power": (POWER, 1.0, 2500.0),
    "drag": (FORCE, 0.01, 500.0),
}
"""Kind and possible range [SI] of what a test measures; the ranges catch a wrong unit."""

CONDITIONS: dict[str, tuple[Kind, float, float]] = {
    "speed": (SPEED, 1.0, 40.0),
    "density": (DENSITY, 0.5, 1.6),
    "yaw": (ANGLE, -np.pi / 2, np.pi / 2),
}
"""Kind and possible range [SI] of the conditions; cells of these columns may be empty."""

ONE_SESSION = "one session"
"""Name of the session where the table has neither `session` nor `date`."""


@dataclass(frozen=True)
class RunTable:
    """Columns of a table of runs, in the order of the file.

    Parameters
    ----------
    source : str
        File name as the user gave it.
    measure : str
        "cda", "power" or "drag".
    item, rider, session, note : tuple of str, length n
        Texts; a rider or note that is not stated is "".
    order : FloatArray, shape (n,)
        Counter, or clock [s] where the heading has a unit of time.
    value : FloatArray, shape (n,)
        What was measured [m^2, W or N].
    speed, density, yaw : FloatArray, shape (n,)
        Conditions [m/s, kg/m^3, rad]; NaN where not stated.
    excluded : tuple of str, length n
        Why the tester leaves a run out; "" for the runs that count.
    line : tuple of int, length n
        Line of the file, from 1.
    notes : tuple of str
        What was taken for granted because a column is missing, in sentences.
    """

    source: str
    measure: str
    item: tuple[str, ...]
    rider: tuple[str, ...]
    session: tuple[str, ...]
    order: FloatArray
    value: FloatArray
    speed: FloatArray
    density: FloatArray
    yaw: FloatArray
    note: tuple[str, ...]
    excluded: tuple[str, ...]
    line: tuple[int, ...]
    notes: tuple[str, ...]


def read_run_table(path: Path) -> RunTable:
    """Read a table of test runs.

    Parameters
    ----------
    path : Path
        CSV file with the columns `item`, `session` (or `date`), `order` and exactly one of
        `cda [m^2]`, `power [W]` and `drag [N]`; optionally `rider`, `speed [km/h]`,
        `density [kg/m^3]`, `yaw [deg]`, `size`, `excluded` and `note`. An item counts by name
        and size, so that sizes are never pooled. Without `session` all rows are one session,
        without `order` the rows stand in their order. Other columns are ignored.

    Returns
    -------
    RunTable
        At least one run.

    Raises
    ------
    InputError
        With line and column, if a heading is missing or doubled, a text or number is missing
        or impossible, or two rows have the same session and order.
    """
    table = read_table(path)
    measure = _measure(table)
    session, session_notes = _sessions(table)
    order, order_notes = _order(table, session)
    read = RunTable(
        source=table.source,
        measure=measure,
        item=_items(table),
        rider=_filled(table, "rider") if table.has("rider") else ("",) * len(table.rows),
        session=session,
        order=order,
        value=_within(table, measure, *MEASURES[measure]),
        **{name: _condition(table, name) for name in CONDITIONS},
        note=tuple(table.optional_texts("note")),
        excluded=tuple(table.optional_texts("excluded")),
        line=table.lines,
        notes=session_notes + order_notes,
    )
    _refuse_twins(read)
    return read


def _measure(table: Table) -> str:
    found = [name for name in MEASURES if table.has(name)]
    if len(found) == 1:
        return found[0]
    choices = "'cda [m^2]', 'power [W]' or 'drag [N]'"
    if not found:
        headings = ", ".join(column.heading for column in table.columns)
        raise InputError(
            table.header_place,
            f"no column says what was measured (headings: {headings})",
            f"add {choices}",
        )
    raise InputError(
        table.header_place,
        f"the columns {' and '.join(map(repr, found))} each say what was measured",
        f"keep one of {choices} and rename the other",
    )


def _items(table: Table) -> tuple[str, ...]:
    names = _filled(table, "item")
    if not table.has("size"):
        return names
    return tuple(
        f"{name}, size {size}" if size else name
        for name, size in zip(names, table.texts("size"), strict=True)
    )


def _filled(table: Table, name: str) -> tuple[str, ...]:
    texts = table.texts(name)
    if not all(texts):
        raise InputError(
            table.place(texts.index(""), name), "the cell is empty", f"name the {name} of this run"
        )
    return tuple(texts)


def _sessions(table: Table) -> tuple[tuple[str, ...], tuple[str, ...]]:
    for name in ("session", "date"):
        if table.has(name):
            return _filled(table, name), ()
    said = "The table has no column 'session' or 'date': all runs are taken as one session."
    return (ONE_SESSION,) * len(table.rows), (said,)


def _order(table: Table, session: tuple[str, ...]) -> tuple[FloatArray, tuple[str, ...]]:
    if not table.has("order"):
        said = "The table has no column 'order': its rows are taken to stand as they were ridden."
        return np.arange(1.0, len(session) + 1.0), (said,)
    return table.numbers("order", TIME if table.column("order").unit else RATIO), ()


def _within(table: Table, name: str, kind: Kind, least: float, most: float) -> FloatArray:
    values = table.numbers(name, kind, gaps=name in CONDITIONS)
    table.refuse(
        name,
        (values < least) | (values > most),
        f"cannot be the {name} of a run",
        "check the number and the unit of the heading",
    )
    return values


def _condition(table: Table, name: str) -> FloatArray:
    if table.has(name):
        return _within(table, name, *CONDITIONS[name])
    return np.full(len(table.rows), np.nan)


def _refuse_twins(read: RunTable) -> None:
    """Refuse two rows with the same rider, session and order."""
    keys = list(zip(read.rider, read.session, read.order.tolist(), strict=True))
    if len(set(keys)) == len(keys):
        return
    ranked = sorted(range(len(keys)), key=lambda row: keys[row])
    first, second = next(pair for pair in pairwise(ranked) if keys[pair[0]] == keys[pair[1]])
    raise InputError(
        f"{read.source}, lines {read.line[first]} and {read.line[second]}",
        f"both are run {keys[first][2]:g} of session '{keys[first][1]}'",
        "delete the row that stands there twice, or give each run its own order",
    )
