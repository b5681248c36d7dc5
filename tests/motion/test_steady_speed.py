"""Where power and resistance balance: the final speed against roots of a polynomial."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from racecalc.motion.ride import flat_calm_speed
from racecalc.motion.setting import ride_of
from racecalc.motion.solver import Solution, solve
from tests.builders import bike, graded_course, race, still_air, windy_air
from tests.motion.by_hand import GRAVITY, cubic_root

ROUNDING = 1e-12
RUN_IN = 1e-9
"""What is left of the start after 10 km: more than 20 run-in lengths of some 200 m."""


def solved(**changes: object) -> Solution:
    return solve(ride_of(race(**changes)))


@pytest.mark.parametrize("start_speed", [0.0, 6.0, 18.0])
@pytest.mark.parametrize("power", [120.0, 250.0, 420.0])
def test_flat_final_speed_solves_the_cubic(power: float, start_speed: float):
    speed = solved(power=power, start_speed=start_speed).speed[-1]
    cubic = cubic_root(0.5 * 1.2 * 0.25, 0.0087, 0.004 * 80 * GRAVITY + 0.091, -0.975 * power)
    assert speed == pytest.approx(cubic, rel=RUN_IN)


@given(
    power=st.floats(1.0, 1500.0),
    mass=st.floats(40.0, 150.0),
    cda=st.floats(0.15, 0.6),
    spokes=st.floats(0.0, 0.01),
    crr=st.floats(0.001, 0.02),
    loss=st.floats(0.0, 0.1),
    density=st.floats(0.8, 1.4),
    power_at=st.sampled_from(["cranks", "hub"]),
)
def test_flat_calm_speed_solves_the_cubic(
    power: float,
    mass: float,
    cda: float,
    spokes: float,
    crr: float,
    loss: float,
    density: float,
    power_at: str,
):
    ridden = bike(cda=cda, spoke_drag=spokes, crr=crr, drivetrain_loss=loss, power_at=power_at)
    share = 1.0 - loss if power_at == "cranks" else 1.0
    cubic = cubic_root(
        0.5 * density * (cda + spokes), 0.0087, crr * mass * GRAVITY + 0.091, -power * share
    )
    # numpy.roots is good to some 1e-13 here.
    assert flat_calm_speed(ridden, mass, power, density) == pytest.approx(cubic, rel=1e-11)


def test_flat_calm_speed_without_power_is_none():
    assert flat_calm_speed(bike(), 80.0, 0.0, 1.2) == 0.0


def test_started_at_flat_calm_speed_it_holds_it():
    speed = flat_calm_speed(bike(), 80.0, 250.0, 1.2)
    found = solved(start_speed=speed)
    assert found.speed == pytest.approx(np.full_like(found.speed, speed), rel=ROUNDING)
    assert found.time == pytest.approx(10_000 / speed, rel=ROUNDING)


@pytest.mark.parametrize("head", [-3.0, 5.0])
def test_steady_in_wind_from_ahead_or_behind(head: float):
    air = windy_air(abs(head), 0.0 if head > 0 else 180.0, follows_rider=True)
    speed = solved(air=air).speed[-1]
    # v (A (v + w)^2 + B + C v) = P, multiplied out.
    area, road = 0.5 * 1.2 * 0.25, 0.004 * 80 * GRAVITY + 0.091
    cubic = cubic_root(area, 2 * area * head + 0.0087, area * head**2 + road, -0.975 * 250)
    assert speed == pytest.approx(cubic, rel=RUN_IN)


@pytest.mark.parametrize("grade", [0.03, 0.08, 0.15])
@pytest.mark.parametrize("power", [15.0, 90.0, 350.0])
def test_steady_climb_also_at_a_crawl(power: float, grade: float):
    found = solved(power=power, start_speed=2.0, course=graded_course((5000.0, grade)))
    angle = np.arctan(grade)
    road = 80 * GRAVITY * (0.004 * np.cos(angle) + np.sin(angle)) + 0.091
    cubic = cubic_root(0.5 * 1.2 * 0.25, 0.0087, road, -0.975 * power)
    assert found.speed[-1] == pytest.approx(cubic, rel=RUN_IN)


@pytest.mark.parametrize("power", [0.0, 1e-6])
def test_coasting_down_a_slope_ends_at_terminal_speed(power: float):
    found = solved(
        power=power,
        start_speed=5.0,
        course=graded_course((12_000.0, -0.06)),
        bearing_drag=0.0,
        bearing_drag_slope=0.0,
    )
    angle = np.arctan(0.06)
    pull = 80 * GRAVITY * (np.sin(angle) - 0.004 * np.cos(angle))
    assert found.speed[-1] == pytest.approx(np.sqrt(pull / (0.5 * 1.2 * 0.25)), rel=RUN_IN)


def test_a_tail_wind_faster_than_the_rider_pushes():
    """The air drag points forward: v settles where the push and the rolling balance."""
    air = windy_air(10.0, 180.0, follows_rider=True)
    found = solved(air=air, power=0.0, start_speed=5.0)
    # 1/2 rho CdA (w - v)^2 = Crr m g + c0 + c1 v, a square in v below the wind speed.
    area, road = 0.5 * 1.2 * 0.25, 0.004 * 80 * GRAVITY + 0.091
    lower = np.min(np.roots([area, -2 * area * 10 - 0.0087, area * 100 - road]).real)
    assert lower < 10
    assert found.speed[-1] == pytest.approx(lower, rel=RUN_IN)


def test_thinner_air_is_faster_by_the_cube_root_where_only_air_resists():
    def time(density: float) -> float:
        rolling = {"crr": 1e-12, "bearing_drag": 0.0, "bearing_drag_slope": 0.0}
        speed = flat_calm_speed(bike(**rolling), 80.0, 250.0, density)
        return solved(air=still_air(density), start_speed=speed, **rolling).time

    # Crr cannot be zero; 1e-12 of it is worth 1e-11 of the drag.
    assert time(0.9) / time(1.2) == pytest.approx((0.9 / 1.2) ** (1 / 3), rel=1e-10)
