"""Newton's method, a march to begin it with and steps one by one give the same speeds."""

import numpy as np
import pytest

from racecalc.domain.race import SpeedLimits
from racecalc.errors import InputError, SolverError
from racecalc.motion import solver
from racecalc.motion.setting import ride_of, ride_on
from racecalc.motion.solver import Solution, balance, solve
from tests.builders import graded_course, profile_course, race, windy_air, yaw_table
from tests.motion.by_hand import one_by_one
from tests.motion.extremes import extreme, square_wave

ROUNDING = 1e-12
STOPPED = 1e-10
"""Newton stops when no speed changes by more than 1e-7 of itself, and errors travel."""

HEAVY = np.cumsum([0.0, 700, 400, 900, 650, 800])
YAWS, AREAS = (0, 5, 10, 15), (0.25, 0.247, 0.24, 0.236)


@pytest.fixture
def _lost(monkeypatch: pytest.MonkeyPatch) -> None:
    """Newton's method is lost from every first guess."""
    monkeypatch.setattr(solver, "first_guess", lambda ride: np.full(len(ride.nodes), np.nan))
    monkeypatch.setattr(solver, "_marched", marched_from_ten)


marched_before = solver._marched


def marched_from_ten(ride: object) -> Solution:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(solver, "first_guess", lambda ride: np.full(len(ride.nodes), 10.0))
        return marched_before(ride)


def worst_residual(found: Solution) -> float:
    """Largest imbalance of a free step over the kinetic energy at its end [1]."""
    terms = balance(found.ride, found.speed)
    free = np.where(found.at_ceiling, 0.0, terms.residual)
    return float(np.max(np.abs(free) / (found.ride.inertia * found.speed[1:] ** 2)))


@pytest.mark.parametrize(
    ("built", "table"),
    [
        (race(start_speed=0.0, power=180.0), ()),
        (race(course=profile_course(HEAVY, [0, 20, 8, 30, 18, 0]), wheel_inertia=0.14), ()),
        (
            race(
                course=profile_course(HEAVY, [0, 20, 8, 30, 18, 0], bearing=[0, 1, 2, 3, 4]),
                air=windy_air(2.5, 70.0),
                cda=yaw_table(YAWS, AREAS),
            ),
            (YAWS, AREAS),
        ),
    ],
)
def test_one_by_one_agrees_with_newton(built: object, table: tuple):
    ride = ride_of(built)
    assert one_by_one(ride, *table) == pytest.approx(solve(ride).speed[1:], rel=STOPPED)


def test_newton_needs_few_iterations_on_an_ordinary_ride():
    points = np.linspace(0.0, 40_000.0, 401)
    course = profile_course(points, 25 * np.sin(points / 900), bearing=np.sin(points[1:] / 2000))
    found = solve(ride_of(race(course=course, air=windy_air(4.0, 30.0))))
    assert 0 < found.iterations <= 10


@pytest.mark.parametrize("power", [80.0, 90.0, 110.0])
def test_slow_ramps_up_and_down(power: float):
    ride = ride_of(square_wave(power))
    found = solve(ride)
    assert found.speed[1:] == pytest.approx(one_by_one(ride), rel=STOPPED)
    assert worst_residual(found) < ROUNDING


@pytest.mark.parametrize("top", [None, 12.0])
def test_a_march_where_newton_is_lost(top: float | None, request: pytest.FixtureRequest):
    ride = ride_of(square_wave(250.0, top=top))
    by_newton = solve(ride)
    request.getfixturevalue("_lost")
    marched = solve(ride)
    assert np.array_equal(marched.at_ceiling, by_newton.at_ceiling)
    assert np.any(marched.at_ceiling) == (top is not None)
    assert marched.speed == pytest.approx(by_newton.speed, rel=STOPPED)
    assert worst_residual(marched) < ROUNDING


@pytest.mark.usefixtures("_lost")
def test_a_march_brakes_to_the_ceiling_at_the_end_of_each_step():
    """By hand: v^2 = 6^2 + 2 b x at x before the section, with b = 2 m/s^2; 6 m/s on it."""
    course = profile_course([0, 100, 140], [0, 0, 0], max_speed=[np.inf, 6.0])
    built = race(course=course, limits=SpeedLimits(braking=2.0))
    ride = ride_on(built, np.linspace(0.0, 140.0, 29))
    ahead = np.maximum(100.0 - ride.nodes[1:], 0.0)
    braking = ahead < 25.0  # 36 + 4 * 25 is still below 12^2
    expected = (36 + 4 * ahead)[braking]
    assert solve(ride).speed[1:][braking] ** 2 == pytest.approx(expected, rel=ROUNDING)


def test_a_step_that_is_too_long_to_end_on_is_cut():
    """From 9 m/s up 10 % with 15 W: over one step of 60 m no positive end speed balances."""
    built = race(course=graded_course((60.0, 0.1)), power=15.0, start_speed=9.0)
    single = ride_on(built, np.array([0.0, 60.0]))
    found = solve(single)
    parts = len(found.ride.step)
    assert parts > 1
    assert found.ride.nodes == pytest.approx(np.linspace(0.0, 60.0, parts + 1), rel=ROUNDING)
    assert found.speed[1:] == pytest.approx(one_by_one(found.ride), rel=STOPPED)
    assert worst_residual(found) < ROUNDING
    # 60 m up cost 60 m of height at 14.6 W, less what the start brought.
    finer = solve(single.cut(np.array([20_000])))
    assert found.time == pytest.approx(finer.time, rel=0.05)


def test_steps_that_stop_a_rider_are_cut_together():
    """Twice from 9 m/s up 10 % with 15 W, as above, and 5 % down to roll again in between."""
    hill = [(60.0, 0.1), (100.0, -0.05)]
    built = race(course=graded_course(*hill, *hill), power=15.0, start_speed=9.0)
    found = solve(ride_on(built, built.course.distance))
    cut = np.diff(np.searchsorted(found.ride.nodes, built.course.distance))
    assert np.all(cut[::2] > 1)
    assert found.speed[1:] == pytest.approx(one_by_one(found.ride), rel=STOPPED)


def test_one_block_after_the_other_is_all_at_once(monkeypatch: pytest.MonkeyPatch):
    ride = ride_of(square_wave(150.0, top=12.0))
    at_once = solve(ride)
    monkeypatch.setattr(solver, "BLOCK", len(ride.step) // 3)
    found = solve(ride)
    assert found.speed == pytest.approx(at_once.speed, rel=ROUNDING)
    assert np.array_equal(found.at_ceiling, at_once.at_ceiling)


def test_a_guess_that_would_halve_a_speed_is_not_followed_where_that_is_asked():
    ride = ride_of(square_wave(110.0))
    with pytest.raises(SolverError, match="far from those guessed"):
        solve(ride, np.full(len(ride.nodes), 40.0), patient=False)
    near = solve(ride).speed
    assert solve(ride, near, patient=False).speed == pytest.approx(near, rel=ROUNDING)


@pytest.mark.parametrize(
    "start", [0, *(pytest.param(at, marks=pytest.mark.slow) for at in range(50, 300, 50))]
)
def test_no_extreme_ride_is_lost(start: int):
    for number in range(start, start + 50):
        found = solve(ride_of(extreme(number)))
        assert found.iterations <= 15, number
        assert np.all(found.speed > 0) or found.speed[0] == 0, number
        assert np.all(found.speed <= found.ride.ceiling * (1 + ROUNDING)), number
        assert worst_residual(found) < ROUNDING, number


@pytest.mark.parametrize(
    ("course", "wind", "says"),
    [
        (graded_course((150.0, 0.06)), 0.0, ("kilometre 0.09", "grade 6.0 %", "wind 0.0 m/s")),
        (
            graded_course((100.0, -0.05), (150.0, 0.075)),
            3.0,
            ("kilometre 0.1", "grade 7.5 %", "head wind 3.0 m/s"),
        ),
    ],
)
def test_a_rider_who_cannot_move_is_told_where(course: object, wind: float, says: tuple[str, ...]):
    air = windy_air(wind, 0.0, follows_rider=True)
    with pytest.raises(InputError, match="comes to a stop: 0 W at the road") as caught:
        solve(ride_of(race(course=course, power=0.0, air=air)))
    text = str(caught.value)
    for words in says:
        assert words in text


def test_standing_still_without_power_is_told_at_the_start():
    with pytest.raises(InputError, match=r"^kilometre 0\.00: .*grade 0\.0 %"):
        solve(ride_of(race(power=0.0, start_speed=0.0)))
