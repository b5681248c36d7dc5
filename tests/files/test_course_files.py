"""Course files of every form, and what is said about those that will not do."""

import os
import subprocess
import sys

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from racecalc.errors import InputError
from racecalc.files.recordings import read_recording
from racecalc.files.tracks import Wanted, read_track
from tests.files.fit_bytes import fit_file

GPX = (
    '<?xml version="1.0"?><gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1">'
)
TWO = '<trkpt lat="52.0" lon="5.0"><ele>3.5</ele></trkpt><trkpt lat="52.1" lon="5.2"/>'
TABLE = "distance [m],elevation [m]\n0,10\n1000,20\n"


@pytest.fixture
def save(tmp_path):
    def write(name, content):
        path = tmp_path / name
        data = content if isinstance(content, bytes) else content.encode()
        path.write_bytes(data)
        return path

    return write


def error_of(path):
    with pytest.raises(InputError) as caught:
        read_track(path)
    text = str(caught.value)
    assert text.startswith(str(path))
    assert "\n" not in text
    return text.removeprefix(str(path))


class TestCsv:
    def test_columns_in_any_order_and_unit(self, save):
        track = read_track(
            save(
                "A.CSV",
                "# typed by hand\n"
                "crr,note,Elevation [ft],max_speed [km/h],distance [km],bearing [deg]\n"
                "0.004,start,100,,0,90\n\n# half way\n,x,200,36,1.5,\n,y,200,,2,180\n",
            )
        )
        np.testing.assert_allclose(track.distance, [0, 1500, 2000])
        np.testing.assert_allclose(track.elevation, [30.48, 60.96, 60.96])
        np.testing.assert_allclose(track.bearing, [np.pi / 2, np.nan, np.pi])
        np.testing.assert_allclose(track.crr, [0.004, np.nan, np.nan])
        np.testing.assert_allclose(track.max_speed, [np.nan, 10, np.nan])
        assert track.shelter is None

    def test_byte_order_mark_and_windows_line_ends(self, save):
        track = read_track(save("a.csv", b"\xef\xbb\xbf" + TABLE.replace("\n", "\r\n").encode()))
        np.testing.assert_allclose(track.elevation, [10, 20])

    @pytest.mark.parametrize(
        ("content", "said"),
        [
            ("", ": the file is empty; save it again from where it came"),
            ("# nothing\n", ": the file holds no table; begin with a line of headings"),
            (
                "distance [m],elevation [m]\n",
                ": there are headings but no rows; add a line for each row",
            ),
            (
                "distance [m],elevation [m]\n0,1\n",
                ", line 2: this is the only point; a course needs at least a start and a finish",
            ),
            (
                "distance [m],altitude [m]\n0,1\n9,1\n",
                ", line 1: the column 'elevation' is missing, perhaps meant by 'altitude [m]'; "
                "the headings are: distance [m], altitude [m]",
            ),
            (
                "distance [m],elevaton [m]\n0,1\n9,1\n",
                ", line 1: the column 'elevation' is missing, perhaps meant by 'elevaton [m]'; "
                "the headings are: distance [m], elevaton [m]",
            ),
            (
                "distance,elevation [m]\n0,1\n9,1\n",
                ", line 1, column 'distance': the unit is missing; "
                "write the unit in square brackets, as in 'distance [m]'",
            ),
            (
                "#c\ndistance [m],elevation [m]\n0,1\n9,high\n",
                ", line 4, column 'elevation [m]': 'high' is not a number; "
                "write a plain number with a decimal point",
            ),
            (
                "distance [m],elevation [m]\n0,nan\n9,1\n",
                ", line 2, column 'elevation [m]': 'nan' is not a number; "
                "write a plain number with a decimal point",
            ),
            (
                "distance [m],elevation [m]\n0,\n9,1\n",
                ", line 2, column 'elevation [m]': the cell is empty; "
                "write a plain number with a decimal point",
            ),
            (
                "distance [m],elevation [m]\n0,1\n50,1\n40,1\n",
                ", line 4, column 'distance [m]': '40' is less than the line before; "
                "distances must go up line by line",
            ),
            (
                "distance [m],elevation [m]\n0,1,5\n9,1\n",
                ", line 2: the line has 3 cells under 2 headings; "
                "give each heading one cell, and use a decimal point, not a comma",
            ),
            (
                "distance [m];elevation [m]\n0;1,5\n1000;\n",
                ", line 3, column 'elevation [m]': the cell is empty; "
                "write a plain number with a decimal point",
            ),
            (
                "distance [m];elevation [m]\n0;1,234\n1000;2\n",
                ", line 2, column 'elevation [m]': '1,234' can be read in two ways, its comma may"
                " separate thousands or decimals; write '1234' or '1.234'",
            ),
            (
                "distance [m],elevation [m],distance [km]\n0,1,0\n",
                ", line 1: the column 'distance' appears twice; rename one of them",
            ),
            (
                "distance [m],elevation [m],shelter\n0,1,0.5\n9,1,1.5\n",
                ", line 3, column 'shelter': '1.5' is not a share; write 0 (no wind) to 1 (open)",
            ),
            (
                "distance [m],elevation [m],crr\n0,1,0.5\n9,1,\n",
                ", line 2, column 'crr': '0.5' cannot be a rolling resistance; write one as 0.004",
            ),
            (
                "distance [m],elevation [m],max_speed [km/h]\n0,1,0\n9,1,\n",
                ", line 2, column 'max_speed [km/h]': '0' is not above zero; "
                "leave the cell empty for none",
            ),
            (
                "distance [m],elevation [m]\n0,1\n9,9999\n",
                ", line 3, column 'elevation [m]': '9999' is not the elevation of a road; "
                "give -500 m to 9000 m",
            ),
            (
                "distance [m],elevation [m]\n0,1\n20.5,1\n40.25,1\n",
                ", line 4, column 'distance [m]': '40.25' is the farthest, 40.2 m in all; "
                "write 'distance [km]' if it is in kilometres",
            ),
            (
                "distance [m],elevation [m]\n0,1\n20,1\n40,1\n",
                ", line 4, column 'distance [m]': '40' is the farthest, 40 m in all; "
                "write 'distance [km]' if it is in kilometres",
            ),
            (
                "distance [km],elevation [m]\n0,1\n40000,1\n",
                ", line 3, column 'distance [km]': '40000' is longer than any race; "
                "check the unit of the heading",
            ),
            (
                "distance [km],elevation [m]\n0,1\n1e308,1\n",
                ", line 3, column 'distance [km]': '1e308' is too large; "
                "check the number and its unit",
            ),
        ],
    )
    def test_refuses(self, save, content, said):
        assert error_of(save("course.csv", content)) == said

    def test_unit_of_another_kind(self, save):
        text = error_of(save("a.csv", "distance [kg],elevation [m]\n0,1\n9,1\n"))
        assert text.startswith(", line 1, column 'distance [kg]': ")
        assert "kg" in text.split(": ", 1)[1]

    def test_open_quote(self, save):
        text = error_of(save("a.csv", 'distance [m],elevation [m]\n0,"1\n9,1\n'))
        assert "the quotes or commas of this line do not match" in text


class TestOpening:
    def test_no_such_file_names_its_neighbours(self, save):
        path = save("shore.csv", TABLE)
        assert error_of(path.with_name("shoer.csv")) == (
            ": there is no such file; similar files there: shore.csv"
        )
        assert error_of(path.with_name("z9.gpx")) == ": there is no such file; check the name"

    def test_no_such_folder(self, tmp_path):
        assert error_of(tmp_path / "none" / "a.gpx").startswith(
            ": there is no such file; the folder "
        )

    def test_folder(self, tmp_path):
        folder = tmp_path / "a.gpx"
        folder.mkdir()
        assert error_of(folder) == ": this is a folder; name a file in it"

    def test_pipe(self, tmp_path):
        path = tmp_path / "a.csv"
        os.mkfifo(path)
        assert error_of(path) == ": this is not an ordinary file; save it to one first"

    def test_name_that_no_system_takes(self, tmp_path):
        assert "the file cannot be read (" in error_of(tmp_path / ("x" * 5000 + ".csv"))
        assert error_of(tmp_path / "a\0.csv") == ": there is no such file; check the name"

    def test_too_large_is_refused_unread(self, tmp_path):
        path = tmp_path / "a.gpx"
        with path.open("wb") as file:
            file.truncate(70 * 1024**2)
        assert error_of(path) == (
            ": the file has 70 MB, more than 64 MB; cut it down to the part that matters"
        )

    def test_other_encoding(self, save):
        assert error_of(save("a.csv", b"distance [m],elevation [m],note\n0,1,\x81\n")) == (
            ", line 2: the byte 0x81 is not text in UTF-8; save the file with the encoding UTF-8"
        )

    @pytest.mark.parametrize("mark", [";", "\t"])
    def test_as_european_spreadsheets_write_it(self, save, mark):
        """A byte-order mark or Windows-1252, semicolons, decimal commas: common practice."""
        rows = ["distance [km];elevation [m];note", "0;1,5;caf\xe9", "1,5;2,25;"]
        text = "\r\n".join(rows).replace(";", mark)
        plain = "distance [km],elevation [m],note\n0,1.5,caf\xe9\n1.5,2.25,\n"
        wanted = read_track(save("plain.csv", plain.encode()))
        for coding in ("cp1252", "utf-8-sig"):
            found = read_track(save(f"{coding}.csv", text.encode(coding)))
            assert np.array_equal(found.distance, wanted.distance)
            assert np.array_equal(found.elevation, wanted.elevation)

    def test_decimal_commas_of_other_cells_settle_a_comma_before_three_digits(self, save):
        """As a reader of the whole table would; one of thousands in the table unsettles it."""
        text = "distance [m];elevation [m]\n0;1,204\n1000;-2,5\n"
        assert read_track(save("a.csv", text)).elevation.tolist() == [1.204, -2.5]
        assert "in two ways" in error_of(save("b.csv", text + "1,234,567;3\n"))

    def test_unknown_ending(self, save):
        assert error_of(save("a.kml", "x")) == (
            ": the ending '.kml' is not that of a course file; read are .gpx, .fit, .tcx, .csv"
        )
        assert error_of(save("course", "x")) == (
            ": a name without ending is not that of a course file; read are .gpx, .fit, .tcx, .csv"
        )


class TestGpx:
    def test_all_segments_of_the_first_track_with_points(self, save):
        content = (
            GPX + "<trk/><trk><trkseg>" + TWO + "</trkseg><trkseg>"
            '<trkpt lat="52.2" lon="5.3"><ele>9</ele><time>2024-05-01T09:00:10Z</time></trkpt>'
            "</trkseg></trk><trk><trkseg>" + TWO + "</trkseg></trk></gpx>"
        )
        track = read_track(save("a.GPX", content))
        np.testing.assert_allclose(track.latitude, [52, 52.1, 52.2])
        np.testing.assert_allclose(track.longitude, [5, 5.2, 5.3])
        np.testing.assert_allclose(track.elevation, [3.5, np.nan, 9])
        np.testing.assert_allclose(track.time, [np.nan, np.nan, 0])
        assert track.notes == (
            "Of 2 tracks and routes in the file, number 1 was read (course.part).",
        )

    def test_version_1_0_and_route(self, save):
        route = TWO.replace("trkpt", "rtept")
        track = read_track(save("a.gpx", f'<gpx version="1.0"><rte>{route}</rte></gpx>'))
        assert len(track.latitude) == 2
        assert track.time is None
        assert track.notes == ()

    @pytest.mark.parametrize(
        ("content", "said"),
        [
            (
                GPX + "</gpx>",
                ": the file holds no track or route; export the course as a track",
            ),
            (
                GPX + '<wpt lat="1" lon="2"/></gpx>',
                ": the file holds no track or route but 1 single waypoints; "
                "export the course as a track",
            ),
            (
                GPX + '<trk><trkseg><trkpt lat="1" lon="2"/></trkseg></trk></gpx>',
                ": the file holds only one point with a position, of 1 in all; "
                "a course needs at least a start and a finish",
            ),
            (
                GPX + "<trk><trkseg>" + TWO.replace("52.1", "152.1") + "</trkseg></trk></gpx>",
                ", point 2: the latitude 152.1 deg is not on the globe; "
                "it must lie between -90 and 90",
            ),
            ("hello", ", line 1: this is not XML: it does not begin with '<'; check the file"),
            (
                '<?xml version="1.0"?>\n<!DOCTYPE a [<!ENTITY b "c">]>\n<gpx/>',
                ", line 2: a DOCTYPE declaration is here, which could hide an entity bomb; "
                "delete it; course files need none",
            ),
        ],
    )
    def test_refuses(self, save, content, said):
        assert error_of(save("a.gpx", content)) == said

    def test_broken_off(self, save):
        text = error_of(save("a.gpx", GPX + "\n<trk><trkseg>\n" + TWO))
        assert text.startswith(", line 3: the XML breaks off or is malformed here (")

    def test_value_that_is_no_number(self, save):
        text = error_of(
            save(
                "a.gpx",
                GPX + "<trk><trkseg>" + TWO.replace("52.1", "north") + "</trkseg></trk></gpx>",
            )
        )
        assert text == ", point 2, lat: 'north' is not a number; correct it"


TCX = (
    '<?xml version="1.0"?><TrainingCenterDatabase xmlns="urn:x"><Activities><Activity><Lap><Track>'
    "<Trackpoint><Time>2024-05-01T09:00:00Z</Time><Position><LatitudeDegrees>52</LatitudeDegrees>"
    "<LongitudeDegrees>5</LongitudeDegrees></Position><AltitudeMeters>7</AltitudeMeters></Trackpoint>"
    "<Trackpoint><Time>2024-05-01T09:00:09.5Z</Time></Trackpoint></Track></Lap><Lap><Track>"
    "<Trackpoint><Position><LatitudeDegrees>52.1</LatitudeDegrees>"
    "<LongitudeDegrees>5.1</LongitudeDegrees></Position></Trackpoint>"
    "</Track></Lap></Activity></Activities></TrainingCenterDatabase>"
)


class TestTcx:
    def test_points_of_all_laps(self, save):
        track = read_track(save("a.tcx", TCX))
        np.testing.assert_allclose(track.latitude, [52, np.nan, 52.1])
        np.testing.assert_allclose(track.elevation, [7, np.nan, np.nan])
        np.testing.assert_allclose(track.time, [0, 9.5, np.nan])

    @pytest.mark.parametrize(
        ("content", "said"),
        [
            ("<a/>", ": the file holds no track points; export the course with its track"),
            (
                TCX.replace(">7<", ">seven<"),
                ", point 1, AltitudeMeters: 'seven' is not a number; correct it",
            ),
            (
                TCX.replace("<Lap>", "<!ENTITY x>", 1),
                ", line 1: a ENTITY declaration is here, which could hide an entity bomb; "
                "delete it; course files need none",
            ),
        ],
    )
    def test_refuses(self, save, content, said):
        assert error_of(save("a.tcx", content)) == said


@pytest.mark.parametrize(
    "wrong",
    ["2024-5-1T9:00:00Z", "2024-06-30T23:59:60Z", "2024-05-01T24:00:00Z", "nine"],
    ids=["short", "leap second", "midnight", "text"],
)
def test_time_that_cannot_be_read_is_missing_from_a_course_and_refused_of_a_ride(save, wrong):
    times = "2024-05-01T09:00:00Z", wrong, "2024-05-01T09:00:20Z"
    points = "".join(
        f'<trkpt lat="52.{row}" lon="5"><ele>3</ele><time>{time}</time></trkpt>'
        for row, time in enumerate(times)
    )
    of_gpx = save("a.gpx", f"{GPX}<trk><trkseg>{points}</trkseg></trk></gpx>")
    np.testing.assert_allclose(read_track(of_gpx).time, [0, np.nan, 20])
    of_tcx = save("a.tcx", TCX.replace("2024-05-01T09:00:09.5Z", wrong))
    np.testing.assert_allclose(read_track(of_tcx).time, [0, np.nan, np.nan])
    for path, name in (of_gpx, "time"), (of_tcx, "Time"):
        with pytest.raises(InputError) as caught:
            read_recording(path)
        assert str(caught.value) == (
            f"{path}, point 2, {name}: '{wrong}' is not a time; write it as 2024-05-01T09:00:00Z"
        )


GPX_RUN = "<trk><type>running</type><trkseg>" + TWO + "</trkseg></trk>"
TCX_RUN = (
    '<Activity Sport="Running">' + TCX.partition("<Activity>")[2].partition("</Activities>")[0]
)


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("a.gpx", GPX + GPX_RUN + GPX_RUN.replace("running", "cycling").replace("52.1", "52.3")),
        ("a.tcx", TCX.replace("<Activity>", TCX_RUN + '<Activity Sport="Biking">')
            .replace("52.1<", "52.3<").replace("52.3<", "52.1<", 1)),
    ],
    ids=["gpx", "tcx"],
)  # fmt: skip
def test_of_a_run_and_a_ride_the_ride_is_read(save, name, content):
    """The finish of the run lies at 52.1 deg and that of the ride at 52.3 deg."""
    track = read_track(save(name, content + ("</gpx>" if name == "a.gpx" else "")))
    assert track.latitude[-1] == 52.3
    (note,) = track.notes
    assert note.startswith("Of the parts of the file (")
    assert note.endswith("), cycling was read.")


RECORDS = [(1_000_000_000 + 5 * k, 52 + k / 1e4, 5 - k / 1e4, 10.0 + k) for k in range(4)]


class TestFit:
    def test_records(self, save):
        track = read_track(save("a.fit", fit_file(RECORDS)))
        # A semicircle is 8.4e-8 deg, an altitude step 0.2 m (FIT protocol).
        np.testing.assert_allclose(track.latitude, [52, 52.0001, 52.0002, 52.0003], atol=5e-8)
        np.testing.assert_allclose(track.longitude, [5, 4.9999, 4.9998, 4.9997], atol=5e-8)
        np.testing.assert_allclose(track.elevation, [10, 11, 12, 13])
        np.testing.assert_allclose(track.time, [0, 5, 10, 15])

    def test_enhanced_altitude_is_preferred(self, save):
        fields = ("position_lat", "position_long", "altitude", "enhanced_altitude")
        rows = [(52.0, 5.0, 1.0, 8.0), (52.1, 5.0, 2.0, None), (None, None, None, None)]
        track = read_track(save("a.fit", fit_file(rows, fields)))
        np.testing.assert_allclose(track.elevation, [8, 2, np.nan])
        assert np.isnan(track.latitude[2])
        assert track.time is None

    def test_without_positions(self, save):
        text = error_of(save("a.fit", fit_file([(1_000_000_000, None, None, 3.0)] * 3)))
        assert text == (
            ": the file holds no point with a position, of 3 in all; "
            "a course needs at least a start and a finish"
        )

    def test_wrong_checksum_is_told_and_read_if_asked_for(self, save):
        """A bit of the last height is turned over."""
        content = bytearray(fit_file(RECORDS))
        content[-6] ^= 1
        path = save("a.fit", bytes(content))
        assert error_of(path) == (
            ": the checksum is wrong, so the file is damaged; copy it again, or write "
            "damaged = true under [course] to read what is in it"
        )
        track = read_track(path, Wanted(damaged=True))
        assert len(track.latitude) == 4
        assert track.notes == ("The checksum of the file is wrong; it was read as asked for.",)

    @pytest.mark.parametrize("length", [3, 20])
    def test_broken_off_before_the_first_record(self, save, length):
        text = error_of(save("a.fit", fit_file(RECORDS)[:length]))
        assert text.startswith(": this is not FIT, or it is damaged (")
        assert text.endswith("; copy it again")

    @pytest.mark.parametrize(("length", "whole"), [(83, 3), (99, 3), (100, 4)])
    def test_a_file_that_breaks_off_gives_its_whole_records(self, save, length, whole):
        """Header 14, definition 18, a record 17 bytes, checksum 2."""
        track = read_track(save("a.fit", fit_file(RECORDS)[:length]))
        np.testing.assert_allclose(track.elevation, [10, 11, 12, 13][:whole])
        assert track.notes == (f"The file breaks off: what is whole was read, {whole} messages.",)

    def test_other_content(self, save):
        assert error_of(save("a.fit", "<gpx/> or so, long enough for a header")).startswith(
            ": this is not FIT, or it is damaged ("
        )


FORMS = {
    "gpx": (GPX + "<trk><trkseg>" + TWO + "</trkseg></trk></gpx>").encode(),
    "tcx": TCX.encode(),
    "csv": TABLE.encode(),
    "fit": fit_file(RECORDS),
}


def test_readers_load_their_libraries_only_when_they_read():
    heavy = {"fitdecode", "pyproj", "pint", "scipy.linalg", "scipy.special"}
    code = (
        "import sys, racecalc.files.tracks, racecalc.domain.surveying.survey;"
        f"print({heavy} & set(sys.modules))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "set()\n"


@pytest.mark.parametrize("form", FORMS)
@settings(
    max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None
)
@given(data=st.data())
def test_damaged_files_are_read_or_refused(tmp_path, form, data):
    content = bytearray(FORMS[form])
    for _ in range(data.draw(st.integers(1, 4))):
        content[data.draw(st.integers(0, len(content) - 1))] = data.draw(st.integers(0, 255))
    path = tmp_path / f"a.{form}"
    path.write_bytes(bytes(content[: data.draw(st.integers(1, len(content)))]))
    try:
        track = read_track(path)
    except InputError:
        return
    assert len(track.distance if track.latitude is None else track.latitude) >= 2
