"""What a tester should know about a test besides its numbers."""

import numpy as np

from racecalc.decisions.evidence.design import Design
from racecalc.decisions.evidence.findings import Drift, ItemResult, Outlier, shown
from racecalc.decisions.evidence.linear_model import Fit, studentised
from racecalc.domain.trial import Runs

OUTLIER_LEVEL = 0.05
"""Chance that any run of a clean test is pointed at (Bonferroni over the runs)."""


def outliers_of(runs: Runs, fitted: Fit) -> tuple[Outlier, ...]:
    """Runs that do not fit the others.

    Parameters
    ----------
    runs : Runs
        The test.
    fitted : Fit
        Its model.

    Returns
    -------
    tuple of Outlier
        Those whose externally studentised residual is beyond the t quantile at 5 % over the
        number of runs (Bonferroni; Cook & Weisberg 1982, from memory).
    """
    from scipy.special import stdtrit

    sizes = studentised(fitted)
    if not np.any(np.isfinite(sizes)):
        return ()
    limit = stdtrit(fitted.df - 1, 1 - OUTLIER_LEVEL / (2 * len(sizes)))
    return tuple(
        Outlier(
            line=runs.line[row],
            item=runs.item[row],
            session=runs.session[row],
            value=float(runs.value[row]),
            residual=float(fitted.residual[row]),
            studentised=float(sizes[row]),
        )
        for row in np.flatnonzero(np.abs(np.nan_to_num(sizes)) > limit)
    )


def drifts_of(runs: Runs, fitted: Fit, sd: float | None, largest: float) -> tuple[Drift, ...]:
    """Drift of each session that carries it.

    Parameters
    ----------
    runs : Runs
        The test.
    fitted : Fit
        Its model.
    sd : float or None
        Standard deviation of a run.
    largest : float
        Largest difference found, without its sign.

    Returns
    -------
    tuple of Drift
        In the order in which the sessions first appear.
    """
    design, out = fitted.design, []
    names = list(dict.fromkeys(runs.session))
    first, last = np.full(design.sessions, np.inf), np.full(design.sessions, -np.inf)
    np.minimum.at(first, design.session, design.order)
    np.maximum.at(last, design.session, design.order)
    for number in np.flatnonzero(design.drift):
        slope = float(fitted.slope[number])
        change = slope * float(last[number] - first[number])
        error = None if sd is None else sd * float(fitted.slope_factor[number])
        out.append(Drift(names[number], slope, error, change, abs(change) > largest))
    return tuple(out)


def _drift_notes(runs: Runs, drifts: tuple[Drift, ...]) -> list[str]:
    flagged = [one for one in drifts if one.exceeds]
    if not flagged:
        return []
    worst = max(flagged, key=lambda one: abs(one.change))
    others = f" (so it does in {len(flagged) - 1} more)" if len(flagged) > 1 else ""
    return [
        f"Session '{worst.session}' drifts by {shown(worst.change, runs.measure, sign=True)} from"
        f" its first to its last run, more than the largest difference found{others}. The drift"
        " is taken out as a straight line; a bent one stays in."
    ]


def _session_notes(design: Design) -> list[str]:
    notes = []
    if design.sessions == 1:
        notes.append(
            "All runs are of one session, so what changes from day to day (position, mounting,"
            " road, calibration) is not in the intervals."
        )
    without = int(np.sum(~design.drift))
    if without:
        whose = (
            "the session" if design.sessions == 1 else f"{without} of {design.sessions} sessions"
        )
        notes.append(
            f"No drift is taken out of {whose}: that needs two runs more than items, as in A-B-B-A."
        )
    return notes


def _baseline_notes(runs: Runs, design: Design, largest: float) -> list[str]:
    """Compare the first and the last baseline run of each session with the largest effect."""
    rows = np.flatnonzero(design.item == 0)
    rows = rows[np.lexsort((design.order[rows], design.session[rows]))]
    starts = np.flatnonzero(np.diff(design.session[rows], prepend=-1))
    ends = np.append(starts[1:], len(rows)) - 1
    if not np.any(ends > starts):
        return ["The baseline is not repeated within a session, so nothing shows a change of it."]
    change = runs.value[rows[ends]] - runs.value[rows[starts]]
    worst = int(np.argmax(np.abs(change)))
    if not abs(change[worst]) > largest:
        return []
    return [
        f"In session '{runs.session[rows[starts[worst]]]}' the baseline itself changed by"
        f" {shown(change[worst], runs.measure, sign=True)} from its first to its last run, more"
        " than the largest difference found."
    ]


def _outlier_notes(runs: Runs, outliers: tuple[Outlier, ...], *, repeated: bool) -> list[str]:
    if not outliers:
        return []
    said = ", ".join(
        f"line {one.line} ({one.item}, {shown(one.value, runs.measure)})" for one in outliers[:5]
    )
    more = f" and {len(outliers) - 5} more" if len(outliers) > 5 else ""
    both = (
        "they stay in; the answer without them stands beside"
        if repeated
        else "they stay in, since an item would have no run left without them"
    )
    return [f"Runs that do not fit the others: {said}{more}; {both}."]


def _chosen_note(items: tuple[ItemResult, ...]) -> list[str]:
    if len(items) < 3:
        return []
    return [
        f"The best of {len(items)} items looks better than it is, because the one with the"
        " luckiest runs comes first; the intervals allow for the number of items, the"
        " differences do not."
    ]


def cautions(
    runs: Runs,
    design: Design,
    items: tuple[ItemResult, ...],
    drifts: tuple[Drift, ...],
    outliers: tuple[Outlier, ...],
    *,
    repeated: bool,
) -> tuple[str, ...]:
    """Notes below an analysis.

    Parameters
    ----------
    runs : Runs
        The test.
    design : Design
        Its design.
    items, drifts, outliers
        What was found.
    repeated : bool
        Whether the analysis was repeated without the outliers.

    Returns
    -------
    tuple of str
        Sentences.
    """
    if not items:
        return ("Only one item was ridden, so there is nothing to compare it with.",)
    return (
        *_session_notes(design),
        *_drift_notes(runs, drifts),
        *_baseline_notes(runs, design, largest_of(items)),
        *_outlier_notes(runs, outliers, repeated=repeated),
        *_chosen_note(items),
    )


def largest_of(items: tuple[ItemResult, ...]) -> float:
    """Largest difference without its sign; infinite where none is known."""
    known = [abs(item.difference) for item in items if item.difference is not None]
    return max(known, default=np.inf)
