"""The tester's commands as a person or a script meets them."""

import csv
import json
from pathlib import Path

import pytest

from tests.demo.make_runs import BOTTLE, TABLES

ROOT = Path(__file__).parents[2]
RACE = str(ROOT / "course_demo" / "race.toml")
ITEM_KEYS = {"name", "runs", "mean", "difference", "low", "high", "verdict"}


@pytest.fixture
def command(racecalc):
    """Run a command in a folder with the demo's run tables: status, output, errors."""
    for name, table in TABLES.items():
        Path(name).write_text(table(), encoding="utf-8")
    return racecalc


@pytest.mark.parametrize("name", TABLES)
def test_pages_fit_the_terminal(command, name: str):
    status, out, err = command("trial", name)
    assert (status, err) == (0, "")
    assert max(len(line) for line in out.splitlines()) <= 80


def test_trial_json(command):
    answer = json.loads(command("trial", "suits.csv", "--json")[1])
    assert set(answer) >= {"items", "unit", "repeatability", "margin"}
    assert answer["unit"] == "m^2"
    for item in answer["items"]:
        assert set(item) >= ITEM_KEYS
        assert item["low"] < item["difference"] < item["high"]
    assert answer["items"][0]["verdict"] == "faster"
    assert answer["items"][0]["difference"] < 0
    # 1 W at 44 km/h in 1.204 kg/m^3: 2 / (1.204 x 12.2222^3) m^2, worked out by hand.
    assert answer["margin"] == pytest.approx(0.00090981, rel=1e-5)


def test_trial_json_of_several_riders(command):
    answer = json.loads(command("trial", "bottles.csv", "--json")[1])
    (item,) = answer["items"]
    assert set(item) >= ITEM_KEYS
    assert (item["name"], item["riders"], item["runs"]) == (BOTTLE, 7, 21)
    assert item["predicted_low"] < item["low"] < item["difference"] < item["high"]
    assert len(answer["riders"]) == 7


def test_a_sweep_is_weighted_by_the_race_and_held_against_the_road(command):
    answer = json.loads(command("trial", "wheel_sweep.csv", "--json", "--race", RACE)[1])
    (saved,) = answer["saved"]
    assert saved["saving"] == pytest.approx(0.0017, abs=0.0004)
    assert 0 < answer["weighted"][0]["share_of_time_outside"] < 0.5
    road = ["item,session,order,cda [m^2],yaw [deg]"]
    for number, item in enumerate(["Shallow front wheel", "Dunquill deep front wheel"] * 4):
        area = 0.2362 + 0.0002 * (number % 3) - (0.0012 if "deep" in item else 0.0)
        road.append(f"{item},one,{number},{area},2")
    Path("road.csv").write_text("\n".join(road), encoding="utf-8")
    out = " ".join(command("trial", "wheel_sweep.csv", "--field", "road.csv")[1].split())
    assert "compared with the field runs, at their yaw of 2.0 deg" in out
    assert "they agree within their doubt" in out


def test_flags_of_a_trial(command):
    strict = json.loads(command("trial", "suits.csv", "--json", "--looks", "5")[1])
    plain = json.loads(command("trial", "suits.csv", "--json")[1])
    assert strict["items"][0]["low"] < plain["items"][0]["low"]
    known = json.loads(command("trial", "suits.csv", "--json", "--repeatability", "0.0016 m^2")[1])
    assert "experience" in known["repeatability_because"]
    again = json.loads(command("trial", "suits.csv", "--json", "--again")[1])
    assert again["confidence"] == pytest.approx(0.99)
    stated = json.loads(command("trial", "suits.csv", "--json", "--day-to-day", "0.004 m^2")[1])
    assert (stated["day_to_day"], stated["day_to_day_because"]) == (0.004, "as stated")
    assert stated["items"][0]["low"] < plain["items"][0]["low"]
    that_day = plain["items"][0]["low_that_day"]
    assert stated["items"][0]["low_that_day"] == pytest.approx(that_day)
    named = json.loads(
        command("trial", "suits.csv", "--json", "--baseline", "Brinnoth Hightide suit")[1]
    )
    assert named["baseline"]["name"] == "Brinnoth Hightide suit"
    watts = json.loads(command("trial", "suits.csv", "--json", "--margin", "2 W")[1])
    assert watts["margin"] == pytest.approx(2 * plain["margin"])


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("trial", "suit.csv"), "suits.csv"),
        (("trial", "suits.csv", "--baseline", "Socks"), "no run has the item 'Socks'"),
        (("trial", "suits.csv", "--margin", "1 s"), "--margin"),
        (("trial", "suits.csv", "--margin", "0 W"), "is not above zero"),
        (("trial", "wheel_sweep.csv", "--margin", "1 W"), "has no effect on the sweep"),
        (("trial", "wheel_sweep.csv", "--again"), "has no effect on the sweep"),
        (("trial", "suits.csv", "--again", "--looks", "2"), "so none is one more"),
        (("trial", "suits.csv", "--day-to-day", "0 W"), "is not above zero"),
        (("plan", "A", "B", "--difference", "3 W", "--repeatability", "2 W", "--runs", "3"), "odd"),
        (("trial", "suits.csv", "--race", RACE), "only on a sweep over yaw and on watts"),
        (("trial", "suits.csv", "--mass", "80 kg"), "only on a sweep over yaw and on watts"),
        (("trial", "suits.csv", "--field", "suits.csv"), "not a sweep over yaw, which --field"),
        (("trial", "wheel_sweep.csv", "--crr", "0.004"), "has no effect on the sweep"),
        (("trial", "bottles.csv", "--mass", "80 kg"), "--crr: is not stated"),
        (("trial", "wheel_sweep.csv", "--field", "bottles.csv"), "must state drag areas"),
        (("trial", "wheel_sweep.csv", "--field", "suits.csv"), "Shallow front wheel"),
        (("plan", "A", "--difference", "3 W", "--repeatability", "2 W"), "at least one other"),
        (("plan", "A", "B", "--difference", "3 kg", "--repeatability", "2 W"), "not a drag area"),
        (("plan", "A", "B", "--difference", "3 W", "--repeatability", "2 N"), "--repeatability"),
        (("convert", "4.5 W at 45 km/h", "--to", "% of CdA"), "--cda"),
        (("convert", "4.5 W at 45 km/h", "--to", "bananas"), "--to"),
    ],
)
def test_wrong_input(command, arguments: tuple[str, ...], said: str):
    status, out, err = command(*arguments)
    assert (status, out) == (2, "")
    assert said in err
    assert len(err.splitlines()) == 1


def test_plan_writes_a_sheet_that_trial_reads(command):
    status, out, err = command(
        "plan", "Old suit", "New suit", "--difference", "0.004 m^2",
        "--repeatability", "0.002 m^2", "--sessions", "2", "-o", "sheet.csv",
    )  # fmt: skip
    assert status == 0
    assert "A Old suit, B New suit" in out
    assert "runs to fill in" in err
    with Path("sheet.csv").open(encoding="utf-8", newline="") as file:
        heading, *rows = csv.reader(file)
    place, item = heading.index("cda [m^2]"), heading.index("item")
    for number, row in enumerate(rows):
        row[place] = f"{0.240 - (0.006 if 'New' in row[item] else 0) + 0.0005 * (number % 3):.4f}"
    with Path("filled.csv").open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([heading, *rows])
    answer = json.loads(command("trial", "filled.csv", "--json")[1])
    assert answer["items"][0]["verdict"] == "faster"
    assert command("plan", "A", "B", "--difference", "3 W", "--repeatability", "2 W",
                   "-o", "sheet.csv")[0] == 2  # fmt: skip


def test_plan_json(command):
    _, out, _ = command(
        "plan", "A", "B", "--difference", "3 W", "--repeatability", "1.5 W", "--json"
    )
    answer = json.loads(out)
    assert answer["unit"] == "W"
    assert answer["chance_seen"] >= 0.8
    assert sum(len(session) for session in answer["sessions"]) == 2 * answer["runs_per_item"]


def test_convert_json(command):
    _, out, _ = command("convert", "4.5 W at 45 km/h", "--to", "m^2", "--density", "1.2 kg/m^3",
                        "--json")  # fmt: skip
    # 4.5 / (1/2 x 1.2 x 12.5^3) = 0.00384 m^2, worked out by hand.
    assert "0.00384" in out


def test_convert_asks_for_what_is_missing(command):
    status, out, err = command("convert", "7 W")
    assert (status, out) == (2, "")
    assert "--speed" in err
    assert "--race" in err


def test_sizes_are_kept_apart_and_exclusions_shown(command):
    rows = ["item,size,session,order,cda [m^2],excluded"]
    for number, (item, size) in enumerate([("old", ""), ("suit", "M"), ("suit", "L")] * 4):
        reason = "gust" if number == 5 else ""
        area = 0.25 - {"M": 0.004, "L": 0.001, "": 0.0}[size] + 0.0003 * (number % 2)
        rows.append(f"{item},{size},one,{number},{area},{reason}")
    Path("sizes.csv").write_text("\n".join(rows), encoding="utf-8")
    answer = json.loads(command("trial", "sizes.csv", "--json")[1])
    assert [item["name"] for item in answer["items"]] == ["suit, size M", "suit, size L"]
    assert [item["runs"] for item in answer["items"]] == [4, 3]
    assert [item["runs"] for item in answer["with_all"]["items"]] == [4, 4]
    _, out, _ = command("trial", "sizes.csv")
    assert "Runs that the tester left out: 1; with them the verdicts are the same." in out
    _, out, _ = command("trial", "sizes.csv", "--details")
    assert "line 7, suit, size L, 0.2493 m^2: gust" in out
    assert "The same with the runs that were left out" in out


def test_a_set_in_the_race_file(command):
    answer = json.loads(command("value", RACE, "--json")[1])
    (tested,) = answer["sets"]
    assert tested["tested"] == ["Both Vaskelle covers and Lowtide suit"]
    assert tested["saved_s"] < tested["by_parts_s"]
    assert tested["tested"][0] not in [option["name"] for option in answer["options"]]


def test_a_race_file_that_names_a_test(command):
    answer = json.loads(command("value", RACE, "--json")[1])
    by_name = {option["name"]: option for option in answer["options"]}
    suit = by_name["Brinnoth Lowtide suit"]
    assert "suits.csv" in suit["saves"]
    assert suit["verdict"] == "faster"
    assert by_name[BOTTLE]["verdict"] == "undecided"
    assert 0.3 < by_name[BOTTLE]["chance_faster"] < 0.8


def test_a_race_file_that_states_the_change_from_day_to_day(command):
    def suit(*changes):
        answer = json.loads(command("value", RACE, "--json", *changes)[1])
        return next(one for one in answer["options"] if one["name"] == "Brinnoth Lowtide suit")

    wide = suit("--set", "option.Brinnoth Lowtide suit.trial_day_to_day=0.004 m^2")
    assert wide["saved_as_measured_s"] == pytest.approx(suit()["saved_as_measured_s"])
    assert wide["saved_s"] < suit()["saved_s"]
    assert wide["saved_s_low"] < suit()["saved_s_low"]


def test_a_column_of_days(command):
    """Two sessions of one day are one day; a name of a session may come back on another day."""
    rows = ["item,day,session,order,power [W],speed [km/h]"]
    values = [250.4, 247.1, 246.2, 250.9, 248.9, 246.8, 247.6, 249.3]
    for number, value in enumerate(values):
        rows.append(f"{'ABBA'[number % 4]},DAY{number // 4},x{{}},{number},{value},43")
    for days, session, counted in (("one one", "12", 1), ("one two", "11", 2)):
        text = "\n".join(rows)
        for number, (day, name) in enumerate(zip(days.split(), session, strict=True)):
            text = text.replace(f"DAY{number},x{{}}", f"{day},{name}")
        Path("days.csv").write_text(text, encoding="utf-8")
        answer = json.loads(command("trial", "days.csv", "--json")[1])
        assert answer["days"] == counted
        assert not any("each session is taken as a day" in note for note in answer["notes"])
    said = " ".join(command("trial", "suits.csv", "--details")[1].split())
    assert "each session is taken as a day" in said


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ('option.Hot-waxed chain.set_of=["Socks", "Hot-waxed chain"]', "no single option 'Socks'"),
        ("option.Hot-waxed chain.set_of=Socks", "is not a list of names"),
        ("option.Both Vaskelle covers and Lowtide suit.mass=1 g", "a set has no mass of its own"),
        ("option.Hot-waxed chain.trial=suits.csv", "both trial and saves are given"),
        ("option.Hot-waxed chain.trial_rider=Rider A", "there is no trial that it belongs to"),
        ("option.Hot-waxed chain.trial_day_to_day=1 W", "there is no trial that it belongs to"),
        ("option.Brinnoth Lowtide suit.trial_day_to_day=1 W", "trial_day_to_day"),
        ("option.Brinnoth Lowtide suit.trial=nowhere.csv", "there is no such file"),
        ("option.Brinnoth Lowtide suit.trial_item=Socks", "no run has the item 'Socks'"),
    ],
)
def test_race_files_whose_test_will_not_do(command, change: str, said: str):
    status, out, err = command("value", RACE, "--set", change)
    assert (status, out) == (2, "")
    assert said in err


def _watts(area: float, density: float) -> float:
    """80 kg, Crr 0.004, no loss and the usual bearings at 12 m/s: air, tyres, bearings by hand."""
    return 12.0 * (0.5 * density * area * 144 + 0.004 * 80 * 9.80665 + 0.091 + 0.0087 * 12)


def test_watts_in_two_airs(command):
    """One area in air of 1.16 and of 1.20 kg/m^3 was once faster with a chance above 99 %."""
    rows = ["item,session,order,power [W],speed [km/h],density [kg/m^3]"]
    for number, item in enumerate("ABBABAAB"):
        density = {"A": 1.20, "B": 1.16}[item]
        power = _watts(0.25, density) + 0.1 * (-1) ** (number // 3)
        rows.append(f"{item},one,{number},{power:.2f},43.2,{density}")
    Path("watts.csv").write_text("\n".join(rows), encoding="utf-8")
    status, out, err = command("trial", "watts.csv")
    assert (status, out) == (2, "")
    assert "give --mass, --crr and --loss, or --race RACE" in err
    bike = "--mass", "80 kg", "--crr", "0.004", "--loss", "0 %"
    answer = json.loads(command("trial", "watts.csv", "--json", *bike)[1])
    assert answer["unit"] == "m^2"
    (item,) = answer["items"]
    assert abs(item["difference"]) < 2e-4
    assert answer["baseline"]["mean"] == pytest.approx(0.25, abs=2e-4)
    of_race = json.loads(command("trial", "watts.csv", "--json", "--race", RACE)[1])
    assert of_race["unit"] == "m^2"
    assert of_race["items"][0]["verdict"] == item["verdict"] != "faster"
    assert "80.0 kg, Crr 0.0040, 0.0 % lost" in " ".join(answer["notes"])


def test_warnings_are_in_the_answer(command):
    rows = ["item,session,order,cda [m^2]"]
    values = (0.2400, 0.2402, 0.2391, 0.2390, 0.2392, 0.2389, 0.2401, 0.2399)
    rows += [f"{i},one,{n},{v}" for n, (i, v) in enumerate(zip("AABBBBAA", values, strict=True))]
    Path("on_end.csv").write_text("\n".join(rows), encoding="utf-8")
    said = " ".join(command("trial", "on_end.csv")[1].split())
    assert "'B' was ridden 4 times on end." in said
    assert "up to 28 of 100 such tests give a false winner that day" in said


def test_a_size_that_was_not_tested(command):
    sizes = [f"option.Brinnoth Lowtide suit.{one}" for one in ("size=S", "test_size=M")]
    changes = [word for size in sizes for word in ("--set", size)]
    said = " ".join(
        command("breakeven", RACE, "--option", "Brinnoth Lowtide suit", *changes)[1].split()
    )
    assert "another size, which may save less: Brinnoth Lowtide suit (M, yours S)" in said
