"""The sheet of a test day: one row a run, and where in which recording the run is."""

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

import numpy as np

from racecalc.domain.race import REPORT_HEIGHT, Air, Wind
from racecalc.errors import InputError
from racecalc.files.table_kinds import clock_seconds
from racecalc.files.tables import CsvTable, read_table
from racecalc.quantities import kinds
from racecalc.quantities.kinds import Kind
from racecalc.quantities.measured import QuantityError, in_quotes
from racecalc.quantities.reading import read_direction

How = Literal["lap", "clock", "elapsed", "distance"]

Position = tuple[float, float]
"""Latitude and longitude on WGS84 [deg]."""


@dataclass(frozen=True)
class Span:
    """A stretch of a recording."""

    how: How
    """Whether it is a lap of the device, from 1, or runs from one time of day, time since the
    start [s] or distance since the start [m] to another.
    """
    start: float
    end: float


@dataclass(frozen=True)
class SheetRun:
    """One row of the sheet."""

    line: int
    """Line of the file, for messages."""
    item: str
    session: str
    order: str
    rider: str
    day: str
    mounting: str
    """As written; session, rider, day and mounting "" where there is no such column."""
    recording: Path
    laps: tuple[tuple[Span, ...], ...]
    """Closed laps as one span, a way there and back as two; none where a line is to find them."""
    parts: int
    """Laps of equal length that a stretch is cut into."""
    rise: float | None
    """Surveyed height of the end of a lap above its start [m]; None where it ends where it began.
    """
    mass: float | None
    """Rider, bike and all they carry [kg]; None where not stated."""
    air: Air | None
    """Air of the run at the place itself; None where none is stated."""
    temperature: float | None
    """As stated for the run [K]."""
    wind: Wind | None
    """None where none is stated."""
    wind_from_known: bool
    """Whether it has a direction."""
    note: str
    excluded: str
    """The tester's own words, and reason to leave the run out."""
    lines: tuple[Position, ...] = ()
    """Where each lap begins and ends; two places for a way there and back between them."""

    @property
    def sitting(self) -> str:
        """Session and day, as sessions may be counted anew each day."""
        return ", ".join(filter(None, (self.day, self.session)))

    @property
    def by_line(self) -> bool:
        """Whether its laps are those between crossings of its lines."""
        return bool(self.lines) and not (self.laps and self.laps[0][0].how == "lap")


@dataclass(frozen=True)
class RunSheet:
    """All runs of a sheet, in its order."""

    source: str
    """File name as the user gave it."""
    runs: tuple[SheetRun, ...]
    heading: tuple[str, ...] = ()
    """Which of `HEADING` it has."""
    unused: tuple[str, ...] = ()
    """Headings with something below them that no run uses."""

    def place(self, run: SheetRun) -> str:
        """File and line of a run, for messages."""
        return f"{self.source}, line {run.line}"


_LAP = re.compile(r"(\d+)(?:\s*([-+])\s*(\d+))?")
_LAPS = "write one lap as '3', several as '3-4' or '3, 5', a way there and back as '3+5'"

HEADING = ("session", "day", "rider", "mounting")
"""Columns that runs keep where the sheet has them, with a value in every row."""

RANGES: dict[str, tuple[Kind, float, float]] = {
    "temperature": (kinds.TEMPERATURE, 243.15, 323.15),
    "pressure": (kinds.PRESSURE, 50_000.0, 110_000.0),
    "humidity": (kinds.RATIO, 0.0, 1.0),
    "density": (kinds.DENSITY, 0.5, 1.6),
    "wind_at_rider": (kinds.SPEED, 0.0, 20.0),
    "wind_speed": (kinds.SPEED, 0.0, 30.0),
    "mass": (kinds.MASS, 20.0, 250.0),
    "rise": (kinds.LENGTH, -500.0, 500.0),
}
"""Kind and possible range [SI] of the columns of numbers; the ranges catch a wrong unit."""


KNOWN = frozenset(
    (
        *("item", "size", "order", "recording", "note", "excluded"),
        *("lap", "laps", "from", "to", "back_from", "back_to", "line", "wind_from"),
        *(*HEADING, *RANGES),
    )
)
"""Columns that are read."""


def load_sheet(path: Path) -> RunSheet:
    """Read the sheet of a test day; recordings are named from its folder.

    Raises
    ------
    InputError
        If a row does not say which part of which recording it is, or a value is impossible.
    """
    table = read_table(path)
    table.filled("item")
    table.filled("recording", ", or delete the rows of runs that were not ridden")
    lines = _lines(table)
    runs = tuple(
        replace(_run(table, row, path.parent), lines=lines[row]) for row in range(len(table.rows))
    )
    heading = tuple(name for name in HEADING if table.has(name) and any(table.texts(name)))
    for name in heading:
        table.filled(name)
    unused = tuple(
        one.heading for one in table.columns if one.name not in KNOWN and any(table.texts(one.name))
    )
    return RunSheet(table.source, runs, heading, unused)


def _run(table: CsvTable, row: int, folder: Path) -> SheetRun:
    def text(name: str) -> str:
        return table.texts(name)[row] if table.has(name) else ""

    def number(name: str) -> float | None:
        return _number(table, row, name)

    laps = _laps(table, row)
    parts = _number_of_parts(table, row) if text("laps") else 1
    wind, known = _wind(table, row)
    size = text("size")
    return SheetRun(
        line=table.lines[row],
        item=f"{text('item')}, size {size}" if size else text("item"),
        session=text("session"),
        order=text("order") or str(row + 1),
        rider=text("rider"),
        day=text("day"),
        mounting=text("mounting"),
        recording=folder / text("recording"),
        laps=laps,
        parts=parts,
        rise=number("rise"),
        mass=number("mass"),
        air=_air(table, row),
        temperature=number("temperature"),
        wind=wind,
        wind_from_known=known,
        note=text("note"),
        excluded=text("excluded"),
    )


def _number(table: CsvTable, row: int, name: str) -> float | None:
    """A cell in SI; None where it is empty or there is no such column."""
    if not table.has(name) or not table.texts(name)[row]:
        return None
    kind, least, most = RANGES[name]
    value = float(table.numbers(name, kind, gaps=True)[row])
    if not least <= value <= most:
        shown = in_quotes(table.texts(name)[row])
        problem = f"{shown} is not possible"
        raise table.wrong(row, name, problem, "check the number and the unit of the heading")
    return value


def _number_of_parts(table: CsvTable, row: int) -> int:
    """How many laps a stretch holds."""
    cell = table.texts("laps")[row]
    if not cell.isdecimal() or not 1 <= int(cell) <= 200:
        problem = f"{in_quotes(cell)} is not a number of laps"
        raise table.wrong(row, "laps", problem, "write how many laps are between from and to")
    return int(cell)


# --- Which part of the recording -----------------------------------------------------------------


def _laps(table: CsvTable, row: int) -> tuple[tuple[Span, ...], ...]:
    by_lap = table.has("lap") and table.texts("lap")[row]
    by_ends = table.has("from") and table.texts("from")[row]
    if by_lap and by_ends:
        problem = "both laps of the device and 'from' are given"
        raise table.wrong(row, "lap", problem, "empty one of them")
    if by_lap:
        return tuple(_by_device(table, row, by_lap))
    if not by_ends:
        return ()
    legs = [_ends(table, row, "from", "to")]
    if table.has("back_from") and table.texts("back_from")[row]:
        legs.append(_ends(table, row, "back_from", "back_to"))
    return (tuple(legs),)


def _by_device(table: CsvTable, row: int, cell: str) -> Iterator[tuple[Span, ...]]:
    for part in cell.split(","):
        found = _LAP.fullmatch(part.strip())
        if not found:
            raise table.wrong(row, "lap", f"{in_quotes(cell)} names no laps", _LAPS)
        first, last = int(found[1]), int(found[3] or found[1])
        if found[2] == "+":
            yield Span("lap", first, first), Span("lap", last, last)
            continue
        if last < first:
            raise table.wrong(row, "lap", f"{in_quotes(cell)} goes backwards", _LAPS)
        for lap in range(first, last + 1):
            yield (Span("lap", lap, lap),)


def _ends(table: CsvTable, row: int, begin: str, finish: str) -> Span:
    (one, how), (other, same) = (_end(table, row, name) for name in (begin, finish))
    if how != same:
        problem = f"'{begin}' and '{finish}' are not of one kind"
        raise InputError(table.header_place, problem, "give both as clock, time or distance")
    if other <= one and how != "clock":
        problem = f"{in_quotes(table.texts(finish)[row])} is not after the beginning"
        raise table.wrong(row, finish, problem, "give the end of the run")
    return Span(how, one, other)


def _end(table: CsvTable, row: int, name: str) -> tuple[float, How]:
    unit, cell = table.column(name).unit, table.texts(name)[row]
    if unit and ":" not in unit and kinds.LENGTH.find(unit):
        return float(table.numbers(name, kinds.LENGTH, gaps=True)[row]), "distance"
    if unit:
        written = "write the time since the start of the recording"
        found = table.clock_times(name, written, lambda one: None if one else np.nan)
        return float(found[row]), "elapsed"
    try:
        return clock_seconds(cell), "clock"
    except ValueError as error:
        remedy = (
            f"write the time of day as 09:14:20, or head the column '{name} [min:s]' for the time"
            f" or '{name} [km]' for the distance since the start of the recording"
        )
        raise table.wrong(row, name, f"{in_quotes(cell)} is no time of day", remedy) from error


def _lines(table: CsvTable) -> list[tuple[Position, ...]]:
    """Lines of each row: an empty cell has those of the row above."""
    found: list[tuple[Position, ...]] = []
    for row, cell in enumerate(
        table.texts("line") if table.has("line") else [""] * len(table.rows)
    ):
        try:
            found.append(read_lines(cell) if cell else (found[-1] if found else ()))
        except QuantityError as error:
            raise table.wrong(row, "line", error.problem, error.remedy) from error
    return found


_POSITION = re.compile(r"\s*(-?\d+(?:\.\d+)?)\s*(?:,|\s)\s*(-?\d+(?:\.\d+)?)\s*")


def read_lines(text: str) -> tuple[Position, ...]:
    """One position or two, as "55.0012, 12.0034; 55.0101, 12.0034".

    Examples
    --------
    >>> read_lines("55.0012, 12.0034; 55.0101 12.0034")
    ((55.0012, 12.0034), (55.0101, 12.0034))
    """
    found = [_POSITION.fullmatch(part) for part in text.split(";")]
    places = tuple((float(one[1]), float(one[2])) for one in found if one)
    possible = all(abs(north) <= 90.0 and abs(east) <= 180.0 for north, east in places)
    if len(places) != len(found) or len(found) > 2 or not possible:
        problem = f"{in_quotes(text)} is no position in degrees"
        raise QuantityError(problem, "write latitude and longitude, as '55.0012, 12.0034'")
    return places


# --- The weather of a run ------------------------------------------------------------------------


def _air(table: CsvTable, row: int) -> Air | None:
    """The air as stated for the run; None without pressure and density."""
    density, pressure = (_number(table, row, name) for name in ("density", "pressure"))
    if density is not None:
        return Air(density=density)
    if pressure is None:
        return None
    temperature = _number(table, row, "temperature")
    if temperature is None:
        problem = "a pressure is given without a temperature"
        raise table.wrong(row, "pressure", problem, "add 'temperature [degC]'")
    humidity = _number(table, row, "humidity")
    return Air(temperature=temperature, pressure=pressure, humidity=humidity or 0.0)


def _wind(table: CsvTable, row: int) -> tuple[Wind | None, bool]:
    at_rider, reported = (_number(table, row, name) for name in ("wind_at_rider", "wind_speed"))
    if at_rider is not None and reported is not None:
        problem = "both wind_at_rider and wind_speed are given"
        raise table.wrong(row, "wind_speed", problem, "empty one of them")
    speed = at_rider if at_rider is not None else reported
    if speed is None:
        return None, False
    cell = table.texts("wind_from")[row] if table.has("wind_from") else ""
    unit = table.column("wind_from").unit if cell else ""
    try:
        direction = read_direction(f"{cell} {unit}".strip()) if cell else 0.0
    except QuantityError as error:
        raise table.wrong(row, "wind_from", error.problem, error.remedy) from error
    if at_rider is not None:
        return Wind(speed=speed, direction=direction), bool(cell)
    return Wind(speed=speed, direction=direction, height=REPORT_HEIGHT), bool(cell)
