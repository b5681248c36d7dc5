"""The derivatives of the time against central differences of whole solutions."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from racecalc.domain.race import DragArea, SpeedLimits
from racecalc.motion.adjoint import TimeDerivatives
from racecalc.motion.ride import Ride
from racecalc.motion.setting import ride_of
from racecalc.motion.solver import Solution, solve
from tests.builders import graded_course, race, windy_air, yaw_table

RELATIVE = 1e-6
"""Fourth-order differences over 1 % leave 1e-8 of curvature and 1e-9 of rounding."""

BY_STEP = ("wheel_power", "crr", "mass", "density", "head", "cross")
SPANS = {"head": 0.02, "cross": 0.02}
"""Change of the winds [m/s]; the other quantities change by a share of themselves."""

ROAD = graded_course(
    (300.0, 0.02),
    (250.0, -0.03),
    (350.0, 0.05),
    (400.0, -0.04),
    (200.0, 0.0),
    bearing=[0.1, 0.3, -0.2, 0.4, 0.0],
    roughness=[1.0, 1.6, 1.0, 1.0, 2.0],
)
SKEWED = yaw_table([-29, -2, 2, 29], [0.23, 0.25, 0.25, 0.22])
"""Left and right differ; the yaws of the rides below stay off its corners."""

RIDES = {
    "calm": {},
    "head wind": {"air": windy_air(4.0, 0.0)},
    "cross wind, one area": {"air": windy_air(3.0, 60.0)},
    "cross wind beyond 30 degrees": {"air": windy_air(14.0, 100.0)},
    "table, wind from the right": {"air": windy_air(3.0, 60.0), "cda": SKEWED},
    "table, wind from the left": {"air": windy_air(3.0, -60.0), "cda": SKEWED},
    "tail wind faster than the rider": {"air": windy_air(22.0, 190.0)},
    "from rest with wheels": {"start_speed": 0.0, "wheel_inertia": 0.14},
    "ceiling": {"limits": SpeedLimits(max_speed=12.0, braking=2.0), "air": windy_air(3.0, 60.0)},
    "ceiling and table": {
        "limits": SpeedLimits(max_speed=11.9),
        "air": windy_air(3.0, 60.0),
        "cda": SKEWED,
    },
}


@pytest.fixture(scope="module", params=RIDES, ids=str)
def found(request: pytest.FixtureRequest) -> Solution:
    return solve(ride_of(race(**{"course": ROAD, "spoke_drag": 0.004, **RIDES[request.param]})))


@pytest.fixture(scope="module")
def exact(found: Solution) -> TimeDerivatives:
    return TimeDerivatives(found)


def slope(found: Solution, changed: Callable[[float], Ride], span: float) -> float:
    """Fourth-order central difference of the time; the same steps must stay at the ceiling."""

    def time(change: float) -> float:
        again = solve(changed(change), found.speed)
        assert np.array_equal(again.at_ceiling, found.at_ceiling), "move away from the switching"
        return again.time

    near, far = (time(span) - time(-span), time(2 * span) - time(-2 * span))
    return (8 * near - far) / (12 * span)


def span_of(ride: Ride, name: str) -> float:
    return SPANS.get(name, 0.005 * float(np.mean(getattr(ride, name, [0.0]))))


@pytest.mark.parametrize("name", BY_STEP)
def test_sum_over_all_steps(found: Solution, exact: TimeDerivatives, name: str):
    ride = found.ride
    expected = slope(
        found,
        lambda change: replace(ride, **{name: getattr(ride, name) + change}),
        span_of(ride, name) / 5,
    )
    # A calm day has no first-order cross wind: then the difference is rounding.
    assert np.sum(getattr(exact, name)) == pytest.approx(expected, rel=RELATIVE, abs=1e-8)


def test_sum_of_the_drag_area(found: Solution, exact: TimeDerivatives):
    ride = found.ride
    expected = slope(found, lambda change: replace(ride, cda=ride.cda.plus(change)), 2e-4)
    assert np.sum(exact.cda) == pytest.approx(expected, rel=RELATIVE)


@pytest.mark.parametrize("name", BY_STEP)
def test_single_steps(found: Solution, exact: TimeDerivatives, name: str):
    ride = found.ride
    span = 4 * span_of(ride, name)
    for step in range(0, len(ride.step), max(len(ride.step) // 6, 1)):
        one = np.arange(len(ride.step)) == step
        expected = slope(
            found,
            lambda change, one=one: replace(ride, **{name: getattr(ride, name) + change * one}),
            span,
        )
        # 600 times less effect than over all steps: rounding of the time, 1e-13 s, over the span.
        assert getattr(exact, name)[step] == pytest.approx(
            expected, rel=RELATIVE, abs=2e-12 / span
        ), step


def test_single_steps_of_the_drag_area():
    """Half rho times the area is the drag, so one area and density share their derivatives."""
    found = solve(ride_of(race(course=ROAD, air=windy_air(3.0, 60.0), spoke_drag=0.004)))
    exact = TimeDerivatives(found)
    assert exact.cda * (0.25 + 0.004) == pytest.approx(
        exact.density * found.ride.density, rel=1e-12
    )


def test_steps_at_the_ceiling_answer_to_nothing():
    limits = SpeedLimits(max_speed=12.0)
    found = solve(ride_of(race(course=ROAD, limits=limits)))
    exact = TimeDerivatives(found)
    held = found.at_ceiling
    assert 10 < np.sum(held) < len(held) - 10
    for name in ("cda", *BY_STEP):
        assert not np.any(getattr(exact, name)[held])
    assert np.all(exact.wheel_power[~held] < 0)


def test_far_from_the_finish_a_watt_on_a_flat_road_counts_alike():
    """Steady on the flat: dT/dP over a step of length dx is -(dv/dP) dx / v^2."""
    found = solve(ride_of(race(start_speed=12.0)))
    exact = TimeDerivatives(found)
    speed = found.speed[500]
    # P = v F(v), so dP/dv = F + v F'.
    force = 0.5 * 1.2 * 0.25 * speed**2 + 0.004 * 80 * 9.80665 + 0.091 + 0.0087 * speed
    grown = force + speed * (1.2 * 0.25 * speed + 0.0087)
    # Some 25 run-in lengths from both ends nothing of them is left.
    assert exact.wheel_power[500] == pytest.approx(-10.0 / speed**2 / grown, rel=1e-9)


def test_a_drag_area_with_equal_points_is_that_of_one_point():
    wind = windy_air(5.0, 70.0)
    one = solve(ride_of(race(course=ROAD, air=wind)))
    three = solve(
        ride_of(race(course=ROAD, air=wind, cda=DragArea((0.25, 0.25, 0.25), (0.0, 0.1, 0.2))))
    )
    assert np.array_equal(one.speed, three.speed)
    assert np.array_equal(TimeDerivatives(one).cross, TimeDerivatives(three).cross)
