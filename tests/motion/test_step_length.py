"""The error of the time falls with the square of the step length."""

from dataclasses import replace

import numpy as np
import pytest

from racecalc.decisions.riding import ride
from racecalc.domain.race import Change, Race, SpeedLimits
from racecalc.motion.setting import ride_of, ride_on
from racecalc.motion.solver import solve
from tests.builders import graded_course, profile_course, race, windy_air, yaw_table

STEPS = (80.0, 40.0, 20.0, 10.0)
FINE = np.arange(0.0, 8001.0)
"""Points a metre apart, so that every node of `STEPS` is a point of the road."""


def hilly(**changes: object) -> Race:
    course = profile_course(FINE, 14 * np.sin(FINE / 280) + 5 * np.cos(FINE / 150))
    return race(course=course, **changes)


def winding(**changes: object) -> Race:
    middle = FINE[1:] - 0.5
    course = profile_course(FINE, 0 * FINE, bearing=1.2 * np.sin(middle / 300))
    return race(course=course, **{"air": windy_air(5.0, 20.0), **changes})


def table_in_wind() -> Race:
    """Yaw stays between the first two points of the table, where the area is smooth."""
    table = yaw_table([0, 30, 90], [0.25, 0.22, 0.22])
    return winding(cda=table, air=windy_air(4.0, 90.0))


@pytest.mark.parametrize("built", [hilly(), hilly(power=400.0), winding(), table_in_wind()])
def test_order_on_smooth_roads(built: Race):
    times = [
        solve(ride_on(built, np.linspace(0.0, 8000.0, round(8000 / step) + 1))).time
        for step in STEPS
    ]
    changes = np.abs(np.diff(times))
    orders = np.log2(changes[:-1] / changes[1:])
    assert np.all((orders > 1.8) & (orders < 2.2)), orders


@pytest.mark.parametrize("step", [2.0, 5.0, 20.0, 40.0])
def test_splitting_the_steps_changes_no_more_than_the_order_allows(step: float):
    """A road of pieces keeps its forces when cut: halving takes 3/4 of the error away, or more."""
    course = graded_course((1200.0, 0.05), (900.0, -0.04), (1500.0, 0.0), (700.0, 0.07))
    whole = ride_on(
        race(course=course),
        np.unique(np.concatenate([np.arange(0.0, 4300.0, step), course.distance])),
    )
    once, twice, often = (
        solve(whole.cut(np.full(len(whole.step), parts))).time for parts in (1, 2, 4)
    )
    # A microsecond is left where the errors of the pieces cancel.
    assert abs(twice - often) < 0.3 * abs(once - twice) + 1e-6
    # 2 ms at the default of 10 m, and with the square of the step.
    assert abs(once - twice) < 2e-3 * (step / 10.0) ** 2


@pytest.mark.parametrize("power", [100.0, 250.0, 400.0])
@pytest.mark.parametrize("grade", [0.0, 0.08])
def test_a_standing_start_is_fine_enough(power: float, grade: float):
    course = graded_course((3000.0, grade))
    standing = ride_of(race(course=course, power=power, start_speed=0.0))
    finer = standing.cut(np.where(standing.nodes[1:] < 200.0, 4, 1))
    assert abs(solve(standing).time - solve(finer).time) < 5e-3


def test_a_crawl_is_fine_enough():
    """25 W up 12 %: the steps are cut for the slow speed, and cutting again changes little."""
    ride = ride_of(race(course=graded_course((300.0, 0.12)), power=25.0, start_speed=3.0))
    assert np.max(ride.step) < 5.0
    assert solve(ride).time == pytest.approx(
        solve(ride.cut(np.full(len(ride.step), 4))).time, rel=2e-4
    )


def twisting(seed: int, spacing: tuple[float, float], hills: float) -> Race:
    """Eight kilometres of hills and a bend of 8 to 60 m every 200 m, as a recording has them."""
    chance = np.random.default_rng(seed)
    at = np.concatenate([[0.0], np.cumsum(chance.uniform(*spacing, 8000))])
    at = at[at < 8000]
    bends = np.cumsum(chance.exponential(200.0, 30))
    narrow, wide = chance.uniform(8.0, 60.0, 30), chance.uniform(8.0, 40.0, 30)
    curve = np.max(np.exp(-(((at[:, None] - bends) / wide) ** 4)) / narrow, axis=1)
    return race(
        course=profile_course(
            at,
            hills * (30 * np.sin(at / 900) + 8 * np.sin(at / 210)),
            bend_radius=np.where(curve > 5e-4, 1 / np.maximum(curve, 1e-9), np.inf),
        ),
        limits=SpeedLimits(max_speed=19.0, lateral_grip=0.4, braking=2.5),
    )


@pytest.mark.parametrize(
    "built",
    [twisting(1, (3.0, 12.0), 1.5), twisting(2, (10.0, 60.0), 1.0), twisting(3, (2.0, 4.0), 0.3)],
    ids=["descents", "few points", "a point every second"],
)
def test_bends_are_fine_enough_for_the_time_and_for_savings(built: Race):
    """Against steps of 0.5 m. A bend every 200 m is more than twice what a hilly road has."""
    default, fine = ride(built), ride(replace(built, step=0.5))
    assert default.time == pytest.approx(fine.time, rel=5e-5)
    for change in (Change(cda=-0.01), Change(mass=-1.0), Change(crr=-0.0005)):
        saved = [one.time - one.changed(change).time for one in (default, fine)]
        assert saved[0] == pytest.approx(saved[1], rel=1e-3)
