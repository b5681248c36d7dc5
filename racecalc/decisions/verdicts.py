"""From a saving and its doubt to an interval, a chance and a word."""

import math
from typing import Literal

Verdict = Literal["faster", "slower", "tie", "undecided"]

NORMAL_95 = 1.959964
"""Two-sided 95 % point of the normal distribution."""

NORMAL_90 = 1.644854
"""Two-sided 90 % point, for two one-sided tests at 5 %."""

WATTS = 1.0
"""Watts at the test speed that are too few to matter; common practice, no source."""


def interval(saved: float, doubt: float | None) -> tuple[float | None, float | None]:
    """The 95 % interval of a saving with a normal doubt; None where that is not known."""
    return (None, None) if doubt is None else interval_of(saved, doubt)


def interval_of(best: float, doubt: float, quantile: float = NORMAL_95) -> tuple[float, float]:
    """The same of any best estimate whose doubt is known; or of so many doubts either way."""
    return best - quantile * doubt, best + quantile * doubt


def give_or_take(low: float | None, high: float | None) -> float | None:
    """Half of an interval; None where it is not known."""
    return None if low is None or high is None else 0.5 * (high - low)


def minus(value: float | None) -> float | None:
    """A difference as a saving, or the other way; None where it is not known."""
    return None if value is None else -value


def chance_faster(saved: float, doubt: float | None) -> float | None:
    """Chance that a saving is more than nothing; None where the doubt is not known."""
    if not doubt:
        return None if doubt is None else float(saved > 0)
    return 0.5 * (1.0 + math.erf(saved / doubt / math.sqrt(2.0)))


NINE_IN_TEN = 1.281552
"""One-sided 90 % point of the normal distribution."""


def surely(saved: float, doubt: float | None) -> float | None:
    """What a saving exceeds with a chance of 90 %; None where the doubt is not known."""
    return None if doubt is None else saved - NINE_IN_TEN * doubt


def shown_percent(chance: float) -> int:
    """Whole percent as which a chance is shown: 100 for more than 99, and 0 for less than 1."""
    if chance > 0.99:
        return 100
    return 0 if chance < 0.01 else round(100 * chance)


def word(saved: float, doubt: float, margin: float | None, decisive: float, tie: float) -> Verdict:
    """Return the word for a saving whose doubt is known, in the unit of the margin.

    A tie is proved by two one-sided tests: the interval of `tie` doubts lies within the margin,
    which does not matter either way, so the difference is too small to matter even where it is
    surely not zero; no margin offers no tie. Otherwise "faster" and "slower" need the whole
    interval of `decisive` doubts on one side.

    References
    ----------
    Schuirmann DJ. A comparison of the two one-sided tests procedure and the power approach.
    J Pharmacokinet Biopharm 1987;15:657-680.
    """
    whole, inner = ((saved - one * doubt, saved + one * doubt) for one in (decisive, tie))
    return word_by_intervals(whole, inner, margin)


def word_by_intervals(
    whole: tuple[float, float], inner: tuple[float, float], margin: float | None
) -> Verdict:
    """Return the word of `word` where the intervals are known: one to decide, one for a tie."""
    if margin is not None and max(-inner[0], inner[1]) <= margin:
        return "tie"
    if whole[0] > 0:
        return "faster"
    return "slower" if whole[1] < 0 else "undecided"


def verdict_on(saved: float, doubt: float | None, margin: float) -> tuple[Verdict, str]:
    """Verdict on a saving [s], and why: `word` by its 95 % interval, a tie by its 90 % one."""
    if doubt is None:
        return "undecided", "no doubt is stated, so how sure the saving is remains unknown"
    found = word(saved, doubt, margin, NORMAL_95, NORMAL_90)
    return found, reason(found, saved, doubt, margin)


def reason(verdict: Verdict, saved: float, doubt: float, margin: float) -> str:
    """Return why a verdict is what it is, from the 95 % or for a tie the 90 % interval [s]."""
    return {
        "faster": "the whole 95 % interval is above zero",
        "slower": "the whole 95 % interval is below zero",
        "tie": f"the 90 % interval lies within {margin:.1f} s either way, too little to matter",
        "undecided": f"a doubt of {doubt:.1f} s is too large for a saving of {saved:+.1f} s",
    }[verdict]
