"""What an option gains at first sight: seconds, doubt, verdict and money, quick to work out."""

from dataclasses import dataclass

from racecalc.decisions.evidence.margins import WATTS
from racecalc.decisions.needed import first_order
from racecalc.decisions.prices import PricePerSecond
from racecalc.decisions.riding import Ridden
from racecalc.decisions.savings import watt_at_test
from racecalc.decisions.verdicts import Verdict, chance_faster, give_or_take, interval, verdict_on
from racecalc.decisions.worth import Worth, worth_of
from racecalc.domain.option import Option
from racecalc.domain.race import Change

DEFAULT_MARGIN = WATTS


@dataclass(frozen=True)
class Gain:
    """What an option saves, solved in full.

    Parameters
    ----------
    worth : Worth
        The option with the saving of its test, what it changes, and the race with it.
    low_s, high_s : float or None
        95 % interval of the seconds saved from the option's own doubt; None where none is stated.
    chance_faster : float or None
        Chance that it is faster at all.
    margin_s : float
        Seconds within which a difference counts as none.
    verdict : str
        "faster", "slower", "tie" or "undecided".
    because : str
        Why, in one sentence.
    price_per_second : PricePerSecond
        Purchase price over the seconds saved.
    watt : Change
        What a watt at its test changes.
    test_speed_m_s, test_power_w : float
        What such a watt refers to; 0 for the one that does not apply.
    """

    worth: Worth
    low_s: float | None
    high_s: float | None
    chance_faster: float | None
    margin_s: float
    verdict: Verdict
    because: str
    price_per_second: PricePerSecond
    watt: Change
    test_speed_m_s: float
    test_power_w: float

    @property
    def option(self) -> Option:
        """The option itself."""
        return self.worth.option

    @property
    def saved_s(self) -> float:
        """Seconds saved; negative where it costs time."""
        return self.worth.saved_s

    @property
    def give_or_take_s(self) -> float | None:
        """Half the 95 % interval [s]; None where no doubt is stated."""
        return give_or_take(self.low_s, self.high_s)


def gain_of(base: Ridden, option: Option, margin_w: float = DEFAULT_MARGIN) -> Gain:
    """Solve the race again with an option.

    Parameters
    ----------
    base : Ridden
        The race without it.
    option : Option
        What is tried.
    margin_w : float
        Watts at the test speed within which a difference counts as none [W].

    Returns
    -------
    Gain
        Seconds, their doubt and what they cost.

    Raises
    ------
    InputError
        If its test tells nothing about it, or nothing can be ridden with it.
    """
    worth = worth_of(base, option)
    option, saved, doubt = worth.option, worth.saved_s, worth.doubt_s
    watt, speed, power = watt_at_test(option, base.race, base.race.course.length / base.time)
    margin = abs(first_order(base, watt)) * margin_w
    low, high = interval(saved, doubt)
    verdict, because = verdict_on(saved, doubt, margin)
    return Gain(
        worth=worth,
        low_s=low,
        high_s=high,
        chance_faster=chance_faster(saved, doubt),
        margin_s=margin,
        verdict=verdict,
        because=because,
        price_per_second=price_per_second(option, saved, low, high),
        watt=watt,
        test_speed_m_s=speed,
        test_power_w=power,
    )


def price_per_second(
    option: Option, saved_s: float, low_s: float | None, high_s: float | None
) -> PricePerSecond:
    """What an option still costs its owner, over the seconds it saves and their interval [s]."""
    paid = None if option.price is None else option.to_pay
    return PricePerSecond.of(paid, saved_s, low_s, high_s)
