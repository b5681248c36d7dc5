"""How fast the solver is, side by side with two other ways to the same numbers.

Run by hand: ``pytest tests/benchmarks``. It prints ratios, which hold on a noisy machine where
times do not; nothing here fails on a slow day.
"""

from bisect import bisect_right
from dataclasses import replace
from math import sqrt
from pathlib import Path

import numba
import numpy as np
import pytest
from scipy.integrate import solve_ivp

from racecalc.domain.loading import load_race
from racecalc.domain.race import SpeedLimits
from racecalc.motion.adjoint import TimeDerivatives
from racecalc.motion.ride import Ride
from racecalc.motion.setting import ride_of
from racecalc.motion.solver import solve
from racecalc.physics.forces import GRAVITY
from tests.benchmarks.making import (
    BEARING,
    CDA,
    CRR,
    DENSITY,
    GROWTH,
    MASS,
    SPOKES,
    fastest,
    rolling_ride,
)

DEMO = Path(__file__).parents[2] / "course_demo" / "race.toml"
POWER = 256.0


@numba.njit(cache=False)
def compiled_march(step, sine, head, inertia, start):
    """The same discrete equations, marched one by one in compiled code."""
    speed = np.empty(len(step) + 1)
    speed[0] = start
    total = 0.0
    for k in range(len(step)):
        before = speed[k]
        after = before
        constant = CRR * MASS * GRAVITY * np.sqrt(1 - sine[k] ** 2) + MASS * GRAVITY * sine[k]
        for _ in range(50):
            mean = 0.5 * (before + after)
            air = mean + head[k]
            force = 0.5 * DENSITY * (CDA + SPOKES) * air * abs(air)
            force += constant + BEARING + GROWTH * mean
            slope = DENSITY * (CDA + SPOKES) * abs(air) + GROWTH
            residual = 0.5 * inertia * (after**2 - before**2) - step[k] * (POWER / mean - force)
            by_after = inertia * after + 0.5 * step[k] * (POWER / mean**2 + slope)
            change = residual / by_after
            after -= change
            if abs(change) < 1e-12 * after:
                break
        speed[k + 1] = after
        total += step[k] / (0.5 * (before + after))
    return total


def adaptive(ride: Ride, tolerance: float) -> float:
    """Time by scipy's adaptive Runge-Kutta method over the same pieces of road.

    Kinetic energy along the road is the state, as starting from rest is no singularity in it;
    speed ceilings are left out, for it knows none.
    """
    inertia = float(ride.inertia[0])
    columns = [ride.slope_sine, ride.head, ride.crr, ride.mass, ride.density, ride.wheel_power]
    rows = np.column_stack(columns).tolist()
    ends = ride.nodes[1:-1].tolist()
    area = ride.cda.at_zero_yaw + ride.spoke_drag

    def along(position: float, state: np.ndarray) -> list[float]:
        sine, head, crr, mass, density, power = rows[bisect_right(ends, position)]
        speed = sqrt(max(2 * state[0] / inertia, 1e-6))
        air = speed + head
        force = 0.5 * density * area * air * abs(air)
        force += ride.bearing_drag + ride.bearing_drag_slope * speed
        force += mass * GRAVITY * (crr * sqrt(1 - sine**2) + sine)
        return [power / speed - force, 1 / speed]

    begin = [0.5 * inertia * ride.start_speed**2, 0.0]
    found = solve_ivp(along, (0.0, ride.nodes[-1]), begin, rtol=tolerance, atol=tolerance)
    return float(found.y[1, -1])


def at_same_error(ride: Ride) -> tuple[float, float]:
    """Error of one solve [s] and the tolerance at which the adaptive method is as exact."""
    exact = solve(ride.cut(np.full(len(ride.step), 16))).time
    error = abs(solve(ride).time - exact)
    for tolerance in (1e-2, 1e-3, 1e-4, 1e-5, 1e-6, 1e-7, 1e-8, 1e-9):
        if abs(adaptive(ride, tolerance) - exact) <= error:
            return error, tolerance
    pytest.fail("the adaptive method never becomes as exact")


def all_derivatives(ride: Ride) -> list[np.ndarray]:
    found = TimeDerivatives(solve(ride))
    names = ("wheel_power", "cda", "crr", "mass", "density", "head", "cross")
    return [getattr(found, name) for name in names]


@pytest.fixture(scope="module")
def smooth_road() -> Ride:
    return rolling_ride(40_000.0, 4000, POWER)


@pytest.fixture(scope="module")
def demo_road() -> Ride:
    """The road of the demo in still air, without its speed ceilings."""
    race = load_race(DEMO, ["air.wind_speed=0 m/s", "rider.fluid_used=0 kg"])
    ride = ride_of(replace(race, limits=SpeedLimits()))
    return replace(ride, start_speed=9.0)


def test_one_solve(benchmark, smooth_road: Ride) -> None:
    benchmark(solve, smooth_road)


def test_solve_and_derivatives(benchmark, smooth_road: Ride) -> None:
    benchmark(lambda: all_derivatives(smooth_road))


def test_against_a_compiled_march(smooth_road: Ride, capsys: pytest.CaptureFixture[str]) -> None:
    inertia = MASS + smooth_road.rotating_mass
    sine, head = smooth_road.slope_sine, smooth_road.head
    inputs = (smooth_road.step, sine, head, inertia, smooth_road.start_speed)
    assert compiled_march(*inputs) == pytest.approx(solve(smooth_road).time, rel=1e-12)
    one = fastest(lambda: solve(smooth_road), 50)
    both = fastest(lambda: all_derivatives(smooth_road), 50)
    march = fastest(lambda: compiled_march(*inputs), 50)
    long_road = rolling_ride(180_000.0, 18_000, POWER)
    longer = fastest(lambda: solve(long_road), 20)
    with capsys.disabled():
        print(
            f"\none solve {1e3 * one:.2f} ms: {one / march:.1f} times a compiled march"
            f" ({1e3 * march:.2f} ms)"
            f"\nwith derivatives {both / one:.2f} times one solve"
            f"\n180 km in 18,000 steps: {longer / one / 4.5:.2f} times one solve a step"
        )


@pytest.mark.parametrize("road", ["smooth_road", "demo_road"])
def test_against_an_adaptive_method(
    road: str, request: pytest.FixtureRequest, capsys: pytest.CaptureFixture[str]
) -> None:
    ride = request.getfixturevalue(road)
    error, tolerance = at_same_error(ride)
    one = fastest(lambda: solve(ride), 30)
    general = fastest(lambda: adaptive(ride, tolerance), 3)
    with capsys.disabled():
        print(
            f"\n{road}, {len(ride.step)} steps, error {1e3 * error:.1f} ms: adaptive Runge-Kutta"
            f" at tolerance {tolerance:g} takes {1e3 * general:.0f} ms, {general / one:.0f} times"
            f" one solve ({1e3 * one:.2f} ms)"
        )
