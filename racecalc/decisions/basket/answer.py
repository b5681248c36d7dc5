"""The answer to what to buy: the best set, how sure that is, and what else comes near."""

from dataclasses import dataclass, replace

from racecalc.decisions.basket.chance import chance_of, doubt_of, surest_set
from racecalc.decisions.basket.programme import Programme
from racecalc.decisions.basket.search import Best, best_set
from racecalc.decisions.basket.shelf import Item, Shelf
from racecalc.decisions.basket.slopes import Slopes
from racecalc.decisions.verdicts import chance_faster, interval
from racecalc.errors import InputError
from racecalc.quantities.money import Money

COIN_TOSS = 0.65
"""Chance up to which the better of two sets is no clear winner; our choice."""


@dataclass(frozen=True)
class Other:
    """Another set, compared with the chosen one.

    Parameters
    ----------
    names : tuple of str
        What is in it.
    instead : tuple of str
        What it holds that the chosen one does not.
    lacking : tuple of str
        What the chosen one holds that it does not.
    saved_s : float
        What it saves [s].
    price : Money
        What it costs.
    chance_chosen_better : float or None
        Chance that the chosen one saves more, the doubts of what differs taken as independent;
        None where one of them is not known.
    """

    names: tuple[str, ...]
    instead: tuple[str, ...]
    lacking: tuple[str, ...]
    saved_s: float
    price: Money
    chance_chosen_better: float | None

    @property
    def near(self) -> bool:
        """Whether which one is better is no more than a guess."""
        chance = self.chance_chosen_better
        return chance is None or chance <= COIN_TOSS


@dataclass(frozen=True)
class Basket:
    """The best set of options under a budget.

    Parameters
    ----------
    chosen : frozenset of int
        Numbers of the chosen items on the shelf.
    items : tuple of Item
        The same, with what each saves alone and costs.
    saved_s : float
        What they save together, solved as one [s].
    singles_s : float
        Sum of what each saves alone [s].
    doubt_s, saved_s_low, saved_s_high : float or None
        Standard uncertainty and 95 % interval [s], the doubts of the items taken as independent;
        None where an item does not state its doubt.
    tests : tuple of str
        Tests of several items as one that count here.
    unsure : tuple of str
        Items that state no doubt: claims at their word.
    price, budget : Money
        What it costs, and what it may cost.
    proved_optimal : bool
        Whether no other set is better by more than what cannot be measured.
    gap_s : float or None
        No other set saves more than so many seconds beyond this one; None where that is not
        proved.
    target_s : float or None
        Seconds whose chance was made as great as possible; None where the seconds were.
    chance_of_target : float or None
        That chance.
    sets_compared : int
        Sets among which the chance was compared; 0 where the seconds were made greatest.
    runner_up : Other or None
        The best set under the same budget with something else instead of a part of it.
    doubted_only : Other or None
        The best set of items that state a doubt; None where the chosen one is that.
    left_out : tuple of (str, str)
        Options that could not be chosen, each with the reason.
    races : int
        Races for which hired items are hired.
    """

    chosen: frozenset[int]
    items: tuple[Item, ...]
    saved_s: float
    singles_s: float
    doubt_s: float | None
    saved_s_low: float | None
    saved_s_high: float | None
    tests: tuple[str, ...]
    unsure: tuple[str, ...]
    price: Money
    budget: Money
    proved_optimal: bool
    gap_s: float | None
    target_s: float | None
    chance_of_target: float | None
    sets_compared: int
    runner_up: Other | None
    doubted_only: Other | None
    left_out: tuple[tuple[str, str], ...]
    races: int


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
