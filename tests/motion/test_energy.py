"""Work in equals work out, on any road."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from racecalc.domain.course import Course
from racecalc.motion.setting import ride_of
from racecalc.motion.solver import solve
from tests.builders import bike, graded_course, profile_course, race, windy_air
from tests.motion.by_hand import GRAVITY, resisting_force

BALANCE = 1e-9
"""Of the work done: Newton stops at 1e-11 of every speed."""


SHORTEST = 10.5
"""Pieces longer than the step of 10 m keep their ends as nodes; shorter ones are merged, and the
slope of a merged step is not that of the road written out here [m]."""


@st.composite
def roads(draw: st.DrawFn) -> Course:
    pieces = draw(
        st.lists(
            st.tuples(
                st.floats(SHORTEST, 700.0), st.floats(-0.12, 0.12), st.floats(0.0, 2 * np.pi)
            ),
            min_size=1,
            max_size=8,
        )
    )
    return graded_course(
        *[(length, grade) for length, grade, _ in pieces], bearing=[turn for *_, turn in pieces]
    )


@given(
    course=roads(),
    power=st.floats(30.0, 600.0),
    start_speed=st.sampled_from([0.0, 4.0, 12.0]),
    head=st.floats(-1.0, 9.0),
)
@settings(max_examples=60, deadline=None)
def test_work_done_is_energy_gained_and_work_against_resistance(
    course: Course, power: float, start_speed: float, head: float
):
    ridden = bike(start_speed=start_speed, wheel_inertia=0.14)
    air = windy_air(abs(head), 0.0 if head >= 0 else 180.0, follows_rider=True)
    found = solve(ride_of(race(course=course, power=power, bike=ridden, air=air)))

    speed = found.mean_speed
    piece = np.searchsorted(course.distance, found.ride.middle) - 1
    sine = (np.diff(course.elevation) / np.diff(course.distance))[piece]
    # Written without resisting_force: the tail wind may be faster than the rider here.
    along = speed + head
    air_drag = 0.5 * 1.2 * 0.25 * along * np.abs(along)
    rolling = 0.004 * 80 * GRAVITY * np.sqrt(1 - sine**2)
    lost = np.sum((air_drag + rolling + 0.091 + 0.0087 * speed) * found.ride.step)
    raised = 80 * GRAVITY * (course.elevation[-1] - course.elevation[0])
    moving = 80 + 0.14 / 0.311**2
    gained = 0.5 * moving * (found.speed[-1] ** 2 - start_speed**2)
    done = 0.975 * power * found.time
    scale = done + np.sum(np.abs(np.diff(course.elevation))) * 80 * GRAVITY + 0.5 * 80 * 12**2
    assert abs(done - (lost + raised + gained)) <= BALANCE * scale


def test_every_step_balances_in_a_cross_wind():
    """The balance step by step, with a force written out apart from the package."""
    points = np.linspace(0.0, 4000.0, 21)
    course = profile_course(points, 15 * np.sin(points / 400), bearing=0.3 * np.sin(points[1:]))
    found = solve(ride_of(race(course=course, air=windy_air(4.0, 35.0))))
    piece = np.searchsorted(course.distance, found.ride.middle) - 1
    angle = np.radians(35.0) - course.bearing[piece]
    force = resisting_force(
        found.mean_speed,
        mass=80.0,
        sine=(np.diff(course.elevation) / np.diff(course.distance))[piece],
        crr=0.004,
        density=1.2,
        area=0.25,
        head=4.0 * np.cos(angle),
        cross=4.0 * np.sin(angle),
        bearings=(0.091, 0.0087),
    )
    gained = 0.5 * 80 * np.diff(found.speed**2)
    done = 0.975 * 250 * found.step_time
    assert gained == pytest.approx(done - force * found.ride.step, abs=BALANCE * np.max(done))


def test_road_power_of_a_free_step_is_what_the_rider_gives():
    found = solve(ride_of(race(course=graded_course((500.0, 0.04), (500.0, -0.04)))))
    assert found.road_power == pytest.approx(np.full(len(found.step_time), 0.975 * 250), rel=1e-15)


def test_fluid_used_makes_the_rider_lighter_evenly():
    """Mass falls along the road by what is drunk: the mean of the climb is half of it."""
    thirsty = race(course=graded_course((4000.0, 0.06)), power=300.0)
    rider = thirsty.rider
    thirsty = race(course=thirsty.course, rider=type(rider)(mass=71.0, power=300.0, fluid_used=1.5))
    mass = ride_of(thirsty).mass
    middle = ride_of(thirsty).middle
    assert mass == pytest.approx(80.0 - 1.5 * middle / 4000.0, rel=1e-14)
