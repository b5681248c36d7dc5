"""How many runs a test needs, and in which order to ride them."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated

from racecalc.decisions.evidence.judging import (
    MOST_EXPERIENCE,
    MOST_RUNS,
    Repeatability,
    VerdictChances,
    chances,
    detectable,
    fewest,
    foretold,
    level_per_look,
    refuse_unless_positive,
)
from racecalc.domain.trial import SI_UNIT, Measure
from racecalc.errors import InputError
from racecalc.written import HIDDEN, As, written

LEAST_RUNS = 2
"""Runs of each item at least: one run shows no spread of its own, and no verdict rests on it."""

ROUNDS = 2
"""Runs of each item in a session come in twos, one on the way up and one on the way down, which
takes a linear drift out (counted in tests/evidence; A-B-B-A is common practice, no source)."""

TEST_SAFELY = (
    "Law and traffic come first: test on a track or a quiet road, visible, with a second person as"
    " lookout; look up, and do not chase a reading."
)
"""How to ride a test."""


@dataclass(frozen=True)
class PlannedTest:
    """A test to ride."""

    measure: Annotated[Measure, HIDDEN]
    """What will be measured; values are in its SI unit."""
    items: tuple[str, ...]
    """The baseline first."""
    runs_per_item: int
    """Runs of each item, over all sessions; an even number in each session."""
    runs_to_see: int | None
    """Runs of each item that see the difference with a chance of 80 %; None where `MOST_RUNS` would
    not do.
    """
    runs_to_tie: int | None
    """Runs of each item that prove a tie with a chance of 80 % where there is no difference; None
    also where no margin is given.
    """
    detectable: float
    """Difference that `runs_per_item` see with a chance of 80 %."""
    difference: float
    """Difference worth finding."""
    repeatability: Annotated[Repeatability, As(repeatability="sd", repeatability_df="df")]
    """What the chances rest on: `trial` must be given the same."""
    chance_seen: float
    """Chance at `runs_per_item` of seeing the wanted difference."""
    chance_seen_without_repeatability: float
    """The same where the test is judged by its own runs, without experience."""
    chance_tied: float | None
    """Chance of a proved tie where there is no difference; None where no margin is given."""
    most_runs: int
    """Runs of each item up to which was searched."""
    sessions: tuple[tuple[str, ...], ...]
    """Items of each session in the order to ride them."""
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
    """What decides how many runs are needed."""

    items: int
    sessions: int
    repeatability: Repeatability
    margin: float | None
    level: float

    def own_df(self, runs: int) -> float:
        """Degrees of freedom of the runs: items, sessions and a drift a session are taken off."""
        return max(self.items * runs - (self.items - 1) - 2 * self.sessions, 0)

    def df(self, runs: int) -> float:
        """Degrees of freedom with those of experience."""
        return self.own_df(runs) + min(self.repeatability.df, MOST_EXPERIENCE)

    def error(self, runs: int) -> float:
        """Standard error of a difference in an order that is balanced against drift."""
        return self.repeatability.sd * math.sqrt(2.0 / runs)

    def chances(self, runs: int, difference: float, *, alone: bool = False) -> VerdictChances:
        """Chances of the verdicts for a true difference; alone means without experience."""
        df = self.own_df(runs) if alone else self.df(runs)
        needed = foretold(df, self.items - 1, self.level)
        return chances(difference, self.error(runs), df, self.margin, needed)


def plan(
    items: Sequence[str],
    difference: float,
    repeatability: Repeatability,
    margin: float | None = None,
    *,
    sessions: int = 1,
    measure: Measure = "cda",
    looks: int = 1,
) -> PlannedTest:
    """Plan a test.

    Parameters
    ----------
    items : sequence of str
        The baseline first, then what is tested.
    difference : float
        Difference worth finding, in the SI unit of the measure.
    repeatability : Repeatability
        How runs scatter; it counts in the verdicts too, as in `spread_of`.
    margin : float, optional
        Difference that does not matter.
    sessions : int
        Sessions to spread the runs over.
    measure : {"cda", "power", "drag"}
        What will be measured.
    looks : int
        How often the test is judged in all while it grows.

    Returns
    -------
    PlannedTest
        With runs enough for the difference and, with a margin, for a tie, where that can be.

    Raises
    ------
    InputError
        If there are fewer than two items, or two are alike but for capitals and spaces, or a
        number is not above zero.
    """
    items = tuple(" ".join(item.split()) for item in items)
    _check_items(items)
    margins = {} if margin is None else {"margin": margin}
    refuse_unless_positive("plan, ", difference=difference, **margins, sessions=sessions)
    asked = _Question(len(items), sessions, repeatability, margin, level_per_look(looks))
    to_see = fewest(lambda runs: asked.chances(runs, difference).seen)
    to_tie = None if margin is None else fewest(lambda runs: asked.chances(runs, 0.0).tied)
    wanted = max(to_see or LEAST_RUNS, to_tie or LEAST_RUNS)
    runs = ROUNDS * sessions * math.ceil(wanted / (ROUNDS * sessions))
    alone = asked.chances(runs, difference, alone=True).seen if asked.own_df(runs) else 0.0
    orders = tuple(balanced_order(items, runs // sessions, turn) for turn in range(sessions))
    return PlannedTest(
        measure=measure,
        items=items,
        runs_per_item=runs,
        runs_to_see=to_see,
        runs_to_tie=to_tie,
        detectable=detectable(asked.error(runs), asked.df(runs), asked.level / (len(items) - 1)),
        difference=difference,
        repeatability=repeatability,
        chance_seen=asked.chances(runs, difference).seen,
        chance_seen_without_repeatability=alone,
        chance_tied=None if margin is None else asked.chances(runs, 0.0).tied,
        most_runs=MOST_RUNS,
        sessions=orders,
        sheet=_sheet(orders, measure),
        notes=_notes(sessions, to_see, to_tie, margin),
    )


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

    Examples
    --------
    >>> "".join(balanced_order("AB", 4)), "".join(balanced_order("ABC", 2))
    ('ABBABAAB', 'ABCCBA')
    """
    start = turn % len(items)
    forward = (*items[start:], *items[:start])
    backward = [number.bit_count() % 2 == 1 for number in range(rounds)]  # Thue-Morse
    return tuple(item for turned in backward for item in (forward[::-1] if turned else forward))


def _sheet(orders: tuple[tuple[str, ...], ...], measure: Measure) -> tuple[tuple[str, ...], ...]:
    measured = (f"{measure} [{SI_UNIT[measure]}]", "speed [km/h]", "density [kg/m^3]", "note")
    heading = ("session", "order", "item", *measured)
    rows = (
        (str(session), str(place), item, *("" for _ in measured))
        for session, order in enumerate(orders, 1)
        for place, item in enumerate(order, 1)
    )
    return (heading, *rows)


def _notes(
    sessions: int, to_see: int | None, to_tie: int | None, margin: float | None
) -> tuple[str, ...]:
    notes = ["Mount each item anew for each run, or the doubt of mounting it is not in the test."]
    if to_see is None:
        notes.append(
            "The difference is too small against the scatter to be seen: look for a larger one, or"
            " for a setup that repeats better."
        )
    if margin is not None and to_tie is None:
        notes.append("The margin is too small against the scatter for any test to prove a tie.")
    if sessions == 1:
        notes.append("One session does not show what changes from day to day; two would.")
    return tuple(notes)
