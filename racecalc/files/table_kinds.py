"""The tables that answers are made from: results, ridden splits and forecasts."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, time
from pathlib import Path
from statistics import median

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.errors import InputError, Notice
from racecalc.files.opening import CUT
from racecalc.files.race_keys import RACE_KEYS
from racecalc.files.race_values import check_range
from racecalc.files.tables import CsvTable, read_table
from racecalc.quantities.clock import show_duration
from racecalc.quantities.kinds import ANGLE, LENGTH, POWER, RATIO, Kind
from racecalc.quantities.measured import QuantityError, in_quotes, printable
from racecalc.quantities.reading import read_direction

# --- The results of a race as a CSV table --------------------------------------------------------

NO_FINISH = ("DNF", "DNS", "DSQ", "DQ", "OTL")
"""What stands in place of a time: did not finish, did not start, disqualified (in two spellings)
and outside the time limit; the abbreviations of result lists, from memory."""

NO_TIME = "no time"
"""Why a rider has no place where the cell of the time is empty."""

SHORT, LONG = 0.5, 5.0
"""Times under or over so many medians are noted; our choice: a slip of minutes for hours is 60."""


@dataclass(frozen=True)
class Finisher:
    """A rider with a time."""

    name: str
    """As in the list, signs that cannot be printed replaced by "?"; a number where the list has no
    names.
    """
    time: float
    """[s], above zero."""
    category: str = ""
    """"" where none is stated."""


@dataclass(frozen=True)
class Unplaced:
    """A rider without a time."""

    name: str
    """As for finishers."""
    why: str
    """One of `NO_FINISH` or `NO_TIME`."""
    category: str = ""
    """As for finishers."""


@dataclass(frozen=True)
class ResultsTable:
    """A list of results."""

    source: str
    """File name as the user gave it."""
    finishers: tuple[Finisher, ...]
    """At least one, the fastest first; equal times are dead heats."""
    unplaced: tuple[Unplaced, ...] = ()
    """Who has no time, in the order of the file."""
    notes: tuple[str, ...] = ()
    """What looks like a slip, in sentences."""

    @property
    def riders(self) -> tuple[Finisher | Unplaced, ...]:
        """Everybody in the list, those without a time last."""
        return (*self.finishers, *self.unplaced)


MOST_RIDERS = 100_000
"""Riders of one list of results; our choice, three times the largest rides."""


def read_results(path: Path) -> ResultsTable:
    """Read the results of a race."""
    table = read_table(path)
    if len(table.rows) > MOST_RIDERS:
        raise InputError(table.source, f"it lists more than {MOST_RIDERS:,} riders", CUT)
    times = _times(table)
    categories = _printable(table.optional_texts("category"))
    rows = list(zip(_names(table), times, categories, strict=True))
    finishers = [Finisher(name, time, at) for name, time, at in rows if not isinstance(time, str)]
    if not finishers:
        problem = "nobody in this list has a time"
        raise InputError(table.source, problem, "give at least one rider a time")
    return ResultsTable(
        source=table.source,
        finishers=tuple(sorted(finishers, key=lambda one: one.time)),
        unplaced=tuple(Unplaced(name, why, at) for name, why, at in rows if isinstance(why, str)),
        notes=_slips(table, times),
    )


def _names(table: CsvTable) -> list[str]:
    column = "number" if table.has("number") and not table.has("name") else "name"
    names = _printable(table.texts(column))
    count = Counter(names)
    for row, name in enumerate(names):
        if not name:
            raise table.wrong(row, column, "the cell is empty", f"give this rider a {column}")
        if count[name] > 1:
            again = table.lines[names.index(name, row + 1)]
            problem = f"{in_quotes(name)} appears again in line {again}"
            apart = f"delete one, or give two riders of one {column} something to tell them apart"
            raise table.wrong(row, column, problem, apart)
    return names


def _printable(texts: list[str]) -> list[str]:
    """Texts that can be shown: signs that steer a terminal never reach it."""
    return [printable(text) for text in texts]


def _times(table: CsvTable) -> list[float | str]:
    """The time of each row [s], or why there is none."""
    written = (
        "write it as '23:11' or '1:02:30', as a plain number under 'time [s]', or as"
        f" {', '.join(NO_FINISH)} where there is none"
    )
    times = table.clock_times("time", written, _why_no_time)
    for row, cell in enumerate(table.texts("time")):
        if times[row] == 0:
            remedy = "write DNF or DNS, or leave the cell empty"
            raise table.wrong(row, "time", f"nobody finishes in {in_quotes(cell)}", remedy)
    return times


def _why_no_time(cell: str) -> str | None:
    return (cell.upper() if cell.upper() in NO_FINISH else None) if cell else NO_TIME


def _slips(table: CsvTable, times: list[float | str]) -> tuple[str, ...]:
    known = {row: time for row, time in enumerate(times) if not isinstance(time, str)}
    middle = median(known.values())
    return tuple(
        f"{table.place(row, 'time')}: {show_duration(time)} is"
        f" {'under half of' if time < middle else 'over five times'} the median of"
        f" {show_duration(middle)}; were minutes and hours mixed up?"
        for row, time in known.items()
        if not SHORT * middle <= time <= LONG * middle
    )


# --- A ride as a CSV table -----------------------------------------------------------------------

RESOLUTIONS = (60.0, 1.0, 0.1, 0.01)
"""Steps that a clock may have been read to [s]."""

MOST_SHARE = 5.0
"""Most power of a plan, as a share of critical power; our choice."""

MOST_POWER = 3000.0
"""More than anybody pedals [W]; common practice, no source."""


@dataclass(frozen=True)
class Rows:
    """Rows of a table that know where they are."""

    source: str
    """File name as the user gave it."""
    line: tuple[int, ...]
    """Line of each row, from 1."""

    def place(self, row: int) -> str:
        """File and line of a row, for messages; rows count from 0."""
        return f"{self.source}, line {self.line[row]}"


@dataclass(frozen=True)
class RiddenTable(Rows):
    """Splits of a ride, from the start on."""

    to: FloatArray
    """Where each split ends, increasing [m]; shape (n,)."""
    elapsed: FloatArray
    """Time since the start there, increasing [s]; shape (n,)."""
    power: FloatArray | None
    """Mean power ridden on each split, where the power meter of the race file stands [W]; None
    where the table has none; shape (n,).
    """
    resolution: float
    """Step that the clock was read to, as all its times show [s]."""
    recorded: bool = False
    """Whether its rows are splits cut from a recording, counted from 1, and no lines of a table."""
    notes: tuple[str, ...] = ()
    """What was left out of a recording, one sentence each."""
    stopped: float = 0.0
    """Time that stops cost, which is not in `elapsed` [s]."""

    def place(self, row: int) -> str:
        """File and line, or file and split."""
        return f"{self.source}, {self.row_name(row)}"

    def row_name(self, row: int) -> str:
        """Line or split of a row, from 0."""
        return f"{'split' if self.recorded else 'line'} {self.line[row]}"


def _ends(table: CsvTable) -> FloatArray:
    """Where each section ends, from the start [m]."""
    to = table.numbers("to", LENGTH)
    table.refuse(
        "to", to <= 0, "is not a distance from the start", "give the distance from the start"
    )
    _refuse_fall(table, "to", to, "ends", "give distances from the start, each after the last")
    table.refuse_kilometres("to", to)
    return to


def read_ridden(path: Path) -> RiddenTable:
    """Read the splits of a ride."""
    table = read_table(path)
    to = _ends(table)
    elapsed = _elapsed(table)
    since_start = "give the clock since the start, not the split times"
    _refuse_fall(table, "elapsed", elapsed, "comes", since_start)
    source, step = printable(table.source), _resolution(elapsed)
    return RiddenTable(source, table.lines, to, elapsed, _power(table), step)


@dataclass(frozen=True)
class PlanTable:
    """What a rider plans to ride."""

    source: str
    """File name as the user gave it."""
    to: FloatArray
    """Where each section ends, from the start [m]."""
    power: FloatArray
    """On each [W], or as a share of critical power."""
    of_critical: bool
    """Whether it is such a share."""


def read_plan(path: Path) -> PlanTable:
    """Read a plan: the columns of a pacing card that say how far and how hard."""
    table = read_table(path)
    to = _ends(table)
    of_critical = table.column("power").unit == "%"
    power = table.numbers("power", RATIO if of_critical else POWER)
    table.refuse("power", power <= 0, "is no power", "write 1 W for coasting")
    high = power > (MOST_SHARE if of_critical else MOST_POWER)
    table.refuse("power", high, "is more than anyone can pedal", "check number and unit")
    return PlanTable(printable(table.source), to, power, of_critical)


def _refuse_fall(table: CsvTable, name: str, values: FloatArray, verb: str, remedy: str) -> None:
    falls = np.concatenate(([False], np.diff(values) <= 0))
    if np.any(falls):
        row = int(np.argmax(falls))
        before, here = in_quotes(table.texts(name)[row - 1]), in_quotes(table.texts(name)[row])
        problem = f"{here} {verb} no later than {before} of line {table.lines[row - 1]}"
        raise table.wrong(row, name, problem, remedy)


def _elapsed(table: CsvTable) -> FloatArray:
    written = "write it as '23:11' or '1:02:30', or as a plain number under 'elapsed [s]'"
    times = np.array(table.clock_times("elapsed", written, lambda _: None), dtype=float)
    table.refuse("elapsed", times == 0, "is the start itself", "begin with the end of a split")
    return times


def _power(table: CsvTable) -> FloatArray | None:
    if not table.has("power") or not any(table.texts("power")):
        return None
    power = table.numbers("power", POWER, gaps=True)
    for row in np.flatnonzero(np.isnan(power)):
        problem = "the cell is empty, and other rows have a power"
        raise table.wrong(int(row), "power", problem, "give the power of every split, or of none")
    table.refuse("power", power < 0, "is negative", "give the mean power of the split")
    high = power > MOST_POWER
    table.refuse("power", high, "is more than anyone can pedal", "check number and unit")
    return power


def _resolution(elapsed: FloatArray) -> float:
    """Coarsest step that fits all times; one time alone says nothing about whole minutes."""
    steps = RESOLUTIONS if len(elapsed) > 1 else RESOLUTIONS[1:]
    fitting = (step for step in steps if np.all(np.abs(elapsed / step % 1 - 0.5) > 0.5 - 1e-4))
    return next(fitting, RESOLUTIONS[-1])


# --- An hourly forecast as a CSV table -----------------------------------------------------------


WEATHER = ("temperature", "sea_level_pressure", "pressure", "humidity", "dew_point")
"""Columns that take the place of the key of the race file of the same name."""

GUST = RACE_KEYS["air"]["gusts"]
"""Any gust that is possible; whether it can be ridden in is judged elsewhere."""

KEYS = {**RACE_KEYS["air"], "gust": GUST}

COLUMNS = ("time", "wind_speed", "wind_from", *WEATHER, "gust")

A_DAY = 86_400.0
"""[s]"""


@dataclass(frozen=True)
class ForecastTable(Rows):
    """Columns of a forecast, in the order of the file; NaN where a cell or column is missing."""

    time: tuple[str, ...]
    """When each row holds, as written."""
    clock_s: FloatArray
    """The same as seconds [s]: of one clock that runs on over midnight, or since an epoch where the
    date is given; all NaN where one of them cannot be read; shape (n,).
    """
    wind_speed: FloatArray
    wind_from: FloatArray
    """Mean wind [m/s] and where it comes from, clockwise from north [rad]; never NaN; shape (n,).
    """
    gust: FloatArray
    """Strongest gust, at the height of the wind [m/s]; shape (n,)."""
    weather: dict[str, FloatArray]
    """The columns of `WEATHER` that are there: temperature and dew point [K], pressure [Pa],
    humidity 0 to 1; shape (n,).
    """
    notices: tuple[Notice, ...] = ()
    """Values that are possible but not plausible, and columns that are not used."""


def read_forecast(path: Path) -> ForecastTable:
    """Read a forecast."""
    table = read_table(path)
    _refuse_both(table, "pressure", "sea_level_pressure")
    _refuse_both(table, "humidity", "dew_point")
    notices = [*_unused(table)]
    wind = _column(table, "wind_speed", notices, gaps=False)
    times, direction = _forecast_times(table), _directions(table, wind)
    more = {name: _column(table, name, notices) for name in ("gust", *WEATHER) if table.has(name)}
    gust = more.pop("gust", np.full(len(table.rows), np.nan))
    remedy = "swap the columns, or leave the cell empty"
    table.refuse("gust", gust < wind, "is less than the mean wind of the row", remedy)
    if "dew_point" in more and "temperature" in more:
        problem = "lies above the temperature of the row"
        above = more["dew_point"] > more["temperature"]
        table.refuse("dew_point", above, problem, "swap the columns?")
    said = tuple(notices)
    clock = _on_one_clock(times)
    return ForecastTable(table.source, table.lines, times, clock, wind, direction, gust, more, said)


def _refuse_both(table: CsvTable, one: str, other: str) -> None:
    if table.has(one) and table.has(other):
        problem = f"both {one} and {other} are given"
        raise InputError(table.header_place, problem, "keep one of them")


def _unused(table: CsvTable) -> Iterator[Notice]:
    """A misspelt gust must not be left out silently: it may rule out a wheel."""
    names = [column.heading for column in table.columns if column.name not in COLUMNS]
    if names:
        said = f"not used: {', '.join(map(repr, names))}; known columns are {', '.join(COLUMNS)}"
        yield Notice(table.header_place, said)


def _forecast_times(table: CsvTable) -> tuple[str, ...]:
    texts = table.texts("time")
    empty = np.array([not text for text in texts])
    table.refuse("time", empty, "names no time", "write a clock time, as 14:00, or date and time")
    first: dict[str, int] = {}
    for row, text in enumerate(texts):
        if first.setdefault(text, row) != row:
            raise InputError(
                f"{table.source}, lines {table.lines[first[text]]} and {table.lines[row]}",
                f"both are for {text}",
                "give each row its own time, with the date where the hours repeat",
            )
    return tuple(texts)


def _on_one_clock(times: Sequence[str]) -> FloatArray:
    """Times of a forecast as seconds, all NaN where one of them cannot be read [s]."""
    try:
        found = np.array([clock_seconds(text) for text in times])
    except ValueError:
        return np.full(len(times), np.nan)
    dated = found >= A_DAY
    if np.any(dated) and not np.all(dated):
        return np.full(len(times), np.nan)
    # Clock times without a date begin anew at midnight; more often they are only out of order.
    back = np.diff(found, prepend=found[:1]) < 0
    return found + A_DAY * np.cumsum(back) if np.sum(back) == 1 and not np.any(dated) else found


def clock_seconds(text: str) -> float:
    """Seconds of a clock time since midnight, of a date and time since an epoch."""
    hour, colon, rest = text.partition(":")
    if colon and hour.isdecimal():
        clock = time.fromisoformat(f"{hour:0>2}:{rest}")
        return 3600.0 * clock.hour + 60.0 * clock.minute + clock.second
    moment = datetime.fromisoformat(text)
    return moment.replace(tzinfo=moment.tzinfo or UTC).timestamp()


def _column(table: CsvTable, name: str, notices: list[Notice], gaps: bool = True) -> FloatArray:
    key = KEYS[name]
    if not isinstance(key.form, Kind):
        raise TypeError(f"{name} is not a quantity")
    values, texts = table.numbers(name, key.form, gaps=gaps), table.texts(name)
    for row, value in enumerate(values):
        if np.isfinite(value):
            check_range(key, float(value), f"'{texts[row]}'", table.place(row, name), notices)
    return values


def _directions(table: CsvTable, wind: FloatArray) -> FloatArray:
    """Directions [rad]; 0 where it is calm and none is given."""
    texts = table.texts("wind_from")
    calm = np.array([not text for text in texts]) & (wind == 0)
    if table.column("wind_from").unit:
        angles = table.numbers("wind_from", ANGLE, gaps=True)
        missing = np.isnan(angles) & ~calm
        table.refuse("wind_from", missing, "is not a direction", "write degrees from north, as 250")
        outside = (angles < 0) | (angles > 2 * np.pi * (1 + 1e-9))
        table.refuse("wind_from", outside, "is more than one turn", "write 0 to 360 deg")
        return np.where(np.isnan(angles), 0.0, angles)
    return np.array(
        [0.0 if calm[row] else _point(table, row, text) for row, text in enumerate(texts)]
    )


def _point(table: CsvTable, row: int, text: str) -> float:
    try:
        return read_direction(text)
    except QuantityError as error:
        remedy = "write the unit in the heading, as in 'wind_from [deg]', or points as 'WSW'"
        raise table.wrong(row, "wind_from", error.problem, remedy) from error
