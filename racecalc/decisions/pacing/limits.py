"""What a rider can hold, as room that a plan must leave: never less than none.

Every limit tells how much room a plan leaves and how that changes with the power of every step,
so that one method cuts and rounds a card for any of them.
"""

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Protocol

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.pacing.plan import Plan
from racecalc.decisions.pacing.reserve import reserve_along, reserve_slopes

FOURTH = 4.0
"""Order of the mean unless another is asked for; common practice, after the growth of lactate with
about the fourth power of the effort; no source."""


ABOVE = 1.2
"""The most that is pushed over a level that is only tried; our choice."""


class Limit(Protocol):
    """A limit on the power of a plan."""

    @property
    def least(self) -> float:
        """Least power while pedalling [W]."""

    @property
    def most(self) -> float:
        """Most power that is pushed [W]."""

    def room(self, plan: Plan) -> FloatArray:
        """What is left, one value a condition; all zero or more where the limit is held."""

    def slopes(self, plan: Plan) -> FloatArray:
        """Derivative of each by the power of every step, shape (conditions, k)."""

    def words(self) -> str:
        """The limit in plain words."""


@dataclass(frozen=True)
class PowerMean:
    """A mean of the power over time, of any order.

    Parameters
    ----------
    level : float
        Highest mean [W].
    order : float
        1 for the plain mean, 4 for the 4th-power mean.
    least, most : float
        Least power while pedalling, and the most that is pushed [W].
    fade : float
        Share of `level` that is lost in an hour.
    """

    level: float
    order: float = FOURTH
    least: float = 0.0
    most: float = np.inf
    fade: float = 0.0

    def levels(self, plan: Plan) -> FloatArray:
        """What can be held on each step, fading with the time since the start [W], shape (k,)."""
        middle = 0.5 * (plan.elapsed[:-1] + plan.elapsed[1:])
        return np.maximum(self.level * (1.0 - self.fade * middle / 3600.0), 1.0)

    def held(self, plan: Plan) -> float:
        """The mean of a plan, in watts at the start [W]."""
        share = (plan.pedalled / self.levels(plan)) ** self.order
        return float(self.level * np.average(share, weights=plan.step_time) ** (1.0 / self.order))

    def room(self, plan: Plan) -> FloatArray:
        """Share of the level that the mean leaves, shape (1,)."""
        return np.array([1.0 - self.held(plan) / self.level])

    def slopes(self, plan: Plan) -> FloatArray:
        """Derivative of the room by the power of every step [1/W], shape (1, k)."""
        levels, n = self.levels(plan), self.order
        share = (plan.pedalled / levels) ** n
        mean = float(np.average(share, weights=plan.step_time))
        own = n * share / np.maximum(plan.pedalled, 1e-6) * plan.step_time
        change = plan.by_power(share - mean, own) / plan.time
        by_mean = mean ** (1.0 / n - 1.0) / n
        return np.array([-by_mean * change])

    def words(self) -> str:
        """The limit in plain words."""
        name = "mean" if self.order == 1 else f"{ordinal(self.order)}-power mean"
        fading = f", fading by {100 * self.fade:.1f} % an hour" if self.fade else ""
        return f"{name} over time of at most {self.level:.0f} W{fading}"


def ordinal(order: float) -> str:
    """An order as it is read: 4th, 3rd, 2.5th."""
    return f"{order:g}" + {1.0: "st", 2.0: "nd", 3.0: "rd"}.get(order, "th")


@dataclass(frozen=True)
class CriticalPower:
    """Critical power with work above it, which is never used up along the way.

    Parameters
    ----------
    critical : float
        Critical power [W].
    work : float
        Work above it [J].
    least, most : float
        Least power while pedalling, and the most that is pushed [W].
    refill : float
        Factor on the speed at which the reserve comes back below critical power; 0 for none.
    checks : tuple of float
        Distances at which the reserve is looked at besides every node [m]; the ends of sections.
    """

    critical: float
    work: float
    least: float = 0.0
    most: float = np.inf
    refill: float = 1.0
    checks: tuple[float, ...] = ()

    def reserve(self, plan: Plan) -> FloatArray:
        """Work above critical power left at every node [J], shape (k + 1,)."""
        return reserve_along(plan.pedalled, plan.step_time, self.critical, self.work, self.refill)

    def _lowest(self, plan: Plan) -> list[int]:
        """The node of least reserve between any two checks."""
        reserve = self.reserve(plan)
        edges = np.searchsorted(plan.nodes, self.checks)
        edges = np.unique(np.concatenate(([0], edges, [len(reserve) - 1])))
        return [
            int(start + 1 + np.argmin(reserve[start + 1 : end + 1]))
            for start, end in pairwise(edges)
        ]

    def room(self, plan: Plan) -> FloatArray:
        """Least share of the reserve in each stretch between checks, shape (stretches,)."""
        return self.reserve(plan)[self._lowest(plan)] / self.work

    def slopes(self, plan: Plan) -> FloatArray:
        """Derivative of the room by the power of every step [1/W], shape (stretches, k)."""
        nodes = self._lowest(plan)
        found = reserve_slopes(
            plan.pedalled, plan.step_time, self.critical, self.work, nodes, self.refill
        )
        rows = [
            plan.by_power(weights, own)
            for own, weights in zip(found.power, found.step_time, strict=True)
        ]
        return np.array(rows) / self.work

    def words(self) -> str:
        """The limit in plain words."""
        return f"{self.critical:.0f} W critical power with {self.work / 1000:.1f} kJ above it"


@dataclass(frozen=True)
class Both:
    """A mean, and critical power with the work above it.

    Parameters
    ----------
    mean : PowerMean
        Its least and most power count.
    above : CriticalPower
        What is never used up.
    """

    mean: PowerMean
    above: CriticalPower

    @property
    def least(self) -> float:
        """Least power while pedalling [W]."""
        return self.mean.least

    @property
    def most(self) -> float:
        """Most power that is pushed [W]."""
        return self.mean.most

    def room(self, plan: Plan) -> FloatArray:
        """Room of the mean, then of the reserve, shape (1 + stretches,)."""
        return np.concatenate((self.mean.room(plan), self.above.room(plan)))

    def slopes(self, plan: Plan) -> FloatArray:
        """Derivative of each by the power of every step [1/W], shape (1 + stretches, k)."""
        return np.concatenate((self.mean.slopes(plan), self.above.slopes(plan)))

    def words(self) -> str:
        """The limit in plain words."""
        return f"{self.mean.words()}, and {self.above.words()}"


PacingLimit = PowerMean | CriticalPower | Both


def mean_of(limit: PacingLimit) -> PowerMean | None:
    """The mean in a limit, if it holds one."""
    if isinstance(limit, Both):
        return limit.mean
    return limit if isinstance(limit, PowerMean) else None


def critical_of(limit: PacingLimit) -> CriticalPower | None:
    """The critical power in a limit, if it holds one."""
    if isinstance(limit, Both):
        return limit.above
    return limit if isinstance(limit, CriticalPower) else None


def with_checks(limit: PacingLimit, places: FloatArray) -> PacingLimit:
    """The same limit, its reserve looked at between places [m]."""
    checks = tuple(places.tolist())
    if isinstance(limit, Both):
        return replace(limit, above=replace(limit.above, checks=checks))
    return replace(limit, checks=checks) if isinstance(limit, CriticalPower) else limit


def scaled(limit: PacingLimit, factor: float) -> PacingLimit:
    """What a rider could hold who is so many times as strong; the work above stays.

    So does the most that is pushed, as long as it lies far enough above.
    """
    mean, above = mean_of(limit), critical_of(limit)
    highest = max(mean.level if mean else 0.0, above.critical if above else 0.0)
    most = max(limit.most, ABOVE * factor * highest)
    if mean:
        mean = replace(mean, level=factor * mean.level, most=most)
    if above:
        above = replace(above, critical=factor * above.critical, most=most)
    return Both(mean, above) if mean and above else mean or above or limit
