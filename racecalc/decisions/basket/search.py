"""The best set proved: an integer program, cut until its bound is met.

The integer program behind a basket: which sets of items may be chosen at all. One variable an item
and one a tested set, each 0 or 1. Up to `LISTED` choices of one a slot all are listed; more are
solved exactly by branch and cut (`scipy.optimize.milp`, the HiGHS solver).

The best set under a budget, and the proof that no other is better. Savings nearly add, so an
integer program on first-order savings finds good sets; those are solved in full. The proof cuts the
range of possible changes into boxes. Over each box the savings are bounded by a linear function of
the items, whose greatest value an integer program finds. The box with the greatest bound is
searched first: cut in two while its bound is loose, and then set by set, until no bound lies above
the best set found.
"""

import heapq
import math
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from functools import cached_property

import numpy as np
import scipy
from numpy.typing import NDArray

from racecalc.arrays import FloatArray
from racecalc.decisions.basket.candidates import (
    Box,
    Candidates,
    Ceiling,
    Slopes,
    ceiling_over,
    range_of_gradient,
)
from racecalc.decisions.integer_program import best_choice
from racecalc.domain.race import AXES
from racecalc.errors import InputError

# --- The integer program behind a basket ---------------------------------------------------------

SPENT = 0.98
"""Share of a loss that all options together may save; no bike is without it. Our choice."""

LISTED = 32_768
"""Most choices that are listed: they take a hundredth of a second once, and the best of them a
thousandth; branch and cut takes seven, and to load a fifth of a second. Our choice."""

ROUNDING = 1e-9
"""By how much a condition may be missed by rounding."""


@dataclass(frozen=True)
class Row:
    """A linear condition ``low <= coefficients . z <= high``."""

    coefficients: FloatArray
    """One an item, then one a tested set; shape (n,)."""
    low: float
    high: float
    """Bounds; infinite for none."""


class Programme:
    """All conditions on a basket.

    Parameters
    ----------
    candidates : Candidates
        What may be chosen.
    required : collection of int
        Items that must be chosen.
    per_second : Decimal, optional
        What a second in each of the races counted is worth in all. With it the best set is that of
        the greatest net worth, in seconds that are worth as much; else that of most seconds.
    """

    def __init__(
        self,
        candidates: Candidates,
        required: Collection[int] = (),
        per_second: Decimal | None = None,
    ) -> None:
        self.candidates, self.required, self.per_second = candidates, required, per_second
        self.items = len(candidates.items)
        self.size = self.items + len(candidates.tested)
        self.rows = [*self._ties(), *self._tests(), *self._possible()]
        least = np.zeros(self.size)
        least[list(required)] = 1.0
        self.bounds = (least, np.ones(self.size))
        self.cash, self.costs_s = np.zeros(self.size), np.zeros(self.size)
        self.cash[: self.items] = [float(item.cash) for item in candidates.items]
        if per_second is not None:
            seconds = [item.cost / float(per_second) for item in candidates.items]
            self.costs_s[: self.items] = seconds

    def _row(self, low: float, high: float, **parts: Collection[int]) -> Row:
        coefficients = np.zeros(self.size)
        coefficients[list(parts["plus"])] = 1.0
        coefficients[list(parts.get("minus", ()))] = -1.0
        return Row(coefficients, low, high)

    def _ties(self) -> Iterator[Row]:
        items = self.candidates.items
        for slot in dict.fromkeys(item.option.slot for item in items if item.option.slot):
            members = [one for one, item in enumerate(items) if item.option.slot == slot]
            yield self._row(-np.inf, 1.0, plus=members)
        # Two positions cannot be held at once.
        held = [one for one, item in enumerate(items) if not item.option.holding.always]
        yield self._row(-np.inf, 1.0, plus=held)
        for number, item in enumerate(items):
            for name in item.option.restrictions.needs:
                needed = self.candidates.number_of(name)
                if needed is not None:
                    yield self._row(-np.inf, 0.0, plus=[number], minus=[needed])
            for name in item.option.restrictions.excludes:
                other = self.candidates.number_of(name)
                if other is not None:
                    yield self._row(-np.inf, 1.0, plus=[number, other])

    def _tests(self) -> Iterator[Row]:
        """A tested set counts if and only if all its parts are chosen and no larger one does."""
        tests = self.candidates.tested
        for number, test in enumerate(tests):
            own = self.items + number
            for member in test.members:
                yield self._row(-np.inf, 0.0, plus=[own], minus=[member])
            before = enumerate(tests[:number], start=self.items)
            larger = [other for other, one in before if one.members & test.members]
            for other in larger:
                yield self._row(-np.inf, 1.0, plus=[own, other])
            most = len(test.members) - 1.0
            yield self._row(-np.inf, most, plus=test.members, minus=[own, *larger])

    def _possible(self) -> Iterator[Row]:
        """Claims that together leave less than nothing of a loss contradict each other."""
        for column, whole in zip(self.candidates.changes.T, self.candidates.whole, strict=True):
            size = float(np.max(np.abs(column), initial=0.0))
            if size:
                yield Row(column / size, -SPENT * whole / size, np.inf)

    def within(self, budget: Decimal) -> Row:
        """The budget as a condition: it limits what is paid first."""
        return Row(self.cash, -np.inf, float(budget))

    def cheaper(self, cost: float) -> Row:
        """A limit on what the set costs for the races counted."""
        costs = np.zeros(self.size)
        costs[: self.items] = [item.cost for item in self.candidates.items]
        return Row(costs, -np.inf, cost)

    def sound(self) -> list[Row]:
        """Bare claims only as parts of a set whose test holds, or in use already."""
        tests = list(enumerate(self.candidates.tested, start=self.items))
        return [
            self._row(
                -np.inf,
                0.0,
                plus=[claim],
                minus=[number for number, test in tests if claim in test.members],
            )
            for claim in self.candidates.claims
            if claim not in self.candidates.used
        ]

    def value_s(self, slopes: Slopes, chosen: frozenset[int]) -> float:
        """Seconds that a set saves, less those that its cost is worth."""
        return slopes.saved(chosen) - float(self.costs_s[sorted(chosen)].sum())

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
        more = self._row(1.0, np.inf, plus=others)
        return more, self._row(-np.inf, len(chosen) - 1.0, plus=chosen)

    def picked(self, chosen: frozenset[int]) -> FloatArray:
        """The variables of a set of items: 1 for each and for each test that counts."""
        z = np.zeros(self.size)
        z[list(chosen)] = 1.0
        for test in self.candidates.tests_of(chosen):
            z[self.items + self.candidates.tested.index(test)] = 1.0
        return z

    def allows(self, chosen: frozenset[int], conditions: Sequence[Row]) -> bool:
        """Whether a set meets all conditions."""
        rows = [*self.rows, *conditions]
        return bool(_meeting(self.picked(chosen)[None], rows)[0]) and chosen.issuperset(
            self.required
        )

    def best(self, objective: FloatArray, conditions: Sequence[Row]) -> frozenset[int] | None:
        """Choose the set with the greatest objective."""
        if (allowed := self.listed(conditions)) is None:
            found = best_choice(objective, *self._constraints(conditions), self.bounds)
        else:
            found = allowed[np.argmax(allowed @ objective)] if len(allowed) else None
        return None if found is None else frozenset(np.flatnonzero(found[: self.items]).tolist())

    def listed(self, conditions: Sequence[Row]) -> FloatArray | None:
        """Every choice that meets all conditions, shape (choices, n); None for too many to list."""
        every = self._listed
        return None if every is None else every[_meeting(every, conditions)]

    @cached_property
    def _listed(self) -> FloatArray | None:
        """Every choice that is allowed at all, shape (choices, n); None for more than `LISTED`."""
        alike: dict[str, list[int]] = {}
        for number, item in enumerate(self.candidates.items):
            alike.setdefault(item.option.slot or f"item {number}", []).append(number)
        if self.size and math.prod(len(one) + 1 for one in alike.values()) > LISTED:
            return None
        every, single = np.zeros((1, self.size)), np.eye(self.size)
        for members in alike.values():
            every = np.concatenate([every, *(every + single[member] for member in members)])
        tests = self.candidates.tested
        for own, test in enumerate(tests, start=self.items):
            before = enumerate(tests[: own - self.items], start=self.items)
            larger = [other for other, one in before if one.members & test.members]
            whole = np.all(every[:, list(test.members)] > 0, axis=1)
            every[:, own] = whole & ~np.any(every[:, larger] > 0, axis=1)
        meets = _meeting(every, self.rows) & np.all(every >= self.bounds[0], axis=1)
        return np.asarray(every[meets])

    def reach(self, objective: FloatArray, conditions: Sequence[Row]) -> float | None:
        """No set has a greater value of an objective, by a linear program; None for no set."""
        rows, low, high = self._constraints(conditions)
        upper, lower = np.isfinite(high), np.isfinite(low)
        found = scipy.optimize.linprog(
            -objective,
            A_ub=np.vstack((rows[upper], -rows[lower])),
            b_ub=np.concatenate((high[upper], -low[lower])),
            bounds=np.column_stack(self.bounds),
        )
        return None if found.x is None else -float(found.fun)

    def _constraints(self, conditions: Sequence[Row]) -> tuple[FloatArray, FloatArray, FloatArray]:
        """All rows with their lower and upper bounds."""
        rows = [(row.coefficients, row.low, row.high) for row in (*self.rows, *conditions)]
        coefficients, low, high = (np.array(one) for one in zip(*rows, strict=True))
        return coefficients, low, high


def _meeting(choices: FloatArray, rows: Sequence[Row]) -> NDArray[np.bool_]:
    """Which of some choices, shape (choices, n), meet all rows."""
    meets = np.ones(len(choices), dtype=bool)
    for row in rows:
        sums = choices @ row.coefficients
        meets &= (row.low - ROUNDING <= sums) & (sums <= row.high + ROUNDING)
    return meets


# --- The best set under a budget, and the proof that no other is better --------------------------

LOOSE = 0.1
"""Bound above the set that it was found for from which its box is cut in two [s]; below, that set
alone is ruled out. Our choice between the solves at the corners of a box and those of sets."""

CLOSED = 0.005
"""Bound above the best set at which the proof is done [s]; far below what anyone can measure."""

CLOSED_SHARE = 5e-7
"""The same as a share of the time, which is more from three hours on."""

MEASURABLE = 0.05
"""Gap up to which the best set counts as proved [s]: the tenth of a second shown is the same."""

MOST_SETS = 400
"""Sets that are solved in full before the gap is stated as it is then."""

RESTARTS = 4


@dataclass
class Best:
    """The best set found and what is proved about it."""

    chosen: frozenset[int]
    """Numbers of the items."""
    gap_s: float | None
    """No set is worth more seconds than it and this [s]; None where no bound could be worked out.
    """


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
    slopes: Slopes,
    programme: Programme,
    conditions: list[Row],
    start: frozenset[int] | None = None,
    restarts: int = RESTARTS,
) -> frozenset[int] | None:
    """Find a good set: an integer program on the slopes at the set that the last one found."""
    best, now = None, start if start is not None else frozenset()
    for _ in range(restarts):
        found = programme.best(thrifty(programme, slopes.worths_at(now)), conditions)
        if found is None:
            return None
        if best is not None and programme.value_s(slopes, found) <= programme.value_s(slopes, best):
            return best
        best = now = found
    return best


def thrifty(programme: Programme, objective: FloatArray) -> FloatArray:
    """Take costs off, and prefer the cheaper of two equal sets: a microsecond for each unit."""
    return objective - programme.costs_s - 1e-6 * programme.cash


def best_set(
    slopes: Slopes, programme: Programme, budget: Decimal | None, further: Sequence[Row] = ()
) -> Best:
    """Find the set that is worth most under a budget, or without one, and prove it."""
    conditions = [*([] if budget is None else [programme.within(budget)]), *further]
    first = climb(slopes, programme, conditions)
    if first is None:
        raise InputError(
            "the basket",
            "no set of options meets all conditions",
            "require less, nothing that shares a slot or excludes another, or raise the budget",
        )
    return _proved(slopes, programme, conditions, first)


def _proved(
    slopes: Slopes, programme: Programme, conditions: list[Row], best: frozenset[int]
) -> Best:
    try:
        slopes.learn_directions(range_of(slopes, programme))
        if (listed := programme.listed(conditions)) is not None:
            best, bound = _searched_one_by_one(slopes, programme, listed, best)
        else:
            queue = _Queue(slopes, programme, conditions)
            queue.add(range_of(slopes, programme, conditions))
            best, bound = _searched(queue, best)
    except InputError:
        # A corner of the range cannot be ridden, though the sets within it can.
        return Best(best, None)
    return Best(best, max(0.0, bound - programme.value_s(slopes, best)))


def _closed(slopes: Slopes) -> float:
    return min(max(CLOSED, CLOSED_SHARE * slopes.candidates.now.time), MEASURABLE)


NARROWER = 0.8
"""Share of its extent to which a box must shrink before the slopes at its ends are worked out."""


def _searched_one_by_one(
    slopes: Slopes, programme: Programme, listed: FloatArray, best: frozenset[int]
) -> tuple[frozenset[int], float]:
    """The best of the listed sets, and a bound on what any other is worth [s].

    Between two points of a box that are d apart the time rises by no less than the sum of the
    least of ``g_i d_i`` over the range of each slope g_i in it. So each set that is solved bounds
    all others, and the box shrinks to those that may still be better.
    """
    points, costs = listed @ slopes.candidates.changes, listed @ programme.costs_s
    cash_of, closed, extent = programme.candidates.cash_of, _closed(slopes), np.inf
    units = np.abs(slopes.gradient(slopes.point_of(best)))
    bounds, values = np.full(len(listed), np.inf), np.full(len(listed), np.nan)

    def bound_by(at: int) -> None:
        away = points - points[at]
        rise = np.sum(np.minimum(away * low, away * high), axis=1)
        bounds[:] = np.minimum(bounds, values[at] + costs[at] - costs - rise)

    def number(chosen: frozenset[int]) -> int:
        return int(np.argmax(np.all(listed == programme.picked(chosen), axis=1)))

    at = top = number(best)
    values[at] = programme.value_s(slopes, best)
    for _ in range(MOST_SETS):
        waiting = np.flatnonzero(np.isnan(values) & (bounds > values[top] + closed))
        if not len(waiting):
            break
        box = Box.around(points[[top, *waiting]])
        now = float(units @ (box.high - box.low))
        if now < NARROWER * extent and len(waiting) > len(AXES):
            extent = now
            low, high = range_of_gradient(slopes, box)
            within = np.all((points >= box.low) & (points <= box.high), axis=1)
            for one in np.flatnonzero(~np.isnan(values) & within):
                bound_by(int(one))
            continue
        at = int(waiting[np.argmax(bounds[waiting])])
        chosen = frozenset(np.flatnonzero(listed[at, : programme.items]).tolist())
        values[at] = programme.value_s(slopes, chosen)
        gain = values[at] - values[top]
        if gain > closed or (gain > -1e-9 and cash_of(chosen) < cash_of(best)):
            best, top = chosen, at
        if np.isfinite(extent):
            bound_by(at)
    return best, float(np.max(bounds[np.isnan(values)], initial=-np.inf))


class _Queue:
    """The boxes that may still hold a better set, the greatest bound first."""

    def __init__(self, slopes: Slopes, programme: Programme, conditions: list[Row]) -> None:
        self.slopes, self.programme, self.conditions = slopes, programme, conditions
        self.waiting: list[_Open] = []
        self.number = 0
        changes = np.abs(slopes.candidates.changes)
        self.sizes = np.max(changes, axis=0, initial=1e-12)

    @property
    def bound(self) -> float:
        """Most that any set not yet solved can be worth [s]."""
        return -self.waiting[0].negative_bound if self.waiting else -np.inf

    def add(
        self, box: Box, ruled_out: tuple[Row, ...] = (), ceiling: Ceiling | None = None
    ) -> None:
        """Put a box into the queue by the bound of its best set, unless none lies in it."""
        ceiling = ceiling or ceiling_over(self.slopes, box)
        within = [self._within(box, axis) for axis in np.flatnonzero(box.low < box.high).tolist()]
        objective = ceiling.objective - self.programme.costs_s
        candidate = self.programme.best(objective, [*self.conditions, *within, *ruled_out])
        if candidate is not None:
            self.number += 1
            bound = ceiling.constant + float(objective @ self.programme.picked(candidate))
            entry = _Open(-bound, self.number, box, ceiling, ruled_out, candidate)
            heapq.heappush(self.waiting, entry)

    def _within(self, box: Box, axis: int) -> Row:
        # Integer programs want coefficients near one.
        size = self.sizes[axis]
        column = self.slopes.candidates.changes[:, axis] / size
        return Row(column, float(box.low[axis] / size), float(box.high[axis] / size))


def _searched(queue: _Queue, best: frozenset[int]) -> tuple[frozenset[int], float]:
    """The best set, and a bound on what any other is worth [s]."""
    slopes, programme = queue.slopes, queue.programme
    cash_of, closed = programme.candidates.cash_of, _closed(slopes)

    def value_s(chosen: frozenset[int]) -> float:
        return programme.value_s(slopes, chosen)

    for _ in range(MOST_SETS):
        if queue.bound <= value_s(best) + closed:
            break
        now = heapq.heappop(queue.waiting)
        gain = value_s(now.candidate) - value_s(best)
        if gain > closed or (gain > -1e-9 and cash_of(now.candidate) < cash_of(best)):
            best = now.candidate
        if -now.negative_bound - value_s(now.candidate) > LOOSE:
            for half in now.box.halves(int(np.argmax(now.ceiling.slack))):
                queue.add(half, now.ruled_out)
        else:
            queue.add(now.box, (*now.ruled_out, programme.not_again(now.candidate)), now.ceiling)
    return best, queue.bound


def range_of(slopes: Slopes, programme: Programme, conditions: Sequence[Row] = ()) -> Box:
    """Range of what any set changes, by linear programs where they are too many to list."""
    listed = programme.listed(conditions)
    if listed is not None and len(listed):
        return Box.around(listed @ slopes.candidates.changes)
    low, high = np.zeros(len(AXES)), np.zeros(len(AXES))
    for axis in range(len(AXES)):
        column = slopes.candidates.changes[:, axis]
        # Linear programs work with numbers near one.
        size = float(np.max(np.abs(column), initial=0.0))
        if size:
            least = programme.reach(-column / size, conditions)
            most = programme.reach(column / size, conditions)
            low[axis], high[axis] = -size * (least or 0.0), size * (most or 0.0)
    return Box(low, high)
