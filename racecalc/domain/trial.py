"""The runs of a test, in SI, and how they are read."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from pathlib import Path
from typing import Any, Literal

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.errors import InputError, require
from racecalc.files.opening import remembered
from racecalc.files.tables import CsvTable, read_table
from racecalc.quantities import kinds

# --- The runs of a test, and what they say about an item once analysed ---------------------------

Measure = Literal["cda", "power", "drag"]

SAME_YAW = float(np.radians(0.1))
"""Yaws nearer to each other than this are one setting [rad]; common practice, no source."""

LEAST_SWEEP = float(np.radians(8.0))
LEAST_SETTINGS = 3
"""Range of yaw [rad] and number of shared settings from which runs are a sweep; our choice."""

AMOUNTS: dict[Measure, kinds.Kind] = {
    "cda": replace(kinds.AREA, example="0.001 m^2"),
    "power": replace(kinds.POWER, example="1 W"),
    "drag": replace(kinds.FORCE, example="0.1 N"),
}
"""Kind of differences, whose examples are smaller than those of what is measured."""

SI_UNIT: dict[Measure, str] = {"cda": "m^2", "power": "W", "drag": "N"}


@dataclass(frozen=True, eq=False)
class Runs:
    """Runs of a test, one value a run in the order of the file; less is faster.

    Raises `ValueError` if lengths disagree, there is no run, or a value or order is not finite.
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
    day: tuple[str, ...] = ()
    """On which day it was ridden; each session is a day by default."""
    mounting: tuple[str, ...] = ()
    """Which mounting of its item a run belongs to; "" where the table does not tell."""
    leeway: FloatArray = field(default_factory=lambda: np.zeros(0))
    """How far a value might be off for what is not known of bike or air, all values to one side, in
    the unit of the measure; 0 by default; shape (n,)."""
    efficiency: float = 1.0
    """Share of the watts of the meter that the values count."""

    def __post_init__(self) -> None:
        count = len(self.value)
        by_default: dict[str, Any] = {
            "excluded": ("",) * count,
            "day": self.session,
            "mounting": ("",) * count,
            "leeway": np.zeros(count),
        }
        for name, default in by_default.items():
            if not len(getattr(self, name)):
                object.__setattr__(self, name, default)
        require(count, "a test needs at least one run")
        for name, column in self._columns():
            require(len(column) == count, f"{name} needs one value a run ({count})")
        finite = np.all(np.isfinite([self.value, self.order]))
        require(finite, "values and order must be finite")

    def _columns(self) -> list[tuple[str, Any]]:
        """The fields with one value a run."""
        whole = {"source", "measure", "notes", "efficiency"}
        return [(name, column) for name, column in vars(self).items() if name not in whole]

    def kept(self, rows: Sequence[int]) -> "Runs":
        """Return some of the runs, by their position from 0; at least one."""
        picked = np.asarray(rows, dtype=np.intp)
        kept: dict[str, Any] = {
            name: column[picked]
            if isinstance(column, np.ndarray)
            else tuple(column[row] for row in picked)
            for name, column in self._columns()
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
        met = set(zip(self.item, np.round(self.yaw / SAME_YAW).tolist(), strict=True))
        settings = ({yaw for item, yaw in met if item == name} for name in self.items)
        return len(set.intersection(*settings)) >= LEAST_SETTINGS


# --- From a CSV table to runs that can be compared with each other -------------------------------

POSSIBLE: dict[str, tuple[kinds.Kind, float, float]] = {
    "cda": (kinds.AREA, 0.001, 1.2),
    "power": (kinds.POWER, 1.0, 2500.0),
    "drag": (kinds.FORCE, 0.01, 500.0),
    "speed": (kinds.SPEED, 1.0, 40.0),
    "density": (kinds.DENSITY, 0.5, 1.6),
    "yaw": (kinds.ANGLE, -np.pi / 2, np.pi / 2),
}
"""Kind and possible range [SI] of the columns of numbers; the ranges catch a wrong unit."""

SIZED = ", size "
"""Between the name of an item and its size."""

ONE_SESSION = "one session"
"""Name of the session where the table has neither `session` nor `date`."""

ONE_SPEED = 0.02
"""Share by which the speeds of runs that count as ridden at one speed may differ from their
median; newtons then differ by up to 4 %. Common practice, no source."""


@remembered
def names_recordings(path: Path) -> bool:
    """Whether a table is the sheet of a test day whose drag areas are not measured yet."""
    table = read_table(path)
    named = table.has("recording") and any(table.texts("recording"))
    return bool(named) and not any(any(table.optional_texts(name)) for name in SI_UNIT)


@remembered
def load_runs(path: Path) -> Runs:
    """Read the runs of a test.

    Drag forces become drag areas where speed and density are stated: F / (1/2 rho v^2), the
    definition of the drag area.
    """
    table = read_table(path)
    if names_recordings(path):
        remedy = "run racecalc measure on it, with -o runs.csv"
        raise InputError(table.source, "its drag areas are still in the recordings", remedy)
    measure = _measure(table)
    session, day, session_notes = _sessions(table)
    order, order_notes = _order(table)
    item = _items(table)
    runs = Runs(
        source=table.source,
        measure=measure,
        item=item,
        rider=table.filled("rider") if table.has("rider") else ("",) * len(table.rows),
        session=session,
        day=day,
        order=order,
        value=_numbers(table, measure),
        speed=_numbers(table, "speed", optional=True),
        density=_numbers(table, "density", optional=True),
        yaw=_numbers(table, "yaw", optional=True),
        note=tuple(table.optional_texts("note")),
        excluded=tuple(table.optional_texts("excluded")),
        mounting=table.filled("mounting") if table.has("mounting") else (),
        line=table.lines,
        notes=session_notes + order_notes + _doubtful_names(item),
    )
    _refuse_twins(runs)
    return runs if measure == "cda" else _comparable(runs)


def _measure(table: CsvTable) -> Measure:
    found = [name for name in SI_UNIT if table.has(name)]
    if len(found) == 1:
        return found[0]
    choices = "'cda [m^2]', 'power [W]' or 'drag [N]'"
    if not found:
        headings = ", ".join(column.heading for column in table.columns)
        problem = f"no column says what was measured (headings: {headings})"
        raise InputError(table.header_place, problem, f"add {choices}")
    problem = f"the columns {' and '.join(map(repr, found))} each say what was measured"
    raise InputError(table.header_place, problem, f"keep one of {choices} and rename the other")


def _items(table: CsvTable) -> tuple[str, ...]:
    sized = zip(table.filled("item"), table.optional_texts("size"), strict=True)
    return tuple(f"{name}{SIZED}{size}" if size else name for name, size in sized)


def _sessions(table: CsvTable) -> tuple[tuple[str, ...], tuple[str, ...], tuple[str, ...]]:
    """Session and day of each run, and what was taken for granted."""
    days = next((table.filled(name) for name in ("day", "date") if table.has(name)), None)
    if table.has("session"):
        sessions = table.filled("session")
        if days:
            return _apart(sessions, days), days, ()
        if len(set(sessions)) == 1:
            return sessions, sessions, ()
        said = "The table has no column 'day' or 'date': each session is taken as a day."
        return sessions, sessions, (said,)
    if days:
        return days, days, ()
    said = "The table has no column 'session' or 'date': all runs are taken as one session."
    one = (ONE_SESSION,) * len(table.rows)
    return one, one, (said,)


def _apart(sessions: tuple[str, ...], days: tuple[str, ...]) -> tuple[str, ...]:
    """Names of sessions that may be counted anew on each day."""
    pairs = list(zip(sessions, days, strict=True))
    if len(set(pairs)) == len(set(sessions)):
        return sessions
    return tuple(f"{day}, {session}" for session, day in pairs)


def _order(table: CsvTable) -> tuple[FloatArray, tuple[str, ...]]:
    if not table.has("order"):
        said = "The table has no column 'order': its rows are taken to stand as they were ridden."
        return np.arange(1.0, len(table.rows) + 1.0), (said,)
    return table.numbers("order", kinds.TIME if table.column("order").unit else kinds.RATIO), ()


def _numbers(table: CsvTable, name: str, *, optional: bool = False) -> FloatArray:
    """A column of numbers; NaN where an optional one is not stated."""
    if optional and not table.has(name):
        return np.full(len(table.rows), np.nan)
    kind, least, most = POSSIBLE[name]
    values = table.numbers(name, kind, gaps=optional)
    impossible = (values < least) | (values > most)
    remedy = "check the number and the unit of the heading"
    table.refuse(name, impossible, f"cannot be the {name} of a run", remedy)
    return values


def _refuse_twins(runs: Runs) -> None:
    """Refuse two rows with the same rider, session and order."""
    keys = list(zip(runs.rider, runs.session, runs.order.tolist(), strict=True))
    if len(set(keys)) == len(keys):
        return
    ranked = sorted(range(len(keys)), key=keys.__getitem__)
    first, second = next(pair for pair in pairwise(ranked) if keys[pair[0]] == keys[pair[1]])
    raise InputError(
        f"{runs.source}, lines {runs.line[first]} and {runs.line[second]}",
        f"both are run {keys[first][2]:g} of session '{keys[first][1]}'",
        "delete the row that appears twice, or give each run its own order",
    )


def _comparable(runs: Runs) -> Runs:
    """Runs in watts with their speeds; in newtons at one speed, or as drag areas where that can be.

    Watts are brought to one speed and air in `decisions/evidence/alike.py`.
    """
    need(runs, "speed")
    if runs.measure == "power":
        return runs
    if np.any(np.isfinite(runs.density)):
        need(runs, "density")
        area = runs.value / (0.5 * runs.density * runs.speed**2)
        said = "Drag forces were turned into drag areas: F / (1/2 rho v^2)."
        return replace(runs, measure="cda", value=area, notes=(*runs.notes, said))
    _refuse_other_speeds(runs)
    said = (
        "Air density is not stated, so drag forces are compared as they are: they change"
        " with the air by about 0.4 % a degree."
    )
    return replace(runs, notes=(*runs.notes, said))


def need(runs: Runs, name: Literal["speed", "density"]) -> None:
    """Refuse runs of which one does not state its speed or its density."""
    for row in np.flatnonzero(~np.isfinite(getattr(runs, name))):
        unit = {"speed": "km/h", "density": "kg/m^3"}[name]
        raise InputError(
            f"{runs.source}, line {runs.line[row]}",
            f"{runs.measure} is given without {name}, so the run cannot be compared",
            f"state it in a column '{name} [{unit}]'",
        )


def _refuse_other_speeds(runs: Runs) -> None:
    """Newtons compare only at one speed, that of all riders."""
    middle = float(np.median(runs.speed))
    for row in np.flatnonzero(np.abs(runs.speed - middle) > ONE_SPEED * middle):
        raise InputError(
            f"{runs.source}, line {runs.line[row]}, column 'speed'",
            f"{3.6 * runs.speed[row]:.1f} km/h is more than {ONE_SPEED:.0%} from the"
            f" {3.6 * middle:.1f} km/h of the other runs, and drag at different speeds cannot be"
            " compared",
            "add 'density [kg/m^3]', so that the forces can be turned into CdA",
        )


def _doubtful_names(items: tuple[str, ...]) -> tuple[str, ...]:
    """Point at items that differ by capitals or spaces alone."""
    spelled: dict[str, str] = {}
    pairs = (
        (spelled.setdefault("".join(name.casefold().split()), name), name)
        for name in dict.fromkeys(items)
    )
    return tuple(f"'{a}' and '{b}' are taken as two items." for a, b in pairs if a != b)
