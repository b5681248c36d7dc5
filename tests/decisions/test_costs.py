"""What a race with an option costs: worked examples, hire against purchase, and currencies."""

from decimal import Decimal

import pytest

from racecalc.decisions.money import CostOfUse, cost_of_use
from racecalc.decisions.riding import ride
from racecalc.decisions.value import value_of
from racecalc.domain.option import (
    Life,
    MoneyTerms,
    Option,
    Ownership,
    Restrictions,
    read_life,
    read_saving,
    refuse_mixed_currencies,
)
from racecalc.domain.race import Change, Race
from racecalc.errors import InputError
from racecalc.quantities.measured import QuantityError
from racecalc.quantities.money import Money
from tests.builders import euros, race

LENGTH, TIME = 40_000.0, 3600.0


def cost(
    money_terms: MoneyTerms | None = None, price: object = None, **ownership: object
) -> CostOfUse:
    money = None if price is None else euros(price)
    option = Option("thing", price=money, ownership=Ownership(**ownership))
    return cost_of_use(option, money_terms or MoneyTerms(), LENGTH, TIME)


# A suit, a pair of tyres and a rented wheel: price, resale, races, fee, seconds saved, cost per
# race and per second of a race; to the cent, worked by hand.
SHOPPER = {
    "suit": (310, 60, 40, None, 9.1, 6.25, 0.69),
    "tyres": (96, None, 25, None, 9.2, 3.84, 0.42),
    "rented wheel": (None, None, None, 55, 6.0, 55.00, 9.17),
}


@pytest.mark.parametrize("thing", SHOPPER)
def test_which_second_is_cheapest(thing: str):
    price, resale, races, fee, seconds, per_race, per_second = SHOPPER[thing]
    found = cost(
        price=price,
        resale=euros(resale) if resale else None,
        life=Life(races, "races") if races else None,
        hire=euros(fee) if fee else None,
    )
    assert found.per_race is not None
    assert round(found.per_race, 2) == per_race
    assert round(found.per_race / seconds, 2) == per_second
    assert found.by == ("hired" if fee else "bought")


def test_value_divides_by_the_seconds_it_solved():
    built = race(money_terms=MoneyTerms(races_a_season=12, per_second=euros(20)))
    suit = Option(
        "suit",
        price=euros(310),
        saves=read_saving("0.004 m^2"),
        doubt=read_saving("0.001 m^2"),
        ownership=Ownership(resale=euros(60), life=Life(40, "races")),
    )
    value = value_of(ride(built), suit, wanted=built.money_terms.per_second)
    assert value.price_per_second_of_a_race.at == pytest.approx(6.25 / value.saved_s)
    assert value.price_per_second_of_a_race.low == pytest.approx(6.25 / value.saved_s_high)
    assert value.price_per_second_of_a_race.high == pytest.approx(6.25 / value.saved_s_low)
    assert value.price_per_second == pytest.approx(310 / value.saved_s)
    assert value.cost_of_use.per_season == pytest.approx(75.0)
    assert value.price_ceiling is not None
    assert value.price_ceiling.at == pytest.approx(20 * value.saved_s)
    assert value.price_ceiling.low == pytest.approx(20 * value.saved_s_low)


@pytest.mark.parametrize(
    ("life", "races"),
    [("3 years", 36.0), ("25 races", 25.0), ("1 race", 1.0), ("1000 km", 25.0), ("50 h", 50.0)],
)
def test_a_life_in_any_form(life: str, races: float):
    found = cost(MoneyTerms(races_a_season=12), 100, life=read_life(life))
    assert found.races == pytest.approx(races)
    assert found.per_race == pytest.approx(100 / races)
    assert found.lacking == ""


@pytest.mark.parametrize("text", ["0 races", "-3 years", "40", "soon", "5 kg", "forty races", ""])
def test_what_is_no_life(text: str):
    with pytest.raises(QuantityError, match="write for example"):
        read_life(text)


def test_what_is_lacking_is_named():
    assert cost(price=100).lacking == "its life"
    assert cost(price=100).per_race is None
    assert cost(price=100, life=Life(3, "years")).lacking == "races_a_season"


def test_owned_and_free_things_cost_nothing_more():
    owned = cost(MoneyTerms(races_a_season=10), 400, life=Life(40, "races"), owned=True)
    assert (owned.per_race, owned.by, owned.per_season) == (0.0, "owned", 0.0)
    free = cost(price=0)
    assert (free.per_race, free.by) == (0.0, "free")


@pytest.mark.parametrize(
    ("price", "resale", "fee", "life", "first"),
    [
        (540, 200, 55, None, 7),  # 6 x 55 = 330 < 340 <= 7 x 55 = 385
        (330, None, 55, None, 6),  # exactly six fees
        (330, None, 55, 5, None),  # it is worn out before it pays
        (10, None, 55, None, 1),
        (0.30, None, 0.10, None, 3),  # cents must not round up to a fourth race
    ],
)
def test_races_from_which_buying_pays(
    price: float, resale: float | None, fee: float, life: int | None, first: int | None
):
    found = cost(
        price=price,
        resale=euros(resale) if resale else None,
        hire=euros(fee),
        life=Life(life, "races") if life else None,
    )
    assert found.buys_from_race == first


def test_a_saving_that_may_be_nothing_has_no_negative_or_infinite_price():
    built = race(money_terms=MoneyTerms(per_second=euros(5)))
    for words in ("0.001 m^2", "-0.001 m^2", "0 m^2"):
        thing = Option(
            "thing",
            price=euros(50),
            saves=read_saving(words),
            doubt=read_saving("0.002 m^2"),
            ownership=Ownership(life=Life(10, "races")),
        )
        value = value_of(ride(built), thing, wanted=euros(5))
        prices = (
            value.price_per_second_of_a_race.low,
            value.price_per_second_of_a_race.at,
            value.price_per_second_of_a_race.high,
            value.price_per_second_low,
            value.price_per_second,
            value.price_per_second_high,
        )
        assert all(price is None or 0 <= price < 1e6 for price in prices)
        assert value.price_per_second_of_a_race.high is None
        assert value.price_ceiling is not None
        assert value.price_ceiling.low == 0.0


def test_weight_alone_in_seconds_and_watts():
    base = ride(race())
    value = value_of(base, Option("lock", mass=1.5, saves=read_saving("0.002 m^2")))
    loaded = base.changed(Change(mass=1.5))
    assert value.weight_s == pytest.approx(base.time - loaded.time)
    assert value.weight_w is not None
    assert value.weight_w < 0
    slower = base.variant(base.race.with_power(base.race.rider.power + value.weight_w))
    assert slower.time == pytest.approx(loaded.time, abs=1e-6)


@pytest.mark.parametrize(("wish", "enough"), [(0.5, True), (50.0, False), (0.0, None)])
def test_a_wish_decides_apart_from_the_verdict(wish: float, enough: bool | None):
    thing = Option(
        "cuffs",
        saves=read_saving("0.004 m^2"),
        doubt=read_saving("0.0005 m^2"),
        restrictions=Restrictions(least_gain=wish),
    )
    value = value_of(ride(race()), thing)
    assert value.enough is enough
    assert value.verdict == "faster"


def test_every_amount_counts_among_the_currencies():
    francs = Money(Decimal(5), "CHF")
    hired = Option("wheel", price=euros(100), ownership=Ownership(hire=francs))
    with pytest.raises(InputError, match="one is in EUR, the other in CHF"):
        refuse_mixed_currencies([hired])
    with pytest.raises(InputError, match="the budget and option suit"):
        refuse_mixed_currencies([Option("suit", price=euros(1))], {"the budget": francs})


def test_power_that_an_option_costs_comes_out_of_the_riders():
    base = ride(race())
    slower = base.changed(Change(power=-5.0))
    again = base.variant(base.race.with_power(base.race.rider.power - 5.0))
    assert slower.time == again.time
    with pytest.raises(InputError, match="power must be positive"):
        base.changed(Change(power=-300.0))


def test_a_race_keeps_its_power_at_the_hub_in_step_with_the_chain():
    built: Race = race(power_at="hub")
    changed = built.changed(Change(power=-10.0, drivetrain_loss=-0.01))
    assert changed.rider.power == pytest.approx((250.0 - 10.0) * 0.985 / 0.975)
