"""How far the savings of options that nobody tested as one may fail to add up.

Where options were tested as one, the race file holds how far their drag areas fell short of the sum
of the parts, or went beyond it. The root mean square of that share is taken for what may happen to
any other set, whose doubt grows by as much. It is a guess, from few sets and other parts.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from racecalc.decisions.evidence.for_option import with_evidence
from racecalc.decisions.riding import Ridden
from racecalc.decisions.worth import tests_that_hold, total_change
from racecalc.domain.option import Option


@dataclass(frozen=True)
class Overlap:
    """How far sets that were tested as one were from the sum of their parts."""

    share: float
    """Root mean square of (together - sum) / sum over these tests, by drag area."""
    tests: tuple[str, ...]
    """The tests of sets that it comes from."""


@dataclass(frozen=True)
class Part:
    """An option, or several that were tested as one, within a set."""

    names: tuple[str, ...]
    """The options."""
    area: float
    """What it changes of the drag area [m^2]."""


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


def parts_of(bare: Ridden, options: Sequence[Option], tests: Sequence[Option]) -> tuple[Part, ...]:
    """What a set is made of in the air, those tested as one as one."""
    holding = tests_that_hold(
        [frozenset(test.set_of) for test in tests], [one.name for one in options]
    )
    whole = [tests[number] for number in holding]
    inside = {name for test in whole for name in test.set_of}
    loose = (one for one in options if one.name not in inside)
    return (
        *(Part((one.name,), _area(one, bare)) for one in loose),
        *(Part(tuple(test.set_of), _area(test, bare)) for test in whole),
    )


def untested_together(parts: Iterable[Part]) -> tuple[Part, ...]:
    """The parts of a set whose savings may disturb each other; empty where fewer than two can."""
    in_the_air = tuple(part for part in parts if part.area)
    return in_the_air if len(in_the_air) > 1 else ()


def overlap_doubt(
    bare: Ridden, overlap: Overlap | None, one: Iterable[Part], other: Iterable[Part] = ()
) -> float:
    """Standard uncertainty that comes to what a set saves more than another [s].

    The share by which parts fail to add up is taken to be the same in both sets; 0 where nothing is
    known of it.
    """
    if overlap is None:
        return 0.0
    area, rest = (sum(part.area for part in untested_together(parts)) for parts in (one, other))
    return overlap.share * abs((area - rest) * bare.seconds_per_unit.cda)
