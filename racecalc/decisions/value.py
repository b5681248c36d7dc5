"""What each option is worth in seconds, in watts and in money, and how sure that is."""

from dataclasses import dataclass, replace
from typing import Annotated, Any

from racecalc.decisions.bands import SavingBand
from racecalc.decisions.causes import split_by_cause
from racecalc.decisions.costs import CostOfUse, cost_of_use
from racecalc.decisions.gain import DEFAULT_MARGIN, gain_of, price_per_second
from racecalc.decisions.holding import HoldingAnswer, holding_answer
from racecalc.decisions.needed import multiple_needed, power_worth
from racecalc.decisions.prices import PriceCeiling, PricePerSecond
from racecalc.decisions.riding import Ridden
from racecalc.decisions.savings import assumptions_of
from racecalc.decisions.verdicts import give_or_take, reason, word_by_intervals
from racecalc.decisions.worth import change_held, naming
from racecalc.domain.option import Option
from racecalc.domain.race import Change
from racecalc.quantities.money import Money
from racecalc.written import HIDDEN, WHERE_ANY, As

ABOUT_OPTION = As(
    name="name",
    slot="slot",
    least_gain_w="ties.least_gain",
    rules="ties.rules",
    saves="saves.words",
    doubt="doubt.words",
    comfort="comfort",
    note="note",
)
CHANGED = As(
    cda_change_m2="cda",
    crr_change="crr",
    drivetrain_loss_change="drivetrain_loss",
    mass_change_kg="mass",
    power_change_w="power",
)


@dataclass(frozen=True)
class OptionValue:
    """What one option is worth on this course.

    Times are saved seconds: positive is faster. None stands where something is not known.

    Parameters
    ----------
    option : Option
        The option itself.
    change : Change
        What it changes on the bike.
    saved_s : float
        Seconds saved, mass included.
    saved_s_low, saved_s_high : float or None
        95 % interval from the stated doubt, or from the draws of all doubts where a band is
        given; None where no doubt was stated.
    chance_faster : float or None
        Chance that it is faster at all.
    aero_s, rolling_s, drivetrain_s, mass_s, power_s : float
        Parts of `saved_s`, which they add up to.
    watts_equivalent_w : float or None
        Watts on this course that would save the same.
    price : Money or None
        Purchase price.
    wanted : Money or None
        What a second is worth to the user.
    price_per_second : float or None
        Price over seconds saved; None without a price or a gain.
    price_per_second_low, price_per_second_high : float or None
        The same over the interval; None at the high end where the gain may be nothing.
    break_even_w : float or None
        Watts at its test from which on it makes up for its mass.
    break_even_price_w : float or None
        Watts at its test from which on it costs no more than the wanted price per second.
    weight_s, weight_w : float or None
        Seconds saved by its mass alone, and watts on this course that are worth as much; negative
        where it is heavier.
    test_speed_m_s, test_power_w : float
        What these watts refer to; 0 for the one that does not apply.
    verdict : str
        "faster", "slower", "tie" or "undecided".
    because : str
        Why the verdict is what it is, in one sentence.
    assumptions : tuple of str
        What had to be assumed about the test.
    margin_s : float
        Seconds within which a difference counts as none.
    cost : CostOfUse
        What it costs for a race and a season.
    race_price : PricePerSecond
        The same over the seconds saved in that race.
    ceiling : PriceCeiling or None
        Most it may cost so that a second costs no more than the user would pay; None where they
        do not say what a second is worth to them.
    enough : bool or None
        Whether it is worth at least what its owner wants before using it; None without a wish.
    holding : HoldingAnswer or None
        What it takes for a position to pay; None for anything else.
    band : SavingBand or None
        All doubts together, the shared ones cancelled; None where the race states none.
    """

    option: Annotated[Option, ABOUT_OPTION]
    change: Annotated[Change, CHANGED]
    saved_s: float
    saved_s_low: float | None
    saved_s_high: float | None
    chance_faster: float | None
    aero_s: float
    rolling_s: float
    drivetrain_s: float
    mass_s: float
    power_s: float
    watts_equivalent_w: float | None
    price: Annotated[Money | None, As(price="amount", currency="currency")]
    wanted: Annotated[Money | None, HIDDEN]
    price_per_second: float | None
    price_per_second_low: float | None
    price_per_second_high: float | None
    break_even_w: float | None
    break_even_price_w: float | None
    test_speed_m_s: float
    test_power_w: float
    verdict: str
    because: str
    assumptions: tuple[str, ...]
    margin_s: Annotated[float, HIDDEN]
    weight_s: float
    weight_w: float | None
    cost: Annotated[CostOfUse, As(cost_of_use="")]
    race_price: Annotated[PricePerSecond, As(price_per_second_of_a_race="")]
    ceiling: Annotated[PriceCeiling | None, As(price_ceiling="")]
    enough: bool | None
    holding: HoldingAnswer | None
    band: Annotated[SavingBand | None, WHERE_ANY] = None

    @property
    def give_or_take_s(self) -> float | None:
        """Half the 95 % interval [s]; None where the doubt of the saving is not stated."""
        return give_or_take(self.saved_s_low, self.saved_s_high)


def value_of(
    base: Ridden, option: Option, margin_w: float = DEFAULT_MARGIN, wanted: Money | None = None
) -> OptionValue:
    """Solve the race again with an option and say what it is worth.

    Parameters
    ----------
    base : Ridden
        The race without it.
    option : Option
        What is tried.
    margin_w : float
        Watts at the test speed within which a difference counts as none [W].
    wanted : Money, optional
        Highest price per second the user would pay.

    Returns
    -------
    OptionValue
        The answer.
    """
    gain = gain_of(base, option, margin_w)
    worth, watt = gain.worth, gain.watt
    option, change, saved = worth.option, worth.change, worth.saved_s
    low, high = gain.low_s, gain.high_s
    alone = Change(mass=change.mass)
    loaded = base.changed(alone)
    parts = split_by_cause(base, change, {change: worth.changed.time, alone: loaded.time})
    watts = power_worth(base, worth.changed.time)
    cost = cost_of_use(option, base.race.purse, base.race.course.length, base.time)
    return OptionValue(
        option=option,
        change=change,
        saved_s=saved,
        saved_s_low=low,
        saved_s_high=high,
        chance_faster=gain.chance_faster,
        aero_s=parts["cda"],
        rolling_s=parts["crr"],
        drivetrain_s=parts["drivetrain_loss"],
        mass_s=parts["mass"],
        power_s=parts["power"],
        watts_equivalent_w=watts,
        price=option.price,
        wanted=wanted,
        **_money(cost, wanted, gain.price_per_second, (saved, low, high)),
        break_even_w=multiple_needed(loaded, watt, base.time),
        break_even_price_w=_break_even_price(loaded, base.time, watt, option, wanted),
        test_speed_m_s=gain.test_speed_m_s,
        test_power_w=gain.test_power_w,
        verdict=gain.verdict,
        because=gain.because,
        assumptions=assumptions_of(option, base.race),
        margin_s=gain.margin_s,
        weight_s=base.time - loaded.time,
        weight_w=power_worth(base, loaded.time),
        cost=cost,
        enough=watts is not None and watts >= option.ties.least_gain
        if option.ties.least_gain
        else None,
        holding=_holding(base, option),
    )


def _holding(base: Ridden, option: Option) -> HoldingAnswer | None:
    with naming(option.name):
        return holding_answer(base, option, change_held(option, base))


def _money(
    cost: CostOfUse,
    wanted: Money | None,
    purchase: PricePerSecond,
    saving: tuple[float, float | None, float | None],
) -> dict[str, Any]:
    """Prices over a saving and its interval [s]: the fields of `OptionValue` that hold them."""
    return {
        "price_per_second": purchase.at,
        "price_per_second_low": purchase.low,
        "price_per_second_high": purchase.high,
        "race_price": PricePerSecond.of(cost.per_race, *saving),
        "ceiling": PriceCeiling.of(wanted, *saving),
    }


def with_band(value: OptionValue, band: SavingBand) -> OptionValue:
    """The same answer with the interval, chance, verdict and prices of the draws of all doubts.

    Parameters
    ----------
    value : OptionValue
        Answer from the option's own doubt.
    band : SavingBand
        Of the same option.

    Returns
    -------
    OptionValue
        Without an interval still where the option does not state its own doubt.
    """
    if not band.own_doubt_stated:
        return replace(value, band=band)
    spread = band.spread
    whole, inner = (spread.low_95_s, spread.high_95_s), (spread.low_90_s, spread.high_90_s)
    verdict = word_by_intervals(whole, inner, value.margin_s)
    because = reason(verdict, value.saved_s, spread.standard_deviation_s, value.margin_s)
    purchase = price_per_second(value.option, value.saved_s, *whole)
    return replace(
        value,
        saved_s_low=whole[0],
        saved_s_high=whole[1],
        chance_faster=band.chance_faster,
        **_money(value.cost, value.wanted, purchase, (value.saved_s, *whole)),
        verdict=verdict,
        because=because,
        band=band,
    )


def _break_even_price(
    loaded: Ridden, base_time: float, watt: Change, option: Option, wanted: Money | None
) -> float | None:
    if wanted is None or option.price is None:
        return None
    seconds = 0.0 if option.upkeep.owned else option.price.over(wanted)
    return multiple_needed(loaded, watt, base_time - seconds)
