"""A plan of the rider's own: ridden, held against the limits and set next to the quickest."""

from dataclasses import dataclass
from typing import Annotated

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.pacing.limits import FOURTH, LimitKept, Limits, PowerMean, watts_of
from racecalc.decisions.pacing.optimal import constant_within, ideal_within
from racecalc.decisions.pacing.plans import PacingPlan, Sections, ridden_at
from racecalc.decisions.riding import STANDSTILL, Ridden
from racecalc.errors import InputError
from racecalc.written import HIDDEN, written

FITS = 0.01
"""Share of the course by which a plan may end before or after it; our choice."""


@dataclass(frozen=True)
class PlannedSection:
    """One section of the plan."""

    from_m: float
    to_m: float
    """Where it begins and ends [m]."""
    power_w: float
    """What is planned, at the power meter [W]."""
    best_w: float
    """Mean over time of the quickest ride as hard [W]."""
    time_s: float
    elapsed_s: float
    """Time on it, and since the start at its end [s]."""
    given_away_s: float
    """What it gives away to the quickest ride as hard, the effort counted at its price in seconds;
    all sections add up to what the plan gives away [s].
    """


@dataclass(frozen=True)
class OwnPlan:
    """A plan of the rider's own."""

    source: Annotated[str, HIDDEN]
    """Where it comes from."""
    sections: tuple[PlannedSection, ...]
    """From start to finish."""
    time_s: float
    """With the plan [s]."""
    best_time_s: float
    """Of the quickest ride as hard, by the means alone [s]."""
    mean_power_w: float
    """Mean over time of the power pedalled [W]."""
    power_mean_w: float
    power_mean_order: float
    """Power mean over time at which both are as hard [W], and its order."""
    most_w: float
    """The most that the rider pushes, where the race file says so or as assumed [W]."""
    limits: tuple[LimitKept, ...]
    """Each limit, and what the plan comes to."""

    @written
    def given_away_s(self) -> float:
        """Seconds lost to the quickest ride as hard [s]."""
        return self.time_s - self.best_time_s

    @written
    def held(self) -> bool:
        """Whether it keeps within every limit and the most that is pushed."""
        return all(one.held for one in self.limits)


def own_plan(
    base: Ridden, limit: Limits, source: str, ends: FloatArray, watts: FloatArray
) -> OwnPlan:
    """Ride a plan.

    Parameters
    ----------
    base : Ridden
        The race.
    limit : Limits
        What is held.
    source : str
        Where the plan comes from, for messages.
    ends : FloatArray, shape (n,)
        Where each section ends [m], rising.
    watts : FloatArray, shape (n,)
        What is planned on each [W].

    Raises
    ------
    InputError
        If the plan does not end where the course does, or stops the rider.
    """
    sections, watts, plan = _ridden(base, source, ends, watts)
    equal = _reached(limit, plan)
    best = ideal_within(base, equal, constant_within(base, equal))
    mean = equal.means[0]
    return OwnPlan(
        source=source,
        sections=_sections(sections, watts, plan, best, _given_away(equal, plan, best)),
        time_s=plan.time,
        best_time_s=best.time,
        mean_power_w=plan.mean(),
        power_mean_w=mean.level,
        power_mean_order=mean.order,
        most_w=limit.most,
        limits=limit.each_kept(plan),
    )


def stated_plan(base: Ridden, limit: Limits) -> OwnPlan | None:
    """Ride the plan of the race file; None where it states none."""
    plan, place = base.race.rider.pacing_plan, "rider.pacing_plan"
    if not plan:
        return None
    ends = np.array([one.end for one in plan])
    watts = np.array([watts_of(base, one.level, place) for one in plan])
    return own_plan(base, limit, place, ends, watts)


def _ridden(
    base: Ridden, place: str, ends: FloatArray, watts: FloatArray
) -> tuple[Sections, FloatArray, PacingPlan]:
    """The plan on the nodes of the race, its sections of no step left out, and the ride."""
    nodes = base.solution.ride.nodes
    if abs(ends[-1] / nodes[-1] - 1.0) > FITS:
        raise InputError(
            place,
            f"it ends at {ends[-1] / 1000:.2f} km, but the course at {nodes[-1] / 1000:.2f} km",
            "give sections from the start to the finish",
        )
    edges = np.concatenate(
        ([0], np.minimum(np.searchsorted(nodes, ends[:-1]), len(nodes) - 1), [len(nodes) - 1])
    )
    kept = np.diff(edges) > 0
    sections, watts = Sections(np.append(edges[:-1][kept], edges[-1])), watts[kept]
    try:
        plan = ridden_at(base, sections.spread(watts))
    except InputError as error:
        raise error.at(place) from error
    speed = sections.speed(plan)
    if np.min(speed) < STANDSTILL:
        slow = int(np.argmin(speed))
        raise InputError(
            place,
            f"{watts[slow]:.0f} W all but stop the rider on section {slow + 1}",
            "give it more power",
        )
    return sections, watts, plan


def _reached(limit: Limits, plan: PacingPlan) -> Limits:
    """The means that the plan comes to; the most that is pushed is as high as the plan's."""
    means = limit.at_means_of(plan).means or (PowerMean(plan.mean(FOURTH)),)
    most = max(limit.most, 1.001 * float(np.max(plan.power)))
    least = min(limit.least, 0.999 * float(np.min(plan.power)))
    return Limits(means, None, limit.caps, least, most)


def _given_away(limit: Limits, plan: PacingPlan, best: PacingPlan) -> FloatArray:
    """Seconds that each step gives away, time and effort together, shape (k,).

    With ``w = 1 + sum of m (P^n / L^n - 1)`` and the prices ``m`` of the quickest ride, the sum of
    ``w dt`` of the plan less that of the quickest is the time that it loses, as both come to L.
    """
    prices = _prices(limit, best)

    def weighed(ride: PacingPlan) -> FloatArray:
        shares = [(ride.pedalled / one.levels(ride)) ** one.order - 1.0 for one in limit.means]
        return (1.0 + prices @ np.array(shares)) * ride.step_time

    lost = weighed(plan) - weighed(best)
    # The quickest ride may leave a little of its mean.
    rest = plan.time - best.time - float(np.sum(lost))
    return lost + rest * plan.step_time / plan.time


def _prices(limit: Limits, best: PacingPlan) -> FloatArray:
    """Seconds for a unit of each mean at the quickest ride, from the steps that are free."""
    solution = best.ridden.solution
    highest = limit.highest(best.ridden)
    free = ~solution.at_ceiling & (best.power < 0.99 * highest) & (best.power > limit.least + 5.0)
    by_room = np.concatenate([one.slopes(best) for one in limit.means])
    by_time = best.time_by_power
    worth, *_ = np.linalg.lstsq(by_room[:, free].T, by_time[free], rcond=None)
    orders = np.array([one.order for one in limit.means])
    return np.asarray(np.maximum(worth, 0.0) / (orders * best.time))


def _sections(
    sections: Sections,
    watts: FloatArray,
    plan: PacingPlan,
    best: PacingPlan,
    lost: FloatArray,
) -> tuple[PlannedSection, ...]:
    time = sections.total(plan.step_time)
    ends = sections.ends(plan.nodes)
    best_w = sections.mean(best.pedalled, best.step_time)
    rows = (ends[:-1], ends[1:], watts, best_w, time, np.cumsum(time), sections.total(lost))
    return tuple(PlannedSection(*map(float, row)) for row in zip(*rows, strict=True))
