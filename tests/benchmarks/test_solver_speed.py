"""How fast the solver is, side by side with two other ways to the same numbers.

Run by hand: ``pytest tests/benchmarks``. It prints ratios, which hold on a noisy machine where
times do not; nothing here fails on a slow day.
"""

import time
from collections.abc import Callable

import numba
import numpy as np
import pytest
from scipy.integrate import solve_ivp

from racecalc.domain.bike import DragArea
from racecalc.motion.adjoint import time_derivatives
from racecalc.motion.ride import Ride
from racecalc.motion.solver import solve
from racecalc.physics.constants import GRAVITY

CDA, CRR, MASS, DENSITY, POWER = 0.24, 0.004, 80.0, 1.2, 256.0
BEARING, GROWTH, SPOKES = 0.091, 0.0087, 0.0044


def rolling_ride(length: float, steps: int) -> Ride:
    nodes = np.linspace(0.0, length, steps + 1)
    middle = 0.5 * (nodes[:-1] + nodes[1:])
    each = np.ones(steps)
    return Ride(
        nodes=nodes,
        slope_sine=0.03 * np.sin(2 * np.pi * middle / 2300.0),
        wheel_power=POWER * each,
        mass=MASS * each,
        rotating_mass=1.4,
        crr=CRR * each,
        density=DENSITY * each,
        head=2.0 * np.sin(2 * np.pi * middle / 9000.0),
        cross=0.0 * each,
        cda=DragArea((CDA,)),
        spoke_drag=SPOKES,
        bearing_drag=BEARING,
        bearing_drag_slope=GROWTH,
        ceiling=np.full(steps + 1, np.inf),
        start_speed=9.0,
    )


@numba.njit(cache=False)
def compiled_march(step, sine, head, inertia, start):  # type: ignore[no-untyped-def]
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
    """Time by scipy's adaptive Runge-Kutta method over kinetic energy along the road."""
    inertia = MASS + ride.rotating_mass

    def along(position: float, state: np.ndarray) -> list[float]:
        speed = np.sqrt(2 * state[0] / inertia)
        sine = 0.03 * np.sin(2 * np.pi * position / 2300.0)
        air = speed + 2.0 * np.sin(2 * np.pi * position / 9000.0)
        force = 0.5 * DENSITY * (CDA + SPOKES) * air * abs(air) + BEARING + GROWTH * speed
        force += CRR * MASS * GRAVITY * np.sqrt(1 - sine**2) + MASS * GRAVITY * sine
        return [POWER / speed - force, 1 / speed]

    begin = [0.5 * inertia * ride.start_speed**2, 0.0]
    end = ride.nodes[-1]
    found = solve_ivp(along, (0.0, end), begin, rtol=tolerance, atol=tolerance, max_step=100.0)
    return float(found.y[1, -1])


def fastest(work: Callable[[], object], repeats: int) -> float:
    """Shortest wall time of several runs [s]: the one least disturbed."""
    times = []
    for _ in range(repeats):
        began = time.perf_counter()
        work()
        times.append(time.perf_counter() - began)
    return min(times)


@pytest.fixture(scope="module")
def ride() -> Ride:
    return rolling_ride(40_000.0, 4000)


def test_one_solve(benchmark, ride: Ride) -> None:  # type: ignore[no-untyped-def]
    benchmark(solve, ride)


def test_solve_and_rates(benchmark, ride: Ride) -> None:  # type: ignore[no-untyped-def]
    benchmark(lambda: time_derivatives(solve(ride)))


def test_ratios(ride: Ride, capsys: pytest.CaptureFixture[str]) -> None:
    inputs = (ride.step, ride.slope_sine, ride.head, MASS + ride.rotating_mass, ride.start_speed)
    ours = solve(ride).time
    assert compiled_march(*inputs) == pytest.approx(ours, rel=1e-12)
    finest = adaptive(ride, 1e-10)
    error = abs(ours - finest)
    tolerance = next(
        one
        for one in (1e-3, 1e-4, 1e-5, 1e-6, 1e-7, 1e-8)
        if abs(adaptive(ride, one) - finest) <= error
    )
    one = fastest(lambda: solve(ride), 50)
    both = fastest(lambda: time_derivatives(solve(ride)), 50)
    march = fastest(lambda: compiled_march(*inputs), 50)
    general = fastest(lambda: adaptive(ride, tolerance), 3)
    long_ride = rolling_ride(180_000.0, 18_000)
    longer = fastest(lambda: solve(long_ride), 20)
    with capsys.disabled():
        print(
            f"\none solve {1e3 * one:.2f} ms, error {1e3 * error:.2f} ms of {ours:.1f} s"
            f"\n  over compiled march {march * 1e3:.2f} ms: {one / march:.1f} times"
            f"\n  adaptive Runge-Kutta at the same error {1e3 * general:.0f} ms:"
            f" {general / one:.0f} times one solve"
            f"\n  with derivatives {both / one:.2f} times one solve"
            f"\n  180 km in 18,000 steps: {longer / one / 4.5:.2f} times one solve a step"
        )
