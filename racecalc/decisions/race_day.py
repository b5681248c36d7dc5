"""The answers about a range of weather: times, savings, and the best choice of each slot."""

from dataclasses import dataclass

from racecalc.decisions.bands import Spread
from racecalc.decisions.days import Day

NOTHING_NEW = "nothing new"
"""Name of the choice to ride with what one has."""


@dataclass(frozen=True)
class TimeOn:
    """Time [s] of the race without any option on a day."""

    day: Day
    time_s: float


@dataclass(frozen=True)
class Start:
    """A row of a forecast as a time to start at.

    Parameters
    ----------
    day : Day
        The weather of the row as forecast.
    time_s : float
        Time in it [s].
    later_s : float
        What it takes more than the first row [s].
    spread : Spread or None
        Of the time, over the days drawn about the row; None where the race states no doubt.
    later : Spread or None
        Of the difference to the first row, forecast and first row erring alike.
    """

    day: Day
    time_s: float
    later_s: float
    spread: Spread | None
    later: Spread | None


@dataclass(frozen=True)
class OptionOverDays:
    """What weather does to one option; seconds saved, positive is faster.

    Ranges are of the days on which gusts allow it, and None where they never do.

    Parameters
    ----------
    name, slot : str
        Which option.
    saved_s : float
        In the weather of the race file.
    median_s : float or None
        On half of those days it is more; away from `saved_s` where the stated weather is not the
        usual one of these days.
    low_80_s, high_80_s : float or None
        Range that leaves out a tenth of those days on either side.
    lowest_s, highest_s : float or None
        Over all of those days.
    share_best : float
        Share of the days on which it is the best of its slot, or without a slot better than
        nothing new; 0 where it is barred.
    share_faster : float or None
        Share of those days on which it is faster than nothing new, rules aside.
    share_ruled_out : float
        Share of the days on which gusts rule it out.
    chance_faster : float or None
        Chance by its own doubt that it is faster at all, in the weather of the race file; None
        where no doubt is stated.
    barred : str
        Why it never wins, forbidden or worth less than its owner wants of it in the weather of
        the race file; empty where it may.
    """

    name: str
    slot: str
    saved_s: float
    median_s: float | None
    low_80_s: float | None
    high_80_s: float | None
    lowest_s: float | None
    highest_s: float | None
    share_best: float
    share_faster: float | None
    share_ruled_out: float
    chance_faster: float | None
    barred: str


@dataclass(frozen=True)
class Choice:
    """One choice of a slot, kept on all days.

    Parameters
    ----------
    name : str
        An option, or `NOTHING_NEW`.
    share_best : float
        Share of the days on which it is the best.
    mean_regret_s, worst_regret_s : float
        Seconds lost against the best choice of each day, on average and at worst. Where gusts
        rule it out, nothing new is ridden in its place.
    worst_day : Day
        Where it loses the most.
    """

    name: str
    share_best: float
    mean_regret_s: float
    worst_regret_s: float
    worst_day: Day


@dataclass(frozen=True)
class SlotOverDays:
    """The choices of a slot.

    Parameters
    ----------
    name : str
        The slot; the option where it has none.
    choices : tuple of Choice
        `NOTHING_NEW` first, without those that are barred.
    least_mean, least_worst : str
        Choice that loses the least on average, and at worst.
    by_start : tuple of str
        Best choice in each row of the forecast; empty without one.
    """

    name: str
    choices: tuple[Choice, ...]
    least_mean: str
    least_worst: str
    by_start: tuple[str, ...]

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
    """What a range of weather does to a race.

    Parameters
    ----------
    stated_s : float
        Time in the weather of the race file, without any option [s].
    days : int
        Days that count: those that were drawn, or the rows of the forecast where none was.
    spread : Spread
        Of the time without any option.
    fastest, slowest : TimeOn
        Ends of it.
    starts : tuple of Start
        The rows of the forecast; empty without one.
    options : tuple of OptionOverDays
        In the order of the race file.
    slots : tuple of SlotOverDays
        In the order of their first options.
    cautions : tuple of str
        What to heed before any second.
    watt_s : float
        What a watt is worth in the weather of the race file [s].
    share_error : float or None
        How far the least sure share may lie from that of many more draws, with 95 % confidence
        and as if the draws were independent; None where no day was drawn.
    """

    stated_s: float
    days: int
    spread: Spread
    fastest: TimeOn
    slowest: TimeOn
    starts: tuple[Start, ...]
    options: tuple[OptionOverDays, ...]
    slots: tuple[SlotOverDays, ...]
    cautions: tuple[str, ...]
    watt_s: float
    share_error: float | None
