"""What may go into a basket: every option with its seconds and its cost, and what was tested."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cached_property

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.allowed import FORBIDDEN, unwished
from racecalc.decisions.riding import Ridden
from racecalc.decisions.set_tests import tests_that_hold
from racecalc.decisions.worth import Worth, doubt_in_seconds, ridden_with, total_change, worth_of
from racecalc.domain.option import Option
from racecalc.domain.race import AXES, Change
from racecalc.errors import InputError
from racecalc.files.race_values import nearest

NO_PRICE_STATED = "it states no price"


def vector(change: Change) -> FloatArray:
    """A change as numbers, in the order of `AXES`, shape (5,)."""
    return np.array([getattr(change, axis) for axis in AXES])


@dataclass(frozen=True)
class Item:
    """An option with what it saves alone and what it costs.

    Parameters
    ----------
    worth : Worth
        The option solved on its own.
    cost : Decimal
        To buy it, or to hire it for every race if that is less; 0 for what is owned.
    by : str
        "bought", "hired", "owned" or "free".
    """

    worth: Worth
    cost: Decimal
    by: str

    @property
    def option(self) -> Option:
        """The option itself."""
        return self.worth.option


@dataclass(frozen=True)
class TestedSet:
    """Several items tested as one.

    Parameters
    ----------
    name : str
        Of the test.
    members : frozenset of int
        Numbers of the items.
    gap : Change
        What the set changes beyond the sum of its parts.
    doubt_s : float or None
        Standard uncertainty of what the whole set saves [s].
    """

    name: str
    members: frozenset[int]
    gap: Change
    doubt_s: float | None


@dataclass(frozen=True)
class Shelf:
    """All that a basket may be filled from.

    Parameters
    ----------
    base : Ridden
        The race without any of it.
    items : tuple of Item
        In the order of the race file.
    tested : tuple of TestedSet
        Larger sets first, since they count before the smaller ones they hold.
    left_out : tuple of (str, str)
        Options that cannot be chosen, each with the reason.
    """

    base: Ridden
    items: tuple[Item, ...]
    tested: tuple[TestedSet, ...]
    left_out: tuple[tuple[str, str], ...]

    @cached_property
    def changes(self) -> FloatArray:
        """What each item changes, and each tested set beyond its parts, shape (n, 5)."""
        changes = [item.worth.change for item in self.items]
        changes += [test.gap for test in self.tested]
        return np.array([vector(change) for change in changes]).reshape(-1, len(AXES))

    @property
    def whole(self) -> FloatArray:
        """What there is to change: drag area, Crr, drivetrain loss, mass of the bike and power."""
        bike, rider = self.base.race.bike, self.base.race.rider
        return np.array(
            [min(bike.cda.area), bike.crr, bike.drivetrain_loss, bike.mass, rider.power]
        )

    def number_of(self, name: str) -> int | None:
        """Number of an item by its name; None where it is not there."""
        names = [item.option.name for item in self.items]
        return names.index(name) if name in names else None

    def tests_of(self, chosen: Collection[int]) -> tuple[TestedSet, ...]:
        """Tests that hold for a set of items: larger ones first, none sharing an item."""
        members = [test.members for test in self.tested]
        return tuple(self.tested[number] for number in tests_that_hold(members, chosen))

    def told_by(self, chosen: Collection[int]) -> tuple[tuple[TestedSet, ...], tuple[int, ...]]:
        """What tells the doubt of a set: tests that hold for it, and items outside them."""
        tests = self.tests_of(chosen)
        tested = frozenset[int]().union(*(test.members for test in tests))
        return tests, tuple(one for one in sorted(chosen) if one not in tested)

    def names_of(self, chosen: Collection[int]) -> tuple[str, ...]:
        """Names of a set of items, in the order of the race file."""
        return tuple(self.items[number].option.name for number in sorted(chosen))

    @property
    def claims(self) -> list[int]:
        """Numbers of the items that state no doubt."""
        return [one for one, item in enumerate(self.items) if item.worth.doubt_s is None]

    def change_of(self, chosen: Collection[int]) -> Change:
        """What a set of items changes, by the test of the set where there is one."""
        parts = Change.sum(self.items[number].worth.change for number in chosen)
        return Change.sum((parts, *(test.gap for test in self.tests_of(chosen))))

    def cost_of(self, chosen: Iterable[int]) -> Decimal:
        """What a set of items costs."""
        return sum((self.items[number].cost for number in chosen), Decimal(0))

    def variances(self, chosen: Collection[int]) -> tuple[float | None, ...]:
        """Variance [s^2] of each independent part of what a set saves; None where not known."""
        tests, loose = self.told_by(chosen)
        doubts = [test.doubt_s for test in tests]
        doubts += [self.items[one].worth.doubt_s for one in loose]
        return tuple(None if doubt is None else doubt**2 for doubt in doubts)


def shelf_of(
    base: Ridden,
    options: Iterable[Option],
    sets: Sequence[Option] = (),
    races: int = 1,
    without: Collection[str] = (),
) -> Shelf:
    """Solve every option alone and put those that may be chosen on the shelf.

    Parameters
    ----------
    base : Ridden
        The race without any option.
    options : iterable of Option
        Single options.
    sets : sequence of Option
        Tests of several of them as one.
    races : int
        Races for which hired items are hired.
    without : collection of str
        Options that the user leaves out, and tests of sets that are not to count.

    Returns
    -------
    Shelf
        With the reason for each option that cannot be chosen.
    """
    items, left_out = [], []
    for option in options:
        worth = worth_of(base, option)
        reason = "you leave it out" if option.name in without else _why_not(base, worth)
        if reason:
            left_out.append((option.name, reason))
        else:
            items.append(Item(worth, *_cost(option, races)))
    items, lacking = _with_what_they_need(items)
    shelf = Shelf(base, tuple(items), (), (*left_out, *lacking))
    counting = [one for one in sets if one.name not in without]
    tested = [test for one in counting if (test := _tested(shelf, one))]
    largest_first = sorted(tested, key=lambda test: -len(test.members))
    return replace(shelf, tested=tuple(largest_first))


def _with_what_they_need(
    items: list[Item],
) -> tuple[list[Item], list[tuple[str, str]]]:
    """The items whose needs can be met, and the others with what is not there for them."""
    lacking: list[tuple[str, str]] = []
    while True:
        there = {item.option.name for item in items}
        found = [
            (item.option.name, name)
            for item in items
            for name in item.option.ties.needs
            if name not in there
        ]
        if not found:
            return items, lacking
        lacking += [(name, f"it needs {other}, which cannot be chosen") for name, other in found]
        without = {name for name, _ in found}
        items = [item for item in items if item.option.name not in without]


def _why_not(base: Ridden, worth: Worth) -> str:
    option = worth.option
    if option.forbidden:
        return FORBIDDEN
    if option.price is None and option.upkeep.hire is None and not option.upkeep.owned:
        return NO_PRICE_STATED
    return unwished(base, worth)


def _cost(option: Option, races: int) -> tuple[Decimal, str]:
    upkeep = option.upkeep
    if upkeep.owned:
        return Decimal(0), "owned"
    ways = []
    if option.price is not None:
        ways.append((option.price.amount, "bought" if option.price.amount else "free"))
    if upkeep.hire is not None:
        ways.append((upkeep.hire.amount * races, "hired"))
    return min(ways)


def _tested(shelf: Shelf, option: Option) -> TestedSet | None:
    numbers = [shelf.number_of(name) for name in option.set_of]
    members = frozenset(number for number in numbers if number is not None)
    if len(members) < len(numbers):
        return None
    option = worth_of(shelf.base, option).option
    whole = total_change(option, shelf.base)
    parts = shelf.change_of(members)
    carried = Change(mass=parts.mass, power=parts.power)
    changed = ridden_with(shelf.base, whole.plus(carried), option.name)
    doubt = doubt_in_seconds(changed, option)
    gap = whole.plus(carried).plus(parts.times(-1.0))
    return TestedSet(option.name, members, gap, doubt)


def numbers_of(shelf: Shelf, names: Iterable[str], flag: str) -> frozenset[int]:
    """Numbers of items by their names.

    Raises
    ------
    InputError
        If one is not known or cannot be chosen; it says why.
    """
    reasons = dict(shelf.left_out)
    known = [item.option.name for item in shelf.items]
    for name in names:
        if name in reasons:
            raise InputError(flag, f"'{name}' cannot be chosen: {reasons[name]}", "change that")
        if name not in known:
            raise InputError(flag, f"there is no option '{name}'", nearest(name, known))
    return frozenset(known.index(name) for name in names)
