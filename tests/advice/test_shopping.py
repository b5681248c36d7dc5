"""What is advised about options: the best set that may be bought, and what is held back."""

from itertools import combinations
from pathlib import Path

import pytest

from racecalc.answers.advice_squad import SquadAdvice, in_a_row, squad_advice_sheet
from racecalc.answers.sheet import Depth
from racecalc.decisions.advice.advice import Advice, AdviceRequest, advise
from racecalc.decisions.information import Scatter
from racecalc.decisions.value import value_of_set
from racecalc.domain.loading import load_race
from racecalc.domain.option import read_saving
from racecalc.errors import InputError
from racecalc.quantities.money import read_money
from racecalc.views.writers.terminal import sheet_text
from tests.advice.races import (
    CLAIM,
    DEEP,
    FREE,
    HEAVY,
    OWNED,
    SUIT,
    UNPROVED,
    race_in,
    race_text,
)


@pytest.fixture(autouse=True)
def no_card(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is to be bought does not hang on the card, which takes most of the time."""

    def none(*_: object) -> None:
        raise InputError("", "no card is made here")

    monkeypatch.setattr("racecalc.decisions.advice.advice.pace", none)


def advice_on(
    folder: Path, *options: str, request: AdviceRequest | None = None, **race: str
) -> Advice:
    return advise(
        load_race(race_in(folder, race_text(*options, **race))), request or AdviceRequest()
    )


def does(advice: Advice) -> dict[str, str]:
    return {one.name: one.do for one in advice.shopping.advised}


def because(advice: Advice, name: str) -> str:
    return next(one.because for one in advice.shopping.advised if one.name == name)


def test_every_kind_of_advice(tmp_path: Path) -> None:
    advice = advice_on(tmp_path, SUIT, CLAIM, UNPROVED, FREE, HEAVY, OWNED)
    assert does(advice) == {
        "Suit": "buy",
        "Claimed covers": "test",
        "Unproved gloves": "test",
        "Pads lower": "use",
        "Heavy wheel": "leave",
        "Owned race gloves": "use",
    }
    assert because(advice, "Owned race gloves") == "you have it"
    assert because(advice, "Claimed covers").startswith("no doubt is stated")
    assert because(advice, "Unproved gloves").startswith("not proved: a doubt of")
    assert because(advice, "Suit").endswith("and a second is worth 20 EUR to you")


def test_the_greatest_saving_stands_first(tmp_path: Path) -> None:
    assert list(does(advice_on(tmp_path, FREE, SUIT))) == ["Suit", "Pads lower"]


@pytest.mark.parametrize("per_second", [2, 8, 20, 60])
def test_set_is_the_one_worth_most_of_all_sets(tmp_path: Path, per_second: int) -> None:
    """Against every set, each solved as one: no bound, no integer program."""
    other = SUIT.replace('"Suit"', '"Dear suit"').replace("100 EUR", "400 EUR")
    other = other.replace("0.006", "0.008")
    tyres = '[[option]]\nname = "Tyres"\nprice = "90 EUR"\nsaves = "0.0004 of Crr"\n'
    tyres += 'doubt = "0.0001 of Crr"\n'
    both = (
        '[[option]]\nname = "Both"\nset_of = ["Suit", "Deep wheel"]\nsaves = "0.0065 m^2"\n'
        'doubt = "0.001 m^2"\n'
    )
    money = f'per_second = "{per_second} EUR"'
    advice = advice_on(tmp_path, SUIT, other, tyres, DEEP, HEAVY, both, money=money)
    base, single = advice.base, advice.race.single_options

    def worth(chosen: tuple[object, ...]) -> float:
        slots = [one.slot for one in chosen if one.slot]
        if len(set(slots)) < len(slots):
            return float("-inf")
        saved = value_of_set(base, chosen, advice.race.tested_sets).saved_s if chosen else 0.0
        return per_second * saved - sum(one.to_pay for one in chosen)

    every = [some for count in range(6) for some in combinations(single, count)]
    best = max(every, key=worth)
    bought = {one for one, do in does(advice).items() if do == "buy"}
    assert bought == {one.name for one in best}
    assert float(advice.shopping.basket.price.amount) == sum(one.to_pay for one in best)


def test_parts_that_spoil_each_other_are_not_both_bought(tmp_path: Path) -> None:
    covers = SUIT.replace('"Suit"', '"Covers"').replace('slot = "suit"', 'slot = "shoes"')
    spoiled = (
        '[[option]]\nname = "Both"\nset_of = ["Suit", "Covers"]\nsaves = "0.0062 m^2"\n'
        'doubt = "0.001 m^2"\n'
    )
    alone = advice_on(tmp_path, SUIT, covers)
    assert set(does(alone).values()) == {"buy"}
    together = does(advice_on(tmp_path, SUIT, covers, spoiled))
    assert sorted(together.values()) == ["buy", "leave"]


def test_budget_keeps_what_does_not_fit_out(tmp_path: Path) -> None:
    request = AdviceRequest(budget=read_money("60 EUR"))
    advice = advice_on(tmp_path, SUIT, FREE, request=request)
    assert does(advice) == {"Suit": "leave", "Pads lower": "use"}
    assert because(advice, "Suit") == "it does not fit the budget with the rest"


def test_without_any_word_on_money_nothing_is_advised_to_be_bought(tmp_path: Path) -> None:
    advice = advice_on(tmp_path, SUIT, FREE, money="")
    assert does(advice) == {"Suit": "weigh", "Pads lower": "use"}
    assert "the race file states neither a budget" in because(advice, "Suit")
    assert advice.decision is None


def test_wish_stands_above_the_file(tmp_path: Path) -> None:
    cheap = advice_on(tmp_path, SUIT, request=AdviceRequest(per_second=read_money("1 EUR")))
    assert does(cheap) == {"Suit": "leave"}


def test_wind_that_is_too_strong_comes_before_any_second(tmp_path: Path) -> None:
    calm = advice_on(tmp_path, DEEP)
    assert does(calm) == {"Deep wheel": "buy"}
    storm = advice_on(
        tmp_path, DEEP, air='wind_at_rider = "14.5 m/s"\nwind_from = "0 deg"', money=""
    )
    assert does(storm) == {"Deep wheel": "unsafe"}
    assert "too strong" in because(storm, "Deep wheel")
    assert storm.cautions[0].about == "Wind"
    breeze = advice_on(tmp_path, DEEP, air='wind_at_rider = "11.5 m/s"\nwind_from = "0 deg"')
    assert does(breeze) == {"Deep wheel": "unsafe"}


def test_option_that_cannot_be_worked_out_spoils_nothing(tmp_path: Path) -> None:
    wrong = '[[option]]\nname = "Wonder"\nprice = "1 EUR"\nsaves = "0.3 m^2"\ndoubt = "0.01 m^2"\n'
    advice = advice_on(tmp_path, SUIT, wrong)
    assert [one.name for one in advice.refused] == ["Wonder"]
    assert does(advice) == {"Suit": "buy"}


def test_what_the_rules_forbid_is_told_apart(tmp_path: Path) -> None:
    forbidden = SUIT.replace('rules = "allowed"', 'rules = "forbidden"')
    advice = advice_on(tmp_path, forbidden, FREE)
    assert does(advice)["Suit"] == "forbidden"
    assert because(advice, "Suit") == "the rules forbid it"


def test_small_gains_count_where_a_second_is_dear(tmp_path: Path) -> None:
    cap = '[[option]]\nname = "Cap"\nprice = "5 EUR"\nsaves = "0.0001 m^2"\ndoubt = "0.00001 m^2"\n'
    advice = advice_on(tmp_path, cap, money='per_second = "500 EUR"')
    assert does(advice) == {"Cap": "buy"}
    assert advice.shopping.basket is not None
    assert 0.0 < advice.shopping.basket.saved_s < 0.5


BETTER = """
[[option]]
name = "Better suit"
slot = "suit"
price = "120 EUR"
saves = "0.008 m^2"
doubt = "0.007 m^2"
rules = "allowed"
"""


def test_rival_waits_for_a_test_that_is_known_to_pay(tmp_path: Path) -> None:
    precise = AdviceRequest(scatters=(Scatter(read_saving("0.0005 m^2"), 0.0, "0.0005 m^2"),))
    advice = advice_on(tmp_path, SUIT, BETTER, request=precise)
    assert does(advice) == {"Better suit": "test", "Suit": "wait"}
    assert because(advice, "Suit") == "Better suit, which would replace it, is to be tested first"


def test_what_is_proved_is_bought_where_no_test_is_known_to_pay(tmp_path: Path) -> None:
    assert does(advice_on(tmp_path, SUIT, BETTER)) == {"Better suit": "test", "Suit": "buy"}


def test_what_needs_something_unsettled_waits(tmp_path: Path) -> None:
    needs = SUIT.replace('rules = "allowed"', 'needs = ["Unproved gloves"]')
    advice = advice_on(tmp_path, needs, UNPROVED)
    assert does(advice) == {"Suit": "wait", "Unproved gloves": "test"}
    assert because(advice, "Suit") == "it needs Unproved gloves, which is not settled yet"


@pytest.mark.parametrize("doubt", ["", 'doubt = "0.02 m^2"\n'])
def test_set_that_is_not_proved_does_not_count(tmp_path: Path, doubt: str) -> None:
    other = SUIT.replace('"Suit"', '"Covers"').replace('slot = "suit"', 'slot = "shoes"')
    claimed = f'[[option]]\nname = "Both"\nset_of = ["Suit", "Covers"]\nsaves = "0.03 m^2"\n{doubt}'
    advice = advice_on(tmp_path, SUIT, other, claimed)
    assert does(advice) == {"Suit": "buy", "Covers": "buy"}
    assert advice.shopping.excluded == ("Both",)
    assert advice.shopping.basket.saved_s < 35.0


def test_tested_set_is_found_behind_a_bare_claim_that_looks_better(tmp_path: Path) -> None:
    claim = CLAIM.replace("5 W at 45 km/h", "0.012 m^2")
    both = BOTH.replace("0.012", "0.014")
    advice = advice_on(tmp_path, SUIT, claim, both)
    assert does(advice) == {"Suit": "buy", "Claimed covers": "buy"}
    assert set(advice.shopping.required) == {"Suit", "Claimed covers"}


def test_no_drink_is_left_behind_in_the_heat(tmp_path: Path) -> None:
    bottle = FREE.replace('"Pads lower"', '"No bottle"').replace(
        "saves", 'mass = "-500 g"\nheat_limit = "25 degC"\nsaves', 1
    )
    assert does(advice_on(tmp_path, bottle)) == {"No bottle": "use"}
    hot = race_text(bottle).replace(
        'density = "1.2 kg/m^3"', 'temperature = "34 degC"\npressure = "1010 hPa"'
    )
    advice = advise(load_race(race_in(tmp_path, hot)))
    assert does(advice) == {"No bottle": "unsafe"}


def test_option_without_a_price_is_no_bad_buy(tmp_path: Path) -> None:
    unpriced = SUIT.replace('price = "100 EUR"\n', "")
    assert does(advice_on(tmp_path, unpriced, FREE))["Suit"] == "unpriced"


def test_budget_alone_buys_nothing_that_is_proved_too_small_to_matter(tmp_path: Path) -> None:
    tiny = SUIT.replace("0.006", "0.0001").replace("0.001", "0.0001").replace("100 EUR", "20 EUR")
    advice = advice_on(tmp_path, tiny, money='budget = "500 EUR"')
    assert does(advice) == {"Suit": "leave"}
    assert because(advice, "Suit").startswith("too little to matter")


def test_bare_claim_keeps_nobody_from_what_is_proved(tmp_path: Path) -> None:
    claim = CLAIM.replace("price", 'slot = "suit"\nprice', 1).replace("5 W", "9 W")
    assert does(advice_on(tmp_path, SUIT, claim)) == {"Claimed covers": "test", "Suit": "buy"}


def test_test_that_cannot_pay_is_not_advised(tmp_path: Path) -> None:
    dear = UNPROVED.replace("50 EUR", "5000 EUR")
    promise = CLAIM.replace("80 EUR", "9999 EUR")
    advice = advice_on(tmp_path, dear, promise)
    assert set(does(advice).values()) == {"leave"}
    assert "even the most that it may save" in because(advice, "Unproved gloves")
    poor = advice_on(tmp_path, UNPROVED, request=AdviceRequest(budget=read_money("10 EUR")))
    assert because(poor, "Unproved gloves").startswith("it does not fit the budget")


def test_free_things_that_may_as_well_cost_time_are_tested(tmp_path: Path) -> None:
    doubtful = FREE.replace("0.003", "0.02")
    assert does(advice_on(tmp_path, doubtful)) == {"Pads lower": "test"}
    claimed = FREE.replace('doubt = "0.003 m^2"', "")
    advice = advice_on(tmp_path, claimed)
    assert does(advice) == {"Pads lower": "test"}
    assert because(advice, "Pads lower").endswith("test it before you count on it")


BOTH = """
[[option]]
name = "Both"
set_of = ["Suit", "Claimed covers"]
saves = "0.012 m^2"
doubt = "0.0008 m^2"
"""


def test_bare_claim_is_bought_as_part_of_a_set_that_was_tested(tmp_path: Path) -> None:
    advice = advice_on(tmp_path, SUIT, CLAIM, BOTH)
    assert does(advice) == {"Suit": "buy", "Claimed covers": "buy"}
    assert advice.shopping.basket is not None
    assert advice.shopping.basket.tests_of_sets == ("Both",)
    assert advice.shopping.basket.saved_s_low is not None
    assert advice.only_together == (("Suit", "Claimed covers"),)
    told = "Tested only together. Use all or none of Suit and Claimed covers."
    rows = SquadAdvice((in_a_row(advice),))
    page = " ".join(sheet_text(squad_advice_sheet(rows, "metric"), Depth.ANSWER).split())
    assert told in page
    assert "1 race, " in page
    nobody = squad_advice_sheet(SquadAdvice((), ("bad.toml: wrong",)), "metric")
    assert nobody.headline == "No race could be worked out."
    known = advice_on(
        tmp_path, SUIT, CLAIM.replace("saves", 'doubt = "1 W at 45 km/h"\nsaves'), BOTH
    )
    assert known.shopping.basket.tests_of_sets == ("Both",)
    assert known.only_together == ()


def test_bare_claim_is_not_bought_where_its_set_is_not_worth_it(tmp_path: Path) -> None:
    spoiled = BOTH.replace("0.012", "0.0061")
    advice = advice_on(tmp_path, SUIT, CLAIM, spoiled)
    assert does(advice) == {"Suit": "buy", "Claimed covers": "test"}
    dear = SUIT.replace("100 EUR", "1000 EUR")
    assert does(advice_on(tmp_path, dear, CLAIM, BOTH))["Claimed covers"] == "test"


def test_what_is_needed_is_bought_with_what_needs_it(tmp_path: Path) -> None:
    adapter = '[[option]]\nname = "Adapter"\nprice = "30 EUR"\nmass = "+10 g"\n'
    needs = SUIT.replace('rules = "allowed"', 'needs = ["Adapter"]')
    advice = advice_on(tmp_path, needs, adapter)
    assert does(advice) == {"Suit": "buy", "Adapter": "buy"}
    assert because(advice, "Adapter") == "Suit cannot be used without it"
    saved, price = advice.shopping.basket.saved_s, 130.0
    assert f"costs {price / saved:.2f} EUR" in because(advice, "Suit")


def test_things_are_hired_for_so_many_races(tmp_path: Path) -> None:
    hired = SUIT.replace('price = "100 EUR"', 'price = "400 EUR"\nhire = "20 EUR"')
    money = 'per_second = "20 EUR"\nraces_a_season = 3'
    advice = advice_on(tmp_path, hired, money=money)
    assert does(advice) == {"Suit": "hire"}
    assert advice.shopping.basket is not None
    assert str(advice.shopping.basket.price) == "60 EUR"


def test_what_is_owned_and_slower_is_left_alone(tmp_path: Path) -> None:
    worse = OWNED.replace("0.003", "-0.003")
    advice = advice_on(tmp_path, worse, SUIT)
    assert does(advice) == {"Owned race gloves": "leave", "Suit": "buy"}


def test_race_without_options_has_no_shopping(tmp_path: Path) -> None:
    advice = advice_on(tmp_path)
    assert advice.shopping.advised == ()
    assert advice.shopping.basket is None
    assert advice.values == ()


def test_prices_in_two_currencies_are_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="GBP"):
        advice_on(tmp_path, SUIT, FREE.replace("0 EUR", "5 GBP"))


def test_power_that_fades_to_nothing_leaves_no_card_but_an_advice(tmp_path: Path) -> None:
    text = race_text(SUIT).replace('power = "250 W"', 'power = "250 W"\npower_fade = "30 %"')
    long = text.replace('distance = "20 km"', 'distance = "160 km"')
    advice = advise(load_race(race_in(tmp_path, long)))
    assert advice.pacing is None
    assert "leaves no power" in advice.plan.no_card
    assert does(advice) == {"Suit": "buy"}
