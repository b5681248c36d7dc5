"""From an option to seconds, positions held in part included.

While a rider changes between two positions, the mean speed over time is that of both positions,
weighted by the time in each: ``v = s v_held + (1 - s) v_up``. The turns are taken to be long
against the ten to fifteen seconds in which speed settles.
"""

import math
from collections.abc import Collection, Hashable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import Annotated, TypeVar

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.evidence.for_option import shared_in_tests, with_evidence
from racecalc.decisions.riding import Ridden, first_order, multiple_needed, ride
from racecalc.decisions.savings import change_of
from racecalc.domain.option import Holding, Option, Saving, able, put_in, staying
from racecalc.domain.race import Change, Race
from racecalc.errors import InputError
from racecalc.written import HIDDEN

# --- Positions that are held for a part of the race only -----------------------------------------


def held_share(holding: Holding) -> float:
    """Share of the riding time in which a position is held, over the whole course."""
    return float(np.mean(holding.shares))


def held_change(option: Option, change: Change, base: Ridden) -> Change:
    """The constant change that takes the same time as holding a position for its shares."""
    holding = option.holding
    power = Change(power=-_loss(holding, base) * held_share(holding))
    if holding.always or not (change.cda or holding.otherwise):
        return change.plus(power)
    rest = Change(mass=change.mass)
    time = Turns.of(*_both(base, option, change)).time(holding.shares)
    area = multiple_needed(base.changed(rest), Change(cda=1.0), time)
    return rest.plus(power).plus(Change(cda=area or 0.0))


def _loss(holding: Holding, base: Ridden) -> float:
    """Loss of power while a position is held [W]."""
    return holding.power_loss.of(base.race.rider.power) if holding.power_loss else 0.0


def _both(base: Ridden, option: Option, change: Change) -> tuple[Ridden, Ridden]:
    """The race with the position held throughout, and never."""
    otherwise = option.holding.otherwise
    apart = change_of(otherwise, option, base.race) if otherwise else Change()
    return base.changed(change), base.changed(apart.plus(Change(mass=change.mass)))


@dataclass(frozen=True)
class Turns:
    """A position held and given up alternately, on the nodes that both rides share."""

    nodes: FloatArray
    """Distances [m]; shape (k + 1,)."""
    held: FloatArray
    up: FloatArray
    """Speed on each step with the position held throughout, and never [m/s]; shape (k,)."""

    @classmethod
    def of(cls, held: Ridden, up: Ridden) -> "Turns":
        """Both rides; where a rider is very slow the solver lays nodes of its own between."""
        nodes = np.intersect1d(held.solution.ride.nodes, up.solution.ride.nodes)
        return cls(nodes, held.solution.mean_speed_on(nodes), up.solution.mean_speed_on(nodes))

    def share_along(self, shares: tuple[float, ...]) -> FloatArray:
        """Share of the riding time on each step, shape (k,)."""
        middle = 0.5 * (self.nodes[:-1] + self.nodes[1:]) / self.nodes[-1]
        part = np.minimum((middle * len(shares)).astype(np.intp), len(shares) - 1)
        return np.asarray(np.asarray(shares)[part])

    def times(self, share: FloatArray) -> FloatArray:
        """Time on each step for the share held there [s], shape (k,)."""
        return np.diff(self.nodes) / (share * self.held + (1.0 - share) * self.up)

    def time(self, shares: tuple[float, ...]) -> float:
        """Time of the race, held for shares of the time on equal parts of the course [s]."""
        return float(np.sum(self.times(self.share_along(shares))))


@dataclass(frozen=True)
class HoldingAnswer:
    """What it takes for a position to pay."""

    share: float
    """Share of the riding time in which it is held, as stated, over the whole course."""
    loss_w: float
    """Loss of power while held, as stated [W]."""
    full_s: float
    """Seconds saved if it were held throughout at no loss of power, mass included."""
    break_even_time: float | None
    break_even_course: float | None
    """Share of the riding time, and of the course, for which it must be held to save anything at
    the stated loss of power; the stated shares are kept in proportion. None where even holding
    it throughout saves nothing, 0 where it never costs time.
    """
    break_even_power_w: float | None
    """Loss of power at which it saves nothing although held throughout [W]."""
    losses_w: tuple[float, ...]
    """Losses of power of the rows of `table` [W]."""
    held: tuple[float, ...]
    """Shares of the riding time of its columns."""
    table: tuple[tuple[float, ...], ...]
    """Seconds saved for each loss of power while held, and each share."""


HELD = (1.0, 0.9, 0.8, 0.7, 0.6, 0.5)
"""Shares of the time shown; our choice."""

LOSSES = (0.0, 0.01, 0.02, 0.03, 0.04)
"""Losses of power shown, as shares of the race power; trials of low positions found 0 to 10 %."""

TOLERANCE = 1e-6


def holding_answer(
    base: Ridden, option: Option, change: Change, without: float
) -> HoldingAnswer | None:
    """What it takes for a position to pay; None for what is always held and costs no power.

    Seconds are saved from the time `without` it [s].
    """
    holding = option.holding
    if holding.always and not holding.power_loss:
        return None
    held, up = _both(base, option, change)
    loss = _loss(holding, base)
    losses = tuple(round(share * base.race.rider.power) + 0.0 for share in LOSSES)
    rows = [Turns.of(held.changed(Change(power=-one)), up) for one in losses]
    turns = Turns.of(held.changed(Change(power=-loss)), up)
    time, course = _break_even_share(without, turns, holding)
    return HoldingAnswer(
        share=held_share(holding),
        loss_w=loss,
        full_s=without - held.time,
        break_even_time=time,
        break_even_course=course,
        break_even_power_w=multiple_needed(held, Change(power=-1.0), without),
        losses_w=losses,
        held=HELD,
        table=tuple(tuple(without - row.time((share,)) for share in HELD) for row in rows),
    )


def _break_even_share(
    without: float, turns: Turns, holding: Holding
) -> tuple[float | None, float | None]:
    """Share of the time and of the course at which nothing is saved any more."""
    shares = holding.shares if any(holding.shares) else (1.0,)

    def scaled(factor: float) -> tuple[float, ...]:
        return tuple(min(1.0, factor * share) for share in shares)

    most = 1.0 / min(share for share in shares if share)
    low, high = 0.0, most
    if turns.time(scaled(low)) <= without:
        return 0.0, 0.0
    if turns.time(scaled(high)) > without:
        return None, None
    while high - low > TOLERANCE * most:
        middle = 0.5 * (low + high)
        slower = turns.time(scaled(middle)) > without
        low, high = (middle, high) if slower else (low, middle)
    share = turns.share_along(scaled(high))
    time = turns.times(share)
    return (
        float(np.sum(share * time) / np.sum(time)),
        float(np.sum(share * time * turns.held) / turns.nodes[-1]),
    )


# --- Which tests of several things as one hold for a set of them ---------------------------------

Thing = TypeVar("Thing", bound=Hashable)


def tests_that_hold(
    tests: Sequence[frozenset[Thing]], chosen: Collection[Thing]
) -> tuple[int, ...]:
    """Numbers of the tests that count for a set.

    A test counts where all its things are chosen; larger tests come first, and none that shares
    a thing with one that counts already.

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


def set_change(
    base: Ridden, options: Sequence[Option], tests: Sequence[Option] = ()
) -> tuple[Change, tuple[Option, ...]]:
    """What a set changes, by the tests of its parts as one, and what states the doubts then.

    Parameters
    ----------
    base : Ridden
        The race with none of them.
    options : sequence of Option
        At most one of each slot.
    tests : sequence of Option
        Tests of several options as one; those that hold for the set count instead of the parts
        they were of, larger ones first.
    """
    names = [option.name for option in options]
    holding = tests_that_hold([frozenset(test.set_of) for test in tests], names)
    tested = tuple(with_evidence(tests[number], base) for number in holding)
    inside = {name for test in tested for name in test.set_of}
    single = tuple(with_evidence(option, base) for option in options)
    changes = [total_change(option, base) for option in (*single, *tested)]
    # A test tells what the set does to the air; weight and legs are not in it.
    told = [
        Change(mass=one.mass, power=one.power) if option.name in inside else one
        for option, one in zip((*single, *tested), changes, strict=True)
    ]
    loose = (option for option in single if option.name not in inside)
    return Change.sum(told), (*tested, *loose)


# --- The set in use, and what an option goes in the place of -------------------------------------


def ride_in_use(race: Race) -> Ridden:
    """Solve a race with what it says is in use."""
    return ride_using(ride(race.bare), race.use, race.tested_sets)


def ride_using(bare: Ridden, use: tuple[str, ...], tests: Sequence[Option]) -> Ridden:
    """Ride with some options in use, by the tests of sets that count; `bare` has none in use."""
    if not use:
        return bare
    stated = bare.race.options
    options = [one for one in bare.race.single_options if one.name in use]
    change, doubted = set_change(bare, options, tests)
    changed = ridden_with(bare, change, " + ".join(use))
    held = tuple(_held(stated, use))
    race = replace(changed.race, use=use, used=change, doubted=doubted, options=held, stated=stated)
    return replace(changed, race=race)


def _held(options: Iterable[Option], use: Collection[str]) -> Iterator[Option]:
    """The options; those in use cost nothing more."""
    for one in options:
        own = replace(one.ownership, owned=True)
        yield replace(one, ownership=own) if one.name in use else one


def doubt_in_use(ridden: Ridden) -> float:
    """Standard uncertainty of what the set in use saves, as far as it is stated [s]."""
    doubts = (doubt_in_seconds(ridden, one) for one in ridden.race.doubted)
    return math.hypot(*(one for one in doubts if one is not None))


@dataclass(frozen=True)
class Exchange:
    """What goes and what comes where an option is put into the set in use, or taken out of it."""

    without: Annotated[tuple[str, ...], HIDDEN]
    having: Annotated[tuple[str, ...], HIDDEN]
    """The set without the option, and with it."""
    in_use: bool = False
    """Whether it is in use already, so that its saving is what leaving it would lose."""
    replaces: tuple[str, ...] = ()
    """Options in use that cannot stay with it."""
    brings: tuple[str, ...] = ()
    """Options that it needs and that are not in use yet."""


def exchange(race: Race, options: Sequence[Option], *, bring: bool = True) -> Exchange:
    """Say what goes and what comes with some options; what they need comes where it is brought."""
    known = {one.name: one for one in (*race.single_options, *options)}
    asked = {one.name for one in options}
    rest = set(race.use) - asked
    if bring:
        having = put_in(rest, asked, known)
    else:
        left = staying(rest, asked, known) | asked
        having = tuple(name for name in known if name in left)
    return Exchange(
        able(rest, known),
        having,
        in_use=asked <= set(race.use),
        replaces=tuple(name for name in race.use if name not in having),
        brings=tuple(name for name in having if name not in {*asked, *race.use}),
    )


@dataclass(frozen=True)
class Exchanged:
    """An exchange, solved."""

    base: Ridden
    """The race without the options that are asked about."""
    changed: Ridden
    """The race with them."""
    change: Change
    """What the exchange changes."""
    stated: tuple[Option, ...]
    """Options and tests of sets that state the doubt of the difference: those of one side alone."""
    doubts_s: tuple[float | None, ...]
    """Standard uncertainty that each of them brings [s], below zero for those that go; None where
    it states none.
    """
    doubt_s: float | None
    """Standard uncertainty of `saved_s` [s]; the doubts are independent, but for options that were
    measured in one test. None where one is missing.
    """
    tests: tuple[Option, ...]
    """Tests of sets that hold for the race with them."""

    @property
    def saved_s(self) -> float:
        """Seconds saved."""
        return self.base.time - self.changed.time


def exchanged(
    base: Ridden, found: Exchange, options: Sequence[Option], tests: Sequence[Option]
) -> Exchanged:
    """Ride without and with some options; `base` is ridden with the set in use."""
    race, bare = base.race, base.bare
    known = {one.name: one for one in (*race.single_options, *options)}
    (before, doubted), (after, stated) = (
        set_change(bare, [known[name] for name in names], tests)
        for names in (found.without, found.having)
    )

    def ridden(names: tuple[str, ...], change: Change) -> Ridden:
        same = set(names) == set(race.use)
        return base if same else ridden_with(bare, change, " + ".join(one.name for one in options))

    without, having = ridden(found.without, before), ridden(found.having, after)
    gone = [one for one in doubted if one not in stated]
    come = [one for one in stated if one not in doubted]
    doubts = (
        *(_negative(doubt_in_seconds(without, one)) for one in gone),
        *(doubt_in_seconds(having, one) for one in come),
    )
    return Exchanged(
        base=without,
        changed=having,
        change=after.plus(before.times(-1.0)),
        stated=(*gone, *come),
        doubts_s=doubts,
        doubt_s=_together(doubts, (*gone, *come), bare),
        tests=tuple(one for one in stated if one.is_set),
    )


def _negative(doubt: float | None) -> float | None:
    return None if doubt is None else -doubt


def _together(
    doubts: Sequence[float | None], options: Sequence[Option], bare: Ridden
) -> float | None:
    """Standard uncertainty of the sum of savings [s]; None where one is missing."""
    known = np.array([one for one in doubts if one is not None])
    if len(known) < len(doubts):
        return None
    return math.sqrt(max(float(known @ shared_in_tests(options, bare) @ known), 0.0))


# --- What an option changes, what that saves on the course, and the doubt of it in seconds -------


@dataclass(frozen=True)
class Worth:
    """An option tried on a course."""

    option: Option
    """With the saving and doubt of its test, if it names one."""
    exchange: Exchange
    """What goes and what comes with it."""
    base: Ridden
    """The race without it."""
    change: Change
    """What it changes, mass and power included, and what goes and comes with it."""
    rest: Change
    """The part of `change` that is not its own."""
    changed: Ridden
    """The race with it."""
    saved_s: float
    """Seconds saved; negative where it costs time."""
    doubt_s: float | None
    """Standard uncertainty of `saved_s`, first order; None where none is stated."""


def worth_of(base: Ridden, option: Option) -> Worth:
    """Solve the race again with an option, in the place of what cannot stay with it.

    `base` is ridden with the set in use; an option of that set is worth what leaving it loses.
    """
    option = with_evidence(option, base.bare)
    own = total_change(option, base.bare)
    if base.race.use:
        found = exchange(base.race, [option])
        both = exchanged(base, found, [option], base.race.tested_sets)
    else:
        found = Exchange((), (option.name,))
        changed = ridden_with(base, own, option.name)
        doubt = doubt_in_seconds(changed, option)
        both = Exchanged(base, changed, own, (option,), (doubt,), doubt, ())
    rest = both.change.plus(own.times(-1.0))
    return Worth(
        option, found, both.base, both.change, rest, both.changed, both.saved_s, both.doubt_s
    )


def ridden_with(base: Ridden, change: Change, name: str) -> Ridden:
    """Ride with a change, its errors naming the option."""
    with errors_about(name):
        return base.changed(change)


@contextmanager
def errors_about(name: str) -> Iterator[None]:
    """Let every error name the option it is about."""
    try:
        yield
    except InputError as error:
        raise error.at(f"option {name}") from error


def total_change(option: Option, base: Ridden) -> Change:
    """What an option changes: its saving as far as it is held, its mass and its loss of power."""
    with errors_about(option.name):
        return held_change(option, change_held(option, base), base)


def change_held(option: Option, base: Ridden) -> Change:
    """What an option changes while it is held, but for the loss of power."""
    mass = Change(mass=option.mass)
    return mass.plus(change_of(option.saves, option, base.race)) if option.saves else mass


def doubt_in_seconds(changed: Ridden, option: Option) -> float | None:
    """Standard uncertainty of the seconds, first order; None if no doubt was stated.

    An option that only changes mass has none: mass is weighed.
    """
    if option.saves is None:
        return 0.0
    return None if option.doubt is None else amount_in_seconds(changed, option, option.doubt)


def amount_in_seconds(changed: Ridden, option: Option, amount: Saving) -> float:
    """Seconds on this course of a doubt or an error in the saving of an option, first order."""
    change = change_of(amount, option, changed.race).times(held_share(option.holding))
    return abs(first_order(changed, change))
