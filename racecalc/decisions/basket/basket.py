"""The best set under a budget, its rivals, and what more money buys."""

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.basket.candidates import Item, Shelf, Slopes, shelf_of
from racecalc.decisions.basket.search import Best, Programme, Row, best_set, climb, thrifty
from racecalc.decisions.money import refuse_mixed_currencies
from racecalc.decisions.riding import Ridden
from racecalc.decisions.verdicts import chance_faster, interval
from racecalc.domain.option import Option
from racecalc.errors import InputError
from racecalc.quantities.money import Money

# --- The set with the greatest chance of saving at least so many seconds -------------------------

SAME = 1e-9


def chance_of(slopes: Slopes, chosen: frozenset[int], target: float) -> float | None:
    """Chance that a set saves at least so many seconds; None where a doubt is not known."""
    doubt = doubt_of(slopes, chosen)
    return chance_faster(slopes.saved(chosen) - target, doubt)


def doubt_of(slopes: Slopes, chosen: frozenset[int]) -> float | None:
    """Standard uncertainty of what a set saves [s], doubts independent; None if not known."""
    variances = slopes.shelf.variances(chosen)
    known = [variance for variance in variances if variance is not None]
    return math.sqrt(sum(known)) if len(known) == len(variances) else None


def surest_set(
    slopes: Slopes,
    programme: Programme,
    conditions: list[Row],
    start: frozenset[int],
    target: float,
) -> tuple[frozenset[int], int]:
    """Find the set with the greatest chance of saving at least the target.

    Parameters
    ----------
    slopes, programme
        Solver and conditions; every item states its doubt.
    conditions : list of Row
        Further ones, such as the budget.
    start : frozenset of int
        The set that saves most.
    target : float
        Wanted seconds [s].

    Returns
    -------
    chosen : frozenset of int
        Numbers of the items.
    looked_at : int
        Number of sets on the hull that were compared.
    """
    means = slopes.worths_at(start)
    variances = _additive_variances(slopes)
    sets = {start}
    for sign in (1.0, -1.0):
        end = programme.best(-sign * variances, conditions)
        if end is not None:
            sets |= _hull(programme, conditions, (means, variances), start, end)

    def chance(chosen: frozenset[int]) -> float:
        found = chance_of(slopes, chosen, target)
        return -1.0 if found is None else found

    best = max(sorted(sets, key=sorted), key=lambda one: (chance(one), slopes.saved(one)))
    return best, len(sets)


def _additive_variances(slopes: Slopes) -> FloatArray:
    shelf = slopes.shelf
    items = [(item.worth.doubt_s or 0.0) ** 2 for item in shelf.items]
    gaps = [
        (test.doubt_s or 0.0) ** 2 - sum(items[member] for member in test.members)
        for test in shelf.tested
    ]
    return np.array([*items, *gaps])


def _hull(
    programme: Programme,
    conditions: list[Row],
    axes: tuple[FloatArray, FloatArray],
    one: frozenset[int],
    other: frozenset[int],
) -> set[frozenset[int]]:
    """All sets on the hull of (mean, variance) between two that lie on it."""
    (m1, v1), (m2, v2) = (_sums(programme, axes, chosen) for chosen in (one, other))
    if abs(v1 - v2) < SAME:
        return {one, other}
    weight = (m1 - m2) / (v1 - v2)
    between = programme.best(axes[0] - weight * axes[1], conditions)
    if between is None or between in (one, other):
        return {one, other}
    mean, variance = _sums(programme, axes, between)
    if mean - weight * variance <= m1 - weight * v1 + SAME:
        return {one, other}
    return _hull(programme, conditions, axes, one, between) | _hull(
        programme, conditions, axes, between, other
    )


def _sums(
    programme: Programme, axes: tuple[FloatArray, FloatArray], chosen: frozenset[int]
) -> tuple[float, float]:
    picked = programme.picked(chosen)
    return float(axes[0] @ picked), float(axes[1] @ picked)


# --- The answer to what to buy -------------------------------------------------------------------

COIN_TOSS = 0.65
"""Chance up to which the better of two sets is no clear winner; our choice."""


@dataclass(frozen=True)
class Other:
    """Another set, compared with the chosen one."""

    names: tuple[str, ...]
    """What is in it."""
    instead: tuple[str, ...]
    """What it holds that the chosen one does not."""
    lacking: tuple[str, ...]
    """What the chosen one holds that it does not."""
    saved_s: float
    """What it saves [s]."""
    price: Money
    """What it costs."""
    chance_chosen_better: float | None
    """Chance that the chosen one saves more, the doubts of what differs taken as independent; None
    where one of them is not known.
    """

    @property
    def near(self) -> bool:
        """Whether which one is better is no more than a guess."""
        chance = self.chance_chosen_better
        return chance is None or chance <= COIN_TOSS


@dataclass(frozen=True)
class Basket:
    """The best set of options under a budget."""

    chosen: frozenset[int]
    """Numbers of the chosen items on the shelf."""
    items: tuple[Item, ...]
    """The same, with what each saves alone and costs."""
    saved_s: float
    """What they save together, solved as one [s]."""
    singles_s: float
    """Sum of what each saves alone [s]."""
    doubt_s: float | None
    saved_s_low: float | None
    saved_s_high: float | None
    """Standard uncertainty and 95 % interval [s], the doubts of the items taken as independent;
    None where an item does not state its doubt.
    """
    tests: tuple[str, ...]
    """Tests of several items as one that count here."""
    unsure: tuple[str, ...]
    """Items that state no doubt: claims at their word."""
    price: Money
    budget: Money
    """What it costs, and what it may cost."""
    proved_optimal: bool
    """Whether no other set is better by more than what cannot be measured."""
    gap_s: float | None
    """No other set saves more than so many seconds beyond this one; None where that is not proved.
    """
    target_s: float | None
    """Seconds whose chance was made as great as possible; None where the seconds were."""
    chance_of_target: float | None
    """That chance."""
    sets_compared: int
    """Sets among which the chance was compared; 0 where the seconds were made greatest."""
    runner_up: Other | None
    """The best set under the same budget with something else instead of a part of it."""
    doubted_only: Other | None
    """The best set of items that state a doubt; None where the chosen one is that."""
    left_out: tuple[tuple[str, str], ...]
    """Options that could not be chosen, each with the reason."""
    races: int
    """Races for which hired items are hired."""


def basket_of(
    slopes: Slopes,
    budget: Money,
    required: frozenset[int] = frozenset(),
    target_s: float | None = None,
    races: int = 1,
) -> Basket:
    """Find the best set under a budget, and what comes near it.

    Parameters
    ----------
    slopes : Slopes
        Solver of everything on the shelf.
    budget : Money
        Most that it may cost.
    required : frozenset of int
        Items that must be in it.
    target_s : float, optional
        Make the chance of saving at least so many seconds as great as possible, among the items
        that state a doubt; else the seconds themselves.
    races : int
        Races for which hired items are hired, for the record.

    Returns
    -------
    Basket

    Raises
    ------
    InputError
        If no set meets all conditions.
    """
    programme = Programme(slopes.shelf, required)
    if target_s is not None:
        return _surest(slopes, programme, budget, target_s, races)
    best = best_set(slopes, programme, budget.amount)
    found = _described(slopes, best, budget, races)
    return replace(
        found,
        runner_up=_runner_up(slopes, programme, budget, best.chosen),
        doubted_only=_doubted_only(slopes, programme, budget, best.chosen, required)
        if found.unsure
        else None,
    )


def _described(slopes: Slopes, best: Best, budget: Money, races: int) -> Basket:
    shelf, chosen = slopes.shelf, best.chosen
    doubt = doubt_of(slopes, chosen)
    low, high = interval(best.saved_s, doubt)
    items = tuple(shelf.items[number] for number in sorted(chosen))
    tests, loose = shelf.told_by(chosen)
    unsure = [test.name for test in tests if test.doubt_s is None]
    unsure += shelf.names_of([one for one in loose if shelf.items[one].worth.doubt_s is None])
    return Basket(
        chosen=chosen,
        items=items,
        saved_s=best.saved_s,
        singles_s=sum(item.worth.saved_s for item in items),
        doubt_s=doubt,
        saved_s_low=low,
        saved_s_high=high,
        tests=tuple(test.name for test in tests),
        unsure=tuple(unsure),
        price=Money(shelf.cost_of(chosen), budget.currency),
        budget=budget,
        proved_optimal=best.gap_s is not None and best.gap_s <= MEASURABLE,
        gap_s=best.gap_s,
        target_s=None,
        chance_of_target=None,
        sets_compared=0,
        runner_up=None,
        doubted_only=None,
        left_out=shelf.left_out,
        races=races,
    )


MEASURABLE = 0.05
"""Gap up to which the best set counts as proved [s]: the tenth of a second shown is the same."""


def _runner_up(
    slopes: Slopes, programme: Programme, budget: Money, chosen: frozenset[int]
) -> Other | None:
    try:
        second = best_set(slopes, programme, budget.amount, programme.swapped(chosen))
    except InputError:
        return None
    return _other(slopes, chosen, second.chosen, budget)


def _other(slopes: Slopes, chosen: frozenset[int], other: frozenset[int], budget: Money) -> Other:
    shelf = slopes.shelf
    gain = slopes.saved(chosen) - slopes.saved(other)
    return Other(
        names=shelf.names_of(other),
        instead=shelf.names_of(other - chosen),
        lacking=shelf.names_of(chosen - other),
        saved_s=slopes.saved(other),
        price=Money(shelf.cost_of(other), budget.currency),
        chance_chosen_better=chance_faster(gain, _doubt_between(shelf, chosen, other)),
    )


def _doubt_between(shelf: Shelf, one: frozenset[int], other: frozenset[int]) -> float | None:
    """Standard uncertainty of the difference of two sets; what they share cancels."""
    shared = set(shelf.tests_of(one)) & set(shelf.tests_of(other))
    total = 0.0
    for chosen, beside in ((one, other), (other, one)):
        tests, loose = shelf.told_by(chosen)
        doubts = [test.doubt_s for test in tests if test not in shared]
        doubts += [shelf.items[number].worth.doubt_s for number in loose if number not in beside]
        for doubt in doubts:
            if doubt is None:
                return None
            total += doubt**2
    return float(total**0.5)


def _doubted_only(
    slopes: Slopes,
    programme: Programme,
    budget: Money,
    chosen: frozenset[int],
    required: frozenset[int],
) -> Other | None:
    """The best set without claims that state no doubt."""
    claims = slopes.shelf.claims
    if required & set(claims):
        return None
    try:
        best = best_set(slopes, programme, budget.amount, [programme.without(claims)])
    except InputError:
        return None
    return _other(slopes, chosen, best.chosen, budget)


def _surest(
    slopes: Slopes, programme: Programme, budget: Money, target_s: float, races: int
) -> Basket:
    shelf = slopes.shelf
    doubted = programme.without(shelf.claims)
    start = best_set(slopes, programme, budget.amount, [doubted])
    conditions = [programme.within(budget.amount), doubted]
    chosen, compared = surest_set(slopes, programme, conditions, start.chosen, target_s)
    found = _described(slopes, Best(chosen, slopes.saved(chosen), None), budget, races)
    said = [(name, "it states no doubt, so no chance") for name in shelf.names_of(shelf.claims)]
    return replace(
        found,
        target_s=target_s,
        chance_of_target=chance_of(slopes, chosen, target_s),
        sets_compared=compared,
        left_out=(*found.left_out, *said),
        runner_up=None if start.chosen == chosen else _other(slopes, chosen, start.chosen, budget),
    )


# --- What more money buys ------------------------------------------------------------------------

LEAST_STEP = Decimal("0.04")
"""Least step down the ladder, as a share of the money; our choice, finer than anyone plans."""

WORTH_A_LINE = 0.5
"""Seconds by which a step must better the one before [s]; our choice of what is worth a line."""


@dataclass(frozen=True)
class Rung:
    """The best set for a certain amount of money."""

    cost: Decimal
    """What it costs."""
    saved_s: float
    """What it saves, solved in full [s]."""
    names: tuple[str, ...]
    """What is in it."""
    added: tuple[str, ...]
    dropped: tuple[str, ...]
    """Against the step before."""
    per_second_more: float | None
    """Money for each second more than the step before; None for the first."""


def ladder(
    slopes: Slopes,
    required: frozenset[int] = frozenset(),
    track: Callable[[Sequence[Decimal]], Iterable[Decimal]] = iter,
    known: Sequence[frozenset[int]] = (),
) -> tuple[Rung, ...]:
    """Find the best set for every amount of money.

    Parameters
    ----------
    slopes : Slopes
        Solver of everything on the shelf.
    required : frozenset of int
        Items that must be in every set.
    track : callable
        Passes the amounts on one by one, as a progress bar does.
    known : sequence of frozenset of int
        Sets that are known to be good already.

    Returns
    -------
    tuple of Rung
        Money and seconds rise from each to the next.
    """
    programme = Programme(slopes.shelf, required)
    amounts = budgets(slopes, programme)
    return rungs(slopes, [*climbed(slopes, programme, track(amounts)), *known])


def ladder_of_race(
    base: Ridden,
    options: Sequence[Option],
    solving: Callable[[Sequence[Option]], Iterable[Option]] = iter,
    climbing: Callable[[Sequence[Decimal]], Iterable[Decimal]] = iter,
) -> tuple[Rung, ...]:
    """Find the best set of a race's options for every amount of money, things hired for a season.

    Parameters
    ----------
    base : Ridden
        The race without any option.
    options : sequence of Option
        Single options.
    solving, climbing : callable
        Pass the options and the amounts on one by one, as a progress bar does.

    Returns
    -------
    tuple of Rung
        As `ladder`.

    Raises
    ------
    InputError
        If prices stand in several currencies, or no option may be chosen.
    """
    race = base.race
    refuse_mixed_currencies(options)
    races = race.purse.races_a_season or 1
    shelf = shelf_of(base, solving(options), race.tested_sets, races)
    if not shelf.items:
        raise InputError(race.name, "has no option with a price to choose from", "add prices")
    return ladder(Slopes(shelf), track=climbing)


def budgets(slopes: Slopes, programme: Programme) -> list[Decimal]:
    """Amounts of money at which the best set changes, least first.

    Walks down from the best of all sets, each time with less money than the last set took, on the
    slopes at the best of all, and by at least `LEAST_STEP`.
    """
    shelf = programme.shelf
    whole = sum((item.cost for item in shelf.items), Decimal(0))
    richest = climb(slopes, programme, [programme.within(whole)])
    if richest is None:
        return []
    objective = thrifty(programme, slopes.worths_at(richest))
    found = [shelf.cost_of(richest)]
    while found[-1]:
        budget = found[-1] * (1 - LEAST_STEP)
        best = programme.best(objective, [programme.within(budget)])
        if best is None:
            break
        found.append(shelf.cost_of(best))
    return found[::-1]


def climbed(
    slopes: Slopes, programme: Programme, amounts: Iterable[Decimal]
) -> Iterator[frozenset[int]]:
    """Find the best set for each amount, beginning with the slopes at the set before.

    Yields
    ------
    frozenset of int
        Numbers of the items, one set an amount.
    """
    best: frozenset[int] | None = None
    for amount in amounts:
        found = climb(slopes, programme, [programme.within(amount)], best)
        if found is None:
            continue
        if best is None or slopes.saved(found) >= slopes.saved(best):
            best = found
        yield best


def rungs(slopes: Slopes, sets: list[frozenset[int]]) -> tuple[Rung, ...]:
    """Describe the sets step by step, leaving out those that gain nothing on the one before.

    Parameters
    ----------
    slopes : Slopes
        Solves them.
    sets : list of frozenset of int
        In any order.

    Returns
    -------
    tuple of Rung
        Money and seconds rise from each to the next.
    """
    shelf = slopes.shelf
    ranked = sorted(dict.fromkeys(sets), key=lambda one: (shelf.cost_of(one), -slopes.saved(one)))
    found: list[Rung] = []
    last: frozenset[int] = frozenset()
    for one in ranked:
        saved, cost = slopes.saved(one), shelf.cost_of(one)
        before = found[-1] if found else None
        if before and saved < before.saved_s + WORTH_A_LINE:
            continue
        more = float(cost - before.cost) / (saved - before.saved_s) if before else None
        names = shelf.names_of(one)
        added, dropped = shelf.names_of(one - last), shelf.names_of(last - one)
        found.append(Rung(cost, saved, names, added, dropped, more))
        last = one
    return tuple(found)
