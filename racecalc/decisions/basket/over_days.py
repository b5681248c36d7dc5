"""How the best basket changes with the weather of the day."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.basket.answer import Basket
from racecalc.decisions.basket.programme import Programme
from racecalc.decisions.basket.search import thrifty
from racecalc.decisions.basket.shelf import Shelf
from racecalc.decisions.days import Day
from racecalc.decisions.over_days import DayNumbers
from racecalc.domain.option import Option
from racecalc.domain.race import Change


@dataclass(frozen=True)
class BasketOnDays:
    """A set and how it fares over the days.

    Parameters
    ----------
    names : tuple of str
        What is in it.
    price : float
        What it costs.
    share_best : float
        Share of the days on which no other set saves more.
    mean_regret_s, worst_regret_s : float
        Seconds lost against the best set of each day by keeping to this one; what gusts rule out
        is left at home that day.
    worst_day : Day
        Where it loses most.
    stated : bool
        Whether it is the best in the weather of the race file.
    """

    names: tuple[str, ...]
    price: float
    share_best: float
    mean_regret_s: float
    worst_regret_s: float
    worst_day: Day
    stated: bool


def baskets_over_days(
    shelf: Shelf, found: Basket, options: Sequence[Option], days: DayNumbers, numbers: Iterable[int]
) -> tuple[BasketOnDays, ...]:
    """Find the best set of each day, and how each of them does on all days.

    Savings of a day are added; what the tested sets gain or lose against their parts is taken as
    in the weather of the race file.

    Parameters
    ----------
    shelf : Shelf
        What may be chosen.
    found : Basket
        The best set in the weather of the race file.
    options : sequence of Option
        Those of `days`, in their order.
    days : DayNumbers
        What each saves on each day.
    numbers : iterable of int
        Every day of them, by position from 0; a view may count them as they pass.

    Returns
    -------
    tuple of BasketOnDays
        The one that is best most often first.
    """
    names = [option.name for option in options]
    columns = [names.index(item.option.name) for item in shelf.items]
    seconds = np.where(days.usable, days.savings, 0.0)[:, columns]
    usable = days.usable[:, columns]
    programme = Programme(shelf)
    worths = np.column_stack((seconds, np.tile(_gaps(shelf), (len(seconds), 1))))
    winners = [_best(programme, found, worths[day], usable[day]) for day in numbers]
    sets = list(dict.fromkeys([found.chosen, *winners]))
    picked = np.array([programme.picked(one) for one in sets])
    saved = worths @ picked.T
    best = np.array([saved[day, sets.index(one)] for day, one in enumerate(winners)])
    lost = np.maximum(best[:, None] - saved, 0.0)
    answers = [
        BasketOnDays(
            names=shelf.names_of(one),
            price=float(shelf.cost_of(one)),
            share_best=winners.count(one) / len(winners),
            mean_regret_s=float(np.mean(lost[:, number])),
            worst_regret_s=float(np.max(lost[:, number])),
            worst_day=days.days[int(np.argmax(lost[:, number]))],
            stated=one == found.chosen,
        )
        for number, one in enumerate(sets)
    ]
    return tuple(sorted(answers, key=lambda one: -one.share_best))


def _gaps(shelf: Shelf) -> FloatArray:
    """Seconds that each tested set saves beyond its parts, in the weather of the race file."""
    base = shelf.base
    gaps = []
    for test in shelf.tested:
        whole = Change.sum(shelf.items[member].worth.change for member in sorted(test.members))
        gaps.append(base.changed(whole).time - base.changed(whole.plus(test.gap)).time)
    return np.array(gaps)


def _best(
    programme: Programme, found: Basket, worths: FloatArray, usable: np.ndarray
) -> frozenset[int]:
    conditions = [
        programme.within(found.budget.amount),
        programme.without(np.flatnonzero(~usable).tolist()),
    ]
    return programme.best(thrifty(programme, worths), conditions) or frozenset()
