"""From raw points to a course: lengths, bearings, bends, cleaning and wishes."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from racecalc.domain.course import CourseReport
from racecalc.domain.surveying.cleaning import (
    bend_radius,
    geodesic_steps,
    radius_of_turn,
    without_false_ends,
    without_spikes,
)
from racecalc.domain.surveying.survey import (
    CourseSection,
    CourseWishes,
    made_up,
    survey,
    turned_round,
    with_sections,
)
from racecalc.errors import InputError
from racecalc.files.tracks import Track

NORTH, EAST = 111_267.0, 111_400.0 * math.cos(math.radians(52))
"""Metres a degree about 52 deg north, roughly; only to lay out made-up roads."""


def track_at(east, north, elevation=None, time=None, **more):
    return Track(
        "made.gpx",
        latitude=52 + np.asarray(north) / NORTH,
        longitude=5 + np.asarray(east) / EAST,
        elevation=np.full(len(east), 7.0) if elevation is None else np.asarray(elevation) + 0.0,
        time=time,
        **more,
    )


def table(distance, elevation, **columns):
    columns = {name: np.array(values, dtype=float) for name, values in columns.items()}
    return Track(
        "typed.csv",
        distance=np.array(distance, dtype=float),
        elevation=np.array(elevation, dtype=float),
        **columns,
    )


def loop(points=800, radius=2000.0, drift=0.0, noise=0.0, seed=0):
    angle = np.linspace(0, 2 * np.pi, points)
    level = 30 * np.sin(angle) + drift * angle / angle[-1]
    level += noise * np.random.default_rng(seed).normal(size=points)
    return track_at(radius * np.sin(angle), radius * np.cos(angle), level)


def out_and_back(spacing=10.0, jitter=0.0, half=3000.0, radius=4.0):
    """Out to the east, round a cone, and back on the other side of the road."""
    s = np.arange(0.0, 2 * half + math.pi * radius, spacing)
    angle = np.clip((s - half) / radius, 0, math.pi)
    back = s > half + math.pi * radius
    east = np.where(s < half, s, half + radius * np.sin(angle))
    east = np.where(back, 2 * half + math.pi * radius - s, east)
    error = jitter * np.random.default_rng(1).normal(size=(2, len(s)))
    return track_at(east + error[0], radius * (1 - np.cos(angle)) + error[1], time=s / 10)


class TestGeodesics:
    def test_degrees_of_the_meridian(self):
        # Length of the degree of latitude between 0 and 1 and between 89 and 90 deg on WGS84,
        # and of the quarter meridian 10001965.729 m: widely published, here from memory.
        latitude = np.array([0.0, 1.0, 89.0, 90.0])
        steps, bearing = geodesic_steps(latitude, np.zeros(4))
        assert steps[0] == pytest.approx(110574.39, abs=0.02)
        assert steps[2] == pytest.approx(111693.86, abs=0.02)
        assert np.sum(steps) == pytest.approx(10001965.729, abs=0.001)
        np.testing.assert_allclose(bearing, 0)

    def test_degree_of_the_equator(self):
        # The equator's radius by definition of WGS84 is 6378137 m.
        steps, bearing = geodesic_steps(np.zeros(2), np.array([179.5, -179.5]))
        assert steps[0] == pytest.approx(6378137 * math.pi / 180)
        assert bearing[0] == pytest.approx(math.pi / 2)

    def test_long_line(self):
        # Karney CFF, Algorithms for geodesics, J Geod 2013;87:43-55, table 2 (from memory):
        # from 40 deg north at azimuth 30 deg over 10000 km to 41.79331020506 N 137.84490004377 E.
        steps, bearing = geodesic_steps(
            np.array([40.0, 41.79331020506]), np.array([0.0, 137.84490004377])
        )
        assert steps[0] == pytest.approx(10_000_000, abs=0.01)
        assert math.degrees(bearing[0]) == pytest.approx(30, abs=1e-6)


class TestBends:
    @pytest.mark.parametrize("radius", [12.0, 40.0, 300.0])
    @pytest.mark.parametrize("points", [60, 400])
    def test_circle(self, radius, points):
        angle = np.linspace(0, 1.5 * math.pi, points)
        plane = radius * np.column_stack([np.sin(angle), np.cos(angle)])
        found = bend_radius(radius * angle, plane)
        inner = (radius * angle > 10) & (radius * angle < radius * angle[-1] - 10)
        np.testing.assert_allclose(found[inner], radius, rtol=0.06)

    def test_long_bend_drawn_with_few_points(self):
        angle = np.linspace(0, math.pi, 10)
        plane = 300 * np.column_stack([np.sin(angle), np.cos(angle)])
        np.testing.assert_allclose(bend_radius(300 * angle, plane)[1:-1], 300, rtol=0.03)

    def test_corner_of_a_route_with_few_points(self):
        plane = np.array([[0.0, 0], [500, 0], [500, 500], [500, 0]])
        found = bend_radius(np.array([0.0, 500, 1000, 1500]), plane)
        # Chords of 10 m that turn by 90 and by 180 deg: 10 / (2 sin 45) and 10 / 2.
        np.testing.assert_allclose(found, [np.inf, 10 / math.sqrt(2), 5, np.inf])

    def test_chords_reach_to_the_nearer_point(self):
        """20 m after 100 m, at 30 degrees: R = c / (2 sin(15 deg)) = 20 / 0.51764 = 38.64 m."""
        turned = np.array([math.cos(math.radians(30.0)), math.sin(math.radians(30.0))])
        plane = np.array([[0.0, 0.0], [100.0, 0.0], [100.0, 0.0] + 20 * turned])
        plane = np.vstack([plane, plane[-1] + 100.0 * turned])
        radius = bend_radius(np.array([0.0, 100.0, 120.0, 220.0]), plane)
        assert radius[1] == pytest.approx(38.64, abs=0.005)

    def test_straight(self):
        assert np.isinf(radius_of_turn(np.array([10.0]), np.array([0.0])))[0]


class TestPlacedTracks:
    def test_length_bearing_and_slope_of_a_line(self):
        north = np.arange(0.0, 1001.0, 50.0)
        course = survey(track_at(0 * north, north, elevation=0.1 * north))
        flat = float(np.sum(geodesic_steps(52 + north / NORTH, 5 + 0 * north)[0]))
        assert course.length == pytest.approx(math.hypot(flat, 100), rel=1e-9)
        np.testing.assert_allclose(np.sin(course.bearing), 0, atol=1e-9)
        np.testing.assert_allclose(course.grade, 100 / flat, rtol=1e-3)
        assert course.ascent == pytest.approx(100)
        assert np.all(np.isinf(course.bend_radius))
        assert course.report.points_read == course.report.points_kept == 21

    def test_across_the_180th_meridian_and_at_the_pole(self):
        east = Track(
            "a.gpx", latitude=np.zeros(3), longitude=np.array([179.9, 180.0, -179.9]),
            elevation=np.zeros(3),
        )  # fmt: skip
        assert survey(east).length == pytest.approx(0.2 * 111_319.49, rel=1e-6)
        pole = Track(
            "a.gpx", latitude=np.array([89.99, 90.0, 89.99]),
            longitude=np.array([0.0, 77.0, 180.0]), elevation=np.zeros(3),
        )  # fmt: skip
        assert survey(pole).length == pytest.approx(0.02 * 111_694, rel=1e-3)

    @pytest.mark.parametrize("jitter", [0.0, 0.5, 1.0, 2.0])
    @pytest.mark.parametrize("spacing", [4.0, 10.0])
    def test_turn_stays_tight_and_jitter_makes_no_corners(self, spacing, jitter):
        course = survey(out_and_back(spacing, jitter))
        near = np.abs(course.distance - course.length / 2) < 50
        assert np.min(course.bend_radius[near]) < 8
        assert np.min(course.bend_radius[~near]) > 60
        assert course.length == pytest.approx(6000 + 4 * math.pi, rel=5e-3)

    def test_note_on_jitter_gives_both_lengths(self):
        (note, *_) = survey(out_and_back(10.0, 1.0)).report.notes
        assert note.startswith("Jitter of the positions from point to point, ")
        assert "which took the length from 6.0" in note

    def test_corners_of_a_sparse_route_are_not_smoothed(self):
        east, north = [0, 500, 500, 1000, 1000, 0], [0, 0, 500, 500, 900, 900]
        course = survey(track_at(east, north))
        assert course.length == pytest.approx(2900, rel=3e-3)
        np.testing.assert_allclose(course.bend_radius[1:-1], 10 / math.sqrt(2), rtol=0.01)
        assert [round(gap.from_m, -2) for gap in course.report.gaps] == [0, 500, 1000, 1500, 1900]

    def test_points_without_position_and_at_one_place_are_dropped(self):
        track = track_at([0, 100, 100.2, np.nan, 200, 300], np.zeros(6))
        course = survey(track)
        assert course.report.dropped == {"no position": 1, "same place as the point before": 1}
        assert course.report.points_kept == 4

    def test_position_zero_zero_is_none(self):
        track = track_at([0, 100, 200], np.zeros(3))
        track.latitude[1] = track.longitude[1] = 0.0
        assert survey(track).report.dropped == {"no position": 1}

    @pytest.mark.parametrize("timed", [True, False])
    def test_jump_away_and_back_is_dropped(self, timed):
        east = np.arange(0.0, 4000.0, 8.0)
        north = np.zeros_like(east)
        north[100] = 900.0
        north[200:203] = [5000, 5004, 5008]
        course = survey(track_at(east, north, time=east / 8 if timed else None))
        assert course.report.dropped == {"jump away from the road and back": 4}
        assert course.length == pytest.approx(3992, rel=2e-3)

    @pytest.mark.parametrize("timed", [True, False])
    @pytest.mark.parametrize("count", [1, 5])
    @pytest.mark.parametrize("at_finish", [False, True])
    @pytest.mark.parametrize("away", [2200.0, 55_000.0])
    def test_jump_at_an_end_is_dropped(self, timed, count, at_finish, away):
        east = np.arange(0.0, 4000.0, 8.0)
        north = np.zeros_like(east)
        north[slice(-count, None) if at_finish else slice(count)] = away
        course = survey(track_at(east, north, time=east / 8 if timed else None))
        dropped = {"jump away from the road at its start or finish": count}
        assert course.report.dropped == dropped
        assert course.length == pytest.approx(3992 - 8 * count, rel=2e-3)
        where = "finish" if at_finish else "start"
        told = f"Points far from all others were dropped, {count} at the {where}: check both ends."
        assert course.report.warned == (() if timed else (told,))

    def test_long_false_start_is_dropped_by_times_alone(self):
        """For half a minute the receiver shows where it was switched off, 5 km from the start."""
        east = np.arange(0.0, 4000.0, 8.0)
        north = np.where(east < 240, 5000.0, 0.0)
        timed = survey(track_at(east, north, time=east / 8))
        assert timed.length == pytest.approx(3992 - 240, rel=2e-3)
        untimed = survey(track_at(east, north))
        assert untimed.length == pytest.approx(3992 + 5000, rel=2e-3)
        assert untimed.report.warned == (
            "No points lie on 5.00 km from km 0.23 on, 56% of the course: ridden as a straight "
            "line.",
        )

    def test_receiver_that_hung_near_the_start_is_no_false_start(self):
        """In a tunnel it shows its mouth for 60 s, then where it ends."""
        east = np.arange(0.0, 16000.0, 8.0)
        hung = np.where((east > 400) & (east < 880), 400.0, east)
        course = survey(track_at(hung, 0 * east, time=east / 8))
        assert course.length == pytest.approx(15992, rel=2e-3)

    @pytest.mark.parametrize(
        ("east", "time"),
        [
            (np.append(0.0, 600 + np.arange(0.0, 4000.0, 40.0)), None),
            (np.append(0.0, 200 + np.arange(0.0, 4000.0, 8.0)), np.arange(501.0) + 20),
            (np.arange(0.0, 20000.0, 200.0), np.floor(np.arange(100) / 3) * 60),
        ],
        ids=["straight of a route", "first step of a timed one", "times in whole minutes"],
    )
    def test_long_first_step_is_road(self, east, time):
        if time is not None and len(time) == 501:
            time[0] = 0.0
        course = survey(track_at(east, 0 * east, time=time))
        assert course.length == pytest.approx(east[-1], rel=2e-3)
        assert course.report.dropped == {}

    @pytest.mark.parametrize(
        ("gap", "wishes", "warned"),
        [(1500.0, {}, 1), (900.0, {}, 0), (1500.0, {"trim_start": 3600.0}, 0)],
    )
    def test_long_bridge_warns(self, gap, wishes, warned):
        east = np.arange(0.0, 12000.0, 20.0)
        east = east[(east <= 3000) | (east >= 3000 + gap)]
        course = survey(track_at(east, 0 * east), CourseWishes(**wishes))
        assert len(course.report.warned) == warned
        assert all("km from km 3.00 on, 1" in told for told in course.report.warned)

    def test_out_and_back_between_three_points_is_no_jump(self):
        assert survey(track_at([0, 900, 0], [0, 0, 0])).length == pytest.approx(1800, rel=2e-3)

    def test_pauses_are_collapsed(self):
        rng = np.random.default_rng(3)
        moving = np.arange(0.0, 1000.0, 8.0)
        cloud = 1000 + rng.normal(size=90)
        east = np.concatenate([moving, cloud, moving + 1008])
        north = np.concatenate([0 * moving, rng.normal(size=90), 0 * moving])
        # The device is switched off for 300 s at the end of the second part.
        time = np.arange(len(east)) + np.where(np.arange(len(east)) > 260, 300.0, 0.0)
        course = survey(track_at(east, north, time=time))
        assert course.report.pauses == 2
        assert course.report.paused_time == pytest.approx(390, abs=5)
        assert course.report.dropped["standing still"] == pytest.approx(90, abs=8)
        assert course.length == pytest.approx(2000, abs=8)

    def test_turn_at_a_cone_is_no_pause(self):
        assert survey(out_and_back()).report.pauses == 0

    @pytest.mark.parametrize(
        ("time", "note"),
        [
            (-np.arange(50.0), "The times of the points go back, so they were not used."),
            (
                np.arange(50.0) / 10,
                "The times of the points give 0.5 km within 5 s, so they were not used.",
            ),
        ],
    )
    def test_unusable_times(self, time, note):
        east = np.arange(50.0) * 10
        assert note in survey(track_at(east, 0 * east, time=time)).report.notes

    def test_all_at_one_place(self):
        with pytest.raises(InputError) as caught:
            survey(track_at(np.zeros(5), np.zeros(5)))
        assert str(caught.value) == (
            "made.gpx: all points are at one place once errors are dropped; export the course again"
        )

    def test_notes_of_the_reader_are_kept(self):
        course = survey(track_at([0, 50], [0, 0], notes=("The first was read.",)))
        assert course.report.notes == ("The first was read.",)


class TestElevations:
    def test_missing_everywhere(self):
        track = track_at([0, 50], [0, 0], elevation=[np.nan, np.nan])
        with pytest.raises(InputError) as caught:
            survey(track)
        assert str(caught.value) == (
            "made.gpx: no point has an elevation; write flat = true under [course], "
            "or add --set course.flat=true, to ride it flat"
        )
        assert survey(track, CourseWishes(ride_flat=True)).ascent == 0

    def test_missing_at_some_points_or_no_height_of_a_road(self):
        course = survey(track_at([0, 100, 200, 300], np.zeros(4), [0, np.nan, -32768, 9]))
        np.testing.assert_allclose(course.elevation, [0, 3, 6, 9], atol=1e-3)
        assert course.report.notes == (
            "The elevation was missing or no road's at 2 of 4 points, where it was interpolated.",
        )

    def test_spikes_are_removed(self):
        east = np.arange(0.0, 5000.0, 10.0)
        level = 20 * np.sin(east / 800)
        spiked = level.copy()
        spiked[120] += 12
        spiked[300:302] -= 20
        course = survey(track_at(east, 0 * east, spiked))
        np.testing.assert_allclose(course.elevation, level, atol=0.3)
        assert course.report.notes == (
            "Spikes of the elevation were removed, 3 in all, the first at km 1.20.",
        )
        assert course.report.ascent_before > course.report.ascent_after + 25

    @pytest.mark.parametrize(
        ("height", "noise", "removed"),
        [(1.9, 0.0, False), (2.1, 0.0, True), (4.9, 1.0, False), (5.1, 1.0, True)],
    )
    def test_a_spike_stands_out_by_two_metres_and_five_times_the_noise(
        self, height, noise, removed
    ):
        distance = np.arange(0.0, 31.0, 3.0)
        level = np.where(distance == 15.0, height, 0.0)
        found = without_spikes(distance, level, noise, CourseReport("made.gpx"))
        assert np.max(found) == (0.0 if removed else height)

    def test_noise_on_a_ramp_is_no_step_at_an_end(self):
        """Of 50 rides up 8 %, a point each 3 m, with errors of 0.4 m, none is taken for one."""
        distance, report = np.arange(0.0, 1200.0, 3.0), CourseReport("made.gpx")
        rng = np.random.default_rng(5)
        for _ in range(50):
            noisy = 0.08 * distance + rng.normal(scale=0.4, size=400)
            without_false_ends(distance, noisy, 0.4, report)
        assert report.notes == ()

    def test_lasting_wall_is_refused(self):
        east = np.arange(0.0, 1000.0, 10.0)
        level = np.interp(east, [0, 400, 500, 1000], [0, 0, 60, 60])
        with pytest.raises(InputError) as caught:
            survey(track_at(east, 0 * east, level))
        text = str(caught.value)
        assert text.startswith("made.gpx, km 0.40: the road rises 60.0 m within 11")
        assert text.endswith(
            'steeper than 45%; write under [course] smoothing = "3 m" or flat = true, '
            "or correct the elevations"
        )

    def test_a_table_that_rises_more_than_it_is_long(self):
        with pytest.raises(InputError) as caught:
            survey(table([0, 100, 110, 300], [0, 0, 20, 20]))
        assert str(caught.value) == (
            "typed.csv, km 0.10: the road rises 20.0 m within 10 m, steeper than 45%; "
            "correct the elevations"
        )

    def test_steep_stretch_is_noted(self):
        course = survey(table([0, 100, 150, 300], [0, 0, 12, 12]))
        assert course.report.notes == (
            "The road is steeper than 20% over 50 m, first at km 0.10: check the elevations.",
        )

    @pytest.mark.parametrize("seed", range(3))
    def test_noise_on_a_flat_loop_vanishes(self, seed):
        angle = np.linspace(0, 2 * np.pi, 2000)
        noise = np.random.default_rng(seed).normal(size=2000)
        east, north = 3000 * np.sin(angle), 3000 * np.cos(angle)
        course = survey(track_at(east, north, 50 + noise))
        assert course.report.ascent_before > 1000
        assert course.report.ascent_after == course.ascent < 2
        assert course.report.noise == pytest.approx(1, rel=0.1)
        assert not course.report.noise_given
        assert np.std(course.elevation) < 0.15

    def test_given_noise(self):
        course = survey(loop(noise=0.5), CourseWishes(noise=0.0))
        assert course.report.noise == 0
        assert course.report.noise_given
        assert course.report.ascent_after == pytest.approx(course.report.ascent_before, rel=0.01)
        assert survey(loop(noise=0.5), CourseWishes(noise=3.0)).ascent < 61

    def test_loop_is_closed(self):
        course = survey(loop(drift=6.0))
        assert course.elevation[-1] == course.elevation[0]
        assert course.report.notes[-1] == (
            "The loop was closed: its finish was 6.0 m above its start, "
            "which was spread over its length."
        )

    def test_loop_far_from_closing_is_left(self):
        course = survey(loop(drift=-50.0))
        assert course.elevation[-1] - course.elevation[0] == pytest.approx(-50, abs=0.5)
        assert course.report.notes[-1] == (
            "This looks like a loop, but the finish lies 50 m below the start: "
            "check the elevations."
        )

    def test_typed_course_is_unchanged(self):
        course = survey(table([0, 2000, 5000, 9000, 9500, 16100], [10, 30, 12, 60, 58, 10]))
        assert course.report.noise == 0
        np.testing.assert_allclose(course.elevation, [10, 30, 12, 60, 58, 10])
        np.testing.assert_allclose(course.distance, [0, 2000, 5000, 9000, 9500, 16100])
        assert course.report.notes == ()


class TestTables:
    def test_columns(self):
        track = table(
            [100, 200, 400, 500], [0, 1, 2, 3],
            bearing=[0, -math.pi / 2, math.pi / 2, 0], crr=[0.004, np.nan, 0.006, 0],
            shelter=[np.nan, 0.5, 0.2, 0], max_speed=[np.nan, 9, np.nan, 1],
        )  # fmt: skip
        course = survey(track)
        np.testing.assert_allclose(course.distance, [0, 100, 300, 400])
        np.testing.assert_allclose(course.bearing, [0, 1.5 * math.pi, math.pi / 2])
        np.testing.assert_allclose(course.crr, [0.004, np.nan, 0.006])
        np.testing.assert_allclose(course.shelter, [1, 0.5, 0.2])
        np.testing.assert_allclose(course.max_speed, [np.inf, 9, np.inf])
        assert np.all(np.isinf(course.bend_radius))
        assert course.report.notes == ("Distances were counted from the first point, 100 m.",)

    def test_without_bearings_nothing_bends(self):
        course = survey(table([0, 10, 20], [0, 0, 0]))
        assert np.all(np.isnan(course.bearing))
        assert np.all(np.isinf(course.bend_radius))

    def test_repeated_distance(self):
        course = survey(table([0, 10, 10, 20], [0, 1, 1, 2]))
        assert course.report.dropped == {"same place as the point before": 1}
        with pytest.raises(InputError, match="all points are at one place; give their distances"):
            survey(table([5, 5], [0, 0]))


class TestWishes:
    @pytest.mark.parametrize(
        "wish", [{"laps": 0}, {"noise": -1.0}, {"trim_end": math.nan}, {"official_length": 0.0}]
    )
    def test_out_of_range(self, wish):
        """The keys of the race file have ranges of their own, which say it in words."""
        with pytest.raises(ValueError, match=r"must|once"):
            CourseWishes(**wish)

    @given(st.lists(st.integers(-40, 40), min_size=3, max_size=30), st.integers(0, 5))
    @settings(max_examples=60, deadline=None)
    def test_reversal(self, rises, seed):
        steps = np.random.default_rng(seed).uniform(100, 900, len(rises))
        distance = np.concatenate([[0], np.cumsum(steps)])
        elevation = np.concatenate([[0], np.cumsum(rises)])
        forth = survey(table(distance, elevation, bearing=np.linspace(0, 6, len(distance))))
        back = turned_round(forth)
        again = turned_round(back)
        fall = np.sum(np.maximum(-np.diff(forth.elevation), 0))
        assert back.ascent == pytest.approx(fall)
        for name in ("distance", "elevation", "bend_radius"):
            np.testing.assert_allclose(getattr(again, name), getattr(forth, name), atol=1e-8)
        np.testing.assert_allclose(np.exp(1j * again.bearing), np.exp(1j * forth.bearing))

    def test_reverse_turns_bearings_and_orders_pieces(self):
        track = table([0, 100, 300], [0, 5, 5], bearing=[0, 1, 1], crr=[0.003, 0.005, 0])
        course = survey(track, CourseWishes(reverse=True))
        np.testing.assert_allclose(course.distance, [0, 200, 300])
        np.testing.assert_allclose(course.elevation, [5, 5, 0])
        np.testing.assert_allclose(course.bearing, [1 + math.pi, math.pi])
        np.testing.assert_allclose(course.crr, [0.005, 0.003])
        assert course.report.notes == ("The course is ridden in reverse.",)

    @given(st.integers(1, 7))
    @settings(max_examples=7, deadline=None)
    def test_laps_multiply(self, laps):
        one = survey(loop(drift=2.0))
        course = survey(loop(drift=2.0), CourseWishes(laps=laps))
        assert course.length == pytest.approx(laps * one.length)
        assert course.ascent == pytest.approx(laps * one.ascent)
        assert len(course.bearing) == laps * len(one.bearing)

    def test_lap_that_ends_short_of_its_start_is_completed(self):
        angle = np.linspace(0, 2 * np.pi, 800)[:-4]
        track = track_at(2000 * np.sin(angle), 2000 * np.cos(angle))
        course = survey(track, CourseWishes(laps=2))
        assert course.length == pytest.approx(2 * 2 * math.pi * 2000, rel=3e-3)
        notes = course.report.notes
        assert "The 63 m from the finish to the start were added to each lap." in notes
        assert notes[-1].startswith("The course is 2 laps of 12.5")
        assert np.min(course.bend_radius) > 700

    def test_a_corner_at_the_joint_of_laps_is_like_the_others(self):
        """A square drawn with its corners: chords of 10 m that turn by 90 deg, 10 / (2 sin 45)."""
        square = track_at([0, 500, 500, 0, 0], [0, 0, 500, 500, 0])
        radius = survey(square, CourseWishes(laps=2)).bend_radius
        assert np.isinf(radius[[0, -1]]).all()
        np.testing.assert_allclose(radius[1:-1], 10 / math.sqrt(2), rtol=0.01)

    @pytest.mark.parametrize(("radius", "points"), [(300.0, 31), (100.0, 64)])
    def test_a_bend_goes_on_from_lap_to_lap(self, radius, points):
        """A circle, drawn with points 63 m and 10 m apart: its radius, at the joint as well."""
        angle = np.linspace(0, 2 * np.pi, points)
        track = track_at(radius * np.sin(angle), radius * np.cos(angle))
        course = survey(track, CourseWishes(laps=3))
        joints = (points - 1) * np.array([1, 2])
        assert np.isinf(course.bend_radius[[0, -1]]).all()
        np.testing.assert_allclose(course.bend_radius[joints], radius, rtol=0.03)

    def test_laps_of_a_table_have_no_bend_at_their_joint(self):
        """As they have none elsewhere: out to the north and back, twice."""
        course = survey(table([0, 50, 100], [0, 0, 0], bearing=[0, math.pi, 0]), CourseWishes(2))
        assert np.isinf(course.bend_radius).all()

    def test_laps_of_an_open_course(self):
        east = np.arange(0.0, 900.0, 50)
        with pytest.raises(InputError) as caught:
            survey(track_at(east, 0 * east), CourseWishes(laps=3))
        text = str(caught.value)
        assert text.startswith("made.gpx: the finish lies 848")
        assert text.endswith(
            " m from the start, so it cannot be ridden in laps; "
            "trim the file to one lap, or ride it once"
        )

    def test_laps_of_a_table(self):
        assert survey(table([0, 4000], [0, 2]), CourseWishes(laps=3)).length == 12000
        with pytest.raises(InputError, match="the finish lies 90 m above the start, so it cannot"):
            survey(table([0, 4000], [0, 90]), CourseWishes(laps=2))

    def test_trim(self):
        track = table([0, 1000, 2000], [0, 100, 0], crr=[0.003, 0.005, 0])
        course = survey(track, CourseWishes(trim_start=500, trim_end=1200))
        np.testing.assert_allclose(course.distance, [0, 300])
        np.testing.assert_allclose(course.elevation, [50, 80])
        np.testing.assert_allclose(course.crr, [0.003])
        assert course.report.notes == ("500 m were cut off at the start and 1200 m at the end.",)
        with pytest.raises(InputError) as caught:
            survey(track, CourseWishes(trim_start=1500, trim_end=500))
        assert str(caught.value) == (
            "course.trim_start: cutting off 1500 m and 500 m leaves nothing of 2000 m; cut off less"
        )

    def test_trimmed_to_a_loop_is_closed(self):
        angle = np.linspace(0, 2 * np.pi, 800)
        way = np.arange(-1000.0, -10.0, 10.0)
        east = np.concatenate([way, 1000 * np.sin(angle)])
        north = np.concatenate([0 * way + 1000, 1000 * np.cos(angle)])
        level = np.concatenate([0 * way, 8 * angle / (2 * np.pi)])
        course = survey(track_at(east, north, level), CourseWishes(trim_start=1000.0, laps=2))
        assert course.length == pytest.approx(2 * 2 * math.pi * 1000, rel=0.01)
        assert course.elevation[-1] == pytest.approx(course.elevation[0])
        assert any(note.startswith("The loop was closed") for note in course.report.notes)

    def test_official_length(self):
        track = table([0, 8000, 16500], [0, 50, 0])
        course = survey(track, CourseWishes(official_length=16100))
        assert course.length == pytest.approx(16100)
        assert course.ascent == pytest.approx(50)
        assert course.report.notes == (
            "Distances were scaled by 0.9758: 16.500 km against the official 16.100 km. "
            "More than 1 % apart: check which is right.",
        )
        with pytest.raises(InputError) as caught:
            survey(track, CourseWishes(official_length=40000))
        assert str(caught.value) == (
            "course.official_length: the course is too far from its official length: "
            "16.500 km against the official 40.000 km; check laps, trimming and the file"
        )


class TestMadeUp:
    def test_rise_is_along_the_slope(self):
        course = made_up(4200.0, 0.071, 0.5)
        assert course.length == 4200
        assert course.ascent == pytest.approx(4200 * math.sin(math.atan(0.071)))
        assert course.grade[0] == pytest.approx(0.071)
        assert course.bearing[0] == 0.5
        assert course.report.source == "race file"

    def test_laps_reverse_and_flat(self):
        assert made_up(5000.0, wishes=CourseWishes(laps=8)).length == 40000
        assert made_up(5000.0, 0.02, wishes=CourseWishes(reverse=True)).ascent == 0
        assert made_up(5000.0, 0.02, wishes=CourseWishes(ride_flat=True)).ascent == 0
        assert np.isnan(made_up(5000.0).bearing[0])

    @pytest.mark.parametrize(
        ("given_", "said"),
        [
            (
                (1e3, 0.02, None, CourseWishes(laps=2)),
                "course.laps: a lap with a grade of 2.0% does not close; give one lap",
            ),
            (
                (5e3, 0.0, None, CourseWishes(laps=401)),
                "course.laps: 401 laps of 5.000 km make more than 2000 km; give fewer laps",
            ),
        ],
    )
    def test_refuses(self, given_, said):
        with pytest.raises(InputError) as caught:
            made_up(*given_)
        assert str(caught.value) == said


class TestSections:
    def test_values_are_set_between_the_limits(self):
        course = with_sections(
            survey(table([0, 1000, 2000], [0, 100, 0])),
            [
                CourseSection(500, 1500, crr=0.006, shelter=0.5),
                CourseSection(1200, 9000, max_speed=8.0),
            ],
        )
        np.testing.assert_allclose(course.distance, [0, 500, 1000, 1200, 1500, 2000])
        np.testing.assert_allclose(course.elevation, [0, 50, 100, 80, 50, 0])
        np.testing.assert_allclose(course.crr, [np.nan, 0.006, 0.006, 0.006, np.nan])
        np.testing.assert_allclose(course.shelter, [1, 0.5, 0.5, 0.5, 1])
        np.testing.assert_allclose(course.max_speed, [np.inf, np.inf, np.inf, 8, 8])
        np.testing.assert_allclose(course.roughness, 1)
        assert course.report.notes == (
            "The section from 1.2 to 9 km was cut off at the finish, 2.000 km.",
        )

    @pytest.mark.parametrize(
        "section",
        [
            {"start": 5, "end": 5},
            *(
                {"start": 0, "end": 5} | {name: value}
                for name, value in (("crr", 0.5), ("max_speed", 0.0), ("shelter", 2.0))
            ),
        ],
    )
    def test_refuses(self, section):
        with pytest.raises(ValueError, match=r"section"):
            CourseSection(**section)

    def test_beyond_the_finish(self):
        with pytest.raises(InputError) as caught:
            with_sections(made_up(1000.0), [CourseSection(2000, 3000)])
        assert str(caught.value) == (
            "section from 2 to 3 km: it starts beyond the finish at 1.000 km; "
            "give a start on the course"
        )


@given(st.data())
@settings(max_examples=200, deadline=None)
def test_any_track_gives_a_course_or_an_error(data):
    number = st.floats(allow_nan=True, allow_infinity=False, width=32)
    count = data.draw(st.integers(2, 14))
    column = st.lists(number, min_size=count, max_size=count).map(np.array)
    scale = data.draw(st.sampled_from([1.0, 1e-3, 1e-6]))
    track = Track(
        "any.gpx",
        latitude=np.clip(data.draw(column), -90, 90) * scale,
        longitude=np.clip(data.draw(column), -180, 180) * scale,
        elevation=data.draw(column),
        time=data.draw(st.none() | column),
    )
    wishes = CourseWishes(
        laps=data.draw(st.integers(1, 3)),
        reverse=data.draw(st.booleans()),
        noise=data.draw(st.sampled_from([None, 0.0, 2.0])),
        ride_flat=data.draw(st.booleans()),
    )
    try:
        course = survey(track, wishes)
    except InputError:
        return
    assert course.length > 0
