"""Routes: valid GPX 1.1, and places that stay on the road whatever is done to the course."""

import gpxpy
import numpy as np
import pytest
from defusedxml.ElementTree import fromstring

from racecalc.domain.course import Course
from racecalc.domain.surveying.survey import CourseSection, CourseWishes, made_up, survey
from racecalc.files.route import NAMESPACE, Waypoint, route_gpx
from racecalc.files.tracks import Track
from tests.builders import flat_course

START, END = (52.0, 5.0), (52.1, 5.2)
PLAIN = Waypoint(52.0, 5.25, 7.0, "250 W", "to km 7.4, 8:55 elapsed", "power target")


def tags(element):
    return [child.tag.removeprefix(f"{{{NAMESPACE}}}") for child in element]


LINE = np.array([[52.0, 5.0, 1.0], [52.1, 5.2, 7.0], [52.2, 5.4, 2.0]])


def written(*points: Waypoint, line=LINE, name="Two Mills", about="") -> str:
    return route_gpx(points, np.asarray(line), name, about)


CHILDREN = {
    "gpx": ("metadata", "wpt", "rte", "trk", "extensions"),
    "metadata": ("name", "desc", "author", "copyright", "link", "time", "keywords", "bounds"),
    "wpt": (
        *("ele", "time", "magvar", "geoidheight", "name", "cmt", "desc", "src", "link", "sym"),
        *("type", "fix", "sat", "hdop", "vdop", "pdop", "ageofdgpsdata", "dgpsid", "extensions"),
    ),
    "trk": ("name", "cmt", "desc", "src", "link", "number", "type", "extensions", "trkseg"),
    "trkseg": ("trkpt", "extensions"),
}
"""The sequences of the schema of GPX 1.1 (from memory); a track point is a `wpt` there."""

REPEATED = {"wpt", "trk", "trkseg", "trkpt"}


def check_schema(text: str) -> None:
    """What the schema asks: names, their order and number, attributes and their ranges."""
    root = fromstring(text)
    assert root.tag == f"{{{NAMESPACE}}}gpx"
    assert root.attrib["version"] == "1.1"
    assert root.attrib["creator"]
    for element in root.iter():
        [name], inner = tags([element]), tags(element)
        rows = CHILDREN.get("wpt" if name == "trkpt" else name, ())
        assert [rows.index(tag) for tag in inner] == sorted(rows.index(tag) for tag in inner)
        assert all(inner.count(tag) == 1 for tag in inner if tag not in REPEATED)
        if name in ("wpt", "trkpt"):
            assert set(element.attrib) == {"lat", "lon"}
            assert -90.0 <= float(element.attrib["lat"]) <= 90.0
            assert -180.0 <= float(element.attrib["lon"]) < 180.0
            assert float(element[0].text) == float(element[0].text)
        else:
            assert not element.attrib or name == "gpx"


class TestWriting:
    def test_it_keeps_the_rules_of_the_schema(self):
        check_schema(written(PLAIN, PLAIN, about="advice"))
        root = fromstring(written(PLAIN, PLAIN, about="advice"))
        assert tags(root) == ["metadata", "wpt", "wpt", "trk"]
        assert tags(root[1]) == ["ele", "name", "desc", "type"]
        assert tags(root[3]) == ["name", "trkseg"]

    def test_a_reader_finds_what_was_written(self):
        read = gpxpy.parse(written(PLAIN))
        assert read.name == "Two Mills"
        (point,) = read.waypoints
        assert (point.latitude, point.longitude, point.elevation) == (52.0, 5.25, 7.0)
        assert (point.name, point.description) == (PLAIN.name, PLAIN.description)
        assert point.type == "power target"
        [[line]] = [one.segments for one in read.tracks]
        found = [(one.latitude, one.longitude, one.elevation) for one in line.points]
        np.testing.assert_allclose(found, LINE)

    @pytest.mark.parametrize(
        ("longitude", "turned"),
        [(180.0, -180), (-180.0, -180), (180.5, -179.5), (-180.25, 179.75), (179.99999999, -180)],
    )
    def test_longitudes_stay_below_180(self, longitude, turned):
        line = [[0.0, longitude, 0.0], [1.0, longitude, 0.0]]
        text = written(Waypoint(0, longitude, 0, "a"), line=line)
        check_schema(text)
        (point,) = gpxpy.parse(text).waypoints
        assert point.longitude == turned

    def test_hostile_words(self):
        name = 'a</name><wpt lat="0">&"\x00\x0b\ud800\ufffe\u202e\nb'
        text = written(Waypoint(0, 0, 0, name), name=name)
        check_schema(text)
        root = fromstring(text)
        assert root[0][0].text == root[1][1].text == 'a</name><wpt lat="0">&" b'

    def test_empty_words_make_no_elements(self):
        root = fromstring(written(Waypoint(0, 0, 0, "\u202e"), name=""))
        assert tags(root[0]) == []
        assert tags(root[1]) == ["ele"]


def straight(points=201):
    return Track(
        "road.gpx",
        latitude=np.linspace(START[0], END[0], points),
        longitude=np.linspace(START[1], END[1], points),
        elevation=np.linspace(0.0, 50.0, points),
    )


def loop(points=401, gap=0.0):
    """A circle from its northernmost point, clockwise; `gap` is left open at its end [rad]."""
    angle = np.linspace(0.0, 2.0 * np.pi - gap, points)
    return Track(
        "loop.gpx",
        latitude=52.0 + 0.02 * np.cos(angle),
        longitude=5.0 + 0.03 * np.sin(angle),
        elevation=np.full(points, 7.0),
    )


def place(course: Course, at: float) -> tuple[float, float]:
    where = course.positions_at(np.array([at]))
    assert where is not None
    return float(where.latitude[0]), float(where.longitude[0])


def near(position, metres=1.0):
    return pytest.approx(position, abs=metres / 70_000.0)


class TestPlacesOnTheCourse:
    def test_start_and_finish_are_those_of_the_recording(self):
        course = survey(straight())
        assert place(course, 0.0) == near(START)
        assert place(course, course.length) == near(END)
        assert place(course, course.length / 2) == near((52.05, 5.1), metres=15)

    def test_cleaned_of_repeated_points_and_jitter(self):
        track = straight(801)
        rng = np.random.default_rng(4)
        track.latitude[:] += rng.normal(size=801) * 1.0 / 111_000
        track.longitude[300] = track.longitude[299]
        track.latitude[300] = track.latitude[299]
        course = survey(track)
        assert course.report.dropped
        assert place(course, 0.0) == near(START, metres=5)
        assert place(course, course.length) == near(END, metres=5)

    def test_in_reverse(self):
        course = survey(straight(), CourseWishes(reverse=True))
        assert place(course, 0.0) == near(END)
        assert place(course, course.length) == near(START)

    def test_in_laps(self):
        one, two = survey(loop()), survey(loop(), CourseWishes(laps=2))
        assert two.length == pytest.approx(2 * one.length)
        for at in (0.0, 0.3 * one.length, one.length):
            assert place(two, at) == near(place(one, at))
            assert place(two, at + one.length) == near(place(one, at))
        assert place(two, 0.0) == near((52.02, 5.0))
        assert place(two, 1.25 * one.length) == near((52.0, 5.03), metres=100)

    def test_in_laps_with_the_way_back_to_the_start(self):
        course = survey(loop(gap=0.03), CourseWishes(laps=2))
        assert "were added to each lap" in " ".join(course.report.notes)
        assert place(course, course.length / 2) == near((52.02, 5.0))
        assert place(course, course.length) == near((52.02, 5.0))

    def test_trimmed(self):
        whole = survey(straight())
        course = survey(straight(), CourseWishes(trim_start=1234.5, trim_end=2000.0))
        assert place(course, 0.0) == near(place(whole, 1234.5))
        assert place(course, course.length) == near(place(whole, whole.length - 2000.0))

    def test_trimmed_in_the_direction_of_the_file_and_then_reversed(self):
        whole = survey(straight())
        course = survey(straight(), CourseWishes(trim_start=1234.5, reverse=True))
        assert place(course, 0.0) == near(END)
        assert place(course, course.length) == near(place(whole, 1234.5))

    def test_scaled_and_cut_by_sections(self):
        whole = survey(straight())
        wishes = CourseWishes(official_length=1.02 * whole.length)
        course = survey(straight(), wishes, [CourseSection(700.0, 900.0, crr=0.006)])
        assert place(course, 1.02 * 700.0) == near(place(whole, 700.0))
        assert place(course, course.length) == near(END)

    def test_across_the_180th_meridian(self):
        track = Track(
            "a.gpx", latitude=np.zeros(3), longitude=np.array([179.9, 180.0, -179.9]),
            elevation=np.zeros(3),
        )  # fmt: skip
        course = survey(track)
        assert place(course, 0.75 * course.length)[1] == pytest.approx(180.05, abs=1e-3)

    def test_where_there_are_none(self):
        table = Track("typed.csv", distance=np.array([0.0, 500.0]), elevation=np.zeros(2))
        for course in (made_up(1000.0, wishes=CourseWishes(laps=2)), survey(table)):
            assert course.positions is None
            assert course.positions_at(np.array([0.0])) is None

    def test_as_many_as_points(self):
        course = survey(straight())
        with pytest.raises(ValueError, match="positions need one value a point"):
            Course(**{**vars(flat_course(1000.0)), "positions": course.positions})
