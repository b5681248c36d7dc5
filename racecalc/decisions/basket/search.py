"""The best set under a budget, and the proof that no other is better.

Savings nearly add, so an integer program on first-order savings finds good sets; those are solved
in full. The proof cuts the range of possible changes into boxes. Over each box the savings are
bounded by a linear function of the items, whose greatest value an integer program finds. The box
with the greatest bound is searched first: cut in two while its bound is loose, and then set by
set, until no bound lies above the best set found.
"""

import heapq
from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.basket.programme import Programme, Row
from racecalc.decisions.basket.slopes import Box, Ceiling, Slopes, ceiling_over
from racecalc.domain.race import AXES
from racecalc.errors import InputError

LOOSE = 0.1
"""Bound above the set that it was found for from which its box is cut in two [s]; below, that set
alone is ruled out. Our choice between the solves at the corners of a box and those of sets."""

CLOSED = 0.005
"""Bound above the best set at which the proof is done [s]; far below what anyone can measure."""

MOST_SETS = 400
"""Sets that are solved in full before the gap is stated as it stands."""

RESTARTS = 4


@dataclass
class Best:
    """The best set found and what is proved about it.

    Parameters
    ----------
    chosen : frozenset of int
        Numbers of the items.
    saved_s : float
        What it saves [s].
    gap_s : float or None
        No set saves more than `saved_s` and this [s]; None where no bound could be worked out.
    """

    chosen: frozenset[int]
    saved_s: float
    gap_s: float | None


@dataclass(order=True)
class _Open:
    """A box with the bound of the best set in it that was not yet solved."""

    negative_bound: float
    number: int
    box: Box = field(compare=False)
    ceiling: Ceiling = field(compare=False)
    ruled_out: tuple[Row, ...] = field(compare=False)
    candidate: frozenset[int] = field(compare=False)


def climb(
    slopes: Slopes, programme: Programme, conditions: list[Row], start: frozenset[int] | None = None
) -> frozenset[int] | None:
    """Find a good set: an integer program on the slopes at the set that the last one found.

    Parameters
    ----------
    slopes, programme
        Solver and conditions.
    conditions : list of Row
        Further ones, such as the budget.
    start : frozenset of int, optional
        Set whose slopes come first; the bare bike unless given.

    Returns
    -------
    frozenset of int or None
        The best set met; None where nothing meets all conditions.
    """
    best, now = None, start if start is not None else frozenset()
    for _ in range(RESTARTS):
        found = programme.best(thrifty(programme, slopes.worths_at(now)), conditions)
        if found is None:
            return None
        if best is not None and slopes.saved(found) <= slopes.saved(best):
            return best
        best = now = found
    return best


def thrifty(programme: Programme, objective: FloatArray) -> FloatArray:
    """Prefer the cheaper of two sets that save the same: a microsecond for each unit of money."""
    return objective - 1e-6 * programme.costs


def best_set(
    slopes: Slopes, programme: Programme, budget: Decimal, further: Sequence[Row] = ()
) -> Best:
    """Find the set that saves most under a budget, and prove it.

    Parameters
    ----------
    slopes, programme
        Solver and conditions.
    budget : Decimal
        Most that the set may cost.
    further : sequence of Row
        Conditions besides the budget.

    Returns
    -------
    Best
        With the gap to the best that could exist.

    Raises
    ------
    InputError
        If no set meets all conditions.
    """
    conditions = [programme.within(budget), *further]
    first = climb(slopes, programme, conditions)
    if first is None:
        raise InputError(
            "the basket",
            "no set of options meets all conditions",
            "raise the budget, or require less and nothing that shares a slot or excludes another",
        )
    return _proved(slopes, programme, conditions, first)


def _proved(
    slopes: Slopes, programme: Programme, conditions: list[Row], best: frozenset[int]
) -> Best:
    queue = _Queue(slopes, programme, conditions)
    try:
        queue.add(_range_of(slopes, programme, conditions))
        best, bound = _searched(queue, best)
    except InputError:
        # A corner of the range cannot be ridden, though the sets within it can.
        return Best(best, slopes.saved(best), None)
    return Best(best, slopes.saved(best), max(0.0, bound - slopes.saved(best)))


class _Queue:
    """The boxes that may still hold a better set, the greatest bound first."""

    def __init__(self, slopes: Slopes, programme: Programme, conditions: list[Row]) -> None:
        self.slopes, self.programme, self.conditions = slopes, programme, conditions
        self.waiting: list[_Open] = []
        self.number = 0
        self.sizes = np.maximum(np.max(np.abs(slopes.shelf.changes), axis=0, initial=0.0), 1e-12)

    @property
    def bound(self) -> float:
        """Most that any set not yet solved can save [s]."""
        return -self.waiting[0].negative_bound if self.waiting else -np.inf

    def add(
        self, box: Box, ruled_out: tuple[Row, ...] = (), ceiling: Ceiling | None = None
    ) -> None:
        """Put a box into the queue by the bound of its best set, unless none lies in it."""
        ceiling = ceiling or ceiling_over(self.slopes, box)
        within = [self._within(box, axis) for axis in np.flatnonzero(box.low < box.high).tolist()]
        conditions = [*self.conditions, *within, *ruled_out]
        candidate = self.programme.best(ceiling.objective, conditions)
        if candidate is None:
            return
        self.number += 1
        bound = ceiling.constant + float(ceiling.objective @ self.programme.picked(candidate))
        entry = _Open(-bound, self.number, box, ceiling, ruled_out, candidate)
        heapq.heappush(self.waiting, entry)

    def _within(self, box: Box, axis: int) -> Row:
        # Integer programs want coefficients near one.
        size = self.sizes[axis]
        column = self.slopes.shelf.changes[:, axis] / size
        return Row(column, float(box.low[axis] / size), float(box.high[axis] / size))


def _searched(queue: _Queue, best: frozenset[int]) -> tuple[frozenset[int], float]:
    """The best set, and a bound on what any other saves [s]."""
    slopes, programme = queue.slopes, queue.programme
    for _ in range(MOST_SETS):
        if queue.bound <= slopes.saved(best) + CLOSED:
            break
        now = heapq.heappop(queue.waiting)
        if _better(slopes, programme, now.candidate, best):
            best = now.candidate
        if -now.negative_bound - slopes.saved(now.candidate) > LOOSE:
            for half in now.box.halves(int(np.argmax(now.ceiling.slack))):
                queue.add(half, now.ruled_out)
        else:
            again = programme.not_again(now.candidate)
            queue.add(now.box, (*now.ruled_out, again), now.ceiling)
    return best, queue.bound


def _better(
    slopes: Slopes, programme: Programme, one: frozenset[int], other: frozenset[int]
) -> bool:
    gain = slopes.saved(one) - slopes.saved(other)
    cost = programme.shelf.cost_of
    return gain > CLOSED or (gain > -CLOSED and cost(one) < cost(other) and gain > -1e-9)


def _range_of(slopes: Slopes, programme: Programme, conditions: list[Row]) -> Box:
    """Range of what any set changes, by linear programs."""
    low, high = np.zeros(len(AXES)), np.zeros(len(AXES))
    for axis in range(len(AXES)):
        column = slopes.shelf.changes[:, axis]
        # Linear programs work with numbers near one.
        size = float(np.max(np.abs(column), initial=0.0))
        if size:
            least = programme.reach(-column / size, conditions)
            most = programme.reach(column / size, conditions)
            low[axis], high[axis] = -size * (least or 0.0), size * (most or 0.0)
    return Box(low, high)
