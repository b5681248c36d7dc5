"""Numbers as people type them, before any unit is looked at.

The comma rule, the same for every quantity and for money:

- a point alone is a decimal point: "1.200" is 1.2;
- one comma followed by other than three digits is a decimal comma: "1,5" is 1.5;
- one comma followed by exactly three digits is refused, because "1,200" may be meant as
  1200 or as 1.2; it is accepted only where no thousands could be written so: "0,245", "1234,567";
- "1,234.5", "1.234,5", "1,234,567" and "1 234.5" can be read in one way only, and are.
"""

import math
import re

NUMBER = r"(?:[0-9]{1,3}(?: [0-9]{3})+(?![0-9])(?:[.,][0-9]+)?|[0-9.,]*[0-9])(?:[eE][+-]?[0-9]+)?"
"""Pattern of an unsigned number; whether its commas make sense is decided afterwards."""

_UNIT = r"(?:(?:[^\W\d_]|[°℃℉%‰])[\w°%‰ /^*·⋅()-]*)?"
_NUMBER_UNIT = re.compile(rf"(?P<sign>[+-]?) ?(?P<number>{NUMBER}) ?(?P<unit>{_UNIT})")
_PLAIN = re.compile(r"[0-9]*\.?[0-9]+")
_COMMA_IS_DECIMAL = re.compile(r"[0-9]*,[0-9]+")
_COMMA_MAY_BE_EITHER = re.compile(r"[1-9][0-9]{0,2},[0-9]{3}")
_COMMA_GROUPS = re.compile(r"[1-9][0-9]{0,2}(?:,[0-9]{3})+(?:\.[0-9]+)?")
_POINT_GROUPS = re.compile(r"[1-9][0-9]{0,2}(?:\.[0-9]{3})+(?:,[0-9]+)?")
_MINUS_SIGNS = str.maketrans(dict.fromkeys("\u2212\u2013\ufe63\uff0d", "-"))
_DOUBT = re.compile(r"±|\+ ?/? ?-")
_SHOWN_LENGTH = 40


class QuantityError(ValueError):
    """A text that cannot be read as the quantity wanted; the caller adds where it stands.

    Parameters
    ----------
    problem : str
        What stands there and why it will not do.
    remedy : str
        What would do instead.
    """

    def __init__(self, problem: str, remedy: str) -> None:
        self.problem = problem
        self.remedy = remedy
        super().__init__(f"{problem}; {remedy}")

    def __reduce__(self) -> tuple[type["QuantityError"], tuple[str, str]]:
        return type(self), (self.problem, self.remedy)


def printable(text: str) -> str:
    """Return the text with a question mark for every sign that might steer a terminal."""
    return "".join(sign if sign.isprintable() else "?" for sign in text)


def quoted(text: str) -> str:
    """Return the text in quotes, shortened and without control characters, for a message."""
    shown = printable(text[:_SHOWN_LENGTH])
    return f"'{shown}...'" if len(text) > _SHOWN_LENGTH else f"'{shown}'"


def tidy(text: str) -> str:
    """Return the text with plain minus signs and single plain spaces, none at its ends.

    Examples
    --------
    >>> tidy(" \u22125\u00a0degC ")
    '-5 degC'
    """
    return " ".join(text.translate(_MINUS_SIGNS).split())


def plain_number(number: str, text: str) -> str:
    """Return digits with at most one decimal point for a number that may hold commas.

    Parameters
    ----------
    number : str
        An unsigned number that matches `NUMBER`.
    text : str
        The whole text it stands in, for the message.

    Returns
    -------
    str
        What ``float`` and ``Decimal`` read alike.

    Raises
    ------
    QuantityError
        If the commas make no sense or may be meant in two ways.

    Examples
    --------
    >>> plain_number("1.234,5", "1.234,5 W"), plain_number("0,245", "0,245 m^2")
    ('1234.5', '0.245')
    """
    mantissa, *exponent = re.split("[eE]", number)
    digits = _plain_digits(mantissa, text)
    return "e".join([digits, *exponent])


def _plain_digits(mantissa: str, text: str) -> str:
    digits = mantissa.replace(" ", "")
    if _PLAIN.fullmatch(digits):
        return digits
    if _COMMA_MAY_BE_EITHER.fullmatch(mantissa):
        raise QuantityError(
            f"{quoted(text)} can be read in two ways, its comma may part thousands or decimals",
            f"write {quoted(text.replace(',', ''))} or {quoted(text.replace(',', '.'))}",
        )
    if _COMMA_IS_DECIMAL.fullmatch(digits):
        return digits.replace(",", ".")
    if _COMMA_GROUPS.fullmatch(digits):
        return digits.replace(",", "")
    if _POINT_GROUPS.fullmatch(digits):
        return digits.replace(".", "").replace(",", ".")
    raise QuantityError(
        f"the points and commas in {quoted(text)} make no number",
        "write it as '1234.5', with a point before the decimals",
    )


def split_digits(text: str, wanted: str, example: str) -> tuple[str, str]:
    """Split a text into its number, still as digits, and its unit.

    Parameters
    ----------
    text : str
        One number, and perhaps one unit after it.
    wanted, example : str
        What is needed, with its article, and a text that would do; for the message.

    Returns
    -------
    tuple of str and str
        Sign and digits with at most one decimal point, which ``float`` and ``Decimal`` read
        alike; and the unit as written, "" where there is none.

    Raises
    ------
    QuantityError
        If the text is anything else, or its commas are ambiguous.

    Examples
    --------
    >>> split_digits("1 234.50 EUR", "a price", "240 EUR")
    ('1234.50', 'EUR')
    """
    whole = tidy(text)
    if _DOUBT.search(whole):
        raise QuantityError(
            f"{quoted(whole)} states a doubt beside or instead of a value",
            "write the value alone here, with one sign at most, and its doubt in its own place",
        )
    found = _NUMBER_UNIT.fullmatch(whole)
    if not found:
        raise QuantityError(
            f"{_unsplit(whole)}, {wanted} is needed", f"write for example '{example}'"
        )
    return found["sign"] + plain_number(found["number"], whole), found["unit"]


def _unsplit(whole: str) -> str:
    if not whole:
        return "nothing stands here"
    if not re.search("[0-9]", whole):
        return f"{quoted(whole)} holds no number"
    return f"{quoted(whole)} is not one number with one unit"


def split_number_unit(
    text: str, wanted: str = "a quantity", example: str = "45 km/h"
) -> tuple[float, str]:
    """Split a text into its number and its unit.

    Parameters
    ----------
    text : str
        One number, and perhaps one unit after it.
    wanted, example : str
        What is needed, with its article, and a text that would do; for the message.

    Returns
    -------
    tuple of float and str
        The number in the unit given, and the unit as written, "" where there is none.

    Raises
    ------
    QuantityError
        If the text is anything else, its commas are ambiguous or the number is too large.

    Examples
    --------
    >>> split_number_unit("-4,5 km/h")
    (-4.5, 'km/h')
    """
    digits, unit = split_digits(text, wanted, example)
    return finite(float(digits), text), unit


def finite(value: float, text: str) -> float:
    """Return the value, or refuse one that is infinite or not a number.

    Raises
    ------
    QuantityError
        If the value is not finite; the message quotes `text`.
    """
    if not math.isfinite(value):
        raise QuantityError(
            f"{quoted(tidy(text))} is too large to calculate with", "write a smaller number"
        )
    return value
