"""The speed along the whole course at once, with a march over the steps to fall back on.

Unknown is the speed at every node. Over a step of length ``dx`` the change of kinetic energy
equals the work done on the rider::

1/2 M (v1^2 - v0^2) = dx (P / v_mean - F(v_mean)), v_mean = (v0 + v1) / 2, dt = dx / v_mean

with the power ``P`` at the road, the resistance ``F`` and the inertia ``M``. The scheme is of
second order, keeps energy to rounding and starts from rest. Each step couples two neighbours, so
Newton's method solves all of them with one triangular banded system an iteration.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from racecalc.arrays import FloatArray, compiled
from racecalc.domain.course import grade_of
from racecalc.errors import InputError, SolverError, check_cancelled
from racecalc.motion.ride import Ride
from racecalc.physics.air import yaw_angle

# --- The whole course solved at once -------------------------------------------------------------

MOST_ITERATIONS = 20
TOLERANCE = 1e-6
"""Largest relative change of any speed in the last iteration; Newton's method squares it, so that
speeds are right to rounding."""
BLOCK = 16_000
"""Most steps that are solved at once: longer arrays do not stay in fast memory."""
MOST_TRIES = 30
"""Tries to guess where the ceiling holds before that is found step by step."""

LOST = "the speeds are far from those guessed"

SLOWEST_GUESS = 0.5
FASTEST_GUESS = 40.0
ROLLING_GUESS = 8.0
"""Speed from which a rider comes to the foot of a ramp at the least in the first guess [m/s]: the
way over which speed is lost there is that of the faster one."""


@dataclass(frozen=True)
class StepBalance:
    """Energy balance of every step and its derivatives; arrays have one value a step."""

    residual: FloatArray
    """Kinetic energy gained minus work done [J]."""
    by_previous: FloatArray
    by_next: FloatArray
    """Derivative with respect to the speed at the start and at the end of the step [J s/m]."""


def balance(ride: Ride, speed: FloatArray) -> StepBalance:
    """Energy balance of every step at the given node speeds, shape (k + 1,)."""
    before, after = speed[:-1], speed[1:]
    mean = 0.5 * (before + after)
    force, slope = ride.resistance(mean)
    drive = ride.wheel_power / mean
    half = 0.5 * ride.step * (drive / mean + slope)
    return StepBalance(
        residual=ride.inertia * mean * (after - before) + ride.step * (force - drive),
        by_previous=half - ride.inertia * before,
        by_next=half + ride.inertia * after,
    )


@dataclass(frozen=True)
class Solution:
    """Speed along the course."""

    ride: Ride
    """What was solved; its nodes may be finer than asked for where the rider is very slow."""
    speed: FloatArray
    """Speed at the nodes [m/s]; shape (k + 1,)."""
    at_ceiling: np.ndarray
    """Steps whose end is held to the speed ceiling; shape (k,)."""
    iterations: int
    """Newton iterations over the whole course."""

    @cached_property
    def mean_speed(self) -> FloatArray:
        """Mean speed of each step [m/s]."""
        return 0.5 * (self.speed[:-1] + self.speed[1:])

    def mean_speed_on(self, nodes: FloatArray) -> FloatArray:
        """Mean speed between some of its nodes [m/s], shape (len(nodes) - 1,)."""
        at = np.interp(nodes, self.ride.nodes, self.elapsed)
        return np.asarray(np.diff(nodes) / np.diff(at))

    @cached_property
    def step_time(self) -> FloatArray:
        """Time spent on each step [s]."""
        return self.ride.step / self.mean_speed

    @cached_property
    def time(self) -> float:
        """Time over the whole course [s]."""
        return float(np.sum(self.step_time))

    @cached_property
    def elapsed(self) -> FloatArray:
        """Time since the start at every node [s], shape (k + 1,)."""
        return np.concatenate(([0.0], np.cumsum(self.step_time)))

    @cached_property
    def yaw(self) -> FloatArray:
        """Yaw of the apparent wind on each step [rad], as `racecalc.physics.air.yaw_angle`."""
        return yaw_angle(self.mean_speed, self.ride.head, self.ride.cross)

    @cached_property
    def road_power(self) -> FloatArray:
        """Power at the road on each step [W].

        Where a ceiling holds the rider back it is what the ceiling needs, and negative where
        the brakes must work.
        """
        force, _ = self.ride.resistance(self.mean_speed)
        gained = 0.5 * self.ride.inertia * np.diff(self.speed**2) / self.ride.step
        needed = (force + gained) * self.mean_speed
        return np.where(self.at_ceiling, needed, self.ride.wheel_power)

    @cached_property
    def terms(self) -> StepBalance:
        """The balance of every step, whose derivatives all adjoints of the ride share."""
        return balance(self.ride, self.speed)

    @cached_property
    def held_power_slope(self) -> FloatArray:
        """Derivative of the power at the road by the speed at the start of a held step [W s/m]."""
        ride, mean, before = self.ride, self.mean_speed, self.speed[:-1]
        force, slope = ride.resistance(mean)
        kinetic = 0.5 * ride.inertia / ride.step
        gained = kinetic * np.diff(self.speed**2)
        found = 0.5 * (force + gained + mean * slope) - 2.0 * kinetic * before * mean
        return np.where(self.at_ceiling & (self.road_power > 0.0), found, 0.0)


def steady_guess(ride: Ride) -> FloatArray:
    """Speed that each step would settle to, roughly and within human limits [m/s]."""
    speed = np.full(len(ride.wheel_power), 15.0)
    for _ in range(6):
        force, slope = ride.resistance(speed)
        change = (ride.wheel_power / speed - force) / (ride.wheel_power / speed**2 + slope)
        speed = np.clip(speed + change, SLOWEST_GUESS, FASTEST_GUESS)
    return speed


def run_in_length(ride: Ride, speed: FloatArray) -> FloatArray:
    """Distance over which a departure from steady speed dies away by a factor e [m]."""
    _, slope = ride.resistance(speed)
    return ride.inertia * speed / np.maximum(ride.wheel_power / speed**2 + slope, 1e-9)


def first_guess(ride: Ride) -> FloatArray:
    """Speeds near the solution: the steady speed of each step, taken up over its run-in length."""
    speed = steady_guess(ride)
    run_in = run_in_length(ride, np.maximum(speed, ROLLING_GUESS))
    share = ride.step / run_in
    steady = np.minimum(speed, ride.ceiling[1:]) ** 2
    right_side = share * steady
    right_side[0] += ride.start_speed**2
    square = solve_unit(-1.0 / (1.0 + share[1:]), right_side / (1.0 + share))
    return np.concatenate(([ride.start_speed], np.sqrt(square)))


def solve(
    ride: Ride,
    guess: FloatArray | None = None,
    tolerance: float = TOLERANCE,
    patient: bool = True,
) -> Solution:
    """Solve the equation of motion over the whole course.

    Newton's method with damping; where it does not converge, from the speeds that a march over the
    steps finds, which needs no guess.

    Parameters
    ----------
    ride : Ride
        What to solve.
    guess : FloatArray, shape (k + 1,), optional
        Speeds to start from, such as those of a similar ride.
    tolerance : float
        Largest relative change of any speed in the last iteration from them.
    patient : bool
        Whether to go on from a guess that would halve a speed.

    Returns
    -------
    Solution
        Speeds that balance every step to rounding. A step on which a very slow rider would stop
        is cut.

    Raises
    ------
    InputError
        If the rider comes to a stop; it names the kilometre.
    SolverError
        If the guess does not lead there, where it must.
    Cancelled
        If the work that needs it is unwanted by now.
    """
    check_cancelled()
    found = None
    if guess is not None and len(guess) == len(ride.nodes):
        found = _in_blocks(ride, guess, tolerance, patient)
        if found is None and not patient:
            raise SolverError(LOST)
    return found or _in_blocks(ride) or _marched(ride)


def _in_blocks(
    ride: Ride,
    guess: FloatArray | None = None,
    tolerance: float = TOLERANCE,
    patient: bool = True,
) -> Solution | None:
    """Newton's method on one block after the other, as no step knows of those after it."""
    count, start, parts = len(ride.nodes) - 1, ride.start_speed, []
    for begin in range(0, count, BLOCK):
        steps = slice(begin, min(begin + BLOCK, count))
        part = ride if count <= BLOCK else ride.part(steps, start)
        near = first_guess(part) if guess is None else guess[begin : steps.stop + 1]
        found = _newton(part, near, tolerance, patient)
        if found is None:
            return None
        parts.append(found)
        start = float(found.speed[-1])
    if len(parts) == 1:
        return parts[0]
    speed = np.concatenate([parts[0].speed[:1], *(one.speed[1:] for one in parts)])
    held = np.concatenate([one.at_ceiling for one in parts])
    return Solution(ride, speed, held, max(one.iterations for one in parts))


def _newton(
    ride: Ride, guess: FloatArray, tolerance: float = TOLERANCE, patient: bool = True
) -> Solution | None:
    speed = np.clip(guess, 1e-3, ride.ceiling)
    speed[0] = min(ride.start_speed, ride.ceiling[0])
    ends, ceiling = speed[1:], ride.ceiling[1:]
    for iteration in range(1, MOST_ITERATIONS + 1):
        terms = balance(ride, speed)
        room = ceiling - ends
        change, held = _newton_change(terms, ends, room, patient)
        ends += change
        largest = np.max(np.abs(change) / ends)
        if largest < tolerance:
            return Solution(ride, speed, held, iteration)
        if not np.isfinite(largest):
            return None
    return None


def _newton_change(
    terms: StepBalance, speed: FloatArray, room: FloatArray, patient: bool
) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Change of all end speeds by the linear balances, and where the ceiling holds them back.

    All at once, if that halves no speed and, after some tries, the ceiling lets go of none; else
    one after the other, which does not go astray from one step on to the next.
    """
    free, gain = -terms.residual / terms.by_next, -terms.by_previous / terms.by_next
    held, least = free > room, -0.5 * speed
    for _ in range(MOST_TRIES):
        followed = np.where(held, 0.0, gain)
        change = solve_unit(-followed[1:], np.where(held, room, free))
        reached = free.copy()
        reached[1:] += gain[1:] * change[:-1]
        if np.any(change < least):
            if not patient:
                raise SolverError(LOST)
            break
        fast = reached > room
        if not np.any(held & ~fast):
            return np.minimum(change, room), held
        held = fast
    return _in_order(free, gain, least, room)


def _in_order(
    free: FloatArray, gain: FloatArray, least: FloatArray, room: FloatArray
) -> tuple[FloatArray, NDArray[np.bool_]]:
    found, now = [], 0.0
    rows = zip(free.tolist(), gain.tolist(), least.tolist(), room.tolist(), strict=True)
    for own, share, low, high in rows:
        now = own + share * now
        now = low if now < low else min(now, high)
        found.append(now)
    change = np.array(found)
    return change, change >= room


def solve_unit(below: FloatArray, right_side: FloatArray, transposed: bool = False) -> FloatArray:
    """Solve a triangular system with ones on the main diagonal and one diagonal below it.

    Right sides are one of shape (k,) or several of shape (n, k).
    """
    band = np.empty((2, right_side.shape[-1]), order="F")
    band[1, :-1] = below
    if right_side.ndim == 1:
        solve = compiled("blas").dtbsv
        return np.asarray(solve(1, band, right_side, lower=1, trans=int(transposed), diag=1))
    if not len(right_side):
        return right_side
    way = "T" if transposed else "N"
    found, _ = compiled("lapack").dtbtrs(band, right_side.T, uplo="L", trans=way, diag="U")
    return np.asarray(found.T)


# --- Where Newton's method is lost: a march over the steps finds speeds to begin with -------------

MOST_PARTS = 4096
"""A step may be cut into so many parts before the rider is said to stand still."""

SURE_PASS = 3
"""Pass over the steps from which a step that nobody can end is cut; speeds are near by then."""

MOST_PASSES = 60


def _marched(ride: Ride) -> Solution:
    """March with forces that are linear about the last speeds, until Newton's method takes over."""
    parts, now, speed = np.ones(len(ride.wheel_power), dtype=int), ride, first_guess(ride)
    for number in range(MOST_PASSES):
        speed, stalls = _march(now, speed)
        found = None if stalls else _newton(now, speed)
        if found is not None:
            return found
        if stalls and number >= SURE_PASS:
            # Who stops on a step would stop on those that follow it too.
            first = np.array(stalls)[np.diff(stalls, prepend=-2) > 1]
            steps = np.unique(np.searchsorted(np.cumsum(parts), first, side="right"))
            parts[steps] *= 2
            if np.any(parts > MOST_PARTS):
                raise _stalled(ride, int(np.argmax(parts > MOST_PARTS)))
            before, now = now, ride.cut(parts)
            speed = np.interp(now.nodes, before.nodes, speed)
    raise SolverError("the steps of the course do not balance; please report this race file")


def _march(ride: Ride, speed: FloatArray) -> tuple[FloatArray, list[int]]:
    """Speeds by one step after the other, and the steps on which the rider would stop.

    With a mean speed m and a force ``c + g m`` the balance of a step is a cubic in m. From half the
    speed at the start, where its root would be a stop, it is convex, so that Newton's method from
    above falls to the root.
    """
    mean = 0.5 * (speed[:-1] + speed[1:])
    force, slope = ride.resistance(mean)
    growth = np.maximum(slope, 0.0)
    kinetic = 2.0 * ride.inertia / ride.step
    columns = (kinetic, growth, force - growth * mean, ride.wheel_power, ride.ceiling[1:])
    found, stalls = [min(ride.start_speed, float(ride.ceiling[0]))], []
    for step, row in enumerate(zip(*(one.tolist() for one in columns), strict=True)):
        *terms, ceiling = row
        end = 2.0 * _mean_speed(found[-1], *terms) - found[-1]
        if end <= CRAWL:
            stalls.append(step)
        found.append(min(max(end, CRAWL), ceiling))
    return np.array(found), stalls


CRAWL = 1e-6
"""Less than anyone can ride [m/s]."""


def _mean_speed(
    start: float, kinetic: float, growth: float, constant: float, power: float
) -> float:
    """Root of ``kinetic m (m - start) + constant + growth m = power / m``; least for none [m/s]."""
    square = growth - kinetic * start
    least = 0.5 * (start + CRAWL)
    if ((kinetic * least + square) * least + constant) * least >= power:
        return 0.5 * start
    mean = start or 1.0
    for _ in range(200):
        rise = (3.0 * kinetic * mean + 2.0 * square) * mean + constant
        if rise <= 0.0:
            mean *= 2.0
            continue
        change = (((kinetic * mean + square) * mean + constant) * mean - power) / rise
        mean -= change
        if abs(change) <= 1e-12 * mean:
            break
    return mean


def _stalled(ride: Ride, step: int) -> InputError:
    grade = float(grade_of(ride.slope_sine)[step])
    return InputError(
        f"kilometre {ride.nodes[step] / 1000:.2f}",
        f"the rider comes to a stop: {ride.wheel_power[step]:.0f} W at the road,"
        f" grade {100 * grade:.1f} %, head wind {ride.head[step]:.1f} m/s",
        "give more power or check the course and the wind there",
    )
