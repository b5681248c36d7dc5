"""A ride as a CSV table: when the rider came by where, and with which power."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.errors import InputError
from racecalc.files.clock_column import clock_unit, read_clock
from racecalc.files.table import Table, read_table
from racecalc.quantities.kinds import LENGTH, POWER
from racecalc.quantities.numerals import QuantityError, printable, quoted

RESOLUTIONS = (60.0, 1.0, 0.1, 0.01)
"""Steps that a clock may have been read to [s]."""

MOST_POWER = 3000.0
"""More than anybody pedals [W]; common practice, no source."""


@dataclass(frozen=True)
class RiddenTable:
    """Splits of a ride, from the start on.

    Parameters
    ----------
    source : str
        File name as the user gave it, signs that steer a terminal replaced by "?".
    line : tuple of int, length n
        Line of each split, from 1.
    to : FloatArray, shape (n,)
        Where each split ends, increasing [m].
    elapsed : FloatArray, shape (n,)
        Time since the start there, increasing [s].
    power : FloatArray, shape (n,), or None
        Mean power ridden on each split, where the power meter of the race file stands [W]; None
        where the table has none.
    resolution : float
        Step that the clock was read to, as all its times show [s].
    """

    source: str
    line: tuple[int, ...]
    to: FloatArray
    elapsed: FloatArray
    power: FloatArray | None
    resolution: float

    def place(self, row: int) -> str:
        """Return file and line of a split, for messages; rows count from 0."""
        return f"{self.source}, line {self.line[row]}"


def read_ridden(path: Path) -> RiddenTable:
    """Read the splits of a ride.

    Parameters
    ----------
    path : Path
        CSV file with the columns `to [km]`, where a split ends, and `elapsed [h:m:s]`, the clock
        since the start there, also `[min:s]` or, for plain numbers, `[s]`; and optionally
        `power [W]`, for all rows or for none. Other columns are ignored.

    Returns
    -------
    RiddenTable
        At least one split.

    Raises
    ------
    InputError
        With line and column, if a heading or its unit is missing, a cell cannot be read,
        distances or times do not rise, or power stands in some rows only.
    """
    table = read_table(path)
    to = table.numbers("to", LENGTH)
    table.refuse("to", to <= 0, "is no way from the start", "give the distance from the start")
    _refuse_fall(table, "to", to, "ends", "give distances from the start, each after the last")
    elapsed = _elapsed(table)
    _refuse_fall(
        table, "elapsed", elapsed, "comes", "give the clock since the start, not the split times"
    )
    return RiddenTable(
        source=printable(table.source),
        line=table.lines,
        to=to,
        elapsed=elapsed,
        power=_power(table),
        resolution=_resolution(elapsed),
    )


def _refuse_fall(table: Table, name: str, values: FloatArray, verb: str, remedy: str) -> None:
    falls = np.concatenate(([False], np.diff(values) <= 0))
    if np.any(falls):
        row = int(np.argmax(falls))
        before, here = quoted(table.texts(name)[row - 1]), quoted(table.texts(name)[row])
        problem = f"{here} {verb} no later than {before} of line {table.lines[row - 1]}"
        raise InputError(table.place(row, name), problem, remedy)


def _elapsed(table: Table) -> FloatArray:
    unit = clock_unit(table, "elapsed")
    times = np.array([_time(table, row, unit) for row in range(len(table.rows))])
    table.refuse("elapsed", times == 0, "is the start itself", "begin with the end of a split")
    return times


def _time(table: Table, row: int, unit: str) -> float:
    cell = table.texts("elapsed")[row]
    try:
        return read_clock(cell, unit)
    except QuantityError as error:
        raise InputError(
            table.place(row, "elapsed"),
            f"{quoted(cell)} is no time" if cell else "the cell is empty",
            "write it as '23:11' or '1:02:30', or as a plain number under 'elapsed [s]'",
        ) from error


def _power(table: Table) -> FloatArray | None:
    if not table.has("power") or not any(table.texts("power")):
        return None
    power = table.numbers("power", POWER, gaps=True)
    empty = np.isnan(power)
    if np.any(empty):
        raise InputError(
            table.place(int(np.argmax(empty)), "power"),
            "the cell is empty, and other rows have a power",
            "give the power of every split, or of none",
        )
    table.refuse("power", power < 0, "is negative", "give the mean power of the split")
    table.refuse(
        "power", power > MOST_POWER, "is more than anybody pedals", "check number and unit"
    )
    return power


def _resolution(elapsed: FloatArray) -> float:
    """Coarsest step that fits all times; one time alone says nothing about whole minutes."""
    steps = RESOLUTIONS if len(elapsed) > 1 else RESOLUTIONS[1:]
    fitting = (step for step in steps if np.all(np.abs(elapsed / step % 1 - 0.5) > 0.5 - 1e-4))
    return next(fitting, RESOLUTIONS[-1])
