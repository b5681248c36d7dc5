"""From which saving on an option pays: solved on the course, against solving it again."""

import re
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import norm

from racecalc.answers.basis import Basis
from racecalc.answers.break_even import BreakEvenAnswer, break_even_sheet
from racecalc.decisions.break_even import Against, BreakEvens, break_evens
from racecalc.decisions.riding import Ridden, ride
from racecalc.decisions.value import value_of
from racecalc.decisions.worth import worth_of
from racecalc.domain.option import Holding, Option, Ownership, PowerLoss, Restrictions, read_saving
from racecalc.domain.race import Change
from tests.builders import euros, graded_course, race, steady_start

ROLLING = graded_course((3000.0, 0.0), (1500.0, 0.03), (1500.0, -0.03), (2000.0, 0.0))


@pytest.fixture(scope="module")
def base() -> Ridden:
    return ride(steady_start(race(course=ROLLING)))


DISC = Option(
    "disc",
    price=euros(900),
    mass=0.85,
    saves=read_saving("4 W at 45 km/h"),
    doubt=read_saving("1.5 W at 45 km/h"),
)
TYRES = Option("bramble", mass=0.2, saves=read_saving("-0.0005 of Crr"), acts_on="tyres")
SUIT = Option("suit", saves=read_saving("0.003 m^2"))


def saving(watts: float, option: Option = DISC) -> Option:
    return replace(option, saves=read_saving(f"{watts!r} W at 45 km/h"), doubt=None)


def reasons(found: BreakEvens) -> dict[str, float]:
    return {row.reason: row.watts_w for row in found.break_evens if row.watts_w is not None}


def test_its_weight_is_that_of_value(base: Ridden):
    found = break_evens(base, DISC, Against())
    assert list(reasons(found)) == ["its weight"]
    assert found.break_evens[0].watts_w == pytest.approx(value_of(base, DISC).break_even_w)
    assert value_of(base, saving(found.break_evens[0].watts_w or 0)).saved_s == pytest.approx(
        0, abs=1e-5
    )


def test_each_reason_is_met_when_solved_again(base: Ridden):
    wishing = replace(DISC, restrictions=Restrictions(least_gain=2.0))
    against = Against(euros(50), rivals=(SUIT,), used_with=(TYRES,), holds=(Holding((0.7,)),))
    needed = list(reasons(break_evens(base, wishing, against)).values())
    weight, price, wish, rival, beside, held = needed
    assert value_of(base, saving(price)).saved_s == pytest.approx(900 / 50, abs=1e-5)
    more = base.variant(base.race.with_power(base.race.rider.power + 2.0))
    assert value_of(base, saving(wish)).saved_s == pytest.approx(base.time - more.time, abs=1e-5)
    assert value_of(base, saving(rival)).saved_s == pytest.approx(
        worth_of(base, SUIT).saved_s, abs=1e-5
    )
    tyres = worth_of(base, TYRES).change
    both = base.changed(worth_of(base, saving(beside)).change.plus(tyres))
    assert both.time == pytest.approx(base.time, abs=1e-5)
    in_part = replace(saving(held), holding=Holding((0.7,)))
    assert worth_of(base, in_part).saved_s == pytest.approx(0.0, abs=1e-4)
    assert weight < held < beside


def test_margin_and_chance_come_from_claim_and_doubt(base: Ridden):
    found = break_evens(base, DISC, Against(euros(50)))
    weight, price = found.break_evens
    assert found.claim_w == pytest.approx(4.0)
    assert found.doubt_w == pytest.approx(1.5)
    for row in (weight, price):
        assert row.watts_w is not None
        assert row.margin_w == pytest.approx(4.0 - row.watts_w)
        assert row.chance == pytest.approx(norm.cdf((4.0 - row.watts_w) / 1.5), abs=1e-6)
    assert found.band_w == pytest.approx((4.0 - 1.96 * 1.5, 4.0 + 1.96 * 1.5), abs=1e-3)


def test_the_way_to_the_saving_of_a_cost_adds_up(base: Ridden):
    """Seconds of the weight by a ride with it alone; those of the cost are price by worth."""
    found = break_evens(base, DISC, Against(euros(50)))
    sheet = break_even_sheet(BreakEvenAnswer(base.time, found, Basis.of(base)), "metric")
    said = {step.what: step.inputs for step in sheet.explained()}
    heavier = base.changed(Change(mass=0.85)).time - base.time
    weight, cost = (said[f"to make up for {row.reason}"] for row in found.break_evens)
    assert weight == f"seconds to gain {heavier:.1f}"
    sums = re.search(r"gain (.+) = (.+) \(its weight\) \+ (.+) \(cost / worth of a second\)", cost)
    assert sums
    whole, own, paid = map(float, sums.groups())
    assert (own, paid) == (pytest.approx(heavier, abs=0.05), 900 / 50)
    assert whole == pytest.approx(own + paid, abs=0.11)


def test_the_curve_is_net_of_the_weight(base: Ridden):
    found = break_evens(base, DISC, Against(euros(50)))
    for one in found.curve[::8]:
        alone = value_of(base, saving(one.watts_w)).saved_s
        assert one.saved_s == pytest.approx(alone, abs=1e-6)
    needed = found.break_evens[0].watts_w
    assert np.interp(
        0.0, *zip(*((one.saved_s, one.watts_w) for one in found.curve), strict=True)
    ) == pytest.approx(needed, abs=1e-3)


def test_without_a_saving_there_is_no_claim(base: Ridden):
    found = break_evens(base, Option("bag", mass=2.0), Against())
    assert (found.claim_w, found.saved_s, found.band_w) == (None, None, None)
    assert found.break_evens[0].margin_w is None
    assert found.break_evens[0].chance is None


def test_a_doubt_that_is_not_stated_gives_no_chance(base: Ridden):
    found = break_evens(base, replace(DISC, doubt=None), Against())
    assert found.break_evens[0].margin_w is not None
    assert found.break_evens[0].chance is None


@pytest.mark.parametrize(
    ("words", "acts_on"),
    [("3 W at 40 km/h", "air"), ("0.0004 of Crr", "tyres"), ("2 W at 250 W", "drivetrain")],
)
def test_in_the_unit_of_its_own_loss(base: Ridden, words: str, acts_on: str):
    option = Option("thing", mass=1.0, saves=read_saving(words), acts_on=acts_on)
    row = break_evens(base, option, Against()).break_evens[0]
    axis = {"air": "cda", "tyres": "crr", "drivetrain": "drivetrain_loss"}[acts_on]
    assert row.saving is not None
    change = replace(
        worth_of(base, Option("weight", mass=1.0)).change, **{axis: -getattr(row.saving, axis)}
    )
    assert base.changed(change).time == pytest.approx(base.time, abs=1e-5)


def test_the_longer_a_heavy_thing_is_held_the_sooner_it_pays(base: Ridden):
    holds = tuple(Holding((share,)) for share in (1.0, 0.8, 0.5))
    rows = break_evens(base, DISC, Against(holds=holds)).break_evens[1:]
    needed = [row.watts_w for row in rows]
    assert needed == sorted(needed)
    never = break_evens(base, DISC, Against(holds=(Holding((0.0,)),))).break_evens[1]
    assert never.watts_w is None


def test_what_nothing_makes_up_for_says_so_and_spares_the_rest(base: Ridden):
    """Held for a hundredth of the time it pays from more than the whole drag on."""
    holding = Holding((0.8,), read_saving("-0.01 m^2"))
    pads = Option("pads", saves=read_saving("0.004 m^2"), holding=holding)
    against = Against(holds=(replace(holding, shares=(0.01,)),))
    first, second = break_evens(base, pads, against).break_evens
    assert first.watts_w is not None
    assert second.watts_w is None


@pytest.mark.parametrize("paid", [Ownership(owned=True), Ownership()])
def test_what_costs_nothing_more_has_no_price_to_earn(base: Ridden, paid: Ownership):
    free = replace(DISC, ownership=paid, price=euros(900) if paid.owned else euros(0))
    assert len(break_evens(base, free, Against(euros(50))).break_evens) == 1
    value = value_of(base, free, wanted=euros(50))
    assert value.break_even_price_w == pytest.approx(value.break_even_w)


def test_a_loss_of_power_is_called_one(base: Ridden):
    holding = Holding(power_loss=PowerLoss(3.0))
    crouch = Option("crouch", saves=read_saving("0.004 m^2"), holding=holding)
    assert break_evens(base, crouch, Against()).break_evens[0].reason == "its loss of power"
