"""What a set may hold, and bounds on what a set saves."""

import math
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cached_property
from itertools import chain, product
from typing import Annotated

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.allowed import LeftOut, sorted_out
from racecalc.decisions.holding import ridden_with, total_change
from racecalc.decisions.money import CostOfUse, Way, cost_on, cost_with, price_alone
from racecalc.decisions.riding import Ridden
from racecalc.decisions.sets import (
    Overlap,
    Part,
    overlap_doubt,
    overlap_of,
    shared_in_tests,
    tests_that_hold,
    with_evidence,
)
from racecalc.decisions.verdicts import interval
from racecalc.decisions.worth import Worth, alone, doubt_in_seconds, doubt_together
from racecalc.domain.option import Option
from racecalc.domain.race import AXES, Change
from racecalc.errors import InputError
from racecalc.files.race_values import known_name
from racecalc.quantities.money import Money
from racecalc.written import HIDDEN, As

# --- What may go into a basket -------------------------------------------------------------------


def vector(change: Change) -> FloatArray:
    """A change as numbers, in the order of `AXES`, shape (5,)."""
    return np.array([getattr(change, axis) for axis in AXES])


@dataclass(frozen=True)
class Item:
    """An option with what it saves alone and what it costs."""

    worth: Annotated[
        Worth,
        As(name="option.name", slot="option.slot", saved_alone_s="saved_s", doubt_s="doubt_s"),
    ]
    """The option against the set in use, with what it needs."""
    apart: Annotated[Worth, HIDDEN]
    """The same by itself, against the race with nothing in use."""
    use: Annotated[CostOfUse, As(cost="cost", cash="cash", price="price", by="by", basis="by")]
    """What it costs for the races counted, without what it needs."""
    cost_with_needs: Annotated[float | None, HIDDEN] = None
    """The same with what it needs; None where it needs nothing more."""

    @property
    def cost(self) -> float:
        """What it costs for the races counted; known for all that may be chosen."""
        return self.use.cost or 0.0

    @property
    def cash(self) -> Decimal:
        """What is paid for it first."""
        return self.use.cash or Decimal(0)

    @property
    def price(self) -> Decimal:
        """Its purchase price, or the hire for the races counted."""
        return self.use.price or Decimal(0)

    @property
    def by(self) -> Way:
        """How it is had."""
        return self.use.by

    @property
    def paid(self) -> bool:
        """Whether anything is paid for it."""
        return self.use.paid

    @property
    def option(self) -> Option:
        """The option itself."""
        return self.worth.option


@dataclass(frozen=True)
class TestedSet:
    """Several items tested as one."""

    option: Option
    """The test, with its saving and doubt."""
    members: frozenset[int]
    """Numbers of the items."""
    gap: Change
    """What the set changes beyond the sum of its parts."""
    doubt_s: float | None
    """Standard uncertainty of what the whole set saves [s]."""

    @property
    def name(self) -> str:
        """Of the test."""
        return self.option.name


@dataclass(frozen=True)
class Candidates:
    """All that a basket may be filled from."""

    base: Ridden
    """The race without any of it."""
    items: tuple[Item, ...]
    """In the order of the race file."""
    tested: tuple[TestedSet, ...]
    """Larger sets first, since they count before the smaller ones they hold."""
    left_out: tuple[LeftOut, ...]
    """Options that cannot be chosen."""
    races: int = 1
    """Races for which costs are counted."""
    in_use: Ridden | None = None
    """The race with the set in use; None where nothing is."""
    overlap: Overlap | None = None
    """How far sets that were tested as one were from the sum of their parts; None if none was."""

    @property
    def now(self) -> Ridden:
        """The race as it is ridden now, from which savings count."""
        return self.in_use or self.base

    @cached_property
    def used(self) -> frozenset[int]:
        """Numbers of the items in use."""
        use = self.now.race.use
        return frozenset(at for at, one in enumerate(self.items) if one.option.name in use)

    @cached_property
    def changes(self) -> FloatArray:
        """What each item changes, and each tested set beyond its parts, shape (n, 5)."""
        parts = [item.apart.change for item in self.items]
        changes = [*parts, *(test.gap for test in self.tested)]
        return np.array([vector(change) for change in changes]).reshape(-1, len(AXES))

    @property
    def whole(self) -> FloatArray:
        """What there is to change: drag area, Crr, drivetrain loss, mass of the bike and power."""
        bike, power = self.base.race.bike, self.base.race.rider.power
        return np.array([min(bike.cda.area), bike.crr, bike.drivetrain_loss, bike.mass, power])

    def number_of(self, name: str) -> int | None:
        """Number of an item by its name; None where it is not there."""
        return next((at for at, one in enumerate(self.items) if one.option.name == name), None)

    def tests_of(self, chosen: Collection[int]) -> tuple[TestedSet, ...]:
        """Tests that hold for a set of items: larger ones first, none sharing an item."""
        members = [test.members for test in self.tested]
        return tuple(self.tested[number] for number in tests_that_hold(members, chosen))

    def tests_and_rest(
        self, chosen: Collection[int]
    ) -> tuple[tuple[TestedSet, ...], tuple[int, ...]]:
        """What the doubt of a set rests on: tests that hold for it, and items outside them."""
        tests = self.tests_of(chosen)
        tested = frozenset[int]().union(*(test.members for test in tests))
        return tests, tuple(one for one in sorted(chosen) if one not in tested)

    def doubt_between(
        self, one: Collection[int], other: Collection[int] = frozenset()
    ) -> float | None:
        """Standard uncertainty of what a set saves more than another [s].

        What both share cancels; what was not tested together may overlap. None where a doubt is not
        known.
        """
        come, gone = self._stated(one), self._stated(other)
        both = [(*one, 1.0) for one in come if one not in gone]
        both += [(*one, -1.0) for one in gone if one not in come]
        doubts = [None if doubt is None else sign * doubt for _, doubt, sign in both]
        shared = shared_in_tests([option for option, _, _ in both], self.base)
        own = doubt_together(doubts, shared)
        return None if own is None else math.hypot(own, self.overlap_between(one, other))

    def overlap_between(self, one: Collection[int], other: Collection[int]) -> float:
        """The part of that doubt that comes from what was not tested together [s]."""
        parts = self.parts_of(one), self.parts_of(other)
        return overlap_doubt(self.base, self.overlap, *parts)

    def _stated(self, chosen: Collection[int]) -> list[tuple[Option, float | None]]:
        """What the doubt of a set rests on, and how large each is [s]."""
        tests, loose = self.tests_and_rest(chosen)
        single = (self.items[at].apart for at in loose)
        return [
            *((test.option, test.doubt_s) for test in tests),
            *((worth.option, worth.doubt_s) for worth in single),
        ]

    def parts_of(self, chosen: Collection[int]) -> tuple[Part, ...]:
        """What a set is made of in the air, items tested as one as one."""
        tests, loose = self.tests_and_rest(chosen)
        return (
            *(Part(self.names_of([at]), self.items[at].apart.change.cda) for at in loose),
            *(Part(self.names_of(one.members), self.change_of(one.members).cda) for one in tests),
        )

    def names_of(self, chosen: Collection[int]) -> tuple[str, ...]:
        """Names of a set of items, in the order of the race file."""
        return tuple(self.items[number].option.name for number in sorted(chosen))

    @property
    def claims(self) -> list[int]:
        """Numbers of the items that state no doubt."""
        return [one for one, item in enumerate(self.items) if item.apart.doubt_s is None]

    def change_of(self, chosen: Collection[int]) -> Change:
        """What a set of items changes, by the test of the set where there is one."""
        parts = Change.sum(self.items[number].apart.change for number in chosen)
        return Change.sum((parts, *(test.gap for test in self.tests_of(chosen))))

    def cost_of(self, chosen: Iterable[int]) -> float:
        """What a set of items costs for the races counted."""
        return math.fsum(self.items[number].cost for number in chosen)

    def cash_of(self, chosen: Iterable[int]) -> Decimal:
        """What is paid first for a set of items."""
        return sum((self.items[number].cash for number in chosen), Decimal(0))

    def price_of(self, chosen: Iterable[int]) -> Decimal:
        """Prices of a set of items, one of each."""
        return sum((self.items[number].price for number in chosen), Decimal(0))

    def currency_with(self, *amounts: Money | None) -> str:
        """Currency of all prices, or of other amounts; "EUR" where there are none."""
        known = (amount.currency for amount in amounts if amount)
        prices = (item.use.currency for item in self.items if item.use.currency)
        return next(chain(prices, known), "EUR")

    def at_price_alone(self) -> "Candidates":
        """The same where neither life nor resale counts, so that cost and cash are the price."""
        items = tuple(replace(item, use=_at_price_alone(item, self.races)) for item in self.items)
        return replace(self, items=items)


def candidates_of(
    base: Ridden,
    options: Iterable[Option],
    sets: Sequence[Option] = (),
    races: int | None = None,
    without: Collection[str] = (),
    *,
    any_weather: bool = False,
) -> Candidates:
    """Solve every option alone and put those that may be chosen among the candidates.

    What the weather of the race file forbids is among them in any weather.
    """
    counted = races or base.race.money_terms.races_a_season or 1
    worths, left_out = sorted_out(base, options, without, any_weather=any_weather)
    bare, items = base.bare, tuple(_item(base, worth, races) for worth in worths)
    in_use = base if bare is not base else None
    candidates = Candidates(bare, items, (), left_out, counted, in_use, overlap_of(bare))
    counting = (_tested(candidates, one) for one in sets if one.name not in without)
    tested = sorted(filter(None, counting), key=lambda test: -len(test.members))
    return replace(candidates, tested=tuple(tested))


def _item(base: Ridden, worth: Worth, races: int | None) -> Item:
    option, brings = worth.option, worth.exchange.brings
    apart = alone(base.bare, option) if base.race.use or brings else worth
    whole = cost_with(base, option, brings, races).cost if brings else None
    return Item(worth, apart, cost_on(base, option, races), whole)


def _at_price_alone(item: Item, races: int) -> CostOfUse:
    price = price_alone(item.option, races)
    return replace(item.use, cost=float(price), cash=price, price=price)


def _tested(candidates: Candidates, option: Option) -> TestedSet | None:
    numbers = [candidates.number_of(name) for name in option.set_of]
    members = frozenset(number for number in numbers if number is not None)
    if len(members) < len(numbers):
        return None
    option = with_evidence(option, candidates.base)
    parts = candidates.change_of(members)
    whole = total_change(option, candidates.base).plus(Change(mass=parts.mass, power=parts.power))
    doubt = doubt_in_seconds(ridden_with(candidates.base, whole, option.name), option)
    return TestedSet(option, members, whole.plus(parts.times(-1.0)), doubt)


def unproved_sets(candidates: Candidates) -> tuple[str, ...]:
    """Tests of several options as one that promise more than their parts and do not prove it.

    What is in use already is taken at its word, as today's time has it in.
    """
    today = candidates.tests_of(candidates.used)
    tests = (test for test in candidates.tested if test not in today)
    return tuple(test.name for test in tests if not _proved(candidates, test))


def _proved(candidates: Candidates, test: TestedSet) -> bool:
    base = candidates.base
    whole = base.time - base.changed(candidates.change_of(test.members)).time
    parts = Change.sum(candidates.items[number].apart.change for number in test.members)
    if whole <= base.time - base.changed(parts).time:
        return True
    low, _ = interval(whole, test.doubt_s)
    return low is not None and low > 0


def numbers_of(candidates: Candidates, names: Iterable[str], flag: str) -> frozenset[int]:
    """Numbers of items by their names."""
    reasons = {one.name: one.because for one in candidates.left_out}
    known = [item.option.name for item in candidates.items]
    meant = [known_name(name, [*known, *reasons], flag) for name in names]
    for name in meant:
        if name in reasons:
            raise InputError(flag, f"'{name}' cannot be chosen: {reasons[name]}", "change that")
    return frozenset(known.index(name) for name in meant)


# --- The course time as a function of what a whole set changes, and bounds on its slopes ---------


class Slopes:
    """Solves the race for whole sets and for points in between, each once.

    Of a solved race only its time and gradient are kept, with the race that nothing is used in:
    hundreds of whole ones fill the memory.

    Parameters
    ----------
    candidates : Candidates
        What may be chosen.
    """

    def __init__(self, candidates: Candidates) -> None:
        self.candidates = candidates
        known = candidates.base.known
        self._solved: dict[bytes, tuple[float, FloatArray]] = known.setdefault(Slopes, {})
        self._directions: list[tuple[Box, FloatArray]] = known.setdefault(directions, [])

    def learn_directions(self, box: "Box") -> None:
        """Work out the `directions` over a box, unless they are known."""
        if self.directions_in(box) is None:
            self._directions.append((box, directions(self, box)))

    def directions_in(self, box: "Box") -> FloatArray | None:
        """The `directions` over a box that holds this one; None where they are not known."""
        return next((signs for whole, signs in self._directions if whole.holds(box)), None)

    def _at(self, point: FloatArray) -> tuple[float, FloatArray]:
        key = (point + 0.0).tobytes()  # without a zero below zero
        if key not in self._solved:
            change = Change(**dict(zip(AXES, point.tolist(), strict=True)))
            ridden = self.candidates.base.changed(change)
            self._solved[key] = ridden.time, vector(ridden.seconds_per_unit)
        return self._solved[key]

    def time(self, point: FloatArray) -> float:
        """Time of the race with a change, given as numbers [s]."""
        return self._at(point)[0]

    def saved(self, chosen: frozenset[int]) -> float:
        """Seconds that a set of items saves, solved in full."""
        return self.candidates.now.time - self.time(self.point_of(chosen))

    def point_of(self, chosen: frozenset[int]) -> FloatArray:
        """What a set of items changes, as numbers."""
        return vector(self.candidates.change_of(sorted(chosen)))

    def gradient(self, point: FloatArray) -> FloatArray:
        """Exact derivative of the time along each axis at a point, shape (5,)."""
        return self._at(point)[1]

    def worths_at(self, chosen: frozenset[int]) -> FloatArray:
        """Seconds that each item and each tested set adds at a set, to first order, shape (n,)."""
        return -self.candidates.changes @ self.gradient(self.point_of(chosen))


@dataclass(frozen=True)
class Box:
    """A range of changes along each axis."""

    low: FloatArray
    high: FloatArray
    """Ends, in SI; shape (5,)."""

    @classmethod
    def around(cls, points: FloatArray) -> "Box":
        """The smallest box about some changes, shape (n, 5)."""
        return cls(points.min(axis=0), points.max(axis=0))

    def holds(self, other: "Box") -> bool:
        """Whether another box lies within this one, but for rounding."""
        least = 1e-9 * (self.high - self.low)
        return bool(np.all(self.low - least <= other.low) & np.all(other.high <= self.high + least))

    def corners(self) -> list[FloatArray]:
        """Every corner; an axis without extent counts once."""
        ends = [dict.fromkeys(one) for one in zip(self.low, self.high, strict=True)]
        return [np.array(corner) for corner in product(*ends)]

    def halves(self, axis: int) -> tuple["Box", "Box"]:
        """The box cut in two along one axis."""
        low, high = self.low.copy(), self.high.copy()
        low[axis] = high[axis] = 0.5 * (self.low[axis] + self.high[axis])
        return Box(self.low, high), Box(low, self.high)


@dataclass(frozen=True)
class Ceiling:
    """An upper bound on what any set within a box saves: ``constant + objective . z``."""

    constant: float
    """[s]"""
    objective: FloatArray
    """Seconds that each item and each tested set adds; shape (n,)."""
    slack: FloatArray
    """Part of the constant that each axis makes necessary [s]; shape (5,)."""


def directions(slopes: Slopes, box: Box) -> FloatArray:
    """Whether each derivative of the time rises along each axis, shape (axes, derivatives).

    1 where it rises from end to end of every edge of a box along the axis, -1 where it falls, 0
    where some edges rise and others fall, or the axis has no extent.
    """
    found = np.zeros((len(AXES), len(AXES)))
    gradients = {tuple(one): slopes.gradient(one) for one in box.corners()}
    for axis in np.flatnonzero(box.low < box.high).tolist():
        edges = [at for at in gradients if at[axis] == box.low[axis]]
        ends = ((*at[:axis], float(box.high[axis]), *at[axis + 1 :]) for at in edges)
        signs = np.sign(
            [gradients[end] - gradients[at] for at, end in zip(edges, ends, strict=True)]
        )
        found[axis] = np.where(np.all(signs == signs[0], axis=0), signs[0], 0.0)
    return found


def ceiling_over(slopes: Slopes, box: Box) -> Ceiling:
    """Bound what any set within a box saves.

    From the middle p of the box the time changes by the integral of its gradient along the
    straight way to the change x of a set, so that ``T(x) >= T(p) + g . (x - p) - e . |x - p|``
    with the middle g and half the width e of the range of the gradient over the box. That range
    is taken over the corners of the box: along each axis the derivatives rise or fall throughout
    (an assumption, held against full enumeration in the tests). Where the `directions` are known,
    the corners will do that may be least or greatest for one of them.
    """
    low, high = range_of_gradient(slopes, box)
    middle, half = 0.5 * (low + high), 0.5 * (high - low)
    point = 0.5 * (box.low + box.high)
    saved_there = slopes.candidates.now.time - slopes.time(point)
    slack = half * 0.5 * (box.high - box.low)
    constant = saved_there + float(middle @ point) + float(np.sum(slack))
    return Ceiling(constant, -slopes.candidates.changes @ middle, slack)


def range_of_gradient(slopes: Slopes, box: Box) -> tuple[FloatArray, FloatArray]:
    """Least and greatest slope along each axis over a box, as `ceiling_over` takes it."""
    if (known := slopes.directions_in(box)) is None:
        gradients = np.array([slopes.gradient(corner) for corner in box.corners()])
        return gradients.min(axis=0), gradients.max(axis=0)

    def ends(one: int, sign: float) -> list[float]:
        towards = sign * known[:, one]
        face = Box(
            np.where(towards > 0, box.high, box.low), np.where(towards < 0, box.low, box.high)
        )
        return [float(slopes.gradient(corner)[one]) for corner in face.corners()]

    every = range(len(AXES))
    return np.array([min(ends(at, -1.0)) for at in every]), np.array(
        [max(ends(at, 1.0)) for at in every]
    )
