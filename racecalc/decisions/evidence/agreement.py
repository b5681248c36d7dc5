"""Whether two kinds of evidence agree within their doubt."""

import math
from dataclasses import dataclass
from typing import Literal

QUESTIONABLE = 2.0
UNACCEPTABLE = 3.0
"""Zeta scores from which results are questionable and unacceptable; ISO 13528:2022, from
memory."""


@dataclass(frozen=True)
class Agreement:
    """Comparison of two values of one thing.

    Parameters
    ----------
    difference : float
        First less second, in their unit.
    standard_error : float
        Of the difference, the two being independent.
    zeta : float
        Difference over its standard error; twice the E_n number for expanded uncertainties of
        twice the standard ones.
    verdict : {"agree", "questionable", "disagree"}
        Below 2, from 2 and from 3 standard errors.
    words : str
        What that means, in a sentence.
    """

    difference: float
    standard_error: float
    zeta: float
    verdict: Literal["agree", "questionable", "disagree"]
    words: str


def agreement(a: float, se_a: float, b: float, se_b: float) -> Agreement:
    """Compare two independent results of one quantity, such as field and wind tunnel.

    Both must be meant for the same yaw, air and speed: weight a sweep by the yaw of the other
    test first (`racecalc.decisions.evidence.sweep.weighted`).

    Parameters
    ----------
    a, b : float
        The results, in one unit.
    se_a, se_b : float
        Their standard uncertainties.

    Returns
    -------
    Agreement
        The zeta score in words. That two results agree is weak evidence where their doubt is
        large, so the words say which difference would have been noticed.

    Raises
    ------
    ValueError
        If an uncertainty is negative, both are zero, or a value is not finite.

    References
    ----------
    ISO 13528:2022, Statistical methods for use in proficiency testing: zeta scores and E_n
    numbers (from memory).

    Examples
    --------
    >>> agreement(5.2, 0.8, 4.1, 0.6).verdict
    'agree'
    """
    error = math.hypot(se_a, se_b)
    if not (min(se_a, se_b) >= 0 and error > 0 and math.isfinite(a - b) and math.isfinite(error)):
        raise ValueError("two finite values with uncertainties are needed, not both of them zero")
    zeta = (a - b) / error
    seen = f"{QUESTIONABLE * error:.2g}"
    apart = f"they lie {abs(a - b):.2g} apart, {abs(zeta):.1f} standard errors"
    if abs(zeta) < QUESTIONABLE:
        words = f"they agree within their doubt; differences below {seen} would not be noticed"
        return Agreement(a - b, error, zeta, "agree", words)
    if abs(zeta) < UNACCEPTABLE:
        return Agreement(
            a - b, error, zeta, "questionable", f"{apart}: look for a cause before using both"
        )
    return Agreement(
        a - b,
        error,
        zeta,
        "disagree",
        f"{apart}: one of them is wrong, its doubt is too small, or they measured other things;"
        " do not average them",
    )
