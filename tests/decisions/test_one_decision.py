"""All answers about one race agree: no cost, saving, doubt, reason or advice against another.

Small random races with everything that a race file may say of an option. Times are held against
races with the values written out, costs against the rule as it reads, sets against all that there
are; the rest of the checks is what agreement means.
"""

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise
from typing import NamedTuple

import pytest

from racecalc.answers.basis import Basis
from racecalc.decisions.advice.advice import Advice, AdviceRequest, advise
from racecalc.decisions.against import rivals_of
from racecalc.decisions.allowed import FORBIDDEN, NO_DOUBT, NO_PRICE_STATED
from racecalc.decisions.basket.basket import Basket, basket_of, chance_of, ladder
from racecalc.decisions.basket.candidates import Candidates, Slopes, candidates_of
from racecalc.decisions.break_even import Against, BreakEvens, break_evens
from racecalc.decisions.deciding import Decision, decide
from racecalc.decisions.information import IN_USE, OF_A_SET, PricedQuestion, Scatter
from racecalc.decisions.pacing.card import pace
from racecalc.decisions.pacing.limits import asked_limit
from racecalc.decisions.riding import Ridden
from racecalc.decisions.value import (
    OptionValue,
    last_spent,
    season_values,
    value_of_set,
    values_of,
)
from racecalc.decisions.worth import ride_in_use
from racecalc.domain.option import Option
from tests.builders import euros
from tests.decisions.small_races import (
    GUST,
    PER_SECOND,
    WARM,
    cost_by_hand,
    fits,
    mixed_race,
    plain_race,
    sets_of,
    time_by_hand,
    with_needs,
)

QUICK, EVERY = (4, 7, 32), (*range(2), *range(3, 30))
"""Seeds of the races: those of every run, and those of the slow one. The race of seed 2 has nothing
that decide can judge, which it says as an error.
"""


class Answers(NamedTuple):
    base: Ridden
    known: dict[str, Option]
    values: dict[str, OptionValue]
    candidates: Candidates
    within: Basket
    unlimited: Basket
    decided: Decision
    advice: Advice
    break_evens: dict[str, BreakEvens]

    @property
    def tests(self) -> tuple[Option, ...]:
        return self.base.race.tested_sets

    @property
    def left_out(self) -> dict[str, str]:
        return {one.name: one.because for one in self.candidates.left_out}

    @property
    def not_judged(self) -> dict[str, str]:
        return {one.name: one.reason for one in self.decided.not_judged}

    @property
    def advised(self) -> dict[str, str]:
        return {one.name: one.do for one in self.advice.shopping.advised}

    def decided_to(self, *kinds: str) -> set[str]:
        actions = [slot.action for slot in self.decided.slots]
        return {name for one in actions if one.kind in kinds for name in one.names}

    def time_with(self, names) -> float:
        return time_by_hand(self.base.bare, [self.known[name] for name in names], self.tests)


def answers_on(seed: int) -> Answers:
    built = mixed_race(seed)
    base, terms = ride_in_use(built), built.money_terms
    options = base.race.single_options
    candidates = candidates_of(base, options, base.race.tested_sets)
    slopes = Slopes(candidates)
    fee, scatters = euros(20), (Scatter(None, 1.0, "1 s"),)
    question = PricedQuestion(terms.per_second, fee, scatters=scatters, budget=terms.budget)
    request = AdviceRequest(session_fee=fee, scatters=scatters)
    return Answers(
        base,
        {one.name: one for one in options},
        {one.option.name: one for one in values_of(base, options, wanted=terms.per_second)},
        candidates,
        basket_of(slopes, terms.budget, per_second=terms.per_second),
        basket_of(slopes, None, per_second=terms.per_second),
        decide(base, base.race.options, question),
        advise(built, request),
        {one.name: break_evens(base, one, Against(terms.per_second)) for one in options},
    )


def seeds() -> Iterator[object]:
    yield from QUICK
    for seed in EVERY:
        if seed not in QUICK:
            yield pytest.param(seed, marks=pytest.mark.slow)


@pytest.fixture(scope="module", params=seeds())
def found(request) -> Answers:
    return answers_on(request.param)


# --- One saving, one doubt and one cost for one thing ---------------------------------------------


def test_times_are_those_of_races_with_the_values_written_out(found: Answers) -> None:
    use = found.base.race.use
    assert found.base.time == pytest.approx(found.time_with(use), abs=1e-5)
    for name, value in found.values.items():
        having, without = value.exchange.having, value.exchange.without
        saved = found.time_with(without) - found.time_with(having)
        assert value.saved_s == pytest.approx(saved, abs=1e-5)
        # What it needs comes with it and is named.
        needed = with_needs([name], found.known)
        assert needed <= set(having)
        assert set(value.exchange.brings) == needed - {name} - set(use)
        assert set(having) - set(use) == needed - set(use)
        assert name in found.left_out or fits([found.known[one] for one in having])
    for basket in (found.within, found.unlimited):
        saved = found.base.time - found.time_with(basket.chosen)
        assert basket.saved_s == pytest.approx(saved, abs=1e-5)
    plan, chosen = found.advice.plan, found.advice.shopping.basket
    if chosen is not None and not set(found.advice.shopping.excluded) & {
        test.name for test in found.tests
    }:
        assert plan.even.time == pytest.approx(found.time_with(chosen.chosen), abs=1e-5)


def test_one_saving_and_one_doubt(found: Answers) -> None:
    prospects = [one for slot in found.decided.slots for one in slot.prospects]
    items = [*found.candidates.items, *found.within.items]
    for one in prospects:
        worth = found.values[one.name].worth
        assert (one.saved_s, one.doubt_s) == pytest.approx((worth.saved_s, worth.doubt_s))
    for item in items:
        worth = found.values[item.option.name].worth
        assert item.worth.saved_s == pytest.approx(worth.saved_s)
        assert item.worth.doubt_s == pytest.approx(worth.doubt_s)
    for name, one in found.break_evens.items():
        value = found.values[name]
        assert one.saved_s == pytest.approx(value.saved_s)
        assert one.saved_s_low == pytest.approx(value.saved_s_low)
        assert one.unsafe == value.unsafe
    for value in found.advice.values:
        here = found.values[value.option.name]
        assert value.saved_s == pytest.approx(here.saved_s)
        assert value.worth.doubt_s == pytest.approx(here.worth.doubt_s)


def test_one_doubt_of_a_set(found: Answers) -> None:
    """That of a basket is that of value for the same set, as long as both begin with nothing.

    To first order each, value's on the ride with the set and the basket's on those with each part.
    """
    for basket in (found.within, found.unlimited):
        options = tuple(found.known[name] for name in basket.chosen)
        if options and not found.base.race.use:
            value = value_of_set(found.base, options, found.tests)
            assert basket.doubt_s == pytest.approx(value.doubt_s, rel=0.02)
            assert basket.untested_together == value.untested_together


def test_one_cost_by_the_rule(found: Answers) -> None:
    use = found.base.race.use

    def cost(names: set[str]) -> float | None:
        each = [cost_by_hand(found.known[name]) for name in names]
        return None if None in each else sum(one[0] for one in each if one)

    for name, value in found.values.items():
        come = cost({name, *value.exchange.brings})
        assert value.cost == pytest.approx(come, abs=1e-6)
        even = found.break_evens[name]
        assert even.use.cost == value.cost
        (season,) = season_values([found.base], [found.known[name]])
        assert season.cost_per_second == pytest.approx(value.cost_per_second)
        # By what a second is worth, 30 EUR, its cost is so many seconds.
        rows = [row.to_gain_s for row in even.break_evens if row.of_cost]
        bare = even.break_evens[0].to_gain_s
        if value.basis in ("bought", "hired") and come:
            assert rows == pytest.approx([bare + come / PER_SECOND], abs=1e-5)
    for slot in found.decided.slots:
        for one in slot.prospects:
            assert (one.cost, one.by) == (found.values[one.name].cost, found.values[one.name].basis)
    for basket in (found.within, found.unlimited):
        assert basket.cost == pytest.approx(cost(set(basket.chosen)))
        by_hand = [cost_by_hand(found.known[name]) for name in basket.chosen]
        assert float(basket.cash) == pytest.approx(sum(one[1] for one in by_hand if one))
        assert all(found.known[name].ownership.owned for name in set(basket.chosen) & set(use))


def test_against_is_the_difference_of_two_values(found: Answers) -> None:
    """Two options that go into the set in use as it is: what one saves more than the other."""
    plain = [
        name
        for name, value in found.values.items()
        if not value.exchange.in_use and not value.exchange.replaces
    ]
    for one, other in list(pairwise(plain))[:2]:
        rivals = rivals_of(found.base, (one,), (other,))
        values = [found.values[name] for name in (one, other)]
        saved = values[0].saved_s - values[1].saved_s
        assert rivals.gain.saved_s == pytest.approx(saved, abs=1e-6)
        for side, value in zip(rivals.sides, values, strict=True):
            assert side.gain.saved_s == pytest.approx(value.saved_s, abs=1e-6)
            assert side.gain.doubt_s == pytest.approx(value.worth.doubt_s)
            assert side.cost == pytest.approx(value.cost)
            assert side.brings == value.exchange.brings
            assert bool(side.unsafe) >= bool(value.unsafe)


def test_pace_rides_what_is_in_use_and_says_what_is_unsafe_in_it(found: Answers) -> None:
    card = pace(found.base, asked_limit(found.base, "power-mean"), 6).card
    assert card.time_s <= found.base.time + 0.5
    dangers = {name: found.values[name].unsafe for name in found.base.race.use}
    said = dict(Basis.of(found.base).unsafe)
    assert said == {name: why for name, why in dangers.items() if why}


# --- One set of rules -----------------------------------------------------------------------------


def excluded_by_hand(found: Answers) -> dict[str, str]:
    """Options that no answer may choose, by the words that each must find for it."""
    reasons = {}
    for name, option in found.known.items():
        ties, own = option.restrictions, option.ownership
        limit = 14.0 if ties.catches_wind and ties.gust_limit is None else ties.gust_limit
        watts = found.values[name].watts_equivalent_w or 0.0
        if ties.rules == "forbidden":
            reasons[name] = FORBIDDEN
        elif limit is not None and limit <= GUST:
            reasons[name] = "too strong for it"
        elif ties.heat_limit is not None and ties.heat_limit <= WARM:
            reasons[name] = "it must not be used"
        elif option.price is None and own.hire is None and not own.owned:
            reasons[name] = NO_PRICE_STATED
        elif ties.least_gain and watts < ties.least_gain:
            reasons[name] = "you want of it"
        elif not fits([found.known[one] for one in with_needs([name], found.known)]):
            reasons[name] = "cannot be"
    while more := {
        name: "cannot be"
        for name, option in found.known.items()
        if name not in reasons and reasons.keys() & set(option.restrictions.needs)
    }:
        reasons |= more
    return reasons


def test_what_may_not_be_used_is_chosen_by_nobody_and_all_say_why(found: Answers) -> None:
    reasons = excluded_by_hand(found)
    assert found.left_out.keys() == reasons.keys()
    because = {one.name: one.because for one in found.advice.shopping.advised}
    for name, words in reasons.items():
        assert words in found.left_out[name]
        assert found.not_judged[name] == found.left_out[name] == because[name]
    expected = {
        FORBIDDEN: "forbidden",
        NO_PRICE_STATED: "unpriced",
        "too strong for it": "unsafe",
        "it must not be used": "unsafe",
    }
    for name, words in reasons.items():
        assert found.advised[name] == expected.get(words, "leave")
    steps = ladder(Slopes(found.candidates))
    others = [basket.runner_up for basket in (found.within, found.unlimited)]
    recommended = {
        *found.within.chosen,
        *found.unlimited.chosen,
        *(name for step in steps for name in step.names),
        *(name for other in others if other for name in other.names),
        *found.decided_to("buy", "hire", "use", "test"),
        *found.advice.shopping.to("buy", "hire", "use", "test", "wait", "weigh"),
    }
    assert recommended.isdisjoint(reasons)
    for name, value in found.values.items():
        assert bool(value.unsafe) is ("too strong" in value.unsafe or "must not" in value.unsafe)
        if "too strong" in reasons.get(name, "") or "must not be" in reasons.get(name, ""):
            assert value.unsafe == found.left_out[name]


def test_whatever_is_chosen_can_be_used_together(found: Answers) -> None:
    use = found.base.race.use
    for names in (found.within.chosen, found.unlimited.chosen):
        assert fits([found.known[name] for name in names])
    assert fits([found.known[name] for name in found.decided_to("buy", "hire", "use")], use)
    basket = found.advice.shopping.basket
    assert basket is None or fits([found.known[name] for name in basket.chosen])


def test_what_is_not_judged_says_why_and_the_rest_is_judged(found: Answers) -> None:
    """A claim without doubt is judged by no chance: decide leaves it, and advice tests it first."""
    judged = {one.name for slot in found.decided.slots for one in slot.prospects}
    singles = found.known.keys()
    assert judged | (found.not_judged.keys() & singles) == singles
    assert judged.isdisjoint(found.not_judged)
    assert {found.not_judged[test.name] for test in found.tests} <= {OF_A_SET}
    for name in singles - judged - found.left_out.keys():
        reason, value = found.not_judged[name], found.values[name]
        if name in found.base.race.use:
            assert reason == IN_USE
        else:
            assert value.worth.doubt_s is None
            bare = found.known[name].doubt is None
            assert reason == (NO_DOUBT if bare else "what comes or goes with it states no doubt")
    for name in found.within.without_doubt_stated:
        assert name in found.not_judged or name in {test.name for test in found.tests}


# --- One advice -----------------------------------------------------------------------------------


def test_advice_and_decide_do_alike(found: Answers) -> None:
    """Of all that decide judges: what is bought, used and tested is the same."""
    tests, now = found.decided_to("test"), found.decided_to("buy", "hire", "use")
    judged = {one.name for slot in found.decided.slots for one in slot.prospects}
    assert set(found.advice.shopping.to("test")) & judged == tests
    used = set(found.advice.shopping.to("buy", "hire", "use")) & judged
    untested = {
        name
        for slot in found.decided.slots
        if slot.action.kind == "test"
        for name in slot.untested.action.names
    }
    assert now <= used
    # In a slot whose test is to come, what costs nothing is used until then.
    assert used - now <= untested | {
        one.name
        for slot in found.decided.slots
        if slot.action.kind == "test"
        for one in slot.prospects
        if not one.cost
    }
    ways = {"bought": "buy", "hired": "hire"}
    for item in found.advice.shopping.basket.items if found.advice.shopping.basket else ():
        assert found.advised[item.option.name] == ways.get(item.by, "use")


def test_what_decide_leaves_aside_is_left_by_advice_too(found: Answers) -> None:
    for slot in found.decided.slots:
        for name in slot.set_aside:
            assert found.advised[name] in ("leave", "wait")
            assert bool(slot.waits) is (found.advised[name] == "wait")


def test_advice_chooses_as_the_basket_does_of_what_is_settled(found: Answers) -> None:
    """By trying all sets, each ridden with its values written out."""
    shopping = found.advice.shopping
    out = {*shopping.excluded, *found.left_out}
    tests = [test for test in found.tests if test.name not in out]
    options = [one for one in found.known.values() if one.name not in out]
    budget = float(found.base.race.money_terms.budget.amount)
    bare = found.base.bare

    def net(chosen: tuple[Option, ...]) -> float:
        saved = found.base.time - time_by_hand(bare, chosen, tests)
        return PER_SECOND * saved - sum(cost_by_hand(one)[0] for one in chosen)

    must = {*shopping.required}
    payable = [
        one
        for one in sets_of(options)
        if sum(cost_by_hand(each)[1] for each in one) <= budget
        and must <= {each.name for each in one}
    ]
    if shopping.basket is None:
        assert not options
        return
    # 0.005 s is left open by the proof.
    best = max(map(net, payable))
    assert shopping.basket.net_worth == pytest.approx(best, abs=0.005 * PER_SECOND)


@pytest.mark.parametrize("limit", ["within", "unlimited"])
def test_the_basket_is_worth_most_of_all_sets(found: Answers, limit: str) -> None:
    """Every set ridden with its values written out, its cost and cash by hand."""
    basket = getattr(found, limit)
    options = [one for one in found.known.values() if one.name not in found.left_out]
    budget = float(found.base.race.money_terms.budget.amount)
    nets = [
        PER_SECOND * (found.base.time - time_by_hand(found.base.bare, chosen, found.tests))
        - sum(cost_by_hand(one)[0] for one in chosen)
        for chosen in sets_of(options)
        if limit == "unlimited" or sum(cost_by_hand(one)[1] for one in chosen) <= budget
    ]
    assert basket.net_worth == pytest.approx(max(nets), abs=0.005 * PER_SECOND)


# --- The surest set -------------------------------------------------------------------------------


def test_no_set_is_surer(found: Answers) -> None:
    """Against the chance of every set of options that state a doubt, within what is shown."""
    candidates, slopes = found.candidates, Slopes(found.candidates)
    budget = found.base.race.money_terms.budget
    numbers = {one.option.name: at for at, one in enumerate(candidates.items)}
    sure = [item.option for at, item in enumerate(candidates.items) if at not in candidates.claims]
    sets = [
        frozenset(numbers[one.name] for one in chosen)
        for chosen in sets_of(sure)
        if candidates.cash_of(numbers[one.name] for one in chosen) <= budget.amount
    ]
    most = max(slopes.saved(one) for one in sets)
    if most <= 0.5:
        return
    target = 0.6 * most
    surest = basket_of(slopes, budget, target_s=target)
    chances = [one for one in (chance_of(slopes, one, target) for one in sets) if one is not None]
    if not chances:  # a claim in use goes whatever is chosen
        assert surest.chance_of_target is None
    else:
        assert surest.chance_of_target == pytest.approx(max(chances), abs=0.005)


# --- Where nothing is left to be tested or excluded, all choose the same --------------------------


class Settled(NamedTuple):
    base: Ridden
    question: PricedQuestion
    within: Basket
    unlimited: Basket
    decided: Decision


@pytest.fixture(scope="module", params=[1, 2, 17])
def settled(request) -> Settled:
    built = plain_race(request.param)
    base, terms = ride_in_use(built), built.money_terms
    slopes, worth = Slopes(candidates_of(base, built.options)), terms.per_second
    question = PricedQuestion(worth, euros(500), scatters=(Scatter(None, 1.0, "1 s"),))
    return Settled(
        base,
        question,
        basket_of(slopes, terms.budget, per_second=worth),
        basket_of(slopes, None, per_second=worth),
        decide(base, built.options, question),
    )


def bought(decided: Decision) -> set[str]:
    return {name for slot in decided.slots for name in slot.action.names}


def test_basket_decide_and_advice_choose_alike(settled: Settled) -> None:
    kinds = {slot.action.kind for slot in settled.decided.slots}
    assert kinds <= {"buy", "hire", "use", "nothing"}
    assert set(settled.unlimited.chosen) == bought(settled.decided)
    advice = advise(settled.base.race)
    assert advice.shopping.basket is not None
    assert advice.shopping.basket.chosen == settled.within.chosen
    assert advice.shopping.basket.net_worth == pytest.approx(settled.within.net_worth)
    does = {one.name: one.do for one in advice.shopping.advised}
    ways = {"bought": "buy", "hired": "hire", "owned": "use"}
    for item in settled.within.items:
        assert does[item.option.name] == ways[item.by]


def test_what_is_decided_fits_the_budget_as_the_basket_does(settled: Settled) -> None:
    budget, options = settled.base.race.money_terms.budget, settled.base.race.options
    decided = decide(settled.base, options, replace(settled.question, budget=budget))
    assert bought(decided) == {*settled.within.chosen}
    aside = {name for slot in decided.slots for name in slot.set_aside}
    assert decided.beyond_budget
    assert aside == {*settled.unlimited.chosen} - {*settled.within.chosen}
    assert settled.within.cash <= budget.amount
    assert settled.within.proved_optimal
    assert settled.unlimited.proved_optimal


def test_the_dearest_seconds_are_counted_by_cost(settled: Settled) -> None:
    chosen = tuple(item.option for item in settled.unlimited.items)
    last = last_spent(settled.base, chosen)
    assert last is not None
    (option,) = (one for one in chosen if one.name == last.name)
    assert last.cost == pytest.approx(cost_by_hand(option)[0])
    assert last.per_second == pytest.approx(last.cost / last.saved_s)
