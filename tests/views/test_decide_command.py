"""The page of decide, its JSON, and what it refuses."""

import json
import re
from pathlib import Path

import pytest
from rich.cells import cell_len

from racecalc.answers.sheet import Depth
from tests.answered import Answered, answered
from tests.files.making import RACE

DEMO = str(Path(__file__).parents[2] / "course_demo" / "race.toml")
OPTION = """
[[option]]
name = "Long cuffs"
slot = "gloves"
price = "60 EUR"
saves = "0.002 m^2"
doubt = "0.004 m^2"
"""
STEP = ("--set", "course.step=50 m")
ASKED = ("--price-per-second", "10 EUR", "--fee", "15 EUR", "--repeatability", "0.003 m^2")


@pytest.fixture
def command(racecalc):
    """Run decide on a race file: status, output, errors."""
    Path("race.toml").write_text(RACE + OPTION, encoding="utf-8")

    def run_it(*arguments: str, race: str = "race.toml") -> tuple[int, str, str]:
        return racecalc("decide", race, *arguments, *STEP)

    return run_it


def on_demo(*arguments: str) -> Answered:
    return answered("decide", DEMO, *arguments, *STEP)


def flat(text: str) -> str:
    return " ".join(text.split())


def test_page_and_json_say_the_same(command):
    status, out, err = command(*ASKED, "--details")
    found = json.loads(command(*ASKED, "--json")[1])
    assert (status, err) == (0, "")
    test = found["next_test"]
    assert test["names"] == ["Long cuffs"]
    assert test["net"] == pytest.approx(test["worth"] - test["cost"])
    assert test["net_s"] == pytest.approx(test["net"] / 10)
    assert (found["currency"], found["per_second"], found["session_fee"]) == ("EUR", 10.0, 15.0)
    assert (
        f": test first Long cuffs 12 pairs of runs, worth {test['worth']:.0f} EUR"
        f" ({test['worth_s']:.1f} s), costs 15 EUR: net gain {test['net']:.0f} EUR." in flat(out)
    )
    gloves = next(one for one in found["slots"] if one["slot"] == "gloves")
    assert gloves["advice"]["words"] == "test Long cuffs first"
    assert f"({test['buy_from_s']:+.0f} s here)" in flat(out)
    assert f"{100 * gloves['untested']['chance_wrong']:.0f} %" in out
    assert [one["pairs"] for one in gloves["by_pairs"]] == [1, 2, 3, 4, 6, 8, 12]
    assert gloves["perfect_knowledge"]["worth"] > test["worth"]
    assert found["not_judged"] == [{"name": "Tyres v2.0", "reason": "it states no price"}]
    assert "Not judged: Tyres v2.0 (it states no price)." in out
    assert "Tyres v2.0  it states no price" in out


def test_the_money_table_of_the_race_file_counts(command, tmp_path):
    money = '\n[money]\nper_second = "10 EUR"\ntest_fee = "15 EUR"\n'
    (tmp_path / "race.toml").write_text(RACE + OPTION + money, encoding="utf-8")
    by_file = command("--repeatability", "0.003 m^2")
    assert by_file == command(*ASKED)
    assert by_file[0] == 0
    dearer = json.loads(command("--repeatability", "0.003 m^2", "--fee", "16 EUR", "--json")[1])
    assert dearer["session_fee"] == 16.0
    free = json.loads(command("--repeatability", "0.003 m^2", "--fee", "0 EUR", "--json")[1])
    assert free["session_fee"] == 0.0


def test_a_dear_test_is_not_made(command):
    out = flat(command(*ASKED, "--fee", "90 EUR")[1])
    assert ": no test is worth its cost The test closest to paying, of Long cuffs" in out
    assert "costs 90 EUR." in out


def test_a_test_that_can_change_nothing_is_worth_nothing(command):
    arguments = ("--set", "option.Long cuffs.saves=0.03 m^2", "--fee", "0 EUR")
    found = json.loads(command(*ASKED, *arguments, "--json")[1])
    gloves = next(one for one in found["slots"] if one["slot"] == "gloves")
    assert gloves["advice"]["words"] == "buy Long cuffs now"
    assert gloves["test"]["worth"] == pytest.approx(0.0, abs=1e-6)
    out = flat(command(*ASKED, *arguments, "--details")[1])
    assert "No test can change a choice by enough seconds to matter." in out
    assert "gloves: buy Long cuffs now" in out
    assert "a test would hardly change that" in out


def test_a_whole_test_has_no_pairs(command):
    arguments = ("--price-per-second", "10 EUR", "--fee", "15 EUR", "--test-doubt", "4 s")
    _, out, _ = command(*arguments, "--details")
    assert "test first Long cuffs Worth" in flat(out)
    assert "pairs" not in out
    assert "Doubt of a test: one standard uncertainty of the result of a test" in flat(out)
    (gloves,) = (
        one
        for one in json.loads(command(*arguments, "--json")[1])["slots"]
        if one["test"] and one["slot"] == "gloves"
    )
    assert gloves["options"][0]["error_s"] == 4.0


def test_no_fee_is_said(command):
    asked = ("--price-per-second", "10 EUR", "--repeatability", "0.003 m^2", "--basis")
    out = flat(command(*asked)[1])
    assert "costs nothing, as no fee is stated" in out
    assert "A session costs nothing here; say with --fee what it costs." in out
    assert "state with --fee-per-pair what a pair costs" in out


def test_a_fee_of_zero_is_a_fee_that_was_given(command):
    arguments = ("--price-per-second", "10 EUR", "--repeatability", "0.003 m^2")
    out = flat(command(*arguments, "--fee", "0 EUR")[1])
    assert "s), costs nothing: net gain" in out
    assert "no fee is stated" not in out


@pytest.mark.xdist_group("decide race.toml")
def test_what_a_test_must_show_is_in_the_unit_of_its_runs():
    """The watts of the demo become drag areas by the bike of the race."""
    out = flat(answered("decide", "race.toml").text())
    assert re.search(r"if the test shows 0\.00\d\d m\^2 or more \(\+\d+ s here\)", out)


def test_what_the_demo_tested_as_a_set_is_not_advised_as_a_sum():
    """Its own test of suit and covers says 22.2 s, not the 26.6 s of both alone."""
    asked = ("--fee-per-pair", "1.5 EUR", "--repeatability", "0.003 m^2")
    both = "Brinnoth Lowtide suit and Vaskelle knit shoe covers save +22 s tested together"
    kept = r"not \+27 s: worth 38\d EUR, and less without any one of them\."
    assert re.search(rf"{re.escape(both)}, {kept}", flat(on_demo(*asked).text()))
    # A suit that is worn out in 7 races costs 8 x 240 / 7 = 274 in place of 32.
    asked += ("--set", "option.Brinnoth Lowtide suit.life=7 races")
    asked += ("--set", "option.Ostrewyn Ripple suit.rules=forbidden")
    found = on_demo(*asked)
    first, out = found.text(), found.text(Depth.DETAILS)
    leave = r"not \+27 s: worth 14\d EUR, but 18\d EUR without Brinnoth Lowtide suit\."
    assert re.search(rf"{re.escape(both)}, {leave}", flat(first))
    assert "suit leave Brinnoth Lowtide suit" in flat(first)
    left_out = "Not judged: Ostrewyn Ripple suit (the rules forbid it); Tollimar coated shoe covers"
    assert left_out in flat(first)
    suit = next(line for line in out.split("  - ") if line.startswith("suit: buy"))
    left = "Brinnoth Lowtide suit is left: the rest is worth more without it."
    assert f"buy none of them; {left}" in flat(suit)
    wheel = "Dunquill deep front wheel (not within 600 EUR)."
    assert f"Worth its cost alone, but left: {wheel}" in flat(first)
    (one,) = found.json["together"]["sets"]
    assert one["gap_worth"] == pytest.approx(20 * (one["saved_s"] - one["singles_s"]))
    assert "Pellimar long cuffs it is worth less than the 1 W you want of it" in flat(out)


def test_fewer_runs_where_they_cost(command):
    found = json.loads(command(*ASKED, "--fee-per-pair", "2 EUR", "--json")[1])
    assert 1 <= found["next_test"]["pairs"] < 12
    few = json.loads(command(*ASKED, "--most-pairs", "5", "--json")[1])
    assert few["next_test"]["pairs"] == 5


def test_the_scatter_of_its_own_runs_counts_where_no_other_is_given():
    """The demo has a suit with eight runs of its own and a bottle tested by seven riders."""
    found = on_demo("--price-per-second", "20 EUR")
    out = found.text(Depth.DETAILS)
    assert "suits.csv" in flat(out).split("one standard uncertainty of")[1].split("What a test")[0]
    scatter = {
        option["name"]: option["scatter"]
        for slot in found.json["slots"]
        for option in slot["options"]
    }
    assert "from the runs of" in scatter["Brinnoth Lowtide suit"]
    assert "from the runs of" in scatter["Kelmund bottle between the arms"]
    assert scatter["Pads 2 cm lower"] == ""


@pytest.mark.parametrize("asked", [ASKED, (*ASKED[:2], "--test-doubt", "5 s")])
@pytest.mark.parametrize("race", ["own", "demo"])
def test_it_fits_the_terminal(tmp_path, race, asked):
    file = tmp_path / "race.toml"
    file.write_text(RACE + OPTION, encoding="utf-8")
    found = answered("decide", DEMO if race == "demo" else str(file), *asked, *STEP)
    for columns in (80, 100):
        out = found.text(Depth.BASIS, columns)
        assert max(map(cell_len, out.splitlines())) <= columns
        assert "-0" not in out.replace("-0.", "").split("Course")[0]


def test_the_same_seed_the_same_answer(command):
    first = command(*ASKED, "--json", "--seed", "3")
    assert first == command(*ASKED, "--json", "--seed", "3")
    assert first != command(*ASKED, "--json", "--seed", "4")


PRICE = ASKED[:2]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ((), "--price-per-second: what a second is worth to you is not stated"),
        ((), "per_second under [money]"),
        (("--price-per-second", "5 kr"), "the sign 'kr'"),
        (("--price-per-second", "0 EUR"), "not a price for a second"),
        (PRICE, "--repeatability or --test-doubt: the scatter of runs is not stated"),
        (PRICE, 'as --repeatability "0.003 m^2"'),
        ((*PRICE, "--repeatability", "3 W"), "does not say at which speed"),
        ((*PRICE, "--repeatability", "much"), "is not a saving"),
        ((*PRICE, "--repeatability", "0 s"), "--repeatability: '0 s' is not above zero"),
        ((*PRICE, "--test-doubt", "-0.1 m^2"), "--test-doubt: '-0.1 m^2' is not above zero"),
        ((*PRICE, "--repeatability", "2 W at 250 W"), "fits no option"),
        ((*ASKED, "--test-doubt", "4 s"), "give one of them"),
        ((*PRICE, "--test-doubt", "4 s", "--fee-per-pair", "1 EUR"), "--fee-per-pair: with"),
        ((*ASKED, "--fee", "25 kr"), "--fee: the sign 'kr'"),
        ((*ASKED, "--fee", "25 CHF"), "the price per second and the fee of a session"),
        ((*ASKED, "--fee-per-pair", "2 CHF"), "the fee of a pair: one is in"),
        (("--price-per-second", "5 CHF", *ASKED[2:]), "one is in CHF, the other in EUR"),
        ((*ASKED, "--most-pairs", "0"), "--most-pairs"),
        ((*ASKED, "--draws", "10"), "--draws"),
    ],
)
def test_wrong_input(command, arguments, said):
    status, out, err = command(*arguments)
    assert (status, out) == (2, "")
    assert said in err
    assert "Traceback" not in err
