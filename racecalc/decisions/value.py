"""What each option is worth in seconds, in watts and in money, and how sure that is."""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from itertools import combinations

from racecalc.decisions.bands import SavingBand
from racecalc.decisions.breakeven import first_order, multiple_needed, power_worth
from racecalc.decisions.evidence.for_option import with_evidence
from racecalc.decisions.evidence.margins import WATTS
from racecalc.decisions.riding import Ridden
from racecalc.decisions.savings import assumptions_of, watt_at_test
from racecalc.decisions.verdicts import (
    chance_faster,
    interval,
    reason,
    verdict_on,
    word_by_intervals,
)
from racecalc.decisions.worth import doubt_in_seconds, total_change, worth_of
from racecalc.domain.option import Option
from racecalc.domain.race import Change
from racecalc.errors import InputError
from racecalc.quantities.money import Money

DEFAULT_MARGIN = WATTS

NO_FEES: Mapping[str, Money | None] = {}

PARTS = ("cda", "crr", "drivetrain_loss", "mass", "power")


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
    price_per_second : float or None
        Price over seconds saved; None without a price or a gain.
    price_per_second_low, price_per_second_high : float or None
        The same over the interval; None at the high end where the gain may be nothing.
    break_even_w : float or None
        Watts at its test that it must save to make up for its mass.
    break_even_price_w : float or None
        Watts at its test that it must save to cost no more than the wanted price per second.
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
    band : SavingBand or None
        All doubts together, the shared ones cancelled; None where the race states none.
    """

    option: Option
    change: Change
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
    price: Money | None
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
    margin_s: float
    band: SavingBand | None = None


@dataclass(frozen=True)
class SetValue:
    """Several options used together, solved as one.

    Parameters
    ----------
    names : tuple of str
        The options.
    tested : str
        Name of the test of the whole set; empty where only its parts were tested.
    saved_s : float
        Seconds saved together: by the test of the set if there is one, else by its parts.
    by_parts_s : float
        Seconds saved by its parts, their drag areas added and solved as one.
    sum_of_single_s : float
        Sum of what each saves alone, for comparison.
    doubt_s : float or None
        Standard uncertainty of `saved_s`, the doubts of parts being independent; None if one is
        not known.
    mass_kg : float
        Change of mass [kg].
    price : Money or None
        Total price; None if one has no price.
    """

    names: tuple[str, ...]
    tested: str
    saved_s: float
    by_parts_s: float
    sum_of_single_s: float
    doubt_s: float | None
    mass_kg: float
    price: Money | None


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
    worth = worth_of(base, option)
    option, change, saved = worth.option, worth.change, worth.saved_s
    watt, speed, power = watt_at_test(option, base.race, base.race.course.length / base.time)
    margin = abs(first_order(base, watt)) * margin_w
    doubt = worth.doubt_s
    low, high = interval(saved, doubt)
    parts = split_by_cause(base, change)
    verdict, because = verdict_on(saved, doubt, margin)
    price_low, price_at, price_high = _prices_per_second(option.price, saved, low, high)
    loaded = base.changed(Change(mass=change.mass))
    return OptionValue(
        option=option,
        change=change,
        saved_s=saved,
        saved_s_low=low,
        saved_s_high=high,
        chance_faster=chance_faster(saved, doubt),
        aero_s=parts["cda"],
        rolling_s=parts["crr"],
        drivetrain_s=parts["drivetrain_loss"],
        mass_s=parts["mass"],
        power_s=parts["power"],
        watts_equivalent_w=power_worth(base, worth.changed.time),
        price=option.price,
        price_per_second=price_at,
        price_per_second_low=price_low,
        price_per_second_high=price_high,
        break_even_w=multiple_needed(loaded, watt, base.time),
        break_even_price_w=_break_even_price(loaded, base.time, watt, option, wanted),
        test_speed_m_s=speed,
        test_power_w=power,
        verdict=verdict,
        because=because,
        assumptions=assumptions_of(option, base.race),
        margin_s=margin,
    )


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
    low, at, high = _prices_per_second(value.price, value.saved_s, *whole)
    return replace(
        value,
        saved_s_low=whole[0],
        saved_s_high=whole[1],
        chance_faster=band.chance_faster,
        price_per_second_low=low,
        price_per_second=at,
        price_per_second_high=high,
        verdict=verdict,
        because=because,
        band=band,
    )


def split_by_cause(base: Ridden, change: Change) -> dict[str, float]:
    """Split the seconds saved into parts that add up to the whole.

    Each part is the mean of what its cause saves over all orders in which the causes could be
    added (the Shapley value), every one solved in full; so no part depends on a chosen order.

    References
    ----------
    Shapley LS. A value for n-person games. Annals of Mathematics Studies 1953;28:307-317.
    """
    active = [name for name in PARTS if getattr(change, name)]
    times = {
        causes: base.changed(Change(**{name: getattr(change, name) for name in causes})).time
        for size in range(len(active) + 1)
        for causes in combinations(active, size)
    }
    parts = dict.fromkeys(PARTS, 0.0)
    for name in active:
        others = [other for other in active if other != name]
        for size in range(len(active)):
            weight = 1.0 / (len(active) * math.comb(len(others), size))
            for causes in combinations(others, size):
                with_it = tuple(one for one in active if one in causes or one == name)
                parts[name] += weight * (times[causes] - times[with_it])
    return parts


def _prices_per_second(
    price: Money | None, saved: float, low: float | None, high: float | None
) -> tuple[float | None, float | None, float | None]:
    if price is None or saved <= 0:
        return None, None, None
    amount = float(price.amount)
    best = amount / high if high else None
    worst = amount / low if low and low > 0 else None
    return best, amount / saved, worst


def _break_even_price(
    loaded: Ridden, base_time: float, watt: Change, option: Option, wanted: Money | None
) -> float | None:
    if wanted is None or option.price is None:
        return None
    seconds = option.price.over(wanted)
    return multiple_needed(loaded, watt, base_time - seconds)


def refuse_mixed_currencies(
    options: Iterable[Option],
    wanted: Money | None = None,
    fees: Mapping[str, Money | None] = NO_FEES,
) -> None:
    """Make sure that prices can be compared: no rate of exchange is ever assumed.

    Parameters
    ----------
    options : iterable of Option
        Options with or without a price.
    wanted : Money, optional
        Price per second of the user.
    fees : Mapping of str to Money or None
        Further amounts by what they are.

    Raises
    ------
    InputError
        If two prices stand in different currencies; it names both.
    """
    known: dict[str, str] = {} if wanted is None else {wanted.currency: "the price per second"}
    prices = ((f"option {option.name}", option.price) for option in options)
    for name, price in (*fees.items(), *prices):
        if price is None:
            continue
        known.setdefault(price.currency, name)
        if len(known) > 1:
            (one, first), (other, second) = list(known.items())[:2]
            raise InputError(
                f"{first} and {second}",
                f"one stands in {one}, the other in {other}",
                "give every price in one currency, at a rate of your own",
            )


def value_of_set(
    base: Ridden, options: tuple[Option, ...], tested: Option | None = None
) -> SetValue:
    """Solve the race with several options at once; savings do not simply add.

    Parameters
    ----------
    base : Ridden
        The race without them.
    options : tuple of Option
        At most one of each slot.
    tested : Option, optional
        Test of the whole set, which then counts instead of its parts.

    Returns
    -------
    SetValue
        The set as one.
    """
    options = tuple(with_evidence(option, base) for option in options)
    by_parts = _set_changed(base, options, [total_change(option, base) for option in options])
    together, stated = by_parts, options
    if tested is not None:
        stated = (with_evidence(tested, base),)
        mass = Change(mass=sum(option.mass for option in options))
        together = _set_changed(base, stated, [mass, total_change(stated[0], base)])
    doubts = [doubt_in_seconds(together, option) for option in stated]
    known = [doubt for doubt in doubts if doubt is not None]
    prices = [option.price for option in options if option.price is not None]
    return SetValue(
        names=tuple(option.name for option in options),
        tested=tested.name if tested else "",
        saved_s=base.time - together.time,
        by_parts_s=base.time - by_parts.time,
        sum_of_single_s=sum(
            base.time - base.changed(total_change(option, base)).time for option in options
        ),
        doubt_s=math.hypot(*known) if len(known) == len(stated) else None,
        mass_kg=sum(option.mass for option in options),
        price=_total(prices) if len(prices) == len(options) else None,
    )


def _set_changed(base: Ridden, options: tuple[Option, ...], changes: list[Change]) -> Ridden:
    whole = Change()
    for change in changes:
        whole = whole.plus(change)
    try:
        return base.changed(whole)
    except InputError as error:
        raise error.at(" + ".join(option.name for option in options)) from error


def _total(prices: list[Money]) -> Money | None:
    total = None
    for price in prices:
        total = price if total is None else total + price
    return total
