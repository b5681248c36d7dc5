"""What goes wrong in recordings, each fault put into a small file of a ride whose road is known.

The road goes east for 8 km over hills of 20 m, ridden at 8 m/s with a point a second.
"""

import math
from dataclasses import replace

import numpy as np
import pytest

from racecalc.answers.basis import Basis
from racecalc.decisions.riding import ride as ridden
from racecalc.domain.loading import load_race
from racecalc.domain.surveying.survey import CourseWishes, survey
from racecalc.errors import InputError
from racecalc.files.recordings import read_recording
from racecalc.files.tracks import Wanted, read_track
from tests.files.fit_bytes import fit_file
from tests.files.making import RACE

FIELDS = ("timestamp", "position_lat", "position_long", "enhanced_altitude", "distance")
START = 1_000_000_000
EAST = 111_319.49 * math.cos(math.radians(52)) * 1.00211
"""Metres a degree at 52 deg north: the parallel of WGS84."""

ROAD = np.arange(0.0, 8001.0, 8.0)


def level(at):
    """The road's true height [m]."""
    return 50 + 20 * np.sin(np.asarray(at) / 700)


RISE = float(np.sum(np.maximum(np.diff(level(ROAD)), 0.0)))


def ride(at=ROAD, height=None, stops=(), lost=()):
    """Records of a ride along places of the road [m].

    `stops` are (place, seconds, drift of the barometer [m]); within `lost` (from, to) there is no
    position, but the device counts on.
    """
    height = level(at) if height is None else np.asarray(height)
    rows, clock, drift = [], START, 0.0
    for here, true in zip(at, height, strict=True):
        nowhere = any(begin <= here <= end for begin, end in lost)
        place = (None, None) if nowhere else (52.0, 5.0 + here / EAST)
        rows.append((clock, *place, true + drift, here - at[0]))
        clock += 1
        for stop, seconds, more in stops:
            if here <= stop < here + 8:
                drift += more
                rows.append((clock + seconds, *place, true + drift, here - at[0]))
                clock += seconds + 1
    return rows


@pytest.fixture
def course(tmp_path):
    def of(rows, wishes=None, wanted=None, sessions=()):
        path = tmp_path / "ride.fit"
        content = fit_file(rows, FIELDS, sessions)
        if not path.exists() or path.read_bytes() != content:
            path.write_bytes(content)
        return survey(read_track(path, wanted or Wanted()), wishes)

    return of


def test_the_ride_without_a_fault(course):
    found = course(ride())
    assert found.length == pytest.approx(8000, rel=1e-3)
    assert found.ascent == pytest.approx(RISE, rel=0.01)
    assert found.report.notes == ()


def test_the_height_drifts_at_stops(course):
    """Five coffee stops, in which the weather moves the barometer by 11 to 45 m."""
    drifts = (18.0, -11.0, 45.0, 24.0, -33.0)
    stops = [(1200.0 * number, 600, drift) for number, drift in enumerate(drifts, 1)]
    found = course(ride(stops=stops))
    assert found.ascent == pytest.approx(RISE, rel=0.02)
    assert np.max(np.abs(found.elevation - level(found.distance))) < 1.5
    assert found.report.notes == (
        "The height changed by up to 45 m during 5 pauses, first at km 1.20; later heights were "
        "moved to bridge it.",
    )


@pytest.mark.parametrize(("points", "where"), [(slice(0, 9), "start"), (slice(-9, None), "finish")])
def test_a_false_height_at_an_end(course, points, where):
    """The device has not found its height yet: nine points lie 35 m too low."""
    height = level(ROAD)
    height[points] -= 35.0
    found = course(ride(height=height))
    assert found.ascent == pytest.approx(RISE, rel=0.02)
    (note,) = found.report.notes
    assert note.startswith("A step of the height by 3")
    assert note.endswith(f" m at the {where} was bridged.")


def wall(begin, end, rise):
    """Heights that a broken sensor lets climb between two places, and keeps."""
    return level(ROAD) + np.interp(ROAD, [begin, end], [0.0, rise])


@pytest.mark.parametrize(
    ("faulty", "offers"),
    [
        (wall(560, 640, 55.0), ["trim_start", "smoothing"]),
        (wall(7200, 7280, 60.0), ["trim_end", "smoothing"]),
        (wall(4000, 4080, 60.0), ["smoothing"]),
    ],
    ids=["near the start", "near the finish", "in the middle"],
)
def test_a_wall_is_refused_with_values_that_help(tmp_path, course, faulty, offers):
    """Each value that the refusal names is put into the race file, which then can be read."""
    with pytest.raises(InputError) as caught:
        course(ride(height=faulty))
    problem, _, remedy = str(caught.value).partition("; write under [course] ")
    assert "the road rises" in problem
    told = remedy.removesuffix(", or correct the elevations").split(" or ")
    assert [one.partition(" = ")[0] for one in told] == [*offers, "flat"]
    race = RACE.partition("[course]")[0]
    for one in told:
        path = tmp_path / "race.toml"
        path.write_text(f'{race}[course]\nfile = "ride.fit"\n{one}\n', encoding="utf-8")
        assert load_race(path).course.length > 6000


def test_what_is_cut_off_is_not_checked(course):
    faulty = wall(240, 320, 60.0)
    found = course(ride(height=faulty), CourseWishes(trim_start=500.0))
    assert found.length == pytest.approx(7500, rel=1e-3)
    with pytest.raises(InputError, match=r"km 0\.9.*trim_start"):
        course(ride(height=wall(900, 980, 60.0)), CourseWishes(trim_start=500.0))


@pytest.mark.parametrize(
    ("lost", "told"),
    [
        ([(0, 1000)], "1.01 km before the first position"),
        ([(3000, 3600), (7400, 8000)], "0.61 km after the last position"),
    ],
)
def test_road_without_positions_is_told_and_ridden_if_wished(course, lost, told):
    """No satellites: the device counts its distance on."""
    left_out = course(ride(lost=lost))
    missing = sum(end - begin for begin, end in lost if begin != 3000) + 8
    assert left_out.length == pytest.approx(8000 - missing, abs=10)
    assert left_out.report.notes[-1] == (
        f'The device counted {told}: left out; lost_road = "straight" rides them straight and flat.'
    )
    assert left_out.report.warned == left_out.report.notes
    ridden = course(ride(lost=lost), CourseWishes(ride_lost=True))
    assert ridden.report.warned == ()
    assert ridden.length == pytest.approx(8000, rel=1e-3)
    assert ridden.report.notes[-1] == f"The device counted {told}: ridden straight and flat."
    ends = np.diff(ridden.elevation)[[0, -1]]
    assert np.any(ends == 0.0)


def test_a_tunnel_round_a_hill(course):
    """The road bends where there are no positions: the device counts 700 m more than the chord."""
    rows = [
        (*row[:4], row[4] + 700.0) if row[4] > 3600 else row for row in ride(lost=[(3000, 3600)])
    ]
    assert course(rows).length == pytest.approx(8000, rel=1e-3)
    assert "0.70 km in gaps" in course(rows).report.notes[-1]
    assert course(rows, CourseWishes(ride_lost=True)).length == pytest.approx(8700, rel=1e-3)


@pytest.mark.parametrize("only_in_all", [False, True])
def test_a_length_that_the_device_counted_otherwise(course, only_in_all):
    """Positions cut every corner: 4 % of what the wheel counted is lost."""
    rows = [(*row[:4], None if only_in_all else 1.04 * row[4]) for row in ride()]
    (note,) = course(rows, sessions=[(START, "cycling", 1001, 8320.0, None)]).report.warned
    assert note == (
        "The device counted 8.32 km where its positions give 8.00 km: check official_length."
    )


@pytest.mark.parametrize(
    ("at", "most", "told"),
    [(-1, 10_721_370.0, "10721.37"), (500, 30_000.0, "30.00")],
    ids=["far beyond the road", "faster than anyone in the time"],
)
def test_a_distance_that_cannot_be_right_is_no_lost_road(course, at, most, told):
    """30 km within 500 s are 216 km/h."""
    rows = ride()
    rows[at] = (*rows[at][:4], most)
    for wishes in (CourseWishes(), CourseWishes(ride_lost=True)):
        found = course(rows, wishes)
        assert found.length == pytest.approx(8000, rel=1e-3)
        assert found.report.warned == (
            f"The device counted {told} km where its positions give 8.00 km, which cannot be "
            "right: its distance was not used.",
        )


SPORTS = ("swimming", "cycling", "running")


def test_the_ride_of_a_triathlon(course):
    """Three sports in one file: only what was cycled is road."""
    sessions = [
        (START + begin, sport, seconds, 0.0, None)
        for sport, begin, seconds in zip(SPORTS, (0, 200, 801), (199, 600, 200), strict=True)
    ]
    found = course(ride(), sessions=sessions)
    assert found.length == pytest.approx(4800, rel=1e-3)
    assert found.elevation[0] == pytest.approx(level(1600), abs=0.5)
    assert found.report.notes == (
        "Of the parts of the file (swimming, cycling, running), cycling was read.",
    )


@pytest.mark.parametrize("known", ["start", "end", "length"])
def test_of_each_sport_its_own_records_and_laps(tmp_path, known):
    """A ride of 200 s after a run of 100 s, each with its laps; sessions with or without start."""
    records = [(START + at, 52.0, 5.0 + 8 * at / EAST, 200, 8.0) for at in range(301)]
    spans = (("running", 0, 99.6), ("cycling", 100, 199.6))
    sessions = [
        {
            "start": (START + begin, sport, length, None),
            "end": (None, sport, length, START + begin + 200 * (begin > 0) + 99 * (begin == 0)),
            "length": (None, sport, length, None),
        }[known]
        for sport, begin, length in spans
    ]
    path = tmp_path / "ride.fit"
    fields = ("timestamp", "position_lat", "position_long", "power", "speed")
    session_fields = ("start_time", "sport", "total_elapsed_time", "timestamp")
    spent = ((0, 49.8), (50, 49.8), (100, 99.6), (200, 100.0))
    laps = [(START + begin, length) for begin, length in spent]
    path.write_bytes(fit_file(records, fields, sessions, session_fields, laps))
    found = read_recording(path)
    if known == "length":
        # Nothing says which records are of the ride.
        assert (len(found.time), len(found.laps)) == (301, 4)
        return
    assert found.time[0] - found.laps[0].start == pytest.approx(0.0, abs=0.5)
    assert len(found.time) == pytest.approx(200, abs=1)
    assert [round(one.end - one.start) for one in found.laps] == [100, 100]


def test_of_each_activity_its_own_laps(tmp_path):
    def activity(sport, minute):
        points = "".join(
            f"<Trackpoint><Time>2026-05-03T06:{minute:02}:{at:02}Z</Time><DistanceMeters>{8 * at}"
            "</DistanceMeters><Extensions><Watts>200</Watts></Extensions></Trackpoint>"
            for at in range(30)
        )
        return (
            f'<Activity Sport="{sport}"><Lap StartTime="2026-05-03T06:{minute:02}:00Z">'
            f"<TotalTimeSeconds>{minute}</TotalTimeSeconds>{points}</Lap></Activity>"
        )

    path = tmp_path / "day.tcx"
    parts = activity("Running", 10) + activity("Biking", 29) + activity("Running", 40)
    path.write_text(f"<All>{parts}</All>", encoding="utf-8")
    (lap,) = read_recording(path).laps
    assert lap.end - lap.start == 29.0


def test_two_rides_in_one_file(course):
    sessions = [(START, "cycling", 499, 0.0, None), (START + 500, "cycling", 501, 0.0, None)]
    first = course(ride(), sessions=sessions)
    assert first.report.warned == first.report.notes
    assert first.length == pytest.approx(3992, rel=1e-3)
    assert first.report.notes == ("Of 2 rides in the file, number 1 was read (course.part).",)
    assert course(ride(), None, Wanted(part=2), sessions).length == pytest.approx(4000, rel=1e-3)
    with pytest.raises(InputError, match=r"^course\.part: the file holds 2 rides; give 1 to 2$"):
        course(ride(), None, Wanted(part=3), sessions)


def chained(spread, length, seed):
    """Errors of an altimeter that hang together along the road: each keeps a share of the last."""
    chance, kept = np.random.default_rng(seed), math.exp(-8.0 / length)
    errors = [0.0]
    for new in chance.normal(size=len(ROAD) - 1):
        errors.append(kept * errors[-1] + spread * math.sqrt(1 - kept**2) * new)
    return np.array(errors)


def test_the_rise_that_the_device_counted_is_a_hint(course):
    """Rollers of 3 m and 250 m, which are the altimeter's own, on a road that climbs 30 m."""
    road = 50 + np.minimum(30 * ROAD / 4000, 30.0)
    height = road + 1.5 * np.sin(2 * np.pi * ROAD / 250)
    alone = course(ride(height=height))
    hinted = course(ride(height=height), sessions=[(START, "cycling", 1000, 8000.0, 60)])
    assert alone.ascent > 90
    assert hinted.ascent == pytest.approx(60, abs=1)
    np.testing.assert_allclose(hinted.elevation + hinted.height_in_doubt, alone.elevation)
    assert hinted.report.notes[-1] == (
        f"{alone.ascent:.0f} m of rise were left where the device counted 60 m, so the heights "
        "were smoothed more."
    )


@pytest.mark.parametrize("counted", [None, 55])
def test_errors_of_the_altimeter_hang_together(tmp_path, course, counted):
    """They add half of its rise to an easy road; the basis says the seconds that hang on it."""
    road = 50 + 8 * np.sin(ROAD / 400)
    true = float(np.sum(np.maximum(np.diff(road), 0.0)))
    sessions = [(START, "cycling", 1000, 8000.0, counted)]
    height = road + chained(1.0, 75.0, 1)
    found = course(ride(height=height), sessions=sessions)
    assert found.ascent == pytest.approx(true, rel=0.1)
    assert found.report.noise == pytest.approx(1.0, rel=0.3)
    assert found.report.notes[0].startswith("Errors of the height hang together over ")
    path = tmp_path / "race.toml"
    race = RACE.partition("[course]")[0]
    path.write_text(f'{race}[course]\nfile = "ride.fit"\n', encoding="utf-8")
    base = ridden(load_race(path))
    course_otherwise = replace(
        base.race.course, elevation=base.race.course.elevation + base.race.course.height_in_doubt
    )
    other = ridden(replace(base.race, course=course_otherwise)).time
    said = Basis.of(base).course.notes[-1]
    assert said == (f"With the heights smoothed less the time would be {other - base.time:+.0f} s.")


def test_a_rise_that_the_device_counted_forbids_to_smooth_it_away(course):
    """The same heights, but the device counted what the lighter smoothing leaves."""
    height = 50 + 8 * np.sin(ROAD / 400) + chained(1.0, 75.0, 1)
    found = course(ride(height=height), sessions=[(START, "cycling", 1000, 8000.0, 120)])
    assert found.height_in_doubt is None


def test_a_folder_of_courses_is_named_once_for_a_squad(tmp_path, monkeypatch):
    """Two athletes' race files in folders of their own, and one copy of the course."""
    shared = tmp_path / "courses"
    shared.mkdir()
    (shared / "ride.fit").write_bytes(fit_file(ride(), FIELDS))
    race = RACE.partition("[course]")[0] + '[course]\nfile = "ride.fit"\n'
    paths = [tmp_path / name / "race.toml" for name in ("ada", "bo")]
    for path in paths:
        path.parent.mkdir()
        path.write_text(race, encoding="utf-8")
    with pytest.raises(InputError, match="there is no such file"):
        load_race(paths[0])
    monkeypatch.setenv("RACECALC_COURSES", str(shared))
    races = [load_race(path) for path in paths]
    assert [race.notices for race in races] == [(), ()]
    one, other = (race.course for race in races)
    assert one.length == other.length == pytest.approx(8000, rel=1e-3)
    assert one.report.source == str(shared / "ride.fit")
