"""What a rider can hold: mean, 4th-power mean, critical power and its reserve.

The differential form of Skiba PF, Fulford J, Clarke DC, Vanhatalo A, Jones AM. Eur J Appl Physiol
2015;115:703-713 (form from memory): above critical power the reserve W falls by what is done above
it, dW/dt = -(P - CP); below, it comes back the slower the fuller it is, dW/dt = (1 - W/W')(CP - P).
Both are solved exactly over a step of constant power.

How fast it comes back is not sure: half took 232 s in the leg extensions of that study, and a
second recovery is slower than the first (Chorley A, Bott RP, Marwood S, Lamb KL. Eur J Appl Physiol
2022;122:677-689, pages from memory). `refill` scales the speed of recovery, so that a band can be
shown from none at all (0) to that of the formula (1).
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from racecalc.arrays import FloatArray
from racecalc.decisions.evidence.least_squares import Design, fit
from racecalc.decisions.riding import Ridden
from racecalc.decisions.timing import pedalled
from racecalc.domain.course import grade_of
from racecalc.domain.race import Race, Rider
from racecalc.errors import InputError
from racecalc.motion.adjoint import weighted_time_by_power
from racecalc.motion.ride import Ride
from racecalc.motion.solver import Solution, solve, solve_lower
from racecalc.quantities.clock import show_duration

# --- A race ridden with power that changes along the course --------------------------------------

COASTING = 0.01
"""Power taken for none [W]: the solver wants some everywhere."""


@dataclass(frozen=True)
class PacingPlan:
    """A race and its solution with a power for every step."""

    ridden: Ridden
    """The race; its solution holds the powers of the plan."""

    @property
    def time(self) -> float:
        """Over the course [s]."""
        return self.ridden.time

    @cached_property
    def power(self) -> FloatArray:
        """Planned on each step, at the power meter [W], shape (k,)."""
        return self.ridden.solution.ride.wheel_power / self.ridden.race.bike.efficiency

    @cached_property
    def pedalled(self) -> FloatArray:
        """Ridden on each step: less than planned where a speed ceiling decides [W], shape (k,)."""
        return pedalled(self.ridden)

    @property
    def step_time(self) -> FloatArray:
        """On each step [s], shape (k,)."""
        return self.ridden.solution.step_time

    @property
    def elapsed(self) -> FloatArray:
        """Since the start at every node [s], shape (k + 1,)."""
        return self.ridden.solution.elapsed

    @property
    def nodes(self) -> FloatArray:
        """Distance of every node [m], shape (k + 1,)."""
        return self.ridden.solution.ride.nodes

    @property
    def stretches(self) -> int:
        """How many stretches of one planned power there are."""
        return 1 + int(np.count_nonzero(np.diff(self.power)))

    def mean(self, order: float = 1.0) -> float:
        """Mean of an order over time of the power pedalled [W]."""
        return float(np.average(self.pedalled**order, weights=self.step_time) ** (1.0 / order))

    def distance_mean(self) -> float:
        """Mean over distance of the power pedalled [W]."""
        return float(np.average(self.pedalled, weights=np.diff(self.nodes)))

    def by_power(self, weights: FloatArray, by_pedalled: FloatArray | None = None) -> FloatArray:
        """Derivative of a weighted sum of step times by the power planned on every step.

        With `by_pedalled` the sum counts the power pedalled on every step too, so weighted.
        """
        efficiency, solution = self.ridden.race.bike.efficiency, self.ridden.solution
        if by_pedalled is None:
            return weighted_time_by_power(solution, weights) * efficiency
        found = weighted_time_by_power(solution, weights, by_pedalled / efficiency) * efficiency
        return np.where(solution.at_ceiling, 0.0, by_pedalled) + found


def ridden_at(
    base: Ridden, power: FloatArray, near: PacingPlan | None = None, guess: FloatArray | None = None
) -> PacingPlan:
    """Ride a race with a power for every step."""
    wheel = np.maximum(power, COASTING) * base.race.bike.efficiency
    if guess is None:
        guess = (near.ridden if near else base).solution.speed
    ride = replace(base.solution.ride, wheel_power=wheel)
    return PacingPlan(Ridden(base.race, _on_nodes(ride, solve(ride, guess))))


def _on_nodes(ride: Ride, solution: Solution) -> Solution:
    """The speeds at the nodes asked for, where the solver laid more for a rider who is very slow.

    Sections count steps, and so need the same nodes in every ride.
    """
    if len(solution.ride.nodes) == len(ride.nodes):
        return solution
    asked = np.searchsorted(solution.ride.nodes, ride.nodes)
    return Solution(ride, solution.speed[asked], solution.at_ceiling[asked[1:] - 1], 0)


# --- The work above critical power that a rider has left, along a ride and at its nodes ----------


def reserve_along(
    power: FloatArray, step_time: FloatArray, critical: float, work: float, refill: float = 1.0
) -> FloatArray:
    """Work above critical power that is left at every node, from a full reserve.

    Parameters
    ----------
    power : FloatArray, shape (k,)
        Power on each step [W], constant within it.
    step_time : FloatArray, shape (k,)
        Duration of each step [s].
    critical : float
        Critical power [W].
    work : float
        Work above critical power of a rested rider [J], above 0.
    refill : float
        Factor on the speed of recovery; 0 for none.

    Returns
    -------
    FloatArray, shape (k + 1,)
        [J]; the first is `work`. Below 0 the plan asks for more than there is.

    Raises
    ------
    ValueError
        If `work` is not positive or `refill` is negative.

    References
    ----------
    Skiba et al. 2015, see the head of the module.

    Examples
    --------
    100 s at 100 W above, then 200 s, the time constant W'/(CP - P), at 100 W below:

    >>> reserve_along(np.array([350.0, 150.0]), np.array([100.0, 200.0]), 250.0, 20e3)
    array([20000.  , 10000.  , 16321.2])
    """
    fading, spent = _chain(power, step_time, critical, work, refill)
    return work - _missing(np.exp(fading), spent)


def reserve_slopes(
    power: FloatArray,
    step_time: FloatArray,
    critical: float,
    work: float,
    nodes: list[int],
    refill: float = 1.0,
) -> tuple[FloatArray, FloatArray]:
    """Derivatives of the reserve at chosen nodes by the power and the duration of every step.

    What a step takes fades on the way to a node with what comes back in between. At exactly
    critical power, where the reserve has a kink, the slope is that of more power.
    """
    fading, spent = _chain(power, step_time, critical, work, refill)
    kept = np.exp(fading)
    missing = _missing(kept, spent)[:-1]
    above = power >= critical
    recovered = kept * missing * refill / work
    by_power = np.where(above, step_time, recovered * step_time)
    by_time = np.where(above, power - critical, recovered * (power - critical))
    faded, at = np.concatenate(([0.0], np.cumsum(fading))), np.array(nodes)[:, None]
    before = np.arange(1, len(faded)) <= at
    weights = np.exp(np.where(before, faded[at] - faded[1:], -np.inf))
    return -weights * by_power, -weights * by_time


def _chain(
    power: FloatArray, step_time: FloatArray, critical: float, work: float, refill: float
) -> tuple[FloatArray, FloatArray]:
    """Logarithm of the share of what is missing that stays so over each step, and what it adds [J].

    Counted as missing from W', a step below critical power multiplies and one above it adds.
    """
    if not work > 0:
        raise ValueError("work above critical power must be positive")
    if not refill >= 0:
        raise ValueError("refill must not be negative")
    above = power - critical
    fading = refill * np.minimum(above, 0.0) * step_time / work
    return fading, np.maximum(above, 0.0) * step_time


def _missing(kept: FloatArray, spent: FloatArray) -> FloatArray:
    """What is missing at every node [J]: m[i + 1] = kept[i] m[i] + spent[i], from nothing."""
    return solve_lower(np.ones(len(kept) + 1), -kept, np.concatenate([[0.0], spent]))


def time_to_exhaustion(power: FloatArray, critical: float, work: float) -> FloatArray:
    """How long a constant power can be held: W'/(P - CP).

    Parameters
    ----------
    power : FloatArray
        Constant power [W], any shape.
    critical : float
        Critical power [W].
    work : float
        Work above critical power [J].

    Returns
    -------
    FloatArray
        [s], shape of `power`; infinite at or below critical power, where the model knows no end
        (a rider does; the model is useful within about 2 to 30 min, Skiba PF, Clarke DC. IJSPP
        2021;16:1561-1572).

    References
    ----------
    Monod H, Scherrer J. Ergonomics 1965;8:329-338 (form from memory).

    Examples
    --------
    >>> time_to_exhaustion(np.array([282.0, 302.0]), 282.0, 17e3)
    array([ inf, 850.])
    """
    above = np.asarray(power, dtype=float) - critical
    safe = np.where(above > 0, above, 1.0)
    return np.where(above > 0, work / safe, np.inf)


def highest_power_for(time: FloatArray, critical: float, work: float) -> FloatArray:
    """Highest constant power that can be held for a time: CP + W'/t.

    Parameters
    ----------
    time : FloatArray
        Duration [s], above 0, any shape.
    critical : float
        Critical power [W].
    work : float
        Work above critical power [J].

    Returns
    -------
    FloatArray
        [W], shape of `time`.

    References
    ----------
    Monod H, Scherrer J. Ergonomics 1965;8:329-338 (form from memory).

    Examples
    --------
    >>> highest_power_for(np.array([850.0]), 282.0, 17e3)
    array([302.])
    """
    return np.asarray(critical + work / np.asarray(time, dtype=float))


def demand(power: float, time: float, critical: float, work: float) -> str:
    """Say what a constant power takes of the reserve, as in "300 W for 14:36 takes ...".

    Examples
    --------
    >>> demand(300.0, 875.8, 282.0, 17e3)
    '300 W for 14:36 uses 15.8 kJ of the 17 kJ above 282 W'
    """
    held = f"{power:.4g} W for {show_duration(time)}"
    if power <= critical:
        return f"{held} uses none of the {_kj(work)} above {critical:.4g} W"
    taken = (power - critical) * time
    return f"{held} uses {_kj(taken)} of the {_kj(work)} above {critical:.4g} W"


def contradictions(race_power: float, time: float, critical: float, work: float) -> tuple[str, ...]:
    """Say where a race power, its predicted time, critical power and reserve do not go together.

    A power above critical power empties the reserve after W'/(P - CP); a race that takes longer
    cannot be ridden at it, if all the numbers are right.
    """
    lasts = float(time_to_exhaustion(np.asarray(race_power), critical, work))
    if time <= lasts:
        return ()
    most = float(highest_power_for(np.asarray(time), critical, work))
    return (
        f"{demand(race_power, time, critical, work)}: not possible with these numbers,"
        f" which allow {race_power:.4g} W for {show_duration(math.floor(lasts))} or"
        f" {math.floor(most * 10) / 10:.1f} W for {show_duration(time)}. Lower the power, or check"
        " critical power and the work above it.",
    )


def _kj(work: float) -> str:
    return f"{round(work / 1000, 1):g} kJ"


# --- What a rider can hold, as room that a plan must leave ---------------------------------------

FOURTH = 4.0
"""Order of the mean unless another is asked for; common practice, after the growth of lactate with
about the fourth power of the effort; no source."""


ABOVE = 1.2
"""The most that is pushed over a level that is only tried; our choice."""


@dataclass(frozen=True)
class PowerMean:
    """A mean of the power over time, of any order."""

    level: float
    """Highest mean [W]."""
    order: float = FOURTH
    """1 for the plain mean, 4 for the 4th-power mean."""
    least: float = 0.0
    most: float = np.inf
    """Least power while pedalling, and the most that is pushed [W]."""
    fade: float = 0.0
    """Share of `level` that is lost in an hour."""

    def levels(self, plan: PacingPlan) -> FloatArray:
        """What can be held on each step, fading with the time since the start [W], shape (k,)."""
        middle = 0.5 * (plan.elapsed[:-1] + plan.elapsed[1:])
        return np.maximum(self.level * (1.0 - self.fade * middle / 3600.0), 1.0)

    def held(self, plan: PacingPlan) -> float:
        """The mean of a plan, in watts at the start [W]."""
        share = (plan.pedalled / self.levels(plan)) ** self.order
        return float(self.level * np.average(share, weights=plan.step_time) ** (1.0 / self.order))

    def room(self, plan: PacingPlan) -> FloatArray:
        """Share of the level that the mean leaves, shape (1,)."""
        return np.array([1.0 - self.held(plan) / self.level])

    def slopes(self, plan: PacingPlan) -> FloatArray:
        """Derivative of the room by the power of every step [1/W], shape (1, k)."""
        levels, n = self.levels(plan), self.order
        share = (plan.pedalled / levels) ** n
        mean = float(np.average(share, weights=plan.step_time))
        own = n * share / np.maximum(plan.pedalled, 1e-6) * plan.step_time
        change = plan.by_power(share - mean, own) / plan.time
        # Where nothing is pedalled at all, more of it is free.
        by_mean = mean ** (1.0 / n - 1.0) / n if mean else 0.0
        return np.array([-by_mean * change])

    def words(self) -> str:
        """The limit in plain words."""
        name = "mean" if self.order == 1 else f"{ordinal(self.order)}-power mean"
        fading = f", less {100 * self.fade:.1f} % per hour" if self.fade else ""
        return f"{name} of at most {self.level:.0f} W{fading}"


def ordinal(order: float) -> str:
    """An order as it is read: 4th, 3rd, 2.5th."""
    return f"{order:g}" + {1.0: "st", 2.0: "nd", 3.0: "rd"}.get(order, "th")


@dataclass(frozen=True)
class CriticalPower:
    """Critical power with work above it, which is never used up along the way."""

    critical: float
    """Critical power [W]."""
    work: float
    """Work above it [J]."""
    least: float = 0.0
    most: float = np.inf
    """Least power while pedalling, and the most that is pushed [W]."""
    refill: float = 1.0
    """Factor on the speed at which the reserve comes back below critical power; 0 for none."""
    checks: tuple[float, ...] = ()
    """Where the reserve is looked at in addition to every node [m]; the ends of sections."""

    def reserve(self, plan: PacingPlan) -> FloatArray:
        """Work above critical power left at every node [J], shape (k + 1,)."""
        return reserve_along(plan.pedalled, plan.step_time, self.critical, self.work, self.refill)

    def _lowest(self, plan: PacingPlan) -> list[int]:
        """The node of least reserve between any two checks."""
        reserve = self.reserve(plan)
        edges = np.searchsorted(plan.nodes, self.checks)
        edges = np.unique(np.concatenate(([0], edges, [len(reserve) - 1]))) + 1
        return [int(a + np.argmin(reserve[a:b])) for a, b in pairwise(edges)]

    def room(self, plan: PacingPlan) -> FloatArray:
        """Least share of the reserve in each stretch between checks, shape (stretches,)."""
        return self.reserve(plan)[self._lowest(plan)] / self.work

    def slopes(self, plan: PacingPlan) -> FloatArray:
        """Derivative of the room by the power of every step [1/W], shape (stretches, k)."""
        nodes = self._lowest(plan)
        by_power, by_time = reserve_slopes(
            plan.pedalled, plan.step_time, self.critical, self.work, nodes, self.refill
        )
        rows = [plan.by_power(weights, own) for own, weights in zip(by_power, by_time, strict=True)]
        return np.array(rows) / self.work

    def words(self) -> str:
        """The limit in plain words."""
        return f"critical power {self.critical:.0f} W with {self.work / 1000:.1f} kJ above it"


CLIMB = 200.0
"""Length over which a grade is taken for a cap [m]; our choice: a shorter rise is ridden out."""

STEEP = 0.03
"""Least grade of what a cap calls a climb; our choice."""


@dataclass(frozen=True)
class Cap:
    """The most that is pushed on a part of the course."""

    power: float
    """Highest power there [W]."""
    where: str
    """The part, in words."""
    start: float = 0.0
    end: float = np.inf
    """Where it begins and ends [m]."""
    grade: float = -np.inf
    """Least rise over run of the `CLIMB` before, around or after, for a part that is steep."""

    def covers(self, base: Ridden) -> NDArray[np.bool_]:
        """Whether each step lies in that part, shape (k,)."""
        nodes = base.solution.ride.nodes
        inside = (nodes[1:] > self.start + 1e-6) & (nodes[:-1] < self.end - 1e-6)
        if self.grade == -np.inf:
            return inside
        begins = base.solution.ride.middle - CLIMB * np.array([[0.0], [0.5], [1.0]])
        ends = np.clip([begins, begins + CLIMB], 0.0, nodes[-1])
        rise = np.diff(base.race.course.elevation_at(ends.ravel()).reshape(ends.shape), axis=0)[0]
        steepest = np.max(grade_of(rise / np.diff(ends, axis=0)[0]), axis=0)
        return np.asarray(inside & (steepest >= self.grade))

    def words(self) -> str:
        """The cap in plain words."""
        return f"{self.where} at most {self.power:.0f} W"


@dataclass(frozen=True)
class Limits:
    """Several limits at once; without a mean or a critical power nothing is limited."""

    means: tuple[PowerMean, ...]
    """Of different orders, the highest first."""
    above: CriticalPower | None = None
    """What is never used up."""
    caps: tuple[Cap, ...] = ()
    """Parts on which less is pushed."""

    @property
    def _parts(self) -> tuple[PowerMean | CriticalPower, ...]:
        return (*self.means, self.above) if self.above else self.means

    @property
    def least(self) -> float:
        """Least power while pedalling [W]."""
        return self._parts[0].least

    @property
    def most(self) -> float:
        """Most power that is pushed where no cap says less [W]."""
        return self._parts[0].most

    def room(self, plan: PacingPlan) -> FloatArray:
        """Room of the means, then of the reserve, shape (means + stretches,)."""
        return np.concatenate([part.room(plan) for part in self._parts])

    def slopes(self, plan: PacingPlan) -> FloatArray:
        """Derivative of each by the power of every step [1/W], shape (means + stretches, k)."""
        return np.concatenate([part.slopes(plan) for part in self._parts])

    def words(self) -> str:
        """The limits in plain words."""
        *others, last = [one.words() for one in (*self._parts, *self.caps)]
        return f"{', '.join(others)}, and {last}" if others else last


PacingLimit = PowerMean | CriticalPower | Limits


def limits_of(limit: PacingLimit) -> Limits:
    """Any limit as the parts that it has."""
    if isinstance(limit, Limits):
        return limit
    return Limits((limit,)) if isinstance(limit, PowerMean) else Limits((), limit)


def mean_of(limit: PacingLimit) -> PowerMean | None:
    """The mean in a limit, the first of several, if it holds one."""
    return next(iter(limits_of(limit).means), None)


def critical_of(limit: PacingLimit) -> CriticalPower | None:
    """The critical power in a limit, if it holds one."""
    return limits_of(limit).above


def highest_on(limit: PacingLimit, base: Ridden) -> FloatArray:
    """The most that may be pushed on each step [W], shape (k,)."""
    highest = np.full(len(base.solution.ride.middle), float(limit.most))
    for cap in limits_of(limit).caps:
        highest = np.where(cap.covers(base), np.minimum(highest, cap.power), highest)
    return highest


@dataclass(frozen=True)
class LimitKept:
    """One limit, and what a ride comes to."""

    limit: str
    """In words."""
    at_most_w: float
    """Highest mean, critical power, or highest power of a part [W]."""
    comes_to_w: float | None
    """The mean, or the highest target on that part [W]; None for critical power."""
    least_reserve_j: float | None
    """Least work above critical power that is left along the way [J]; None for others."""
    held: bool
    """Whether the ride keeps within it."""


def each_kept(limit: PacingLimit, plan: PacingPlan) -> tuple[LimitKept, ...]:
    """The limits one by one, held against a ride."""
    whole, found = limits_of(limit), []
    for mean in whole.means:
        held = mean.held(plan)
        found.append(LimitKept(mean.words(), mean.level, held, None, holds(mean, plan)))
    if above := whole.above:
        least = float(np.min(above.reserve(plan)))
        found.append(LimitKept(above.words(), above.critical, None, least, holds(above, plan)))
    for cap in whole.caps:
        most = float(np.max(plan.power, where=cap.covers(plan.ridden), initial=0.0))
        found.append(LimitKept(cap.words(), cap.power, most, None, most < cap.power + 1e-6))
    return tuple(found)


def as_hard(limit: PacingLimit, plan: PacingPlan) -> Limits:
    """The means of a limit at what a plan comes to, with its caps."""
    whole = limits_of(limit)
    return Limits(
        tuple(replace(one, level=one.held(plan)) for one in whole.means), None, whole.caps
    )


def holds(limit: PacingLimit, plan: PacingPlan) -> bool:
    """Whether a plan keeps within a limit, but for rounding; its caps are not looked at."""
    return bool(np.all(limit.room(plan) >= -1e-9))


def with_mean(limit: PacingLimit, level: float) -> PacingLimit:
    """The same limit at another level of the mean in it, the first of several [W]."""
    whole = limits_of(limit)
    means = tuple(replace(one, level=level) for one in whole.means[:1])
    return replace(whole, means=(*means, *whole.means[1:]))


def with_checks(limit: PacingLimit, places: FloatArray) -> PacingLimit:
    """The same limit, its reserve looked at between places [m]."""
    whole, checks = limits_of(limit), tuple(places.tolist())
    if whole.above is None:
        return limit
    above = replace(whole.above, checks=checks)
    return replace(whole, above=above) if isinstance(limit, Limits) else above


def scaled(limit: PacingLimit, factor: float) -> PacingLimit:
    """What a rider could hold who is so many times as strong; work above and caps stay.

    So does the most that is pushed, as long as it lies far enough above.
    """
    whole = limits_of(limit)
    above = whole.above
    levels = [*(mean.level for mean in whole.means), *([above.critical] if above else [])]
    most = max(limit.most, ABOVE * factor * max(levels))
    means = tuple(replace(one, level=factor * one.level, most=most) for one in whole.means)
    if above:
        above = replace(above, critical=factor * above.critical, most=most)
    return replace(whole, means=means, above=above)


# --- Critical power and the work above it, from powers held to exhaustion ------------------------

Interval = tuple[float, float] | None

LimitForm = Literal["work against time", "power against inverse time"]

PLACE = "rider.power_points"
"""Where the points stand, for messages."""

USEFUL = (120.0, 1800.0)
"""Durations within which the model is useful [s]: Skiba PF, Clarke DC. IJSPP 2021;16:1561-1572."""

USUAL_WORK = (5e3, 40e3)
"""Work above critical power of most riders [J]; common practice, no source."""


@dataclass(frozen=True)
class CriticalFit:
    """The two-parameter model fitted to powers held to exhaustion."""

    critical: float
    """Critical power CP [W]."""
    work: float
    """Work above critical power W' [J]."""
    critical_error: float | None
    work_error: float | None
    """Their standard errors [W] and [J]; None where two points leave nothing to judge by."""
    correlation: float
    """Correlation of the two errors, -1 to 1: negative, for a line tilts about its middle."""
    df: int
    """Degrees of freedom, points less two."""
    critical_interval: Interval
    work_interval: Interval
    """95 % intervals by Student's t [W] and [J]."""
    points: tuple[tuple[float, float], ...]
    """What was fitted, by duration: [s] and [W]."""
    residuals: tuple[float, ...]
    """Power held less that of the model for the same duration [W], in the order of `points`."""
    form: LimitForm
    """Which straight line was fitted."""
    warnings: tuple[str, ...]
    """One sentence each."""


def fit_critical(
    points: Sequence[tuple[float, float]], form: LimitForm = "work against time", place: str = PLACE
) -> CriticalFit:
    """Fit critical power and the work above it to powers held to exhaustion.

    The model is t = W'/(P - CP) (Monod and Scherrer 1965), which can be written as two straight
    lines: the work done against time, P t = W' + CP t, and the power against 1/t,
    P = CP + W' (1/t). They agree on exact points and weigh scattered ones differently. Work
    against time is used unless asked otherwise: where a power is set and held until it fails,
    the error is that of the time, and it grows with the time. A share r of the time too long is
    (P - CP) r t = W' r too much work above critical power, the same at every duration, which is
    what plain least squares asks for; against 1/t the same error is W' r / t, and the shortest
    point rules the fit. That the time is on the other axis too draws the slope up by about
    mean(t) W' r^2 / var(t), some 0.1 W for 5 % and points from 2 to 30 min. Where durations were
    set and powers measured, with an error alike in watts, power against 1/t is the better one.

    Parameters
    ----------
    points : sequence of (float, float)
        Durations [s] and powers [W], at least two of different duration, all above 0.
    form : str
        Which line is fitted.
    place : str
        Where the points stand, for messages.

    Returns
    -------
    CriticalFit
        With standard errors from the scatter of the points about the line.

    Raises
    ------
    InputError
        If the points cannot give a line, or its critical power or work is not above 0.

    References
    ----------
    Monod H, Scherrer J. Ergonomics 1965;8:329-338 (form from memory).

    Examples
    --------
    >>> held = fit_critical([(180.0, 370.0), (720.0, 300.0), (1500.0, 287.0)])
    >>> f"{held.critical:.1f} W, {held.work / 1000:.2f} kJ"
    '275.6 W, 17.19 kJ'
    """
    ordered = tuple(sorted(points))
    _refuse_impossible(ordered, place)
    time, power = np.array(ordered).T
    if form == "work against time":
        work, critical, correlation, df = _line(time, power * time)
    else:
        critical, work, correlation, df = _line(1.0 / time, power)
    _refuse_result(critical[0], work[0], place)
    intervals = _interval(*critical, df), _interval(*work, df)
    return CriticalFit(
        *(critical[0], work[0], critical[1], work[1]),
        correlation,
        df,
        *intervals,
        points=ordered,
        residuals=tuple((power - critical[0] - work[0] / time).tolist()),
        form=form,
        warnings=(*_warnings(ordered, work[0]), *_unsure(*intervals)),
    )


ONE_DURATION = 1e-6
"""Share by which durations must differ to be two: closer ones leave nothing but round-off."""

Sure = tuple[float, float | None]
"""A value and its standard error; None where nothing is left to judge by."""


def _line(x: FloatArray, y: FloatArray) -> tuple[Sure, Sure, float, int]:
    """Straight line by least squares: one item in one session whose drift is the slope.

    Its level and slope, the correlation of their errors, and the degrees of freedom.
    """
    count = len(x)
    one = np.zeros(count, dtype=np.intp)
    fitted = fit(Design(one, one, x, np.array([True])), y)
    slope, factor = float(fitted.slope[0]), float(fitted.slope_factor[0])
    middle = float(x.mean())
    level_factor = math.hypot(1.0 / math.sqrt(count), middle * factor)
    spread = None if fitted.variance is None else math.sqrt(fitted.variance)
    level_error, slope_error = (
        None if spread is None else spread * one for one in (level_factor, factor)
    )
    level = float(y.mean()) - slope * middle
    return (level, level_error), (slope, slope_error), -middle * factor / level_factor, fitted.df


def _interval(value: float, error: float | None, df: int) -> Interval:
    from scipy.special import stdtrit

    if error is None:
        return None
    half = float(stdtrit(df, 0.975)) * error
    return value - half, value + half


def _refuse_impossible(points: tuple[tuple[float, float], ...], place: str) -> None:
    for time, power in points:
        if not (0 < time < math.inf and 0 < power < math.inf):
            problem = f"{power:g} W for {time:g} s is not possible"
            raise InputError(place, problem, "give both above 0")
    times = [time for time, _ in points]
    if not times or max(times) - min(times) <= ONE_DURATION * max(times):
        raise InputError(
            place,
            "powers over one duration alone cannot separate critical power from the work above it",
            "add one held much longer or shorter, such as 3 and 12 min",
        )


def _refuse_result(critical: float, work: float, place: str) -> None:
    if not work > 0:
        raise InputError(
            place,
            f"the points give {work / 1000:.1f} kJ above a critical power of {critical:.0f} W, but"
            " power must fall the longer it is held",
            "check the durations and powers, and leave out rides that were not all-out",
        )
    if not critical > 0:
        raise InputError(
            place,
            f"the points give a critical power of {critical:.0f} W",
            "check the durations and powers: more work must be done in a longer time",
        )


def _unsure(critical: Interval, work: Interval) -> Iterator[str]:
    names = ("critical power", "the work above it")
    for name, interval in zip(names, (critical, work), strict=True):
        if interval is not None and interval[0] <= 0:
            yield (
                f"The points scatter so much that {name} may be zero; add more points that were"
                " all-out."
            )


def _warnings(points: tuple[tuple[float, float], ...], work: float) -> Iterator[str]:
    if len(points) < 3:
        yield (
            "Two points always fit a line exactly, so the doubt of critical power and of the work"
            " above it is unknown; add a third point."
        )
    for time, power in points:
        if not USEFUL[0] <= time <= USEFUL[1]:
            yield (
                f"{power:.4g} W for {show_duration(time)} is outside the 2 to 30 min for which"
                " the model is useful (Skiba and Clarke 2021)."
            )
    for time, power in points:
        other, later = max(((held, long) for long, held in points if long > time), default=(0, 0))
        if other >= power:
            yield (
                f"{other:.4g} W for {show_duration(later)} is not less than {power:.4g} W for"
                f" {show_duration(time)}: the shorter one was not all-out, or one of them is wrong."
            )
    if not USUAL_WORK[0] <= work <= USUAL_WORK[1]:
        yield (
            f"{work / 1000:.1f} kJ above critical power is unusual, 5 to 40 kJ is plausible;"
            " check that every point was all-out."
        )


# --- From a race file and a question to the limit that is held, and what speaks against it -------

LimitKind = Literal["mean", "power-mean", "critical-power"]

MOST_OVER = 1.5
"""Most power that is pushed, over the race power, where the race file does not say; our choice."""

FAR_BELOW = 0.05
"""Share by which a race power may lie below critical power in a race of about an hour."""

ABOUT_AN_HOUR = (2400.0, 4500.0)
"""[s] A rider can hold about critical power for some 30 to 60 minutes; common practice."""


@dataclass(frozen=True)
class HeldLimit:
    """The limit that is held."""

    limit: PacingLimit
    """With the least and the most power of the race file."""
    fit: CriticalFit | None
    """Where critical power comes from, if it was fitted to power points."""
    warnings: tuple[str, ...]
    """What makes it doubtful."""
    assumed: tuple[str, ...]
    """What had to be assumed."""
    demand: str | None = None
    """What the race power throughout takes of the work above critical power; None without one."""


def asked_limit(
    base: Ridden,
    kinds: LimitKind | Sequence[LimitKind],
    order: float = FOURTH,
    levels: Mapping[LimitKind, float] | None = None,
    caps: tuple[Cap, ...] = (),
) -> HeldLimit:
    """Take the limits from the race file.

    Parameters
    ----------
    base : Ridden
        The race.
    kinds : str or sequence of str
        What is limited.
    order : float
        Order of the power mean.
    levels : mapping of str to float, optional
        Levels of means other than the race power [W].
    caps : tuple of Cap
        Parts on which less may be pushed.

    Raises
    ------
    InputError
        If the race file lacks what a limit needs, or leaves no power.
    """
    rider = base.race.rider
    if rider.power_fade * base.time >= 3600.0:
        raise InputError(
            f"{base.race.name}, rider.power_fade",
            f"a loss of {100 * rider.power_fade:.0f} % per hour leaves no power before the finish"
            f" after {show_duration(base.time)}",
            "give less",
        )
    most = rider.most_power or MOST_OVER * rider.power
    assumed = () if rider.most_power else (f"pedal_most {most:.0f} W (1.5 times the race power)",)
    critical, work, fit = _critical(rider)
    warnings = fit.warnings if fit else ()
    above, taken = None, None
    if critical is not None and work is not None:
        warnings += contradictions(rider.power, base.time, critical, work)
        warnings += _too_high(rider, base.time, critical)
        above = CriticalPower(critical, work, rider.least_power, most)
        taken = demand(rider.power, base.time, critical, work)
    kinds = (kinds,) if isinstance(kinds, str) else kinds
    if "critical-power" in kinds and above is None:
        raise no_critical_power(base.race)
    orders: dict[LimitKind, float] = {"power-mean": order, "mean": 1.0}
    means = tuple(
        PowerMean(
            (levels or {}).get(kind, rider.power), one, rider.least_power, most, rider.power_fade
        )
        for kind, one in orders.items()
        if kind in kinds
    )
    if not means:
        warnings += tuple(_critical_alone(base))
    return HeldLimit(Limits(means, above, caps), fit, warnings, assumed, taken)


def no_critical_power(race: Race) -> InputError:
    """What is said where a critical power is needed and none is stated."""
    return InputError(
        race.name,
        "the race file states no critical power",
        "add critical_power and work_above_critical, or power_points, under [rider]",
    )


def _critical_alone(base: Ridden) -> Iterator[str]:
    if base.time > ABOUT_AN_HOUR[0]:
        yield (
            "hardly anyone holds critical power for more than 30 to 60 minutes (common practice),"
            f" and this takes {show_duration(base.time)}: limit the mean too"
        )
    if base.race.rider.power_fade:
        yield "power_fade is ignored: the critical-power model has no fading"


def critical_power(race: Race) -> float | None:
    """Critical power of the race file, stated or fitted [W]."""
    return _critical(race.rider)[0]


def _critical(rider: Rider) -> tuple[float | None, float | None, CriticalFit | None]:
    if not rider.power_points:
        return rider.critical_power, rider.work_above_critical, None
    fit = fit_critical(rider.power_points)
    return fit.critical, fit.work, fit


def _too_high(rider: Rider, time: float, critical: float) -> tuple[str, ...]:
    short = rider.power < (1.0 - FAR_BELOW) * critical
    if not short or not ABOUT_AN_HOUR[0] <= time <= ABOUT_AN_HOUR[1]:
        return ()
    return (
        f"critical power {critical:.0f} W is {100 * (critical / rider.power - 1):.0f} % above the"
        f" race power of {rider.power:.0f} W, although a rider can hold it for about this long: one"
        " of them is probably wrong",
    )


def other_winds(race: Race) -> tuple[tuple[str, Race], ...]:
    """The race in winds other than the stated one; calm air has none to turn or drop."""
    wind = race.air.wind
    if not wind.speed:
        return ()

    others = (
        ("no wind", 0.0, 0.0),
        ("half as much wind", 0.5, 0.0),
        ("half as much wind again", 1.5, 0.0),
        ("wind turned 45 deg to the right", 1.0, 45.0),
        ("wind turned 45 deg to the left", 1.0, -45.0),
        ("wind from the opposite side", 1.0, 180.0),
    )
    turned = {
        words: replace(wind, speed=factor * wind.speed, direction=wind.direction + np.radians(turn))
        for words, factor, turn in others
    }
    return tuple(
        (words, replace(race, air=replace(race.air, wind=one))) for words, one in turned.items()
    )
