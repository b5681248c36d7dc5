"""The ideal: the power at every metre that takes least time within a limit."""

from dataclasses import replace

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.pacing.limits import PowerMean
from racecalc.decisions.pacing.plan import Plan, ridden_at
from racecalc.decisions.riding import Ridden
from racecalc.errors import InputError
from racecalc.motion.optimum import INSIDE, Wanted, optimum
from racecalc.motion.solver import solve

ROUNDS = 4
"""Times that the optimum is sought anew for a level that fades with the time itself, or whose
smoothed mean is off; each takes a tenth of a second."""

NEAR = 1e-4
"""Share of the level within which a mean counts as held."""


def constant_plan(base: Ridden, limit: PowerMean) -> Plan:
    """One power all along that has the same mean as the limit allows.

    Where bends and speed limits make the rider coast it lies above the level itself.

    Parameters
    ----------
    base : Ridden
        The race.
    limit : PowerMean
        What may be held.

    Returns
    -------
    Plan
        Its mean is within `NEAR` of the level, or its power the most that is pushed.
    """
    power, plan = limit.level, ridden_at(base, np.full(_steps(base), limit.level))
    for _ in range(20):
        share = limit.held(plan) / limit.level
        if abs(share - 1.0) < 0.01 * NEAR:
            break
        power = float(np.clip(power / share, max(limit.least, 1.0), limit.most))
        plan = ridden_at(base, np.full(_steps(base), power), plan)
    return plan


def ideal_plan(base: Ridden, limit: PowerMean) -> Plan:
    """Spread power so that the time is least and the limit is held.

    Parameters
    ----------
    base : Ridden
        The race.
    limit : PowerMean
        What may be held; the most that is pushed must lie above its level.

    Returns
    -------
    Plan
        Its mean lies at the level, never above it, and below only where the most power all
        along leaves it there; never slower than one power all along.

    Raises
    ------
    InputError
        If the least or the most power leaves nothing to choose.
    """
    if not limit.least < limit.level < limit.most:
        raise InputError(
            "the power to be spread",
            f"{limit.level:.0f} W does not lie between the least, {limit.least:.0f} W, and the"
            f" most, {limit.most:.0f} W",
            "change pedal_least or pedal_most",
        )
    even = constant_plan(base, limit)
    if limit.held(even) < (1.0 - NEAR) * limit.level:
        # Bends and speed limits leave the limit behind even at the most power all along.
        return even
    plan, level = even, limit.level
    for _ in range(ROUNDS):
        shaped = replace(limit, level=level)
        plan = _optimum(base, shaped, plan)
        share = limit.held(plan) / limit.level
        if abs(share - 1.0) < NEAR and not limit.fade:
            break
        level /= share
    return min(within(base, plan, limit), within(base, even, limit), key=lambda one: one.time)


def _optimum(base: Ridden, limit: PowerMean, near: Plan) -> Plan:
    ride = base.solution.ride
    wanted = Wanted(
        limit.levels(near), limit.order, limit.least, limit.most, base.race.bike.efficiency
    )
    gentle = 0.9 * limit.level * base.race.bike.efficiency
    inside = replace(ride, ceiling=INSIDE * ride.ceiling, wheel_power=np.full(_steps(base), gentle))
    guess = solve(inside, near.ridden.solution.speed).speed
    found = optimum(ride, wanted, guess)
    return ridden_at(base, found.power, near, found.speed)


def within(base: Ridden, plan: Plan, limit: PowerMean) -> Plan:
    """The same shape of power, scaled so that the mean is held and not exceeded.

    Parameters
    ----------
    base : Ridden
        The race.
    plan : Plan
        Near the limit.
    limit : PowerMean
        What may be held.

    Returns
    -------
    Plan
        With its mean at the level or less than `NEAR` below.
    """
    power: FloatArray = plan.power
    for _ in range(20):
        share = limit.held(plan) / limit.level
        if 1.0 - NEAR < share <= 1.0:
            break
        power = np.clip(power / (share * (1.0 + 0.1 * NEAR)), limit.least, limit.most)
        plan = ridden_at(base, power, plan)
    return plan


def _steps(base: Ridden) -> int:
    return len(base.solution.ride.wheel_power)
