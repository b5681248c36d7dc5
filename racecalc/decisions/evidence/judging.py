"""From runs to differences, their scatter and verdicts, and the days that would settle them."""

import math
from dataclasses import dataclass, field, replace
from typing import Annotated

import numpy as np
import scipy
from numpy.typing import NDArray

from racecalc.arrays import FloatArray
from racecalc.decisions.evidence.chances import (
    AGAIN,
    LEVEL,
    Quantiles,
    chances,
    f_chance,
    fewest,
    foretold,
    level_per_look,
    quantiles,
    t_point,
)
from racecalc.decisions.evidence.days import DOUBT_LEVEL, Across, AnyDay, RunScatter, Within
from racecalc.decisions.verdicts import WATTS, Verdict, interval_of, minus, word
from racecalc.domain.trial import SI_UNIT, Measure, Runs
from racecalc.errors import InputError
from racecalc.written import HIDDEN, As, written

# --- How far runs scatter ------------------------------------------------------------------------

MOST_EXPERIENCE = 10.0
"""Degrees of freedom that experience counts at most. On a day that scatters half as much again
as experience says, 8 to 11 % of tests then give a false winner (tests/evidence); were the standard
deviation taken as known, it would be P(|z| > 1.96 / 1.5) = 19 %."""


@dataclass(frozen=True)
class Repeatability:
    """What is known from earlier tests about how runs of one setup scatter.

    Raises `InputError` if either is not above zero.
    """

    sd: float
    """Standard deviation of a single run, in the unit of the measure."""
    df: float
    """Degrees of freedom behind it: earlier runs minus the means taken from them."""

    def __post_init__(self) -> None:
        refuse_unless_positive("repeatability, ", sd=self.sd, df=self.df)


def refuse_unless_positive(place: str, **values: float) -> None:
    """Refuse what is not finite and above zero, its name after `place`."""
    for name, value in values.items():
        if not (math.isfinite(value) and value > 0):
            raise InputError(f"{place}{name}", f"{value:g} is not above zero", "give it above 0")


def spread_of(within: Within, known: Repeatability | None) -> RunScatter:
    """Choose the scatter of the runs of a test.

    What is left within days is combined with experience, s^2 = (n0 s0^2 + n s^2) / (n0 + n) with at
    most 10 degrees of freedom for experience, unless this test scatters more than experience
    explains (F test at 10 %); then experience is left out.

    References
    ----------
    Smyth GK. Stat Appl Genet Mol Biol 2004;3:3 (cited from memory).
    """
    if not within.df:
        if not known:
            return RunScatter(None, 0, "no run is repeated")
        df = min(known.df, MOST_EXPERIENCE)
        return RunScatter(known.sd, df, "from experience alone")
    if not within.square_sum and not known:
        rounded = "the repeats are identical to the last digit but for drift, which is rounding"
        return RunScatter(None, 0, f"{rounded} and not precision", rounded=True)
    variance = within.square_sum / within.df
    own = RunScatter(math.sqrt(variance), within.df, "from this test")
    return _combined(own, variance, known) if known else own


def _combined(own: RunScatter, variance: float, known: Repeatability) -> RunScatter:
    weight = min(known.df, MOST_EXPERIENCE)
    chance = f_chance(variance, own.df, known.sd**2, weight)
    if chance < DOUBT_LEVEL:
        because = (
            f"{own.because}; experience was left out, because these runs scatter"
            f" {math.sqrt(variance) / known.sd:.1f} times as much (chance {chance:.1%})"
        )
        return replace(own, because=because)
    df = own.df + weight
    pooled = math.sqrt((weight * known.sd**2 + own.df * variance) / df)
    counted = f"(counted as {own.df:.0f}) and experience (counted as {weight:.0f})"
    return RunScatter(pooled, df, f"from this test {counted}")


# --- What a test of one rider says ---------------------------------------------------------------

DECIMALS: dict[Measure, int] = {"cda": 4, "power": 1, "drag": 3}


def shown(value: float, measure: Measure, *, sign: bool = False) -> str:
    """Text of a measured value with its unit, for sentences.

    >>> shown(-0.00384, "cda", sign=True)
    '-0.0038 m^2'
    """
    plus = "+" if sign else ""
    return f"{value:{plus}.{DECIMALS[measure]}f} {SI_UNIT[measure]}"


@dataclass(frozen=True, kw_only=True)
class ItemRuns:
    """The runs of one item."""

    name: str
    """The item."""
    mean: float
    """Mean of its runs, on the conditions of the baseline's runs where it can be compared."""
    values: tuple[float, ...]
    """Each run as it was measured."""
    adjusted: tuple[float, ...]
    """Each run without what its session and drift explain: mean plus residual."""
    residuals: tuple[float, ...]
    """What the model leaves of each run."""
    lines: tuple[int, ...]
    """Line of each run in the file."""

    @written
    def runs(self) -> int:
        """Number of runs."""
        return len(self.values)


@dataclass(frozen=True, kw_only=True)
class ItemResult(ItemRuns):
    """One item against the baseline; None stands where something cannot be known."""

    difference: float | None = None
    """Item minus baseline; below zero is faster."""
    standard_error: float | None = None
    """Of the difference."""
    df: float = 0.0
    """Degrees of freedom of the standard error."""
    low: float | None = None
    high: float | None = None
    """Interval on any day that the verdict rests on: 95 % for all items and looks together."""
    low_alone: float | None = None
    high_alone: float | None = None
    """95 % interval on any day as if this item were the only one and this look the only look."""
    chance_faster: float | None = None
    """Chance that it is faster on any day at all, by the t distribution, taken alone."""
    verdict: Verdict = "undecided"
    """On any day: "faster", "slower", "tie" or "undecided"."""
    because: str
    """Why, in one sentence."""
    standard_error_that_day: float | None = None
    """Of the difference on the days ridden, by the scatter of their runs alone."""
    low_that_day: float | None = None
    high_that_day: float | None = None
    """Interval on the days ridden; 95 % as above."""
    verdict_that_day: Verdict = "undecided"
    """The word for the days ridden."""
    further_days: int | None = None
    """More days like those ridden that settle it on any day with a chance of 80 %, judged at the
    level of the next look, if the difference is as it appears; None where it is settled, or nothing
    foretells it, or `MOST_DAYS` would not do.
    """

    one_day: Annotated[bool, HIDDEN] = False
    """Whether all runs of the test are of one day."""

    @property
    def said(self) -> str:
        """The word on the page: what one day proves of that day is said where nothing more is."""
        proved = self.verdict_that_day in ("faster", "slower")
        if self.verdict == "undecided" and self.one_day and proved:
            return f"{self.verdict_that_day} that day"
        return self.verdict

    @property
    def saved(self) -> tuple[float, float | None, float | None] | None:
        """Difference and interval as a saving, more is faster; None where nothing is known."""
        if self.difference is None:
            return None
        return -self.difference, minus(self.high), minus(self.low)


@dataclass(frozen=True)
class Drift:
    """How far runs drifted within a session."""

    session: str
    """Which one."""
    slope: float
    """Change per unit of order."""
    standard_error: float | None
    """Of the slope; None where the scatter is not known."""
    change: float
    """Change from the first to the last run of the session."""
    exceeds: bool
    """Whether it is larger than the largest difference found."""


@dataclass(frozen=True)
class Outlier:
    """A run that does not fit the others."""

    line: int
    """Line of the file."""
    item: str
    session: str
    """What and when."""
    value: float
    """What was measured."""
    residual: float
    """Its difference from the model."""
    studentised: float
    """The same in standard errors, judged by all the other runs."""


@dataclass(frozen=True)
class RiderTrial:
    """What a test of one rider says."""

    measure: Annotated[Measure, HIDDEN]
    """What was measured; values are in its SI unit."""
    baseline: ItemRuns
    """What the items are compared with."""
    items: tuple[ItemResult, ...]
    """All others, in the order in which they first appear."""
    margin: float | None
    """Difference that does not matter; None offers no tie."""
    margin_because: str
    """Where the margin comes from."""
    repeatability: float | None
    """Standard deviation of a single run on one day that the intervals rest on."""
    repeatability_df: float
    """Its degrees of freedom."""
    repeatability_because: str
    """Where it comes from."""
    days: int
    """Number of days ridden."""
    day_to_day: float | None
    """Standard deviation by which a difference is taken to change from day to day; None where the
    days alone tell the doubt."""
    day_to_day_because: str
    """Where it comes from."""
    day_to_day_found: float | None
    """The same as the days themselves show it; None for one day."""
    day_to_day_found_df: int
    """Degrees of freedom of that; its square may be averaged over tests with these weights."""
    level: Annotated[float, HIDDEN]
    """Chance of one or more false verdicts at this look."""
    next_level: Annotated[float, HIDDEN]
    """The same at the next look."""
    drifts: tuple[Drift, ...]
    """One for each session that carries a drift term."""
    outliers: tuple[Outlier, ...]
    """Runs that do not fit; they are in all numbers above."""
    without_outliers: Annotated["RiderTrial | None", As(without_outliers="items")] = None
    """The same test without them; None where there are none, or an item would have no run left."""
    notes: tuple[str, ...] = ()
    """What one should know, in sentences."""
    warnings: tuple[str, ...] = ()
    """What could overturn the verdicts, in sentences."""
    speed: Annotated[float | None, HIDDEN] = None
    """Mean speed of the runs [m/s]; None where one does not state it."""
    any_day: Annotated[AnyDay | None, HIDDEN] = field(default=None, compare=False, repr=False)
    """The differences with the errors that the verdicts rest on; None where nothing tells them."""

    @written
    def confidence(self) -> float:
        """Of all intervals together."""
        return 1.0 - self.level

    @property
    def fitting(self) -> "RiderTrial":
        """The test by the runs that fit; itself where all do or nothing else can be done."""
        return self.without_outliers or self


# --- From a difference and its standard error to a verdict, a reason and what would --------------


@dataclass(frozen=True)
class Errors:
    """The standard errors of all differences, and how many of them a verdict needs."""

    covariance: FloatArray
    df: float
    needed: Quantiles
    """Of the items that can be compared together."""

    @classmethod
    def of(
        cls, covariance: FloatArray, df: float, known: NDArray[np.bool_], level: float
    ) -> "Errors":
        """Errors with the quantiles for what can be compared."""
        own = covariance[np.ix_(known, known)]
        scale = np.sqrt(np.diag(own))
        return cls(covariance, df, quantiles(df, own / np.outer(scale, scale), level))

    def error(self, position: int) -> float:
        """Standard error of a difference."""
        return math.sqrt(float(self.covariance[position, position]))


@dataclass(frozen=True)
class Asked:
    """How a test is to be judged."""

    baseline: str | None = None
    """What the items are compared with; None takes the item of the first run."""
    margin: float | None = None
    """Difference that does not matter, in the unit of the measure."""
    repeatability: Repeatability | None = None
    """What earlier tests showed of the scatter of a run."""
    looks: int = 1
    """Looks that were planned, this one included."""
    again: bool = False
    """Whether the test was judged before without having planned it."""
    day_to_day: float | None = None
    """Standard deviation by which a difference changes from day to day; None takes the usual."""

    def __post_init__(self) -> None:
        if self.day_to_day is not None:
            refuse_unless_positive("", day_to_day=self.day_to_day)

    @property
    def level(self) -> float:
        """Level of this look."""
        return level_per_look(self.looks, again=self.again)

    @property
    def next_level(self) -> float:
        """Level of the next one."""
        return AGAIN if self.looks == 1 else self.level


@dataclass(frozen=True)
class Judge:
    """What the verdicts of one analysis have in common."""

    asked: Asked
    measure: Measure
    margin: float | None
    """Difference that does not matter, stated or not."""
    days: int
    """Number of days ridden."""
    across: Across
    """The differences."""
    any_day: Errors
    """Of the differences on any day."""
    that_day: Errors | None
    """Of those on the days ridden; None where no run is repeated on a day."""

    def item(self, position: int, own: ItemRuns, baseline: ItemRuns) -> ItemResult:
        """Judge one item that can be compared."""
        difference, errors = float(self.across.difference[position]), self.any_day
        error, runs = errors.error(position), min(own.runs, baseline.runs)
        verdict, because = self.verdict(difference, error, errors, runs)
        low, high = interval_of(difference, error, errors.needed.decisive)
        low_alone, high_alone = interval_of(difference, error, t_point(errors.df, 1 - LEVEL / 2))
        found = ItemResult(
            **vars(own),
            difference=difference,
            standard_error=error,
            df=errors.df,
            low=low,
            high=high,
            low_alone=low_alone,
            high_alone=high_alone,
            chance_faster=float(scipy.special.stdtr(errors.df, -difference / error)),
            verdict=verdict,
            because=because,
            further_days=self.further_days(difference, error) if verdict == "undecided" else None,
            one_day=self.days == 1,
        )
        if self.that_day is None:
            return found
        own_error = self.that_day.error(position)
        ends = interval_of(difference, own_error, self.that_day.needed.decisive)
        word_then, _ = self.verdict(difference, own_error, self.that_day, runs)
        return replace(
            found,
            standard_error_that_day=own_error,
            low_that_day=ends[0],
            high_that_day=ends[1],
            verdict_that_day=word_then,
        )

    def verdict(
        self, difference: float, error: float, errors: Errors, runs: int
    ) -> tuple[Verdict, str]:
        """Verdict on a difference, and why."""
        if runs < 2:
            return "undecided", "a single run shows no scatter; repeat item and baseline"
        half = errors.needed.decisive * error
        # While the interval alone is wider than the margin, only a spread that is small by luck
        # could prove a tie, and such a tie says next to nothing.
        offered = self.margin if self.margin is not None and half < self.margin else None
        verdict = word(-difference, error, offered, errors.needed.decisive, errors.needed.tie)
        certain = f"{100 * (1 - self.asked.level):.4g} %"
        either = "" if self.margin is None else f"{shown(self.margin, self.measure)} either way"
        if verdict == "tie":
            sure = ", though not zero" if abs(difference) > half else ""
            return verdict, f"two one-sided tests show that it lies within {either}{sure}"
        if verdict != "undecided":
            side = verdict
            return verdict, f"the whole {certain} interval is on the {side} side"
        why = f"the {certain} interval, {shown(half, self.measure)} either way, includes zero"
        if self.margin is None:
            return verdict, f"{why}, and no margin is known for a tie; state one with --margin"
        if offered is None:
            return verdict, f"{why} and is too wide to prove a tie within {either}"
        return verdict, f"{why}, and a tie within {either} is not proved"

    def further_days(self, difference: float, error: float) -> int | None:
        """More days like those ridden that probably settle an item at the next look.

        The difference is taken to be as it appears; a day brings a degree of freedom an item.
        """
        comparisons = int(self.across.known.sum())

        def likely(more: int) -> float:
            df = self.any_day.df + comparisons * more
            needed = foretold(df, comparisons, self.asked.next_level)
            by_then = error * math.sqrt(self.days / (self.days + more))
            return chances(difference, by_then, df, self.margin, needed).settled

        return fewest(likely, MOST_DAYS)


MOST_DAYS = 30
"""Further days beyond which a test is called hopeless; our choice, a season of testing."""


# --- The difference that does not matter, in the unit of the test --------------------------------


def margin_of(runs: Runs, stated: float | None) -> tuple[float | None, str]:
    """Margin of a test and where it comes from."""
    if stated is not None:
        refuse_unless_positive("", margin=stated)
        return stated, "as stated"
    if runs.measure == "power":
        return WATTS, f"{WATTS:g} W, because none is stated"
    by_watt = per_watt(runs)
    if by_watt is None:
        missing = "speed or density" if runs.measure == "cda" else "speed"
        return None, (
            f"none is stated, and without {missing} of every run {WATTS:g} W cannot be turned into"
            f" {runs.unit}; no tie is offered without --margin"
        )
    at = f"{3.6 * float(np.mean(runs.speed)):.1f} km/h"
    return WATTS * by_watt, f"{WATTS:g} W at the {at} of the test, because none is stated"


def per_watt(runs: Runs) -> float | None:
    """What one watt of the meter at the mean speed of a test is in the unit of its measure.

    1 / (1/2 rho v^3) of drag area, 1 / v of drag force; None where speed or density of a run is
    not stated.
    """
    if runs.measure == "power":
        return 1.0
    speed = float(np.mean(runs.speed))
    by_watt = runs.efficiency / speed
    if runs.measure == "cda":
        by_watt /= 0.5 * float(np.mean(runs.density)) * speed**2
    return by_watt if np.isfinite(by_watt) else None
