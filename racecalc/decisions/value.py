"""What options and sets are worth in seconds, watts and money, in one race or a season."""

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cached_property, reduce
from itertools import chain, combinations
from operator import add
from typing import Annotated

from racecalc.decisions.allowed import conflicts
from racecalc.decisions.doubt import DEFAULT_DRAWS, DEFAULT_SEED, SavingBand, saving_bands
from racecalc.decisions.holding import (
    HoldingAnswer,
    change_held,
    errors_about,
    holding_answer,
    ridden_with,
    total_change,
)
from racecalc.decisions.money import (
    CostOfUse,
    PriceCeiling,
    PricePerSecond,
    Way,
    cash_for_all,
    cost_of_all,
    cost_on,
    cost_with,
    seconds_to_pay,
    to_pay_with,
)
from racecalc.decisions.riding import Ridden, first_order, multiple_needed, power_worth
from racecalc.decisions.savings import assumptions_of, watt_at_test
from racecalc.decisions.sets import Overlap, untested_together, with_evidence
from racecalc.decisions.verdicts import (
    WATTS,
    Verdict,
    chance_faster,
    give_or_take,
    interval,
    reason,
    surely,
    verdict_on,
    word_by_intervals,
)
from racecalc.decisions.weather import unsafe_now
from racecalc.decisions.worth import Exchange, Worth, exchange, exchanged, worth_of
from racecalc.domain.option import Option, refuse_mixed_currencies
from racecalc.domain.race import AXES, Change
from racecalc.quantities.money import Money
from racecalc.written import HIDDEN, WHERE_ANY, As, written, written_once

# --- Which part of a saving comes from air, tyres, chain, mass and power -------------------------


def split_by_cause(base: Ridden, change: Change, known: Mapping[Change, float]) -> dict[str, float]:
    """Split the seconds saved into parts that add up to the whole.

    Each part is the mean of what its cause saves over all orders in which the causes could be
    added (the Shapley value), every one solved in full; so no part depends on a chosen order.

    By `racecalc.domain.race.AXES`; times that are solved already [s] are in `known`.

    References
    ----------
    Shapley LS. A value for n-person games. Annals of Mathematics Studies 1953;28:307-317.
    """
    active = [name for name in AXES if getattr(change, name)]
    times = {}
    for causes in chain.from_iterable(combinations(active, n) for n in range(len(active) + 1)):
        part = Change(**{name: getattr(change, name) for name in causes})
        times[causes] = known[part] if part in known else base.changed(part).time
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
    name="option.name",
    slot="option.slot",
    rules="option.restrictions.rules",
    saves="option.saves.words",
    doubt="option.doubt.words",
    comfort="option.comfort",
    note="option.note",
    in_use="exchange.in_use",
    replaces="exchange.replaces",
    brings="exchange.brings",
    price="option.price.amount",
    currency="option.price.currency",
    cda_change_m2="change.cda",
    crr_change="change.crr",
    drivetrain_loss_change="change.drivetrain_loss",
    mass_change_kg="change.mass",
    power_change_w="change.power",
)


@dataclass(frozen=True, eq=False)
class OptionValue:
    """What one option is worth on this course.

    Times are saved seconds: positive is faster. None stands where something is not known. The race
    is solved with the option once; what else takes a solve is worked out when it is first asked
    for, so a first look at many options is quick.
    """

    base: Annotated[Ridden, HIDDEN]
    """The race without it."""
    worth: Annotated[Worth, ABOUT_OPTION]
    """The option with the saving of its test, what it changes, and the race with it."""
    margin_w: Annotated[float, HIDDEN] = WATTS
    """Watts at its test within which a difference counts as none."""
    wanted: Annotated[Money | None, HIDDEN] = None
    """What a second is worth to the user."""
    band: Annotated[SavingBand | None, WHERE_ANY] = None
    """All doubts together, the shared ones cancelled; None where the race states none."""

    @property
    def option(self) -> Option:
        """The option itself."""
        return self.worth.option

    @written
    def unsafe(self) -> str:
        """Why it is not to be used in the weather of the race file; empty where it may be."""
        return unsafe_now(self.base, self.option)

    @property
    def price(self) -> Money | None:
        """Purchase price."""
        return self.option.price

    @property
    def exchange(self) -> Exchange:
        """What goes and comes with it."""
        return self.worth.exchange

    @property
    def change(self) -> Change:
        """What it changes on the bike."""
        return self.worth.change

    @written
    def saved_s(self) -> float:
        """Seconds saved, mass included."""
        return self.worth.saved_s

    @property
    def _drawn(self) -> SavingBand | None:
        """The draws of all doubts, where the option states its own among them."""
        return self.band if self.band and self.band.own_doubt_stated else None

    @property
    def saving(self) -> tuple[float, float | None, float | None]:
        """Seconds saved, and the ends of their 95 % interval."""
        if self._drawn:
            return self.worth.saved_s, *self._drawn.spread.between_95_s
        return self.worth.saved_s, *interval(self.worth.saved_s, self.worth.doubt_s)

    @written
    def saved_s_low(self) -> float | None:
        """Low end of the 95 % interval, from the stated doubt, or from the draws of all doubts.

        The draws count where a band is given; None where no doubt was stated.
        """
        return self.saving[1]

    @written
    def saved_s_high(self) -> float | None:
        """High end of that interval."""
        return self.saving[2]

    @property
    def give_or_take_s(self) -> float | None:
        """Half the 95 % interval [s]; None where the doubt of the saving is not stated."""
        return give_or_take(*self.saving[1:])

    @written
    def chance_faster(self) -> float | None:
        """Chance that it is faster at all."""
        if self._drawn:
            return self._drawn.chance_faster
        return chance_faster(self.worth.saved_s, self.worth.doubt_s)

    @written
    def surely_saved_s(self) -> float | None:
        """Seconds that it saves with a chance of 90 %; None where no doubt was stated."""
        if self._drawn:
            return self._drawn.spread.low_80_s
        return surely(self.worth.saved_s, self.worth.doubt_s)

    @cached_property
    def watt(self) -> tuple[Change, float, float]:
        """What a watt at its test changes, and the speed [m/s] and power [W] that it refers to."""
        race = self.base.race
        return watt_at_test(self.option, race, race.course.length / self.base.time)

    @written
    def test_speed_m_s(self) -> float:
        """Speed that watts at its test refer to; 0 where they refer to a power."""
        return self.watt[1]

    @written
    def test_power_w(self) -> float:
        """Power that watts at its test refer to; 0 where they refer to a speed."""
        return self.watt[2]

    @cached_property
    def judged(self) -> tuple[Verdict, str]:
        """The verdict, and why."""
        if self.option.unproved:
            return "undecided", self.option.unproved
        margin = abs(first_order(self.base, self.watt[0])) * self.margin_w
        if not self._drawn:
            return verdict_on(self.worth.saved_s, self.worth.doubt_s, margin)
        spread = self._drawn.spread
        inner = spread.low_90_s, spread.high_90_s
        word = word_by_intervals(spread.between_95_s, inner, margin)
        return word, reason(word, self.worth.saved_s, spread.standard_deviation_s, margin)

    @written
    def verdict(self) -> str:
        """Faster, slower, tie or undecided."""
        return self.judged[0]

    @written
    def because(self) -> str:
        """Why the verdict is what it is, in one sentence."""
        return self.judged[1]

    # --- what takes more solves ------------------------------------------------------------------

    @written_once
    def saved_as_measured_s(self) -> float:
        """Seconds saved by what its test measured.

        `saved_s` counts the shrunken estimate of that where three items or more were tested
        against one baseline.
        """
        if self.option.measured is None:
            return self.worth.saved_s
        bare, as_measured = self.base.bare, replace(self.option, saves=self.option.measured)
        more = total_change(as_measured, bare).plus(total_change(self.option, bare).times(-1.0))
        return self.base.time - self.base.changed(self.change.plus(more)).time

    @cached_property
    def loaded(self) -> Ridden:
        """The race with its mass alone."""
        return self.base.changed(Change(mass=self.change.mass))

    @cached_property
    def parts(self) -> dict[str, float]:
        """Seconds saved by each cause; they add up to `saved_s`."""
        alone = Change(mass=self.change.mass)
        known = {self.change: self.worth.changed.time, alone: self.loaded.time}
        return split_by_cause(self.base, self.change, known)

    @written
    def aero_s(self) -> float:
        """Part of `saved_s` by less air drag."""
        return self.parts["cda"]

    @written
    def rolling_s(self) -> float:
        """Part of `saved_s` by less rolling resistance."""
        return self.parts["crr"]

    @written
    def drivetrain_s(self) -> float:
        """Part of `saved_s` by less loss in the drivetrain."""
        return self.parts["drivetrain_loss"]

    @written
    def mass_s(self) -> float:
        """Part of `saved_s` by less mass."""
        return self.parts["mass"]

    @written
    def power_s(self) -> float:
        """Part of `saved_s` by more power."""
        return self.parts["power"]

    @written_once
    def watts_equivalent_w(self) -> float | None:
        """Watts on this course that would save the same."""
        return power_worth(self.base, self.worth.changed.time)

    @written
    def weight_s(self) -> float:
        """Seconds saved by its mass alone; negative where it is heavier."""
        return self.base.time - self.loaded.time

    @property
    def weight_known(self) -> bool:
        """Whether `weight_s` is worked out already."""
        return "loaded" in vars(self)

    @written_once
    def weight_w(self) -> float | None:
        """Watts on this course that are worth as much as its mass; negative where it is heavier."""
        return power_worth(self.base, self.loaded.time)

    @written_once
    def break_even_w(self) -> float | None:
        """Watts at its test from which on it makes up for its mass."""
        return multiple_needed(self.loaded, self.watt[0], self.base.time)

    @written_once
    def break_even_price_w(self) -> float | None:
        """Watts at its test from which on a second costs no more than it is worth to the user."""
        seconds = None if self.wanted is None else seconds_to_pay(self.cost_of_use, self.wanted)
        if seconds is None:
            return None
        return multiple_needed(self.loaded, self.watt[0], self.base.time - seconds)

    @written_once
    def holding(self) -> HoldingAnswer | None:
        """What it takes for a position to pay; None for anything else."""
        with errors_about(self.option.name):
            around = self.base.changed(self.worth.rest)
            change = change_held(self.option, self.base.bare)
            return holding_answer(around, self.option, change, self.base.time)

    @written
    def least_gain_w(self) -> float | None:
        """Watts here that its owner wants before using it; None without a wish."""
        return self.option.restrictions.least_gain or None

    @written
    def enough(self) -> bool | None:
        """Whether it is worth what its owner wants before using it; None without a wish."""
        least = self.least_gain_w
        if least is None:
            return None
        watts = self.watts_equivalent_w
        return watts is not None and watts >= least

    # --- money and what was assumed --------------------------------------------------------------

    @property
    def purchase(self) -> PricePerSecond:
        """What it still costs its owner, over the seconds saved."""
        paid = to_pay_with(self.base, self.option, self.exchange.brings)
        return PricePerSecond.of(None if self.price is None else paid, *self.saving)

    @written
    def price_per_second(self) -> float | None:
        """Price over seconds saved; None without a price or a gain."""
        return self.purchase.at

    @written
    def price_per_second_low(self) -> float | None:
        """The same at the high end of the interval."""
        return self.purchase.low

    @written
    def price_per_second_high(self) -> float | None:
        """The same at the low end of the interval; None where the gain may be nothing."""
        return self.purchase.high

    @written_once
    def cost_of_use(self) -> CostOfUse:
        """What it costs with what it brings for the races counted, per race and per season."""
        return cost_with(self.base, self.option, self.exchange.brings)

    @written
    def cost(self) -> float | None:
        """What it costs for the races counted, with what it brings, in whole units.

        None where one of them states no price.
        """
        cost: float | None = self.cost_of_use.cost
        return cost

    @written
    def basis(self) -> Way:
        """How it is had at that cost: bought, hired, owned or free; empty where not known."""
        by: Way = self.cost_of_use.by
        return by

    @property
    def use(self) -> PricePerSecond:
        """What it costs for the races counted, over the seconds saved in each."""
        return PricePerSecond.of(self.cost, *self.saving)

    @written
    def cost_per_second(self) -> float | None:
        """That cost over the seconds saved in a race; None without a price or a gain."""
        return self.use.at

    @written
    def cost_per_second_low(self) -> float | None:
        """The same at the high end of the interval."""
        return self.use.low

    @written
    def cost_per_second_high(self) -> float | None:
        """The same at the low end of the interval; None where the gain may be nothing."""
        return self.use.high

    @written
    def price_per_second_of_a_race(self) -> PricePerSecond:
        """Its cost per race divided by the seconds saved in one race."""
        return PricePerSecond.of(self.cost_of_use.per_race, *self.saving)

    @written
    def price_ceiling(self) -> PriceCeiling | None:
        """Most that its `cost` may be so that a second costs no more than the user would pay.

        None where they do not say what a second is worth to them.
        """
        return PriceCeiling.of(self.wanted, *self.saving)

    @written
    def assumptions(self) -> tuple[str, ...]:
        """What had to be assumed about the test."""
        return assumptions_of(self.option, self.base.race)

    def worked_out(self) -> "OptionValue":
        """The same, with all that takes a solve worked out now."""
        for name, one in vars(OptionValue).items():
            if isinstance(one, cached_property):
                getattr(self, name)
        return self


def value_of(
    base: Ridden,
    option: Option,
    margin_w: float = WATTS,
    wanted: Money | None = None,
    band: SavingBand | None = None,
) -> OptionValue:
    """Solve the race again with an option and say what it is worth.

    The margin is in watts at the test speed; `wanted` is what a second is worth to the user, `band`
    all stated doubts of the race for this option.

    Raises `InputError` if its test tells nothing about it, or nothing can be ridden with it.
    """
    worth = worth_of(base, option)
    return OptionValue(worth.base, worth, margin_w, wanted, band)


# --- The value of every option, with all stated doubts drawn where the race states any -----------

Track = Callable[[Sequence[Option], str], Iterable[Option]]


def values_of(
    base: Ridden,
    options: Sequence[Option],
    margin_w: float = WATTS,
    wanted: Money | None = None,
    track: Track = lambda options, _: options,
    draws: int = DEFAULT_DRAWS,
    seed: int = DEFAULT_SEED,
) -> list[OptionValue]:
    """Say what each option is worth."""
    bands: Iterable[SavingBand | None] = [None] * len(options)
    if base.race.doubts.stated:
        bands = saving_bands(base, track(options, "drawing doubts"), draws, seed)
    return [
        value_of(base, option, margin_w, wanted, band)
        for option, band in zip(track(options, "solving options"), bands, strict=True)
    ]


# --- What an option is worth over all rounds of a season, each on its own course -----------------


@dataclass(frozen=True)
class SeasonValue:
    """An option over several rounds; positive seconds are saved."""

    option: Annotated[Option, As(name="name")]
    """What is tried."""
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
    use: Annotated[CostOfUse, As(cost="cost", basis="by", races_counted="races_counted")]
    """What it costs for the races counted, each like the first round."""

    @written
    def cost_per_second(self) -> float | None:
        """Its cost over the seconds saved in a race, the mean of all rounds."""
        return PricePerSecond.of(self.use.cost, self.total_s / len(self.rounds), None, None).at

    @written
    def total_s_low(self) -> float | None:
        """Low end of the 95 % interval of the sum."""
        return interval(self.total_s, self.doubt_s)[0]

    @written
    def total_s_high(self) -> float | None:
        """High end of it."""
        return interval(self.total_s, self.doubt_s)[1]

    @property
    def least(self) -> int:
        """Number, from 1, of the round in which it saves least."""
        return 1 + self.saved_s.index(min(self.saved_s))

    @property
    def most(self) -> int:
        """Number, from 1, of the round in which it saves most."""
        return 1 + self.saved_s.index(max(self.saved_s))


def season_values(rounds: Sequence[Ridden], options: Iterable[Option]) -> tuple[SeasonValue, ...]:
    """Try options in every round of a season."""
    return tuple(_season_value(rounds, option) for option in options)


def _season_value(rounds: Sequence[Ridden], option: Option) -> SeasonValue:
    worths = [worth_of(base, option) for base in rounds]
    doubts = [worth.doubt_s for worth in worths if worth.doubt_s is not None]
    total, brings = sum(worth.saved_s for worth in worths), worths[0].exchange.brings
    to_pay = to_pay_with(rounds[0], option, brings)
    return SeasonValue(
        option=option,
        rounds=tuple(base.race.name for base in rounds),
        saved_s=tuple(worth.saved_s for worth in worths),
        total_s=total,
        doubt_s=sum(doubts) if len(doubts) == len(worths) else None,
        to_pay=to_pay,
        price_per_second=None if to_pay is None or total <= 0 else to_pay / total,
        use=cost_with(rounds[0], option, brings),
    )


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
    """Sum of what each saves alone, beyond what it needs, for comparison."""
    doubt_s: float | None
    """Standard uncertainty of `saved_s`, the doubts of parts being independent, and that of parts
    not tested together added; None if one is not known.
    """
    untested_together: tuple[tuple[str, ...], ...]
    """Options that change the drag area and were not tested together, so that their savings may
    overlap; those in one test of a set are one. Empty where fewer than two may.
    """
    overlap: Overlap | None
    """How far tested sets were from the sum of their parts, for which `doubt_s` allows; None where
    no set was tested.
    """
    mass_kg: float
    """Change of mass [kg]."""
    price: Annotated[Money | None, As(price="amount", currency="currency")]
    """What is to pay for those that are not owned; None if one of them has no price, or if all are
    owned.
    """
    costs: Annotated[tuple[CostOfUse, ...], HIDDEN]
    """What each costs."""
    unpriced: Annotated[tuple[str, ...], HIDDEN]
    """Options that state neither a price nor a fee."""

    @written
    def cost(self) -> float | None:
        """What all cost for the races counted; None if one of them has no price."""
        return cost_of_all(self.costs)

    @property
    def cash(self) -> Decimal | None:
        """What is paid first for all; None if one of them has no price."""
        return cash_for_all(self.costs)

    @written
    def saved_s_low(self) -> float | None:
        """Low end of the 95 % interval of `saved_s`; None where one states no doubt."""
        return interval(self.saved_s, self.doubt_s)[0]

    @written
    def saved_s_high(self) -> float | None:
        """High end of it."""
        return interval(self.saved_s, self.doubt_s)[1]


def value_of_set(
    base: Ridden, options: tuple[Option, ...], tests: Sequence[Option] = ()
) -> SetValue:
    """Solve the race with several options at once; savings do not simply add.

    Tests of several options as one that hold for this set count instead of the parts they were of,
    larger ones first, as in a basket.
    """
    bare, race = base.bare, base.race
    options = tuple(with_evidence(option, bare) for option in options)
    found = exchange(race, options, bring=False)
    both = exchanged(base, found, options, tests)
    known = {one.name: one for one in (*race.single_options, *options)}
    added = [known[name] for name in found.having if name not in found.without]
    parts = Change.sum(total_change(known[name], bare) for name in found.having)
    by_parts = ridden_with(bare, parts, " + ".join(found.having))
    costs = tuple(cost_on(base, option) for option in added)
    all_priced = all(option.to_pay is not None for option in added)
    prices = [one.price for one in added if one.price is not None and not one.ownership.owned]
    inside = {name for test in both.tests for name in test.set_of}
    return SetValue(
        names=tuple(option.name for option in options),
        tested=tuple(test.name for test in both.tests),
        wholly_tested=all(option.name in inside for option in options),
        saved_s=both.saved_s,
        by_parts_s=both.base.time - by_parts.time,
        sum_of_single_s=sum(worth_of(base, option).own_s for option in options),
        doubt_s=both.doubt_s,
        untested_together=tuple(part.names for part in untested_together(both.parts)),
        overlap=both.overlap,
        mass_kg=both.change.mass,
        price=reduce(add, prices) if prices and all_priced else None,
        costs=costs,
        unpriced=tuple(
            option.name for option, use in zip(added, costs, strict=True) if use.cost is None
        ),
    )


# --- What the last money spent on a set buys -----------------------------------------------------


@dataclass(frozen=True)
class LastSpent:
    """The dearest seconds of a set."""

    name: str
    """The option that buys them."""
    saved_s: float
    """Seconds that the set loses without it."""
    cost: float
    """What that saves for the races counted, in whole units of the currency."""
    currency: str
    """Its code."""
    per_second: float | None
    """Money for each of these seconds; None where it saves none."""


def last_spent(
    base: Ridden, used: Sequence[Option], tests: Sequence[Option] = ()
) -> LastSpent | None:
    """Find the paid option of a set that gives least for its cost, leaving each out."""
    whole = value_of_set(base, tuple(used), tests).saved_s if used else 0.0
    found = []
    for option in used:
        use = cost_on(base, option)
        if use.paid and use.cost is not None:
            others = tuple(other for other in used if other is not option)
            saved = whole - (value_of_set(base, others, tests).saved_s if others else 0.0)
            per_second = use.cost / saved if saved > 0 else None
            found.append(LastSpent(option.name, saved, use.cost, use.currency, per_second))
    return max(
        found,
        key=lambda one: math.inf if one.per_second is None else one.per_second,
        default=None,
    )


# --- Options that somebody switches on, as one set -----------------------------------------------


@dataclass(frozen=True)
class SwitchedOn:
    """The options that are switched on."""

    value: SetValue
    """All of them as one."""
    time_s: float
    """Finish time with them [s]."""
    last: LastSpent | None
    """The part that costs most for each second; None where nothing is to pay."""
    conflicts: tuple[str, ...]
    """What keeps them from being used, or used together, in sentences."""


def switched_on(
    base: Ridden, used: Sequence[Option], known: Mapping[str, Option]
) -> SwitchedOn | None:
    """Solve the options that are switched on as one."""
    if not used:
        return None
    refuse_mixed_currencies(used)
    tests = base.race.tested_sets
    value = value_of_set(base, tuple(used), tests)
    last = last_spent(base, used, tests)
    dangers = {option.name: unsafe_now(base, option) for option in used}
    odd = (
        *conflicts(used, known),
        *(
            f"{name} is not to be used in this weather: {why}."
            for name, why in dangers.items()
            if why
        ),
    )
    return SwitchedOn(value, base.time - value.saved_s, last, odd)
