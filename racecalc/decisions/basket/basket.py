"""The best set under a budget, its rivals, and what more money buys.

With independent normal doubts the chance rises with ``(m - t) / sqrt(V)``, m and V the sums of what
the items save and of their variances, t the wanted seconds. Where the chance is at least one half
this is quasi-convex in (m, V), so the best set lies on the upper hull of all (m, V) and maximises
``m - k V`` for some k: an integer program each. Below one half the best set need not lie there, and
the best of the hull is what is found. What parts may overlap that were not tested together is not
in the hull: from the best set of it, compared with that in, the search goes on to sets that differ
by one item or two, as long as they are surer. That is no proof.

References
----------
.. [1] Geoffrion AM. Solving bicriterion mathematical programs. Operations Research 1967;15:39-54
   (from memory).
"""

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import chain, combinations
from typing import Annotated, Literal

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.allowed import NO_DOUBT, LeftOut
from racecalc.decisions.basket.candidates import Item, Slopes, candidates_of
from racecalc.decisions.basket.search import (
    MEASURABLE,
    RESTARTS,
    Best,
    Programme,
    Row,
    best_set,
    climb,
)
from racecalc.decisions.money import amount_of
from racecalc.decisions.riding import Ridden
from racecalc.decisions.sets import Overlap, untested_together
from racecalc.decisions.verdicts import chance_faster, interval, shown_percent
from racecalc.domain.option import Option, refuse_mixed_currencies
from racecalc.errors import InputError
from racecalc.quantities.money import Money
from racecalc.written import HIDDEN, As, written

# --- The set with the greatest chance of saving at least so many seconds -------------------------

SAME = 1e-9


def chance_of(slopes: Slopes, chosen: frozenset[int], target: float) -> float | None:
    """Chance that a set saves at least so many seconds; None where a doubt is not known."""
    candidates = slopes.candidates
    doubt = candidates.doubt_between(chosen, candidates.used)
    return chance_faster(slopes.saved(chosen) - target, doubt)


def surest_set(
    slopes: Slopes,
    programme: Programme,
    conditions: list[Row],
    start: frozenset[int],
    target: float,
) -> tuple[frozenset[int], int]:
    """Find the set with the greatest chance of saving at least the target."""
    means, variances = slopes.worths_at(start), _additive_variances(slopes)
    sets = {start}
    for sign in (1.0, -1.0):
        end = programme.best(-sign * variances, conditions)
        if end is not None:
            sets |= _hull(programme, conditions, (means, variances), start, end)

    def rank(chosen: frozenset[int]) -> tuple[float, float]:
        found = chance_of(slopes, chosen, target)
        return -1.0 if found is None else found, slopes.saved(chosen)

    best = max(sorted(sets, key=sorted), key=rank)
    while (near := _surest_near(slopes, programme, conditions, best, target)) is not None:
        sets.add(near)
        if rank(near) <= rank(best):
            break
        best = near
    return best, len(sets)


def _surest_near(
    slopes: Slopes,
    programme: Programme,
    conditions: list[Row],
    chosen: frozenset[int],
    target: float,
) -> frozenset[int] | None:
    """The surest set that differs by one item or two, by slopes at the set; None for none."""
    candidates, worths = slopes.candidates, slopes.worths_at(chosen)
    known, here = slopes.saved(chosen), programme.picked(chosen)

    def chance(other: frozenset[int]) -> float:
        saved = known + float(worths @ (programme.picked(other) - here))
        doubt = candidates.doubt_between(other, candidates.used)
        return chance_faster(saved - target, doubt) or 0.0

    moves = chain.from_iterable(combinations(range(len(candidates.items)), n) for n in (1, 2))
    others = (chosen.symmetric_difference(move) for move in moves)
    near = [one for one in others if programme.allows(one, conditions)]
    return max(near, key=chance, default=None)


def _additive_variances(slopes: Slopes) -> FloatArray:
    found = [(item.apart.doubt_s or 0.0) ** 2 for item in slopes.candidates.items]
    for test in slopes.candidates.tested:
        found.append((test.doubt_s or 0.0) ** 2 - sum(found[member] for member in test.members))
    return np.array(found)


def _hull(
    programme: Programme,
    conditions: list[Row],
    axes: tuple[FloatArray, FloatArray],
    one: frozenset[int],
    other: frozenset[int],
) -> set[frozenset[int]]:
    """All sets on the hull of (mean, variance) between two that lie on it."""

    def sums(chosen: frozenset[int]) -> tuple[float, float]:
        picked = programme.picked(chosen)
        return float(axes[0] @ picked), float(axes[1] @ picked)

    (m1, v1), (m2, v2) = sums(one), sums(other)
    if abs(v1 - v2) < SAME:
        return {one, other}
    weight = (m1 - m2) / (v1 - v2)
    between = programme.best(axes[0] - weight * axes[1], conditions)
    if between is None or between in (one, other):
        return {one, other}
    mean, variance = sums(between)
    if mean - weight * variance <= m1 - weight * v1 + SAME:
        return {one, other}
    return _hull(programme, conditions, axes, one, between) | _hull(
        programme, conditions, axes, between, other
    )


# --- The answer to what to buy -------------------------------------------------------------------

COIN_TOSS = 0.65
"""Chance up to which the better of two sets is no clear winner; our choice."""


@dataclass(frozen=True)
class Other:
    """Another set, compared with the chosen one."""

    names: Annotated[tuple[str, ...], As(chosen="")]
    """What is in it."""
    instead: Annotated[tuple[str, ...], HIDDEN]
    """What it holds that the chosen one does not."""
    lacking: Annotated[tuple[str, ...], HIDDEN]
    """What the chosen one holds that it does not."""
    saved_s: float
    """What it saves [s]."""
    price: Annotated[Money, As(price="amount", currency="currency")]
    """Its prices, one of each."""
    cash: Decimal
    """What is paid first for it."""
    cost: float
    """What it costs for the races counted."""
    chance_chosen_better: float | None
    """Chance that the chosen one saves more, or is worth more where that was sought, the doubts of
    what differs taken as independent; None where one of them is not known.
    """

    @property
    def near(self) -> bool:
        """Whether which one is better is no more than a guess."""
        chance = self.chance_chosen_better
        return chance is None or chance <= COIN_TOSS


@dataclass(frozen=True)
class Basket:
    """The best set of options under a budget."""

    numbers: Annotated[frozenset[int], HIDDEN]
    """Numbers of the chosen items among the candidates."""
    items: Annotated[tuple[Item, ...], As(options="")]
    """The same, with what each saves alone and costs."""
    saved_s: float
    """What they save together, solved as one [s]."""
    sum_of_single_s: float
    """Sum of what each saves alone, beyond what it needs [s]."""
    doubt_s: float | None
    saved_s_low: float | None
    saved_s_high: float | None
    """Standard uncertainty and 95 % interval [s], the doubts of the items taken as independent, and
    that of what was not tested together added; None where an item does not state its doubt.
    """
    tests_of_sets: tuple[str, ...]
    """Tests of several items as one that count here instead of their parts."""
    untested_together: tuple[tuple[str, ...], ...]
    """Items that change the drag area and were not tested together, so that their savings may
    overlap; those in one test of a set are one. Empty where fewer than two may.
    """
    overlap: Overlap | None
    """How far tested sets were from the sum of their parts, for which `doubt_s` allows; None where
    no set was tested.
    """
    overlap_s: Annotated[float, HIDDEN]
    """The part of `doubt_s` that comes from it [s]; 0 where nothing is known of it."""
    without_doubt_stated: tuple[str, ...]
    """Items that state no doubt: they count as the maker claims."""
    price: Annotated[Money, As(price="amount", currency="currency")]
    """Its prices, one of each, or hire for the races counted, and in which currency."""
    cash: Decimal
    """What is paid first: as many of each as the races counted wear out."""
    cost: float
    """What it costs for the races counted: prices less resale by the share of their lives, or hire.
    """
    per_second: Annotated[Money | None, HIDDEN]
    """What a second in each of the races counted is worth in all; None where it is not stated, or
    seconds were sought.
    """
    budget: Annotated[Money | None, As(budget="amount")]
    """Most cash that may be paid; None for no limit."""
    objective: Literal["net worth", "seconds", "chance"]
    """What was made as great as possible."""
    proved_optimal: bool
    """Whether no other set is better in that by more than what cannot be measured."""
    gap_s: float | None
    """No other set is better by more than so many seconds, or where net worth was sought by what
    they are worth; None where that is not proved.
    """
    left_out: tuple[LeftOut, ...]
    """Options that could not be chosen."""
    races_counted: Annotated[int, As(races_counted="", races_hired="")]
    """Races for which costs are counted and hired items are hired."""
    target_s: float | None = None
    """Seconds whose chance was made as great as possible; None where the seconds were."""
    chance_of_target: float | None = None
    """That chance."""
    sets_compared: int | None = None
    """Sets among which the chance was compared; None where the seconds were made greatest."""
    runner_up: Other | None = None
    """The best set under the same budget with something else instead of a part of it; where the
    chance was made greatest, the set that saves most.
    """
    without_bare_claims: Other | None = None
    """The best set of items that state a doubt; None where the chosen one is that."""
    at_price_alone: Other | None = None
    """The best set where costs and cash are the prices alone, without life and resale, for
    comparison; None where it is the same.
    """

    @written
    def net_worth(self) -> float | None:
        """What its seconds are worth less its cost; None where net worth was not sought."""
        worth = self.per_second
        return None if worth is None else float(worth.amount) * self.saved_s - self.cost

    @written
    def chosen(self) -> tuple[str, ...]:
        """Names of the chosen options."""
        return tuple(item.option.name for item in self.items)


def basket_of(
    slopes: Slopes,
    budget: Money | None,
    required: frozenset[int] = frozenset(),
    target_s: float | None = None,
    per_second: Money | None = None,
) -> Basket:
    """Find the best set under a budget, and what comes near it.

    With `target_s`, the chance of saving at least so many seconds is made as great as possible,
    among the items that state a doubt; else with `per_second`, what a second in each of the races
    counted is worth in all, the set is sought that is worth most after its cost; else the one that
    saves most. The required items must be in it.

    Raises `InputError` if no set meets all conditions.
    """
    worth = amount_of(per_second) if target_s is None else None
    programme, claims = Programme(slopes.candidates, required, worth), slopes.candidates.claims
    if target_s is not None:
        return _surest(slopes, programme, budget, target_s, per_second)
    limit = amount_of(budget)
    best = best_set(slopes, programme, limit)
    found = _described(slopes, best, budget, per_second)

    def rival(*further: Row) -> Other | None:
        try:
            other = best_set(slopes, programme, limit, further).chosen
        except InputError:
            return None
        return _other(slopes, programme, best.chosen, other)

    doubted = found.without_doubt_stated and not required & set(claims)
    return replace(
        found,
        runner_up=rival(*programme.swapped(best.chosen)),
        without_bare_claims=rival(programme.without(claims)) if doubted else None,
        at_price_alone=_at_price_alone(slopes, programme, best.chosen, limit),
    )


def _at_price_alone(
    slopes: Slopes, programme: Programme, chosen: frozenset[int], limit: Decimal | None
) -> Other | None:
    """The set that would be chosen by prices alone, where that is another one."""
    apart = Slopes(slopes.candidates.at_price_alone())
    others = zip(slopes.candidates.items, apart.candidates.items, strict=True)
    if all(one.cost == other.cost and one.cash == other.cash for one, other in others):
        return None
    try:
        costing = Programme(apart.candidates, programme.required, programme.per_second)
        other = best_set(apart, costing, limit).chosen
    except InputError:
        return None
    same = abs(programme.value_s(slopes, other) - programme.value_s(slopes, chosen)) < SAME
    return None if other == chosen or same else _other(slopes, programme, chosen, other)


def _described(
    slopes: Slopes, best: Best, budget: Money | None, per_second: Money | None
) -> Basket:
    candidates, chosen, saved = slopes.candidates, best.chosen, slopes.saved(best.chosen)
    doubt = candidates.doubt_between(chosen, candidates.used)
    low, high = interval(saved, doubt)
    items = tuple(candidates.items[number] for number in sorted(chosen))
    tests, loose = candidates.tests_and_rest(chosen)
    bare_tests = (test.name for test in tests if test.doubt_s is None)
    bare = [one for one in loose if one in candidates.claims]
    together = untested_together(candidates.parts_of(chosen))
    return Basket(
        numbers=chosen,
        items=items,
        saved_s=saved,
        sum_of_single_s=sum(item.worth.own_s for item in items),
        doubt_s=doubt,
        saved_s_low=low,
        saved_s_high=high,
        tests_of_sets=tuple(test.name for test in tests),
        untested_together=tuple(part.names for part in together),
        overlap=candidates.overlap,
        overlap_s=candidates.overlap_between(chosen, candidates.used),
        without_doubt_stated=(*bare_tests, *candidates.names_of(bare)),
        price=Money(candidates.price_of(chosen), candidates.currency_with(budget, per_second)),
        cash=candidates.cash_of(chosen),
        cost=candidates.cost_of(chosen),
        per_second=per_second,
        budget=budget,
        objective="seconds" if per_second is None else "net worth",
        proved_optimal=best.gap_s is not None and best.gap_s <= MEASURABLE,
        gap_s=best.gap_s,
        left_out=candidates.left_out,
        races_counted=candidates.races,
    )


def _other(
    slopes: Slopes, programme: Programme, chosen: frozenset[int], other: frozenset[int]
) -> Other:
    candidates = slopes.candidates
    gain = programme.value_s(slopes, chosen) - programme.value_s(slopes, other)
    return Other(
        names=candidates.names_of(other),
        instead=candidates.names_of(other - chosen),
        lacking=candidates.names_of(chosen - other),
        saved_s=slopes.saved(other),
        price=Money(candidates.price_of(other), candidates.currency_with()),
        cash=candidates.cash_of(other),
        cost=candidates.cost_of(other),
        chance_chosen_better=chance_faster(gain, candidates.doubt_between(chosen, other)),
    )


def _surest(
    slopes: Slopes,
    programme: Programme,
    budget: Money | None,
    target_s: float,
    per_second: Money | None,
) -> Basket:
    candidates, limit = slopes.candidates, amount_of(budget)
    conditions = [programme.without(candidates.claims)]
    start = best_set(slopes, programme, limit, conditions)
    conditions += [] if limit is None else [programme.within(limit)]
    chosen, compared = surest_set(slopes, programme, conditions, start.chosen, target_s)
    chosen, further = _cheapest(slopes, programme, conditions, chosen, target_s)
    found = _described(slopes, Best(chosen, None), budget, per_second)
    bare = (LeftOut(name, NO_DOUBT) for name in candidates.names_of(candidates.claims))
    most = _other(slopes, programme, chosen, start.chosen)
    return replace(
        found,
        objective="chance",
        target_s=target_s,
        chance_of_target=chance_of(slopes, chosen, target_s),
        sets_compared=compared + further,
        left_out=(*found.left_out, *bare),
        runner_up=None if start.chosen == chosen else most,
    )


CENT = 0.01
"""Step of cost at which the search for the cheapest set ends, in whole units of money."""


def _cheapest(
    slopes: Slopes,
    programme: Programme,
    conditions: list[Row],
    surest: frozenset[int],
    target_s: float,
) -> tuple[frozenset[int], int]:
    """The set of least cost whose chance is shown with the same digits as the greatest one.

    The greatest chance under a limit of cost never falls as the limit rises.
    """
    shown = shown_percent(chance_of(slopes, surest, target_s) or 0.0)
    cost_of = slopes.candidates.cost_of
    best, low, compared = surest, 0.0, 0
    while cost_of(best) - low > CENT:
        limit = 0.5 * (low + cost_of(best))
        cheaper = [*conditions, programme.cheaper(limit)]
        start = climb(slopes, programme, cheaper)
        if start is None:
            low = limit
            continue
        found, more = surest_set(slopes, programme, cheaper, start, target_s)
        compared += more
        if shown_percent(chance_of(slopes, found, target_s) or 0.0) == shown:
            best = found
        else:
            low = limit
    return best, compared


# --- What more money buys ------------------------------------------------------------------------

LEAST_STEP = Decimal("0.04")
"""Least step down the ladder, as a share of the money; our choice, finer than anyone plans."""

WORTH_A_LINE = 0.5
"""Seconds by which a step must better the one before [s]; our choice of what is worth a line."""


@dataclass(frozen=True)
class Rung:
    """The best set for a certain amount of money."""

    price: Decimal
    """Its prices, one of each."""
    cash: Decimal
    """What is paid first for it."""
    cost: float
    """What it costs for the races counted."""
    saved_s: float
    """What it saves, solved in full [s]."""
    names: Annotated[tuple[str, ...], As(chosen="")]
    """What is in it."""
    added: Annotated[tuple[str, ...], HIDDEN]
    dropped: Annotated[tuple[str, ...], HIDDEN]
    """Against the step before."""
    price_more: Annotated[float | None, As(price_per_second_more="")]
    """Price for each second more than the step before, or beyond the chosen set more than that;
    None for the first, and where it saves no more.
    """
    cost_more: Annotated[float | None, As(cost_per_second_more="")]
    """The same of what it costs for the races counted."""


def ladder(
    slopes: Slopes,
    required: frozenset[int] = frozenset(),
    track: Callable[[range], Iterable[int]] = iter,
    chosen: frozenset[int] | None = None,
) -> tuple[Rung, ...]:
    """Find the set that saves most for every amount of cash; a chosen one is among them."""
    programme = Programme(slopes.candidates, required)
    return rungs(slopes, [*descended(slopes, programme, track)], chosen)


def ladder_of_race(
    base: Ridden,
    options: Sequence[Option],
    solving: Callable[[Sequence[Option]], Iterable[Option]] = iter,
    climbing: Callable[[range], Iterable[int]] = iter,
) -> tuple[Rung, ...]:
    """Find the best set for every amount of money, things hired for a season."""
    race = base.race
    refuse_mixed_currencies(options)
    candidates = candidates_of(base, solving(options), race.tested_sets)
    if not candidates.items:
        raise InputError(race.name, "the race file has no option with a price", "add prices")
    return ladder(Slopes(candidates), track=climbing)


def descended(
    slopes: Slopes, programme: Programme, track: Callable[[range], Iterable[int]] = iter
) -> Iterator[frozenset[int]]:
    """The best sets for ever less money, by at least `LEAST_STEP`, from the best of all down.

    Each is found by the slopes at the one before, and of few options by its own too: of many each
    integer program takes long.
    """
    paid = [item.cash for item in programme.candidates.items if item.cash]
    cash_of, whole = programme.candidates.cash_of, sum(paid, Decimal(0))
    steps = math.log(whole / min(paid)) / -math.log(1 - LEAST_STEP) if paid else 0.0
    restarts = 1 if programme.listed(()) is None else RESTARTS
    best = climb(slopes, programme, [programme.within(whole)])
    for _ in track(range(2 + math.ceil(steps))):
        if best is None:
            return
        yield best
        less = programme.within(cash_of(best) * (1 - LEAST_STEP))
        best = climb(slopes, programme, [less], best, restarts) if cash_of(best) else None


def rungs(
    slopes: Slopes, sets: Sequence[frozenset[int]], chosen: frozenset[int] | None = None
) -> tuple[Rung, ...]:
    """Describe the sets step by step, leaving out those that gain nothing on the one before.

    The chosen set is a step in any case, and what further seconds cost is counted from it on.
    """
    candidates = slopes.candidates
    cash_of, names_of = candidates.cash_of, candidates.names_of
    found: list[Rung] = []
    last, against = frozenset[int](), None
    every = dict.fromkeys([*sets, *([] if chosen is None else [chosen])])
    for one in sorted(every, key=lambda one: (cash_of(one), -slopes.saved(one))):
        saved, most = slopes.saved(one), max((step.saved_s for step in found), default=-math.inf)
        if one != chosen and saved < most + WORTH_A_LINE:
            continue
        price, cost = candidates.price_of(one), candidates.cost_of(one)
        more = saved - against.saved_s if against else 0.0
        step = Rung(
            price=price,
            cash=cash_of(one),
            cost=cost,
            saved_s=saved,
            names=names_of(one),
            added=names_of(one - last),
            dropped=names_of(last - one),
            price_more=float(price - against.price) / more if against and more > 0 else None,
            cost_more=(cost - against.cost) / more if against and more > 0 else None,
        )
        found.append(step)
        last = one
        if one == chosen or chosen is None or cash_of(one) <= cash_of(chosen):
            against = step
    return tuple(found)
