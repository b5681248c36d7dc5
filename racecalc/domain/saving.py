"""A saving in the words it was stated in."""

import re
from dataclasses import dataclass
from typing import Literal

from racecalc.quantities.kinds import AREA, FORCE, MASS, POWER, RATIO, SPEED, Kind
from racecalc.quantities.reading import QuantityError, read

SavingForm = Literal[
    "power at speed", "power at power", "share of power", "force", "area", "share of area", "crr"
]
ActsOn = Literal["air", "tyres", "drivetrain"]
TestPowerAt = Literal["wheel", "cranks"]

FORMS_OF: dict[ActsOn, frozenset[SavingForm]] = {
    "air": frozenset({"power at speed", "share of power", "force", "area", "share of area"}),
    "tyres": frozenset({"power at speed", "share of power", "force", "crr"}),
    "drivetrain": frozenset({"power at power", "share of power"}),
}
"""Forms of a saving that make sense for each loss."""

TEST_DENSITY = 1.20
"""Air density of a test that does not state it [kg/m^3]: about 20 degC at sea level; assumed."""

EXAMPLES = (
    '"4.5 W at 45 km/h", "1.6 % of power at 250 W", "0.0046 m^2", "2 % of CdA",'
    ' "0.38 N at 45 km/h", "30 gram-force at 30 mph" or "0.0004 of Crr"'
)


@dataclass(frozen=True)
class Saving:
    """A saving or its standard uncertainty as stated; positive saves, negative costs.

    Parameters
    ----------
    form : str
        What kind of statement it is.
    amount : float
        In SI: W, N, m^2 or a share.
    condition : float
        Speed [m/s] or power [W] of the test; 0 where the form needs none.
    words : str
        The statement itself.
    """

    form: SavingForm
    amount: float
    condition: float
    words: str


def read_saving(text: str) -> Saving:
    """Read a saving in any of the forms people state it in.

    Parameters
    ----------
    text : str
        Such as "4.5 W at 45 km/h", "1.6 % of power at 250 W" or "0.0046 m^2".

    Returns
    -------
    Saving
        The statement in SI.

    Raises
    ------
    QuantityError
        If the text is not a saving, or lacks the condition that gives it a meaning.

    Examples
    --------
    >>> read_saving("1.6 % of power at 250 W").amount
    0.016
    """
    words = " ".join(text.split())
    amount, of, at = split_saving(words)
    if of:
        return _share(words, amount, of.casefold(), at)
    if at:
        return _at_condition(words, amount, at)
    return _without_condition(words, amount)


def split_saving(words: str) -> tuple[str, str, str]:
    """Split a saving into its amount, what it is a share of, and its condition; "" for none.

    Raises
    ------
    QuantityError
        If nothing stands there.

    Examples
    --------
    >>> split_saving("1.6 % of power at 250 W")
    ('1.6 %', 'power', '250 W')
    """
    found = re.fullmatch(r"(.+?)(?: of (.+?))?(?: at (.+))?", words)
    if found is None:
        raise QuantityError("an empty saving", f"write {EXAMPLES}")
    return found[1], found[2] or "", found[3] or ""


def _share(words: str, amount: str, of: str, at: str) -> Saving:
    if of == "power":
        if not at:
            raise QuantityError(
                f'"{words}" does not say at which power', f'write "{words} at 250 W"'
            )
        return Saving("share of power", read(amount, RATIO), _positive(at, POWER), words)
    if of == "cda":
        if is_kind(amount, AREA):
            return Saving("area", read(amount, AREA), 0.0, words)
        return Saving("share of area", read(amount, RATIO), 0.0, words)
    if of == "crr":
        return Saving("crr", _plain_crr(words, amount), 0.0, words)
    raise QuantityError(f'"{words}": a saving "of {of}" is not understood', f"write {EXAMPLES}")


def _plain_crr(words: str, amount: str) -> float:
    if "%" in amount:
        raise QuantityError(
            f'"{words}" may mean a share of Crr or a change of it', 'write "0.0004 of Crr"'
        )
    return read(amount, RATIO)


def _at_condition(words: str, amount: str, at: str) -> Saving:
    # "30 g at 30 mph" means a force; reading it as one says what to write.
    if is_kind(amount, FORCE) or is_kind(amount, MASS):
        return Saving("force", read(amount, FORCE), _positive(at, SPEED), words)
    if is_kind(at, POWER):
        return Saving("power at power", read(amount, POWER), _positive(at, POWER), words)
    return Saving("power at speed", read(amount, POWER), _positive(at, SPEED), words)


def _positive(text: str, kind: Kind) -> float:
    value = read(text, kind)
    if value <= 0:
        raise QuantityError(
            f'"{text}" must be more than zero', f'write for example "{kind.example}"'
        )
    return value


def _without_condition(words: str, amount: str) -> Saving:
    if is_kind(amount, AREA):
        return Saving("area", read(amount, AREA), 0.0, words)
    if is_kind(amount, POWER):
        watts = read(amount, POWER)
        raise QuantityError(
            f'"{words}" does not say at which speed, and the speed decides what it means:'
            f" {_area_at(watts, 40):.4f} m^2 of CdA at 40 km/h but {_area_at(watts, 48):.4f} m^2"
            " at 48 km/h",
            f'write for example "{words} at 45 km/h"',
        )
    if is_kind(amount, FORCE):
        raise QuantityError(
            f'"{words}" does not say at which wind speed', f'write for example "{words} at 50 km/h"'
        )
    if "%" in words and is_kind(amount, RATIO):
        raise QuantityError(
            f'"{words}" does not say of what',
            f'write "{words} of power at 250 W" or "{words} of CdA"',
        )
    raise QuantityError(f'"{words}" is not a saving', f"write {EXAMPLES}")


def _area_at(watts: float, kilometres_an_hour: float) -> float:
    return 2.0 * watts / (TEST_DENSITY * (kilometres_an_hour / 3.6) ** 3)


def is_kind(text: str, kind: Kind) -> bool:
    """Whether the text reads as a quantity of this kind."""
    try:
        read(text, kind)
    except QuantityError:
        return False
    return True
