"""How many days and runs a test needs, and in which order to ride them."""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Annotated, Any

import scipy

from racecalc.decisions.evidence.chances import MOST_RUNS, WANTED, level_per_look
from racecalc.decisions.evidence.judging import (
    MOST_EXPERIENCE,
    Repeatability,
    refuse_unless_positive,
)
from racecalc.decisions.evidence.promise import DaysToRide
from racecalc.domain.trial import SI_UNIT, Measure
from racecalc.errors import InputError
from racecalc.written import HIDDEN, As, written

ROUNDS = 2
"""Runs of each item in a session come in twos, one on the way up and one on the way down, which
takes a linear drift out (counted in tests/evidence; A-B-B-A is common practice, no source)."""

TEST_SAFELY = (
    "Law and traffic come first: test on a track or a quiet road, visible, with a second person as"
    " lookout; look up, and do not chase a reading."
)
"""How to ride a test."""


MOST_DAYS, MOST_A_DAY, A_DAY = 10, 12, 4
"""Days, and runs of each item a day, up to which days are proposed, and the runs of each item that
a day costs besides: coming, setting up and warming up. Our choice of what a tester can ride."""


LEAST_DAYS = 2
"""Days planned where no number of them would do: the fewest that show a change from day to day."""


@dataclass(frozen=True)
class OtherDays:
    """The least costly way to spread a test over days."""

    days: int
    runs_per_item: int
    """Of each item, over all days."""
    chance_seen: float
    """Chance of seeing the wanted difference on any day."""


@dataclass(frozen=True)
class PlannedTest:
    """A test to ride."""

    measure: Annotated[Measure, HIDDEN]
    """What will be measured; values are in its SI unit."""
    items: tuple[str, ...]
    """The baseline first."""
    runs_per_item: int
    """Runs of each item, over all days; an even number on each day."""
    runs_to_see: int | None
    """Runs of each item that see the difference on any day with a chance of 80 %; None where
    `MOST_RUNS` on so many days would not do.
    """
    runs_to_tie: int | None
    """Runs of each item that prove a tie with a chance of 80 % where there is no difference; None
    also where no margin is given.
    """
    detectable: float | None
    """Difference that `runs_per_item` see on any day with a chance of 80 %."""
    difference: float
    """Difference worth finding."""
    repeatability: Annotated[Repeatability, As(repeatability="sd", repeatability_df="df")]
    """What the chances rest on: `trial` must be given the same."""
    day_to_day: float
    """Standard deviation by which a difference is taken to change from day to day."""
    day_to_day_stated: bool
    """Whether the tester states it."""
    chance_seen: float
    """Chance at `runs_per_item` of seeing the wanted difference on any day, if it changes from day
    to day as it is taken to.
    """
    chance_seen_if_same: float
    """The same if the difference is the same every day."""
    chance_seen_without_repeatability: float
    """As `chance_seen`, where the test is judged by its own runs, without experience."""
    chance_tied: float | None
    """Chance of a proved tie where there is no difference; None where no margin is given."""
    most_runs: int
    """Runs of each item up to which was searched."""
    other_days: OtherDays | None
    """Days that see the difference with a chance of 80 % and cost less; None where none do."""
    runs_given: bool
    """Whether the tester said how many runs there are time for."""
    sessions: tuple[tuple[str, ...], ...]
    """Items of each day in the order to ride them."""
    sheet: tuple[tuple[str, ...], ...]
    """Heading and rows of a table to fill in, as `load_runs` reads it."""
    notes: tuple[str, ...]
    """What one should know, in sentences."""

    @written
    def unit(self) -> str:
        """SI unit of all values."""
        return SI_UNIT[self.measure]


@dataclass(frozen=True)
class _Question:
    """What decides how many runs are needed; amounts in standard deviations of one run."""

    test: DaysToRide
    difference: float
    margin: float | None

    def seen(self, runs: int, days: int | None = None) -> float:
        """Chance of seeing the difference with some runs of each item a day."""
        test = replace(self.test, runs=runs, days=days or self.test.days)
        return test.chances(self.difference, test.assumed).seen

    def tied(self, runs: int) -> float:
        """Chance of a proved tie where there is no difference."""
        test = replace(self.test, runs=runs)
        return test.chances(0.0, test.assumed, self.margin).tied

    def detectable(self, runs: int) -> float | None:
        """Difference that is seen with the wanted chance."""
        test = replace(self.test, runs=runs)

        def excess(size: float) -> float:
            return test.chances(size, test.assumed).seen - WANTED

        most = 1000.0 * test.error(test.assumed)
        return float(scipy.optimize.brentq(excess, 0.0, most)) if excess(most) > 0 else None

    def best_days(self, runs: Sequence[int]) -> OtherDays | None:
        """The least costly days that see the difference; None where none do."""
        found, cost = None, math.inf
        for days in range(1, MOST_DAYS + 1):
            for number in runs:
                if days * (number + A_DAY) >= cost:
                    break
                chance = self.seen(number, days)
                if chance >= WANTED:
                    found, cost = OtherDays(days, days * number, chance), days * (number + A_DAY)
                    break
        return found


def _first(chances: Iterable[tuple[int, float]]) -> int | None:
    """The first number of runs whose chance will do.

    No bisection: with several items on one day the chance can fall with more runs.
    """
    return next((runs for runs, chance in chances if chance >= WANTED), None)


def _tried(most: int) -> Iterator[int]:
    """Even numbers of runs, all of them up to 40 and from there on a twentieth further each."""
    runs = ROUNDS
    while runs <= most:
        yield runs
        runs += ROUNDS * max(1, runs // (20 * ROUNDS))


@dataclass(frozen=True)
class Riding:
    """How a test can be ridden, and how it will be judged."""

    sessions: int | None = None
    """Days to spread the runs over; None takes those that see the difference at the least cost."""
    runs: int | None = None
    """Runs of each item on each day that there is time for, an even number; None takes enough."""
    looks: int = 1
    """How often the test is judged in all while it grows."""
    day_to_day: float | None = None
    """Standard deviation by which a difference changes from day to day, in the SI unit of the
    measure; None takes the usual.
    """


def plan(
    items: Sequence[str],
    difference: float,
    repeatability: Repeatability,
    margin: float | None = None,
    *,
    measure: Measure = "cda",
    **riding: Any,
) -> PlannedTest:
    """Plan a test with the runs given, or enough for the difference and, with a margin, for a tie.

    The baseline is the first of the items; difference and margin are in the SI unit of the measure,
    `riding` as in `Riding`. The repeatability counts in the verdicts too, as in `spread_of`.

    Raises `InputError` if there are fewer than two items, or two are alike but for capitals and
    spaces, or a number is not above zero, or the runs are odd.
    """
    items, how = tuple(" ".join(item.split()) for item in items), Riding(**riding)
    _check_items(items)
    numbers = {"difference": difference, "margin": margin, **vars(how)}
    refuse_unless_positive(
        "plan, ", **{key: one for key, one in numbers.items() if one is not None}
    )
    _refuse_odd(how.runs)
    asked, best = _question(len(items), difference, repeatability, margin, how)
    days = asked.test.days
    tried = list(_tried(MOST_RUNS // days))
    to_see = _first((runs, asked.seen(runs)) for runs in tried)
    to_tie = _first((runs, asked.tied(runs)) for runs in tried) if margin else None
    runs = how.runs or max(to_see or ROUNDS, to_tie or ROUNDS)
    test, wanted, sd = replace(asked.test, runs=runs), asked.difference, repeatability.sd
    alone, detectable = replace(test, experience=0.0), asked.detectable(runs)
    orders = tuple(balanced_order(items, runs, turn) for turn in range(days))
    return PlannedTest(
        measure=measure,
        items=items,
        runs_per_item=runs * days,
        runs_to_see=to_see and to_see * days,
        runs_to_tie=to_tie and to_tie * days,
        detectable=detectable and detectable * sd,
        difference=difference,
        repeatability=repeatability,
        day_to_day=test.assumed * sd,
        day_to_day_stated=how.day_to_day is not None,
        chance_seen=asked.seen(runs),
        chance_seen_if_same=test.chances(wanted, 0.0).seen,
        chance_seen_without_repeatability=alone.chances(wanted, test.assumed).seen,
        chance_tied=asked.tied(runs) if margin else None,
        most_runs=MOST_RUNS,
        other_days=None if best is None or best.days == days else best,
        runs_given=how.runs is not None,
        sessions=orders,
        sheet=_sheet(orders, measure),
        notes=_notes(days, to_see, to_tie, margin),
    )


def _question(
    items: int, difference: float, known: Repeatability, margin: float | None, how: Riding
) -> tuple[_Question, OtherDays | None]:
    """What is asked over the days that are planned, and the days that cost the least."""
    sd, experience = known.sd, min(known.df, MOST_EXPERIENCE)
    share = None if how.day_to_day is None else how.day_to_day / sd
    test = DaysToRide(items, 1, ROUNDS, level_per_look(how.looks), experience, share)
    asked = _Question(test, difference / sd, None if margin is None else margin / sd)
    best = asked.best_days([how.runs] if how.runs else range(ROUNDS, MOST_A_DAY + 1, ROUNDS))
    days = how.sessions or (best.days if best else LEAST_DAYS)
    return replace(asked, test=replace(test, days=days)), best


def _refuse_odd(runs: int | None) -> None:
    if runs and runs % ROUNDS:
        problem = f"{runs} is odd, so a drift would not cancel"
        raise InputError("plan, runs", problem, f"give {runs + 1} or another even number")


def _check_items(items: Sequence[str]) -> None:
    remedy = "name a baseline and at least one other item, each once"
    if not all(items):
        raise InputError("plan, items", "an item has a blank name", remedy)
    seen: dict[str, str] = {}
    for item in items:
        key = "".join(item.split()).casefold()
        if seen.get(key) == item:
            raise InputError("plan, items", f"'{item}' is named twice", remedy)
        if key in seen:
            both = f"'{seen[key]}' and '{item}'"
            raise InputError("plan, items", f"{both} differ only in capitals or spaces", remedy)
        seen[key] = item
    if len(items) < 2:
        raise InputError("plan, items", "only one item is named", remedy)


def balanced_order(items: Sequence[str], rounds: int, turn: int = 0) -> tuple[str, ...]:
    """Order of runs in which a steady drift does not favour any item.

    Rounds of all items go forward and backward as the Thue-Morse sequence says. Two rounds take
    a linear drift out of the plain means; for two items, four rounds (A-B-B-A-B-A-A-B) take out
    a quadratic drift as well (properties counted in tests/evidence).

    >>> "".join(balanced_order("AB", 4)), "".join(balanced_order("ABC", 2))
    ('ABBABAAB', 'ABCCBA')
    """
    start = turn % len(items)
    forward = (*items[start:], *items[:start])
    backward = [number.bit_count() % 2 == 1 for number in range(rounds)]  # Thue-Morse
    return tuple(item for turned in backward for item in (forward[::-1] if turned else forward))


RECORDED = (
    *("recording", "lap", "from", "to", "temperature [degC]", "pressure [hPa]", "humidity [%]"),
    *("wind_at_rider [m/s]", "wind_from"),
)
"""Columns for a test whose drag areas `racecalc measure` takes from recordings."""


def _sheet(orders: tuple[tuple[str, ...], ...], measure: Measure) -> tuple[tuple[str, ...], ...]:
    measured: tuple[str, ...] = (
        *(f"{measure} [{SI_UNIT[measure]}]", "speed [km/h]", "density [kg/m^3]", "note"),
    )
    if measure != "drag":
        measured = (*measured, *RECORDED)
    heading = ("session", "order", "item", "mounting", *measured)
    rows = (
        (str(session), str(place), item, str(place), *("" for _ in measured))
        for session, order in enumerate(orders, 1)
        for place, item in enumerate(order, 1)
    )
    return (heading, *rows)


def _notes(
    sessions: int, to_see: int | None, to_tie: int | None, margin: float | None
) -> tuple[str, ...]:
    notes = [
        "Mount each item anew for each run, or give runs of one mounting one number in the column"
        " 'mounting'."
    ]
    if to_see is None:
        notes.append(
            "The difference is too small against the scatter to be seen on so many days: ride on"
            " more days, look for a larger one, or for a setup that repeats better."
        )
    if margin is not None and to_tie is None:
        notes.append("The margin is too small against the scatter for so many days to prove a tie.")
    if sessions == 1:
        notes.append("One day does not show what changes from day to day; two would.")
    return tuple(notes)
