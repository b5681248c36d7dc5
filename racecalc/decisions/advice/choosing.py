"""The set that is worth most after its price, within the budget.

The sets on the way from nothing to everything are looked at first, and from the best of them on
every set that differs by one option, until none is better.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from decimal import Decimal

from racecalc.decisions.advice.spending import Spending
from racecalc.decisions.allowed import clash
from racecalc.decisions.basket.ladder import budgets, climbed
from racecalc.decisions.basket.programme import Programme
from racecalc.decisions.basket.shelf import numbers_of
from racecalc.decisions.basket.slopes import Slopes
from racecalc.decisions.proposals import SHOWN_AS_NONE
from racecalc.quantities.money import amount_text


@dataclass(frozen=True)
class Choice:
    """A set, and all that differ from it by one option.

    Parameters
    ----------
    slopes : Slopes
        Solves every set of the shelf.
    numbers : frozenset of int
        Of the items in it.
    spending : Spending
        What may be spent.
    """

    slopes: Slopes
    numbers: frozenset[int]
    spending: Spending

    @property
    def cost(self) -> Decimal:
        """What the set costs."""
        return self.slopes.shelf.cost_of(self.numbers)

    @property
    def worth(self) -> float:
        """What it is worth, after its price where a second has one."""
        return self.spending.worth(self.slopes.saved(self.numbers), self.cost)

    def change(self, other: frozenset[int]) -> tuple[float, Decimal]:
        """Seconds and money that another set has over this one."""
        slopes = self.slopes
        return (
            slopes.saved(other) - slopes.saved(self.numbers),
            slopes.shelf.cost_of(other) - self.cost,
        )

    def beside(self, number: int) -> frozenset[int]:
        """The set with one more item, and what that needs, in the place of what cannot stay."""
        items = self.slopes.shelf.items
        added = self._with_needs(number)
        kept = {
            at
            for at in self.numbers
            if not any(clash(items[at].option, items[one].option) for one in added)
        }
        return self._without_lame(frozenset(kept | added))

    def without(self, number: int) -> frozenset[int]:
        """The set without an item, what needs it, and what serves nothing but it."""
        rest = self._without_lame(self.numbers - {number})
        return frozenset(at for at in rest if not self._serves_only(at, number, rest))

    def needed_by(self, number: int) -> tuple[str, ...]:
        """Names of those in the set that need an item."""
        shelf = self.slopes.shelf
        name = shelf.items[number].option.name
        return tuple(
            shelf.items[at].option.name
            for at in sorted(self.numbers)
            if name in shelf.items[at].option.ties.needs
        )

    def price_of(self, seconds: float, cost: Decimal) -> str:
        """Money for each second, in words."""
        options = [item.option for item in self.slopes.shelf.items]
        if seconds < SHOWN_AS_NONE:
            return "more than can be told"
        return amount_text(float(cost) / seconds, self.spending.currency(options))

    @property
    def sound(self) -> bool:
        """Whether every bare claim in it is part of a set whose test holds."""
        shelf = self.slopes.shelf
        _, loose = shelf.told_by(self.numbers)
        return all(shelf.items[number].worth.doubt_s is not None for number in loose)

    def neighbours(self) -> Iterator[frozenset[int]]:
        """Every set that differs by one option, or by a tested set, and what goes with it."""
        shelf = self.slopes.shelf
        for number in range(len(shelf.items)):
            yield self.without(number) if number in self.numbers else self.beside(number)
        for test in shelf.tested:
            whole = self
            for number in test.members - self.numbers:
                whole = replace(whole, numbers=whole.beside(number))
            yield whole.numbers

    def _with_needs(self, number: int) -> set[int]:
        shelf = self.slopes.shelf
        found, wanted = {number}, [number]
        while wanted:
            needs = numbers_of(shelf, shelf.items[wanted.pop()].option.ties.needs, "needs")
            wanted += needs - found
            found |= needs
        return found

    def _without_lame(self, numbers: frozenset[int]) -> frozenset[int]:
        """The same without what lacks something that it needs."""
        names = set(self.slopes.shelf.names_of(numbers))
        items = self.slopes.shelf.items
        kept = frozenset(at for at in numbers if names.issuperset(items[at].option.ties.needs))
        return kept if kept == numbers else self._without_lame(kept)

    def _serves_only(self, at: int, number: int, rest: frozenset[int]) -> bool:
        """Whether an item saves nothing itself and was there for another one alone."""
        items = self.slopes.shelf.items
        name = items[at].option.name
        return (
            name in items[number].option.ties.needs
            and items[at].worth.saved_s < SHOWN_AS_NONE
            and not any(name in items[one].option.ties.needs for one in rest)
        )


def best_choice(slopes: Slopes, spending: Spending) -> Choice:
    """Find the set that is worth most.

    Parameters
    ----------
    slopes : Slopes
        Solves every set of the shelf.
    spending : Spending
        What may be spent.

    Returns
    -------
    Choice
        The set.
    """
    programme = Programme(slopes.shelf)
    sets = climbed(slopes, programme, budgets(slopes, programme))
    tried = [Choice(slopes, one, spending) for one in (frozenset[int](), *sets)]
    best = max(filter(_possible, tried), key=lambda one: one.worth)
    while (better := _better(best)) is not None:
        best = better
    return best


def _better(choice: Choice) -> Choice | None:
    tried = (replace(choice, numbers=one) for one in choice.neighbours())
    best = max(filter(_possible, tried), key=lambda one: one.worth, default=choice)
    return best if best.worth > choice.worth + 1e-9 else None


def _possible(choice: Choice) -> bool:
    return choice.spending.allows(choice.cost) and choice.sound
