"""The work above critical power: closed forms, an integrator, derivatives, a published climb."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from racecalc.arrays import FloatArray
from racecalc.decisions.pacing.critical_power import (
    contradictions,
    demand,
    highest_power_for,
    reserve_along,
    reserve_slopes,
)
from racecalc.decisions.riding import ride
from tests.builders import graded_course, race, still_air

CRITICAL, WORK = 282.0, 17e3


def profile(steps: int, seed: int = 3) -> tuple[FloatArray, FloatArray]:
    """Powers on both sides of critical power, and durations of steps."""
    draw = np.random.default_rng(seed)
    return draw.uniform(0.0, 450.0, steps), draw.uniform(0.2, 90.0, steps)


@pytest.mark.parametrize("steps", [1, 2])
def test_half_recovery_takes_ln_2_time_constants(steps: int) -> None:
    # W' 20 kJ, 100 W below: time constant 200 s, half recovery 138.6 s (closed form of the
    # differential equation).
    half = 200.0 * math.log(2.0)
    assert half == pytest.approx(138.6, abs=0.05)
    power = np.array([350.0, *[150.0] * steps])
    left = reserve_along(power, np.array([200.0, *[half / steps] * steps]), 250.0, 20e3)
    assert left[1] == pytest.approx(0.0, abs=1e-9)
    assert left[-1] == pytest.approx(10e3, rel=1e-13)


def test_agrees_with_an_integrator_of_the_differential_form() -> None:
    power, step_time = profile(60)

    def by_time(held: float) -> object:
        if held >= CRITICAL:
            return lambda _, left: np.array([-(held - CRITICAL)])
        return lambda _, left: (1.0 - left / WORK) * (CRITICAL - held)

    left, nodes = WORK, [WORK]
    for held, duration in zip(power, step_time, strict=True):
        found = solve_ivp(by_time(held), (0.0, duration), [left], rtol=1e-12, atol=1e-8)
        left = float(found.y[0, -1])
        nodes.append(left)
    ours = reserve_along(power, step_time, CRITICAL, WORK)
    assert np.max(np.abs(ours - nodes)) < 1e-8 * WORK
    assert np.ptp(ours) > 0.5 * WORK


@given(st.integers(0, 1000), st.integers(1, 40), st.floats(0.0, 1.0))
def test_agrees_with_a_plain_loop(seed: int, steps: int, refill: float) -> None:
    power, step_time = profile(steps, seed)
    left = WORK
    for held, duration in zip(power, step_time, strict=True):
        if held >= CRITICAL:
            left -= (held - CRITICAL) * duration
        else:
            rate = refill * (CRITICAL - held) / WORK
            left = WORK - (WORK - left) * math.exp(-rate * duration)
    found = reserve_along(power, step_time, CRITICAL, WORK, refill)
    assert found[-1] == pytest.approx(left, abs=1e-7)
    assert np.all(found <= WORK)


def test_cutting_steps_changes_nothing() -> None:
    power, step_time = profile(30)
    whole = reserve_along(power, step_time, CRITICAL, WORK)
    cut = reserve_along(np.repeat(power, 4), np.repeat(step_time / 4, 4), CRITICAL, WORK)
    assert cut[::4] == pytest.approx(whole, rel=1e-12)


def test_no_refill_keeps_what_was_spent() -> None:
    power, step_time = profile(30)
    left = reserve_along(power, step_time, CRITICAL, WORK, refill=0.0)
    assert left[-1] == pytest.approx(WORK - np.maximum(power - CRITICAL, 0.0) @ step_time)


def test_long_rests_refill_without_overflow() -> None:
    left = reserve_along(np.array([400.0, 0.0]), np.array([100.0, 1e7]), CRITICAL, WORK)
    assert left[-1] == WORK


@pytest.mark.parametrize("refill", [1.0, 0.4, 0.0])
def test_slopes_agree_with_finite_differences(refill: float) -> None:
    power, step_time = profile(25)
    nodes = np.array([0, 1, 12, 25])
    of_power, of_time = reserve_slopes(power, step_time, CRITICAL, WORK, nodes, refill)
    assert of_power.shape == of_time.shape == (4, 25)
    for step in range(25):
        nudge = np.zeros(25)
        nudge[step] = 1e-3
        by_power, by_time = (
            (
                reserve_along(power + up, step_time + on, CRITICAL, WORK, refill)
                - reserve_along(power - up, step_time - on, CRITICAL, WORK, refill)
            )[nodes]
            / 2e-3
            for up, on in ((nudge, 0.0), (0.0, nudge))
        )
        assert of_power[:, step] == pytest.approx(by_power, rel=1e-6, abs=1e-5)
        assert of_time[:, step] == pytest.approx(by_time, rel=1e-6, abs=1e-5)


def test_slope_at_critical_power_is_that_of_more_power() -> None:
    power, step_time = np.array([332.0, CRITICAL]), np.array([60.0, 30.0])
    of_power, of_time = reserve_slopes(power, step_time, CRITICAL, WORK, np.array([2]))
    assert of_power.tolist() == [[-60.0, -30.0]]
    assert of_time.tolist() == [[-50.0, 0.0]]


@pytest.mark.parametrize(("work", "refill"), [(0.0, 1.0), (-1.0, 1.0), (17e3, -0.1)])
def test_impossible_reserves(work: float, refill: float) -> None:
    with pytest.raises(ValueError, match="must"):
        reserve_along(np.array([300.0]), np.array([1.0]), CRITICAL, work, refill)


def test_the_highest_power_empties_the_reserve() -> None:
    for lasts in (17e3, 850.0, 60.0):
        power = highest_power_for(lasts, CRITICAL, WORK)
        spent = reserve_along(np.array([power]), np.array([lasts]), CRITICAL, WORK)
        assert spent[-1] == pytest.approx(0.0, abs=1e-9)
    assert highest_power_for(850.0, CRITICAL, WORK) == pytest.approx(302.0)


def climb_time(power: float) -> float:
    """Time for 4.2 km at 7.1 %, 76.5 kg in all, CdA 0.33, Crr 0.0045, density 1.15 [s].

    Begun at the steady speed of 4.80 m/s, rounded, as the independent calculation holds it.
    """
    climb = graded_course((4200.0, 0.071))
    climber = {"rider_mass": 67.5, "cda": 0.33, "crr": 0.0045, "start_speed": 4.80}
    return ride(race(power=power, air=still_air(1.15), course=climb, **climber)).time


@pytest.mark.parametrize(
    ("power", "used", "feasible"), [(300.0, 15.8, True), (301.0, 16.6, True), (302.0, 17.4, False)]
)
def test_the_climb_of_an_independent_calculation(power: float, used: float, feasible: bool) -> None:
    # Work above 282 W [kJ], calculated independently of this package.
    taken = climb_time(power)
    left = reserve_along(np.array([power]), np.array([taken]), CRITICAL, WORK)
    assert (WORK - left[-1]) / 1000 == pytest.approx(used, abs=0.05)
    assert bool(left[-1] >= 0) is feasible
    assert (contradictions(power, taken, CRITICAL, WORK) == ()) is feasible


def test_the_time_of_that_climb() -> None:
    assert climb_time(300.0) == pytest.approx(875.8, abs=0.1)


def test_demand_in_words() -> None:
    said = "300 W for 14:36 uses 15.8 kJ of the 17 kJ above 282 W"
    assert demand(300.0, 875.8, CRITICAL, WORK) == said
    assert demand(250.0, 600.0, CRITICAL, WORK).endswith("uses none of the 17 kJ above 282 W")


def test_contradictions_in_words() -> None:
    assert contradictions(280.0, 7200.0, CRITICAL, WORK) == ()
    (said,) = contradictions(302.0, 870.3, CRITICAL, WORK)
    assert said == (
        "302 W for 14:30 uses 17.4 kJ of the 17 kJ above 282 W: not possible with these numbers,"
        " which allow 302 W for 14:10 or 301.5 W for 14:30. Lower the power, or check critical"
        " power and the work above it."
    )
