"""What a range of weather does to the time, to the best choices and to the best basket."""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Annotated, Any, Self

import numpy as np
from numpy.typing import NDArray

from racecalc.arrays import FloatArray
from racecalc.decisions.allowed import barred, by_slot, lacking_needs
from racecalc.decisions.basket.basket import Basket
from racecalc.decisions.basket.candidates import Candidates, numbers_of
from racecalc.decisions.basket.search import Programme, thrifty
from racecalc.decisions.doubt import TimeSpread
from racecalc.decisions.money import amount_of
from racecalc.decisions.riding import Ridden
from racecalc.decisions.verdicts import NORMAL_95, chance_faster
from racecalc.decisions.weather import Cautions, Day, through_the_ride, unsafe
from racecalc.decisions.worth import Worth, saved_by, worth_of
from racecalc.domain.option import Option
from racecalc.domain.race import Change
from racecalc.errors import InputError
from racecalc.motion.solver import CRAWL
from racecalc.written import HIDDEN, SPREAD, As, written

NOTHING_NEW = "nothing new"
"""Name of the choice to ride with what one has."""


# --- The answers about a range of weather --------------------------------------------------------


@dataclass(frozen=True)
class TimeOn:
    """Time of the race without any option on a day."""

    day: Annotated[Day, SPREAD]
    """Its weather."""
    time_s: float
    """Time in it [s]."""


@dataclass(frozen=True)
class Start(TimeOn):
    """A row of a forecast as a time to start at, with its weather as forecast."""

    against_first_s: float
    """What it takes more than the first row [s]."""
    time: TimeSpread | None
    """Of the time, over the days drawn about the row; None where the race states no doubt."""
    against_first: TimeSpread | None
    """Of the difference to the first row, forecast and first row erring alike."""


@dataclass(frozen=True, kw_only=True)
class OptionOverDays:
    """What weather does to one option; seconds saved, positive is faster.

    Ranges are of the days on which gusts and heat allow it, and None where they never do.
    """

    name: str
    slot: str
    """Which option."""
    saved_s: float
    """In the weather of the race file."""
    median_s: float | None = None
    """On half of those days it is more; away from `saved_s` where the stated weather is not the
    usual one of these days.
    """
    low_80_s: float | None = None
    high_80_s: float | None = None
    """Range that leaves out a tenth of those days on either side."""
    low_95_s: float | None = None
    high_95_s: float | None = None
    """Range that holds 95 of 100 of those days."""
    lowest_s: float | None = None
    highest_s: float | None = None
    """Over all of those days."""
    share_best: float
    """Share of the days on which it is the best of its slot, or without a slot better than nothing
    new; 0 where it is barred.
    """
    share_faster: float | None = None
    """Share of those days on which it is faster than nothing new, rules aside."""
    share_ruled_out: float
    """Share of the days on which gusts or heat rule it out."""
    chance_faster: float | None
    """Chance by its own doubt that it is faster at all, in the weather of the race file; None where
    no doubt is stated.
    """
    barred: str
    """Why it is not chosen: forbidden, worth less than its owner wants in the weather of the race
    file, or in need of such an option; empty where it may.
    """


@dataclass(frozen=True, kw_only=True)
class Kept:
    """How a choice fares that is kept on all days; not used where gusts or heat rule it out."""

    share_best: float
    """Share of the days on which it is the best."""
    mean_regret_s: float
    worst_regret_s: float
    """Seconds lost against the best choice of each day, on average and at worst."""
    worst_day: Day
    """Where it loses the most."""

    @classmethod
    def over(
        cls, days: Sequence[Day], lost: FloatArray, best: NDArray[np.bool_], **what: Any
    ) -> Self:
        """A choice by the seconds that it loses on each day, and the days on which it is best."""
        worst = int(np.argmax(lost))
        return cls(
            share_best=float(np.mean(best)),
            mean_regret_s=float(np.mean(lost)),
            worst_regret_s=float(lost[worst]),
            worst_day=days[worst],
            **what,
        )


@dataclass(frozen=True, kw_only=True)
class Choice(Kept):
    """One choice of a slot, kept on all days."""

    name: str
    """An option, or `NOTHING_NEW`, ridden in its place where gusts or heat rule it out."""
    slot: Annotated[str, HIDDEN]
    """Name of the slot."""


@dataclass(frozen=True, kw_only=True)
class BasketOnDays(Kept):
    """A set of options, kept on all days."""

    chosen: tuple[str, ...]
    """What is in it."""
    price: float
    """Its prices, one of each."""
    cost: float
    """What it costs for the races counted."""
    best_as_stated: bool
    """Whether it is the best in the weather of the race file."""


@dataclass(frozen=True)
class SlotOverDays:
    """The choices of a slot."""

    slot: str
    """Its name; the option where it has none."""
    choices: tuple[Choice, ...]
    """`NOTHING_NEW` first, without those that are barred."""
    least_mean: Annotated[Choice, As(least_mean_regret="name")]
    least_worst: Annotated[Choice, As(least_worst_regret="name")]
    """Choice that loses the least on average, and at worst."""
    best_by_start: tuple[str, ...]
    """Best choice in each row of the forecast; empty without one."""

    @property
    def settled(self) -> bool:
        """Whether one choice is the best on every day."""
        return any(choice.share_best == 1.0 for choice in self.choices)

    @property
    def most_at_stake_s(self) -> float:
        """What the wrong choice loses at the very most [s]."""
        return max(choice.worst_regret_s for choice in self.choices)


@dataclass(frozen=True)
class RaceDay:
    """What a range of weather does to a race."""

    stated_time_s: float
    """Time in the weather of the race file, without any option [s]."""
    days: int
    """Days that count: those that were drawn, or the rows of the forecast where none was."""
    time: TimeSpread
    """Of the time without any option."""
    fastest: TimeOn
    slowest: TimeOn
    """Ends of it."""
    starts: tuple[Start, ...]
    """The rows of the forecast; empty without one."""
    options: tuple[OptionOverDays, ...]
    """In the order of the race file."""
    slots: tuple[SlotOverDays, ...]
    """In the order of their first options."""
    heed: Annotated[Cautions, HIDDEN]
    """What to heed before any second."""
    watt_s: float
    """What a watt is worth in the weather of the race file [s]."""
    share_error: float | None
    """How far the least sure share may lie from that of many more draws, with 95 % confidence and
    as if the draws were independent; None where no day was drawn.
    """

    @written
    def cautions(self) -> tuple[str, ...]:
        """What to heed before any second."""
        return tuple(self.heed.sentences())


# --- From days of weather to what they do to the time and to the best choice of a slot -----------


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
    """Whether gusts and heat allow it; shape (n, options)."""

    @classmethod
    def of_options(
        cls, options: Sequence[Option], days: Sequence[Day], times: FloatArray, savings: FloatArray
    ) -> "DayNumbers":
        """The numbers of some days; gusts and heat decide which options can be used on them."""
        usable = np.array([_usable(options, day) for day in days], bool)
        shape = (len(days), len(options))
        return cls(tuple(days), times, savings.reshape(shape), usable.reshape(shape))

    def of(self, rows: Sequence[int]) -> "DayNumbers":
        """Some of the days, by their position from 0."""
        picked, days = list(rows), tuple(self.days[row] for row in rows)
        return DayNumbers(days, self.times[picked], self.savings[picked], self.usable[picked])

    @property
    def counted(self) -> "DayNumbers":
        """The days that were drawn, or the rows of a forecast where none was."""
        drawn = [row for row, day in enumerate(self.days) if day.drawn]
        return self.of(drawn) if drawn else self

    def barring(self, reasons: Sequence[str]) -> "DayNumbers":
        """The same without what may never be used: one reason an option, empty where it may."""
        return replace(self, usable=self.usable & np.array([not one for one in reasons], bool))


def _usable(options: Sequence[Option], day: Day) -> list[bool]:
    """Whether each option, and all that it needs, can be used on a day."""
    safe = [option for option in options if not unsafe(option, day)]
    lacking = lacking_needs(safe)
    able = {option.name for option in safe} - lacking.keys()
    return [option.name in able for option in options]


def race_day(base: Ridden, options: Sequence[Option], found: DayNumbers) -> RaceDay:
    """Say what the weather does to the time and to the best choice of each slot."""
    drawn = [row for row, day in enumerate(found.days) if day.drawn]
    as_forecast = [row for row, day in enumerate(found.days) if not day.drawn]
    counted = found.counted
    worths = [worth_of(base, option) for option in options]
    why = barred(worths)
    reasons = [why.get(option.name, "") for option in options]
    allowed, rows = counted.barring(reasons), found.of(as_forecast).barring(reasons)
    grouped = by_slot((option.slot, option.name) for option in options)
    slots = tuple(_slot(slot, members, worths, reasons, allowed, rows) for slot, members in grouped)
    ends = [int(find(counted.times)) for find in (np.argmin, np.argmax)]
    fastest, slowest = (TimeOn(counted.days[row], float(counted.times[row])) for row in ends)
    return RaceDay(
        stated_time_s=base.time,
        days=len(counted.days),
        time=TimeSpread.of(counted.times),
        fastest=fastest,
        slowest=slowest,
        starts=_starts(rows, found.of(drawn)),
        options=_options(worths, reasons, counted, slots),
        slots=slots,
        heed=Cautions.on(counted.days, options),
        watt_s=abs(base.time_by_power),
        share_error=_share_error(grouped, allowed, len(drawn) // max(1, len(as_forecast))),
    )


def _share_error(
    slots: Iterable[tuple[str, Sequence[int]]], drawn: DayNumbers, draws: int
) -> float | None:
    """Half the 95 % interval of the least sure share; all rows of a forecast share their draws.

    Never less than one draw: what was never seen may still happen.
    """
    if not draws:
        return None
    errors = [1.0 / draws]
    for _, members in slots:
        winner = np.argmax(_offered(drawn, members), axis=1).reshape(-1, draws)
        for choice in range(1 + len(members)):
            share_by_draw = np.mean(winner == choice, axis=0)
            errors.append(NORMAL_95 * float(np.std(share_by_draw)) / math.sqrt(draws))
    return max(errors)


def ridden_on(
    days: Iterable[Day],
    base: Ridden,
    options: Sequence[Option],
    saved: Callable[[Ridden, Option, FloatArray | None], float] = saved_by,
) -> DayNumbers:
    """Ride the race in each weather, without and with each option, in full, one day at a time."""
    seen, times, savings = [], [], []
    gains: list[FloatArray] = []
    for day in days:
        try:
            there = base.variant(replace(base.race, air=day.air))
            speed = there.solution.speed
            gains = gains or [_gain(base, option) for option in options]
            found = (
                saved(there, option, gain * speed if len(gain) == len(speed) else None)
                for option, gain in zip(options, gains, strict=True)
            )
            savings.append([*found])
        except InputError as error:
            raise error.at(day.name) from error
        seen.append(day)
        times.append(there.time)
    ridden = np.array(times)
    return DayNumbers.of_options(options, through_the_ride(seen, ridden), ridden, np.array(savings))


def _gain(base: Ridden, option: Option) -> FloatArray:
    """How many times as fast an option is at each node in the weather of the race file."""
    with_it, without = worth_of(base, option).changed.solution.speed, base.solution.speed
    same = len(with_it) == len(without)
    return with_it / np.maximum(without, CRAWL) if same else np.array([])


def _offered(found: DayNumbers, members: Sequence[int]) -> FloatArray:
    """Seconds saved by nothing new and by each member, shape (days, 1 + members)."""
    usable = np.where(found.usable[:, members], found.savings[:, members], -np.inf)
    return np.column_stack([np.zeros(len(found.days)), usable])


def _slot(
    slot: str,
    members: Sequence[int],
    worths: Sequence[Worth],
    reasons: Sequence[str],
    counted: DayNumbers,
    rows: DayNumbers,
) -> SlotOverDays:
    names = [NOTHING_NEW, *(worths[member].option.name for member in members)]
    may = [True, *(not reasons[member] for member in members)]
    # Of equal choices the first wins: nothing new where an option changes nothing.
    offered = _offered(counted, members)
    winner, best = np.argmax(offered, axis=1), np.max(offered, axis=1)
    lost = best[:, None] - np.where(np.isneginf(offered), 0.0, offered)
    choices = tuple(
        Choice.over(counted.days, lost[:, number], winner == number, name=name, slot=slot)
        for number, name in enumerate(names)
        if may[number]
    )
    return SlotOverDays(
        slot=slot,
        choices=choices,
        least_mean=min(choices, key=lambda one: one.mean_regret_s),
        least_worst=min(choices, key=lambda one: one.worst_regret_s),
        best_by_start=tuple(names[one] for one in np.argmax(_offered(rows, members), axis=1)),
    )


def _options(
    worths: Sequence[Worth],
    reasons: Sequence[str],
    found: DayNumbers,
    slots: Sequence[SlotOverDays],
) -> tuple[OptionOverDays, ...]:
    best = {choice.name: choice.share_best for slot in slots for choice in slot.choices}
    return tuple(
        OptionOverDays(
            name=worth.option.name,
            slot=worth.option.slot,
            saved_s=worth.saved_s,
            share_best=best.get(worth.option.name, 0.0),
            share_ruled_out=float(np.mean(~usable)),
            chance_faster=chance_faster(worth.saved_s, worth.doubt_s),
            barred=reason,
            **(_ranges(saved[usable]) if np.any(usable) else {}),
        )
        for worth, reason, saved, usable in zip(
            worths, reasons, found.savings.T, found.usable.T, strict=True
        )
    )


def _ranges(saved: FloatArray) -> dict[str, float]:
    spread = TimeSpread.of(saved)
    return {
        "median_s": spread.median_s,
        "low_80_s": spread.low_80_s,
        "high_80_s": spread.high_80_s,
        "low_95_s": spread.low_95_s,
        "high_95_s": spread.high_95_s,
        "lowest_s": float(np.min(saved)),
        "highest_s": float(np.max(saved)),
        "share_faster": float(np.mean(saved > 0)),
    }


def _starts(rows: DayNumbers, drawn: DayNumbers) -> tuple[Start, ...]:
    """Each row against the first; the draws of all rows are the same and are paired."""
    if not rows.days:
        return ()
    times = drawn.times.reshape(len(rows.days), -1)
    against = rows.times - rows.times[0]
    return tuple(
        Start(
            day=day,
            time_s=float(rows.times[row]),
            against_first_s=float(against[row]),
            time=TimeSpread.of(times[row]) if times.size else None,
            against_first=TimeSpread.of(times[row] - times[0]) if times.size else None,
        )
        for row, day in enumerate(rows.days)
    )


# --- How the best basket changes with the weather of the day -------------------------------------


def baskets_over_days(
    candidates: Candidates,
    found: Basket,
    options: Sequence[Option],
    days: DayNumbers,
    numbers: Iterable[int],
) -> tuple[BasketOnDays, ...]:
    """Find the best set of each day, and how each of them does on all days.

    Where what a second is worth is stated, the best is what is worth most after its cost. What is
    safe is judged by the weather of each day: `candidates` are those of any weather, and `found` is
    the best of those that the weather of the race file allows. Savings of a day, of each option by
    itself, are added; what the tested sets gain or lose against their parts is taken as
    in the weather of the race file.
    """
    names = [option.name for option in options]
    columns = [names.index(item.option.name) for item in candidates.items]
    seconds = np.where(days.usable, days.savings, 0.0)[:, columns]
    programme = Programme(candidates, (), amount_of(found.per_second))
    worths = np.column_stack((seconds, np.tile(_gaps(candidates), (len(seconds), 1))))

    def winner(day: int) -> frozenset[int]:
        lost = programme.without(np.flatnonzero(~days.usable[day, columns]).tolist())
        limit = [] if found.budget is None else [programme.within(found.budget.amount)]
        conditions = [*limit, lost]
        return programme.best(thrifty(programme, worths[day]), conditions) or frozenset()

    winners = [winner(day) for day in numbers]
    as_stated = numbers_of(candidates, found.chosen, "the basket")
    sets = list(dict.fromkeys([as_stated, *winners]))
    saved = (worths - programme.costs_s) @ np.array([programme.picked(one) for one in sets]).T
    best = np.array([saved[day, sets.index(one)] for day, one in enumerate(winners)])
    lost = np.maximum(best[:, None] - saved, 0.0)
    answers = [
        BasketOnDays.over(
            days.days,
            lost[:, number],
            np.array([one == best_set for best_set in winners]),
            chosen=candidates.names_of(one),
            price=float(candidates.price_of(one)),
            cost=candidates.cost_of(one),
            best_as_stated=one == as_stated,
        )
        for number, one in enumerate(sets)
    ]
    return tuple(sorted(answers, key=lambda one: -one.share_best))


def _gaps(candidates: Candidates) -> FloatArray:
    """Seconds that each tested set saves beyond its parts, in the weather of the race file."""
    base = candidates.base
    gaps = []
    for test in candidates.tested:
        whole = Change.sum(candidates.items[member].apart.change for member in sorted(test.members))
        gaps.append(base.changed(whole).time - base.changed(whole.plus(test.gap)).time)
    return np.array(gaps)
