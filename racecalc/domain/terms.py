"""What using an option costs, and what the athlete can spend."""

from dataclasses import dataclass
from typing import Literal

from racecalc.quantities.kinds import LENGTH, RATIO, TIME
from racecalc.quantities.money import Money
from racecalc.quantities.reading import QuantityError, read

LifeUnit = Literal["races", "years", "m", "s"]

_REMEDY = 'write for example "40 races", "3 years", "1500 km" or "60 h"'


@dataclass(frozen=True)
class Life:
    """How long something serves.

    Parameters
    ----------
    amount : float
        More than zero.
    unit : {"races", "years", "m", "s"}
        Races, years, or metres or seconds of racing.

    Raises
    ------
    ValueError
        If it serves for no time.
    """

    amount: float
    unit: LifeUnit

    def __post_init__(self) -> None:
        if not self.amount > 0:
            raise ValueError("a life must be longer than nothing")


@dataclass(frozen=True)
class Upkeep:
    """What an option costs besides its purchase price.

    Parameters
    ----------
    hire : Money, optional
        Fee for one race.
    resale : Money, optional
        What it still fetches at the end of its life.
    life : Life, optional
        How long it serves.
    owned : bool
        Whether the athlete has it already, so that using it costs nothing more.
    """

    hire: Money | None = None
    resale: Money | None = None
    life: Life | None = None
    owned: bool = False


NO_UPKEEP = Upkeep()


@dataclass(frozen=True)
class Purse:
    """What the athlete can and would spend.

    Parameters
    ----------
    per_second : Money, optional
        Most they would pay for a second on this course.
    budget : Money, optional
        Most they would spend in all.
    races_a_season : int, optional
        Races a season.
    test_fee : Money, optional
        What a test costs.
    """

    per_second: Money | None = None
    budget: Money | None = None
    races_a_season: int | None = None
    test_fee: Money | None = None


EMPTY_PURSE = Purse()


def read_life(text: str) -> Life:
    """Read how long something serves.

    Parameters
    ----------
    text : str
        A number of races or years, or a length or time of racing.

    Returns
    -------
    Life
        In races, years, metres or seconds.

    Raises
    ------
    QuantityError
        If it is none of them, or no time at all.

    Examples
    --------
    >>> read_life("40 races")
    Life(amount=40.0, unit='races')
    >>> read_life("1500 km")
    Life(amount=1500000.0, unit='m')
    """
    words = text.split()
    counted: LifeUnit | None = None
    if len(words) == 2:
        last = words[1].casefold()
        counted = "races" if last in ("race", "races") else None
        counted = "years" if last in ("year", "years") else counted
    life = (read(words[0], RATIO), counted) if counted else _of_racing(text)
    if not life[0] > 0:
        raise QuantityError(f"'{text}' is no life at all", _REMEDY)
    return Life(*life)


def _of_racing(text: str) -> tuple[float, LifeUnit]:
    for kind, unit in ((LENGTH, "m"), (TIME, "s")):
        try:
            return read(text, kind), "m" if unit == "m" else "s"
        except QuantityError:
            continue
    raise QuantityError(f"'{text}' does not say how long it serves", _REMEDY)
