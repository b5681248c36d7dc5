"""What is advised about options: the best set that may be bought, and what is held back."""

from itertools import combinations
from pathlib import Path

import pytest

from racecalc.decisions.advice.answer import Advice, Wish, advise
from racecalc.decisions.set_value import value_of_set
from racecalc.domain.loading import load_race
from racecalc.errors import InputError
from racecalc.quantities.money import read_money
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


def advice_on(folder: Path, *options: str, wish: Wish | None = None, **race: str) -> Advice:
    return advise(load_race(race_in(folder, race_text(*options, **race))), wish or Wish())


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
        "Owned helmet": "use",
    }
    assert because(advice, "Owned helmet") == "you have it"
    assert because(advice, "Claimed covers").startswith("it states no doubt")
    assert because(advice, "Unproved gloves").startswith("not proved: the doubt of")
    assert because(advice, "Suit").endswith("where one is worth 20 EUR to you")


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
    wish = Wish(budget=read_money("60 EUR"))
    advice = advice_on(tmp_path, SUIT, FREE, wish=wish)
    assert does(advice) == {"Suit": "leave", "Pads lower": "use"}
    assert because(advice, "Suit") == "it does not fit into the budget beside the rest"


def test_without_any_word_on_money_nothing_is_advised_to_be_bought(tmp_path: Path) -> None:
    advice = advice_on(tmp_path, SUIT, FREE, money="")
    assert does(advice) == {"Suit": "weigh", "Pads lower": "use"}
    assert "nothing in the race file says what a second is worth" in because(advice, "Suit")
    assert advice.decision is None


def test_wish_stands_above_the_file(tmp_path: Path) -> None:
    cheap = advice_on(tmp_path, SUIT, wish=Wish(per_second=read_money("1 EUR")))
    assert does(cheap) == {"Suit": "leave"}


def test_wind_that_is_too_strong_comes_before_any_second(tmp_path: Path) -> None:
    calm = advice_on(tmp_path, DEEP)
    assert does(calm) == {"Deep wheel": "buy"}
    storm = advice_on(
        tmp_path, DEEP, air='wind_at_rider = "14.5 m/s"\nwind_from = "0 deg"', money=""
    )
    assert does(storm) == {"Deep wheel": "leave"}
    assert "too strong" in because(storm, "Deep wheel")
    assert storm.cautions[0].about == "Wind"


def test_option_that_cannot_be_worked_out_spoils_nothing(tmp_path: Path) -> None:
    wrong = '[[option]]\nname = "Wonder"\nprice = "1 EUR"\nsaves = "0.3 m^2"\ndoubt = "0.01 m^2"\n'
    advice = advice_on(tmp_path, SUIT, wrong)
    assert [one.name for one in advice.refused] == ["Wonder"]
    assert does(advice) == {"Suit": "buy"}


def test_what_the_rules_forbid_is_left(tmp_path: Path) -> None:
    forbidden = SUIT.replace('rules = "allowed"', 'rules = "forbidden"')
    advice = advice_on(tmp_path, forbidden, FREE)
    assert does(advice)["Suit"] == "leave"
    assert because(advice, "Suit") == "the rules forbid it"


def test_race_without_options_has_no_shopping(tmp_path: Path) -> None:
    advice = advice_on(tmp_path)
    assert advice.shopping.advised == ()
    assert advice.shopping.basket is None
    assert advice.values == ()
    assert advice.pacing is not None


def test_prices_in_two_currencies_are_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="GBP"):
        advice_on(tmp_path, SUIT, FREE.replace("0 EUR", "5 GBP"))


def test_power_that_fades_to_nothing_leaves_no_card_but_an_advice(tmp_path: Path) -> None:
    text = race_text(SUIT).replace('power = "250 W"', 'power = "250 W"\npower_fade = "30 %"')
    long = text.replace('distance = "20 km"', 'distance = "160 km"')
    advice = advise(load_race(race_in(tmp_path, long)))
    assert advice.pacing is None
    assert "leave no power" in advice.no_card
    assert does(advice) == {"Suit": "buy"}
