"""A change of drag in any of the ways people state it, with or without its condition."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from racecalc.domain.saving import is_kind, split_saving
from racecalc.quantities.kinds import AREA, FORCE, LENGTH, MASS, POWER, RATIO, SPEED, TIME
from racecalc.quantities.numerals import split_digits, tidy
from racecalc.quantities.reading import QuantityError, read

DragForm = Literal["power", "share of power", "area", "share of area", "force", "pace"]

EXAMPLES = (
    '"4.5 W at 45 km/h", "1.6 % of power at 250 W", "0.0046 m^2", "2 % of CdA",'
    ' "0.38 N at 45 km/h", "30 gram-force at 30 mph", "1 s/km at 250 W" or "40 s/40 km"'
)


@dataclass(frozen=True)
class StatedDrag:
    """A change of drag as stated; positive saves.

    Parameters
    ----------
    form : str
        What kind of statement it is.
    amount : float
        In SI: W, N, m^2, a share, or for "pace" seconds a metre.
    speed : float, optional
        Speed it refers to [m/s].
    power : float, optional
        Power it refers to [W].
    words : str
        The statement itself.
    half_digit : float
        Half of the last digit that was written, over the amount: what rounding may hide.
    """

    form: DragForm
    amount: float
    speed: float | None
    power: float | None
    words: str
    half_digit: float

    @property
    def range(self) -> tuple[float, float]:
        """Lowest and highest amount that is written with the same digits."""
        half = abs(self.amount) * self.half_digit
        return self.amount - half, self.amount + half


def read_drag(text: str) -> StatedDrag:
    """Read a change of drag.

    Parameters
    ----------
    text : str
        Such as "4.5 W at 45 km/h", "2.4 % of power" or "1 s/km at 250 W".

    Returns
    -------
    StatedDrag
        In SI; a condition that is not stated is None.

    Raises
    ------
    QuantityError
        If the text is no change of drag, or is a share that does not say of what.

    Examples
    --------
    >>> read_drag("2.4 % of power").form, read_drag("40 s per 40 km").amount
    ('share of power', 0.001)
    """
    words = " ".join(text.split())
    amount, of, at = split_saving(words)
    form, value, number = _amount(words, amount, of.casefold())
    speed = read(at, SPEED) if at and not is_kind(at, POWER) else None
    power = read(at, POWER) if at and speed is None else None
    if form in ("area", "share of area") and at:
        raise QuantityError(f'"{words}": an area needs no condition', f'write "{amount}"')
    if form == "force" and power is not None:
        raise QuantityError(
            f'"{words}": a force refers to a wind speed', f'write "{amount} at 45 km/h"'
        )
    for condition in (speed, power):
        if condition is not None and not condition > 0:
            raise QuantityError(f'"{at}" must be more than zero', 'write for example "45 km/h"')
    return StatedDrag(form, value, speed, power, words, _half_digit(number))


def _amount(words: str, amount: str, of: str) -> tuple[DragForm, float, str]:
    """Form, value in SI, and the text that holds its number."""
    if of == "power":
        return "share of power", read(amount, RATIO), amount
    if of == "cda":
        area = is_kind(amount, AREA)
        return ("area" if area else "share of area"), read(amount, AREA if area else RATIO), amount
    if of:
        raise QuantityError(f'"{words}": a share "of {of}" is not understood', f"write {EXAMPLES}")
    pace = _pace(amount)
    if pace:
        return "pace", *pace
    if is_kind(amount, AREA):
        return "area", read(amount, AREA), amount
    if is_kind(amount, FORCE) or is_kind(amount, MASS):
        # "30 g" is refused here, and the message says how to write grams of drag.
        return "force", read(amount, FORCE), amount
    if is_kind(amount, RATIO):
        raise QuantityError(
            f'"{words}" does not say of what',
            f'write "{amount} of power" or "{amount} of CdA"; the two differ',
        )
    if is_kind(amount, POWER):
        return "power", read(amount, POWER), amount
    raise QuantityError(f'"{words}" is no change of drag', f"write {EXAMPLES}")


def _pace(amount: str) -> tuple[float, str] | None:
    """Seconds a metre, and the text of the seconds; None if it is no such thing."""
    seconds, mark, length = tidy(amount).replace(" per ", "/").partition("/")
    # A time has no sign, but what costs time has one.
    sign, seconds = (-1.0, seconds[1:]) if seconds[:1] == "-" else (1.0, seconds.lstrip("+"))
    length = length.strip()
    whole = length if length[:1].isdecimal() else f"1 {length}"
    if not (mark and is_kind(seconds, TIME) and is_kind(whole, LENGTH)):
        return None
    return sign * read(seconds, TIME) / read(whole, LENGTH), seconds


def _half_digit(number: str) -> float:
    digits, _ = split_digits(number, "a number", "4.5 W")
    written = Decimal(digits)
    if not written:
        return 0.0
    last = Decimal(1).scaleb(int(written.as_tuple().exponent))
    return float(abs(Decimal("0.5") * last / written))
