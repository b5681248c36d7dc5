"""How far runs scatter: from the test, from experience, or both."""

import math
from dataclasses import dataclass
from typing import Literal

from racecalc.arrays import FloatArray
from racecalc.decisions.evidence.linear_model import Fit, disagreement
from racecalc.errors import InputError

MOST_EXPERIENCE = 10.0
"""Degrees of freedom that experience counts at most. On a day that scatters half as much again
as experience says, 8 to 11 % of tests then give a false winner (tests/evidence); were the standard
deviation taken as known, it would be P(|z| > 1.96 / 1.5) = 19 %."""

DOUBT_LEVEL = 0.10
"""Level of the two F tests below; a lenient one, since missing a difference does harm."""

Origin = Literal["none", "runs", "runs and experience", "experience", "sessions"]


@dataclass(frozen=True)
class Repeatability:
    """What is known from earlier tests about how runs of one setup scatter.

    Parameters
    ----------
    sd : float
        Standard deviation of a single run, in the unit of the measure.
    df : float
        Degrees of freedom behind it: earlier runs minus the means taken from them.

    Raises
    ------
    InputError
        If either is not above zero.
    """

    sd: float
    df: float

    def __post_init__(self) -> None:
        for name, value in (("sd", self.sd), ("df", self.df)):
            if not (math.isfinite(value) and value > 0):
                raise InputError(
                    f"repeatability, {name}", f"{value:g} is not above zero", "give it above 0"
                )


@dataclass(frozen=True)
class Spread:
    """The scatter that a verdict rests on.

    Parameters
    ----------
    sd : float or None
        Standard deviation of a single run; None where nothing tells it.
    df : float
        Degrees of freedom of the sd.
    origin : {"none", "runs", "runs and experience", "experience", "sessions"}
        Where it comes from.
    because : str
        The same in words that follow a colon; `df` is not said again.
    """

    sd: float | None
    df: float
    origin: Origin
    because: str


def f_chance(between: float, between_df: float, within: float, within_df: float) -> float:
    """Chance of so large a ratio of two variances, or a larger one, if they are equal."""
    from scipy.special import fdtrc

    return float(fdtrc(between_df, within_df, between / within)) if within else 1.0


def spread_of(fitted: Fit, value: FloatArray, known: Repeatability | None) -> Spread:
    """Choose the scatter of a test.

    Where items differ from session to session more than their runs explain (F test at 10 %),
    a session counts as one observation: the mean square of item by session is the variance.
    Otherwise the scatter of the runs is combined with experience, s^2 = (n0 s0^2 + n s^2) /
    (n0 + n) with at most 10 degrees of freedom for experience, unless this test scatters more
    than experience explains (F test at 10 %); then experience is left out.

    With two or three sessions the first F test often misses that they disagree; where items
    differ from session to session by as much as runs scatter, 7 to 8 % of tests then give a
    false winner (tests/evidence).

    Parameters
    ----------
    fitted : Fit
        The fitted model.
    value : FloatArray, shape (n,)
        What was measured.
    known : Repeatability or None
        Experience.

    Returns
    -------
    Spread
        In the unit of the values.

    References
    ----------
    Smyth GK. Stat Appl Genet Mol Biol 2004;3:3, for the combination; JCGM 100:2008, H.5.2.2,
    for the sessions (both cited from memory).
    """
    apart = _between_sessions(fitted, value)
    if apart:
        return apart
    if fitted.variance is None:
        return _experience(known) if known else Spread(None, 0, "none", "no run is repeated")
    if not fitted.square_sum and not known:
        return Spread(
            None,
            0,
            "none",
            "the repeats are identical to the last digit but for drift, which is rounding and not"
            " precision",
        )
    own = Spread(math.sqrt(fitted.variance), fitted.df, "runs", "from this test")
    return _combined(own, fitted.variance, known) if known else own


def _experience(known: Repeatability) -> Spread:
    df = min(known.df, MOST_EXPERIENCE)
    return Spread(known.sd, df, "experience", "from experience alone")


def _combined(own: Spread, variance: float, known: Repeatability) -> Spread:
    weight = min(known.df, MOST_EXPERIENCE)
    chance = f_chance(variance, own.df, known.sd**2, weight)
    if chance < DOUBT_LEVEL:
        return Spread(
            own.sd,
            own.df,
            "runs",
            f"{own.because}; experience was left out, because these runs scatter"
            f" {math.sqrt(variance) / known.sd:.1f} times as much (chance {chance:.1%})",
        )
    df = own.df + weight
    pooled = math.sqrt((weight * known.sd**2 + own.df * variance) / df)
    return Spread(
        pooled,
        df,
        "runs and experience",
        f"from this test (counted as {own.df:.0f}) and experience (counted as {weight:.0f})",
    )


def _between_sessions(fitted: Fit, value: FloatArray) -> Spread | None:
    if fitted.design.sessions < 2 or not fitted.square_sum:
        return None
    between, between_df, within, within_df = disagreement(fitted, value)
    if not between_df or not within_df or not within:
        return None
    mean_square = between / between_df
    chance = f_chance(mean_square, between_df, within / within_df, within_df)
    if chance >= DOUBT_LEVEL:
        return None
    return Spread(
        math.sqrt(mean_square),
        between_df,
        "sessions",
        "from how far the sessions disagree, which is more than the runs within them explain"
        f" (chance {chance:.1%})",
    )
