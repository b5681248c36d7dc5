"""How fast the quickest power is found, side by side with a general optimiser in the same run.

Run by hand: ``pytest tests/benchmarks``. It prints ratios, which hold on a noisy machine where
times do not; nothing here fails on a slow day. Asked for are 5 times less than IPOPT needs on
4,000 steps; only its own search is counted, not the time to write the program down.
"""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from racecalc.arrays import FloatArray
from racecalc.decisions.pacing.limits import CriticalPower, PowerMean
from racecalc.decisions.riding import ride
from racecalc.domain.loading import load_race
from racecalc.motion.optimum import INSIDE, PowerBounds, optimum
from racecalc.motion.ride import Ride
from racecalc.motion.solver import solve
from tests.benchmarks.making import fastest, rolling_ride
from tests.pacing.making import card_within, critical, power_mean

DEMO = Path(__file__).parents[2] / "course_demo" / "race.toml"
LEVEL, ORDER, MOST, EFFICIENCY = 262.0, 4.0, 393.0, 0.974


def demo_ride() -> Ride:
    """The demo with its bends and speed limits, from rest."""
    return ride(load_race(DEMO, [])).solution.ride


def gentle_guess(road: Ride) -> FloatArray:
    """The same start for both."""
    gentle = np.full(len(road.step), 0.9 * LEVEL * EFFICIENCY)
    return solve(replace(road, ceiling=INSIDE * road.ceiling, wheel_power=gentle)).speed


@pytest.mark.parametrize("course", ["40 rolling km, 4,000 steps", "the demo"])
def test_against_a_general_optimiser(course: str, capsys: pytest.CaptureFixture[str]) -> None:
    pytest.importorskip("casadi")
    from tests.pacing.nonlinear_program import quickest

    road = demo_ride() if course == "the demo" else rolling_ride(40_000.0, 4000, LEVEL * EFFICIENCY)
    guess, levels = gentle_guess(road), np.full(len(road.step), LEVEL)
    wanted = PowerBounds(levels, ORDER, 0.0, MOST, EFFICIENCY)
    ours = optimum(road, wanted, guess)
    theirs = [quickest(road, wanted, guess) for _ in range(3)]
    general = min(found.seconds for found in theirs)
    one = fastest(lambda: optimum(road, wanted, guess), 10)
    assert ours.converged
    time = float(np.sum(2.0 * road.step / (ours.speed[1:] + ours.speed[:-1])))
    assert time == pytest.approx(theirs[0].time, rel=1e-5)
    with capsys.disabled():
        print(
            f"\n{course}: {1e3 * one:.0f} ms, IPOPT"
            f" {1e3 * general:.0f} ms: {general / one:.1f} times as long (asked for: 5)"
            f"\noptimum {time:.5f} s, IPOPT's {theirs[0].time:.5f} s ({theirs[0].status})"
        )


@pytest.mark.parametrize(
    "limit",
    [power_mean(LEVEL, ORDER, 0.0, MOST), critical(255.0, 17e3, 0.0, MOST)],
    ids=["4th-power mean", "critical power"],
)
def test_a_whole_card(limit: PowerMean | CriticalPower, capsys: pytest.CaptureFixture[str]) -> None:
    base = ride(load_race(DEMO, []))
    taken = fastest(lambda: card_within(base, limit, 10), 2)
    one = fastest(lambda: solve(base.solution.ride), 10)
    with capsys.disabled():
        print(f"\na card of ten for the demo takes {taken:.2f} s, {taken / one:.0f} rides of it")
