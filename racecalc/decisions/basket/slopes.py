"""The course time as a function of what a whole set changes, and bounds on its slopes."""

from dataclasses import dataclass
from itertools import product

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.basket.shelf import Shelf, vector
from racecalc.decisions.needed import first_order
from racecalc.decisions.riding import Ridden
from racecalc.domain.race import AXES, Change

UNITS = tuple(Change(**{axis: 1.0}) for axis in AXES)


class Slopes:
    """Solves the race for whole sets and for points in between, each once.

    Parameters
    ----------
    shelf : Shelf
        What may be chosen.
    """

    def __init__(self, shelf: Shelf) -> None:
        self.shelf = shelf
        self._solved: dict[tuple[float, ...], Ridden] = {}

    def ridden(self, point: FloatArray) -> Ridden:
        """The race with a change, given as numbers."""
        key = tuple(float(one) for one in point)
        if key not in self._solved:
            change = Change(**dict(zip(AXES, key, strict=True)))
            self._solved[key] = self.shelf.base.changed(change)
        return self._solved[key]

    def saved(self, chosen: frozenset[int]) -> float:
        """Seconds that a set of items saves, solved in full."""
        return self.shelf.base.time - self.ridden(self.point_of(chosen)).time

    def point_of(self, chosen: frozenset[int]) -> FloatArray:
        """What a set of items changes, as numbers."""
        return vector(self.shelf.change_of(sorted(chosen)))

    def gradient(self, point: FloatArray) -> FloatArray:
        """Exact derivative of the time along each axis at a point, shape (5,)."""
        ridden = self.ridden(point)
        return np.array([first_order(ridden, unit) for unit in UNITS])

    def worths_at(self, chosen: frozenset[int]) -> FloatArray:
        """Seconds that each item and each tested set adds at a set, to first order, shape (n,)."""
        return -self.shelf.changes @ self.gradient(self.point_of(chosen))


@dataclass(frozen=True)
class Box:
    """A range of changes along each axis.

    Parameters
    ----------
    low, high : FloatArray, shape (5,)
        Ends, in SI.
    """

    low: FloatArray
    high: FloatArray

    def corners(self) -> list[FloatArray]:
        """Every corner; an axis without extent counts once."""
        ranges = zip(self.low, self.high, strict=True)
        ends = [(one,) if one == other else (one, other) for one, other in ranges]
        return [np.array(corner) for corner in product(*ends)]

    def halves(self, axis: int) -> tuple["Box", "Box"]:
        """The box cut in two along one axis."""
        low, high = self.low.copy(), self.high.copy()
        low[axis] = high[axis] = 0.5 * (self.low[axis] + self.high[axis])
        return Box(self.low, high), Box(low, self.high)


@dataclass(frozen=True)
class Ceiling:
    """An upper bound on what any set within a box saves: ``constant + objective . z``.

    Parameters
    ----------
    constant : float
        [s]
    objective : FloatArray, shape (n,)
        Seconds that each item and each tested set adds.
    slack : FloatArray, shape (5,)
        Part of the constant that each axis makes necessary [s].
    """

    constant: float
    objective: FloatArray
    slack: FloatArray


def ceiling_over(slopes: Slopes, box: Box) -> Ceiling:
    """Bound what any set within a box saves.

    From the middle p of the box the time changes by the integral of its gradient along the
    straight way to the change x of a set, so that ``T(x) >= T(p) + g . (x - p) - e . |x - p|``
    with the middle g and half the width e of the range of the gradient over the box. That range
    is taken over the corners of the box: along each axis the derivatives rise or fall throughout
    (an assumption, held against full enumeration in the tests).

    Parameters
    ----------
    slopes : Slopes
        Solves the race.
    box : Box
        Where the changes of the sets lie.

    Returns
    -------
    Ceiling
        Bound that is linear in the items chosen.
    """
    gradients = np.array([slopes.gradient(corner) for corner in box.corners()])
    low, high = gradients.min(axis=0), gradients.max(axis=0)
    middle, half = 0.5 * (low + high), 0.5 * (high - low)
    point = 0.5 * (box.low + box.high)
    saved_there = slopes.shelf.base.time - slopes.ridden(point).time
    slack = half * 0.5 * (box.high - box.low)
    constant = saved_there + float(middle @ point) + float(np.sum(slack))
    return Ceiling(constant, -slopes.shelf.changes @ middle, slack)
