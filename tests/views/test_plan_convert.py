"""The pages of plan and convert, and what both refuse."""

import json
import re
from pathlib import Path

import pytest


@pytest.fixture
def command(racecalc):
    """Run a command: status, output, errors."""
    return racecalc


PLAN = ("--difference", "3 W", "--repeatability", "1.6 W")
COURSE = Path(__file__).parents[2] / "course_demo" / "oskavell_shore.gpx"
RACE = str(Path(__file__).parents[2] / "course_demo" / "race.toml")


def flat(text: str) -> str:
    return " ".join(text.split())


def test_plan_says_how_to_judge(command):
    out = flat(command("plan", "old", "new", *PLAN, "--repeatability-df", "6")[1])
    found = json.loads(command("plan", "old", "new", *PLAN, "--repeatability-df", "6", "--json")[1])
    assert "Judge the runs with --repeatability '1.6 W' --repeatability-df 6; without" in out
    assert f"the chance is {100 * found['chance_seen_without_repeatability']:.0f} %." in out
    assert found["chance_seen_without_repeatability"] < found["chance_seen"]
    assert (found["repeatability"], found["repeatability_df"]) == (1.6, 6)


def test_plan_says_both_chances_and_what_else_to_judge_with(command):
    asked = ("plan", "old", "new", *PLAN, "--day-to-day", "0.9 W", "--sessions", "2", "--runs", "4")
    out, found = flat(command(*asked)[1]), json.loads(command(*asked, "--json")[1])
    assert out.startswith("8 runs of each of 2 items on 2 days, 16 in all")
    assert "--day-to-day '0.9 W'" in out
    assert found["day_to_day"] == pytest.approx(0.9)
    same = 100 * found["chance_seen_if_same"]
    assert f"If it is the same every day: {same:.0f} %" in out
    assert found["chance_seen"] < found["chance_seen_if_same"]


def test_plan_without_margin_speaks_of_no_tie(command):
    out = flat(command("plan", "old", "new", *PLAN)[1])
    assert "Without --margin no tie can be proved" in out
    assert "a tie is proved with" not in out
    assert "a tie is proved with" in flat(
        command("plan", "old", "new", *PLAN, "--margin", "2 W")[1]
    )


def test_a_hopeless_plan_says_so_first(command):
    out = command("plan", "old", "new", "--difference", "0.01 W", "--repeatability", "2 W")[1]
    assert flat(out).startswith(
        "No test of up to 500 runs of each item on 2 days shows a difference of 0.01 W 8 times"
    )


def test_plan_of_many_items(command):
    status, out, err = command("plan", *map(str, range(28)), *PLAN, "--details")
    assert (status, err) == (0, "")
    assert "Y 24, Z 25, AA 26, AB 27" in flat(out)
    assert "X Y Z AA AB, AB AA Z Y X" in flat(out)
    assert max(map(len, out.splitlines())) <= 80
    assert len(command("plan", *map(str, range(28)), *PLAN)[1].splitlines()) <= 23


@pytest.mark.parametrize(
    ("flag", "amount", "example"),
    [
        ("--difference", "0.004 m^2", "0.001 m^2"),
        ("--difference", "3 W", "1 W"),
        ("--difference", "3 N", "0.1 N"),
    ],
)
def test_examples_are_those_of_differences(command, flag, amount, example):
    for margin in ("0 " + amount.split()[1], "much"):
        status, _, err = command(
            "plan", "a", "b", flag, amount, "--repeatability", amount, "--margin", margin
        )
        assert status == 2
        assert re.search(rf"""--margin: .*["']{re.escape(example)}["']""", err)


@pytest.mark.parametrize("words", ["7 W", "4.5 W", "2 % of CdA", "40 s/40 km"])
@pytest.mark.parametrize("json_too", [(), ("--json",)])
def test_convert_of_nothing_is_one_line(command, words, json_too):
    status, out, err = command("convert", words, *json_too)
    assert (status, out, len(err.splitlines())) == (2, "", 1)
    text = f"error: {json.loads(err)['errors'][0]['text']}" if json_too else err
    assert text.startswith(f'error: "{words}": no other form')
    assert "--cda" in text


def test_convert_names_what_several_forms_need_once(command):
    out = flat(command("convert", "4.5 W at 45 km/h")[1])
    assert "- s/km, s/40 km: give" in out
    assert "- % of CdA: give --cda, or --race" in out


@pytest.mark.parametrize(
    ("flags", "density", "said"),
    [
        ((), 1.20, "air is 1.20 kg/m^3 (assumed; state it with --density)"),
        (("--density", "1.225 kg/m^3"), 1.225, "air is 1.23 kg/m^3."),
        (("--race", RACE, "--set-air"), 1.20, "The claim holds in air of 1.20 kg/m^3 (assumed"),
        (("--race", RACE, "--density", "1.1 kg/m^3"), 1.1, "in air of 1.10 kg/m^3, your own"),
    ],
)
def test_convert_says_the_air_of_the_claim_and_takes_it(command, tmp_path, flags, density, said):
    """Drag area of a claim is 2 P / (rho v^3) with its own air, whatever that of the race is."""
    if "--set-air" in flags:
        text = Path(RACE).read_text("utf-8").partition("[[option]]")[0]
        text = text.replace("oskavell_shore.gpx", str(COURSE))
        thin = tmp_path / "thin.toml"
        thin.write_text(text.replace('altitude = "5 m"', 'altitude = "1400 m"'), "utf-8")
        flags = ("--race", str(thin))
    words = ("convert", "4.5 W at 45 km/h", *flags)
    found = json.loads(command(*words, "--json")[1])
    area = next(one["value"] for one in found["conversions"] if one["unit"] == "m^2")
    assert area == pytest.approx(2 * 4.5 / (density * 12.5**3))
    assert found["claim_density_kg_m3"] == pytest.approx(density)
    assert said in flat(command(*words)[1])


def test_convert_refuses_more_than_there_is(command):
    status, out, err = command("convert", "500 W at 30 km/h", "--race", RACE)
    assert (status, out, len(err.splitlines())) == (2, "", 1)
    assert "% of CdA, more than there is" in err


@pytest.mark.parametrize("words", ["-4.5 W at 45 km/h", "-.5 N at 45 km/h"])
def test_convert_takes_what_costs(command, words):
    status, out, err = command("convert", words, "--to", "N")
    assert (status, err) == (0, "")
    assert out.startswith(f"{words} is the same as")
    saved = json.loads(command("convert", "--json", "--to", "N", words)[1])["conversions"]
    assert saved[0]["value"] < 0


@pytest.mark.parametrize("words", ["4.5 W", "0.3 N", "1.6 % of power at 250 W"])
def test_convert_says_the_speed_that_it_takes(command, words):
    """That of 262 W on a flat, calm road (or of the watts stated), as the table has it."""
    found = json.loads(command("convert", words, "--race", RACE, "--json")[1])
    said = flat(command("convert", words, "--race", RACE)[1])
    power = 250 if "250" in words else 262
    speed = f"{3.6 * found['taken_at_speed_m_s']:.1f} km/h"
    assert f"taken at {speed}, that of {power} W on a flat, calm road." in said
    (watts,) = (one for one in found["conversions"] if one["unit"] == "W")
    if power == 262:
        assert found["taken_at_speed_m_s"] == pytest.approx(watts["at_speed_m_s"])


@pytest.mark.parametrize("words", ["4.5 W at 45 km/h", "0.004 m^2", "2 % of CdA"])
def test_convert_takes_no_speed_where_none_is_needed(command, words):
    assert "names no speed" not in command("convert", words, "--race", RACE)[1]


def test_convert_still_knows_its_flags(command):
    assert command("convert", "-h")[1].startswith("Usage")
    status, _, err = command("convert", "-x", "3 W")
    assert status == 2
    assert "there is no such flag" in err


COARSE = ("--set", "course.step=100 m")


@pytest.mark.parametrize("name", ["time", "value"])
def test_draws_of_nothing_are_noted(command, name):
    _, _, err = command(name, RACE, *COARSE, "--draws", "300", "--seed", "2")
    assert "note: --draws and --seed: " in err
    assert "states no doubt" in err
    assert "states no doubt" not in command(name, RACE, *COARSE)[2]
    draws = ("--seed", "2", "--draws", "300")
    stated = command(name, RACE, *COARSE, *draws, "--set", "rider.power_doubt=5 W")
    assert "states no doubt" not in stated[2]
