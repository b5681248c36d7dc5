"""What a test of one rider says: all that a view shows."""

from dataclasses import dataclass
from typing import Annotated, ClassVar

from racecalc.decisions.verdicts import Verdict
from racecalc.domain.trial import SI_UNIT, Measure
from racecalc.written import HIDDEN, As

DECIMALS: dict[Measure, int] = {"cda": 4, "power": 1, "drag": 3}


def shown(value: float, measure: Measure, *, sign: bool = False) -> str:
    """Text of a measured value with its unit, for sentences.

    Examples
    --------
    >>> shown(-0.00384, "cda", sign=True)
    '-0.0038 m^2'
    """
    plus = "+" if sign else ""
    return f"{value:{plus}.{DECIMALS[measure]}f} {SI_UNIT[measure]}"


@dataclass(frozen=True, kw_only=True)
class Measured:
    """The runs of one item.

    Parameters
    ----------
    name : str
        The item.
    mean : float
        Mean of its runs, on the conditions of the baseline's runs where it can be compared.
    values : tuple of float
        Each run as it was measured.
    adjusted : tuple of float
        Each run without what its session and drift explain: mean plus residual.
    residuals : tuple of float
        What the model leaves of each run.
    lines : tuple of int
        Line of each run in the file.
    """

    name: str
    mean: float
    values: tuple[float, ...]
    adjusted: tuple[float, ...]
    residuals: tuple[float, ...]
    lines: tuple[int, ...]

    ALSO_WRITTEN: ClassVar = ("runs",)

    @property
    def runs(self) -> int:
        """Number of runs."""
        return len(self.values)


@dataclass(frozen=True, kw_only=True)
class ItemResult(Measured):
    """One item against the baseline; None stands where something cannot be known.

    Parameters
    ----------
    difference : float or None
        Item minus baseline; below zero is faster.
    standard_error : float or None
        Of the difference.
    df : float
        Degrees of freedom of the standard error.
    low, high : float or None
        Interval that the verdict rests on: 95 % for all items and looks together.
    low_alone, high_alone : float or None
        95 % interval as if this item were the only one and this look the only look.
    chance_faster : float or None
        Chance that it is faster at all, by the t distribution, taken alone.
    verdict : str
        "faster", "slower", "tie" or "undecided".
    because : str
        Why, in one sentence.
    further_runs : int or None
        More runs of this item, and as many of the baseline, that settle it with a chance of
        80 % if the difference is as it appears; None where it is settled, or nothing foretells
        it, or `MOST_RUNS` would not do.
    """

    difference: float | None
    standard_error: float | None
    df: float
    low: float | None
    high: float | None
    low_alone: float | None
    high_alone: float | None
    chance_faster: float | None
    verdict: Verdict
    because: str
    further_runs: int | None

    @property
    def saved(self) -> tuple[float, float | None, float | None] | None:
        """Difference and interval as a saving, more is faster; None where nothing is known."""
        if self.difference is None:
            return None
        low = None if self.high is None else -self.high
        high = None if self.low is None else -self.low
        return -self.difference, low, high


@dataclass(frozen=True)
class Drift:
    """How far runs drifted within a session.

    Parameters
    ----------
    session : str
        Which one.
    slope : float
        Change per unit of order.
    standard_error : float or None
        Of the slope; None where the scatter is not known.
    change : float
        Change from the first to the last run of the session.
    exceeds : bool
        Whether it is larger than the largest difference found.
    """

    session: str
    slope: float
    standard_error: float | None
    change: float
    exceeds: bool


@dataclass(frozen=True)
class Outlier:
    """A run that does not fit the others.

    Parameters
    ----------
    line : int
        Line of the file.
    item, session : str
        What and when.
    value : float
        What was measured.
    residual : float
        How far it lies from the model.
    studentised : float
        The same in standard errors, judged by all the other runs.
    """

    line: int
    item: str
    session: str
    value: float
    residual: float
    studentised: float


@dataclass(frozen=True)
class Trial:
    """What a test of one rider says.

    Parameters
    ----------
    source : str
        File name as the user gave it.
    measure : {"cda", "power", "drag"}
        What was measured; values are in its SI unit.
    baseline : Measured
        What the items are compared with.
    items : tuple of ItemResult
        All others, in the order in which they first appear.
    margin : float or None
        Difference that does not matter; None offers no tie.
    margin_because : str
        Where the margin comes from.
    repeatability : float or None
        Standard deviation of a single run that the intervals rest on.
    repeatability_df : float
        Its degrees of freedom.
    repeatability_because : str
        Where it comes from.
    level : float
        Chance of one or more false verdicts at this look.
    drifts : tuple of Drift
        One for each session that carries a drift term.
    outliers : tuple of Outlier
        Runs that do not fit; they are in all numbers above.
    without_outliers : Trial or None
        The same test without them; None where there are none, or an item would have no run
        left.
    notes : tuple of str
        What one should know, in sentences.
    """

    source: Annotated[str, HIDDEN]
    measure: Annotated[Measure, HIDDEN]
    baseline: Measured
    items: tuple[ItemResult, ...]
    margin: float | None
    margin_because: str
    repeatability: float | None
    repeatability_df: float
    repeatability_because: str
    level: Annotated[float, HIDDEN]
    drifts: tuple[Drift, ...]
    outliers: tuple[Outlier, ...]
    without_outliers: Annotated["Trial | None", As(without_outliers="items")]
    notes: tuple[str, ...]

    ALSO_WRITTEN: ClassVar = ("confidence",)

    @property
    def confidence(self) -> float:
        """Of all intervals together."""
        return 1.0 - self.level

    @property
    def unit(self) -> str:
        """SI unit of the values."""
        return SI_UNIT[self.measure]

    @property
    def fitting(self) -> "Trial":
        """The test by the runs that fit; itself where all do or nothing else can be done."""
        return self.without_outliers or self
