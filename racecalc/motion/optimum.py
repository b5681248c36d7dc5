"""The quickest way to spread power over a course within limits on its means.

Unknown is the speed ``v`` at every node; the power of each step follows from its energy balance
(`racecalc.motion.solver`) as an explicit function of the speeds at its ends. The time is made
least while the mean over time of ``(p / level)^order``, or several such means, stay at 1 or below,
under a highest power and the speed ceilings. Bounds, and what the means leave, enter as logarithmic
barriers whose weight is lowered in steps; for each weight Newton's method solves the conditions of
optimality. Each step couples two neighbouring speeds, so the Hessian is tridiagonal, and one banded
Cholesky factor gives the Newton step and the multipliers of the means.

Braking needs no variable of its own: below the least power the pedals turn at that and the brakes
take the rest, ``p = least + softplus(q - least)`` with a width that shrinks with the barriers.

References
----------
.. [1] Nocedal J, Wright SJ. Numerical Optimization, 2nd ed. 2006, chapters 18 and 19 (from memory).
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from racecalc.arrays import FloatArray, solve_banded
from racecalc.motion.ride import Ride

BARRIERS = 9
BARRIER_START, BARRIER_FALL = 0.03, 0.1
"""First weight of the barriers [s] and the factor between two; 9 of them end at 3e-10 s."""

WIDEST, NARROWEST = 5.0, 0.05
"""First and last width of the softened bend where pedalling stops [W]."""

MOST_STEPS = 30
"""Newton steps for one weight of the barriers."""

LOOSE, TIGHT = 1e-3, 1e-6
"""Largest relative change of a speed at which a weight counts as solved, but for the last ones."""

NOT_NOTHING = 1e-9
"""Least power over its level, so that none is divided by zero."""

START = 10.0
"""What each mean leaves at first [s]; our choice, of some minutes."""

INSIDE = 0.985
"""Share of the speed ceilings at which the search starts."""


@dataclass(frozen=True)
class PowerBounds:
    """What limits the power."""

    level: FloatArray
    """What can be held on each step [W]; each mean of ``(p / level)^order`` is held at 1 or below;
    shape (k,) or (means, k).
    """
    order: float | FloatArray
    """4 for the 4th-power mean, 1 for the plain mean, which alone leaves nothing to solve for:
    power may jump without a price; shape (means,) for several.
    """
    least: float
    most: float | FloatArray
    """Least power while pedalling, and the most that is pushed, here or on each step [W]."""
    efficiency: float
    """Share of the power at the meter that reaches the road."""


@dataclass(frozen=True)
class Optimum:
    """What was found."""

    speed: FloatArray
    """At the nodes [m/s]; shape (k + 1,)."""
    power: FloatArray
    """At the meter on each step, brakes not counted [W]; shape (k,)."""
    converged: bool
    """Whether the last weight of the barriers was solved to `TIGHT`."""
    prices: FloatArray
    """Seconds gained for each second by which a mean may exceed 1, shape (means,)."""


@dataclass(frozen=True)
class _Steps:
    """Every step at given node speeds: its power and the derivatives by the speeds at its ends."""

    ride: Ride
    speed: FloatArray
    efficiency: float

    @cached_property
    def mean(self) -> FloatArray:
        return 0.5 * (self.speed[:-1] + self.speed[1:])

    @cached_property
    def time(self) -> FloatArray:
        return self.ride.step / self.mean

    @property
    def time_slope(self) -> FloatArray:
        """By either end [s per m/s]."""
        return -0.5 * self.time / self.mean

    @property
    def time_bend(self) -> FloatArray:
        """Second derivative, the same for any pair of ends."""
        return 0.5 * self.time / self.mean**2

    @property
    def _energy(self) -> tuple[FloatArray, FloatArray]:
        kinetic = 0.5 * self.ride.inertia / self.ride.step
        return kinetic, self.speed[1:] ** 2 - self.speed[:-1] ** 2

    @cached_property
    def _force(self) -> tuple[FloatArray, FloatArray]:
        return self.ride.resistance(self.mean)

    @property
    def _force_bend(self) -> FloatArray:
        probe = 1e-4 * self.mean
        _, above = self.ride.resistance(self.mean + probe)
        _, below = self.ride.resistance(self.mean - probe)
        return (above - below) / (2.0 * probe)

    @cached_property
    def power(self) -> FloatArray:
        """Power at the meter that the balance asks for; negative where brakes work [W]."""
        kinetic, gained = self._energy
        return self.mean * (self._force[0] + kinetic * gained) / self.efficiency

    @cached_property
    def slopes(self) -> tuple[FloatArray, FloatArray]:
        """Derivative of `power` by the speed at the start and at the end of the step."""
        kinetic, gained = self._energy
        force, slope = self._force
        both = 0.5 * (force + self.mean * slope + kinetic * gained)
        start = both - 2.0 * kinetic * self.speed[:-1] * self.mean
        end = both + 2.0 * kinetic * self.speed[1:] * self.mean
        return start / self.efficiency, end / self.efficiency

    @cached_property
    def bends(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Second derivatives: start twice, both, end twice."""
        kinetic, _ = self._energy
        _, slope = self._force
        both = 0.25 * (2.0 * slope + self.mean * self._force_bend)
        start, end = self.speed[:-1], self.speed[1:]
        return (
            (both - 2.0 * kinetic * (self.mean + start)) / self.efficiency,
            (both + kinetic * (end - start)) / self.efficiency,
            (both + 2.0 * kinetic * (self.mean + end)) / self.efficiency,
        )


def raised(values: FloatArray, order: float) -> FloatArray:
    """``values ** order``, without the slow power function for the usual order, 4."""
    return np.asarray((values * values) ** 2 if order == 4.0 else values**order)


def _over_steps(values: FloatArray, weights: FloatArray) -> FloatArray:
    """Weighted sum over the steps for each mean; matrix products would start threads for it."""
    return np.asarray(np.einsum("mk,k->m", values, weights))


def _over_means(weights: FloatArray, values: FloatArray) -> FloatArray:
    return np.asarray(np.einsum("m,mk->k", weights, values))


def _at_nodes(by_start: FloatArray, by_end: FloatArray) -> FloatArray:
    """Sum of what the steps on both sides of each free node have for it."""
    found = by_end.copy()
    found[:-1] += by_start[1:]
    return found


@dataclass(frozen=True)
class _Held:
    """The multipliers of the means, and what each leaves [s]; all above 0."""

    prices: FloatArray
    left: FloatArray

    def moved(self, by: "_Held", share: float) -> "_Held":
        return _Held(self.prices + share * by.prices, self.left + share * by.left)

    def furthest(self, by: "_Held") -> float:
        """Share of a change that leaves all above 0."""
        now, change = np.append(self.prices, self.left), np.append(by.prices, by.left)
        falling = change < 0
        return float(np.min(0.95 * now[falling] / -change[falling], initial=1.0))


@dataclass(frozen=True)
class _Newton:
    """Gradient and tridiagonal Hessian of the Lagrangian with barriers, and those of the means."""

    gradient: FloatArray
    diagonal: FloatArray
    neighbours: FloatArray
    means: FloatArray
    mean_gradients: FloatArray

    def change(self, held: _Held, weight: float) -> tuple[FloatArray, _Held]:
        """Change of the speeds [m/s] and of the multipliers that Newton's method asks for.

        What the means leave follows from ``price times left = weight``.
        """
        soft = held.left / held.prices
        aim = weight / held.prices
        band = np.zeros((2, len(self.diagonal)))
        band[0, 1:] = self.neighbours
        sides = np.column_stack((-self.gradient, *-self.mean_gradients))
        lift, typical = 0.0, float(np.median(np.abs(self.diagonal)))
        while True:
            # Where the Lagrangian bends the wrong way it is lifted until it has a minimum.
            band[1] = self.diagonal + lift
            try:
                plain, *along = solve_banded(band, sides).T
            except np.linalg.LinAlgError:
                lift = max(1e-3 * typical, 4.0 * lift)
                continue
            missed = -self.means - aim - _over_steps(self.mean_gradients, plain)
            turning = np.einsum("mk,nk->mn", self.mean_gradients, along) - np.diag(soft)
            turn = np.linalg.solve(turning, missed)
            left = _Held(turn, aim - held.left - soft * turn)
            return plain + _over_means(turn, np.array(along)), left


@dataclass(frozen=True)
class _Point:
    """Speeds that are tried, and what they cost; worked out once for all that asks."""

    problem: "_Problem"
    speed: FloatArray

    @cached_property
    def steps(self) -> _Steps:
        return _Steps(self.problem.ride, self.speed, self.problem.bounds.efficiency)

    @cached_property
    def effort(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        return self.problem.effort(self.steps.power)


@dataclass(frozen=True)
class _Problem:
    """The optimum for one weight of the barriers and one width of the bend."""

    ride: Ride
    bounds: PowerBounds
    most: float | FloatArray
    weight: float
    width: float

    @cached_property
    def _levels(self) -> FloatArray:
        return np.atleast_2d(self.bounds.level)

    @cached_property
    def _orders(self) -> FloatArray:
        return np.reshape(self.bounds.order, (-1, 1))

    @cached_property
    def _capped(self) -> NDArray[np.bool_]:
        return np.isfinite(self.ride.ceiling[1:])

    def effort(self, power: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """``(p / level)^order - 1`` for the balance's power, and its two derivatives by it.

        Each of shape (means, k).
        """
        excess = (power - self.bounds.least) / self.width
        # Logistic function and softplus from one exponential that cannot overflow.
        small = np.exp(-np.abs(excess))
        share = np.where(excess > 0, 1.0, small) / (1.0 + small)
        soft = np.maximum(excess, 0.0) + np.log1p(small)
        pedalled = self.bounds.least + self.width * soft
        level = self._levels
        x, n = np.maximum(pedalled / level, NOT_NOTHING), self._orders
        shares = np.array([raised(*one) for one in zip(x, n[:, 0], strict=True)])
        slope = n * shares / x / level
        bend = (n - 1.0) * slope / x / level
        curve = share * (1.0 - share) / self.width
        return shares - 1.0, slope * share, bend * share**2 + slope * curve

    def merit(self, point: _Point, left: FloatArray, price: float) -> float:
        """Time with barriers, and `price` for each second by which a mean is missed."""
        steps, speed = point.steps, point.speed
        room, gap = self.most - steps.power, (self.ride.ceiling - speed)[1:][self._capped]
        if np.any(room <= 0) or np.any(gap <= 0) or np.any(speed[1:] <= 0):
            return np.inf
        barriers = float(np.sum(np.log(room)) + np.sum(np.log(gap)) + np.sum(np.log(left)))
        missed = float(np.sum(np.abs(_over_steps(point.effort[0], steps.time) + left)))
        return float(np.sum(steps.time)) - self.weight * barriers + price * missed

    def newton(self, point: _Point, multipliers: FloatArray) -> _Newton:
        """Set up one Newton step."""
        steps, each = point.steps, point.effort
        effort, slope, bend = (_over_means(multipliers, one) for one in each)
        push = self.weight / (self.most - steps.power)
        first = slope * steps.time + push
        second = bend * steps.time + push**2 / self.weight
        shared = steps.time_bend * (1.0 + effort)
        cross = slope * steps.time_slope
        by_start, by_end = steps.slopes
        pairs = ((by_start, by_start), (by_start, by_end), (by_end, by_end))
        start_start, both, end_end = (
            shared + second * one * other + first * twice + cross * (one + other)
            for (one, other), twice in zip(pairs, steps.bends, strict=True)
        )
        fall = steps.time_slope * (1.0 + effort)
        by_start, by_end = (
            each[1] * by * steps.time + each[0] * steps.time_slope for by in steps.slopes
        )
        near = self._nearness(point.speed)
        return _Newton(
            gradient=_at_nodes(*(fall + first * by for by in steps.slopes)) + near,
            diagonal=_at_nodes(start_start, end_end) + near**2 / self.weight,
            neighbours=both[1:],
            means=_over_steps(each[0], steps.time),
            mean_gradients=np.array([_at_nodes(*by) for by in zip(by_start, by_end, strict=True)]),
        )

    def _nearness(self, speed: FloatArray) -> FloatArray:
        """Slope of the barriers of the speed ceilings [s per m/s]."""
        gap = (self.ride.ceiling - speed)[1:]
        return np.where(self._capped, self.weight / np.where(self._capped, gap, 1.0), 0.0)

    def solved(
        self, speed: FloatArray, held: _Held, tolerance: float
    ) -> tuple[FloatArray, _Held, bool]:
        """Newton's method with a line search: speeds, multipliers, whether it is done."""
        here = _Point(self, speed)
        for _ in range(MOST_STEPS):
            change, turn = self.newton(here, held.prices).change(held, self.weight)
            price = 2.0 * float(np.max(np.abs(held.prices + turn.prices))) + 1.0
            share = min(self._furthest(here.speed, change), held.furthest(turn))
            start = self.merit(here, held.left, price)
            done = bool(np.max(np.abs(change) / here.speed[1:]) < tolerance)
            for _ in range(25):
                tried = here.speed.copy()
                tried[1:] += share * change
                there = _Point(self, tried)
                if self.merit(there, held.moved(turn, share).left, price) < start + 1e-9 * abs(
                    start
                ):
                    break
                share *= 0.5
            else:
                # No step leads down; one that does not might leave the bounds.
                return here.speed, held, done
            here, held = there, held.moved(turn, share)
            if done:
                return here.speed, held, True
        return here.speed, held, False

    def _furthest(self, speed: FloatArray, change: FloatArray) -> float:
        """Share of a change that stays off the ceilings and keeps every speed positive."""
        rising = (change > 0) & self._capped
        gap = (self.ride.ceiling - speed)[1:]
        up = np.min(0.95 * gap[rising] / change[rising], initial=1.0)
        falling = change < 0
        down = np.min(0.5 * speed[1:][falling] / -change[falling], initial=1.0)
        return float(min(up, down))


def optimum(ride: Ride, bounds: PowerBounds, guess: FloatArray) -> Optimum:
    """Find the quickest power along a course that comes to its means.

    Parameters
    ----------
    ride : Ride
        The course and what acts on the rider; its own power is not used.
    bounds : PowerBounds
        Limits of the power.
    guess : FloatArray, shape (k + 1,)
        Speeds of a ride that keeps below every ceiling and the highest power; see `INSIDE`.

    Returns
    -------
    Optimum
        Speeds and powers; solve the course with the powers for the true ride.
    """
    orders = np.atleast_1d(bounds.order)
    # The means are approached from below, as the guess is.
    held = _Held(1.0 / (orders * len(orders)), np.full(len(orders), START))
    speed, done = guess, False
    weight, width = BARRIER_START, WIDEST
    for number in range(BARRIERS):
        over = float(np.max(_Steps(ride, speed, bounds.efficiency).power / bounds.most))
        most = bounds.most if over < 1.0 else 1.02 * over * bounds.most
        problem = _Problem(ride, bounds, most, weight, width)
        tolerance = LOOSE if number < BARRIERS - 6 else TIGHT
        speed, held, done = problem.solved(speed, held, tolerance)
        weight, width = weight * BARRIER_FALL, max(0.5 * width, NARROWEST)
    balanced = _Steps(ride, speed, bounds.efficiency).power
    return Optimum(speed, np.clip(balanced, bounds.least, bounds.most), done, held.prices)
