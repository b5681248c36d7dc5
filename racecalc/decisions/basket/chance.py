"""The set with the greatest chance of saving at least so many seconds.

With independent normal doubts the chance rises with ``(m - t) / sqrt(V)``, m and V the sums of
what the items save and of their variances, t the wanted seconds. Where the chance is at least one
half this is quasi-convex in (m, V), so the best set lies on the upper hull of all (m, V) and
maximises ``m - k V`` for some k: an integer program each. Below one half the best set need not
lie there, and the best of the hull is what is found.

References
----------
Geoffrion AM. Solving bicriterion mathematical programs. Operations Research 1967;15:39-54
(from memory).
"""

import math

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.basket.programme import Programme, Row
from racecalc.decisions.basket.slopes import Slopes
from racecalc.decisions.verdicts import chance_faster

SAME = 1e-9


def chance_of(slopes: Slopes, chosen: frozenset[int], target: float) -> float | None:
    """Chance that a set saves at least so many seconds; None where a doubt is not known."""
    doubt = doubt_of(slopes, chosen)
    return chance_faster(slopes.saved(chosen) - target, doubt)


def doubt_of(slopes: Slopes, chosen: frozenset[int]) -> float | None:
    """Standard uncertainty of what a set saves [s], doubts independent; None if not known."""
    variances = slopes.shelf.variances(chosen)
    known = [variance for variance in variances if variance is not None]
    return math.sqrt(sum(known)) if len(known) == len(variances) else None


def surest_set(
    slopes: Slopes,
    programme: Programme,
    conditions: list[Row],
    start: frozenset[int],
    target: float,
) -> tuple[frozenset[int], int]:
    """Find the set with the greatest chance of saving at least the target.

    Parameters
    ----------
    slopes, programme
        Solver and conditions; every item states its doubt.
    conditions : list of Row
        Further ones, such as the budget.
    start : frozenset of int
        The set that saves most.
    target : float
        Wanted seconds [s].

    Returns
    -------
    chosen : frozenset of int
        Numbers of the items.
    looked_at : int
        Number of sets on the hull that were compared.
    """
    means = slopes.worths_at(start)
    variances = _additive_variances(slopes)
    sets = {start}
    for sign in (1.0, -1.0):
        end = programme.best(-sign * variances, conditions)
        if end is not None:
            sets |= _hull(programme, conditions, (means, variances), start, end)

    def chance(chosen: frozenset[int]) -> float:
        found = chance_of(slopes, chosen, target)
        return -1.0 if found is None else found

    best = max(sorted(sets, key=sorted), key=lambda one: (chance(one), slopes.saved(one)))
    return best, len(sets)


def _additive_variances(slopes: Slopes) -> FloatArray:
    shelf = slopes.shelf
    items = [(item.worth.doubt_s or 0.0) ** 2 for item in shelf.items]
    gaps = [
        (test.doubt_s or 0.0) ** 2 - sum(items[member] for member in test.members)
        for test in shelf.tested
    ]
    return np.array([*items, *gaps])


def _hull(
    programme: Programme,
    conditions: list[Row],
    axes: tuple[FloatArray, FloatArray],
    one: frozenset[int],
    other: frozenset[int],
) -> set[frozenset[int]]:
    """All sets on the hull of (mean, variance) between two that lie on it."""
    (m1, v1), (m2, v2) = (_sums(programme, axes, chosen) for chosen in (one, other))
    if abs(v1 - v2) < SAME:
        return {one, other}
    weight = (m1 - m2) / (v1 - v2)
    between = programme.best(axes[0] - weight * axes[1], conditions)
    if between is None or between in (one, other):
        return {one, other}
    mean, variance = _sums(programme, axes, between)
    if mean - weight * variance <= m1 - weight * v1 + SAME:
        return {one, other}
    return _hull(programme, conditions, axes, one, between) | _hull(
        programme, conditions, axes, between, other
    )


def _sums(
    programme: Programme, axes: tuple[FloatArray, FloatArray], chosen: frozenset[int]
) -> tuple[float, float]:
    picked = programme.picked(chosen)
    return float(axes[0] @ picked), float(axes[1] @ picked)
