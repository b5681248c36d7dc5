"""The best set on full solves: against trying every set, and what the answer says about it."""

from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest
from scipy.stats import norm

from racecalc.decisions.basket import search
from racecalc.decisions.basket.basket import (
    Basket,
    basket_of,
    chance_of,
    descended,
    ladder,
    ladder_of_race,
    rungs,
    surest_set,
)
from racecalc.decisions.basket.candidates import (
    Box,
    LeftOut,
    Slopes,
    candidates_of,
    ceiling_over,
    numbers_of,
)
from racecalc.decisions.basket.search import CLOSED, Programme, best_set
from racecalc.decisions.riding import ride
from racecalc.decisions.value import value_of_set
from racecalc.domain.option import (
    Holding,
    MoneyTerms,
    Option,
    Ownership,
    PowerLoss,
    Restrictions,
    read_saving,
)
from racecalc.domain.race import Change, DragArea
from racecalc.errors import InputError
from tests.basket.making import allowed_sets, overlapping_problem, random_problem, short_race
from tests.builders import euros, flat_course, race, yaw_table


def option(name: str, saves: str, price: object = 10, doubt: str = "", **fields: object) -> Option:
    return Option(
        name,
        price=None if price is None else euros(price),
        saves=read_saving(saves),
        doubt=read_saving(doubt) if doubt else None,
        **fields,
    )


def chosen_names(found: Basket) -> set[str]:
    return {item.option.name for item in found.items}


def agrees_with_enumeration(seed: int, most: int) -> None:
    slopes, budget = random_problem(seed, most)
    found = best_set(slopes, Programme(slopes.candidates), budget)
    best = max(slopes.saved(one) for one in allowed_sets(slopes.candidates, budget))
    assert found.gap_s == pytest.approx(0.0, abs=CLOSED)
    assert slopes.saved(found.chosen) == pytest.approx(best, abs=CLOSED)
    assert slopes.candidates.cash_of(found.chosen) <= budget


def quickly(quick: int, count: int) -> list:
    """Seeds, of which the later ones are for the slow run."""
    marks = [() if seed < quick else pytest.mark.slow for seed in range(count)]
    return [pytest.param(seed, marks=mark) for seed, mark in enumerate(marks)]


@pytest.mark.parametrize("seed", range(20))
def test_no_set_is_better(seed: int, monkeypatch: pytest.MonkeyPatch):
    """Trying every set, each solved in full; 20 small problems, a third by branch and cut."""
    if seed % 3 == 0:
        monkeypatch.setattr(search, "LISTED", 0)
    agrees_with_enumeration(seed, most=7)


@pytest.mark.slow
@pytest.mark.parametrize("block", range(10))
def test_no_set_is_better_of_500_problems(block: int, monkeypatch: pytest.MonkeyPatch):
    """The same for 500 problems of up to 12 options, half of them by branch and cut."""
    if block % 2:
        monkeypatch.setattr(search, "LISTED", 0)
    for seed in range(50 * block, 50 * (block + 1)):
        agrees_with_enumeration(1000 + seed, most=12)


@pytest.mark.parametrize("seed", range(12))
def test_the_bound_holds_for_every_set(seed: int):
    """What a set saves in full never lies above the bound of a box that holds it."""
    slopes, budget = random_problem(seed, 6)
    sets = allowed_sets(slopes.candidates, budget)
    points = np.array([slopes.point_of(one) for one in sets])
    box = Box(points.min(axis=0), points.max(axis=0))
    ceiling = ceiling_over(slopes, box)
    programme = Programme(slopes.candidates)
    for one in sets:
        bound = ceiling.constant + ceiling.objective @ programme.picked(one)
        assert slopes.saved(one) <= bound + 1e-9


def test_the_corners_that_are_left_out_are_not_the_ends_of_a_slope():
    """The bound of every quarter of the whole is that over all corners of it."""
    slopes, _ = random_problem(4, 8)
    points = np.array([slopes.point_of(one) for one in allowed_sets(slopes.candidates, 1e9)])
    whole = Box(points.min(axis=0), points.max(axis=0))
    axes = np.flatnonzero(whole.low < whole.high).tolist()
    quarters = [part for half in whole.halves(axes[0]) for part in half.halves(axes[-1])]
    every = [ceiling_over(slopes, one) for one in quarters]
    slopes.learn_directions(whole)
    assert np.any(slopes.directions_in(whole))
    for one, full in zip(quarters, every, strict=True):
        few = ceiling_over(slopes, one)
        assert few.constant == pytest.approx(full.constant, abs=1e-12)
        assert few.objective == pytest.approx(full.objective, abs=1e-12)


def test_the_bound_lets_the_time_fall_by_the_best_slope_of_every_axis():
    """By hand, axis by axis: the end of the range of slopes that saves most, not middle and half.

    A set that saves more than the integral of its slopes from the middle cannot be ruled out.
    """
    base = short_race()
    options = [option("suit", "0.03 m^2"), option("tyres", "0.001 of Crr", acts_on="tyres")]
    slopes = Slopes(candidates_of(base, options))
    sets = [frozenset(one) for one in ((), (0,), (1,), (0, 1))]
    points = np.array([slopes.point_of(one) for one in sets])
    box = Box(points.min(axis=0), points.max(axis=0))
    middle = 0.5 * (box.low + box.high)
    gradients = np.array([slopes.gradient(point) for point in points])
    low, high = gradients.min(axis=0), gradients.max(axis=0)
    ceiling = ceiling_over(slopes, box)
    programme = Programme(slopes.candidates)
    for one, point in zip(sets, points, strict=True):
        way = point - middle
        falls = np.maximum(-low * way, -high * way)
        most = base.time - slopes.time(middle) + float(np.sum(falls))
        bound = ceiling.constant + ceiling.objective @ programme.picked(one)
        assert bound == pytest.approx(most, abs=1e-9)


def test_a_search_that_was_stopped_states_how_much_may_be_missed(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(search, "MOST_SETS", 0)
    slopes, budget = random_problem(1, 6)
    found = best_set(slopes, Programme(slopes.candidates), budget)
    assert found.gap_s is not None
    assert found.gap_s > CLOSED
    best = max(slopes.saved(one) for one in allowed_sets(slopes.candidates, budget))
    assert best <= slopes.saved(found.chosen) + found.gap_s


@pytest.mark.parametrize(("races", "cost"), [(12, 300), (5, 150)])
def test_a_ladder_for_a_season_hires_for_every_race(races: int, cost: int):
    """12 races at 30 EUR are dearer than 300 EUR, 5 at 30 EUR are not."""
    options = [option("wheel", "0.003 m^2", price=300, ownership=Ownership(hire=euros(30)))]
    base = short_race()
    terms = MoneyTerms(races_a_season=races)
    season = replace(base, race=replace(base.race, money_terms=terms))
    assert ladder_of_race(season, options)[-1].cost == cost


@pytest.mark.parametrize("seed", range(8))
def test_the_ladder_rises_and_ends_at_the_best_of_all(seed: int):
    slopes, _ = random_problem(seed, 7)
    programme = Programme(slopes.candidates)
    steps = rungs(slopes, [*descended(slopes, programme)])
    costs, seconds = [step.cash for step in steps], [step.saved_s for step in steps]
    assert costs == sorted(set(costs))
    assert seconds == sorted(seconds)
    everything = sum((item.cash for item in slopes.candidates.items), Decimal(0))
    richest = best_set(slopes, programme, everything)
    assert seconds[-1] == pytest.approx(slopes.saved(richest.chosen), abs=0.5 + CLOSED)
    for step in steps:
        best = max(slopes.saved(one) for one in allowed_sets(slopes.candidates, step.cash))
        assert step.saved_s == pytest.approx(best, abs=0.02)


def test_the_price_of_a_further_second():
    """By hand from times solved apart: what a step costs more, over what it saves more."""
    base = short_race()
    options = [
        option("cheap suit", "0.002 m^2", 40, slot="suit"),
        option("dear suit", "0.0036 m^2", 190, slot="suit"),
        option("covers", "0.0015 m^2", 80),
    ]
    saved = [base.time - base.changed(Change(cda=-one)).time for one in (0.002, 0.0035, 0.0051)]
    steps = ladder(Slopes(candidates_of(base, options)))
    assert [step.names for step in steps] == [
        (),
        ("cheap suit",),
        ("cheap suit", "covers"),
        ("dear suit", "covers"),
    ]
    assert [step.cash for step in steps] == [0, 40, 120, 270]
    assert [step.saved_s for step in steps] == pytest.approx([0.0, *saved], abs=1e-6)
    assert steps[0].price_more is None
    assert [step.price_more for step in steps[1:]] == pytest.approx(
        [40 / saved[0], 80 / (saved[1] - saved[0]), 150 / (saved[2] - saved[1])]
    )
    assert (steps[3].added, steps[3].dropped) == (("dear suit",), ("cheap suit",))


@pytest.mark.parametrize("seed", quickly(5, 12))
def test_the_surest_set_has_the_greatest_chance(seed: int):
    """Where the chance is one half or more; against the chance of every set."""
    slopes, budget = random_problem(seed, 7)
    sets = allowed_sets(slopes.candidates, budget)
    target = 0.7 * max(slopes.saved(one) for one in sets)
    found = basket_of(slopes, euros(budget), target_s=target)
    chances = [chance_of(slopes, one, target) for one in sets]
    best = max(chance for chance in chances if chance is not None)
    assert best > 0.5
    assert found.chance_of_target == pytest.approx(best, abs=2e-3)
    assert not found.proved_optimal


@pytest.mark.parametrize("share", [0.3, 0.6, 0.9])
@pytest.mark.parametrize("seed", quickly(3, 30))
def test_the_surest_set_allows_for_what_may_overlap(seed: int, share: float):
    """The hull is drawn without it; against the chance of every set. None is proved the surest."""
    slopes, budget = overlapping_problem(seed)
    programme, limit = Programme(slopes.candidates), budget
    conditions = [programme.within(limit)]
    sets = allowed_sets(slopes.candidates, budget)
    target = share * max(slopes.saved(one) for one in sets)
    start = best_set(slopes, programme, limit).chosen
    found, _ = surest_set(slopes, programme, conditions, start, target)
    assert found in sets
    chances = [chance_of(slopes, one, target) or 0.0 for one in sets]
    assert chance_of(slopes, found, target) == pytest.approx(max(chances), abs=0.015)


def test_a_set_tested_well_is_surer_than_its_parts():
    """Its own doubt counts and not those of its parts, though others save more."""
    base = short_race()
    options = [
        option("suit", "0.002 m^2", doubt="0.002 m^2"),
        option("covers", "0.002 m^2", doubt="0.002 m^2"),
        option("skinsuit", "0.005 m^2", doubt="0.003 m^2"),
        option("disc", "0.001 m^2", doubt="0.0005 m^2"),
        option("visor", "0.0005 m^2", doubt="0.0045 m^2"),
    ]
    both = Option(
        "both",
        saves=read_saving("0.004 m^2"),
        doubt=read_saving("0.0002 m^2"),
        set_of=("suit", "covers"),
    )
    slopes = Slopes(candidates_of(base, options, [both]))
    target = 0.9 * (base.time - base.changed(Change(cda=-0.004)).time)
    found = basket_of(slopes, euros(20), target_s=target)
    assert chosen_names(found) == {"suit", "covers"}
    # The saving exceeds the target by a tenth, its doubt is a twentieth, to first order.
    assert found.chance_of_target == pytest.approx(norm.cdf(2.0), abs=0.003)
    chances = [
        chance_of(slopes, one, target) for one in allowed_sets(slopes.candidates, Decimal(20))
    ]
    assert found.chance_of_target == max(chances)


def test_the_chance_is_that_of_a_normal_sum():
    base = short_race()
    options = [
        option("suit", "0.004 m^2", doubt="0.001 m^2"),
        option("covers", "0.002 m^2", doubt="0.002 m^2"),
    ]
    found = basket_of(Slopes(candidates_of(base, options)), euros(20), target_s=3.0)
    assert chosen_names(found) == {"suit", "covers"}
    doubts = [item.worth.doubt_s or 0.0 for item in found.items]
    expected = norm.cdf((found.saved_s - 3.0) / np.hypot(*doubts))
    assert found.chance_of_target == pytest.approx(expected, abs=1e-6)


def test_the_set_is_that_of_value_together():
    base = short_race()
    options = (
        option("suit", "0.004 m^2", mass=0.1),
        option("chain", "2 W at 250 W", acts_on="drivetrain"),
    )
    found = basket_of(Slopes(candidates_of(base, options)), euros(20))
    assert found.saved_s == pytest.approx(value_of_set(base, options).saved_s, abs=1e-9)
    assert found.doubt_s is None
    assert found.without_doubt_stated == ("suit", "chain")
    assert found.runner_up is None


def test_a_tested_set_counts_instead_of_its_parts():
    """Covers that disturb the suit: with the test known, one of them is enough."""
    base = short_race()
    options = [option("suit", "0.004 m^2"), option("covers", "0.003 m^2")]
    both = Option("both", saves=read_saving("0.0035 m^2"), set_of=("suit", "covers"))
    untested = basket_of(Slopes(candidates_of(base, options)), euros(20))
    tested = basket_of(Slopes(candidates_of(base, options, [both])), euros(20))
    assert chosen_names(untested) == {"suit", "covers"}
    assert chosen_names(tested) == {"suit"}
    better = replace(both, saves=read_saving("0.0070 m^2"))
    found = basket_of(Slopes(candidates_of(base, options, [better])), euros(20))
    assert chosen_names(found) == {"suit", "covers"}
    assert found.tests_of_sets == ("both",)
    expected = value_of_set(base, tuple(options), [better]).saved_s
    assert found.saved_s == pytest.approx(expected, abs=1e-9)


def test_a_tested_set_leaves_weight_and_lost_power_to_its_members():
    """A test tells the air alone: 2 W that the pads cost and the weights are not in it."""
    base = short_race()
    options = [
        option("pads", "0.004 m^2", mass=0.3, holding=Holding(power_loss=PowerLoss(watts=2.0))),
        option("suit", "0.006 m^2", mass=-0.1),
    ]
    both = Option("both", saves=read_saving("0.014 m^2"), set_of=("pads", "suit"))
    race = base.race
    by_hand = replace(
        race,
        rider=replace(race.rider, power=race.rider.power - 2.0),
        bike=replace(
            race.bike, cda=DragArea((race.bike.cda.area[0] - 0.014,)), mass=race.bike.mass + 0.2
        ),
    )
    expected = base.time - base.variant(by_hand).time
    found = basket_of(Slopes(candidates_of(base, options, [both])), euros(20))
    assert chosen_names(found) == {"pads", "suit"}
    assert found.saved_s == pytest.approx(expected, abs=1e-6)
    assert value_of_set(base, tuple(options), [both]).saved_s == pytest.approx(expected, abs=1e-6)


def test_owned_hired_and_bought():
    base = short_race()
    options = [
        option("mine", "0.001 m^2", price=400, ownership=Ownership(owned=True)),
        option("wheel", "0.003 m^2", price=300, ownership=Ownership(hire=euros(30))),
        option("suit", "0.002 m^2", price=40),
    ]
    once = basket_of(Slopes(candidates_of(base, options, races=1)), euros(75))
    assert {item.option.name: (item.by, item.cost) for item in once.items} == {
        "mine": ("owned", 0),
        "wheel": ("hired", 30),
        "suit": ("bought", 40),
    }
    season = candidates_of(base, options, races=12)
    assert [(item.by, item.cost) for item in season.items][1] == ("bought", 300)


def test_what_cannot_be_chosen_says_why():
    base = short_race()
    options = [
        option("banned", "0.009 m^2", restrictions=Restrictions(rules="forbidden")),
        option("unpriced", "0.009 m^2", price=None),
        option("scratchy cuffs", "0.001 m^2", restrictions=Restrictions(least_gain=7.0)),
        option("worth it", "0.009 m^2", restrictions=Restrictions(least_gain=1.0)),
        option("unwanted", "0.009 m^2"),
        option("for the banned", "0.009 m^2", restrictions=Restrictions(needs=("banned",))),
        option("for that", "0.009 m^2", restrictions=Restrictions(needs=("for the banned",))),
    ]
    found = basket_of(Slopes(candidates_of(base, options, without=("unwanted",))), euros(100))
    assert chosen_names(found) == {"worth it"}
    assert {one.name: one.because for one in found.left_out} == {
        "banned": "the rules forbid it",
        "unpriced": "it states no price",
        "scratchy cuffs": "it is worth less than the 7 W you want of it",
        "unwanted": "you leave it out",
        "for the banned": "it needs banned, which cannot be chosen",
        "for that": "it needs for the banned, which cannot be chosen",
    }


def test_two_positions_are_not_held_at_once():
    base = short_race()
    options = [
        option("low pads", "0.006 m^2", holding=Holding((0.8,))),
        option("narrow elbows", "0.005 m^2", holding=Holding((0.9,))),
    ]
    found = basket_of(Slopes(candidates_of(base, options)), euros(100))
    assert len(found.items) == 1


def test_claims_without_a_doubt_are_shown_and_done_without():
    base = short_race()
    options = [
        option("boasted covers", "0.006 m^2", price=50, slot="covers"),
        option("tested covers", "0.003 m^2", price=50, slot="covers", doubt="0.001 m^2"),
    ]
    found = basket_of(Slopes(candidates_of(base, options)), euros(60))
    assert found.without_doubt_stated == ("boasted covers",)
    assert found.saved_s_low is None
    assert found.without_bare_claims is not None
    assert found.without_bare_claims.names == ("tested covers",)
    surest = basket_of(Slopes(candidates_of(base, options)), euros(60), target_s=1.0)
    assert chosen_names(surest) == {"tested covers"}
    assert LeftOut("boasted covers", "it states no doubt") in surest.left_out


def test_near_the_runner_up_is_a_coin_toss():
    base = short_race()
    options = [
        option("one", "0.0031 m^2", slot="suit", doubt="0.001 m^2"),
        option("other", "0.0030 m^2", slot="suit", doubt="0.001 m^2"),
    ]
    found = basket_of(Slopes(candidates_of(base, options)), euros(10))
    assert chosen_names(found) == {"one"}
    runner_up = found.runner_up
    assert runner_up is not None
    assert runner_up.near
    # The difference is a tenth of one doubt, and so 0.1 / sqrt(2) of its own.
    assert runner_up.chance_chosen_better == pytest.approx(norm.cdf(0.1 / np.sqrt(2)), abs=2e-3)


def test_a_tested_set_that_both_hold_does_not_blur_the_runner_up():
    base = short_race()
    options = [
        option("suit", "0.004 m^2", doubt="0.01 m^2"),
        option("covers", "0.004 m^2", doubt="0.01 m^2"),
        option("one", "0.0031 m^2", slot="wheel", doubt="0.001 m^2"),
        option("other", "0.0030 m^2", slot="wheel", doubt="0.001 m^2"),
    ]
    both = Option(
        "both",
        saves=read_saving("0.008 m^2"),
        doubt=read_saving("0.01 m^2"),
        set_of=("suit", "covers"),
    )
    found = basket_of(Slopes(candidates_of(base, options, [both])), euros(30))
    assert chosen_names(found) == {"suit", "covers", "one"}
    assert found.runner_up is not None
    assert found.runner_up.instead == ("other",)
    # As without the set: the difference is a tenth of one doubt, 0.1 / sqrt(2) of its own.
    chance = found.runner_up.chance_chosen_better
    assert chance == pytest.approx(norm.cdf(0.1 / np.sqrt(2)), abs=2e-3)


def test_claims_are_held_against_the_least_drag_area_of_a_table():
    """Of 0.10 m^2 at 15 degrees two suits cannot save 0.06 m^2 each."""
    area = yaw_table([0.0, 15.0], [0.25, 0.10])
    base = ride(race(course=flat_course(1000.0), cda=area, step=60.0))
    candidates = candidates_of(base, [option("suit", "0.06 m^2"), option("other suit", "0.06 m^2")])
    chosen = Programme(candidates).best(np.ones(2), [])
    assert chosen is not None
    assert len(chosen) == 1


def test_claims_that_leave_nothing_of_a_loss_are_not_taken_together():
    """The chain loses 2.5 % of 250 W, 6.25 W: of three times 2.5 W two are believed."""
    base = short_race()
    options = [
        option(name, "2.5 W at 250 W", acts_on="drivetrain") for name in ("wax", "pulleys", "oil")
    ]
    found = basket_of(Slopes(candidates_of(base, options)), euros(100))
    assert len(found.items) == 2
    assert found.proved_optimal


def test_the_cheaper_of_two_equal_sets():
    base = short_race()
    options = [
        option("dear", "0.003 m^2", slot="suit", price=90),
        option("cheap", "0.003 m^2", slot="suit", price=20),
    ]
    assert chosen_names(basket_of(Slopes(candidates_of(base, options)), euros(100))) == {"cheap"}


def test_nothing_to_gain():
    base = short_race()
    found = basket_of(Slopes(candidates_of(base, [option("brick", "-0.003 m^2")])), euros(100))
    assert not found.items
    assert found.saved_s == 0.0
    assert found.proved_optimal


def test_required_but_not_to_be_had():
    base = short_race()
    candidates = candidates_of(
        base, [option("suit", "0.003 m^2", price=90), option("x", "0.001 m^2", None)]
    )
    required = numbers_of(candidates, ("suit",), "--require")
    with pytest.raises(InputError, match="no set of options meets all conditions"):
        basket_of(Slopes(candidates), euros(50), required)
    with pytest.raises(InputError, match="'x' cannot be chosen: it states no price"):
        numbers_of(candidates, ("x",), "--require")
    with pytest.raises(InputError, match="no option 'siut'; did you mean 'suit'"):
        numbers_of(candidates, ("siut",), "--require")
