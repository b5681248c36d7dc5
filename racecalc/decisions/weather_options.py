"""Options and sets in many weathers."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from racecalc.arrays import FloatArray
from racecalc.decisions.allowed import barred, by_slot
from racecalc.decisions.basket.basket import Basket
from racecalc.decisions.basket.candidates import Shelf
from racecalc.decisions.basket.search import Programme, thrifty
from racecalc.decisions.doubt import Spread
from racecalc.decisions.riding import Ridden
from racecalc.decisions.verdicts import NORMAL_95, chance_faster
from racecalc.decisions.weather import (
    NOTHING_NEW,
    Choice,
    Day,
    OptionOverDays,
    RaceDay,
    SlotOverDays,
    SolvedDay,
    Start,
    TimeOn,
    ruled_out,
    weather_cautions,
)
from racecalc.decisions.worth import Worth, worth_of
from racecalc.domain.option import Option
from racecalc.domain.race import Change

# --- From solved days of weather to what they do to the time and to the best choice of -----------


@dataclass(frozen=True)
class DayNumbers:
    """What is kept of n solved days."""

    days: tuple[Day, ...]
    """Their weather."""
    times: FloatArray
    """Of the race without any option [s]; shape (n,)."""
    savings: FloatArray
    """Seconds that each option saves alone; shape (n, options)."""
    usable: NDArray[np.bool_]
    """Whether gusts allow it; shape (n, options)."""

    def of(self, rows: Sequence[int]) -> "DayNumbers":
        """Some of the days, by their position from 0."""
        picked = list(rows)
        return DayNumbers(
            tuple(self.days[row] for row in picked),
            self.times[picked],
            self.savings[picked],
            self.usable[picked],
        )

    @property
    def counted(self) -> "DayNumbers":
        """The days that were drawn, or the rows of a forecast where none was."""
        drawn = [row for row, day in enumerate(self.days) if day.drawn]
        return self.of(drawn) if drawn else self

    def barring(self, reasons: Sequence[str]) -> "DayNumbers":
        """The same without what may never be used: one reason an option, empty where it may."""
        allowed = np.array([not reason for reason in reasons], dtype=bool)
        return replace(self, usable=self.usable & allowed)


def race_day(base: Ridden, options: Sequence[Option], found: DayNumbers) -> RaceDay:
    """Say what the weather does to the time and to the best choice of each slot."""
    drawn = [row for row, day in enumerate(found.days) if day.drawn]
    as_forecast = [row for row, day in enumerate(found.days) if not day.drawn]
    counted = found.counted
    worths = [worth_of(base, option) for option in options]
    reasons = [barred(base, worth) for worth in worths]
    allowed, rows = counted.barring(reasons), found.of(as_forecast).barring(reasons)
    grouped = by_slot(options)
    slots = tuple(
        _slot(name, members, options, reasons, allowed, rows) for name, members in grouped
    )
    return RaceDay(
        stated_s=base.time,
        days=len(counted.days),
        spread=Spread.of(counted.times),
        fastest=_time_on(counted, int(np.argmin(counted.times))),
        slowest=_time_on(counted, int(np.argmax(counted.times))),
        starts=_starts(rows, found.of(drawn)),
        options=_options(worths, reasons, counted, slots),
        slots=slots,
        cautions=weather_cautions(options, counted.days),
        watt_s=abs(base.time_by_power),
        share_error=_share_error(
            [members for _, members in grouped],
            allowed,
            len(drawn) // max(1, len(as_forecast)),
        ),
    )


def _share_error(slots: Iterable[Sequence[int]], drawn: DayNumbers, draws: int) -> float | None:
    """Half the 95 % interval of the least sure share; all rows of a forecast share their draws.

    Never less than one draw: what was never seen may still happen.
    """
    if not draws:
        return None
    errors = [1.0 / draws]
    for members in slots:
        winner = np.argmax(_offered(drawn, members), axis=1).reshape(-1, draws)
        for choice in range(1 + len(members)):
            share_by_draw = np.mean(winner == choice, axis=0)
            errors.append(NORMAL_95 * float(np.std(share_by_draw)) / math.sqrt(draws))
    return max(errors)


def numbers_of_days(options: Sequence[Option], solved: Iterable[SolvedDay]) -> DayNumbers:
    """Keep the numbers of solved days, one day at a time."""
    days, times, savings = [], [], []
    for one in solved:
        days.append(one.day)
        times.append(one.base.time)
        savings.append([worth.saved_s for worth in one.worths])
    usable = [[not ruled_out(option, day) for option in options] for day in days]
    shape = (len(days), len(options))
    return DayNumbers(
        tuple(days),
        np.array(times),
        np.array(savings).reshape(shape),
        np.array(usable, dtype=bool).reshape(shape),
    )


def _time_on(found: DayNumbers, row: int) -> TimeOn:
    return TimeOn(found.days[row], float(found.times[row]))


def _offered(found: DayNumbers, members: Sequence[int]) -> FloatArray:
    """Seconds saved by nothing new and by each member, shape (days, 1 + members)."""
    usable = np.where(found.usable[:, members], found.savings[:, members], -np.inf)
    return np.column_stack([np.zeros(len(found.days)), usable])


def _slot(
    name: str,
    members: Sequence[int],
    options: Sequence[Option],
    reasons: Sequence[str],
    counted: DayNumbers,
    rows: DayNumbers,
) -> SlotOverDays:
    names = [NOTHING_NEW, *(options[member].name for member in members)]
    barring = ["", *(reasons[member] for member in members)]
    weighed = _choices(names, _offered(counted, members), counted.days)
    choices = [choice for choice, reason in zip(weighed, barring, strict=True) if not reason]
    winners = np.argmax(_offered(rows, members), axis=1)
    return SlotOverDays(
        name=name,
        choices=tuple(choices),
        least_mean=min(choices, key=lambda one: one.mean_regret_s).name,
        least_worst=min(choices, key=lambda one: one.worst_regret_s).name,
        by_start=tuple(names[winner] for winner in winners),
    )


def _choices(names: Sequence[str], offered: FloatArray, days: Sequence[Day]) -> list[Choice]:
    # Of equal choices the first wins: nothing new where an option changes nothing.
    winner, best = np.argmax(offered, axis=1), np.max(offered, axis=1)
    ridden = np.where(np.isneginf(offered), 0.0, offered)
    lost = best[:, None] - ridden
    worst = np.argmax(lost, axis=0)
    return [
        Choice(
            name=name,
            share_best=float(np.mean(winner == number)),
            mean_regret_s=float(np.mean(lost[:, number])),
            worst_regret_s=float(lost[worst[number], number]),
            worst_day=days[worst[number]],
        )
        for number, name in enumerate(names)
    ]


def _options(
    worths: Sequence[Worth],
    reasons: Sequence[str],
    found: DayNumbers,
    slots: Sequence[SlotOverDays],
) -> tuple[OptionOverDays, ...]:
    best = {choice.name: choice.share_best for slot in slots for choice in slot.choices}
    answers = []
    for number, worth in enumerate(worths):
        usable = found.usable[:, number]
        saved, name = found.savings[usable, number], worth.option.name
        spread = Spread.of(saved) if len(saved) else None
        answers.append(
            OptionOverDays(
                name=name,
                slot=worth.option.slot,
                saved_s=worth.saved_s,
                median_s=spread.median_s if spread else None,
                low_80_s=spread.low_80_s if spread else None,
                high_80_s=spread.high_80_s if spread else None,
                lowest_s=float(np.min(saved)) if spread else None,
                highest_s=float(np.max(saved)) if spread else None,
                share_best=best.get(name, 0.0),
                share_faster=float(np.mean(saved > 0)) if spread else None,
                share_ruled_out=float(np.mean(~usable)),
                chance_faster=chance_faster(worth.saved_s, worth.doubt_s),
                barred=reasons[number],
            )
        )
    return tuple(answers)


def _starts(rows: DayNumbers, drawn: DayNumbers) -> tuple[Start, ...]:
    """Each row against the first; the draws of all rows are the same and are paired."""
    if not rows.days:
        return ()
    times = drawn.times.reshape(len(rows.days), -1)
    banded = drawn.times.size > 0
    return tuple(
        Start(
            day=day,
            time_s=float(rows.times[row]),
            later_s=float(rows.times[row] - rows.times[0]),
            spread=Spread.of(times[row]) if banded else None,
            later=Spread.of(times[row] - times[0]) if banded else None,
        )
        for row, day in enumerate(rows.days)
    )


# --- How the best basket changes with the weather of the day -------------------------------------


@dataclass(frozen=True)
class BasketOnDays:
    """A set and how it fares over the days."""

    names: tuple[str, ...]
    """What is in it."""
    price: float
    """What it costs."""
    share_best: float
    """Share of the days on which no other set saves more."""
    mean_regret_s: float
    worst_regret_s: float
    """Seconds lost against the best set of each day by keeping to this one; what gusts rule out is
    left at home that day.
    """
    worst_day: Day
    """Where it loses most."""
    stated: bool
    """Whether it is the best in the weather of the race file."""


def baskets_over_days(
    shelf: Shelf, found: Basket, options: Sequence[Option], days: DayNumbers, numbers: Iterable[int]
) -> tuple[BasketOnDays, ...]:
    """Find the best set of each day, and how each of them does on all days.

    Savings of a day are added; what the tested sets gain or lose against their parts is taken as
    in the weather of the race file.
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
