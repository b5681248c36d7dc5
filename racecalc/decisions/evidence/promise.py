"""How likely a planned test settles a difference on any day; by quadrature, no random numbers.

In a balanced order the test knows two mean squares, within and between days, whose distributions
are chi-squared; given them the chance of a verdict is normal. It is averaged over both.
"""

import math
from dataclasses import dataclass, replace

import numpy as np
import scipy

from racecalc.arrays import FloatArray
from racecalc.decisions.evidence.chances import VerdictChances, foretold_for_control, mean_squares
from racecalc.decisions.evidence.days import DOUBT_LEVEL, LEAST_ALONE, USUAL_SHARE, combined_df

WITHIN_NODES, BETWEEN_NODES = 60, 200
"""Equally likely places of the two mean squares; our choice, the chance then being within 0.01 of
simulated tests (tests/evidence)."""


Halves = tuple[FloatArray, FloatArray]
"""Half-widths for a verdict and for a tie, at all the places."""


def _where(chosen: FloatArray, these: Halves, others: Halves) -> Halves:
    (decisive, tie), (other, other_tie) = these, others
    return np.where(chosen, decisive, other), np.where(chosen, tie, other_tie)


@dataclass(frozen=True)
class DaysToRide:
    """A balanced test over days; amounts are in standard deviations of one run."""

    items: int
    """With the baseline."""
    days: int
    runs: int
    """Of each item a day; two or more."""
    level: float
    """Chance of one or more false verdicts."""
    experience: float = 0.0
    """Degrees of freedom of what is known of the scatter of a run."""
    stated: float | None = None
    """Standard deviation by which a difference is said to change from day to day."""

    @property
    def own_df(self) -> int:
        """Degrees of freedom within days: a level a day and item and a drift a day are taken."""
        return self.days * (self.items * (self.runs - 1) - 1)

    @property
    def assumed(self) -> float:
        """By how much a difference is taken to change from day to day."""
        return USUAL_SHARE if self.stated is None else self.stated

    def error(self, day_to_day: float) -> float:
        """Standard error of a difference if it changes so much from day to day."""
        return math.sqrt((day_to_day**2 + 2.0 / self.runs) / self.days)

    def chances(
        self, difference: float, day_to_day: float, margin: float | None = None
    ) -> VerdictChances:
        """Chances of verdicts on any day of one item with a true difference."""
        between_df = (self.items - 1) * (self.days - 1)
        within = mean_squares(self.own_df + self.experience, WITHIN_NODES)[:, None]
        between = mean_squares(between_df, BETWEEN_NODES)[None, :]
        whole = (1.0 + 0.5 * self.runs * day_to_day**2) * between
        halves = self._halves(within, whole, between_df)
        return VerdictChances.of(difference, self.error(day_to_day), halves, margin)

    def _halves(self, within: FloatArray, between: FloatArray, between_df: int) -> Halves:
        """Half-widths as `any_day` has them, from the two mean squares."""
        part = 0.5 * self.runs * self.assumed**2
        own = combined_df(self.own_df + self.experience, part / (1.0 + part))
        # A stated change does not grow with the scatter that is found.
        guess = within * (1.0 + part) if self.stated is None else within + part
        variance = (own * guess + between_df * between) / (own + between_df)
        found = self._wide(variance + 0.0 * between, own + between_df)
        if not between_df:
            return found
        doubted = between / guess > scipy.special.fdtri(between_df, own, 1.0 - DOUBT_LEVEL)
        if self.stated is not None:
            usual = replace(self, stated=None)._halves(within, between, between_df)
            too_small = doubted & (self.stated**2 < USUAL_SHARE**2 * within)
            found = _where(too_small, usual, found)
            doubted &= ~too_small
        if between_df < LEAST_ALONE:
            return found
        alone = self._wide(between + 0.0 * within, between_df)
        return _where(doubted & (alone[0] > found[0]), alone, found)

    def _wide(self, variance: FloatArray, df: float) -> Halves:
        needed = foretold_for_control(df, self.items - 1, self.level)
        error = np.sqrt(variance * 2.0 / (self.runs * self.days))
        return needed.decisive * error, needed.tie * error
