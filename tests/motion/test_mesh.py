"""Where the nodes stand."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from racecalc.domain.race import SpeedLimits
from racecalc.motion.setting import lay_nodes, ride_of, ride_on
from racecalc.motion.solver import solve
from tests.builders import flat_course, graded_course, profile_course, race, steady_start

PIECES = st.lists(
    st.tuples(st.floats(0.3, 800.0), st.floats(-0.15, 0.15), st.sampled_from([1.0, 2.5])),
    min_size=1,
    max_size=25,
)


@given(pieces=PIECES, step=st.floats(1.0, 50.0))
def test_nodes_increase_end_to_end_and_stand_close_enough(
    pieces: list[tuple[float, float, float]], step: float
):
    course = graded_course(*[one[:2] for one in pieces], roughness=[one[2] for one in pieces])
    nodes = lay_nodes(course, step)
    gaps = np.diff(nodes)
    assert nodes[0] == 0
    assert nodes[-1] == course.length
    assert np.all(gaps > 0)
    assert np.max(gaps) <= step * (1 + 1e-8)


@given(
    lengths=st.lists(st.floats(51.0, 3000.0), min_size=1, max_size=12), step=st.floats(1.0, 50.0)
)
def test_each_point_of_a_typed_course_is_a_node(lengths: list[float], step: float):
    course = graded_course(*[(length, 0.0) for length in lengths])
    assert np.all(np.isin(course.distance, lay_nodes(course, step)))


@pytest.mark.parametrize(
    ("column", "values"),
    [("roughness", (1.0, 1.5)), ("shelter", (1.0, 0.4)), ("max_speed", (np.inf, 9.0))],
)
def test_a_recorded_course_keeps_the_points_where_the_road_changes(
    column: str, values: tuple[float, float]
):
    points = np.arange(0.0, 301.0, 3.0)
    changed = np.where((points[:-1] >= 102) & (points[:-1] < 159), values[1], values[0])
    nodes = lay_nodes(profile_course(points, 0 * points, **{column: changed}), 10.0)
    assert np.all(np.isin([102.0, 159.0], nodes))
    assert len(nodes) < 40  # the other points were merged


def test_the_points_of_a_bend_that_slows_are_nodes_and_steps_are_short_around_them():
    points = np.arange(0.0, 601.0, 3.0)
    radius = np.where((points > 302) & (points < 316), 12.0, np.inf)  # 303 to 315 m
    course = profile_course(points, 0 * points, bend_radius=radius)
    nodes = ride_of(race(course=course, limits=SpeedLimits(lateral_grip=0.4, braking=2.5))).nodes
    assert np.all(np.isin(points[np.isfinite(radius)], nodes))
    assert np.max(np.diff(nodes)[(nodes[1:] > 297) & (nodes[1:] <= 303)]) <= 3.0
    no_limit = lay_nodes(course, 10.0)
    assert np.array_equal(ride_of(race(course=course)).nodes, no_limit)
    fast = ride_of(race(course=course, limits=SpeedLimits(lateral_grip=2.0, braking=2.5))).nodes
    assert np.array_equal(fast, no_limit)  # 15.3 m/s is above what 250 W reach


def test_no_more_nodes_than_the_step_needs():
    assert len(lay_nodes(flat_course(1000.0), 10.0)) == 101
    assert len(lay_nodes(flat_course(1001.0), 10.0)) == 102
    assert len(lay_nodes(flat_course(4.0), 10.0)) == 2


def test_a_standing_start_has_finer_steps_and_a_rolling_one_has_not():
    standing = ride_of(race(start_speed=0.0)).step
    rolling = ride_of(steady_start(race())).step
    assert standing[0] < 0.2
    assert np.max(standing) == pytest.approx(10.0, rel=1e-9)
    assert rolling == pytest.approx(np.full(1000, 10.0), rel=1e-9)


def test_a_crawl_has_finer_steps_where_it_is():
    course = graded_course((500.0, 0.0), (500.0, 0.15), (500.0, 0.0))
    ride = ride_of(race(course=course, power=80.0))
    steep = (ride.middle > 500) & (ride.middle < 1000)
    assert np.max(ride.step[steep]) < 3.0
    assert np.min(ride.step[~steep]) == pytest.approx(10.0, rel=1e-9)


def recorded() -> dict[str, object]:
    """A point every 2.7 m, hills and small bumps, as a recording has them."""
    points = np.arange(0.0, 3001.0, 2.7)
    return {"course": profile_course(points, 8 * np.sin(points / 250) + 0.3 * np.sin(points / 7))}


@pytest.mark.parametrize(
    "changes",
    [
        {"course": graded_course((400.0, 0.05), (600.0, -0.03), (1000.0, 0.01))},
        recorded(),
        {
            "course": profile_course([0, 55, 600, 1200], [0, 0, 0, 0], max_speed=[6.0, 9.0, 14.0]),
            "limits": SpeedLimits(braking=2.0),
        },
    ],
)
@pytest.mark.parametrize("start_speed", [0.0, 12.0])
def test_a_variant_that_changes_nothing_takes_the_same_time(
    changes: dict[str, object], start_speed: float
):
    """A race set up again on the nodes of its own ride is the same ride."""
    built = race(start_speed=start_speed, **changes)
    ride = ride_of(built)
    again = ride_on(built, ride.nodes)
    assert solve(again).time == pytest.approx(solve(ride).time, rel=1e-9)
