"""Text with a unit to a plain SI number: the door through which every quantity comes in."""

import math
import re

from racecalc.quantities.clock import read_duration
from racecalc.quantities.kinds import GRADE, TIME, Kind
from racecalc.quantities.measured import measure, unit_scale
from racecalc.quantities.numerals import (
    NUMBER,
    QuantityError,
    finite,
    plain_number,
    quoted,
    split_number_unit,
    tidy,
)

__all__ = ["QuantityError", "read", "split_number_unit", "unit_scale"]

_ONE_IN = re.compile(rf"([+-]?) ?({NUMBER}) ?(?:in|:) ?({NUMBER})", re.IGNORECASE)


def read(text: object, kind: Kind) -> float:
    """Read a quantity as people write it.

    The comma rule: one comma followed by other than three digits is a decimal comma ("1,5 kg"
    is 1.5 kg); one followed by exactly three is refused, for "1,200 W" may be meant in two
    ways; "1,234.5" and "1.234,5" leave no doubt and are accepted, and so is "0,245", which
    cannot be thousands; "1.200" is 1.2.

    Parameters
    ----------
    text : str, int or float
        The quantity; a plain number only where the kind takes bare numbers.
    kind : Kind
        What is wanted. Times may also stand on the clock ("58:30"), grades as "1 in 14".

    Returns
    -------
    float
        Value in the SI unit of the kind; finite.

    Raises
    ------
    QuantityError
        If the text cannot be read, its unit will not do, or the value is too large.

    Examples
    --------
    >>> from racecalc.quantities.kinds import RATIO, SPEED
    >>> read("45 km/h", SPEED), read("2.4 %", RATIO), read("1 in 8", GRADE)
    (12.5, 0.024, 0.125)
    """
    if isinstance(text, int | float) and not isinstance(text, bool):
        return _read_number(text, kind)
    if not isinstance(text, str):
        raise QuantityError(
            f"{quoted(str(text))} does not state {kind.named}",
            f"write for example '{kind.example}'",
        )
    if kind is TIME:
        return read_duration(text)
    ratio = _ONE_IN.fullmatch(tidy(text)) if kind is GRADE else None
    return _one_in(ratio, text) if ratio else measure(text, kind)


def _read_number(number: float, kind: Kind) -> float:
    try:
        value = float(number)
    except OverflowError:
        value = float("inf")
    if not math.isfinite(value):
        raise QuantityError(
            f"{value} is not a finite number, {kind.named} is needed",
            f"write for example '{kind.example}'",
        )
    return measure(repr(number), kind)


def _one_in(found: re.Match[str], text: str) -> float:
    rise, run = (float(plain_number(number, text)) for number in found.group(2, 3))
    if not run:
        raise QuantityError(f"{quoted(text)} is upright", "write for example '1 in 14'")
    grade = finite(rise / run, text)
    return -grade if found[1] == "-" else grade
