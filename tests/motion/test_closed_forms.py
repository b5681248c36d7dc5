"""Motion without or with one resistance, where the answer can be written down."""

import numpy as np
import pytest

from racecalc.domain.race import Bike, SpeedLimits
from racecalc.motion.setting import ride_of
from racecalc.motion.solver import Solution, solve
from tests.builders import bike, flat_course, graded_course, profile_course, race, still_air
from tests.motion.by_hand import GRAVITY

ROUNDING = 1e-11
"""Several thousand steps, each rounded to 1e-16, and forces of 1e-12 that cannot be zero."""


def nearly_free_bike(**changes: object) -> Bike:
    """A bike that hardly anything holds back; Crr must not be zero."""
    free = {"cda": 1e-9, "crr": 1e-15, "bearing_drag": 0.0, "bearing_drag_slope": 0.0}
    return bike(**{**free, **changes})


def solved(**changes: object) -> Solution:
    return solve(ride_of(race(**{"air": still_air(1e-6), **changes})))


def test_power_times_time_is_kinetic_energy_from_rest():
    ridden = nearly_free_bike(start_speed=0.0, wheel_inertia=0.14)
    found = solved(bike=ridden, course=flat_course(2000.0))
    moving = 80 + 0.14 / 0.311**2
    elapsed = np.cumsum(found.step_time)
    kinetic = 0.5 * moving * found.speed[1:] ** 2
    assert kinetic == pytest.approx(0.975 * 250 * elapsed, rel=ROUNDING)


def test_speed_from_rest_grows_with_the_cube_root_of_distance():
    """M v^2 dv/dx = P, so v^3 = 3 P x / M, and t = M v^2 / (2 P)."""
    found = solved(bike=nearly_free_bike(start_speed=0.0), course=flat_course(2000.0))
    power = 0.975 * 250
    speed = (3 * power * 2000 / 80) ** (1 / 3)
    # The first step of 0.16 m ends with v^3 a third too large; over 2 km 3e-5 of v^3 is left.
    assert found.speed[-1] == pytest.approx(speed, rel=2e-5)
    assert found.time == pytest.approx(80 * speed**2 / (2 * power), rel=4e-5)


def test_speeding_up_from_a_rolling_start():
    """From v0 the same law reads v^3 = v0^3 + 3 P x / M; smooth, so second order tells."""
    found = solved(bike=nearly_free_bike(start_speed=10.0), course=flat_course(2000.0))
    power = 0.975 * 250
    speed = (10**3 + 3 * power * found.ride.nodes / 80) ** (1 / 3)
    # 10 m steps over a scale of M v^3 / P = 330 m: (10/330)^2 / 24 is 4e-5 at the start.
    assert found.speed == pytest.approx(speed, rel=4e-5)


def test_coasting_against_rolling_resistance_alone_slows_evenly():
    ridden = nearly_free_bike(crr=0.005, start_speed=12.0, wheel_inertia=0.14)
    found = solved(bike=ridden, power=0.0, course=flat_course(1000.0))
    slowing = 0.005 * 80 * GRAVITY / (80 + 0.14 / 0.311**2)
    speed = np.sqrt(12.0**2 - 2 * slowing * found.ride.nodes)
    # Speed is exact for a constant force, and so is the time: no step length enters.
    assert found.speed == pytest.approx(speed, rel=ROUNDING)
    assert found.time == pytest.approx((12.0 - speed[-1]) / slowing, rel=1e-10)


def test_free_roll_down_a_slope_is_a_fall():
    course = graded_course((500.0, -0.05))
    found = solved(bike=nearly_free_bike(start_speed=0.0), power=0.0, course=course)
    pull = GRAVITY * np.sin(np.arctan(0.05))
    assert found.speed[-1] == pytest.approx(np.sqrt(2 * pull * 500), rel=1e-9)
    assert found.time == pytest.approx(np.sqrt(2 * 500 / pull), rel=1e-9)


def test_free_roll_depends_on_height_alone():
    nodes = np.linspace(0.0, 3000.0, 61)
    height = 12.0 * np.sin(nodes / 170) - nodes / 200
    course = profile_course(nodes, height)
    found = solved(bike=nearly_free_bike(start_speed=18.0), power=0.0, course=course)
    at_nodes = np.interp(found.ride.nodes, nodes, height)
    assert found.speed**2 == pytest.approx(18.0**2 - 2 * GRAVITY * at_nodes, rel=1e-9)


def test_free_roll_back_over_the_same_hills_takes_the_same_time():
    """Without losses the motion can run backwards: reverse the road, start at the end speed."""
    nodes = np.cumsum([0.0, 90, 310, 120, 333, 80, 505])
    height = np.array([4.0, 9, -6, 2, -9, 1, 0])
    out = solved(
        bike=nearly_free_bike(start_speed=17.0), power=0.0, course=profile_course(nodes, height)
    )
    back = solved(
        bike=nearly_free_bike(start_speed=float(out.speed[-1])),
        power=0.0,
        course=profile_course(nodes[-1] - nodes[::-1], height[::-1]),
    )
    assert back.speed[-1] == pytest.approx(17.0, rel=ROUNDING)
    assert back.time == pytest.approx(out.time, rel=ROUNDING)


def test_wheel_inertia_counts_as_mass_that_weighs_nothing():
    """On a slope m g sin pulls m + I/r^2."""
    course = graded_course((400.0, -0.04))
    ridden = nearly_free_bike(start_speed=0.0, wheel_inertia=0.2, wheel_radius=0.3)
    found = solved(bike=ridden, power=0.0, course=course)
    pull = 80 * GRAVITY * np.sin(np.arctan(0.04)) / (80 + 0.2 / 0.3**2)
    assert found.speed[-1] == pytest.approx(np.sqrt(2 * pull * 400), rel=1e-9)


@pytest.mark.parametrize("braking", [2.5, None])
@pytest.mark.parametrize("tightest", [1000.0, 1004.0])
def test_a_bend_costs_what_braking_and_speeding_up_again_take(
    braking: float | None, tightest: float
):
    """15 m/s at most, a bend of 12 m for 6 m: v^2 falls by 2 b x, and v^3 grows by 3 P x / M.

    Steps of 10 m, and the bend between two of them.
    """
    points = np.arange(tightest % 2, 2001.0, 2.0)
    points = np.union1d(points, [0.0, tightest - 0.01, tightest + 6.01, 2000.0])
    bend = np.where(np.abs(points - tightest - 3) <= 3, 12.0, np.inf)
    found = solved(
        bike=nearly_free_bike(start_speed=15.0),
        course=profile_course(points, 0 * points, bend_radius=bend),
        limits=SpeedLimits(max_speed=15.0, lateral_grip=0.4, braking=braking),
    )
    slow, power = np.sqrt(0.4 * GRAVITY * 12.0), 0.975 * 250
    braked = (0.0, 0.0) if braking is None else ((15**2 - slow**2) / 5.0, (15 - slow) / 2.5)
    gained = 80 * (15**3 - slow**3) / (3 * power), 80 * (15**2 - slow**2) / (2 * power)
    cruised = 2000 - braked[0] - 6 - gained[0]
    assert found.time == pytest.approx(cruised / 15 + braked[1] + 6 / slow + gained[1], abs=0.02)
