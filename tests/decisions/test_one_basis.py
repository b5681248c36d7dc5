"""One basis of money: the cost of a thing is the same wherever it is counted.

The rule, worked by hand: N races are counted, `races_a_season` or one. A thing costs nothing where
it is owned or free, else the lesser of N (price - resale) / L, L its life in races, and of N times
its hire; L is N where no life, or no N, is stated. Cash is the price of as many as N races wear
out, or N times the hire. Net is what a second is worth times the seconds of a race, less the cost.
"""

from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

import pytest

from racecalc.answers.basket import LADDER_NOTE
from racecalc.decisions.basket.basket import basket_of, ladder
from racecalc.decisions.basket.candidates import Slopes, candidates_of
from racecalc.decisions.money import cost_of_use, cost_on
from racecalc.decisions.riding import Ridden, ride
from racecalc.decisions.value import (
    value_of_set,
)
from racecalc.decisions.verdicts import shown_percent
from racecalc.domain.loading import load_race
from racecalc.domain.option import Life, MoneyTerms, Option, Ownership, read_saving
from tests.builders import euros, race, steady_start

DEMO = Path(__file__).parents[2] / "course_demo" / "race.toml"


# --- The demo, by hand ---------------------------------------------------------------------------


class ByHand(NamedTuple):
    """What an option of the demo costs for its 8 races of 36.5 km, in euros."""

    cost: float
    cash: float
    basis: str


DEMO_BY_HAND = {
    "Pads 2 cm lower": ByHand(0.0, 0.0, "free"),
    # 8 (290 - 50) / 60
    "Brinnoth Lowtide suit": ByHand(32.0, 290.0, "bought"),
    # 8 x 680 / 20
    "Ostrewyn Ripple suit": ByHand(272.0, 680.0, "bought"),
    # Two years are 16 races: 8 x 48 / 16
    "Vaskelle knit shoe covers": ByHand(24.0, 48.0, "bought"),
    # No life: the whole price.
    "Tollimar coated shoe covers": ByHand(119.0, 119.0, "bought"),
    # 8 x 64 / 16
    "Pellimar long cuffs": ByHand(32.0, 64.0, "bought"),
    # Five years are 40 races: 8 (540 - 260) / 40, less than 8 x 45 = 360 of hire.
    "Dunquill deep front wheel": ByHand(56.0, 540.0, "bought"),
    # No life: 890 whole, more than 8 x 60 of hire.
    "Dunquill covered rear wheel": ByHand(480.0, 480.0, "hired"),
    # 1500 km are 1500 / 36.5 = 41.1 races: 8 x 124 / 41.1
    "Fenzarra Calm tyres": ByHand(24.14, 124.0, "bought"),
    # 4000 km are 109.6 races: 8 x 98 / 109.6
    "Fenzarra Bramble tyres": ByHand(7.15, 98.0, "bought"),
    # A chain lasts 6 races: 8 x 38 / 6, and 8 races wear out one and begin another.
    "Hot-waxed chain": ByHand(50.67, 76.0, "bought"),
    "Yttelan pulley cage": ByHand(460.0, 460.0, "bought"),
    "One bottle left at home": ByHand(0.0, 0.0, "free"),
    "Kelmund bottle between the arms": ByHand(75.0, 75.0, "bought"),
}
ADVISED = {
    "Pads 2 cm lower",
    "Brinnoth Lowtide suit",
    "Vaskelle knit shoe covers",
    "Fenzarra Calm tyres",
    "Hot-waxed chain",
    "One bottle left at home",
}


@pytest.fixture(scope="module")
def demo() -> Ridden:
    return ride(load_race(DEMO, ["course.step=50 m"]))


def options_of(base: Ridden) -> tuple[Option, ...]:
    return base.race.single_options


def test_every_option_of_the_demo_by_hand(demo: Ridden) -> None:
    assert demo.race.course.length == pytest.approx(36_500, rel=3e-4)
    assert {one.name for one in options_of(demo)} == set(DEMO_BY_HAND)
    for option in options_of(demo):
        found, hand = cost_on(demo, option), DEMO_BY_HAND[option.name]
        assert found.cost == pytest.approx(hand.cost, rel=1e-3), option.name
        assert (float(found.cash), found.by) == (hand.cash, hand.basis), option.name
        assert found.races_counted == 8


def test_the_advised_set_of_the_demo_by_hand(demo: Ridden) -> None:
    """24.14 + 32 + 50.67 + 24 = 130.81 of cost, 124 + 290 + 76 + 48 = 538 of cash."""
    terms = demo.race.money_terms
    candidates = candidates_of(demo, options_of(demo), demo.race.tested_sets)
    found = basket_of(Slopes(candidates), terms.budget, per_second=terms.per_second)
    assert set(found.chosen) == ADVISED
    assert found.cost == pytest.approx(130.81, abs=0.02)
    # One of each: 124 + 290 + 38 + 48.
    assert (float(found.cash), float(found.price.amount)) == (538.0, 500.0)
    used = tuple(one for one in options_of(demo) if one.name in ADVISED)
    saved = value_of_set(demo, used, demo.race.tested_sets).saved_s
    assert found.saved_s == pytest.approx(saved, abs=1e-6)
    assert found.net_worth == pytest.approx(20 * saved - 130.81, abs=0.02)
    assert (found.objective, found.proved_optimal, found.races_counted) == ("net worth", True, 8)
    # The wheel is worth more than its 56, but 538 + 540 is beyond the budget of 600.
    free = basket_of(Slopes(candidates), None, per_second=terms.per_second)
    assert "Dunquill deep front wheel" in free.chosen
    assert free.net_worth is not None
    assert free.net_worth > found.net_worth


def test_the_demo_says_what_purchase_prices_would_choose(demo: Ridden) -> None:
    """By 290 for the suit and 48 for the covers 22 s cost 338, and the covers alone 10 s for 48."""
    options = [
        one
        for one in options_of(demo)
        if one.name in {"Brinnoth Lowtide suit", "Vaskelle knit shoe covers"}
    ]
    slopes = Slopes(candidates_of(demo, options, demo.race.tested_sets))
    found = basket_of(slopes, euros(600), per_second=euros(20))
    assert set(found.chosen) == {one.name for one in options}
    assert found.at_price_alone is not None
    assert found.at_price_alone.names == ("Vaskelle knit shoe covers",)
    assert found.at_price_alone.lacking == ("Brinnoth Lowtide suit",)


# --- The rule where little is stated, and what a budget limits -----------------------------------


def used(price: object, terms: MoneyTerms, races: int | None = None, **ownership: object):
    option = Option("thing", price=euros(price), ownership=Ownership(**ownership))
    return cost_of_use(option, terms, 40_000.0, 3600.0, races)


SEASON = MoneyTerms(races_a_season=8)


@pytest.mark.parametrize(
    ("terms", "price", "ownership", "cost", "cash"),
    [
        # Nothing counted: one race bears price less resale, whatever the life.
        (MoneyTerms(), 310, {"resale": euros(60), "life": Life(40, "races")}, 250, 310),
        # No life: eight races bear it.
        (SEASON, 310, {"resale": euros(60)}, 250, 310),
        # 8 x 250 / 40
        (SEASON, 310, {"resale": euros(60), "life": Life(40, "races")}, 50, 310),
        # 8 x 30 / 3 is 80: two are worn out and two races are left for a third.
        (SEASON, 30, {"life": Life(3, "races")}, 80, 90),
        (SEASON, 30, {"life": Life(4, "races")}, 60, 60),
        # Hire of 8 x 5 is less than 8 x 300 / 40 = 60, and is what is paid.
        (SEASON, 300, {"life": Life(40, "races"), "hire": euros(5)}, 40, 40),
        (SEASON, 300, {"life": Life(40, "races"), "hire": euros(8)}, 60, 300),
        (SEASON, 300, {"owned": True, "hire": euros(8)}, 0, 0),
        # What fetches more than it cost is for nothing, but has to be paid first.
        (SEASON, 300, {"resale": euros(310)}, 0, 300),
    ],
)
def test_the_rule(terms, price, ownership, cost, cash) -> None:
    found = used(price, terms, **ownership)
    assert (found.cost, float(found.cash)) == (pytest.approx(cost), cash)


def test_races_asked_for_are_counted() -> None:
    """Two years of 8 races are 16: each of 24 bears a sixteenth of 160, and two are bought."""
    found = used(160, SEASON, 24, life=Life(2, "years"))
    assert (found.cost, found.cash, found.races_counted) == (pytest.approx(240), 320, 24)


# --- Seconds, net worth and chance as objectives -------------------------------------------------


def thing(name: str, saves: str, price: int, doubt: str = "0.0005 m^2", **fields: object) -> Option:
    saving, unsure = read_saving(saves), read_saving(doubt)
    return Option(name, price=euros(price), saves=saving, doubt=unsure, **fields)


@pytest.fixture(scope="module")
def short() -> Ridden:
    return ride(steady_start(race(step=100.0)))


def test_without_a_worth_of_a_second_the_seconds_are_sought(short: Ridden) -> None:
    slopes = Slopes(
        candidates_of(short, [thing("good", "0.004 m^2", 40), thing("dear", "0.001 m^2", 160)])
    )
    most = basket_of(slopes, euros(200))
    assert (set(most.chosen), most.objective, most.net_worth) == ({"good", "dear"}, "seconds", None)
    worth = basket_of(slopes, euros(200), per_second=euros(20))
    assert (worth.chosen, worth.objective) == (("good",), "net worth")


def test_the_cheapest_of_the_sets_that_are_as_sure(short: Ridden) -> None:
    """Any one suit saves 2 s almost surely; the least dear of them will do."""
    options = [
        thing("cheap", "0.006 m^2", 30, slot="suit"),
        thing("fair", "0.007 m^2", 70, slot="suit"),
        thing("dear", "0.009 m^2", 200, slot="suit"),
        thing("covers", "0.002 m^2", 50),
    ]
    found = basket_of(Slopes(candidates_of(short, options)), euros(400), target_s=2.0)
    assert found.chosen == ("cheap",)
    assert found.objective == "chance"
    assert shown_percent(found.chance_of_target) == 100
    assert found.runner_up is not None
    assert set(found.runner_up.names) == {"dear", "covers"}


def test_a_chosen_set_is_a_step_even_if_one_for_less_cash_saves_more(short: Ridden) -> None:
    """It lasts: 8 x 300 / 80 = 30 for the races counted, where the faster one costs its 200."""
    options = [
        thing("fast", "0.005 m^2", 200, slot="suit"),
        thing(
            "lasting", "0.004 m^2", 300, slot="suit", ownership=Ownership(life=Life(80, "races"))
        ),
    ]
    terms = replace(short.race, money_terms=MoneyTerms(races_a_season=8))
    slopes = Slopes(candidates_of(ride(terms), options))
    found = basket_of(slopes, None, per_second=euros(20))
    fast, lasting = ladder(slopes, chosen=found.numbers)[-2:]
    assert found.chosen == lasting.names == ("lasting",)
    assert fast.saved_s > lasting.saved_s
    assert "a chosen set is a line too" in LADDER_NOTE


def test_further_seconds_are_counted_from_the_chosen_set_on(short: Ridden) -> None:
    """The worn thing costs 8 x 50 / 40 = 10; beyond it the weak ones cost 60, and 60 + 100."""
    life = Ownership(life=Life(40, "races"))
    options = [
        thing("worn", "0.004 m^2", 50, ownership=life),
        thing("weak", "0.0008 m^2", 60),
        thing("weaker", "0.0008 m^2", 100),
    ]
    terms = replace(short.race, money_terms=MoneyTerms(races_a_season=8))
    slopes = Slopes(candidates_of(ride(terms), options))
    found = basket_of(slopes, None, per_second=euros(20))
    assert (found.chosen, found.cost) == (("worn",), pytest.approx(10))
    steps = ladder(slopes, chosen=found.numbers)
    beyond = [step for step in steps if step.saved_s > found.saved_s + 0.1]
    assert [step.names for step in beyond] == [("worn", "weak"), ("worn", "weak", "weaker")]
    more = [step.saved_s - found.saved_s for step in beyond]
    assert [step.cost_more for step in beyond] == pytest.approx([60 / more[0], 160 / more[1]])
