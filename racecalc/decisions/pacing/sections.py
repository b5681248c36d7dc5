"""Cutting a course into few sections, each ridden at one power."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from racecalc.arrays import FloatArray
from racecalc.decisions.pacing.plan import Plan

PLACES = 150
"""Places at which a section may begin, evenly along the course; our choice, some 250 m on 40 km."""

SPARED = 0.25
"""Seconds for which one section fewer is taken; our choice, less than anyone can follow."""


@dataclass(frozen=True)
class Sections:
    """Consecutive stretches of a course, in whole steps.

    Parameters
    ----------
    edges : NDArray of int, shape (sections + 1,)
        Numbers of the nodes between them, from 0 to k.
    """

    edges: NDArray[np.intp]

    @property
    def count(self) -> int:
        """How many there are."""
        return len(self.edges) - 1

    def spread(self, levels: FloatArray) -> FloatArray:
        """One value a section for every step of it, shape (k,)."""
        return np.repeat(levels, np.diff(self.edges))

    def ends(self, nodes: FloatArray) -> FloatArray:
        """Where they begin and end, of what stands at every node, shape (sections + 1,)."""
        return nodes[self.edges]

    def mean(self, values: FloatArray, weights: FloatArray) -> FloatArray:
        """Weighted means over the steps of each section."""
        return self.total(values * weights) / self.total(weights)

    def total(self, values: FloatArray) -> FloatArray:
        """Sums over the steps of each section; `values` has the steps last."""
        return np.add.reduceat(values, self.edges[:-1], axis=-1)


def cut(ideal: Plan, most: int, shortest: float, order: float) -> Sections:
    """Cut a course where the ideal power changes, so that one power a section loses least.

    What a section at one power loses to the ideal is taken as the second-order change of the
    time: the squared difference of the powers, weighted by time and by how dear more power is
    there. For that loss the cut is exact (dynamic programming over all places).

    Parameters
    ----------
    ideal : Plan
        The ideal.
    most : int
        Sections at most; fewer where the last ones spare less than `SPARED`.
    shortest : float
        Shortest section [m].
    order : float
        Order of the mean that is held.

    Returns
    -------
    Sections
        From start to finish.
    """
    places = _places(ideal)
    losses = _losses(ideal, places, shortest, order)
    best, before = _shortest_ways(losses, min(most, len(places) - 1))
    final = best[:, -1]
    # So many sections may not fit into the course; one always does.
    count = int(np.argmax(final <= np.min(final) + SPARED))
    chosen = [len(places) - 1]
    for sections in range(count, -1, -1):
        chosen.append(int(before[sections, chosen[-1]]))
    return Sections(places[np.array(chosen[::-1])])


def _places(ideal: Plan) -> NDArray[np.intp]:
    even = np.linspace(0.0, ideal.nodes[-1], PLACES + 1)
    return np.unique([*np.searchsorted(ideal.nodes, even[:-1]).tolist(), len(ideal.nodes) - 1])


def _losses(ideal: Plan, places: NDArray[np.intp], shortest: float, order: float) -> FloatArray:
    """Seconds lost by one power from any place to any later one, shape (places, places)."""
    level = ideal.mean(order)
    # Where a bend or limit decides, no power is better than another.
    free = np.where(ideal.ridden.solution.at_ceiling, 1e-9, ideal.step_time)
    per_watt = -float(np.sum(ideal.by_power(np.ones_like(free)))) / ideal.time
    dear = 0.5 * max(order - 1.0, 1.0) * per_watt / level
    weight = dear * free * np.maximum(ideal.power / level, 0.1) ** max(order - 2.0, 0.0)
    sums = [
        np.concatenate(([0.0], np.cumsum(weight * ideal.power**degree)))[places]
        for degree in (0, 1, 2)
    ]
    one, first, second = (values[None, :] - values[:, None] for values in sums)
    lost = np.maximum(second - first**2 / np.where(one > 0, one, 1.0), 0.0)
    length = ideal.nodes[places][None, :] - ideal.nodes[places][:, None]
    enough = length >= min(shortest, ideal.nodes[-1])
    return np.where((one > 0) & enough, lost, np.inf)


def _shortest_ways(losses: FloatArray, most: int) -> tuple[FloatArray, NDArray[np.intp]]:
    """Least loss to each place with 1, 2 ... sections, and the place before."""
    best, before = [losses[0]], [np.zeros(len(losses), dtype=np.intp)]
    for _ in range(1, most):
        through = best[-1][:, None] + losses
        before.append(np.argmin(through, axis=0))
        best.append(np.min(through, axis=0))
    return np.array(best), np.array(before)
