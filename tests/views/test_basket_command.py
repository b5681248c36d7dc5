"""The commands basket and breakeven, and the money in value, as a person or a script meets them."""

import json
import math
import re
import subprocess
import sys
from dataclasses import replace

import pytest

from racecalc.answers.basket import basket_sheet
from racecalc.answers.sheet import Depth
from racecalc.views.writers.terminal import sheet_text
from tests.answered import DEMO, Answered, answered
from tests.files.making import RACE as SMALL
from tests.files.making import race_file

RACE = str(DEMO / "race.toml")
STEP = ("--set", "course.step=50 m")

pytestmark = pytest.mark.xdist_group(__name__)
"""What several tests ask is worked out once."""


@pytest.fixture
def command(racecalc):
    """Run a command on the demo in steps of 50 m: status, output, errors."""
    return lambda name, *arguments: racecalc(name, RACE, *arguments, *STEP)


def found(name: str, *arguments: str) -> Answered:
    """The answer of a command on the demo in steps of 50 m."""
    return answered(name, "race.toml", *arguments, *STEP)


PAGES = [
    ("basket",),
    ("basket", "--budget", "90 EUR", "--require", "Hot-waxed chain", "--units", "imperial"),
    ("basket", "--no-ladder", "--at-least", "100 s"),
    ("basket", "--budget", "0 EUR", "--no-ladder"),
    ("breakeven", "--option", "Dunquill deep front wheel", "--against", "Hot-waxed chain"),
    ("breakeven", "--option", "Pads 2 cm lower", "--holds", "70 %"),
    ("breakeven", "--mass", "+850 g", "--price", "900 EUR", "--units", "imperial"),
    ("value", "--round", "flat_round.toml"),
]


@pytest.mark.parametrize("arguments", PAGES, ids=" ".join)
def test_pages_fit_the_terminal(arguments: tuple[str, ...]):
    out = found(*arguments).text()
    assert max(map(len, out.splitlines())) <= 80
    assert not re.search(r"\bnan\b|\binf\b|None", out)


def test_the_interval_that_is_explained_is_that_of_the_answer():
    """1.96 standard deviations each way of the squares that it states, worked out from its text."""
    basket = found("basket")
    said = {step.what: step for step in basket.sheet.explained()}["95 % interval"]
    squares = [float(one) for one in re.findall(r"(\S+)\^2", said.formula.partition("=")[2])]
    half = 0.5 * (basket.json["saved_s_high"] - basket.json["saved_s_low"])
    assert len(squares) == 2
    assert half == pytest.approx(1.96 * math.hypot(*squares), abs=0.2)
    share, loose = map(float, re.findall(r"s: (\S+) of the (\S+) s of what was", said.inputs)[0])
    assert squares[1] == pytest.approx(share * loose, rel=0.05)


def test_the_basket_for_scripts(command):
    answer = found("basket").json
    assert {"chosen", "saved_s", "price", "currency", "proved_optimal"} <= set(answer)
    assert answer["price"] <= answer["cash"] <= answer["budget"] == 600
    assert answer["objective"] == "net worth"
    assert answer["races_counted"] == answer["races_hired"] == 8
    assert answer["net_worth"] == pytest.approx(20 * answer["saved_s"] - answer["cost"])
    assert answer["at_price_alone"]["chosen"] != answer["chosen"]
    assert answer["proved_optimal"]
    assert answer["gap_s"] <= 0.05
    ladder = answer["ladder"]
    assert [step["saved_s"] for step in ladder] == sorted(step["saved_s"] for step in ladder)
    assert answer["chosen"] in [step["chosen"] for step in ladder]
    runner_up = answer["runner_up"]
    assert 20 * runner_up["saved_s"] - runner_up["cost"] <= answer["net_worth"]
    singles = found("value").json["options"]
    alone = {one["name"]: one["saved_s"] for one in singles}
    costs = {one["name"]: (one["cost"], one["basis"]) for one in singles}
    for option in answer["options"]:
        assert option["saved_alone_s"] == alone[option["name"]]
        assert (option["cost"], option["basis"]) == costs[option["name"]]


def test_most_seconds_in_place_of_net_worth(command):
    """Of a wide budget all of it that saves a second, and what is worth its cost alone."""
    wide = ("basket", "--budget", "3000 EUR", "--no-ladder")
    worth = found(*wide).json
    most = found(*wide, "--most-seconds").json
    assert (worth["objective"], most["objective"]) == ("net worth", "seconds")
    assert (worth["proved_optimal"], most["proved_optimal"]) == (True, True)
    assert most["net_worth"] is None
    assert most["saved_s"] > worth["saved_s"]
    assert 20 * most["saved_s"] - most["cost"] < worth["net_worth"]
    assert "Yttelan pulley cage" in set(most["chosen"]) - set(worth["chosen"])


def test_no_budget_is_needed_where_a_second_has_a_worth(racecalc):
    assert racecalc("new", "mine")[0] == 0
    flags = ("--price-per-second", "20 EUR", "--no-ladder", "--json")
    answer = json.loads(racecalc("basket", "mine/race.toml", *flags)[1])
    assert answer["budget"] is None
    assert answer["net_worth"] == pytest.approx(20 * answer["saved_s"] - answer["cost"])


def test_claims_without_a_doubt_are_named(command):
    # Without the suit the budget reaches for what states no doubt.
    _, out, _ = command("basket", "--no-ladder", "--without", "Brinnoth Lowtide suit")
    words = " ".join(out.split())
    assert "No doubt stated, counted as the maker claims: Tollimar coated shoe covers." in words
    assert "The runner-up counts no claim without a stated doubt." in words
    assert "(?) s for 319 EUR" in out.splitlines()[0]


def test_names_and_money_as_people_write_them(command):
    """Numbers, small letters, parts, "+" without spaces; the one currency of the file."""
    plain = command("breakeven", "--option", "Ostrewyn Ripple suit", "--price-per-second", "9 EUR")
    for name, price in (("3", "9"), ("ostrewyn ripple SUIT", "€9"), ("ripple", "EUR 9")):
        assert command("breakeven", "--option", name, "--price-per-second", price) == plain
    joined = ("against", "ripple+calm", "knit", "--set", "course.step=100 m")
    spelled = ("against", "Ostrewyn Ripple suit + Fenzarra Calm tyres", "Vaskelle knit shoe covers")
    assert command(*joined) == command(*spelled, *joined[3:])
    status, _, error = command("breakeven", "--option", "suit")
    assert status == 2
    assert "is a part of Brinnoth Lowtide suit, Ostrewyn Ripple suit; write more" in error


def test_what_could_overturn_the_set_is_on_the_first_screen():
    basket = found("basket", "--no-ladder", "--at-least", "100 s")
    words = " ".join(basket.text().split())
    assert "Best chance found of saving at least 100 s for at most 600 EUR: 24 %." in words
    assert "Left out, as no doubt is stated: Tollimar coated shoe covers." in words
    assert "Not tested together: Pads 2 cm lower and 2 more; they may miss their sum" in words
    assert "Check the rules: Pads 2 cm lower" in words
    # From 5 % less than the sum on one must know at once; 88 s of 93 s are nearer.
    assert "The sum of each alone" not in words
    apart = replace(basket.answer, found=replace(basket.answer.found, sum_of_single_s=97.0))
    words = " ".join(sheet_text(basket_sheet(apart, "metric"), Depth.ANSWER).split())
    assert "The sum of each alone is +97 s; together they save +88 s." in words
    assert "counts instead of the parts: Both Vaskelle covers and Lowtide suit." in words


@pytest.mark.xdist_group("basket race.toml")
def test_more_money_is_a_table_and_a_chart_in_the_details():
    basket = answered("basket", "race.toml")
    first, details = basket.text(), basket.text(Depth.DETAILS)
    # (32 + 119 + 24.14 + 50.67 - 130.81) / 13.6 s: the covers of 119 in the place of those of 24.
    assert "With more money: +102 s for 609 EUR, 6.99 EUR for each further second." in first
    assert "What more money buys" not in first
    told = " ".join(details.split("What more money buys")[1].split())
    # (982 - 130.81) / (118.5 - 88.4) s beyond the chosen set.
    assert "1999 982 +118.5 28 + Yttelan pulley cage" in told
    assert "172 48 +57.4 cheaper + Fenzarra Calm tyres, - Hot-waxed chain" in told
    assert "seconds saved" in told
    assert "Pellimar long cuffs it is worth less than the 1 W you want of it" in told


def test_the_rules_keep_an_option_out(command):
    changes = ("--set", "option.Hot-waxed chain.rules=forbidden")
    answer = found("basket", "--no-ladder", *changes).json
    assert "Hot-waxed chain" not in answer["chosen"]
    assert {"name": "Hot-waxed chain", "because": "the rules forbid it"} in answer["left_out"]


def test_hired_for_a_season_or_for_a_race(command):
    once = ("--races", "1", "--require", "Dunquill deep front wheel", "--no-ladder")
    wheel = found("basket", *once).json["options"]
    (deep,) = [one for one in wheel if one["name"] == "Dunquill deep front wheel"]
    # Of 40 races one: (540 - 260) / 40.
    assert (deep["by"], deep["cost"], deep["cash"]) == ("bought", 7, 540)
    answer = found("basket", "--budget", "1500 EUR", *once[2:]).json
    (deep,) = [one for one in answer["options"] if one["name"] == "Dunquill deep front wheel"]
    assert (deep["by"], deep["cost"], answer["races_hired"]) == ("bought", 56, 8)


def test_what_is_cheaper_to_hire_is_hired(command):
    """The covered wheel states no life: 8 x 60 of hire against 890."""
    flags = ("--require", "Dunquill covered rear wheel", "--no-ladder")
    answer = found("basket", *flags).json
    (deep,) = [one for one in answer["options"] if one["name"] == "Dunquill covered rear wheel"]
    assert (deep["by"], deep["basis"], deep["cost"]) == ("hired", "hired", 480)
    assert (deep["cash"], deep["price"]) == (480, 480)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("basket", "--budget", "600 CHF"), "one is in CHF, the other in EUR"),
        (("basket", "--budget", "600 kr"), "--budget: the sign 'kr'"),
        (("basket", "--budget", "-600 EUR"), "--budget: '-600 EUR' is not a price"),
        (("basket", "--require", "Hot wax"), "no option 'Hot wax'; did you mean 'Hot-waxed chain'"),
        (("basket", "--without", "Socks"), "--without: there is no option 'Socks'"),
        (("basket", "--at-least", "soon"), "--at-least:"),
        (
            ("basket", "--budget", "5 EUR", "--require", "Hot-waxed chain"),
            "no set of options meets all conditions",
        ),
        (
            ("basket", "--require", "Hot-waxed chain", "--without", "Hot-waxed chain"),
            "'Hot-waxed chain' cannot be chosen: you leave it out",
        ),
        (("breakeven",), "no option is named"),
        (("breakeven", "--option", "Socks"), "--option: there is no option 'Socks'"),
        (
            ("breakeven", "--option", "Hot-waxed chain", "--mass", "5 g"),
            "--mass: the option states it already",
        ),
        (("breakeven", "--option", "Hot-waxed chain", "--holds", "70 %"), "is not a position"),
        (("breakeven", "--mass", "5 g", "--holds", "0 %"), "is not a share of the time"),
        (("breakeven", "--mass", "850"), "--mass:"),
        (("value", "--round", "nowhere.toml"), "there is no such file"),
    ],
)
def test_what_will_not_do(command, arguments: tuple[str, ...], message: str):
    status, out, err = command(*arguments)
    assert (status, out) == (2, "")
    assert message in err
    assert len(err.splitlines()) == 1


@pytest.mark.parametrize(
    ("changes", "names", "message"),
    [
        ((), "Ostrewyn Ripple suit + Pellimar long cuffs", "cannot be used together with"),
        (
            ('option.Hot-waxed chain.needs=["Yttelan pulley cage"]',),
            "Hot-waxed chain + Pellimar long cuffs",
            "'Hot-waxed chain' needs 'Yttelan pulley cage'",
        ),
        (
            ("option.Pellimar long cuffs.holds=70 %",),
            "Pads 2 cm lower + Pellimar long cuffs",
            "only one can be held at a time",
        ),
    ],
)
def test_a_set_must_be_usable(command, changes: tuple[str, ...], names: str, message: str):
    flags = [part for change in changes for part in ("--set", change)]
    status, _, err = command("value", "--together", names, *flags)
    assert status == 2
    assert message in err


def test_a_tested_part_counts_alike_in_value_and_basket(command):
    names = ["Brinnoth Lowtide suit", "Vaskelle knit shoe covers", "Hot-waxed chain"]
    joint = found("value", "--together", " + ".join(names)).json["sets"][0]
    flags = [part for name in names for part in ("--require", name)]
    basket = found("basket", "--budget", "414 EUR", *flags, "--no-ladder").json
    free = {"Pads 2 cm lower", "One bottle left at home"}
    assert set(basket["chosen"]) == {*names, *free}
    assert joint["tested"] == ["Both Vaskelle covers and Lowtide suit"]
    assert not joint["wholly_tested"]
    assert joint["saved_s"] < joint["by_parts_s"] - 4


def test_json_is_all_that_a_pipe_gets(tmp_path):
    """The module in a process of its own: compiled libraries print past the streams of this one."""
    words = ("basket", race_file(tmp_path, SMALL), "--json", "--budget", "1200 EUR")
    done = subprocess.run(
        [sys.executable, "-m", "racecalc", *words], capture_output=True, text=True, check=True
    )
    assert json.loads(done.stdout)["chosen"]


def test_no_budget_anywhere(racecalc):
    assert racecalc("new", "mine")[0] == 0
    status, _, err = racecalc("basket", "mine/race.toml")
    assert status == 2
    assert "no budget is given; add --budget" in err


def test_break_even_for_scripts(command):
    answer = found("breakeven", "--option", "Dunquill deep front wheel").json
    value = found("value").json["options"]
    (wheel,) = [one for one in value if one["name"] == "Dunquill deep front wheel"]
    rows = {row["reason"]: row for row in answer["break_evens"]}
    assert rows["its weight"]["watts_w"] == pytest.approx(wheel["break_even_w"])
    cost = rows["its weight and its cost, 56 EUR at 20 EUR per second"]
    assert cost["watts_w"] == pytest.approx(wheel["break_even_price_w"])
    assert (answer["cost"], answer["basis"], answer["races_counted"]) == (56, "bought", 8)
    assert answer["saved_s"] == pytest.approx(wheel["saved_s"])
    assert len(answer["curve"]) > 10


def test_the_cost_of_a_race_for_scripts(command):
    options = found("value").json["options"]
    by_name = {one["name"]: one for one in options}
    suit = by_name["Brinnoth Lowtide suit"]
    assert suit["cost_of_use"]["per_race"] == pytest.approx((290 - 50) / 60)
    assert suit["price_per_second_of_a_race"]["at"] == pytest.approx(4 / suit["saved_s"])
    assert (suit["cost"], suit["basis"], suit["price"]) == (pytest.approx(32), "bought", 290)
    assert suit["cost_per_second"] == pytest.approx(32 / suit["saved_s"])
    assert suit["price_ceiling"]["at"] == pytest.approx(20 * suit["saved_s"])
    pads = by_name["Pads 2 cm lower"]
    assert pads["holding"]["share"] == pytest.approx(0.85)
    assert pads["power_change_w"] == pytest.approx(-0.85)
    assert pads["power_s"] < 0
    assert by_name["Pellimar long cuffs"]["enough"] is False


def test_a_season_adds_up(command):
    rounds = ("--round", "flat_round.toml")
    answer = found("value", *rounds).json
    alone = {one["name"]: one["saved_s"] for one in answer["options"]}
    for one in answer["season"]:
        assert one["saved_s"][0] == pytest.approx(alone[one["name"]])
        assert one["total_s"] == pytest.approx(sum(one["saved_s"]))
        if one["price_per_second"]:
            assert one["price_per_second"] == pytest.approx(one["to_pay"] / one["total_s"])
            assert one["cost_per_second"] == pytest.approx(one["cost"] / (one["total_s"] / 2))


def test_how_holding_in_part_arises(command):
    _, out, _ = command("value", "--explain", "Pads 2 cm lower")
    words = " ".join(out.split())
    assert "held 95 %, 85 %, 75 % of the time, from start to finish" in words
