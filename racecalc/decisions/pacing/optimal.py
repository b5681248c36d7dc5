"""The even and the ideal ride within limits, and where to cut a course into sections."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from racecalc.arrays import FloatArray
from racecalc.decisions.pacing.critical_power import highest_power_for
from racecalc.decisions.pacing.levels import RiddenSections, best_levels, best_roughly
from racecalc.decisions.pacing.limits import CriticalPower, Limits, PowerMean
from racecalc.decisions.pacing.plans import PacingPlan, Sections, coarser, ridden_at
from racecalc.decisions.riding import Ridden
from racecalc.errors import InputError
from racecalc.motion.optimum import INSIDE, PowerBounds, optimum
from racecalc.motion.solver import solve

# --- Constant power within limits ----------------------------------------------------------------

NEAR = 1e-4
"""Share of the level within which a mean counts as held."""


def constant_within(base: Ridden, limit: Limits) -> PacingPlan:
    """Ride constant power, the highest within a limit, less where a cap says so.

    Where bends, speed limits and caps take power off it lies above the level of a mean itself.
    """
    highest = limit.highest(base)
    plans = [_constant_at(base, mean, limit, highest) for mean in limit.means]
    slowest = max(plans, key=lambda one: one.time, default=None)
    if slowest and (limit.above is None or np.all(limit.above.room(slowest) >= 0.0)):
        return slowest
    if limit.above is None:
        raise ValueError("nothing is limited")
    return _constant_above_critical(base, limit.above, limit.most, highest)


def _constant_at(base: Ridden, mean: PowerMean, limit: Limits, highest: FloatArray) -> PacingPlan:
    power, plan = mean.level, ridden_at(base, np.minimum(mean.level, highest))
    for _ in range(20):
        share = mean.held(plan) / mean.level
        if abs(share - 1.0) < 0.01 * NEAR:
            break
        power = float(np.clip(power / share, max(limit.least, 1.0), limit.most))
        plan = ridden_at(base, np.minimum(power, highest), plan)
    return plan


def _constant_above_critical(
    base: Ridden, above: CriticalPower, most: float, highest: FloatArray
) -> PacingPlan:
    """The highest power whose reserve lasts to the finish, by bisection."""
    low, high = above.critical, min(most, 10.0 * above.critical)
    plan = ridden_at(base, np.minimum(low, highest))
    while high - low > 0.01:
        middle = 0.5 * (low + high)
        tried = ridden_at(base, np.minimum(middle, highest), plan)
        if np.all(above.room(tried) >= 0.0):
            low, plan = middle, tried
        else:
            high = middle
    return plan


# --- The ideal -----------------------------------------------------------------------------------

ROUNDS = 4
"""Times that the optimum is sought anew for a level that fades with the time itself."""

FINE = 30
"""Sections of the best ride where no ideal is found at every metre; our choice: twice as many gain
a tenth of a second on the demo."""

STRAIGHT = 1.01
"""Order of a mean up to which power may jump without a price, so that alone it has no ideal that
could be ridden."""

ALIKE = 2.0
"""Differences of power within which two sets of sections count as one [W]."""

SHAPED = 2.0
"""Order of the mean by whose ideal a course is cut for a plain mean."""


def ideal_within(base: Ridden, limit: Limits, even: PacingPlan) -> PacingPlan:
    """Find the quickest ride within a limit.

    Within means it is found at every metre (`ideal_plan`). A plain mean alone lets power jump
    between the least and the most, and a critical power has no price that stays: there it is the
    best of `FINE` sections, cut where the ideal within another mean changes.
    """
    _refuse_no_reserve(base, limit)
    shapes = limit.means or (_like(limit, even),)
    straight = all(mean.order < STRAIGHT for mean in shapes)
    if straight:
        shapes = tuple(replace(mean, order=SHAPED) for mean in shapes)
    shaped = ideal_plan(base, replace(limit, means=shapes, above=None))
    if limit.means and not straight and np.all(limit.room(shaped) >= 0.0):
        return shaped
    sections = cut(shaped, FINE, 0.0, shapes[0].order, limit.highest(base))
    limit = limit.checked(sections.ends(shaped.nodes))
    starts = levels_near(base, sections, limit, shaped, even)
    plans = [best_levels(base, sections, limit, one.levels, shaped).plan for one in starts]
    return min((*plans, even), key=limit.rank)


def levels_near(
    base: Ridden, sections: Sections, limit: Limits, near: PacingPlan, even: PacingPlan
) -> list[RiddenSections]:
    """The best powers of sections, found on few nodes from those of a ride nearby.

    Without a mean of a higher order, and at critical power, there may be several that no small
    change improves: then from halfway to an even ride and from that ride too.
    """
    start, flat = (sections.mean(one.power, one.step_time) for one in (near, even))
    several = bool(limit.above) or all(mean.order < STRAIGHT for mean in limit.means)
    coarse = coarser(base, sections)
    found: list[RiddenSections] = []
    for share in (0.0, 0.5, 1.0) if several else (0.0,):
        best = best_roughly(coarse, limit, start + share * (flat - start))
        if not any(np.all(np.abs(best.levels - other.levels) < ALIKE) for other in found):
            found.append(best)
    return found


def _like(limit: Limits, even: PacingPlan) -> PowerMean:
    """A mean of about the size that a critical power allows over the race."""
    able = even.mean()
    if limit.above:
        able = highest_power_for(even.time, limit.above.critical, limit.above.work)
    return PowerMean(float(np.clip(able, 1.0, 0.99 * limit.most)))


def ideal_plan(base: Ridden, limit: Limits) -> PacingPlan:
    """Spread power so that the time is least and the means of a limit are held, and its caps.

    With ``J = sum of w dt`` and ``w = 1 + sum over the means of m (P^n - L^n)`` it solves, on every
    step, ``sum of m n P^(n - 1) = -(dJ/dP) / dt``, clipped to the least and the most power there,
    with prices ``m`` of 0 or more that are 0 where a mean is not used up. A plain mean needs
    another next to it.
    """
    limit = replace(limit, above=None)
    for mean in limit.means:
        _refuse_no_choice(mean, limit)
    highest = limit.highest(base)
    even = constant_within(base, limit)
    if all(mean.held(even) < (1.0 - NEAR) * mean.level for mean in limit.means):
        # Bends and speed limits leave the limit behind even at the most power all along.
        return even
    if len(highest) == 1:
        return _within(base, even, limit)
    tightest, plan = _tightest(limit, even), None
    if tightest.order >= STRAIGHT:
        plan = _shaped(base, replace(limit, means=(tightest,)), highest, even)
    if plan is None or _tightest(limit, plan) != tightest:
        plan = _shaped(base, limit, highest, even)
    return min(_within(base, plan, limit), _within(base, even, limit), key=limit.rank)


def _refuse_no_choice(mean: PowerMean, limit: Limits) -> None:
    if not limit.least < mean.level < limit.most:
        raise InputError(
            "the power to be spread",
            f"{mean.level:.0f} W does not lie between the least, {limit.least:.0f} W, and the"
            f" most, {limit.most:.0f} W",
            "change pedal_least or pedal_most",
        )


def _refuse_no_reserve(base: Ridden, limit: Limits) -> None:
    above, least = limit.above, limit.least
    if above is None or least <= above.critical:
        return
    plan = ridden_at(base, np.full(len(base.solution.ride.middle), least))
    missing = -float(np.min(above.reserve(plan)))
    if missing > 0.0:
        raise InputError(
            f"{base.race.name}, rider.pedal_least",
            f"{least:.0f} W all along takes {missing / 1000:.1f} kJ more than the"
            f" {above.work / 1000:.1f} kJ above a critical power of {above.critical:.0f} W",
            "lower pedal_least, or check critical power and the work above it",
        )


def _tightest(limit: Limits, plan: PacingPlan) -> PowerMean:
    return max(limit.means, key=lambda one: one.held(plan) / one.level)


def _shaped(base: Ridden, limit: Limits, highest: FloatArray, even: PacingPlan) -> PacingPlan:
    """The quickest power within the means; one alone is used up."""
    plan, means = even, limit.means
    for _ in range(ROUNDS):
        plan = _optimum(base, replace(limit, means=means), highest, plan)
        tightest = max(mean.held(plan) / mean.level for mean in limit.means)
        if abs(tightest - 1.0) < NEAR and not any(one.fade for one in means):
            break
        means = tuple(replace(one, level=one.level / tightest) for one in means)
    return plan


def _optimum(base: Ridden, limit: Limits, highest: FloatArray, near: PacingPlan) -> PacingPlan:
    ride, efficiency, means = base.solution.ride, base.race.bike.efficiency, limit.means
    bounds = PowerBounds(
        np.array([mean.levels(near) for mean in means]),
        np.array([mean.order for mean in means]),
        limit.least,
        highest,
        efficiency,
    )
    gentle = 0.9 * np.minimum(min(mean.level for mean in means), highest)
    inside = replace(ride, ceiling=INSIDE * ride.ceiling, wheel_power=gentle * efficiency)
    guess = solve(inside, near.ridden.solution.speed).speed
    found = optimum(ride, bounds, guess)
    return replace(ridden_at(base, found.power, near, found.speed), settled=found.converged)


def _within(base: Ridden, plan: PacingPlan, limit: Limits) -> PacingPlan:
    """The same shape of power, scaled so that the means are held and none is exceeded."""
    power, highest, settled = plan.power, limit.highest(base), plan.settled
    for _ in range(20):
        tightest = _tightest(limit, plan)
        share = tightest.held(plan) / tightest.level
        if 1.0 - NEAR < share <= 1.0:
            break
        power = np.clip(power / (share * (1.0 + 0.1 * NEAR)), limit.least, highest)
        plan = ridden_at(base, power, plan)
    return plan if settled else replace(plan, settled=False)


# --- Cutting a course into few sections, each ridden at one power --------------------------------

PLACES = 150
"""Places at which a section may begin, evenly along the course; our choice, some 250 m on 40 km."""

SPARED = 0.25
"""Seconds for which one section fewer is taken; our choice, less than anyone can follow."""


def cut(
    ideal: PacingPlan, most: int, shortest: float, order: float, highest: FloatArray | None = None
) -> Sections:
    """Cut a course where the ideal power changes, so that one power a section loses least.

    What a section at one power loses to the ideal is taken as the second-order change of the
    time: the squared difference of the powers, weighted by time and by how dear more power is
    there. For that loss the cut is exact (dynamic programming over all places). `highest` is the
    most that may be pushed on each step [W], which a section keeps to all along.
    """
    if highest is None:
        highest = np.full(len(ideal.power), np.inf)
    places = _places(ideal, highest)
    losses = _losses(ideal, places, shortest, order, highest)
    best, before = _shortest_ways(losses, min(most, len(places) - 1))
    final = best[:, -1]
    # So many sections may not fit into the course; one always does.
    count = int(np.argmax(final <= np.min(final) + SPARED))
    chosen = [len(places) - 1]
    for sections in range(count, -1, -1):
        chosen.append(int(before[sections, chosen[-1]]))
    return Sections(places[np.array(chosen[::-1])])


def _places(ideal: PacingPlan, highest: FloatArray) -> NDArray[np.intp]:
    even = np.linspace(0.0, ideal.nodes[-1], PLACES + 1)
    places = np.searchsorted(ideal.nodes, even[:-1]).tolist()
    caps = np.flatnonzero(highest[1:] != highest[:-1]) + 1
    return np.unique([*places, *caps.tolist(), len(ideal.nodes) - 1])


def _losses(
    ideal: PacingPlan,
    places: NDArray[np.intp],
    shortest: float,
    order: float,
    highest: FloatArray,
) -> FloatArray:
    """Seconds lost by one power from any place to any later one, shape (places, places)."""
    level = ideal.mean(order)
    # Where a bend or limit decides, no power is better than another.
    free = np.where(ideal.ridden.solution.at_ceiling, 1e-9, ideal.step_time)
    per_watt = -float(np.sum(ideal.time_by_power)) / ideal.time
    dear = 0.5 * max(order - 1.0, 1.0) * per_watt / level
    weight = dear * free * np.maximum(ideal.power / level, 0.1) ** max(order - 2.0, 0.0)
    sums = [
        np.concatenate(([0.0], np.cumsum(weight * ideal.power**degree)))[places]
        for degree in (0, 1, 2)
    ]
    one, first, second = (values[None, :] - values[:, None] for values in sums)
    ridden = np.minimum(first / np.where(one > 0, one, 1.0), _lowest_between(highest, places))
    lost = np.maximum(second - 2.0 * ridden * first + ridden**2 * one, 0.0)
    length = ideal.nodes[places][None, :] - ideal.nodes[places][:, None]
    enough = length >= min(shortest, ideal.nodes[-1])
    return np.where((one > 0) & enough, lost, np.inf)


def _lowest_between(highest: FloatArray, places: NDArray[np.intp]) -> FloatArray:
    """Least of the values on the steps from any place to any later one."""
    pieces = np.append(np.minimum.reduceat(highest, places[:-1]), np.inf)
    found = np.full((len(places), len(places)), np.inf)
    for start in range(len(places) - 1):
        found[start, start + 1 :] = np.minimum.accumulate(pieces[start:-1])
    return found


def _shortest_ways(losses: FloatArray, most: int) -> tuple[FloatArray, NDArray[np.intp]]:
    """Least loss to each place with 1, 2 ... sections, and the place before."""
    best, before = [losses[0]], [np.zeros(len(losses), dtype=np.intp)]
    for _ in range(1, most):
        through = best[-1][:, None] + losses
        before.append(np.argmin(through, axis=0))
        best.append(np.min(through, axis=0))
    return np.array(best), np.array(before)
