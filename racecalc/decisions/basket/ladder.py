"""What more money buys: the best set at every step from nothing to everything."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal

from racecalc.decisions.basket.programme import Programme
from racecalc.decisions.basket.search import climb, thrifty
from racecalc.decisions.basket.shelf import shelf_of
from racecalc.decisions.basket.slopes import Slopes
from racecalc.decisions.costs import refuse_mixed_currencies
from racecalc.decisions.riding import Ridden
from racecalc.domain.option import Option
from racecalc.errors import InputError

LEAST_STEP = Decimal("0.04")
"""Least step down the ladder, as a share of the money; our choice, finer than anyone plans."""

WORTH_A_LINE = 0.5
"""Seconds by which a step must better the one before [s]; our choice of what is worth a line."""


@dataclass(frozen=True)
class Rung:
    """The best set for a certain amount of money.

    Parameters
    ----------
    cost : Decimal
        What it costs.
    saved_s : float
        What it saves, solved in full [s].
    names : tuple of str
        What is in it.
    added, dropped : tuple of str
        Against the step before.
    per_second_more : float or None
        Money for each second more than the step before; None for the first.
    """

    cost: Decimal
    saved_s: float
    names: tuple[str, ...]
    added: tuple[str, ...]
    dropped: tuple[str, ...]
    per_second_more: float | None


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
