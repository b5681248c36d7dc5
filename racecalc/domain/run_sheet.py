"""The sheet of a test day: one row a run, and where in which recording the run is."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Literal

import numpy as np

from racecalc.domain.race import REPORT_HEIGHT, RIDER_HEIGHT, Air, Wind
from racecalc.domain.trial import SIZED
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


@dataclass(frozen=True, kw_only=True)
class RunWords:
    """What a sheet calls a run; "" where it has no such column."""

    item: str
    session: str = ""
    order: str
    rider: str = ""
    day: str = ""
    mounting: str = ""
    """As in the sheet."""

    @property
    def sitting(self) -> str:
        """Session and day, as sessions may be counted anew each day."""
        return ", ".join(filter(None, (self.day, self.session)))

    @property
    def words(self) -> dict[str, str]:
        """The words by their column."""
        return {one.name: getattr(self, one.name) for one in fields(RunWords)}


@dataclass(frozen=True, kw_only=True)
class SheetRun(RunWords):
    """One row of the sheet; None for what is not stated."""

    line: int
    """Of the file, for messages."""
    recording: Path
    laps: tuple[tuple[Span, ...], ...]
    """Closed laps as one span, a way there and back as two; none where a line is to find them."""
    parts: int = 1
    """Laps of equal length that a stretch is cut into."""
    rise: float | None = None
    """Surveyed height of the end of a lap above its start [m]; None where it ends where it began.
    """
    mass: float | None = None
    """Rider, bike and all they carry [kg]."""
    air: Air | None = None
    """At the place itself."""
    temperature: float | None = None
    """[K]."""
    wind: Wind | None = None
    wind_from_known: bool = False
    """Whether it has a direction."""
    note: str = ""
    excluded: str = ""
    """The tester's own words, and reason to leave the run out."""
    lines: tuple[Position, ...] = ()
    """Where each lap begins and ends; two places for a way there and back between them."""

    @property
    def by_line(self) -> bool:
        """Whether its laps are those between crossings of its lines."""
        return bool(self.lines) and not (self.laps and self.laps[0][0].how == "lap")


@dataclass(frozen=True)
class RunSheet:
    """All runs of a sheet, in its order."""

    source: str
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

    Raises `InputError` if a row does not say which part of which recording it is, or a value is
    impossible.
    """
    table = read_table(path)
    table.filled("item")
    table.filled("recording", ", or delete the rows of runs that were not ridden")
    rows = [_Row(table, at) for at in range(len(table.rows))]
    pairs = zip(rows, _lines(rows), strict=True)
    runs = tuple(_run(row, path.parent, lines) for row, lines in pairs)
    heading = tuple(name for name in HEADING if any(table.optional_texts(name)))
    for name in heading:
        table.filled(name)
    unused = tuple(
        one.heading for one in table.columns if one.name not in KNOWN and any(table.texts(one.name))
    )
    return RunSheet(table.source, runs, heading, unused)


@dataclass(frozen=True)
class _Row:
    """A row of the table."""

    table: CsvTable
    at: int

    def text(self, name: str) -> str:
        """A cell; empty where there is no such column."""
        return self.table.optional_texts(name)[self.at]

    def number(self, name: str) -> float | None:
        """A cell in SI; None where it is empty or there is no such column."""
        if not self.text(name):
            return None
        kind, least, most = RANGES[name]
        value = float(self.table.numbers(name, kind, gaps=True)[self.at])
        if not least <= value <= most:
            problem = f"{in_quotes(self.text(name))} is not possible"
            raise self.wrong(name, problem, "check the number and the unit of the heading")
        return value

    def wrong(self, name: str, problem: str, remedy: str) -> InputError:
        """An error about a cell."""
        return self.table.wrong(self.at, name, problem, remedy)


def _run(row: _Row, folder: Path, lines: tuple[Position, ...]) -> SheetRun:
    wind, known = _wind(row)
    item, size = row.text("item"), row.text("size")
    return SheetRun(
        item=f"{item}{SIZED}{size}" if size else item,
        session=row.text("session"),
        order=row.text("order") or str(row.at + 1),
        rider=row.text("rider"),
        day=row.text("day"),
        mounting=row.text("mounting"),
        line=row.table.lines[row.at],
        recording=folder / row.text("recording"),
        laps=_laps(row),
        parts=_number_of_parts(row),
        rise=row.number("rise"),
        mass=row.number("mass"),
        air=_air(row),
        temperature=row.number("temperature"),
        wind=wind,
        wind_from_known=known,
        note=row.text("note"),
        excluded=row.text("excluded"),
        lines=lines,
    )


def _number_of_parts(row: _Row) -> int:
    """How many laps a stretch holds."""
    cell = row.text("laps") or "1"
    if not cell.isdecimal() or not 1 <= int(cell) <= 200:
        problem = f"{in_quotes(cell)} is not a number of laps"
        raise row.wrong("laps", problem, "write how many laps are between from and to")
    return int(cell)


# --- Which part of the recording -----------------------------------------------------------------


def _laps(row: _Row) -> tuple[tuple[Span, ...], ...]:
    by_lap, by_ends = row.text("lap"), row.text("from")
    if by_lap and by_ends:
        problem = "both laps of the device and 'from' are given"
        raise row.wrong("lap", problem, "empty one of them")
    if by_lap:
        return tuple(_by_device(row, by_lap))
    if not by_ends:
        return ()
    legs = [_ends(row, "from", "to")]
    if row.text("back_from"):
        legs.append(_ends(row, "back_from", "back_to"))
    return (tuple(legs),)


def _by_device(row: _Row, cell: str) -> Iterator[tuple[Span, ...]]:
    for part in cell.split(","):
        found = _LAP.fullmatch(part.strip())
        if not found:
            raise row.wrong("lap", f"{in_quotes(cell)} names no laps", _LAPS)
        first, last = int(found[1]), int(found[3] or found[1])
        if found[2] == "+":
            yield Span("lap", first, first), Span("lap", last, last)
            continue
        if last < first:
            raise row.wrong("lap", f"{in_quotes(cell)} goes backwards", _LAPS)
        for lap in range(first, last + 1):
            yield (Span("lap", lap, lap),)


def _ends(row: _Row, begin: str, finish: str) -> Span:
    (one, how), (other, same) = (_end(row, name) for name in (begin, finish))
    if how != same:
        problem = f"'{begin}' and '{finish}' are not of one kind"
        raise InputError(row.table.header_place, problem, "give both as clock, time or distance")
    if other <= one and how != "clock":
        problem = f"{in_quotes(row.text(finish))} is not after the beginning"
        raise row.wrong(finish, problem, "give the end of the run")
    return Span(how, one, other)


def _end(row: _Row, name: str) -> tuple[float, How]:
    table, unit = row.table, row.table.column(name).unit
    if unit and ":" not in unit and kinds.LENGTH.find(unit):
        return float(table.numbers(name, kinds.LENGTH, gaps=True)[row.at]), "distance"
    if unit:
        written = "write the time since the start of the recording"
        found = table.clock_times(name, written, lambda one: None if one else np.nan)
        return float(found[row.at]), "elapsed"
    try:
        return clock_seconds(row.text(name)), "clock"
    except ValueError as error:
        remedy = (
            f"write the time of day as 09:14:20, or head the column '{name} [min:s]' for the time"
            f" or '{name} [km]' for the distance since the start of the recording"
        )
        problem = f"{in_quotes(row.text(name))} is no time of day"
        raise row.wrong(name, problem, remedy) from error


def _lines(rows: Sequence[_Row]) -> Iterator[tuple[Position, ...]]:
    """Lines of each row: an empty cell has those of the row above."""
    lines: tuple[Position, ...] = ()
    for row in rows:
        try:
            lines = read_lines(row.text("line")) if row.text("line") else lines
        except QuantityError as error:
            raise row.wrong("line", error.problem, error.remedy) from error
        yield lines


_POSITION = re.compile(r"\s*(-?\d+(?:\.\d+)?)\s*(?:,|\s)\s*(-?\d+(?:\.\d+)?)\s*")


def read_lines(text: str) -> tuple[Position, ...]:
    """One position or two, as "55.0012, 12.0034; 55.0101, 12.0034".

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


def _air(row: _Row) -> Air | None:
    """The air as stated for the run; None without pressure and density."""
    density, pressure = row.number("density"), row.number("pressure")
    if density is not None:
        return Air(density=density)
    if pressure is None:
        return None
    temperature = row.number("temperature")
    if temperature is None:
        problem = "a pressure is given without a temperature"
        raise row.wrong("pressure", problem, "add 'temperature [degC]'")
    return Air(temperature=temperature, pressure=pressure, humidity=row.number("humidity") or 0.0)


def _wind(row: _Row) -> tuple[Wind | None, bool]:
    at_rider, reported = row.number("wind_at_rider"), row.number("wind_speed")
    if at_rider is not None and reported is not None:
        problem = "both wind_at_rider and wind_speed are given"
        raise row.wrong("wind_speed", problem, "empty one of them")
    speed = at_rider if at_rider is not None else reported
    if speed is None:
        return None, False
    cell, direction = row.text("wind_from"), 0.0
    if cell:
        unit = row.table.column("wind_from").unit
        try:
            direction = read_direction(f"{cell} {unit}".strip())
        except QuantityError as error:
            raise row.wrong("wind_from", error.problem, error.remedy) from error
    height = RIDER_HEIGHT if reported is None else REPORT_HEIGHT
    return Wind(speed=speed, direction=direction, height=height), bool(cell)
