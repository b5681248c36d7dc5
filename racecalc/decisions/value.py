"""What options and sets are worth in seconds, watts and money, in one race or a season."""

import math
from collections.abc import Callable, Collection, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Annotated, Any, TypeVar

from racecalc.decisions.doubt import DEFAULT_DRAWS, DEFAULT_SEED, SavingBand, saving_bands
from racecalc.decisions.evidence.for_option import with_evidence
from racecalc.decisions.evidence.judging import WATTS
from racecalc.decisions.money import CostOfUse, PriceCeiling, PricePerSecond, cost_of_use
from racecalc.decisions.riding import Ridden, first_order, multiple_needed, power_worth
from racecalc.decisions.savings import assumptions_of, watt_at_test
from racecalc.decisions.verdicts import (
    Verdict,
    chance_faster,
    give_or_take,
    interval,
    reason,
    verdict_on,
    word_by_intervals,
)
from racecalc.decisions.worth import (
    HoldingAnswer,
    Worth,
    change_held,
    doubt_in_seconds,
    holding_answer,
    naming,
    total_change,
    worth_of,
)
from racecalc.domain.option import Option
from racecalc.domain.race import AXES, Change
from racecalc.errors import InputError
from racecalc.quantities.money import Money
from racecalc.written import HIDDEN, WHERE_ANY, As

# --- What an option gains at first sight ---------------------------------------------------------

DEFAULT_MARGIN = WATTS


@dataclass(frozen=True)
class Gain:
    """What an option saves, solved in full."""

    worth: Worth
    """The option with the saving of its test, what it changes, and the race with it."""
    low_s: float | None
    high_s: float | None
    """95 % interval of the seconds saved from the option's own doubt; None where none is stated."""
    chance_faster: float | None
    """Chance that it is faster at all."""
    margin_s: float
    """Seconds within which a difference counts as none."""
    verdict: Verdict
    """"faster", "slower", "tie" or "undecided"."""
    because: str
    """Why, in one sentence."""
    price_per_second: PricePerSecond
    """Purchase price over the seconds saved."""
    watt: Change
    """What a watt at its test changes."""
    test_speed_m_s: float
    test_power_w: float
    """What such a watt refers to; 0 for the one that does not apply."""

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


# --- Which part of a saving comes from air, tyres, chain, mass and power -------------------------


def split_by_cause(base: Ridden, change: Change, known: Mapping[Change, float]) -> dict[str, float]:
    """Split the seconds saved into parts that add up to the whole.

    Each part is the mean of what its cause saves over all orders in which the causes could be
    added (the Shapley value), every one solved in full; so no part depends on a chosen order.

    Parameters
    ----------
    base : Ridden
        The race without the change.
    change : Change
        What is split.
    known : mapping of Change to float
        Times that are solved already [s].

    Returns
    -------
    dict of str to float
        Seconds saved by each of `racecalc.domain.race.AXES`.

    References
    ----------
    Shapley LS. A value for n-person games. Annals of Mathematics Studies 1953;28:307-317.
    """
    active = [name for name in AXES if getattr(change, name)]

    def time_with(part: Change) -> float:
        return known[part] if part in known else base.changed(part).time

    times = {
        causes: time_with(Change(**{name: getattr(change, name) for name in causes}))
        for size in range(len(active) + 1)
        for causes in combinations(active, size)
    }
    parts = dict.fromkeys(AXES, 0.0)
    for name in active:
        others = [other for other in active if other != name]
        for size in range(len(active)):
            weight = 1.0 / (len(active) * math.comb(len(others), size))
            for causes in combinations(others, size):
                with_it = tuple(one for one in active if one in causes or one == name)
                parts[name] += weight * (times[causes] - times[with_it])
    return parts


# --- What each option is worth in seconds, in watts and in money, and how sure that is -----------

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
    """

    option: Annotated[Option, ABOUT_OPTION]
    """The option itself."""
    change: Annotated[Change, CHANGED]
    """What it changes on the bike."""
    saved_s: float
    """Seconds saved, mass included."""
    saved_s_low: float | None
    saved_s_high: float | None
    """95 % interval from the stated doubt, or from the draws of all doubts where a band is given;
    None where no doubt was stated.
    """
    chance_faster: float | None
    """Chance that it is faster at all."""
    aero_s: float
    rolling_s: float
    drivetrain_s: float
    mass_s: float
    power_s: float
    """Parts of `saved_s`, which they add up to."""
    watts_equivalent_w: float | None
    """Watts on this course that would save the same."""
    price: Annotated[Money | None, As(price="amount", currency="currency")]
    """Purchase price."""
    wanted: Annotated[Money | None, HIDDEN]
    """What a second is worth to the user."""
    price_per_second: float | None
    """Price over seconds saved; None without a price or a gain."""
    price_per_second_low: float | None
    price_per_second_high: float | None
    """The same over the interval; None at the high end where the gain may be nothing."""
    break_even_w: float | None
    """Watts at its test from which on it makes up for its mass."""
    break_even_price_w: float | None
    """Watts at its test from which on it costs no more than the wanted price per second."""
    test_speed_m_s: float
    test_power_w: float
    """What these watts refer to; 0 for the one that does not apply."""
    verdict: str
    """"faster", "slower", "tie" or "undecided"."""
    because: str
    """Why the verdict is what it is, in one sentence."""
    assumptions: tuple[str, ...]
    """What had to be assumed about the test."""
    margin_s: Annotated[float, HIDDEN]
    """Seconds within which a difference counts as none."""
    weight_s: float
    weight_w: float | None
    """Seconds saved by its mass alone, and watts on this course that are worth as much; negative
    where it is heavier.
    """
    cost: Annotated[CostOfUse, As(cost_of_use="")]
    """What it costs for a race and a season."""
    race_price: Annotated[PricePerSecond, As(price_per_second_of_a_race="")]
    """The same over the seconds saved in that race."""
    ceiling: Annotated[PriceCeiling | None, As(price_ceiling="")]
    """Most it may cost so that a second costs no more than the user would pay; None where they do
    not say what a second is worth to them.
    """
    enough: bool | None
    """Whether it is worth at least what its owner wants before using it; None without a wish."""
    holding: HoldingAnswer | None
    """What it takes for a position to pay; None for anything else."""
    band: Annotated[SavingBand | None, WHERE_ANY] = None
    """All doubts together, the shared ones cancelled; None where the race states none."""

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


# --- The value of every option, with all stated doubts drawn where the race states any -----------

Track = Callable[[Sequence[Option], str], Iterable[Option]]


def _untracked(options: Sequence[Option], _: str) -> Iterable[Option]:
    return options


def values_of(
    base: Ridden,
    options: Sequence[Option],
    margin_w: float = DEFAULT_MARGIN,
    wanted: Money | None = None,
    track: Track = _untracked,
    draws: int = DEFAULT_DRAWS,
    seed: int = DEFAULT_SEED,
) -> list[OptionValue]:
    """Say what each option is worth.

    Parameters
    ----------
    base : Ridden
        The race without any.
    options : sequence of Option
        What may be used.
    margin_w : float
        Watts at the test speed within which a difference counts as none [W].
    wanted : Money, optional
        Highest price per second the user would pay.
    track : callable
        Passes the options on one by one under a label, as a progress bar does.
    draws, seed : int
        Number of random draws of the doubts, and their seed.

    Returns
    -------
    list of OptionValue
        In the order of the options.

    Raises
    ------
    InputError
        As `value_of` and `saving_bands`.
    """
    values = [
        value_of(base, option, margin_w, wanted) for option in track(options, "solving options")
    ]
    if not base.race.doubts.stated:
        return values
    bands = saving_bands(base, track(options, "drawing doubts"), draws, seed)
    return [with_band(value, band) for value, band in zip(values, bands, strict=True)]


# --- What an option is worth over all rounds of a season, each on its own course -----------------


@dataclass(frozen=True)
class SeasonValue:
    """An option over several rounds; positive seconds are saved."""

    name: str
    """The option."""
    rounds: tuple[str, ...]
    """Names of the rounds."""
    saved_s: tuple[float, ...]
    """Seconds saved in each."""
    total_s: float
    """Their sum."""
    doubt_s: float | None
    """Standard uncertainty of the sum, the saving being wrong alike in every round; None where none
    is stated.
    """
    to_pay: float | None
    """What buying it costs, in whole units of its currency; None without a price, 0 if owned."""
    price_per_second: float | None
    """That over the seconds of all rounds; None without a price or a gain."""

    @property
    def least(self) -> int:
        """Number, from 1, of the round in which it saves least."""
        return 1 + self.saved_s.index(min(self.saved_s))

    @property
    def most(self) -> int:
        """Number, from 1, of the round in which it saves most."""
        return 1 + self.saved_s.index(max(self.saved_s))


def season_values(rounds: Sequence[Ridden], options: Iterable[Option]) -> tuple[SeasonValue, ...]:
    """Try options in every round of a season.

    Parameters
    ----------
    rounds : sequence of Ridden
        The rounds without any option, each with its own rider, bike, air and course.
    options : iterable of Option
        As a race file states them: a sweep over yaw is weighted anew in each round.

    Returns
    -------
    tuple of SeasonValue
        In the order of the options.

    Raises
    ------
    InputError
        If an option cannot be tried in a round.
    """
    return tuple(
        _season_value(rounds, option, [worth_of(base, option) for base in rounds])
        for option in options
    )


def _season_value(rounds: Sequence[Ridden], option: Option, worths: Sequence[Worth]) -> SeasonValue:
    saved = tuple(worth.saved_s for worth in worths)
    doubts = [worth.doubt_s for worth in worths]
    known = [doubt for doubt in doubts if doubt is not None]
    total = sum(saved)
    to_pay = option.to_pay
    return SeasonValue(
        name=option.name,
        rounds=tuple(base.race.name for base in rounds),
        saved_s=saved,
        total_s=total,
        doubt_s=sum(known) if len(known) == len(doubts) else None,
        to_pay=to_pay,
        price_per_second=None if to_pay is None or total <= 0 else to_pay / total,
    )


# --- Which tests of several things as one hold for a set of them ---------------------------------

Thing = TypeVar("Thing", bound=Hashable)


def tests_that_hold(
    tests: Sequence[frozenset[Thing]], chosen: Collection[Thing]
) -> tuple[int, ...]:
    """Numbers of the tests that count for a set.

    A test counts where all its things are chosen; larger tests come first, and none that shares
    a thing with one that counts already.

    Parameters
    ----------
    tests : sequence of frozenset
        What each test was of.
    chosen : collection
        The set.

    Returns
    -------
    tuple of int
        The larger first.

    Examples
    --------
    >>> tests = [frozenset("ab"), frozenset("abc"), frozenset("de")]
    >>> tests_that_hold(tests, "abcde"), tests_that_hold(tests, "abd")
    ((1, 2), (0,))
    """
    found: list[int] = []
    taken: frozenset[Thing] = frozenset()
    for number in sorted(range(len(tests)), key=lambda number: -len(tests[number])):
        if tests[number] <= frozenset(chosen) and not tests[number] & taken:
            found.append(number)
            taken |= tests[number]
    return tuple(found)


# --- Several options used together ---------------------------------------------------------------


@dataclass(frozen=True)
class SetValue:
    """Several options used together, solved as one."""

    names: tuple[str, ...]
    """The options."""
    tested: tuple[str, ...]
    """Names of the tests of the whole set or of several of its parts as one, which count instead of
    these parts.
    """
    wholly_tested: bool
    """Whether every option of the set is in one of them."""
    saved_s: float
    """Seconds saved together, by these tests and the other parts."""
    by_parts_s: float
    """Seconds saved by its parts, their drag areas added and solved as one."""
    sum_of_single_s: float
    """Sum of what each saves alone, for comparison."""
    doubt_s: float | None
    """Standard uncertainty of `saved_s`, the doubts of parts being independent; None if one is not
    known.
    """
    mass_kg: float
    """Change of mass [kg]."""
    price: Annotated[Money | None, As(price="amount", currency="currency")]
    """What is to pay for those that are not owned; None if one of them has no price, or if all are
    owned.
    """


def value_of_set(
    base: Ridden, options: tuple[Option, ...], tests: Sequence[Option] = ()
) -> SetValue:
    """Solve the race with several options at once; savings do not simply add.

    Parameters
    ----------
    base : Ridden
        The race without them.
    options : tuple of Option
        At most one of each slot.
    tests : sequence of Option
        Tests of several options as one. Those that hold for this set count instead of the parts
        they were of, larger ones first, as in a basket.

    Returns
    -------
    SetValue
        The set as one.
    """
    options = tuple(with_evidence(option, base) for option in options)
    parts = [total_change(option, base) for option in options]
    by_parts = _set_changed(base, options, parts)
    holding = tests_that_hold(
        [frozenset(test.set_of) for test in tests], [option.name for option in options]
    )
    tested = tuple(with_evidence(tests[number], base) for number in holding)
    together, stated = _by_tests(base, options, parts, tested)
    doubts = [doubt_in_seconds(together, option) for option in stated]
    known = [doubt for doubt in doubts if doubt is not None]
    to_pay = [option for option in options if not option.upkeep.owned]
    prices = [option.price for option in to_pay if option.price is not None]
    return SetValue(
        names=tuple(option.name for option in options),
        tested=tuple(test.name for test in tested),
        wholly_tested=len(stated) == len(tested) > 0,
        saved_s=base.time - together.time,
        by_parts_s=base.time - by_parts.time,
        sum_of_single_s=sum(base.time - base.changed(part).time for part in parts),
        doubt_s=math.hypot(*known) if len(known) == len(stated) else None,
        mass_kg=sum(option.mass for option in options),
        price=_total(prices) if len(prices) == len(to_pay) else None,
    )


def _by_tests(
    base: Ridden, options: tuple[Option, ...], parts: list[Change], tested: tuple[Option, ...]
) -> tuple[Ridden, tuple[Option, ...]]:
    """The set by its tests, and what states the doubts then."""
    inside = {name for test in tested for name in test.set_of}
    loose = tuple(option for option in options if option.name not in inside)
    changes = [
        # A test tells what the set does to the air; weight and legs are not in it.
        Change(mass=part.mass, power=part.power) if option.name in inside else part
        for option, part in zip(options, parts, strict=True)
    ]
    changes += [total_change(test, base) for test in tested]
    return _set_changed(base, options, changes), (*tested, *loose)


def _set_changed(base: Ridden, options: tuple[Option, ...], changes: list[Change]) -> Ridden:
    try:
        return base.changed(Change.sum(changes))
    except InputError as error:
        raise error.at(" + ".join(option.name for option in options)) from error


def _total(prices: list[Money]) -> Money | None:
    total = None
    for price in prices:
        total = price if total is None else total + price
    return total
