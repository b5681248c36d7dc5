"""The integer program behind a basket: which sets of items may be chosen at all.

One variable an item and one a tested set, each 0 or 1. Solved exactly by branch and cut
(`scipy.optimize.milp`, the HiGHS solver).
"""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal

import numpy as np
from scipy.optimize import linprog

from racecalc.arrays import FloatArray
from racecalc.decisions.basket.shelf import Shelf
from racecalc.decisions.integer_program import best_choice

SPENT = 0.98
"""Share of a loss that all options together may save; no bike is without it. Our choice."""


@dataclass(frozen=True)
class Row:
    """A linear condition ``low <= coefficients . z <= high``.

    Parameters
    ----------
    coefficients : FloatArray, shape (n,)
        One an item, then one a tested set.
    low, high : float
        Bounds; infinite for none.
    """

    coefficients: FloatArray
    low: float
    high: float


class Programme:
    """All conditions on a basket.

    Parameters
    ----------
    shelf : Shelf
        What may be chosen.
    required : collection of int
        Items that must be chosen.
    """

    def __init__(self, shelf: Shelf, required: Collection[int] = ()) -> None:
        self.shelf = shelf
        self.items = len(shelf.items)
        self.size = self.items + len(shelf.tested)
        self.rows = [*self._ties(), *self._tests(), *self._possible()]
        least = np.zeros(self.size)
        least[list(required)] = 1.0
        self.bounds = (least, np.ones(self.size))
        self.costs = np.zeros(self.size)
        self.costs[: self.items] = [float(item.cost) for item in shelf.items]

    def _row(self, low: float, high: float, **parts: Collection[int]) -> Row:
        coefficients = np.zeros(self.size)
        coefficients[list(parts["plus"])] = 1.0
        coefficients[list(parts.get("minus", ()))] = -1.0
        return Row(coefficients, low, high)

    def _ties(self) -> Iterator[Row]:
        items = self.shelf.items
        slots = dict.fromkeys(item.option.slot for item in items if item.option.slot)
        for slot in slots:
            members = [one for one, item in enumerate(items) if item.option.slot == slot]
            yield self._row(-np.inf, 1.0, plus=members)
        # Two positions cannot be held at once.
        held = [one for one, item in enumerate(items) if not item.option.holding.always]
        yield self._row(-np.inf, 1.0, plus=held)
        for number, item in enumerate(items):
            for name in item.option.ties.needs:
                needed = self.shelf.number_of(name)
                if needed is not None:
                    yield self._row(-np.inf, 0.0, plus=[number], minus=[needed])
            for name in item.option.ties.excludes:
                other = self.shelf.number_of(name)
                if other is not None:
                    yield self._row(-np.inf, 1.0, plus=[number, other])

    def _tests(self) -> Iterator[Row]:
        """A tested set counts if and only if all its parts are chosen and no larger one does."""
        tests = self.shelf.tested
        for number, test in enumerate(tests):
            own = self.items + number
            for member in test.members:
                yield self._row(-np.inf, 0.0, plus=[own], minus=[member])
            larger = [
                self.items + other
                for other, one in enumerate(tests[:number])
                if one.members & test.members
            ]
            for one in larger:
                yield self._row(-np.inf, 1.0, plus=[own, one])
            yield self._row(
                -np.inf, len(test.members) - 1.0, plus=test.members, minus=[own, *larger]
            )

    def _possible(self) -> Iterator[Row]:
        """Claims that together leave less than nothing of a loss contradict each other."""
        for column, whole in zip(self.shelf.changes.T, self.shelf.whole, strict=True):
            size = float(np.max(np.abs(column), initial=0.0))
            if size:
                yield Row(column / size, -SPENT * whole / size, np.inf)

    def within(self, budget: Decimal) -> Row:
        """The budget as a condition."""
        return Row(self.costs, -np.inf, float(budget))

    def not_again(self, chosen: Collection[int]) -> Row:
        """Any set of items but this one."""
        others = set(range(self.items)) - set(chosen)
        return self._row(1.0 - len(chosen), np.inf, plus=others, minus=chosen)

    def without(self, numbers: Collection[int]) -> Row:
        """Any set without some items."""
        return self._row(-np.inf, 0.0, plus=numbers)

    def swapped(self, chosen: Collection[int]) -> tuple[Row, Row]:
        """Any set that lacks something of this one and holds something else."""
        others = set(range(self.items)) - set(chosen)
        return (
            self._row(1.0, np.inf, plus=others),
            self._row(-np.inf, len(chosen) - 1.0, plus=chosen),
        )

    def picked(self, chosen: frozenset[int]) -> FloatArray:
        """The variables of a set of items: 1 for each and for each test that counts."""
        z = np.zeros(self.size)
        z[list(chosen)] = 1.0
        z[[self.items + self.shelf.tested.index(test) for test in self.shelf.tests_of(chosen)]] = (
            1.0
        )
        return z

    def best(self, objective: FloatArray, conditions: Sequence[Row]) -> frozenset[int] | None:
        """Choose the set with the greatest objective.

        Parameters
        ----------
        objective : FloatArray, shape (n,)
            What each variable adds.
        conditions : sequence of Row
            Besides those of the shelf itself.

        Returns
        -------
        frozenset of int or None
            Numbers of the chosen items; None where nothing meets all conditions.
        """
        if not self.size:
            return frozenset()
        found = best_choice(objective, *self._constraints(conditions), self.bounds)
        if found is None:
            return None
        return frozenset(np.flatnonzero(found[: self.items]).tolist())

    def reach(self, objective: FloatArray, conditions: Sequence[Row]) -> float | None:
        """Greatest value of an objective where shares of items are allowed; None for no set."""
        if not self.size:
            return 0.0
        rows, low, high = self._constraints(conditions)
        upper, lower = np.isfinite(high), np.isfinite(low)
        found = linprog(
            -objective,
            A_ub=np.vstack((rows[upper], -rows[lower])),
            b_ub=np.concatenate((high[upper], -low[lower])),
            bounds=np.column_stack(self.bounds),
        )
        return None if found.x is None else -float(found.fun)

    def _constraints(self, conditions: Sequence[Row]) -> tuple[FloatArray, FloatArray, FloatArray]:
        """All rows with their lower and upper bounds."""
        rows = [*self.rows, *conditions]
        return (
            np.array([row.coefficients for row in rows]),
            np.array([row.low for row in rows]),
            np.array([row.high for row in rows]),
        )
