"""Speed ceilings: the road's limits, bends, and braking for both."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from racecalc.domain.race import SpeedLimits
from racecalc.motion.setting import bend_speed, ride_of, ride_on, speed_ceiling, within_braking
from racecalc.motion.solver import Solution, solve
from tests.builders import flat_course, graded_course, profile_course, race
from tests.motion.by_hand import GRAVITY

ROUNDING = 1e-12


def solved(**changes: object) -> Solution:
    return solve(ride_of(race(**changes)))


def test_held_at_the_ceiling_time_is_distance_over_speed():
    limits = SpeedLimits(max_speed=11.0)
    found = solved(limits=limits, start_speed=11.0, course=flat_course(5000.0))
    assert np.all(found.at_ceiling)
    assert found.time == pytest.approx(5000 / 11.0, rel=ROUNDING)


def test_power_at_the_ceiling_is_what_the_ceiling_needs():
    limits = SpeedLimits(max_speed=11.0)
    found = solved(limits=limits, start_speed=11.0, course=flat_course(5000.0))
    needed = 11 * (0.5 * 1.2 * 0.25 * 121 + 0.004 * 80 * GRAVITY + 0.091 + 0.0087 * 11)
    assert found.road_power == pytest.approx(np.full(len(found.step_time), needed), rel=ROUNDING)


def test_power_at_the_ceiling_is_negative_where_the_brakes_must_work():
    found = solved(
        limits=SpeedLimits(max_speed=11.0), start_speed=11.0, course=graded_course((1000.0, -0.1))
    )
    angle = np.arctan(0.1)
    road = 80 * GRAVITY * (0.004 * np.cos(angle) - np.sin(angle))
    needed = 11 * (0.5 * 1.2 * 0.25 * 121 + road + 0.091 + 0.0087 * 11)
    assert needed < 0
    assert found.road_power == pytest.approx(np.full(len(found.step_time), needed), rel=1e-11)


def test_the_brakes_hold_back_the_spinning_wheels_as_well():
    """At 2 m/s^2 they take 2 N for each kg of mass and of I / r^2, less what resists anyway."""
    course = profile_course([0, 1000, 1400], [0, 0, 0], max_speed=[np.inf, 6.0])
    found = solved(course=course, limits=SpeedLimits(braking=2.0), wheel_inertia=0.3)
    braking = found.at_ceiling & (found.ride.nodes[1:] <= 1000)
    speed = found.mean_speed[braking]
    resisting = 0.5 * 1.2 * 0.25 * speed**2 + 0.004 * 80 * GRAVITY + 0.091 + 0.0087 * speed
    assert len(speed) > 1
    # The first held step may begin below the ceiling.
    needed = speed * (resisting - 2.0 * (80 + 0.3 / 0.311**2))
    assert found.road_power[braking][1:] == pytest.approx(needed[1:], rel=1e-9)


def test_start_faster_than_the_ceiling_is_lowered_to_it():
    found = solved(limits=SpeedLimits(max_speed=8.0), start_speed=14.0)
    assert found.speed[0] == 8.0
    assert found.speed == pytest.approx(np.full_like(found.speed, 8.0), rel=ROUNDING)


def test_a_section_limit_holds_on_its_section_and_at_its_ends():
    course = profile_course([0, 1000, 1400, 2400], [0, 0, 0, 0], max_speed=[np.inf, 7.0, np.inf])
    found = solved(course=course)
    nodes = found.ride.nodes
    inside = (nodes >= 1000) & (nodes <= 1400)
    assert found.speed[inside] == pytest.approx(np.full(np.sum(inside), 7.0), rel=ROUNDING)
    assert found.speed[nodes < 1000][-1] > 10  # no braking limit: the speed drops at once
    assert found.speed[-1] > 11


def test_braking_for_a_section_follows_the_parabola():
    course = profile_course([0, 1000, 1400], [0, 0, 0], max_speed=[np.inf, 5.0])
    found = solved(course=course, limits=SpeedLimits(braking=2.0))
    nodes, braking = found.ride.nodes[1:], found.at_ceiling & (found.ride.nodes[1:] <= 1000)
    assert np.sum(braking) >= 3
    expected = 25.0 + 2 * 2.0 * (1000 - nodes[braking])
    assert found.speed[1:][braking] ** 2 == pytest.approx(expected, rel=ROUNDING)


@pytest.mark.parametrize("step", [10.0, 0.5])
def test_short_steps_need_no_more_iterations(step: float):
    """A ceiling that the first guess wrongly holds is let go on all its steps at once."""
    course = graded_course((800, -0.05), (500, 0.02), (600, -0.06), (400, 0.03))
    found = solved(course=course, limits=SpeedLimits(max_speed=14.0, braking=2.0), step=step)
    assert found.iterations <= 6


def test_bend_speed_needs_just_the_grip():
    """v^2 / r = grip g, the acceleration of a circular path."""
    speed = bend_speed(np.array([8.0, 25.0, np.inf]), 0.5)
    assert speed[:2] ** 2 / [8.0, 25.0] == pytest.approx([0.5 * GRAVITY] * 2, rel=ROUNDING)
    assert speed[2] == np.inf


def test_a_bend_slows_at_its_point_and_nowhere_else_without_braking_limit():
    radius = [np.inf, 10.0, np.inf]
    course = profile_course([0, 1000, 2000], [0, 0, 0], bend_radius=radius)
    found = solved(course=course, limits=SpeedLimits(lateral_grip=0.4))
    held = np.flatnonzero(found.at_ceiling) + 1
    assert found.ride.nodes[held] == pytest.approx([1000.0], rel=ROUNDING)
    assert found.speed[held] == pytest.approx(np.sqrt(0.4 * GRAVITY * 10), rel=ROUNDING)


def test_a_corner_between_nodes_counts_at_the_nearer_one():
    course = profile_course([0, 22, 47, 70], [0] * 4, bend_radius=[np.inf, 10, 20, np.inf])
    found = speed_ceiling(course, SpeedLimits(lateral_grip=0.4), np.arange(0.0, 71.0, 10.0))
    slow = np.sqrt(0.4 * GRAVITY * np.array([10.0, 20.0]))
    expected = [np.inf] * 2 + [slow[0]] + [np.inf] * 2 + [slow[1]] + [np.inf] * 2
    assert found == pytest.approx(expected, rel=ROUNDING)


def test_curvature_changes_evenly_between_the_points_of_a_bend():
    """From none to 1/10 1/m in 20 m: 1/20 after 10 m."""
    course = profile_course([0, 20, 40], [0] * 3, bend_radius=[np.inf, 10, np.inf])
    found = speed_ceiling(course, SpeedLimits(lateral_grip=0.4), np.array([0.0, 10, 20, 40]))
    slow = np.sqrt(0.4 * GRAVITY * np.array([20.0, 10.0]))
    assert found == pytest.approx([np.inf, *slow, np.inf], rel=ROUNDING)


def test_a_bend_is_no_limit_without_grip_given():
    course = profile_course([0, 1000, 2000], [0, 0, 0], bend_radius=[np.inf, 5.0, np.inf])
    assert not np.any(solved(course=course).at_ceiling)


def test_a_bend_between_recorded_points_keeps_its_tightest_point():
    """A recording with a point every 3 m: steps of 10 m must not step over the apex."""
    points = np.arange(0.0, 601.0, 3.0)
    radius = 12.0 + np.abs(points - 303.0)
    course = profile_course(points, 0 * points, bend_radius=radius)
    found = solved(course=course, limits=SpeedLimits(lateral_grip=0.3))
    assert np.min(found.speed[1:]) == pytest.approx(np.sqrt(0.3 * GRAVITY * 12.0), rel=ROUNDING)


@given(
    speeds=st.lists(st.floats(3.0, 25.0) | st.just(np.inf), min_size=2, max_size=30),
    gaps=st.lists(st.floats(0.5, 40.0), min_size=29, max_size=29),
    braking=st.floats(0.5, 6.0),
)
def test_within_braking_is_the_highest_ceiling_that_brakes_allow(
    speeds: list[float], gaps: list[float], braking: float
):
    ceiling = np.array(speeds)
    nodes = np.concatenate(([0.0], np.cumsum(gaps[: len(speeds) - 1])))
    lowered = within_braking(ceiling, nodes, braking)
    # By definition, over every pair: no more than the limit ahead plus the way to brake for it.
    ahead = nodes[None, :] - nodes[:, None]
    reachable = np.where(ahead >= 0, ceiling[None, :] ** 2 + 2 * braking * ahead, np.inf)
    assert lowered == pytest.approx(np.sqrt(np.min(reachable, axis=1)), rel=1e-10)


@given(number=st.integers(0, 10_000))
@settings(max_examples=40, deadline=None)
def test_speed_keeps_below_the_ceiling_and_brakes_within_the_limit(number: int):
    chance = np.random.default_rng(number)
    pieces = int(chance.integers(2, 12))
    course = graded_course(
        *zip(chance.uniform(30, 400, pieces), chance.uniform(-0.1, 0.06, pieces), strict=True),
        max_speed=np.where(chance.random(pieces) < 0.4, chance.uniform(4, 14, pieces), np.inf),
        bend_radius=np.where(
            chance.random(pieces + 1) < 0.4, chance.uniform(5, 60, pieces + 1), np.inf
        ),
    )
    limits = SpeedLimits(max_speed=16.0, lateral_grip=0.5, braking=2.5)
    found = solved(course=course, limits=limits, start_speed=float(chance.choice([0.0, 9.0])))
    assert np.all(found.speed <= found.ride.ceiling * (1 + ROUNDING))
    fall = (found.speed[:-1] ** 2 - found.speed[1:] ** 2) / (2 * found.ride.step)
    # Where the ceiling holds, the fall is braking; elsewhere a hill may slow more.
    assert np.all(fall[found.at_ceiling] <= 2.5 * (1 + 1e-9))
    own = speed_ceiling(course, limits, found.ride.nodes)
    at_points = np.searchsorted(found.ride.nodes, course.distance)
    piece_limits = np.minimum(
        np.concatenate((course.max_speed, [np.inf])), np.concatenate(([np.inf], course.max_speed))
    )
    allowed = np.minimum(piece_limits, np.sqrt(0.5 * GRAVITY * course.bend_radius))
    assert np.all(found.speed[at_points] <= np.minimum(allowed, 16.0) * (1 + 1e-9))
    assert np.all(own[at_points] <= np.minimum(allowed, 16.0) * (1 + 1e-9))


def test_held_steps_never_need_more_power_than_the_rider_has():
    course = graded_course((400.0, -0.06), (300.0, 0.01), (500.0, -0.04), (200.0, 0.03))
    found = solved(course=course, limits=SpeedLimits(max_speed=11.5, braking=2.0))
    assert np.any(found.at_ceiling)
    assert np.any(~found.at_ceiling)
    assert np.all(found.road_power <= 0.975 * 250 * (1 + 1e-9))


def test_a_ceiling_never_reached_changes_nothing():
    nodes = np.linspace(0.0, 3000.0, 301)
    free = solve(ride_on(race(), nodes))
    capped = solve(ride_on(race(limits=SpeedLimits(max_speed=30.0, braking=2.0)), nodes))
    assert np.array_equal(free.speed, capped.speed)


def test_a_cut_step_keeps_the_braking_limit():
    course = profile_course([0, 300, 500], [0, 0, 0], max_speed=[np.inf, 5.0])
    whole = ride_on(
        race(course=course, limits=SpeedLimits(braking=2.0)), np.linspace(0.0, 500.0, 51)
    )
    finer = whole.cut(np.full(50, 7))
    square = np.minimum(finer.ceiling, 30.0) ** 2
    assert np.all(square[:-1] - square[1:] <= 2 * 2.0 * finer.step * (1 + 1e-9))
