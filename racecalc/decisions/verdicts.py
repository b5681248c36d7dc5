"""From a saving and its doubt to an interval, a chance and a word."""

import math
from typing import Literal

Verdict = Literal["faster", "slower", "tie", "undecided"]

NORMAL_95 = 1.959964
"""Two-sided 95 % point of the normal distribution."""

NORMAL_90 = 1.644854
"""Two-sided 90 % point, for two one-sided tests at 5 %."""


def interval(saved: float, doubt: float | None) -> tuple[float | None, float | None]:
    """95 % interval of a saving with a normal doubt.

    Parameters
    ----------
    saved : float
        Best estimate [s].
    doubt : float or None
        Standard uncertainty [s]; None where it is not known.

    Returns
    -------
    low, high : float or None
        [s]; None where the doubt is not known.
    """
    if doubt is None:
        return None, None
    return saved - NORMAL_95 * doubt, saved + NORMAL_95 * doubt


def chance_faster(saved: float, doubt: float | None) -> float | None:
    """Chance that a saving is more than nothing; None where the doubt is not known."""
    if doubt is None:
        return None
    if doubt == 0:
        return float(saved > 0)
    return 0.5 * (1.0 + math.erf(saved / doubt / math.sqrt(2.0)))


def verdict_on(saved: float, doubt: float | None, margin: float) -> tuple[Verdict, str]:
    """Verdict on a saving, and why.

    A tie is proved by two one-sided tests at 5 %: the 90 % interval lies within the margin, so
    the difference is too small to matter even where it is surely not zero. Otherwise "faster"
    and "slower" need the whole 95 % interval on one side.

    Parameters
    ----------
    saved, doubt : float
        Best estimate and standard uncertainty [s]; the doubt is None where it is not known.
    margin : float
        Seconds either way that do not matter.

    Returns
    -------
    verdict, because : str
        The word, and the reason in one sentence.

    References
    ----------
    Schuirmann DJ. A comparison of the two one-sided tests procedure and the power approach.
    J Pharmacokinet Biopharm 1987;15:657-680.
    """
    if doubt is None:
        return "undecided", "no doubt is stated, so nobody can say how sure the saving is"
    if abs(saved) + NORMAL_90 * doubt <= margin:
        return "tie", f"the 90 % interval lies within {margin:.1f} s either way"
    if saved - NORMAL_95 * doubt > 0:
        return "faster", "the whole 95 % interval lies on the fast side"
    if saved + NORMAL_95 * doubt < 0:
        return "slower", "the whole 95 % interval lies on the slow side"
    return "undecided", f"the doubt of {doubt:.1f} s is too large against the {saved:+.1f} s"
