"""From a difference and its standard error to a verdict, a reason and what would settle it."""

import math
from dataclasses import dataclass

import numpy as np

from racecalc.decisions.evidence.comparing import LEVEL, Quantiles, foretold, quantiles
from racecalc.decisions.evidence.findings import shown
from racecalc.decisions.evidence.linear_model import Fit
from racecalc.decisions.evidence.settling import chances, fewest
from racecalc.decisions.evidence.spread import Spread
from racecalc.decisions.verdicts import Verdict, word
from racecalc.domain.trial import Measure


@dataclass(frozen=True)
class Judge:
    """What the verdicts of one analysis have in common.

    Parameters
    ----------
    measure : {"cda", "power", "drag"}
        What was measured.
    sd, df : float
        Standard deviation of a single run, and its degrees of freedom.
    df_by_run : float
        Degrees of freedom that one more run of an item and of the baseline bring.
    margin : float or None
        Difference that does not matter.
    level : float
        Chance of one or more false verdicts.
    comparisons : int
        Number of items that can be compared.
    needed : Quantiles
        Standard errors that the verdicts need.
    alone : float
        Half-width in standard errors of the 95 % interval of one item taken alone.
    """

    measure: Measure
    sd: float
    df: float
    df_by_run: float
    margin: float | None
    level: float
    comparisons: int
    needed: Quantiles
    alone: float

    def chance_faster(self, difference: float, error: float) -> float:
        """Chance that the true difference is below zero (t distribution, no other knowledge)."""
        from scipy.special import stdtr

        return float(stdtr(self.df, -difference / error))

    def verdict(self, difference: float, error: float, runs: int) -> tuple[Verdict, str]:
        """Verdict on a difference, and why.

        Parameters
        ----------
        difference, error : float
            Item minus baseline, and its standard error.
        runs : int
            Runs of the item or of the baseline, whichever are fewer.

        Returns
        -------
        verdict, because : str
            The word, and the reason in one sentence.
        """
        if runs < 2:
            return "undecided", "one run shows no spread of its own; repeat item and baseline"
        half = self.needed.decisive * error
        # While the interval alone is wider than the margin, only a spread that is small by luck
        # could prove a tie, and such a tie says next to nothing.
        offered = self.margin if self.margin is not None and half < self.margin else None
        verdict = word(-difference, error, offered, self.needed.decisive, self.needed.tie)
        certain = f"{100 * (1 - self.level):.4g} %"
        either = "" if self.margin is None else f"{shown(self.margin, self.measure)} either way"
        if verdict == "tie":
            sure = ", though surely not zero" if abs(difference) > half else ""
            return verdict, f"two one-sided tests show that it lies within {either}{sure}"
        if verdict != "undecided":
            side = "fast" if verdict == "faster" else "slow"
            return verdict, f"the whole {certain} interval lies on the {side} side"
        why = f"the {certain} interval, {shown(half, self.measure)} either way, holds zero"
        if self.margin is None:
            return verdict, f"{why}, and no margin is known for a tie; state one with --margin"
        if offered is None:
            return verdict, f"{why} and is too wide to prove a tie within {either}"
        return verdict, f"{why}, and a tie within {either} is not proved"

    def further_runs(self, difference: float, factor: float) -> int | None:
        """More runs of an item, and of the baseline, that probably settle it.

        The information of m further pairs, m / (2 sd^2), is added to that at hand, and the
        difference is taken to be as it appears.

        Parameters
        ----------
        difference : float
            Item minus baseline.
        factor : float
            Variance of the difference for a variance of one of a run.

        Returns
        -------
        int or None
            For a chance of 80 %; None where no number of runs up to `MOST_RUNS` will do.
        """

        def likely(more: int) -> float:
            df = self.df + self.df_by_run * more
            needed = foretold(df, self.comparisons, self.level)
            error = self.sd * math.sqrt(1.0 / (1.0 / factor + more / 2.0))
            return chances(difference, error, df, self.margin, needed).settled

        return fewest(likely)


def judge_of(
    fitted: Fit, spread: Spread, measure: Measure, margin: float | None, level: float
) -> Judge | None:
    """Judge of an analysis; None where the scatter is not known or nothing can be compared.

    Parameters
    ----------
    fitted : Fit
        The model.
    spread : Spread
        The scatter that verdicts rest on.
    measure : {"cda", "power", "drag"}
        What was measured.
    margin : float or None
        Difference that does not matter.
    level : float
        Chance of one or more false verdicts.

    Returns
    -------
    Judge or None
        With the quantiles for all items that can be compared.
    """
    from scipy.special import stdtrit

    known = np.isfinite(fitted.difference)
    if spread.sd is None or not np.any(known):
        return None
    inverse = fitted.inverse[np.ix_(known, known)]
    scale = np.sqrt(np.diag(inverse))
    return Judge(
        measure=measure,
        sd=spread.sd,
        df=spread.df,
        # A further session of A-B-B-A brings one degree of freedom where sessions disagree.
        df_by_run=0.5 if spread.origin == "sessions" else 2.0,
        margin=margin,
        level=level,
        comparisons=int(known.sum()),
        needed=quantiles(spread.df, inverse / np.outer(scale, scale), level),
        alone=float(stdtrit(spread.df, 1 - LEVEL / 2)),
    )
