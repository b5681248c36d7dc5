"""Sheets and recordings as files, through the command to a verdict; and what it refuses."""

import json
import re
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from racecalc.decisions.measuring import measure
from racecalc.decisions.measuring.signals import signals_of, trace
from racecalc.errors import InputError
from racecalc.files.recordings import Lap, Recording, Wanted, read_recording
from racecalc.files.tables import read_table
from tests.measure import rides
from tests.measure.simulated import START, World, recordings

WORLD = World(wind=0.0, laps=2, length=1000.0)
FLAGS = (
    *("--mass", "82 kg", "--crr", "0.004", "--loss", "2.4 %"),
    *("--density", "1.19 kg/m^3"),
)


@cache
def day() -> Recording:
    """The whole test day as one recording: 8 runs of 2 laps, and the way between them."""
    parts = recordings(WORLD, 1)
    joined = {
        name: np.concatenate([getattr(one, name) for one in parts])
        for name in ("time", "power", "speed", "air_speed", "latitude", "longitude")
    }
    laps = [lap for one in parts for lap in one.laps]
    return replace(parts[0], laps=tuple(laps), **joined)


HEAD = "order,item,recording,lap"


def sheet(rows: list[str], head: str = HEAD, name: str = "sheet.csv") -> None:
    Path(name).write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")


def by_laps(ending: str = "fit") -> list[str]:
    return [
        f"{at + 1},{item},day.{ending},{2 * at + 1}-{2 * at + 2}"
        for at, item in enumerate(WORLD.order)
    ]


@cache
def read_as(content: bytes, path: Path, wanted: Wanted | None) -> Recording:
    return read_recording(path, wanted)


@pytest.fixture(autouse=True)
def read_once(monkeypatch) -> None:
    """The test day is read once; to decode it takes longer than to measure it."""

    def read(path: Path, wanted: Wanted | None = None) -> Recording:
        content = path.read_bytes() if path.is_file() else b""
        return replace(read_as(content, Path(path.name), wanted), source=str(path))

    monkeypatch.setattr(measure, "read_recording", read)


@cache
def day_as_fit() -> bytes:
    path = Path("day.fit")
    rides.write_fit(path, day())
    return path.read_bytes()


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def command(racecalc, folder):
    """Run ``racecalc measure sheet.csv`` on the test day: status, output, errors."""

    def run_it(*arguments: str, ride: Recording | None = None) -> tuple[int, str, str]:
        if ride:
            rides.write_fit(Path("day.fit"), ride)
        else:
            Path("day.fit").write_bytes(day_as_fit())
        return racecalc("measure", "sheet.csv", *FLAGS, *arguments)

    return run_it


def test_from_a_recording_to_a_verdict(racecalc, command) -> None:
    """The truth: B takes 0.0040 m^2 less; without wind its runs tell that to some 0.0008."""
    sheet(by_laps())
    status, out, err = command("-o", "runs.csv")
    assert (status, err) == (0, "runs.csv: 8 runs; see racecalc trial runs.csv\n")
    assert out.startswith("sheet.csv: 8 runs of 2 items measured")
    status, out, err = racecalc("trial", "runs.csv", "--json")
    verdict = json.loads(out)
    [item] = [one for one in verdict["items"] if one["name"] == "B"]
    assert item["verdict"] == "faster"
    assert item["difference"] == pytest.approx(-0.004, abs=8e-4)


def test_runs_of_one_mounting_count_once(racecalc, command) -> None:
    """As in a table by hand: eight runs of four mountings are four values, each a mean of two."""
    pairs = ["1a", "2b", "2b", "3a", "3a", "4b", "4b", "1a"]
    head = f"{HEAD},mounting"
    sheet([f"{row},{pair}" for row, pair in zip(by_laps(), pairs, strict=True)], head)
    assert command("-o", "runs.csv")[0] == 0
    measured = read_table(Path("runs.csv"))
    assert measured.texts("mounting") == pairs
    columns = map(measured.texts, ("item", "cda", "mounting"))
    rows = [("item", "cda [m^2]", "mounting"), *zip(*columns, strict=True)]
    Path("hand.csv").write_text("\n".join(map(",".join, rows)), encoding="utf-8")
    said = [json.loads(racecalc("trial", name, "--json")[1]) for name in ("runs.csv", "hand.csv")]
    assert said[0]["items"] == said[1]["items"]
    assert [item["runs"] for item in said[0]["items"]] == [2]
    sheet([f"{row},{pair}" for row, pair in zip(by_laps(), ["", *pairs[1:]], strict=True)], head)
    status, _, err = command()
    assert (status, "line 2, column 'mounting': the cell is empty" in err) == (2, True), err


def test_the_interval_of_a_run_is_that_of_students_t(command) -> None:
    """Eight runs of two laps leave eight free laps: 2.306 standard errors (any table of t)."""
    sheet(by_laps())
    out, found = command()[1], json.loads(command("--json")[1])
    assert [one["lap_df"] for one in found["sessions"]] == [8]
    assert not found["sessions"][0]["more_than_laps"]
    for run in found["runs"]:
        best, half = run["cda_m2"], 2.306 * run["standard_error_m2"]
        assert f"{best:.4f} ({best - half:.4f} to {best + half:.4f})" in out
    assert "±" not in out


def test_an_option_takes_its_saving_from_the_runs(racecalc, command) -> None:
    sheet(by_laps())
    command("-o", "runs.csv")
    assert racecalc("new", "mine")[0] == 0
    race = Path("mine/race.toml")
    runs = Path("runs.csv").resolve().as_posix()
    option = f'\n[[option]]\nname = "B"\ntrial = "{runs}"\ntrial_baseline = "A"\n'
    race.write_text(race.read_text("utf-8") + option, encoding="utf-8")
    status, out, err = racecalc("value", str(race), "--json", "--set", "course.step=100 m")
    assert status == 0, err
    [saved] = [one["saved_s"] for one in json.loads(out)["options"] if one["name"] == "B"]
    assert saved > 0


def test_an_option_may_name_the_sheet_itself(racecalc, folder) -> None:
    """It says what the runs measured before say; a what-if of the race does not change the test."""
    rides.write_fit(Path("day.fit"), day())
    air = ",".join(["15", "1005", "60"])
    head = f"{HEAD},temperature [degC],pressure [hPa],humidity [%]"
    sheet([f"{row},{air}" for row in by_laps()], head)
    assert racecalc("new", "mine")[0] == 0
    race = Path("mine/race.toml")
    text = race.read_text("utf-8")
    assert racecalc("measure", "sheet.csv", str(race), "-o", "runs.csv")[0] == 0
    said = []
    for trial in ("runs.csv", "sheet.csv"):
        path = Path(trial).resolve().as_posix()
        option = f'\n[[option]]\nname = "B"\ntrial = "{path}"\ntrial_baseline = "A"\n'
        race.write_text(text + option, encoding="utf-8")
        for more in ((), ("--set", "rider.mass=60 kg")):
            flags = ("--json", "--set", "course.step=100 m", *more)
            status, out, err = racecalc("value", str(race), *flags)
            assert status == 0, err
            said += [one["saved_s"] for one in json.loads(out)["options"] if one["name"] == "B"]
    assert said[:2] == pytest.approx(said[2:], rel=0.01)
    status, _, err = racecalc("trial", "sheet.csv")
    assert (status, "its drag areas are still in the recordings" in err) == (2, True)
    sheet(by_laps())
    status, _, err = racecalc("value", str(race))
    assert (status, "option B, sheet.csv" in err.replace(f"{folder}/", "")) == (2, True), err
    assert "the air of the run is not known" in err
    # The command itself still answers for a race that names a sheet which cannot be measured.
    assert racecalc("measure", "sheet.csv", str(race), "--density", "1.2 kg/m^3")[0] == 0


@pytest.mark.parametrize("ending", ["fit", "tcx", "gpx", "csv"])
def test_every_format_says_the_same(ending: str, folder) -> None:
    path = folder / f"day.{ending}"
    getattr(rides, f"write_{ending}")(path, day())
    found = read_recording(path)
    assert found.time == pytest.approx(day().time, abs=0.01 if ending != "fit" else 0.51)
    assert found.power == pytest.approx(day().power, abs=0.51)
    assert found.speed == pytest.approx(day().speed, abs=6e-4)
    assert found.latitude == pytest.approx(day().latitude, abs=1e-6)
    if ending in ("fit", "tcx"):
        lengths = [lap.end - lap.start for lap in found.laps]
        assert lengths == pytest.approx([one.end - one.start for one in day().laps], abs=2e-3)


@pytest.mark.parametrize("ending", ["fit", "csv"])
def test_a_sensor_is_read_in_its_own_unit(ending: str, folder) -> None:
    """The developer field and the column are in km/h."""
    path = folder / f"day.{ending}"
    getattr(rides, f"write_{ending}")(path, day())
    found = read_recording(path, Wanted(air_speed="Wind sensor"))
    assert found.air_speed == pytest.approx(day().air_speed, abs=1e-3)


def test_the_yaw_has_a_name_and_unit_of_its_own(folder) -> None:
    rows = [
        "time [s],power [W],speed [m/s],Tube [km/h],Vane [deg]",
        "0,200,10,36,5",
        "1,200,10,,-5",
    ]
    Path("day.csv").write_text("\n".join(rows), encoding="utf-8")
    found = read_recording(Path("day.csv"), Wanted(air_speed="tube", yaw="vane"))
    assert found.air_speed == pytest.approx([10.0, np.nan], nan_ok=True)
    assert np.degrees(found.yaw) == pytest.approx([5.0, -5.0])
    with pytest.raises(InputError, match=r"--yaw: it has no field 'van'; it has .*vane"):
        read_recording(Path("day.csv"), Wanted(air_speed="tube", yaw="van"))


def test_runs_by_clock_time_and_distance_are_the_same(racecalc, folder) -> None:
    rides.write_csv(Path("day.csv"), day())
    laps, first = day().laps, float(day().time[0])
    ends = [(laps[2 * at].start, laps[2 * at + 1].end) for at in range(8)]
    covered = np.concatenate(
        ([0.0], np.cumsum(0.5 * (day().speed[1:] + day().speed[:-1]) * np.diff(day().time)))
    )
    along = [np.interp(one, day().time, covered) / 1000 for one in ends]
    found = []
    for head, written in (
        ("from,to", [[rides.stamp(one)[:19] for one in pair] for pair in ends]),
        ("from [min:s],to [min:s]", [[_since(one - first) for one in pair] for pair in ends]),
        ("from [km],to [km]", [[f"{one:.4f}" for one in pair] for pair in along]),
    ):
        pairs = zip(WORLD.order, written, strict=True)
        rows = [f"{item},day.csv,{a},{b},2" for item, (a, b) in pairs]
        sheet(rows, f"item,recording,{head},laps")
        status, out, err = racecalc("measure", "sheet.csv", *FLAGS, "--json")
        assert status == 0, err
        found.append([run["cda_m2"] for run in json.loads(out)["runs"]])
    assert found[0] == pytest.approx(found[2], abs=2e-3)
    assert found[1] == pytest.approx(found[2], abs=2e-4)


LINE = "55.000269, 12.0"
"""30 m up the first straight, which runs north."""


def test_runs_are_found_where_they_cross_a_line(command) -> None:
    """The clock of the line and that of the button, 30 m apart, say the same of calm rides."""
    sheet(by_laps())
    by_button = json.loads(command("--json")[1])["runs"]
    bare = [f"{at + 1},{item},day.fit" for at, item in enumerate(WORLD.order)]
    sheet(bare, "order,item,recording")
    flag = command("--line", LINE, "--json")
    sheet([f'{bare[0]},"{LINE}"', *(f"{row}," for row in bare[1:])], "order,item,recording,line")
    assert command("--json") == flag
    assert flag[0] == 0, flag[2]
    runs = json.loads(flag[1])["runs"]
    assert [len(run["laps"]) for run in runs] == [2] * 8
    assert [run["cda_m2"] for run in runs] == pytest.approx(
        [run["cda_m2"] for run in by_button], abs=1e-3
    )


@pytest.mark.parametrize(
    ("rows", "flags", "said"),
    [
        (7, ("--line", LINE), "day.fit has 8 runs on its line, the sheet 7 rows for it"),
        (8, ("--line", "55.02, 12.0"), "line 2, day.fit: it never comes nearer than"),
        (8, ("--line", "55.02 N"), "--line: '55.02 N' is no position in degrees"),
        (8, (), "line 2: no lap is named; give 'lap', 'from' and 'to', or the line"),
    ],
)
def test_a_line_that_finds_other_runs_is_refused(command, rows: int, flags, said: str) -> None:
    sheet([f"{item},day.fit" for item in WORLD.order[:rows]], "item,recording")
    status, _, err = command(*flags)
    assert (status, said in err) == (2, True), err


def test_a_line_within_a_part_of_a_ride(racecalc, folder) -> None:
    rides.write_csv(Path("day.csv"), day())
    first = float(day().time[0])
    ends = [day().laps[2].start - first, day().laps[3].end + 20 - first]
    row = f'B,day.csv,{_since(ends[0])},{_since(ends[1])},"{LINE}"'
    sheet([f"{row},2"], "item,recording,from [min:s],to [min:s],line,laps")
    status, out, err = racecalc("measure", "sheet.csv", *FLAGS, "--json")
    assert status == 0, err
    [run] = json.loads(out)["runs"]
    assert len(run["laps"]) == 2
    sheet([f"{row},3"], "item,recording,from [min:s],to [min:s],line,laps")
    status, _, err = racecalc("measure", "sheet.csv", *FLAGS)
    assert status == 2
    assert "2 whole laps from line to line are within the run, the sheet states 3" in err


def _since(seconds: float) -> str:
    return f"{int(max(seconds, 0.0) // 60)}:{max(seconds, 0.0) % 60:06.3f}"


def test_the_way_there_and_back_leaves_the_turn_out(racecalc, folder) -> None:
    """At 11 m/s one way and 11 m/s back over a hill; 30 s of braking and turning between them.

    The hill cancels: 2 x 240 W x 0.976 less rolling as on the level (see the ride by hand).
    """
    time = np.arange(231.0)
    turn = (time > 100) & (time <= 130)
    climb = 82 * 9.80665 * 0.01 * 11 / 0.976
    power = 240.0 + np.where(time <= 100, climb, -climb)
    north = 55.0 + np.interp(time, [0, 100, 130, 230], [0, 0.0098, 0.0098, 0])
    ride = Recording(
        "x", START + time, True, 0.0, power=np.where(turn, 0.0, power),
        speed=np.where(turn & (time < 130), 3.0, 11.0), latitude=north,
        longitude=np.full(231, 12.0),
        laps=tuple(Lap(START + a, START + b) for a, b in ((0, 100), (100, 131), (131, 230))),
    )  # fmt: skip
    ride = replace(ride, laps=(Lap(START, START + 99), ride.laps[1], Lap(START + 131, START + 230)))
    rides.write_tcx(Path("day.tcx"), ride)
    sheet(["1,A,day.tcx,1+3"])
    flags = ("--mass", "82 kg", "--crr", "0.004", "--loss", "2.4 %", "--density", "1.2 kg/m^3")
    status, out, err = racecalc("measure", "sheet.csv", *flags, "--json")
    assert status == 0, err
    [run] = json.loads(out)["runs"]
    # Bearings of 0.091 N + 0.0087 N s/m x 11 m/s take 0.1867 N: 2.054 W of 798.6 W a m^2.
    assert run["cda_m2"] == pytest.approx(0.24901 - 2.054 / 798.6, abs=3e-4)
    assert len(run["laps"]) == 1


def test_a_picture_shows_the_runs_where_they_are(command) -> None:
    """Run 3 loses a lap by a spike; between two runs nothing was recorded."""
    power = day().power.copy()
    power[np.searchsorted(day().time, day().laps[4].start) + 40] = 1900.0
    sheet(by_laps())
    status, out, _ = command("--picture", ride=replace(day(), power=power))
    assert status == 0
    drawn = out.splitlines()
    [over, *_] = [at for at, line in enumerate(drawn) if line.split() == [*"12345678"]]
    chart = drawn[over + 2 : over + 5]
    begin = [drawn[over].index(order) for order in "12345678"]
    assert all(any(line[at] == ":" for line in chart) for at in begin)
    crossed = [at for at, sign in enumerate(chart[-1]) if sign == "x"]
    assert crossed
    assert begin[2] <= min(crossed) <= max(crossed) < begin[3]
    assert "power [W]" in command("--details")[1]
    assert "power [W]" not in command()[1]


def test_the_picture_follows_the_clock() -> None:
    """A ride of two stretches at 200 W and 300 W, and a minute without points between them."""
    time = np.concatenate((np.arange(61.0), np.arange(120.0, 181.0)))
    power = np.where(time <= 60, 200.0, 300.0)
    ride = Recording("x", time, False, 0.0, power=power, speed=power / 20)
    watts, speed = trace(signals_of(ride), 0.0, 180.0, 9)
    assert watts == pytest.approx([200] * 3 + [0] * 3 + [300] * 3)
    assert speed == pytest.approx([10] * 3 + [0] * 3 + [15] * 3)


def test_a_loop_in_an_ordinary_ride(racecalc, folder) -> None:
    """Three runs at 0.240 m^2, of which the bearings take 0.0026 (see there and back)."""
    world = replace(WORLD, order="AAA", laps=3)
    parts = recordings(world, 1)
    columns = {
        name: np.concatenate([getattr(one, name) for one in parts])
        for name in ("time", "power", "speed", "latitude", "longitude")
    }
    ride = replace(parts[0], laps=(), air_speed=None, **columns)
    rides.write_csv(Path("ride.csv"), ride)
    status, out, err = racecalc("measure", "ride.csv", *FLAGS, "--wind", "1 m/s", "--json")
    assert status == 0, err
    found = json.loads(out)
    [run] = found["runs"]
    assert len(run["laps"]) >= 6
    assert run["cda_m2"] == pytest.approx(0.240 - 0.0026, abs=1e-3)
    assert {"shelter on the loop", "wind"} <= {one["what"] for one in found["shared"]}
    out = racecalc("measure", "ride.csv", *FLAGS, "--wind", "1 m/s")[1]
    low, high = map(float, re.search(r"CdA 0.23\d \((.*) to (.*)\) m\^2", out).groups())
    assert low < 0.2374 < high
    assert 0.1 < (high - low) / 0.2374 < 0.3


def ride_with(change) -> Recording:
    one = recordings(replace(WORLD, order="A", laps=3), 1)[0]
    return replace(one, laps=(), air_speed=None, **change(one))


@pytest.mark.parametrize(
    ("change", "flags", "said"),
    [
        (lambda _: {}, (), "--wind: is not stated, and in an ordinary ride"),
        (
            lambda one: {"latitude": 55 + np.arange(len(one.time)) * 1e-4},
            ("--wind", "1 m/s"),
            "no closed loop is ridden twice in it",
        ),
        (
            lambda one: {"power": np.where(np.arange(len(one.time)) % 90 < 20, 0.0, one.power)},
            ("--wind", "1 m/s"),
            "% of it is without power, where brakes cannot be seen",
        ),
        (
            lambda one: {"speed": np.where(np.arange(len(one.time)) % 90 == 40, 0.5, one.speed)},
            ("--wind", "1 m/s"),
            "of its 2 laps of 1.0 km 0 can be used, two are needed: the rider stops",
        ),
    ],
)
def test_an_ordinary_ride_is_mostly_no_test(racecalc, folder, change, flags, said: str) -> None:
    rides.write_csv(Path("ride.csv"), ride_with(change))
    status, _, err = racecalc("measure", "ride.csv", *FLAGS, *flags)
    assert (status, said in err) == (2, True), err


# --- What is refused -----------------------------------------------------------------------------


def changed(rows: list[str], at: int, row: str) -> list[str]:
    return [*rows[:at], row, *rows[at + 1 :]]


@pytest.mark.parametrize(
    ("at", "row", "said"),
    [
        (2, "3,B,day.fit,45", "sheet.csv, line 4: day.fit has 16 laps, so there is no lap 45"),
        (2, "3,B,day.fit,4-5", "line 4: the run overlaps that of sheet.csv, line 3"),
        (2, "3,B,day.fit,six", "line 4, column 'lap': 'six' names no laps"),
        (2, "3,B,,5", "line 4, column 'recording': the cell is empty"),
        (2, "3,B,other.fit,5", "line 4, other.fit: there is no such file"),
    ],
)
def test_a_wrong_row_is_named(command, at: int, row: str, said: str) -> None:
    sheet(changed(by_laps(), at, row))
    status, out, err = command()
    assert (status, out) == (2, "")
    assert said in err
    assert len(err.splitlines()) == 1


def test_a_clock_hours_off_is_told_and_not_mended(racecalc, folder) -> None:
    rides.write_csv(Path("day.csv"), day())
    sheet(["A,day.csv,08:30:00,08:33:00"], "item,recording,from,to")
    status, _, err = racecalc("measure", "sheet.csv", *FLAGS)
    assert status == 2
    assert 'off by 2 h? then add --clock "2 h"' in err


def test_a_clock_an_hour_off_within_a_long_ride_is_told(racecalc, folder) -> None:
    """What is stated holds a pause or does not close; an hour on the run is whole."""
    rides.write_csv(Path("day.csv"), day())
    start, end = day().laps[12].start + 7 * 60, day().laps[13].end + 7 * 60
    ends = ",".join(rides.stamp(one)[11:19] for one in (start, end))
    sheet([f"A,day.csv,{ends}"], "item,recording,from,to")
    status, _, err = racecalc("measure", "sheet.csv", *FLAGS)
    assert status == 2
    assert "line 2: day.csv has no points in the run" in err
    long = replace(
        day(), time=np.where(np.arange(len(day().time)) < 400, day().time, day().time + 3600)
    )
    rides.write_csv(Path("day.csv"), long)
    lap = day().laps[0]
    ends = ",".join(rides.stamp(one + 3600)[11:19] for one in (lap.start + 2, lap.end + 2))
    sheet([f"A,day.csv,{ends}"], "item,recording,from,to")
    status, _, err = racecalc("measure", "sheet.csv", *FLAGS)
    assert status == 2
    # Runs begin every ten minutes on this ride, so the hour before fits as well.
    assert 'off by 1 h? then add --clock "1 h" or --clock "-1 h"' in err


def test_two_days_are_not_one_session(racecalc, command) -> None:
    later = replace(day(), time=day().time + 86_400, laps=tuple(
        Lap(one.start + 86_400, one.end + 86_400) for one in day().laps
    ), power=day().power + 1)  # fmt: skip
    rides.write_fit(Path("next.fit"), later)
    rows = changed(by_laps(), 5, "6,B,next.fit,11-12")
    sheet(rows)
    status, _, err = command()
    assert status == 2
    assert "line 7: ridden on 4 May 2026, the run of sheet.csv, line 2 on 3 May 2026" in err
    sheet([f"{row},{'two' if 'next' in row else 'one'}" for row in rows], f"{HEAD},day")
    status, out, err = command("--json")
    assert (status, err) == (0, "")
    assert [one["session"] for one in json.loads(out)["sessions"]] == ["one", "two"]


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (
            lambda p, v, i: (np.where((i > 40) & (i < 60), 251.0, p), v),
            "power does not change for 18 s",
        ),
        (
            lambda p, v, i: (p, np.where((i > 40) & (i < 60), 11.0, v)),
            "speed does not change for 18 s",
        ),
        (
            lambda p, v, i: (np.where((i > 40) & (i < 47), 0.0, p), v),
            "power is 0 for 5 s while the speed",
        ),
        (
            lambda p, v, i: (p, v + 0.2 * np.sin(99.0 * i)),
            "m/s a point, as from satellites",
        ),
    ],
)
def test_what_looks_wrong_is_told_and_not_mended(command, change, said: str) -> None:
    """In the first run, whose laps all count."""
    power, speed = change(day().power, day().speed, np.arange(len(day().power)))
    sheet(by_laps()[:2])
    status, out, _ = command("--keep", "--json", ride=replace(day(), power=power, speed=speed))
    [first, _] = json.loads(out)["runs"]
    assert status == 0
    assert any(said in words for words in first["distrust"]), first["distrust"]
    assert first["left_out_s"] == 0


def test_the_same_ride_from_two_files(command) -> None:
    moved = replace(day(), time=day().time + 7200, laps=tuple(
        Lap(one.start + 7200, one.end + 7200) for one in day().laps
    ))  # fmt: skip
    sheet(changed(by_laps(), 3, "4,A,copy.fit,1-2"))
    rides.write_fit(Path("copy.fit"), moved)
    status, _, err = command()
    assert status == 2
    assert "line 5: the same ride as in sheet.csv, line 2, from another file" in err


def test_two_rides_at_one_time(command) -> None:
    other = replace(day(), power=day().power[::-1])
    sheet(changed(by_laps(), 3, "4,A,other.fit,1-2"))
    rides.write_fit(Path("other.fit"), other)
    status, _, err = command()
    assert status == 2
    assert "ridden at the same time as the run of sheet.csv, line 2" in err


def test_a_mass_that_leaves_nothing_for_the_air(command) -> None:
    sheet(by_laps())
    status, _, err = command("--mass", "820 kg")
    assert status == 2
    assert "sheet.csv, line 2: its drag area comes out as -0." in err
    assert "820 kg" in err


def test_a_lap_that_does_not_close(command) -> None:
    first, *more = day().laps
    half = Lap(first.start, first.start + 0.5 * (first.end - first.start))
    sheet(["1,A,day.fit,1"])
    status, _, err = command(ride=replace(day(), laps=(half, *more)))
    assert status == 2
    assert "line 2: the lap does not close: its ends are" in err


def test_a_lap_of_another_length(command) -> None:
    first, second, *more = day().laps
    sheet(["1,A,day.fit,1", "2,B,day.fit,2", "3,A,day.fit,3"])
    long = Lap(first.start, second.end)
    status, _, err = command(ride=replace(day(), laps=(long, *more)))
    assert status == 2
    assert "line 2: lap 1 of the run is 2.00 km" in err


@pytest.mark.parametrize(
    ("ride", "said"),
    [
        (replace(day(), power=np.zeros(len(day().power))), "its power is 0 throughout"),
        (replace(day(), laps=()), "day.fit has no laps"),
        (
            replace(day(), laps=(Lap(START + 5, START + 5), *day().laps[1:])),
            "lap 1 of day.fit has no length",
        ),
    ],
)
def test_a_recording_that_lacks_something(command, ride: Recording, said: str) -> None:
    sheet(by_laps())
    status, _, err = command(ride=ride)
    assert status == 2
    assert said in err
    assert "sheet.csv, line 2" in err


def test_a_recording_without_power(racecalc, folder) -> None:
    Path("day.csv").write_text("time [s],speed [m/s]\n0,10\n1,10\n2,10\n", encoding="utf-8")
    sheet(["A,day.csv,0,2"], "item,recording,from [s],to [s]")
    status, _, err = racecalc("measure", "sheet.csv", *FLAGS)
    assert status == 2
    assert "line 2, day.csv: it has no power; its fields are: time, speed" in err


def test_without_air_or_mass_nothing_is_assumed(racecalc, folder) -> None:
    rides.write_fit(Path("day.fit"), day())
    sheet(by_laps())
    status, _, err = racecalc("measure", "sheet.csv", *FLAGS[:-2])
    assert (status, "the air of the run is not known" in err) == (2, True)
    status, _, err = racecalc("measure", "sheet.csv", *FLAGS[2:])
    assert (status, "--mass: is not stated" in err) == (2, True)


def test_columns_are_kept_or_said_to_be_unused(racecalc, command) -> None:
    rows = [f"{row},morning,monday,5" for row in by_laps()]
    sheet(rows, f"{HEAD},session,day,temprature [degC]")
    status, out, _ = command("-o", "runs.csv")
    assert (status, "Not used are the columns temprature [degC]." in out) == (0, True)
    first, second, *_ = Path("runs.csv").read_text("utf-8").splitlines()
    assert first.startswith("session,day,order,item,cda [m^2]")
    assert second.startswith("morning,monday,1,A,0.2")


def test_the_answer_fits_a_screen(command) -> None:
    sheet(by_laps())
    for depth, most in (((), 24), (("--basis",), 200)):
        lines = command(*depth)[1].splitlines()
        assert len(lines) <= most
        assert max(map(len, lines)) <= 80


# --- A recording that breaks off or is damaged ----------------------------------------------------


def test_of_a_recording_that_breaks_off_the_whole_runs_are_measured(racecalc, folder):
    content = day_as_fit()
    Path("day.fit").write_bytes(content[: len(content) // 2])
    sheet(by_laps()[:2])
    status, _, err = racecalc("measure", "sheet.csv", *FLAGS)
    assert status == 2
    assert "laps" in err  # laps are at its end, as some devices write them
    half = len(read_recording(Path("day.fit")).time)
    assert 0.4 < half / len(day().time) < 0.55
    assert "The file breaks off: what is whole was read" in read_recording(Path("day.fit")).notes[0]


def test_a_damaged_recording_is_read_if_asked_for(racecalc, folder):
    content = day_as_fit()
    Path("day.fit").write_bytes(content[:-1] + bytes([content[-1] ^ 1]))
    sheet(by_laps())
    status, _, err = racecalc("measure", "sheet.csv", *FLAGS)
    assert status == 2
    said = "day.fit: the checksum is wrong, so the file is damaged; copy it again, or add --damaged"
    assert said in err
    status, out, _ = racecalc("measure", "sheet.csv", *FLAGS, "--damaged", "--json")
    assert status == 0
    Path("day.fit").write_bytes(content)
    _, whole, _ = racecalc("measure", "sheet.csv", *FLAGS, "--json")
    drag = [[run["cda_m2"] for run in json.loads(text)["runs"]] for text in (out, whole)]
    assert drag[0] == drag[1]
    assert "it was read as asked for" in out
