"""The speed along the whole course at once, with a step-by-step march to fall back on.

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

from racecalc.arrays import FloatArray
from racecalc.domain.course import grade_of
from racecalc.errors import InputError, SolverError, check_cancelled
from racecalc.motion.ride import Ride
from racecalc.physics.air import yaw_angle

# --- The same steps solved one by one with a bracketed root --------------------------------------

MOST_PARTS = 4096
"""A step may be cut into so many parts before the rider is said to stand still."""


def march(ride: Ride) -> tuple[NDArray[np.int_], list[float]]:
    """March over the steps, cutting those that are too long for a very slow rider.

    Parameters
    ----------
    ride : Ride
        What to solve.

    Returns
    -------
    parts : ndarray of int
        Number of equal parts into which each step was cut.
    speeds : list of float
        Speed at the end of every part [m/s].

    Raises
    ------
    InputError
        If the rider comes to a stop; it names the kilometre.
    """
    speeds: list[float] = []
    parts = np.ones(len(ride.wheel_power), dtype=int)
    speed = min(ride.start_speed, float(ride.ceiling[0]))
    for index in range(len(parts)):
        single = ride.part(slice(index, index + 1), speed)
        reached = None
        while reached is None:
            reached = _ride_parts(single.cut(parts[index : index + 1]))
            if reached is None:
                parts[index] *= 2
            if parts[index] > MOST_PARTS:
                raise _stalled(single)
        speeds.extend(reached)
        speed = reached[-1]
    return parts, speeds


def _ride_parts(ride: Ride) -> list[float] | None:
    speeds: list[float] = []
    speed = ride.start_speed
    for index in range(len(ride.wheel_power)):
        end = _end_speed(ride.part(slice(index, index + 1), speed))
        if end is None:
            return None
        speed = min(end, float(ride.ceiling[index + 1]))
        speeds.append(speed)
    return speeds


def _surplus(single: Ride, end: float) -> tuple[float, float]:
    """Energy balance of a single step and its derivative with respect to the end speed."""
    start = single.start_speed
    mean = 0.5 * (start + end)
    force, slope = single.resistance(np.array([mean]))
    drive = single.wheel_power[0] / mean
    step = single.step[0]
    inertia = single.inertia[0]
    residual = 0.5 * inertia * (end**2 - start**2) - step * (drive - force[0])
    return residual, inertia * end + 0.5 * step * (drive / mean + slope[0])


def _end_speed(single: Ride) -> float | None:
    """Root of the energy balance by Newton's method kept in a bracket; None if there is none."""
    low, high = 1e-6, max(2.0 * single.start_speed, 1.0)
    if _surplus(single, low)[0] > 0:
        return None
    while _surplus(single, high)[0] < 0:
        low, high = high, 2.0 * high
    end = min(max(single.start_speed, low), high)
    for _ in range(200):
        residual, slope = _surplus(single, end)
        if residual > 0:
            high = end
        else:
            low = end
        trial = end - residual / slope if slope > 0 else low
        trial = trial if low < trial < high else 0.5 * (low + high)
        if abs(trial - end) <= 1e-14 * end:
            return trial
        end = trial
    return end


def _stalled(single: Ride) -> InputError:
    grade = float(grade_of(single.slope_sine)[0])
    return InputError(
        f"kilometre {single.nodes[0] / 1000:.2f}",
        f"the rider comes to a stop: {single.wheel_power[0]:.0f} W at the road,"
        f" grade {100 * grade:.1f} %, head wind {single.head[0]:.1f} m/s",
        "give more power or check the course and the wind there",
    )


# --- The whole course solved at once -------------------------------------------------------------

MOST_ITERATIONS = 40
TOLERANCE = 1e-7
"""Largest relative change of any speed in the last iteration; Newton's method squares it, so that
speeds are right to rounding."""

BLOCK = 64
"""Steps solved together where the whole course did not converge at once."""

SLOWEST_GUESS = 0.5
FASTEST_GUESS = 40.0


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
    inertia = ride.inertia
    step = ride.step
    half = 0.5 * step * (drive / mean + slope)
    return StepBalance(
        residual=0.5 * inertia * (after**2 - before**2) - step * (drive - force),
        by_previous=half - inertia * before,
        by_next=half + inertia * after,
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
    """Newton iterations over the whole course; 0 where it was solved in blocks."""

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
    run_in = run_in_length(ride, speed)
    share = ride.step / run_in
    steady = np.minimum(speed, ride.ceiling[1:]) ** 2
    right_side = share * steady
    right_side[0] += ride.start_speed**2
    square = solve_lower(1.0 + share, -np.ones(len(share) - 1), right_side)
    return np.concatenate(([ride.start_speed], np.sqrt(square)))


def solve(ride: Ride, guess: FloatArray | None = None) -> Solution:
    """Solve the equation of motion over the whole course.

    Newton's method with damping; where it does not converge, block by block; and where that
    fails too, step by step with a bracketed root, which needs no guess.

    Parameters
    ----------
    ride : Ride
        What to solve.
    guess : FloatArray, shape (k + 1,), optional
        Speeds to start from, such as those of a similar ride.

    Returns
    -------
    Solution
        Speeds that balance every step to rounding.

    Raises
    ------
    InputError
        If the rider comes to a stop; it names the kilometre.
    Stopped
        If the work that needs it is unwanted by now.
    """
    check_cancelled()
    found = None
    if guess is not None and len(guess) == len(ride.nodes):
        found = _newton(ride, guess)
    return found or _newton(ride, first_guess(ride)) or _in_blocks(ride)


def _newton(ride: Ride, guess: FloatArray) -> Solution | None:
    speed = np.clip(guess, 1e-3, ride.ceiling)
    speed[0] = min(ride.start_speed, ride.ceiling[0])
    for iteration in range(1, MOST_ITERATIONS + 1):
        terms = balance(ride, speed)
        held = _held(ride, speed, terms)
        change = _newton_change(ride, speed, terms, held)
        if not np.all(np.isfinite(change)):
            return None
        # Halving at most keeps every speed positive; full steps are taken near the solution.
        speed[1:] = np.clip(speed[1:] + change, 0.5 * speed[1:], ride.ceiling[1:])
        if np.max(np.abs(change) / speed[1:]) < TOLERANCE:
            return Solution(ride, speed, held, iteration)
    return None


def _held(ride: Ride, speed: FloatArray, terms: StepBalance) -> np.ndarray:
    """Steps at whose end the ceiling binds: the free speed would lie above it."""
    free_excess = terms.residual / terms.by_next
    return np.asarray(speed[1:] - ride.ceiling[1:] > free_excess)


def _newton_change(
    ride: Ride, speed: FloatArray, terms: StepBalance, held: np.ndarray
) -> FloatArray:
    ceiling = np.where(held, ride.ceiling[1:], speed[1:])
    residual = np.where(held, speed[1:] - ceiling, terms.residual)
    diagonal = np.where(held, 1.0, terms.by_next)
    below = np.where(held, 0.0, terms.by_previous)[1:]
    return solve_lower(diagonal, below, -residual)


def solve_lower(
    diagonal: FloatArray, below: FloatArray, right_side: FloatArray, transposed: bool = False
) -> FloatArray:
    """Solve a triangular system with one diagonal below the main one; NaN where it is singular."""
    from scipy.linalg.lapack import dtbtrs

    band = np.zeros((2, len(diagonal)), order="F")
    band[0] = diagonal
    band[1, :-1] = below
    solution, status = dtbtrs(band, right_side[:, None], uplo="L", trans="T" if transposed else "N")
    if status != 0:
        return np.full(len(diagonal), np.nan)
    return np.asarray(solution[:, 0])


def _in_blocks(ride: Ride) -> Solution:
    """Solve block by block, each from the end of the one before; march where Newton fails."""
    steps = len(ride.wheel_power)
    parts = np.ones(steps, dtype=int)
    speeds = [min(ride.start_speed, float(ride.ceiling[0]))]
    for start in range(0, steps, BLOCK):
        block = slice(start, min(start + BLOCK, steps))
        piece = ride.part(block, speeds[-1])
        found = _newton(piece, first_guess(piece))
        if found is None:
            parts[block], reached = march(piece)
            speeds.extend(reached)
        else:
            speeds.extend(found.speed[1:])
    return _polished(ride.cut(parts), np.array(speeds))


def _polished(ride: Ride, speed: FloatArray) -> Solution:
    terms = balance(ride, speed)
    held = speed[1:] >= ride.ceiling[1:] * (1 - 1e-12)
    error = np.where(held, 0.0, terms.residual / (terms.by_next * speed[1:]))
    if np.max(np.abs(error)) > 1e-8:
        raise SolverError("the steps of the course do not balance; please report this race file")
    return Solution(ride, speed, held, 0)
