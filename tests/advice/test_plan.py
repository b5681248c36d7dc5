"""The plan is for the set that is advised, and its times are one clock."""

import json
import math
import re
import shlex
from pathlib import Path

import numpy as np
import pytest

from racecalc.answers.sheet import Depth
from racecalc.decisions.advice.advice import Advice, advise
from racecalc.decisions.doubt import time_band
from racecalc.decisions.worth import ride_in_use
from racecalc.domain.loading import load_race
from racecalc.quantities.clock import read_duration, show_duration
from racecalc.views.advice import PageRequest, advice_on
from racecalc.views.width import columns_of
from racecalc.views.writers.terminal import sheet_text
from tests.advice.races import CLAIM, DEEP, FREE, SUIT, race_in, race_text
from tests.answered import answered

BETTER = SUIT.replace('"Suit"', '"Better suit"').replace("0.006", "0.010")
COVERS = SUIT.replace('"Suit"', '"Covers"').replace('slot = "suit"', 'slot = "shoes"')
PROMISE = '[[option]]\nname = "Both"\nset_of = ["Suit", "Covers"]\nsaves = "0.03 m^2"\n'
CHAIN = (
    '[[option]]\nname = "Chain"\nprice = "9 EUR"\nsaves = "3 W at 250 W"\ndoubt = "1 W at 250 W"\n'
)


HEDGES = '[[course.section]]\nfrom = "5 km"\nto = "12 km"\nshelter = "10 %"\n'
WINDY = race_text("{}", more=HEDGES, air='wind_at_rider = "7 m/s"\nwind_from = "90 deg"')
"""A road on which a card gains: half of it is behind hedges, the rest against the wind."""


def using(*names: str) -> str:
    return f"race.use={json.dumps(names)}"


def advised(folder: Path, text: str, *changes: str) -> Advice:
    return advise(load_race(race_in(folder, text), changes))


def page(folder: Path, text: str, *changes: str, depth: Depth = Depth.ANSWER) -> str:
    sheet = advice_on(race_in(folder, text), PageRequest(changes=changes))[1]
    with columns_of(1000):
        return sheet_text(sheet, depth)


def written_out(folder: Path, *changes: str):
    """The race with values written into the file and nothing in use."""
    return ride_in_use(load_race(race_in(folder, race_text(), "plain.toml"), changes))


# --- The set that is ridden ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("options", "use", "area"),
    [
        ((SUIT,), (), "0.234 m^2"),
        ((SUIT, BETTER), ("Suit",), "0.230 m^2"),
        ((SUIT, COVERS), ("Suit",), "0.228 m^2"),
        # A promise that no doubt backs is not believed: the parts add up instead.
        ((SUIT, COVERS, PROMISE), (), "0.228 m^2"),
        # What is in use is as fast as today's time has it.
        ((SUIT, COVERS, PROMISE), ("Suit", "Covers"), "0.210 m^2"),
    ],
)
def test_time_today_less_the_saving_is_the_time_of_the_plan(
    tmp_path: Path, options, use, area: str
) -> None:
    advice = advised(tmp_path, race_text(*options), using(*use))
    even, saved = advice.plan.even.time, advice.shopping.basket.saved_s
    assert advice.base.time - saved == pytest.approx(even, abs=1e-6)
    assert even == pytest.approx(written_out(tmp_path, f'bike.cda="{area}"').time, abs=1e-6)


def test_what_is_unsafe_is_not_in_the_plan_though_it_is_in_use(tmp_path: Path) -> None:
    storm = 'wind_at_rider = "14.5 m/s"\nwind_from = "0 deg"'
    text = race_text(DEEP, air=storm)
    advice = advised(tmp_path, text, using("Deep wheel"))
    bare = ride_in_use(load_race(race_in(tmp_path, text)))
    assert advice.base.time < advice.plan.even.time == pytest.approx(bare.time, abs=1e-6)
    assert "no option in use" in page(tmp_path, text, using("Deep wheel"))


def test_the_card_is_that_of_the_race_with_the_set_written_out(tmp_path: Path) -> None:
    """A position that costs 3 W for half of the time leaves 248.5 W on the meter, by hand."""
    held = 'holds = ["50 %"]\npower_loss = "3 W"\nsaves'
    # The areas of a position held in part are no plain mean, so nothing but power is at stake.
    position = FREE.replace("saves", held).replace("0.004", "0.02").replace("0.003", "0.001")
    advice = advised(tmp_path, race_text(position))
    assert advice.plan.even.race.rider.power == pytest.approx(248.5)
    area = advice.plan.even.race.bike.cda.area[0]
    changes = (f'bike.cda="{area!r} m^2"', 'rider.power="248.5 W"')
    other = advised(tmp_path, race_text(), *changes)
    assert advice.card is not None
    assert other.card is not None
    assert [one.power_w for one in advice.card.targets] == [
        one.power_w for one in other.card.targets
    ]
    assert advice.card.power_mean_w < 248.5 + 1e-6
    assert advice.card.time_s == pytest.approx(other.card.time_s, abs=1e-6)


# --- One clock -----------------------------------------------------------------------------------


@pytest.mark.xdist_group("advice race.toml")
def test_every_clock_of_the_plan_is_one() -> None:
    found = answered("advice", "race.toml")
    text, keys = " ".join(found.text().split()), found.json
    clock = show_duration(keys["advised_set_s"])
    assert keys["advised_set_s"] == keys["pace"]["time_s"]
    assert text.count(clock) == 2  # the answer, and the finish of the plan
    rows = re.findall(r"^ *[\d.]+ +([\d:]+)  Finish$", found.text(), flags=re.MULTILINE)
    assert rows == [clock]
    low, high = show_duration(keys["advised_set_s_low"]), show_duration(keys["advised_set_s_high"])
    assert f"{low} to {high} in 95 of 100 cases, by the doubt of model and options" in text


@pytest.mark.xdist_group("advice race.toml")
def test_times_are_to_the_second_and_doubts_are_intervals() -> None:
    everything = answered("advice", "race.toml").text(Depth.BASIS)
    assert not re.search(r"\+-|\+/-|±|give or take|\d:\d\d\.\d", everything)
    assert not re.search(r"about \d+:\d\d", everything)
    assert "not in the card" not in everything


@pytest.mark.xdist_group("advice race.toml")
def test_times_lead_from_today_to_the_plan_and_add_up() -> None:
    """By hand from what is printed: each time is faster by what its line says."""
    text = " ".join(answered("advice", "race.toml").text().split())
    found = re.search(
        r"([\d:]+) as you are, one even power, \d+ W"
        r" ([\d:]+) ride the plan: (\d+) s faster, same effort"
        r" ([\d:]+) with the six changes: (\d+) s faster, for 538 EUR \(budget 600\)"
        r".* less than their sum \+(\d+) ",
        text,
    )
    assert found
    today, by_card, plan = (read_duration(found[at]) for at in (1, 2, 4))
    assert today - by_card == float(found[3])
    assert by_card - plan == float(found[5]) == float(found[6])


@pytest.mark.xdist_group("advice race.toml")
def test_todays_bike_by_the_card_is_as_hard_and_near_a_card_of_its_own() -> None:
    """``pace`` makes the best card for that bike: theirs is no faster, and within some seconds."""
    keys = answered("advice", "race.toml").json
    own = answered("pace", "race.toml").json["time_s"]
    assert own - 0.5 <= keys["as_you_are_by_card_s"] <= own + 3.0


@pytest.mark.parametrize("saves", ["0.006", "0.0064", "0.0068"])
def test_seconds_faster_are_those_between_the_times(tmp_path: Path, saves: str) -> None:
    """On a flat road without wind the card gains next to nothing: the set is all there is."""
    words = page(tmp_path, race_text(SUIT.replace("0.006", saves)))
    plan = re.search(r"([\d:]+)  with the one change: (\d+) s faster, for 100 EUR", words)
    today = re.search(r"([\d:]+)  as you are, one even power, 250 W", words)
    assert plan
    assert today
    between = read_duration(today[1]) - read_duration(plan[1])
    assert between == float(plan[2])
    row = re.search(r"Suit +buy +\+(\d+) +(\d+) to (\d+) ", words)
    assert row
    assert between == pytest.approx(float(row[1]), abs=1.0)
    assert float(row[2]) < between < float(row[3])


def test_nothing_is_said_of_today_where_nothing_else_is_advised(tmp_path: Path) -> None:
    words = page(tmp_path, race_text(SUIT), using("Suit"))
    assert "as you are" not in words
    assert "faster" not in words.partition("How sure")[0]
    assert "in 95 of 100 cases, by the doubt of model and options" in words


# --- Today's bike, as hard -----------------------------------------------------------------------


@pytest.mark.xdist_group("advice race.toml")
def test_today_is_as_hard_as_the_card() -> None:
    """The 4th-power mean of the watts pedalled, over time, worked out here.

    The pads are held for 95, 85 and 75 % of the time and cost 1 W: 261.15 W of 262 W are left.
    """
    advice = answered("advice", "race.toml").answer.advice
    today, card = advice.plan.today, advice.plan.pacing.ridden
    today_mean, card_mean = (
        np.average(one.pedalled**4, weights=one.step_time) ** 0.25 for one in (today, card)
    )
    assert today_mean / card_mean == pytest.approx(262.0 / 261.15, abs=1e-4)
    again = advice.base.variant(advice.race.with_power(float(today.power[0])))
    assert again.time == pytest.approx(today.time, abs=1e-6)


def test_the_mean_is_said_as_one_number_or_with_what_the_set_costs(tmp_path: Path) -> None:
    alike = page(tmp_path, WINDY.format(SUIT), depth=Depth.DETAILS)
    assert "as hard as the card (4th-power mean 250 W for both)" in alike
    position = FREE.replace("saves", 'power_loss = "3 W"\nsaves').replace("0.004", "0.02")
    words = page(tmp_path, WINDY.format(position), depth=Depth.DETAILS)
    assert "as hard as the card, since the set costs 3 W (4th-power mean 250 and 247 W)" in words
    hub = page(tmp_path, WINDY.format(CHAIN), 'bike.power_at="hub"', depth=Depth.DETAILS)
    assert "since the set gives 3 W" in hub


# --- The power that can be held ------------------------------------------------------------------

ABLE = 'power = "250 W"\ncritical_power = "205 W"\nwork_above_critical = "30 kJ"'


def test_power_is_judged_for_the_ride_that_is_advised(tmp_path: Path) -> None:
    """Monod and Scherrer 1965 (form from memory): P = CP + W'/t, t that of the advised ride."""
    big = SUIT.replace("0.006", "0.03")
    advice = advised(tmp_path, race_text(big).replace('power = "250 W"', ABLE))
    power = advice.race.rider.power
    assert power == math.floor(205.0 + 30e3 / advice.plan.even.time)
    assert 205.0 + 30e3 / advice.base.time < power + 0.5
    faster = advised(
        tmp_path, race_text(big.replace("0.03", "0.06")).replace('power = "250 W"', ABLE)
    )
    assert faster.race.rider.power > power


@pytest.mark.parametrize("power_at", ["hub", "cranks"])
def test_what_can_be_held_is_read_off_the_same_meter(tmp_path: Path, power_at: str) -> None:
    """A chain that passes 1.2 % more of the same legs shows that much more at the hub alone."""
    text = race_text(CHAIN).replace('power = "250 W"', ABLE.replace("205", "240"))
    race = advised(tmp_path, text, f'bike.power_at="{power_at}"').plan.even.race
    passed = (1.0 - race.bike.drivetrain_loss) / (1.0 - 0.025)
    assert passed > 1.01
    shown = passed if power_at == "hub" else 1.0
    assert race.rider.power == pytest.approx(250.0 * shown)
    assert race.rider.critical_power == pytest.approx(240.0 * shown)
    assert race.bare.rider.critical_power == pytest.approx(240.0)


# --- How sure the time is ------------------------------------------------------------------------


def test_the_interval_holds_model_and_set(tmp_path: Path) -> None:
    """By hand: 2.7 W (Martin et al. 1998) and 0.001 m^2 in seconds, by differences of rides."""
    advice = advised(tmp_path, race_text(SUIT))
    watt, area = (
        abs(
            written_out(
                tmp_path, f'bike.cda="{0.234 + area} m^2"', f'rider.power="{250 + power} W"'
            ).time
            - written_out(
                tmp_path, f'bike.cda="{0.234 - area} m^2"', f'rider.power="{250 - power} W"'
            ).time
        )
        for area, power in ((0.0, 1.35), (0.0005, 0.0))
    )
    low, high = advice.between_s
    assert 0.5 * (high - low) == pytest.approx(1.96 * math.hypot(watt, area), rel=2e-3)
    assert 0.5 * (high + low) == pytest.approx(advice.plan.ridden.time, abs=1e-6)


def test_stated_doubts_and_those_of_the_set_add_as_independent(tmp_path: Path) -> None:
    """By hand: 0.004 m^2 of the bike's own and 0.003 m^2 of the set are 0.005 m^2 in all."""
    unsure = SUIT.replace('doubt = "0.001 m^2"', 'doubt = "0.003 m^2"')
    doubted = load_race(
        race_in(tmp_path, race_text(unsure)), ('bike.cda_doubt="0.004 m^2"', using("Suit"))
    )
    set_band = time_band(ride_in_use(doubted), 200_000)
    plain = written_out(tmp_path, 'bike.cda="0.234 m^2"', 'bike.cda_doubt="0.005 m^2"')
    wanted = time_band(plain, 200_000).spread.standard_deviation_s
    assert set_band.spread.standard_deviation_s == pytest.approx(wanted, rel=0.01)
    shares = {cause.name: cause.share for cause in set_band.causes}
    assert shares["use"] / shares["cda"] == pytest.approx(9 / 16, rel=0.1)


def test_a_claim_in_a_set_has_no_doubt_to_count(tmp_path: Path) -> None:
    race = load_race(
        race_in(tmp_path, race_text(CLAIM)), ('rider.power_doubt="5 W"', using("Claimed covers"))
    )
    assert "use" not in {cause.name for cause in time_band(ride_in_use(race), 500).causes}


# --- To repeat it --------------------------------------------------------------------------------


def test_commands_ride_the_set_without_tests_that_are_not_believed(
    tmp_path: Path, racecalc
) -> None:
    answer, _ = advice_on(race_in(tmp_path, race_text(SUIT, COVERS, PROMISE)), PageRequest())
    _, _, *words = shlex.split(answer.provenance.commands["time"])
    found = json.loads(racecalc("time", tmp_path / words[0], *words[1:], "--json")[1])
    assert found["use"] == ["Suit", "Covers"]
    assert found["time_s"] == pytest.approx(answer.advice.plan.even.time, abs=1e-9)
