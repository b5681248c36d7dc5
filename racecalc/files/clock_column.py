"""Columns of times on the clock, as lists of results and of splits hold them."""

from racecalc.errors import InputError
from racecalc.files.table import Table
from racecalc.quantities.clock import read_duration
from racecalc.quantities.kinds import TIME
from racecalc.quantities.numerals import QuantityError, quoted
from racecalc.quantities.reading import unit_scale


def clock_unit(table: Table, name: str) -> str:
    """What a heading says about its times, checked.

    Parameters
    ----------
    table : Table
        The table.
    name : str
        Its column, in small letters.

    Returns
    -------
    str
        As "h:m:s" or "s"; "" where the heading has no unit.

    Raises
    ------
    InputError
        If there is no such column, or its unit is none of time.
    """
    column = table.column(name)
    unit = column.unit
    try:
        if ":" in unit:
            read_duration(f"0{unit.count(':') * ':00'} {unit}")
        elif unit:
            unit_scale(unit, TIME)
    except QuantityError as error:
        raise InputError(
            f"{table.header_place}, column '{column.heading}'",
            f"{quoted(unit)} does not say how times are written",
            f"write '{name} [h:m:s]', '{name} [min:s]' or '{name} [s]'",
        ) from error
    return unit


def read_clock(cell: str, unit: str) -> float:
    """Read one time under a heading of a unit.

    Parameters
    ----------
    cell : str
        As it stands in the table.
    unit : str
        As of `clock_unit`. Lists headed h:m:s leave the hours out where there are none, and the
        clock form says so itself.

    Returns
    -------
    float
        [s], zero or more.

    Raises
    ------
    QuantityError
        If the text is no time.
    """
    stated = ":" not in unit or cell.count(":") == unit.count(":")
    return read_duration(f"{cell} {unit}" if unit and stated else cell)
