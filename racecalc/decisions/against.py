"""One option or set against another: the race ridden with each, and which of them to take."""

from collections.abc import Collection, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Annotated

from racecalc.decisions.doubt import DEFAULT_DRAWS, DEFAULT_SEED, SavingBand, band_between
from racecalc.decisions.money import (
    CostOfUse,
    PricePerSecond,
    cash_for_all,
    cost_of_all,
    cost_on,
)
from racecalc.decisions.riding import Ridden
from racecalc.decisions.sets import one_test
from racecalc.decisions.value import split_by_cause
from racecalc.decisions.verdicts import (
    WATTS,
    Verdict,
    chance_faster,
    interval,
    reason,
    verdict_on,
    word_by_intervals,
)
from racecalc.decisions.weather import unsafe_now
from racecalc.decisions.worth import Exchange, Exchanged, exchange, exchanged
from racecalc.domain.option import Option, able, misfit, put_in
from racecalc.errors import InputError
from racecalc.quantities.money import Money
from racecalc.written import HIDDEN, SPREAD, WHERE_ANY, written

# --- What one ride saves over another ------------------------------------------------------------

OPPOSITE: dict[Verdict, Verdict] = {"faster": "slower", "slower": "faster"}


@dataclass(frozen=True)
class Gain:
    """What one ride saves over another."""

    saved_s: float
    """Seconds saved; below zero where it costs time."""
    saved_s_low: float | None
    saved_s_high: float | None
    """Ends of the 95 % interval; None where a doubt is not stated."""
    chance_faster: float | None
    """Chance that it is faster at all; None where a doubt is not stated."""
    verdict: Verdict
    """Faster, slower, tie or undecided; a tie lies within what one watt is worth on this course."""
    doubt_s: Annotated[float | None, HIDDEN]
    """Standard uncertainty [s]; None where one is not stated."""
    margin_s: Annotated[float, HIDDEN]
    """Seconds either way that do not matter."""

    @classmethod
    def of(cls, both: Exchanged, band: SavingBand | None, margin: float) -> "Gain":
        """The gain of an exchange; by the draws of all doubts where there are any."""
        saved, doubt = both.saved_s, both.doubt_s
        if doubt is None or band is None:
            word, _ = verdict_on(saved, doubt, margin)
            ends = interval(saved, doubt)
            return cls(saved, *ends, chance_faster(saved, doubt), word, doubt, margin)
        spread, whole = band.spread, band.spread.between_95_s
        word = word_by_intervals(whole, (spread.low_90_s, spread.high_90_s), margin)
        doubt = spread.standard_deviation_s
        return cls(saved, *whole, band.chance_faster, word, doubt, margin)

    @property
    def saving(self) -> tuple[float, float | None, float | None]:
        """Seconds saved, and the ends of their 95 % interval."""
        return self.saved_s, self.saved_s_low, self.saved_s_high

    @written
    def because(self) -> str:
        """Why the verdict is what it is, in one sentence."""
        if self.doubt_s is None:
            return verdict_on(self.saved_s, None, self.margin_s)[1]
        return reason(self.verdict, self.saved_s, self.doubt_s, self.margin_s)

    @property
    def turned(self) -> "Gain":
        """What the other ride saves over this one."""
        low, high, chance = self.saved_s_low, self.saved_s_high, self.chance_faster
        return replace(
            self,
            saved_s=-self.saved_s,
            saved_s_low=None if high is None else -high,
            saved_s_high=None if low is None else -low,
            chance_faster=None if chance is None else 1.0 - chance,
            verdict=OPPOSITE.get(self.verdict, self.verdict),
        )


# --- The two sides, and one against the other ----------------------------------------------------


@dataclass(frozen=True)
class Side:
    """What is set against something else."""

    names: tuple[str, ...]
    """The options, as asked."""
    brings: tuple[str, ...]
    """Options that they need and that are not in use yet."""
    replaces: tuple[str, ...]
    """Options in use that cannot stay with them."""
    time_s: float
    """Time with them [s]."""
    gain: Annotated[Gain, SPREAD]
    """What they save against the race with neither side."""
    options: Annotated[tuple[Option, ...], HIDDEN]
    costs: Annotated[tuple[CostOfUse, ...], HIDDEN]
    """They and what they bring, and what each of those costs."""
    unsafe: Mapping[str, str]
    """Those that the weather of the race file forbids, and why."""

    @property
    def name(self) -> str:
        """All of them in a row."""
        return " + ".join(self.names)

    @written
    def forbidden(self) -> tuple[str, ...]:
        """Those that the rules forbid."""
        return tuple(one.name for one in self.options if one.forbidden)

    @written
    def unpriced(self) -> tuple[str, ...]:
        """Those that state neither a price nor a fee."""
        both = zip(self.options, self.costs, strict=True)
        return tuple(one.name for one, use in both if use.cost is None)

    @written
    def cash(self) -> Decimal | None:
        """What is paid first, in whole units; None if one of them has no price."""
        return cash_for_all(self.costs)

    @written
    def cost(self) -> float | None:
        """What they cost for the races counted; None if one of them has no price."""
        return cost_of_all(self.costs)

    @written
    def currency(self) -> str:
        """Of all amounts; empty where no price is known."""
        return next((use.currency for use in self.costs if use.currency), "")

    @property
    def use(self) -> PricePerSecond:
        """What they cost, over the seconds saved in each race."""
        return PricePerSecond.of(self.cost, *self.gain.saving)


@dataclass(frozen=True)
class OwnDoubt:
    """What an option, or a test of a set, brings to the doubt of the difference."""

    name: str
    """The option or the test."""
    doubt_s: float | None
    """Standard uncertainty [s]; None where it states none."""


@dataclass(frozen=True)
class Parts:
    """Seconds that the first saves over the second, by what is changed; they add up to it."""

    aero_s: float
    rolling_s: float
    drivetrain_s: float
    mass_s: float
    power_s: float
    """Part of what the first saves by less air drag, less rolling resistance, less loss in the
    drivetrain, less mass and more power.
    """

    @classmethod
    def of(cls, both: Exchanged) -> "Parts":
        """The parts of an exchange."""
        known = {both.change: both.changed.time}
        found = split_by_cause(both.base, both.change, known)
        return cls(*(found[name] for name in ("cda", "crr", "drivetrain_loss", "mass", "power")))


@dataclass(frozen=True)
class Rivals:
    """Two options or sets, one against the other."""

    gain: Gain
    """What the first saves over the second."""
    sides: tuple[Side, Side]
    """The first and the second, each against the race with neither."""
    together: tuple[Side, ...]
    """Both used together, solved as one; empty where they cannot be."""
    parts: Annotated[Parts, SPREAD]
    """Where that comes from."""
    doubts: tuple[OwnDoubt, ...]
    """What sets the two apart; what both sides have in common is in neither."""
    tests: tuple[str, ...]
    """Tables of runs that measured options of both sides, so that their baseline cancels."""
    wanted: Annotated[Money | None, HIDDEN]
    """What a second is worth to the user."""
    band: Annotated[SavingBand | None, WHERE_ANY]
    """All doubts together, drawn alike for both rides; None where the race states none, or one of
    the options does not.
    """

    @property
    def leading(self) -> tuple[Side, Side, Gain]:
        """The faster side, the slower one, and what the faster one saves over it."""
        first, second = self.sides
        if self.gain.saved_s >= 0:
            return first, second, self.gain
        return second, first, self.gain.turned

    @written
    def faster(self) -> str:
        """The side that takes less time, however unsure that is."""
        return self.leading[0].name

    @written
    def further_cost(self) -> float | None:
        """Cost of the faster side less that of the slower one; None where one is not known."""
        quick, slow, _ = self.leading
        return None if quick.cost is None or slow.cost is None else quick.cost - slow.cost

    @property
    def further(self) -> PricePerSecond:
        """What each second costs that the faster side saves over a cheaper one."""
        cost = self.further_cost
        dearer = cost if cost is not None and cost > 0 else None
        return PricePerSecond.of(dearer, *self.leading[2].saving)

    @written
    def cost_per_further_second(self) -> float | None:
        """What each further second costs in a race; None where the faster side is no dearer."""
        return self.further.at

    @written
    def cost_per_further_second_low(self) -> float | None:
        """The same at the high end of the interval."""
        return self.further.low

    @written
    def cost_per_further_second_high(self) -> float | None:
        """The same at the low end of it; None where the gain may be nothing."""
        return self.further.high


def rivals_of(
    base: Ridden,
    first: Collection[str],
    second: Collection[str],
    wanted: Money | None = None,
    draws: int = DEFAULT_DRAWS,
    seed: int = DEFAULT_SEED,
) -> Rivals:
    """Ride the race with one option or set and with another, and compare the two rides.

    Each goes into the set in use, without the other, in the place of what cannot stay with it.

    Raises `InputError` if both are the same, or one cannot be worked out.
    """
    if set(first) == set(second):
        problem = f"'{' + '.join(first)}' is set against itself"
        raise InputError("against", problem, "name another option")
    field = _Field(base, (*first, *second), draws, seed)
    one, other = (field.having(names) for names in (first, second))
    sides = field.side(first, one), field.side(second, other)
    both = field.between(other, one, first)
    band = field.band(both, "against")
    return Rivals(
        gain=field.gain(both, band),
        sides=sides,
        together=tuple(field.together(first, second)),
        parts=Parts.of(both),
        doubts=tuple(map(OwnDoubt, (one.name for one in both.stated), map(_size, both.doubts_s))),
        tests=_shared_tests(both),
        wanted=wanted,
        band=band,
    )


def _size(doubt: float | None) -> float | None:
    return None if doubt is None else abs(doubt)


def _shared_tests(both: Exchanged) -> tuple[str, ...]:
    """Names of the tables that measured options of both sides."""
    signed = list(zip(both.stated, both.doubts_s, strict=True))
    gone = [one for one, doubt in signed if doubt is not None and doubt < 0]
    pairs = ((one, other) for one in gone for other, _ in signed if other not in gone)
    return tuple(
        dict.fromkeys(
            one.trial.source for one, other in pairs if one.trial and one_test(one, other)
        )
    )


@dataclass(frozen=True)
class _Field:
    """The race in which both sides are ridden."""

    base: Ridden
    asked: tuple[str, ...]
    """All options that are asked about."""
    draws: int
    seed: int

    @property
    def known(self) -> dict[str, Option]:
        return {one.name: one for one in self.base.race.single_options}

    @property
    def neither(self) -> tuple[str, ...]:
        """The set in use without both sides."""
        return able(set(self.base.race.use) - set(self.asked), self.known)

    def having(self, names: Collection[str]) -> tuple[str, ...]:
        """The set in use with one side and without the other."""
        race, others = self.base.race, set(self.asked) - set(names)
        left = tuple(name for name in race.use if name not in others)
        return exchange(replace(race, use=left), [self.known[name] for name in names]).having

    def between(
        self, without: tuple[str, ...], having: tuple[str, ...], names: Collection[str]
    ) -> Exchanged:
        """Ride with two sets."""
        options = [self.known[name] for name in names]
        found = Exchange(without, having)
        return exchanged(self.base, found, options, self.base.race.tested_sets)

    def band(self, both: Exchanged, name: str) -> SavingBand | None:
        """All doubts drawn; None where the race states none, or a saving does not."""
        if not self.base.race.doubts.stated or both.doubt_s is None:
            return None
        return band_between(both.base, both.changed, both.doubt_s, name, self.draws, self.seed)

    def gain(self, both: Exchanged, band: SavingBand | None) -> Gain:
        """What the second set saves over the first."""
        return Gain.of(both, band, WATTS * abs(self.base.time_by_power))

    def side(self, names: Collection[str], having: tuple[str, ...]) -> Side:
        """One side, against the race with neither."""
        both, use = self.between(self.neither, having, names), self.base.race.use
        added = tuple(self.known[name] for name in having if name not in self.neither)
        dangers = {one.name: unsafe_now(self.base, one) for one in added}
        return Side(
            names=tuple(names),
            brings=tuple(one.name for one in added if one.name not in {*names, *use}),
            replaces=tuple(name for name in use if name not in {*having, *self.asked}),
            time_s=both.changed.time,
            gain=self.gain(both, self.band(both, " + ".join(names))),
            options=added,
            costs=tuple(cost_on(self.base, one) for one in added),
            unsafe={name: why for name, why in dangers.items() if why},
        )

    def together(self, first: Collection[str], second: Collection[str]) -> list[Side]:
        """Both sides as one, where they fit and are more than one of them."""
        asked = tuple(dict.fromkeys(self.asked))
        needed = put_in((), asked, self.known)
        if len(asked) in (len(first), len(second)) or misfit([self.known[one] for one in needed]):
            return []
        with suppress(InputError):
            return [self.side(asked, self.having(asked))]
        return []
