"""A review from a recording: rides of known truth, moved along by Newton's law written out here."""

import math
import re
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from racecalc.answers.review import ReviewAnswer
from racecalc.decisions.review.recorded import splits_of
from racecalc.decisions.review.review import reviewed
from racecalc.decisions.review.season import season
from racecalc.decisions.riding import ride
from racecalc.domain.course import Positions
from racecalc.domain.race import Race
from racecalc.errors import InputError
from racecalc.files.recordings import Recording
from racecalc.quantities.clock import show_duration
from tests.builders import profile_course, race, windy_air

LEG = 2000.0
GRADES = (0.0, 0.04, 0.0, -0.02, 0.03, -0.03, 0.0, -0.02)
BEARINGS = (0, 0, 90, 90, 180, 180, 270, 270)
START_SPEED, WIND, BEFORE = 10.0, 4.0, 300
NORTH, EAST = 111_320.0, 111_320.0 * math.cos(math.radians(55.0))
"""Metres a degree at 55 deg north on a sphere; within 0.2 % of the ellipsoid."""


@cache
def corners() -> np.ndarray:
    """East and north of the ends of the legs [m]: a square of 4 km."""
    way = np.radians(BEARINGS)
    steps = LEG * np.column_stack([np.sin(way), np.cos(way)])
    return np.vstack([[0.0, 0.0], np.cumsum(steps, axis=0)])


@cache
def stated() -> Race:
    rises = LEG * np.sin(np.arctan(GRADES))
    course = profile_course(
        LEG * np.arange(9.0), np.append(0.0, np.cumsum(rises)), bearing=np.radians(BEARINGS)
    )
    places = Positions(55.0 + corners()[:, 1] / NORTH, 12.0 + corners()[:, 0] / EAST)
    course = replace(course, positions=places)
    return race(course=course, air=windy_air(WIND), start_speed=START_SPEED)


@cache
def simulated(
    cda: float = 0.25,
    mass: float = 80.0,
    noise: float = 3.0,
    wind: float = WIND,
    seed: int = 3,
    stops: tuple[tuple[float, float], ...] = (),
) -> Recording:
    """Five minutes on the way to the start, then the race, at 1 Hz; positions err by some metres.

    Crr 0.004, 2.5 % lost, the bearings of Martin et al. 1998, air of 1.2 kg/m^3, and a power that
    goes up and down. A stop [m, s] is braked for at 2 m/s^2, and left with 250 N at most.
    """
    draw, step, stops = np.random.default_rng(seed), 0.1, list(stops)
    place, speed, clock, rows, spent = 0.0, START_SPEED, 0.0, [], 0.0
    while place < 8 * LEG + 20.0:
        leg = min(int(place / LEG), 7)
        watts = 250.0 + 20.0 * math.sin(clock / 40.0)
        braked = bool(stops) and place + speed**2 / 4.0 > stops[0][0]
        watts = 0.0 if braked else min(watts, 250.0 * speed)
        if braked and speed < 0.3:
            standing = round(stops.pop(0)[1])
            rows += [(place, 0.0, 0.0)] * standing
            clock, speed, spent = clock + standing, 0.5, 0.0
            continue
        if abs(clock - round(clock)) < 0.01:
            rows.append((place, speed, spent if clock else 250.0))
            spent = 0.0
        spent += watts * step
        way, slope = math.radians(BEARINGS[leg]), math.atan(GRADES[leg])
        ahead, across = speed + wind * math.cos(way), wind * math.sin(way)
        apparent = math.hypot(ahead, across)
        # By the projection of the wind beyond 30 degrees of yaw, as the race file takes it.
        edge = math.sqrt(3.0) / 2.0
        product = apparent**2 if ahead >= edge * apparent else apparent * ahead / edge
        force = 0.6 * cda * product + 0.091 + 0.0087 * speed
        force += mass * 9.80665 * (0.004 * math.cos(slope) + math.sin(slope))
        after = speed + step * (-2.0 if braked else (0.975 * watts / speed - force) / mass)
        place += 0.5 * step * (speed + after)
        speed, clock = after, clock + step
    along, speeds, power = np.array(rows).T
    before = START_SPEED * np.arange(-BEFORE, 0.0)
    at = np.concatenate([before, along])
    dots = np.column_stack([np.interp(at, LEG * np.arange(9.0), corners()[:, k]) for k in (0, 1)])
    # The way to the start comes from the east, which is no part of the course.
    dots[:BEFORE, 0] = -before
    dots += draw.normal(0.0, noise, dots.shape)
    pedalled = np.concatenate([np.full(BEFORE, 150.0), power])
    return Recording(
        "ride.fit", np.arange(len(at), dtype=float), True, 0.0,
        power=pedalled, speed=np.concatenate([np.full(BEFORE, START_SPEED), speeds]),
        latitude=55.0 + dots[:, 1] / NORTH, longitude=12.0 + dots[:, 0] / EAST,
    )  # fmt: skip


def test_splits_are_those_of_the_ride():
    found, recording = splits_of(simulated(), stated()), simulated()
    way = np.concatenate(([0.0], np.cumsum(0.5 * (recording.speed[1:] + recording.speed[:-1]))))
    at = way[BEFORE]
    assert found.to == pytest.approx(LEG * np.arange(1.0, 9.0))
    passed = np.interp(at + found.to, way, recording.time) - BEFORE
    # A position that errs by 3 m is 0.3 s at 10 m/s, at both ends of a split; seven is one in 100.
    assert found.elapsed == pytest.approx(passed, abs=1.2)
    assert np.mean(found.power) == pytest.approx(250.0, abs=4.0)
    assert found.notes[0] == "The first 5:00 of the recording are before the start."


@pytest.mark.parametrize(
    ("quantity", "truth", "size"), [("cda", 0.270, 0.25), ("mass", 84.0, 80.0)]
)
def test_what_was_off_is_named(quantity: str, truth: float, size: float):
    table = splits_of(simulated(**{quantity: truth}), stated())
    _, found = reviewed(ride(stated()), table)
    assert found.blamed.named == (quantity,)
    [one] = found.named
    assert one.stated == pytest.approx(size)
    assert one.value == pytest.approx(truth, rel=0.02)
    assert abs(one.value - truth) < 3.0 * one.doubt


def test_a_ride_as_stated_names_nobody():
    _, found = reviewed(ride(stated()), splits_of(simulated(), stated()))
    assert found.blamed.finding == "nothing"


def changed(rows: slice | np.ndarray, **columns: np.ndarray) -> Recording:
    one = simulated()
    cut = {name: value[rows] for name, value in vars(one).items() if isinstance(value, np.ndarray)}
    return replace(one, **{**cut, **columns})


def test_what_cannot_be_reviewed_is_refused_in_a_line():
    one, all_of = simulated(), slice(None)
    often = simulated(stops=((4500.0, 20.0), (5000.0, 20.0), (5500.0, 20.0)))
    away = np.where(one.time > 1000.0, 0.01, 0.0)
    for recording, said in [
        (often, "from km 4.0 to 6.0 stops, with braking and getting back to speed, take 9"),
        (changed(slice(BEFORE + 40, None)), "from the start on it goes 0.0 km along"),
        (changed(all_of, latitude=one.latitude + 1.0), "it comes no nearer than 111"),
        (changed(all_of, latitude=one.latitude + away), "it leaves the course at km "),
        (changed(all_of, latitude=None, longitude=None), "it is 19.* km long and the course 16.00"),
        (changed(slice(0, BEFORE + 100)), "from the start on it goes 0.9 km along"),
        (changed(all_of, power=np.where(away > 0, np.nan, one.power)), "power or speed is missing"),
    ]:  # fmt: skip
        with pytest.raises(InputError, match=said) as caught:
            splits_of(recording, stated())
        assert "\n" not in str(caught.value)


STOPS = ((5000.0, 30.0), (13_000.0, 300.0))


def test_stops_are_taken_out_and_what_was_off_is_still_named():
    table = splits_of(simulated(cda=0.270, stops=STOPS), stated())
    without = splits_of(simulated(cda=0.270), stated())
    _, found = reviewed(ride(stated()), table)
    assert found.blamed.named == ("cda",)
    assert found.named[0].value == pytest.approx(0.270, rel=0.02)
    # The power of the two rides differs by where they are in its ups and downs.
    assert table.elapsed == pytest.approx(without.elapsed, abs=4.0)
    headline = ReviewAnswer.of(ride(stated()), found).headline
    clock = len(simulated(cda=0.270, stops=STOPS).time) - BEFORE
    assert found.ridden_s + found.stopped_s == pytest.approx(clock, abs=5.0)
    with_stops = show_duration(found.ridden_s + found.stopped_s)
    assert f"without stops ({with_stops} with them)" in headline
    # The point before a stand is slow enough to count as one.
    stood = r"The rider stood for 5:3[0-4] in 2 places, longest at km 13.0 \(5:0[0-2]\)\. That"
    assert re.match(stood, found.notes[1])


def test_a_stop_costs_what_braking_and_getting_back_to_speed_take():
    """As the same ride without it tells: 30 s, and some 12 s for braking and starting."""
    stopped, without = (simulated(stops=stops) for stops in (STOPS[:1], ()))
    table = splits_of(stopped, stated())
    assert table.stopped == pytest.approx(len(stopped.time) - len(without.time), abs=2.0)
    assert table.stopped > 38.0
    assert reviewed(ride(stated()), table)[1].blamed.finding == "nothing"


def test_a_stop_without_points_is_a_stop():
    one = simulated(stops=STOPS)
    moving = np.concatenate(([True], (one.speed[1:] > 0.0) | (one.speed[:-1] > 0.0)))
    paused = {
        name: value[moving] for name, value in vars(one).items() if isinstance(value, np.ndarray)
    }
    whole = splits_of(one, stated())
    for kept in (replace(one, **paused), replace(one, speed=None)):
        table = splits_of(kept, stated())
        assert table.elapsed == pytest.approx(whole.elapsed, abs=3.0)
        assert table.power == pytest.approx(whole.power, abs=4.0)


def test_without_positions_the_ride_is_the_course():
    recording = replace(changed(slice(BEFORE, None)), latitude=None, longitude=None)
    by_distance, by_place = splits_of(recording, stated()), splits_of(simulated(), stated())
    assert by_distance.elapsed == pytest.approx(by_place.elapsed, abs=2.5)


def test_two_races_tell_the_drag_area_from_the_winds():
    winds = (4.6, 3.5)
    rides = [simulated(cda=0.262, wind=wind, seed=seed) for seed, wind in enumerate(winds)]
    base = ride(stated())
    found = season([reviewed(base, splits_of(one, stated())) for one in rides])
    [area] = found.named
    assert (found.finding, found.winds, area.quantity) == ("named", True, "cda")
    low, high = area.within
    # 0.262 over the stated 0.250.
    assert low < 0.048 < high
    assert area.share == pytest.approx(0.048, abs=0.02)
    assert [one.wind_factor for one in found.races] == pytest.approx(
        [wind / WIND for wind in winds], abs=0.08
    )


def test_races_as_stated_name_nothing_throughout():
    tables = [splits_of(simulated(seed=seed), stated()) for seed in (5, 6)]
    found = season([reviewed(ride(stated()), table) for table in tables])
    assert (found.finding, found.named) == ("nothing", ())


def seasons(count: int, **off: float) -> list[tuple[str, ...]]:
    """What is named throughout in seasons of two races, each in a wind of its own."""
    named = []
    for seed in range(100, 100 + count):
        winds = np.random.default_rng(seed).uniform(0.7, 1.3, 2) * WIND
        rides = [simulated(**off, wind=wind, seed=10 * seed + k) for k, wind in enumerate(winds)]
        base = ride(stated())
        found = season([reviewed(base, splits_of(one, stated())) for one in rides])
        named.append(tuple(one.quantity for one in found.named))
    return named


@pytest.mark.slow
@pytest.mark.parametrize(
    ("off", "right"), [({"cda": 0.262}, ("cda",)), ({"mass": 84.0}, ("mass",)), ({}, ())]
)
def test_how_often_a_season_names_what_was_off(off, right):
    """Of 8 seasons each: CdA 6 times, mass 7 times, nobody 8 times; never a wrong input."""
    named = seasons(8, **off)
    assert named.count(right) >= (5 if off else 7)
    assert {*named} <= {right, ()}


def test_one_ride_is_no_two():
    one = reviewed(ride(stated()), splits_of(simulated(), stated()))
    with pytest.raises(InputError, match="the same ride"):
        season([one, one])
