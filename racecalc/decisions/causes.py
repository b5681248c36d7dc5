"""Which part of a saving comes from air, tyres, chain, mass and power."""

import math
from collections.abc import Mapping
from itertools import combinations

from racecalc.decisions.riding import Ridden
from racecalc.domain.race import AXES, Change


def split_by_cause(base: Ridden, change: Change, known: Mapping[Change, float]) -> dict[str, float]:
    """Split the seconds saved into parts that add up to the whole.

    Each part is the mean of what its cause saves over all orders in which the causes could be
    added (the Shapley value), every one solved in full; so no part depends on a chosen order.

    Parameters
    ----------
    base : Ridden
        The race without the change.
    change : Change
        What is split.
    known : mapping of Change to float
        Times that are solved already [s].

    Returns
    -------
    dict of str to float
        Seconds saved by each of `racecalc.domain.race.AXES`.

    References
    ----------
    Shapley LS. A value for n-person games. Annals of Mathematics Studies 1953;28:307-317.
    """
    active = [name for name in AXES if getattr(change, name)]

    def time_with(part: Change) -> float:
        return known[part] if part in known else base.changed(part).time

    times = {
        causes: time_with(Change(**{name: getattr(change, name) for name in causes}))
        for size in range(len(active) + 1)
        for causes in combinations(active, size)
    }
    parts = dict.fromkeys(AXES, 0.0)
    for name in active:
        others = [other for other in active if other != name]
        for size in range(len(active)):
            weight = 1.0 / (len(active) * math.comb(len(others), size))
            for causes in combinations(others, size):
                with_it = tuple(one for one in active if one in causes or one == name)
                parts[name] += weight * (times[causes] - times[with_it])
    return parts
