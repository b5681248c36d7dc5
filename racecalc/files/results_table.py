"""The results of a race as a CSV table: who finished in which time, and who did not."""

from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from statistics import median

from racecalc.errors import InputError
from racecalc.files.clock_column import clock_unit, read_clock
from racecalc.files.table import Table, read_table
from racecalc.quantities.clock import show_duration
from racecalc.quantities.numerals import QuantityError, printable, quoted

NO_FINISH = ("DNF", "DNS", "DSQ", "DQ", "OTL")
"""What stands in place of a time: did not finish, did not start, disqualified (in two spellings)
and outside the time limit; the abbreviations of result lists, from memory."""

NO_TIME = "no time"
"""Why a rider has no place where the cell of the time is empty."""

SHORT, LONG = 0.5, 5.0
"""Times under or over so many medians are noted; our choice: a slip of minutes for hours is 60."""


@dataclass(frozen=True)
class Finisher:
    """A rider with a time.

    Parameters
    ----------
    name : str
        As in the list, signs that cannot be printed replaced by "?"; a number where the list
        has no names.
    time : float
        [s], above zero.
    category : str
        "" where none is stated.
    """

    name: str
    time: float
    category: str = ""


@dataclass(frozen=True)
class Unplaced:
    """A rider without a time.

    Parameters
    ----------
    name, category : str
        As for finishers.
    why : str
        One of `NO_FINISH` or `NO_TIME`.
    """

    name: str
    why: str
    category: str = ""


@dataclass(frozen=True)
class ResultsTable:
    """A list of results.

    Parameters
    ----------
    source : str
        File name as the user gave it.
    finishers : tuple of Finisher
        At least one, the fastest first; equal times are dead heats.
    unplaced : tuple of Unplaced
        Who has no time, in the order of the file.
    notes : tuple of str
        What looks like a slip, in sentences.
    """

    source: str
    finishers: tuple[Finisher, ...]
    unplaced: tuple[Unplaced, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def riders(self) -> tuple[Finisher | Unplaced, ...]:
        """Everybody in the list, those without a time last."""
        return (*self.finishers, *self.unplaced)


def read_results(path: Path) -> ResultsTable:
    """Read the results of a race.

    Parameters
    ----------
    path : Path
        CSV file with the columns `name` (or `number`), `time` and optionally `category`. The
        heading of the time may say how it is written: `time [h:m:s]`, `time [min:s]` or, for
        plain numbers, `time [s]`. Two numbers on the clock are minutes and seconds unless the
        heading says `h:m`. DNF, DNS, DSQ, DQ, OTL or an empty cell mean that there is no time.
        Other columns are ignored.

    Returns
    -------
    ResultsTable
        In order of time, whatever the order of the file.

    Raises
    ------
    InputError
        With line and column, if a heading is missing, a name is missing or stands there twice, a
        time cannot be read or is zero, or nobody has a time.
    """
    table = read_table(path)
    names = _names(table)
    times = _times(table)
    categories = _printable(table.optional_texts("category"))
    rows = list(zip(names, times, categories, strict=True))
    finishers = [Finisher(name, time, at) for name, time, at in rows if not isinstance(time, str)]
    if not finishers:
        raise InputError(
            table.source, "nobody in this list has a time", "give at least one rider a time"
        )
    return ResultsTable(
        source=table.source,
        finishers=tuple(sorted(finishers, key=lambda one: one.time)),
        unplaced=tuple(Unplaced(name, why, at) for name, why, at in rows if isinstance(why, str)),
        notes=_slips(table, times),
    )


def _names(table: Table) -> list[str]:
    column = "number" if table.has("number") and not table.has("name") else "name"
    names = _printable(table.texts(column))
    counts = Counter(names)
    for row, name in enumerate(names):
        if not name:
            raise InputError(
                table.place(row, column), "the cell is empty", f"give this rider a {column}"
            )
        if counts[name] > 1:
            lines = [line for line, other in zip(table.lines, names, strict=True) if other == name]
            raise InputError(
                table.place(row, column),
                f"{quoted(name)} stands there again in line {lines[1]}",
                f"delete one, or give two riders of one {column} something to tell them apart",
            )
    return names


def _printable(texts: list[str]) -> list[str]:
    """Texts that can be shown: signs that steer a terminal never reach it."""
    return [printable(text) for text in texts]


def _times(table: Table) -> list[float | str]:
    """The time of each row [s], or why there is none."""
    unit = clock_unit(table, "time")
    return [_time(table, row, cell, unit) for row, cell in enumerate(table.texts("time"))]


def _time(table: Table, row: int, cell: str, unit: str) -> float | str:
    if not cell:
        return NO_TIME
    if cell.upper() in NO_FINISH:
        return cell.upper()
    try:
        time = read_clock(cell, unit)
    except QuantityError as error:
        raise InputError(
            table.place(row, "time"),
            f"{quoted(cell)} is no time",
            "write it as '23:11' or '1:02:30', as a plain number under 'time [s]', or as"
            f" {', '.join(NO_FINISH)} where there is none",
        ) from error
    if time == 0:
        raise InputError(
            table.place(row, "time"),
            f"nobody finishes in {quoted(cell)}",
            "write DNF or DNS, or leave the cell empty",
        )
    return time


def _slips(table: Table, times: list[float | str]) -> tuple[str, ...]:
    known = {row: time for row, time in enumerate(times) if not isinstance(time, str)}
    middle = median(known.values())
    return tuple(
        f"{table.place(row, 'time')}: {show_duration(time)} is"
        f" {'under half of' if time < middle else 'over five times'} the median of"
        f" {show_duration(middle)}; were minutes and hours mixed up?"
        for row, time in known.items()
        if not SHORT * middle <= time <= LONG * middle
    )
