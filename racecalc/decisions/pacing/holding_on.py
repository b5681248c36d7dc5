"""The ideal and the even ride within either kind of limit."""

import numpy as np

from racecalc.decisions.pacing.ideal import constant_plan, ideal_plan
from racecalc.decisions.pacing.levels import best_levels
from racecalc.decisions.pacing.limits import (
    FOURTH,
    CriticalPower,
    PacingLimit,
    PowerMean,
    critical_of,
    mean_of,
    with_checks,
)
from racecalc.decisions.pacing.plan import Plan, ridden_at
from racecalc.decisions.pacing.reserve import highest_power_for
from racecalc.decisions.pacing.sections import cut
from racecalc.decisions.riding import Ridden

FINE = 30
"""Sections of the ideal within a critical power; our choice: twice as many gain a tenth of a
second on the demo."""


def constant_within(base: Ridden, limit: PacingLimit) -> Plan:
    """Ride one power all along, the highest within a limit."""
    if isinstance(limit, CriticalPower):
        return _constant_above_critical(base, limit)
    if isinstance(limit, PowerMean):
        return constant_plan(base, limit)
    by_mean = constant_plan(base, limit.mean)
    if np.all(limit.above.room(by_mean) >= 0.0):
        return by_mean
    return _constant_above_critical(base, limit.above)


def _constant_above_critical(base: Ridden, limit: CriticalPower) -> Plan:
    """The highest power whose reserve lasts to the finish, by bisection."""
    steps = len(base.solution.ride.wheel_power)
    low, high = limit.critical, min(limit.most, 10.0 * limit.critical)
    plan = ridden_at(base, np.full(steps, low))
    while high - low > 0.01:
        middle = 0.5 * (low + high)
        tried = ridden_at(base, np.full(steps, middle), plan)
        if np.all(limit.room(tried) >= 0.0):
            low, plan = middle, tried
        else:
            high = middle
    return plan


def ideal_within(base: Ridden, limit: PacingLimit, even: Plan) -> Plan:
    """Find the ideal within a limit.

    Within a mean it is found at every metre; where a critical power binds, over `FINE` sections,
    which are cut where the ideal within a mean changes.

    Parameters
    ----------
    base : Ridden
        The race.
    limit : PowerMean, CriticalPower or Both
        What may be held.
    even : Plan
        One power all along, as of `constant_within`.

    Returns
    -------
    Plan
        Within the limit.

    Raises
    ------
    InputError
        If the limit leaves nothing to choose.
    """
    shaped = ideal_plan(base, mean_of(limit) or _mean_like(limit, even))
    if np.all(limit.room(shaped) >= 0.0):
        return shaped
    sections = cut(shaped, FINE, 0.0, FOURTH)
    start = sections.mean(shaped.power, shaped.step_time)
    checked = with_checks(limit, sections.ends(shaped.nodes))
    _, plan = best_levels(base, sections, checked, start)
    return plan if plan.time < even.time else even


def _mean_like(limit: PacingLimit, even: Plan) -> PowerMean:
    """A mean of about the size that a critical power allows over the race."""
    above = critical_of(limit)
    able = even.mean() if above is None else _able(above, even.time)
    return PowerMean(float(np.clip(able, 1.0, 0.99 * limit.most)), FOURTH, limit.least, limit.most)


def _able(limit: CriticalPower, time: float) -> float:
    return float(highest_power_for(np.array(time), limit.critical, limit.work))
