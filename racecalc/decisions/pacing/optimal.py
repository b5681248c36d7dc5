"""The ideal and the even ride, sections and their best powers."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from racecalc.arrays import FloatArray
from racecalc.decisions.integer_program import best_choice
from racecalc.decisions.pacing.limits import (
    FOURTH,
    Cap,
    CriticalPower,
    Limits,
    PacingLimit,
    PacingPlan,
    PowerMean,
    highest_on,
    highest_power_for,
    limits_of,
    ridden_at,
    with_checks,
)
from racecalc.decisions.riding import Ridden
from racecalc.errors import InputError
from racecalc.motion.optimum import INSIDE, Wanted, optimum
from racecalc.motion.solver import solve

# --- The ideal -----------------------------------------------------------------------------------

ROUNDS = 4
"""Times that the optimum is sought anew for a level that fades with the time itself, or whose
smoothed mean is off; each takes a tenth of a second."""

NEAR = 1e-4
"""Share of the level within which a mean counts as held."""


def constant_plan(base: Ridden, limit: PowerMean, caps: tuple[Cap, ...] = ()) -> PacingPlan:
    """Constant power that has the same mean as the limit allows, less where a cap says so.

    Where bends, speed limits and caps take power off it lies above the level itself.
    """
    highest = highest_on(Limits((limit,), None, caps), base)
    power, plan = limit.level, ridden_at(base, np.minimum(limit.level, highest))
    for _ in range(20):
        share = limit.held(plan) / limit.level
        if abs(share - 1.0) < 0.01 * NEAR:
            break
        power = float(np.clip(power / share, max(limit.least, 1.0), limit.most))
        plan = ridden_at(base, np.minimum(power, highest), plan)
    return plan


def ideal_plan(base: Ridden, limit: PowerMean | Limits) -> PacingPlan:
    """Spread power so that the time is least and the means of a limit are held, and its caps.

    With ``J = sum of w dt`` and ``w = 1 + sum over the means of m (P^n - L^n)`` it solves, on every
    step, ``sum of m n P^(n - 1) = -(dJ/dP) / dt``, clipped to the least and the most power there,
    with prices ``m`` of 0 or more that are 0 where a mean is not used up.
    """
    whole = limits_of(limit)
    for mean in whole.means:
        _refuse_no_choice(mean)
    highest = highest_on(whole, base)
    even = constant_within(base, replace(whole, above=None))
    if all(mean.held(even) < (1.0 - NEAR) * mean.level for mean in whole.means):
        # Bends and speed limits leave the limit behind even at the most power all along.
        return even
    tightest = _tightest(whole, even)
    plan = _shaped(base, (tightest,), highest, even)
    if _tightest(whole, plan) != tightest:
        plan = _shaped(base, whole.means, highest, even)
    return min(within(base, plan, whole), within(base, even, whole), key=lambda one: one.time)


def _refuse_no_choice(limit: PowerMean) -> None:
    if not limit.least < limit.level < limit.most:
        raise InputError(
            "the power to be spread",
            f"{limit.level:.0f} W does not lie between the least, {limit.least:.0f} W, and the"
            f" most, {limit.most:.0f} W",
            "change pedal_least or pedal_most",
        )


def _tightest(limit: Limits, plan: PacingPlan) -> PowerMean:
    return max(limit.means, key=lambda one: one.held(plan) / one.level)


def _shaped(
    base: Ridden, means: tuple[PowerMean, ...], highest: FloatArray, even: PacingPlan
) -> PacingPlan:
    """The quickest power within the means; one alone is used up."""
    plan, shaped = even, means
    for _ in range(ROUNDS):
        plan = _optimum(base, shaped, highest, plan)
        tightest = max(mean.held(plan) / mean.level for mean in means)
        if abs(tightest - 1.0) < NEAR and not any(one.fade for one in means):
            break
        shaped = tuple(replace(one, level=one.level / tightest) for one in shaped)
    return plan


def _optimum(
    base: Ridden, means: tuple[PowerMean, ...], highest: FloatArray, near: PacingPlan
) -> PacingPlan:
    ride, efficiency = base.solution.ride, base.race.bike.efficiency
    wanted = Wanted(
        np.array([mean.levels(near) for mean in means]),
        np.array([mean.order for mean in means]),
        means[0].least,
        highest,
        efficiency,
    )
    gentle = 0.9 * np.minimum(min(mean.level for mean in means), highest)
    inside = replace(ride, ceiling=INSIDE * ride.ceiling, wheel_power=gentle * efficiency)
    guess = solve(inside, near.ridden.solution.speed).speed
    found = optimum(ride, wanted, guess)
    return ridden_at(base, found.power, near, found.speed)


def within(base: Ridden, plan: PacingPlan, limit: PowerMean | Limits) -> PacingPlan:
    """The same shape of power, scaled so that the means are held and none is exceeded."""
    whole, power = limits_of(limit), plan.power
    highest = highest_on(whole, base)
    for _ in range(20):
        tightest = _tightest(whole, plan)
        share = tightest.held(plan) / tightest.level
        if 1.0 - NEAR < share <= 1.0:
            break
        power = np.clip(power / (share * (1.0 + 0.1 * NEAR)), limit.least, highest)
        plan = ridden_at(base, power, plan)
    return plan


# --- Cutting a course into few sections, each ridden at one power --------------------------------

PLACES = 150
"""Places at which a section may begin, evenly along the course; our choice, some 250 m on 40 km."""

SPARED = 0.25
"""Seconds for which one section fewer is taken; our choice, less than anyone can follow."""


@dataclass(frozen=True)
class Sections:
    """Consecutive stretches of a course, in whole steps."""

    edges: NDArray[np.intp]
    """Numbers of the nodes between them, from 0 to k; shape (sections + 1,)."""

    @property
    def count(self) -> int:
        """How many there are."""
        return len(self.edges) - 1

    def spread(self, levels: FloatArray) -> FloatArray:
        """One value a section for every step of it, shape (k,)."""
        return np.repeat(levels, np.diff(self.edges))

    def ends(self, nodes: FloatArray) -> FloatArray:
        """Where they begin and end, of values at every node, shape (sections + 1,)."""
        return nodes[self.edges]

    def mean(self, values: FloatArray, weights: FloatArray) -> FloatArray:
        """Weighted means over the steps of each section."""
        return self.total(values * weights) / self.total(weights)

    def total(self, values: FloatArray) -> FloatArray:
        """Sums over the steps of each section; `values` has the steps last."""
        return np.add.reduceat(values, self.edges[:-1], axis=-1)


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
    per_watt = -float(np.sum(ideal.by_power(np.ones_like(free)))) / ideal.time
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


# --- The best power of each section within a limit, and the same in whole steps of 5 W -----------

STEPS = (5.0, 2.0, 1.0)
"""Sizes of the steps of a target that are tried, until a card is no slower than wanted [W]; finer
ones than 5 W hardly anybody can hold."""

FTOL = 1e-2
"""Seconds at which the search for the best powers stops."""

TRIES = 30

LISTED = 10_000
"""Cards of whole steps up to which all are tried, in a few thousandths of a second."""

LOWERED = 1e-7 * 2.0 ** np.arange(20)
"""Shares by which the best powers are lowered until the limit is held; a search ends next to it."""


class _Rides:
    """Rides sections at given powers, each once."""

    def __init__(self, base: Ridden, sections: Sections, limit: PacingLimit) -> None:
        self.base, self.sections, self.limit = base, sections, limit
        self.highest = np.minimum.reduceat(highest_on(limit, base), sections.edges[:-1])
        """The most that may be pushed in each section [W]."""
        self._ridden: dict[tuple[float, ...], PacingPlan] = {}
        self._last: PacingPlan | None = None

    def plan(self, levels: FloatArray) -> PacingPlan:
        key = tuple(float(level) for level in levels)
        if key not in self._ridden:
            self._last = ridden_at(self.base, self.sections.spread(levels), self._last)
            self._ridden[key] = self._last
        return self._ridden[key]

    def time_slopes(self, levels: FloatArray) -> FloatArray:
        """Derivative of the time by the power of each section [s/W]."""
        plan = self.plan(levels)
        return self.sections.total(plan.by_power(np.ones_like(plan.power)))

    def room(self, levels: FloatArray) -> FloatArray:
        return self.limit.room(self.plan(levels))

    def room_slopes(self, levels: FloatArray) -> FloatArray:
        return self.sections.total(self.limit.slopes(self.plan(levels)))


def best_levels(
    base: Ridden, sections: Sections, limit: PacingLimit, start: FloatArray
) -> tuple[FloatArray, PacingPlan]:
    """Find the power of each section that takes least time within a limit.

    Sequential quadratic programming (`scipy.optimize.minimize`, SLSQP) with exact derivatives.
    """
    rides = _Rides(base, sections, limit)
    size = float(np.mean(start))
    lowest, highest = max(limit.least, 1.0), np.minimum(rides.highest, 10.0 * size)
    start = np.clip(start, lowest, highest)
    # The search takes second derivatives for one at first: in seconds it would stop the rider on a
    # climb. In thirds of a section's time they are a few; of units tried, this needs fewest rides.
    unit = rides.plan(start).time / (3.0 * sections.count)
    found = minimize(
        lambda x: rides.plan(size * x).time / unit,
        start / size,
        jac=lambda x: size * rides.time_slopes(size * x) / unit,
        bounds=[(lowest / size, one / size) for one in highest],
        constraints={
            "type": "ineq",
            "fun": lambda x: rides.room(size * x),
            "jac": lambda x: size * rides.room_slopes(size * x),
        },
        method="SLSQP",
        options={"ftol": FTOL / unit, "maxiter": 100},
    )
    levels = _held(rides, size * np.asarray(found.x), lowest)
    return levels, rides.plan(levels)


def _held(rides: _Rides, levels: FloatArray, lowest: float) -> FloatArray:
    """Powers lowered by as little as makes them hold the limit for sure."""
    lower = levels
    for share in LOWERED:
        if np.all(rides.room(lower) >= 0.0):
            break
        lower = np.maximum(levels * (1.0 - share), lowest)
    return lower


def rounded_levels(
    base: Ridden, sections: Sections, limit: PacingLimit, levels: FloatArray, even: float
) -> tuple[FloatArray, PacingPlan]:
    """Round the powers of sections to whole steps, within the limit.

    Steps of 5 W; finer ones where these would be slower than constant power, as they may where
    there are few sections.
    """
    rides = _Rides(base, sections, limit)
    found = []
    for step in STEPS:
        rounded = _rounded(rides, levels, step)
        found.append((rounded, rides.plan(rounded)))
        if found[-1][1].time <= even:
            break
    return min(found, key=lambda one: one[1].time)


def _rounded(rides: _Rides, levels: FloatArray, step: float) -> FloatArray:
    """The best levels in steps of one size.

    Each section is ridden at the whole steps around its level, all others as they are. An integer
    program picks one for each, as if their effects on time and limit added up; where the limit is
    not held after all, it is asked for a little more room.
    """
    choices = [
        _whole_steps(rides.limit.least, most, level, step)
        for level, most in zip(levels, rides.highest, strict=True)
    ]
    owner = np.repeat(np.arange(len(levels)), [len(one) for one in choices])
    tried = np.concatenate(choices)
    time, room = rides.plan(levels).time, rides.room(levels)
    plans = [_with(levels, int(one), level) for one, level in zip(owner, tried, strict=True)]
    gain = np.array([time - rides.plan(one).time for one in plans])
    effect = np.array([rides.room(one) - room for one in plans]).T
    pick = _best_listed if np.prod([len(one) for one in choices]) <= LISTED else _best_of_each
    spared = 0.0
    for _ in range(TRIES):
        found = pick(owner, gain, effect, spared - room)
        if found is None:
            break
        rounded = tried[found]
        if np.all(rides.room(rounded) >= 0.0):
            return np.asarray(rounded)
        spared += 2e-4
    lowest = np.array([one[0] for one in choices])
    return _lowered(rides, lowest, step)


def _best_listed(
    owner: NDArray[np.intp], gain: FloatArray, effect: FloatArray, least: FloatArray
) -> NDArray[np.intp] | None:
    """One choice of each section, by trying all: the numbers of the choices."""
    of_each = [np.flatnonzero(owner == section) for section in range(owner[-1] + 1)]
    every = np.stack(np.meshgrid(*of_each, indexing="ij"), axis=-1).reshape(-1, len(of_each))
    held = np.all(np.sum(effect[:, every], axis=2) >= least[:, None], axis=0)
    kept = every[held]
    return kept[np.argmax(np.sum(gain[kept], axis=1))] if len(kept) else None


def _best_of_each(
    owner: NDArray[np.intp], gain: FloatArray, effect: FloatArray, least: FloatArray
) -> NDArray[np.intp] | None:
    """The same for more sections, by an integer program."""
    one_each = (owner == np.arange(owner[-1] + 1)[:, None]).astype(float)
    once = np.ones(len(one_each))
    found = best_choice(
        gain,
        np.vstack((effect, one_each)),
        np.concatenate((least, once)),
        np.concatenate((np.full(len(least), np.inf), once)),
    )
    return None if found is None else np.flatnonzero(found > 0)


def _with(levels: FloatArray, section: int, level: float) -> FloatArray:
    changed = levels.copy()
    changed[section] = level
    return changed


def _whole_steps(least: float, most: float, level: float, step: float) -> FloatArray:
    """Whole steps near a power, two to either side, within the least and the most power.

    One watt is the least that is tried: it is as good as coasting, and no rider is stopped by it.
    """
    near = step * (np.floor(level / step) + np.arange(-2.0, 4.0))
    return np.unique(np.clip(near, max(least, 1.0), most))


def _lowered(rides: _Rides, levels: FloatArray, step: float) -> FloatArray:
    """Whole steps less, where it costs least, until the limit is held."""
    lowest = max(rides.limit.least, step)
    for _ in range(10 * len(levels)):
        if np.all(rides.room(levels) >= 0.0) or np.all(levels <= lowest):
            break
        relief = -np.min(rides.room_slopes(levels), axis=0) / -rides.time_slopes(levels)
        dearest = int(np.argmax(np.where(levels > lowest, relief, -np.inf)))
        levels = _with(levels, dearest, max(levels[dearest] - step, lowest))
    return levels


# --- The ideal and the even ride within either kind of limit -------------------------------------

FINE = 30
"""Sections of the ideal within a critical power; our choice: twice as many gain a tenth of a
second on the demo."""


def constant_within(base: Ridden, limit: PacingLimit) -> PacingPlan:
    """Ride constant power, the highest within a limit, less where a cap says so."""
    whole = limits_of(limit)
    plans = [constant_plan(base, mean, whole.caps) for mean in whole.means]
    slowest = max(plans, key=lambda one: one.time, default=None)
    if slowest and (whole.above is None or np.all(whole.above.room(slowest) >= 0.0)):
        return slowest
    if whole.above is None:
        raise ValueError("nothing is limited")
    return _constant_above_critical(base, whole.above, highest_on(whole, base))


def _constant_above_critical(base: Ridden, limit: CriticalPower, highest: FloatArray) -> PacingPlan:
    """The highest power whose reserve lasts to the finish, by bisection."""
    low, high = limit.critical, min(limit.most, 10.0 * limit.critical)
    plan = ridden_at(base, np.minimum(low, highest))
    while high - low > 0.01:
        middle = 0.5 * (low + high)
        tried = ridden_at(base, np.minimum(middle, highest), plan)
        if np.all(limit.room(tried) >= 0.0):
            low, plan = middle, tried
        else:
            high = middle
    return plan


def ideal_within(base: Ridden, limit: PacingLimit, even: PacingPlan) -> PacingPlan:
    """Find the ideal within a limit.

    Within means it is found at every metre; where a critical power binds, the best of `FINE`
    sections, which are cut where the ideal within a mean changes.
    """
    whole = limits_of(limit)
    shaped = ideal_plan(base, whole if whole.means else _mean_like(whole, even))
    if whole.means and np.all(limit.room(shaped) >= 0.0):
        return shaped
    sections = cut(shaped, FINE, 0.0, FOURTH, highest_on(limit, base))
    start = sections.mean(shaped.power, shaped.step_time)
    checked = with_checks(limit, sections.ends(shaped.nodes))
    _, plan = best_levels(base, sections, checked, start)
    return plan if plan.time < even.time else even


def _mean_like(limit: Limits, even: PacingPlan) -> Limits:
    """A mean of about the size that a critical power allows over the race."""
    able = even.mean()
    if limit.above:
        able = float(highest_power_for(np.array(even.time), limit.above.critical, limit.above.work))
    level = float(np.clip(able, 1.0, 0.99 * limit.most))
    return Limits((PowerMean(level, FOURTH, limit.least, limit.most),), None, limit.caps)
