"""The command review as a person or a script meets it."""

import json
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from racecalc.answers.review import review_sheet
from racecalc.answers.sheet import Depth
from racecalc.files.recordings import Lap
from racecalc.views.writers.terminal import sheet_text
from tests.answered import DEMO, Answered, answered
from tests.decisions.test_review_recorded import (
    EAST,
    GRADES,
    LEG,
    NORTH,
    START_SPEED,
    corners,
    simulated,
)
from tests.measure import rides

RACE, RIDDEN = str(DEMO / "race.toml"), str(DEMO / "ridden.csv")


COARSE = ("--set", "course.step=50 m")


@pytest.fixture
def command(racecalc):
    """Run ``racecalc review`` on the demo, coarsely: status, output, errors."""

    def run_it(*arguments: str, ridden: str = RIDDEN) -> tuple[int, str, str]:
        return racecalc("review", RACE, ridden, *arguments, *COARSE)

    return run_it


def coarse(*arguments: str, ridden: str = RIDDEN) -> Answered:
    return answered("review", RACE, ridden, *arguments, *COARSE)


def table(text: str, name: str = "mine.csv") -> str:
    Path(name).write_text(text, encoding="utf-8")
    return name


@pytest.mark.parametrize("units", ["metric", "imperial"])
def test_pages_fit_the_terminal(units: str):
    out = sheet_text(review_sheet(coarse().answer, units), Depth.BASIS)
    assert max(map(len, out.splitlines())) <= 80
    assert "100 %" not in out
    assert ("to km" in out) == (units == "metric")
    assert ("mph" in out) == (units == "imperial")


@pytest.mark.xdist_group("review race.toml ridden.csv")
def test_the_page_of_the_demo():
    out = answered("review", "race.toml", "ridden.csv").text()
    words = " ".join(out.split())
    assert "Likeliest cause: air resistance (CdA) and wind." in words
    assert "may be off too" in words
    assert "one race is one run" in words
    assert ' racecalc set RACE bike.cda="0.2436 m^2"\n' in out


def test_json_of_the_demo(command):
    status, out, err = command("--json")
    answer = json.loads(out)
    assert (status, err) == (0, "")
    assert {
        "race", "ridden", "plan", "to_m", "distance_m", "planned_s", "ridden_s", "difference_s",
        "stopped_s", "power_s", "rest_s", "resolution_s", "model_error_s", "splits", "alone",
        "pair", "finding",
        "untold", "wrong", "refined", "headline", "reasons", "next_race", "cautions", "warnings",
        "assumptions", "course", "use", "no_options_time_s",
    } == set(answer)  # fmt: skip
    assert (answer["ridden_s"], answer["resolution_s"]) == (3603.0, 1.0)
    assert answer["difference_s"] == pytest.approx(answer["power_s"] + answer["rest_s"])
    assert {one["quantity"]: one["unit"] for one in answer["alone"]} == {
        "cda": "m^2", "crr": "1", "mass": "kg", "wind": "m/s",
    }  # fmt: skip
    assert [one["quantity"] for one in answer["pair"]["explanations"]] == ["cda", "wind"]
    assert len(answer["splits"]) == 12
    assert {"from_m", "to_m", "planned_s", "ridden_s", "planned_w", "power_s", "rest_s"} <= set(
        answer["splits"][0]
    )
    assert answer["refined"][0]["key"] == "bike.cda"


def test_a_card_as_the_plan():
    even, card = coarse().json, coarse("--card").json
    assert (even["plan"], card["plan"]) == ("262 W constant", "the card of pace")
    assert card["planned_s"] < even["planned_s"] - 20
    # The rest is what the ridden power leaves, whatever was planned.
    assert card["rest_s"] == pytest.approx(even["rest_s"], abs=0.01)
    assert card["wrong"][0] == "power"


def test_a_ride_without_power_that_ended_early(tmp_path: Path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    name = table("to [km],elapsed [min:s]\n10,16:40\n20,33:20\n")
    found = coarse(ridden=str(tmp_path / name))
    out = found.text()
    words = " ".join(out.split())
    assert "only the ridden part is reviewed" in words
    assert "without the power of each split" in words
    assert "racecalc set RACE" not in out
    assert "by power" not in found.text(Depth.DETAILS)


def test_hostile_names(command):
    name = table("to [km],elapsed\n10,16:40\n20,33:20\n", "a\x1b[31m,\tb.csv")
    status, out, _ = command("--set", "race.name=two\x1b[2J lines", ridden=name)
    assert status in (0, 2)
    assert "\x1b" not in out
    out = command("--set", "race.name=[bold]x[/bold] {0} %s", ridden=name)[1]
    assert "[bold]x[/bold] {0} %s" in " ".join(out.split())


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("to [km],elapsed\n10,16:40\n37,1:01:00\n", "line 3: the split ends at 37.00 km, and the"),
        ("to [km],elapsed\n10,16:40\n9,17:00\n", "line 3, column 'to [km]': '9' ends no later"),
        ("to [km],elapsed,power [W]\n20,33:20,0\n", "mine.csv"),
        ("km,elapsed\n10,16:40\n", "the column 'to' is missing"),
    ],
)
def test_wrong_input(command, text: str, said: str):
    status, out, err = command(ridden=table(text))
    assert (status, out) == (2, "")
    assert said in err
    assert len(err.splitlines()) == 1


def test_no_table(command):
    status, _, err = command(ridden="nowhere.csv")
    assert (status, len(err.splitlines())) == (2, 1)
    assert "nowhere.csv" in err


RACE_WITHOUT_POSITIONS = """\
rider = { mass = "71 kg", power = "250 W" }
bike = { mass = "9 kg", cda = "0.25 m^2", crr = 0.004, start_speed = "36 km/h" }
air = { density = "1.2 kg/m^3" }
course = { distance = "16 km", step = "50 m" }
"""


def recorded(name: str, watts: float) -> str:
    """A steady ride of 16 km at 40 km/h, as a device writes it."""
    rows = [f"{second},{watts},11.111" for second in range(1441)]
    return table("\n".join(["time [s],power [W],speed [m/s]", *rows]), name)


def test_recordings_of_several_races(racecalc):
    Path("flat.toml").write_text(RACE_WITHOUT_POSITIONS, encoding="utf-8")
    one = recorded("one.csv", 250.0)
    status, out, err = racecalc("review", "flat.toml", one, "--json")
    answer = json.loads(out)
    assert (status, err) == (0, "")
    assert answer["ridden_s"] == pytest.approx(16_000 / 11.111, abs=0.5)
    assert [split["ridden_w"] for split in answer["splits"]] == pytest.approx([250.0] * 8)
    copy = recorded("copy.csv", 250.0)
    status, out, err = racecalc("review", "flat.toml", one, "--also", "flat.toml", copy)
    assert (status, out) == (2, "")
    assert "copy.csv: this is the same ride as one.csv" in err


SQUARE = f"""\
rider = {{ mass = "71 kg", power = "250 W" }}
air = {{ density = "1.2 kg/m^3", wind_at_rider = "4 m/s", wind_from = "N" }}

[course]
file = "course.gpx"
step = "50 m"
smoothing = "none"
lateral_grip = "none"

[bike]
mass = "9 kg"
cda = "0.25 m^2"
crr = 0.004
drivetrain_loss = "2.5 %"
start_speed = "{START_SPEED:g} m/s"
"""


def square() -> None:
    """The race of the simulated rides as files: a course of a point every 20 m."""
    at = np.arange(0.0, 8 * LEG + 1.0, 20.0)
    east, north = (np.interp(at, LEG * np.arange(9.0), corners()[:, k]) for k in (0, 1))
    rises = LEG * np.sin(np.arctan(GRADES))
    height = 100.0 + np.interp(at, LEG * np.arange(9.0), np.append(0.0, np.cumsum(rises)))
    points = "".join(
        f'<trkpt lat="{y:.7f}" lon="{x:.7f}"><ele>{z:.2f}</ele></trkpt>'
        for x, y, z in zip(12.0 + east / EAST, 55.0 + north / NORTH, height, strict=True)
    )
    head = '<gpx version="1.1" creator="test" xmlns="http://www.topografix.com/GPX/1/1">'
    table(f"{head}<trk><trkseg>{points}</trkseg></trk></gpx>", "course.gpx")
    table(SQUARE, "square.toml")


def test_a_recording_of_each_format_names_what_was_off(racecalc):
    """Ridden at 0.270 m^2, stated as 0.250."""
    square()
    one = simulated(cda=0.270)
    time = 1_777_788_000.0 + one.time
    ride = replace(one, time=time, laps=(Lap(time[0], time[-1]),))
    for form in ("fit", "tcx", "gpx"):
        getattr(rides, f"write_{form}")(Path(f"ride.{form}"), ride)
        status, out, err = racecalc("review", "square.toml", f"ride.{form}", "--json")
        assert (status, err) == (0, "")
        answer = json.loads(out)
        assert answer["wrong"] == ["air resistance (CdA)"]
        [area] = [one for one in answer["alone"] if one["quantity"] == "cda"]
        assert area["value"] == pytest.approx(0.270, rel=0.02)


def without(form: str, tag: str, of: str, share: float = 1.0) -> str:
    """A file of the ride with a tag cut out of the first points."""
    head, *points = Path(f"ride.{form}").read_text("utf-8").split(of)
    cut = [
        re.sub(tag, "", one) if row < share * len(points) else one for row, one in enumerate(points)
    ]
    return table(of.join([head, *cut]), f"cut.{form}")


def test_what_a_recording_lacks_is_said_in_a_line(racecalc):
    square()
    time = 1_777_788_000.0 + simulated().time
    ride = replace(simulated(), time=time, laps=(Lap(time[0], time[-1]),))
    rides.write_gpx(Path("ride.gpx"), ride)
    rides.write_tcx(Path("ride.tcx"), ride)
    for cut, said in [
        (
            ("gpx", "<power>.*?</power>", "<trkpt"),
            "cut.gpx: it has no power; its fields are: speed",
        ),
        (("gpx", "<time>.*?</time>", "<trkpt"), "fewer than two of its points have a time"),
        (("gpx", "<power>.*?</power>", "<trkpt", 0.5), "cut.gpx: power or speed is missing for"),
        (("tcx", "<x:Watts>.*?</x:Watts>", "<Trackpoint>"), "cut.tcx: it has no power; its fields"),
        (("tcx", "<Time>.*?</Time>", "<Trackpoint>"), "fewer than two of its points have a time"),
        (("tcx", r"(?<=<x:Watts>)\d+", "<Trackpoint>"), "cut.tcx: it has no power"),
    ]:
        status, out, err = racecalc("review", "square.toml", without(*cut))
        assert (status, out, len(err.splitlines())) == (2, "", 1)
        assert said in err
    zero = replace(ride, power=np.zeros(len(ride.time)))
    rides.write_fit(Path("ride.fit"), zero)
    status, _, err = racecalc("review", "square.toml", "ride.fit")
    assert (status, "its power is 0 throughout; was a power meter paired?" in err) == (2, True)
