"""What tests prove of options, and several as one set: tested as such, or never together.

Where options were tested as one, the race file holds how far their drag areas fell short of the sum
of the parts, or went beyond it. The root mean square of that share is taken for what may happen to
any other set, whose doubt grows by as much. It is a guess, from few sets and other parts.
"""

import math
from collections.abc import Collection, Hashable, Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import TypeVar

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.holding import total_change
from racecalc.decisions.riding import Ridden, once
from racecalc.domain.option import Option
from racecalc.domain.race import Change
from racecalc.domain.trial import Runs

# --- What options are proved to save, and what those measured in one test have in common ---------


def with_evidence(option: Option, base: Ridden) -> Option:
    """Return the option with the saving and doubt of its test, if it names one and states none."""
    if option.saves or option.trial is None:
        return option
    # What analyses a test takes long to load, and many a race names none.
    from racecalc.decisions.evidence.for_option import proved

    return proved(option, base)


def one_test(one: Option, other: Option) -> bool:
    """Whether two options were measured in one test against one baseline."""
    return (
        one.trial is not None
        and one.trial is other.trial
        and one.trial_rider == other.trial_rider
        and one.trial_day_to_day == other.trial_day_to_day
        and _baseline(one, one.trial) == _baseline(other, one.trial)
    )


def _baseline(option: Option, runs: Runs) -> str:
    return option.trial_baseline or runs.counted().items[0]


def shared_in_tests(options: Sequence[Option], base: Ridden) -> FloatArray:
    """Covariance of the savings of options in units of their doubts, shape (n, n).

    Items of one test share its baseline, and once they are shrunken their common mean.
    """
    found = np.eye(len(options))
    for (row, one), (column, other) in combinations(enumerate(options), 2):
        if one_test(one, other):
            from racecalc.decisions.evidence.for_option import correlation

            found[row, column] = found[column, row] = correlation(one, other, base)
    return found


# --- Which tests of several things as one hold for a set of them ---------------------------------

Thing = TypeVar("Thing", bound=Hashable)


def tests_that_hold(
    tests: Sequence[frozenset[Thing]], chosen: Collection[Thing]
) -> tuple[int, ...]:
    """Numbers of the tests that count for a set.

    A test counts where all its things are chosen; larger tests come first, and none that shares
    a thing with one that counts already.

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


@dataclass(frozen=True)
class Part:
    """An option of a set, or several that were tested as one."""

    names: tuple[str, ...]
    """The options."""
    area: float
    """What it changes of the drag area [m^2]."""

    @classmethod
    def of(cls, stated: Option, change: Change) -> "Part":
        """An option, or the test of a set, with what it changes."""
        return cls(stated.set_of or (stated.name,), change.cda)


@dataclass(frozen=True)
class SetChange:
    """What a set of options changes."""

    change: Change
    """All of it."""
    stated: tuple[Option, ...]
    """What states the doubts: the tests of sets that hold, then the options in none of them."""
    parts: tuple[Part, ...]
    """The same by drag area."""


def set_change(base: Ridden, options: Sequence[Option], tests: Sequence[Option] = ()) -> SetChange:
    """Add up what a set changes, by the tests of its parts as one.

    Tests that hold for the set, of which larger ones come first, count instead of their parts.
    """
    names = [option.name for option in options]
    holding = tests_that_hold([frozenset(test.set_of) for test in tests], names)
    tested = [with_evidence(tests[number], base) for number in holding]
    inside = {name for test in tested for name in test.set_of}
    stated, told = [], []
    for one in (*tested, *(with_evidence(option, base) for option in options)):
        change = total_change(one, base)
        if one.name in inside:
            # A test tells what the set does to the air; weight and legs are not in it.
            told.append(Change(mass=change.mass, power=change.power))
        else:
            stated.append((one, change))
    return SetChange(
        Change.sum([*told, *(change for _, change in stated)]),
        tuple(one for one, _ in stated),
        tuple(Part.of(one, change) for one, change in stated),
    )


# --- How far the savings of options that nobody tested as one may fail to add up -----------------


@dataclass(frozen=True)
class Overlap:
    """How far sets that were tested as one were from the sum of their parts."""

    share: float
    """Root mean square of (together - sum) / sum over these tests, by drag area."""
    tests: tuple[str, ...]
    """The tests of sets that it comes from."""


@once
def overlap_of(bare: Ridden) -> Overlap | None:
    """Learn from the sets of a race that were tested as one; None where none tells anything."""
    race = bare.race
    areas = {one.name: _area(one, bare) for one in race.single_options}
    sums = {test.name: sum(areas[name] for name in test.set_of) for test in race.tested_sets}
    shares = {
        test.name: _area(test, bare) / sums[test.name] - 1.0
        for test in race.tested_sets
        if sums[test.name]
    }
    if not shares:
        return None
    mean_square = math.fsum(share**2 for share in shares.values()) / len(shares)
    return Overlap(math.sqrt(mean_square), tuple(shares))


def _area(option: Option, bare: Ridden) -> float:
    return total_change(with_evidence(option, bare), bare).cda


def untested_together(parts: Iterable[Part]) -> tuple[Part, ...]:
    """The parts of a set whose savings may disturb each other; empty where fewer than two can."""
    in_the_air = tuple(part for part in parts if part.area)
    return in_the_air if len(in_the_air) > 1 else ()


def overlap_doubt(
    bare: Ridden, overlap: Overlap | None, one: Sequence[Part], other: Sequence[Part] = ()
) -> float:
    """Standard uncertainty that comes to what a set saves more than another [s].

    The share by which parts fail to add up is taken to be the same in both sets, and a part alone
    saves what it was measured to save; 0 where nothing is known of that share.
    """
    area, rest = (sum(part.area for part in parts) for parts in (one, other))
    alone = not (area and rest) and not untested_together((*one, *other))
    if overlap is None or alone:
        return 0.0
    return overlap.share * abs((area - rest) * bare.seconds_per_unit.cda)
