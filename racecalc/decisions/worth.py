"""From an option to seconds: what goes and comes with it, the race solved again, the doubt."""

import math
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Annotated

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.holding import held_share, ridden_with, total_change
from racecalc.decisions.riding import STANDSTILL, Ridden, first_order, once, ride
from racecalc.decisions.savings import change_of
from racecalc.decisions.sets import (
    Overlap,
    Part,
    overlap_doubt,
    overlap_of,
    set_change,
    shared_in_tests,
    with_evidence,
)
from racecalc.domain.option import Option, Saving, able, put_in, staying
from racecalc.domain.race import Change, Race
from racecalc.errors import InputError
from racecalc.quantities.clock import show_duration
from racecalc.written import HIDDEN

# --- The set in use, and what an option goes in the place of -------------------------------------


def ride_in_use(race: Race) -> Ridden:
    """Solve a race with what it says is in use.

    Raises
    ------
    InputError
        If it takes so long that nobody stays upright.
    """
    found = ride_using(ride(race.bare), race.use, race.tested_sets)
    speed = race.course.length / found.time
    if speed < STANDSTILL:
        problem = f"it takes {show_duration(found.time)}: at {speed:.1f} m/s nobody stays upright"
        raise InputError(race.name, problem, "check power, masses, grades and wind")
    return found


def ride_using(bare: Ridden, use: tuple[str, ...], tests: Sequence[Option]) -> Ridden:
    """Ride with some options in use, by the tests of sets that count; `bare` has none in use."""
    if not use:
        return bare
    stated = bare.race.options
    options = [one for one in bare.race.single_options if one.name in use]
    found = set_change(bare, options, tests)
    changed = ridden_with(bare, found.change, " + ".join(use))
    race = replace(
        changed.race,
        use=use,
        used=found.change,
        doubted=found.stated,
        options=tuple(_held(stated, use)),
        stated=stated,
    )
    return replace(changed, race=race)


def _held(options: Iterable[Option], use: Collection[str]) -> Iterator[Option]:
    """The options; those in use cost nothing more."""
    for one in options:
        own = replace(one.ownership, owned=True)
        yield replace(one, ownership=own) if one.name in use else one


def doubt_in_use(ridden: Ridden) -> float:
    """Standard uncertainty of what the set in use saves, as far as it is stated [s]."""
    bare, stated = ridden.bare, ridden.race.doubted
    doubts = [doubt_in_seconds(ridden, one) or 0.0 for one in stated]
    parts = [Part.of(one, total_change(one, bare)) for one in stated]
    further = overlap_doubt(bare, overlap_of(bare), parts)
    return math.hypot(further, doubt_together(doubts, shared_in_tests(stated, bare)) or 0.0)


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
    measured in one test, and that of what was not tested together is added. None where one is
    missing.
    """
    tests: tuple[Option, ...] = ()
    """Tests of sets that hold for the race with them."""
    parts: tuple[Part, ...] = ()
    """What the set with them is made of."""
    overlap: Overlap | None = None
    """How far tested sets were from the sum of their parts, for which `doubt_s` allows; None where
    no set was tested.
    """

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
    before, after = (
        set_change(bare, [known[name] for name in names], tests)
        for names in (found.without, found.having)
    )

    def ridden(names: tuple[str, ...], change: Change) -> Ridden:
        same = set(names) == set(race.use)
        return base if same else ridden_with(bare, change, " + ".join(one.name for one in options))

    without = ridden(found.without, before.change)
    having = ridden(found.having, after.change)
    gone = [one for one in before.stated if one not in after.stated]
    come = [one for one in after.stated if one not in before.stated]
    doubts = (
        *(None if (lost := doubt_in_seconds(without, one)) is None else -lost for one in gone),
        *(doubt_in_seconds(having, one) for one in come),
    )
    overlap = overlap_of(bare)
    own = doubt_together(doubts, shared_in_tests((*gone, *come), bare))
    further = overlap_doubt(bare, overlap, after.parts, before.parts)
    return Exchanged(
        base=without,
        changed=having,
        change=after.change.plus(before.change.times(-1.0)),
        stated=(*gone, *come),
        doubts_s=doubts,
        doubt_s=None if own is None else math.hypot(own, further),
        tests=tuple(one for one in after.stated if one.is_set),
        parts=after.parts,
        overlap=overlap,
    )


def doubt_together(doubts: Sequence[float | None], shared: FloatArray) -> float | None:
    """Standard uncertainty of a sum of savings [s]; None where one is missing.

    A doubt is below zero for what is taken off; `shared` is their covariance in units of their
    doubts, shape (n, n).
    """
    known = np.array([one for one in doubts if one is not None])
    if len(known) < len(doubts):
        return None
    return math.sqrt(max(float(known @ shared @ known), 0.0))


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
    brought_s: float = 0.0
    """Part of `saved_s` that what it brings saves without it, in the place of what goes [s]; 0
    where it brings nothing.
    """

    @property
    def own(self) -> Change:
        """The part of `change` that is its own."""
        return self.change.plus(self.rest.times(-1.0))

    @property
    def own_s(self) -> float:
        """Seconds that it saves beyond what it brings."""
        return self.saved_s - self.brought_s


@once
def worth_of(base: Ridden, option: Option) -> Worth:
    """Solve the race again with an option and what it needs, in the place of what cannot stay.

    `base` is ridden with the set in use; an option of that set is worth what leaving it loses.
    """
    found = exchange(base.race, [option])
    if not base.race.use and not found.brings:
        return alone(base, option)
    option = with_evidence(option, base.bare)
    both = exchanged(base, found, [option], base.race.tested_sets)
    rest = both.change.plus(total_change(option, base.bare).times(-1.0))
    saved, doubt = both.saved_s, both.doubt_s
    brought = both.base.time - _time_without(base, option, found) if found.brings else 0.0
    return Worth(option, found, both.base, both.change, rest, both.changed, saved, doubt, brought)


def _time_without(base: Ridden, option: Option, found: Exchange) -> float:
    """Time with all that comes with an option, but without it [s]."""
    known = [one for one in base.race.single_options if one.name in found.having]
    kept = [one for one in known if one.name != option.name]
    change = set_change(base.bare, kept, base.race.tested_sets).change
    return ridden_with(base.bare, change, option.name).time


@once
def alone(bare: Ridden, option: Option) -> Worth:
    """Solve the race again with an option by itself, even where it needs others."""
    option = with_evidence(option, bare)
    change = total_change(option, bare)
    changed = ridden_with(bare, change, option.name)
    doubt, saved = doubt_in_seconds(changed, option), bare.time - changed.time
    found, kept = Exchange((), (option.name,)), changed if changed is bare else changed.slimmed()
    return Worth(option, found, bare, change, Change(), kept, saved, doubt)


def saved_by(base: Ridden, option: Option, guess: FloatArray | None = None) -> float:
    """Seconds that an option saves, as `worth_of`, solved from a guess of the speeds [m/s]."""
    if base.race.use or option.restrictions.needs:
        return worth_of(base, option).saved_s
    return saved_alone(base, option, guess)


def saved_alone(bare: Ridden, option: Option, guess: FloatArray | None = None) -> float:
    """The same by `alone`."""
    change = total_change(with_evidence(option, bare), bare)
    return bare.time - ridden_with(bare, change, option.name, guess).time


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
