"""The set in use: every answer starts from it, against races with the same values written out."""

import json
import math
from pathlib import Path

import pytest

from racecalc.decisions.basket.basket import basket_of
from racecalc.decisions.basket.candidates import Slopes, candidates_of
from racecalc.decisions.value import OptionValue, value_of, value_of_set, values_of
from racecalc.decisions.worth import exchange, ride_in_use
from racecalc.domain.loading import load_race
from racecalc.errors import InputError
from racecalc.quantities.money import read_money
from tests.advice.races import race_in, race_text

OPTIONS = """
[[option]]
name = "Suit"
slot = "suit"
price = "200 EUR"
saves = "0.005 m^2"
doubt = "0.001 m^2"
[[option]]
name = "Other suit"
slot = "suit"
price = "300 EUR"
saves = "0.006 m^2"
doubt = "0.002 m^2"
needs = ["Zip"]
[[option]]
name = "Zip"
price = "5 EUR"
saves = "0.0002 m^2"
doubt = "0.0001 m^2"
[[option]]
name = "Covers"
price = "50 EUR"
saves = "0.003 m^2"
doubt = "0.001 m^2"
[[option]]
name = "Suit and covers"
set_of = ["Suit", "Covers"]
saves = "0.007 m^2"
doubt = "0.0015 m^2"
"""
AREA = 0.24
SHARE = 1.0 - 0.007 / (0.005 + 0.003)
"""By how much the suit and its covers fell short of their sum in their test."""


def race(folder: Path, *use: str, cda: float = AREA, options: str = OPTIONS):
    names = ", ".join(f'"{name}"' for name in use)
    text = race_text(options, money="").replace("[rider]", f"use = [{names}]\n[rider]")
    return load_race(race_in(folder, text.replace('cda = "0.24 m^2"', f'cda = "{cda:.4f} m^2"')))


@pytest.fixture
def time_at(tmp_path: Path):
    """Time of the race with a drag area written into the file and nothing in use."""
    return lambda cda: ride_in_use(race(tmp_path, cda=cda)).time


def value(folder: Path, name: str, *use: str) -> OptionValue:
    base = ride_in_use(race(folder, *use))
    (option,) = [one for one in base.race.options if one.name == name]
    return value_of(base, option)


def test_the_set_in_use_is_ridden(tmp_path: Path, time_at) -> None:
    base = ride_in_use(race(tmp_path, "Suit"))
    assert base.time == pytest.approx(time_at(AREA - 0.005), abs=1e-6)
    assert base.bare.time == pytest.approx(time_at(AREA), abs=1e-6)


def test_a_test_of_a_set_in_use_counts_instead_of_its_parts(tmp_path: Path, time_at) -> None:
    base = ride_in_use(race(tmp_path, "Suit", "Covers"))
    assert base.time == pytest.approx(time_at(AREA - 0.007), abs=1e-6)


def test_what_shares_a_slot_is_replaced_and_what_is_needed_comes(tmp_path: Path, time_at) -> None:
    found = value(tmp_path, "Other suit", "Suit")
    change = found.worth.exchange
    assert (change.replaces, change.brings, change.in_use) == (("Suit",), ("Zip",), False)
    saved = time_at(AREA - 0.005) - time_at(AREA - 0.006 - 0.0002)
    assert found.saved_s == pytest.approx(saved, abs=1e-6)
    # Each of the three states its doubt, and none is shared by both sides; what is more in the air
    # than the suit was may disturb it.
    seconds = (time_at(AREA) - time_at(AREA - 0.001)) / 0.001
    doubt = seconds * math.hypot(0.001, 0.002, 0.0001, SHARE * 0.0012)
    assert found.worth.doubt_s == pytest.approx(doubt, rel=0.02)


def test_what_is_needed_and_in_use_stays_in_its_slot(tmp_path: Path, time_at) -> None:
    slotted = OPTIONS.replace('name = "Zip"', 'name = "Zip"\nslot = "fastener"')
    base = ride_in_use(race(tmp_path, "Suit", "Zip", options=slotted))
    (other,) = [one for one in base.race.options if one.name == "Other suit"]
    found = value_of(base, other)
    assert (found.exchange.replaces, found.exchange.brings) == (("Suit",), ())
    saved = time_at(AREA - 0.0052) - time_at(AREA - 0.0062)
    assert found.saved_s == pytest.approx(saved, abs=1e-6)


def test_what_is_in_use_shows_what_leaving_it_loses(tmp_path: Path, time_at) -> None:
    found = value(tmp_path, "Suit", "Suit")
    assert found.worth.exchange.in_use
    assert found.saved_s == pytest.approx(time_at(AREA) - time_at(AREA - 0.005), abs=1e-6)
    assert found.option.to_pay == 0.0


def test_half_of_a_tested_set_in_use_gains_the_rest_of_it(tmp_path: Path, time_at) -> None:
    found = value(tmp_path, "Covers", "Suit")
    saved = time_at(AREA - 0.005) - time_at(AREA - 0.007)
    assert found.saved_s == pytest.approx(saved, abs=1e-6)


def test_leaving_what_others_need_leaves_them_too(tmp_path: Path, time_at) -> None:
    found = value(tmp_path, "Zip", "Other suit", "Zip")
    saved = time_at(AREA) - time_at(AREA - 0.0062)
    assert found.saved_s == pytest.approx(saved, abs=1e-6)


def test_a_set_against_the_set_in_use(tmp_path: Path, time_at) -> None:
    base = ride_in_use(race(tmp_path, "Suit"))
    options = tuple(one for one in base.race.options if one.name in {"Other suit", "Covers"})
    found = value_of_set(base, options, base.race.tested_sets)
    saved = time_at(AREA - 0.005) - time_at(AREA - 0.009)
    assert found.saved_s == pytest.approx(saved, abs=1e-6)
    assert float(found.price.amount) == 350.0


def test_draws_of_all_doubts_agree_with_first_order(tmp_path: Path) -> None:
    path = tmp_path / "canal.toml"
    race(tmp_path, "Suit")
    path.write_text(path.read_text("utf-8").replace('"250 W"', '"250 W"\npower_doubt = "2 W"'))
    base = ride_in_use(load_race(path))
    for found in values_of(base, base.race.single_options):
        low, high = found.saving[1:]
        assert 0.5 * (high - low) == pytest.approx(1.96 * found.worth.doubt_s, rel=0.05)


def basket(folder: Path, *use: str, without: tuple[str, ...] = ()):
    base = ride_in_use(race(folder, *use))
    candidates = candidates_of(
        base, base.race.single_options, base.race.tested_sets, without=without
    )
    return basket_of(Slopes(candidates), read_money("300 EUR"))


def test_a_basket_starts_from_the_set_in_use_and_may_replace(tmp_path: Path, time_at) -> None:
    """300 EUR buy other suit, zip and covers no more; the owned suit with covers saves most."""
    found = basket(tmp_path, "Suit")
    assert set(found.chosen) == {"Suit", "Zip", "Covers"}
    saved = time_at(AREA - 0.005) - time_at(AREA - 0.007 - 0.0002)
    assert found.saved_s == pytest.approx(saved, abs=1e-6)
    assert float(found.price.amount) == 55.0
    # The doubt of the suit cancels only while its test alone counts; here that of the set does.
    seconds = (time_at(AREA) - time_at(AREA - 0.001)) / 0.001
    doubt = math.hypot(0.0015, 0.001, 0.0001, SHARE * (0.0072 - 0.005))
    assert found.doubt_s == pytest.approx(seconds * doubt, rel=0.02)


def test_what_stays_in_a_basket_has_no_doubt(tmp_path: Path, time_at) -> None:
    found = basket(tmp_path, "Suit", without=("Suit and covers",))
    assert "Suit" in found.chosen
    seconds = (time_at(AREA) - time_at(AREA - 0.001)) / 0.001
    doubt = math.hypot(0.001, 0.0001, SHARE * 0.0032)
    assert found.doubt_s == pytest.approx(seconds * doubt, rel=0.02)


def test_advice_and_decide_start_from_it(racecalc, tmp_path: Path) -> None:
    race(tmp_path)
    use = ("--use", "Suit", "--json")
    money = ("--price-per-second", "20 EUR")
    value, advice = (
        json.loads(racecalc(name, tmp_path / "canal.toml", *more, *use)[1])
        for name, more in (("value", money), ("advice", (*money, "--budget", "300 EUR")))
    )
    decide = json.loads(
        racecalc("decide", "canal.toml", *money, "--repeatability", "0.002 m^2", *use)[1]
    )
    assert value["use"] == advice["use"] == ["Suit"]
    now = value["baseline_time_s"]
    assert now == advice["value"]["baseline_time_s"] < value["no_options_time_s"]
    assert advice["time"]["use"] == ["Suit", "Zip", "Covers"]
    assert now - advice["basket"]["saved_s"] == pytest.approx(advice["time"]["time_s"], abs=1e-6)
    because = {one["name"]: one["reason"] for one in decide["not_judged"]}
    assert because["Suit"].startswith("it is in use")
    does = {one["name"]: one["do"] for one in advice["advised"]}
    assert does["Suit"] == "use"
    assert does["Other suit"] == "leave"


def test_nothing_in_use_changes_nothing(tmp_path: Path) -> None:
    base = ride_in_use(race(tmp_path))
    assert base.bare is base
    (suit, *_) = base.race.options
    assert exchange(base.race, [suit]).having == ("Suit",)


@pytest.mark.parametrize(
    ("use", "problem"),
    [
        (("Suit", "Other suit", "Zip"), "two options of the slot 'suit'"),
        (("Other suit",), "'Other suit' needs 'Zip'"),
        (("Shoes",), "there is no option 'Shoes'"),
        (("Suit and covers",), "there is no option 'Suit and covers'"),
        (("Suit", "Suit"), "'Suit' is named twice"),
    ],
)
def test_a_set_that_cannot_be_used_is_refused(tmp_path: Path, use, problem: str) -> None:
    with pytest.raises(InputError, match=r"race\.use") as caught:
        race(tmp_path, *use)
    assert problem in str(caught.value)


def test_value_names_what_goes_and_what_comes(racecalc, tmp_path: Path) -> None:
    race(tmp_path)
    words = " ".join(racecalc("value", tmp_path / "canal.toml", "--use", "Suit")[1].split())
    assert "In use: Suit; without any option the time is" in words
    assert "Saved by what is in use, lost by leaving it: Suit." in words
    assert "Other suit in the place of Suit with Zip." in words
    status, _, err = racecalc("value", tmp_path / "canal.toml", "--use", "Suit + Other suit")
    assert (status, "--use: two options of the slot 'suit'" in err) == (2, True)
