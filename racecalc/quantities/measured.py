"""One number with its unit, or a few such parts, to plain SI; and scales for table columns."""

import re
from collections.abc import Callable
from difflib import get_close_matches
from functools import lru_cache

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.quantities.kinds import ANGLE, GRADE, KINDS, Kind
from racecalc.quantities.numerals import (
    QuantityError,
    finite,
    plain_number,
    quoted,
    split_number_unit,
    tidy,
)
from racecalc.quantities.registry import convert

_PART = re.compile(r"([0-9.,]*[0-9]) ?(?![eE][0-9])([a-zA-Z]+) ?")
_IN_PARTS = re.compile(rf"([+-]?) ?((?:{_PART.pattern}){{2,}})")


@lru_cache(maxsize=4096)
def measure(text: str, kind: Kind) -> float:
    """Read "number unit", or parts such as "10 st 8 lb" where the kind allows them.

    Parameters
    ----------
    text : str
        The quantity; the comma rule stands in `racecalc.quantities.numerals`.
    kind : Kind
        What is wanted.

    Returns
    -------
    float
        Value in the SI unit of the kind; finite.

    Raises
    ------
    QuantityError
        If the text cannot be read so, or its unit will not do.

    Examples
    --------
    >>> from racecalc.quantities.kinds import MASS
    >>> measure("1,5 kg", MASS), measure("10 st 8 lb", MASS)
    (1.5, 67.13)
    """
    whole = tidy(text)
    parts = _IN_PARTS.fullmatch(whole) if kind.in_parts else None
    if parts:
        size = _sum_of_parts(parts[2], kind)
        return -size if parts[1] == "-" else size
    number, unit = split_number_unit(whole, kind.named, kind.example)
    if not unit and not kind.bare:
        raise _no_unit(whole, kind)
    return finite(float(unit_scale(unit, kind)(np.asarray(number))), whole)


def _no_unit(whole: str, kind: Kind) -> QuantityError:
    return QuantityError(
        f"{quoted(whole)} has no unit, {kind.named} is needed",
        f"write it with one of {_listed(kind)}, as in '{kind.example}'",
    )


def _sum_of_parts(parts: str, kind: Kind) -> float:
    total, room = 0.0, float("inf")
    for number, unit in _PART.findall(parts):
        one = float(unit_scale(unit, kind)(np.asarray(1.0)))
        size = float(plain_number(number, parts)) * one
        if size >= room:
            part = quoted(f"{number} {unit}")
            raise QuantityError(
                f"{part} in {quoted(parts)} is not less than one unit before it",
                "write larger units first, and less than one of them in each smaller unit",
            )
        total, room = total + size, one
    return finite(total, parts)


def unit_scale(unit: str, kind: Kind) -> Callable[[FloatArray], FloatArray]:
    """Return the function that turns numbers in a unit into SI, as for a table column.

    Parameters
    ----------
    unit : str
        The unit as written; "" where the kind takes bare numbers.
    kind : Kind
        What the column holds.

    Returns
    -------
    Callable
        Takes numbers of any shape in `unit`, returns SI values of the same shape; slopes
        given as angles become grades, and angles of 90 deg or more raise `QuantityError`.

    Raises
    ------
    QuantityError
        If the unit will not do for the kind.

    Examples
    --------
    >>> from racecalc.quantities.kinds import TEMPERATURE
    >>> unit_scale("degC", TEMPERATURE)(np.array([0.0, 20.0]))
    array([273.15, 293.15])
    """
    name = _unit_name(unit, kind)
    if kind is GRADE and name in ANGLE.units.values():
        return lambda values: _grade_of_slope(convert(values, name, ANGLE.si))
    return lambda values: convert(values, name, kind.si)


def _grade_of_slope(angle: FloatArray) -> FloatArray:
    if np.any(np.abs(angle) >= np.pi / 2):
        raise QuantityError(
            "a slope cannot be as steep as a right angle", "write one below 90 deg, as in '4 deg'"
        )
    return np.tan(angle)


def _unit_name(unit: str, kind: Kind) -> str:
    name = kind.find(unit)
    if name is not None:
        return name
    hint = kind.hint(unit)
    if hint:
        raise QuantityError(f"{quoted(unit)} will not do as a unit of {kind.name}", hint)
    choices = f"units that would do: {_listed(kind)}"
    if not unit:
        raise QuantityError(f"no unit is given, {kind.named} is needed", choices)
    other = next((one for one in KINDS if one.find(unit)), None)
    if other:
        raise QuantityError(
            f"{quoted(unit)} is a unit of {other.name}, {kind.named} is needed", choices
        )
    near = get_close_matches(unit, [spelling for spelling in kind.units if spelling], n=1)
    raise QuantityError(
        f"{quoted(unit)} is no unit of {kind.name} known here",
        f"did you mean '{near[0]}'? {choices}" if near else choices,
    )


def _listed(kind: Kind) -> str:
    return ", ".join([*kind.choices(), *(["none"] if kind.bare else [])])
