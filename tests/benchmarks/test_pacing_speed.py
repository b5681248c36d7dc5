"""How fast the quickest power is found, side by side with a general optimiser in the same run.

Run by hand: ``pytest tests/benchmarks``. It prints ratios, which hold on a noisy machine where
times do not; nothing here fails on a slow day. Asked for are 5 times less than IPOPT needs on
4,000 steps; only its own search is counted, not the time to write the program down.
"""

import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from racecalc.arrays import FloatArray
from racecalc.decisions.pacing.limits import CriticalPower, PowerMean
from racecalc.decisions.riding import ride
from racecalc.domain.bike import DragArea
from racecalc.domain.loading import load_race
from racecalc.motion.optimum import INSIDE, Wanted, optimum
from racecalc.motion.ride import Ride
from racecalc.motion.solver import solve
from tests.pacing.making import card_within

DEMO = Path(__file__).parents[2] / "course_demo" / "race.toml"
LEVEL, ORDER, MOST, EFFICIENCY = 262.0, 4.0, 393.0, 0.974


def rolling_ride(length: float, steps: int) -> Ride:
    """Hills of 2.3 km and wind that turns over 9 km, without ceilings."""
    nodes = np.linspace(0.0, length, steps + 1)
    middle = 0.5 * (nodes[:-1] + nodes[1:])
    each = np.ones(steps)
    return Ride(
        nodes=nodes,
        slope_sine=0.03 * np.sin(2 * np.pi * middle / 2300.0),
        wheel_power=LEVEL * EFFICIENCY * each,
        mass=80.0 * each,
        rotating_mass=1.4,
        crr=0.004 * each,
        density=1.2 * each,
        head=2.0 * np.sin(2 * np.pi * middle / 9000.0),
        cross=0.0 * each,
        cda=DragArea((0.24,)),
        spoke_drag=0.0044,
        bearing_drag=0.091,
        bearing_drag_slope=0.0087,
        ceiling=np.full(steps + 1, np.inf),
        start_speed=9.0,
    )


def demo_ride() -> Ride:
    """The demo with its bends and speed limits, from rest."""
    return ride(load_race(DEMO, [])).solution.ride


def gentle_guess(road: Ride) -> FloatArray:
    """The same start for both."""
    gentle = np.full(len(road.step), 0.9 * LEVEL * EFFICIENCY)
    return solve(replace(road, ceiling=INSIDE * road.ceiling, wheel_power=gentle)).speed


def fastest(work: Callable[[], object], repeats: int) -> float:
    """Shortest wall time of several runs [s]: the one least disturbed."""
    times = []
    for _ in range(repeats):
        began = time.perf_counter()
        work()
        times.append(time.perf_counter() - began)
    return min(times)


@pytest.mark.parametrize("course", ["40 rolling km, 4,000 steps", "the demo"])
def test_against_a_general_optimiser(course: str, capsys: pytest.CaptureFixture[str]) -> None:
    pytest.importorskip("casadi")
    from tests.pacing.nonlinear_program import Program, quickest

    road = demo_ride() if course == "the demo" else rolling_ride(40_000.0, 4000)
    guess, levels = gentle_guess(road), np.full(len(road.step), LEVEL)
    limits = (levels, ORDER, 0.0, MOST, EFFICIENCY)
    ours = optimum(road, Wanted(*limits), guess)
    theirs = [quickest(road, Program(*limits), guess) for _ in range(3)]
    general = min(found.seconds for found in theirs)
    one = fastest(lambda: optimum(road, Wanted(*limits), guess), 10)
    assert ours.converged
    assert ours.time == pytest.approx(theirs[0].time, rel=1e-5)
    with capsys.disabled():
        print(
            f"\n{course}: {1e3 * one:.0f} ms in {ours.steps} Newton steps, IPOPT"
            f" {1e3 * general:.0f} ms: {general / one:.1f} times as long (asked for: 5)"
            f"\noptimum {ours.time:.5f} s, IPOPT's {theirs[0].time:.5f} s ({theirs[0].status})"
        )


@pytest.mark.parametrize(
    "limit",
    [PowerMean(LEVEL, ORDER, 0.0, MOST), CriticalPower(255.0, 17e3, 0.0, MOST)],
    ids=["4th-power mean", "critical power"],
)
def test_a_whole_card(limit: PowerMean | CriticalPower, capsys: pytest.CaptureFixture[str]) -> None:
    base = ride(load_race(DEMO, []))
    taken = fastest(lambda: card_within(base, limit, 10), 2)
    one = fastest(lambda: solve(base.solution.ride), 10)
    with capsys.disabled():
        print(f"\na card of ten for the demo takes {taken:.2f} s, {taken / one:.0f} rides of it")
