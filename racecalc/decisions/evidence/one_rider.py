"""From the runs of a test on one rider to differences, intervals and verdicts."""

import math
from dataclasses import fields
from typing import Any

import numpy as np

from racecalc.decisions.evidence.cautions import cautions, drifts_of, largest_of, outliers_of
from racecalc.decisions.evidence.comparing import level_per_look
from racecalc.decisions.evidence.design import design_of
from racecalc.decisions.evidence.findings import ItemResult, Measured, Outlier, Trial
from racecalc.decisions.evidence.judging import Judge, judge_of
from racecalc.decisions.evidence.linear_model import Fit, fit
from racecalc.decisions.evidence.margins import margin_of
from racecalc.decisions.evidence.spread import Repeatability, spread_of
from racecalc.decisions.verdicts import interval
from racecalc.domain.trial import Runs
from racecalc.errors import InputError


def analyse(
    runs: Runs,
    baseline: str | None = None,
    margin: float | None = None,
    repeatability: Repeatability | None = None,
    looks: int = 1,
) -> Trial:
    """Compare every item of a test with the baseline.

    Parameters
    ----------
    runs : Runs
        Runs of one rider.
    baseline : str, optional
        Item to compare with; the item of the first run unless given.
    margin : float, optional
        Difference that does not matter, in the unit of the measure; 1 W at the speed of the
        test where speed and density are known, otherwise none, and then no tie is offered.
    repeatability : Repeatability, optional
        What is known about the scatter from earlier tests.
    looks : int
        How often this test is judged in all while it grows, the last time included.

    Returns
    -------
    Trial
        Differences in the unit of the measure; less is faster.

    Raises
    ------
    InputError
        If there are several riders, no such baseline, or the margin or looks will not do.
    """
    if len(runs.riders) > 1:
        raise InputError(
            runs.source, f"the runs are of {len(runs.riders)} riders", "analyse them one by one"
        )
    names = _baseline_first(runs, baseline)
    chosen_margin, margin_because = margin_of(runs, margin)
    number = {name: position for position, name in enumerate(names)}
    session = {name: position for position, name in enumerate(dict.fromkeys(runs.session))}
    design = design_of(
        np.array([number[name] for name in runs.item], np.intp),
        np.array([session[name] for name in runs.session], np.intp),
        runs.order,
    )
    fitted = fit(design, runs.value)
    spread = spread_of(fitted, runs.value, repeatability)
    level = level_per_look(looks)
    judge = judge_of(fitted, spread, runs.measure, chosen_margin, level)
    baseline_runs, *item_runs = _by_item(runs, fitted, names)
    items = tuple(
        _item(judge or spread.because, fitted, position, own, baseline_runs)
        for position, own in enumerate(item_runs)
    )
    drifts = drifts_of(runs, fitted, spread.sd, largest_of(items))
    outliers = outliers_of(runs, fitted)
    again = _without(runs, outliers, len(names))
    said = (f"The baseline is '{names[0]}', the item of the first run, because none is named.",) * (
        baseline is None
    )
    return Trial(
        source=runs.source,
        measure=runs.measure,
        baseline=baseline_runs,
        items=items,
        margin=chosen_margin,
        margin_because=margin_because,
        repeatability=spread.sd,
        repeatability_df=spread.df,
        repeatability_because=spread.because,
        level=level,
        drifts=drifts,
        outliers=outliers,
        without_outliers=analyse(again, names[0], margin, repeatability, looks) if again else None,
        notes=runs.notes
        + said
        + cautions(runs, design, items, drifts, outliers, repeated=again is not None),
    )


def _baseline_first(runs: Runs, baseline: str | None) -> list[str]:
    names = list(runs.items)
    if baseline is None:
        return names
    if baseline not in names:
        raise InputError(
            f"{runs.source}, baseline",
            f"no run has the item '{baseline}'",
            f"the items are: {', '.join(names)}",
        )
    return [baseline, *(name for name in names if name != baseline)]


def _by_item(runs: Runs, fitted: Fit, names: list[str]) -> list[Measured]:
    """Runs of each item, on the conditions of the baseline's runs where it can be compared."""
    item = fitted.design.item
    groups = np.split(np.argsort(item, kind="stable"), np.cumsum(np.bincount(item))[:-1])
    centre = float(np.mean(runs.value[groups[0]]))
    out = []
    for name, rows, difference in zip(names, groups, [0.0, *fitted.difference], strict=True):
        known = math.isfinite(difference)
        mean = centre + float(difference) if known else float(np.mean(runs.value[rows]))
        residual = fitted.residual[rows]
        out.append(
            Measured(
                name=name,
                mean=mean,
                values=tuple(runs.value[rows].tolist()),
                adjusted=tuple((mean + residual).tolist()),
                residuals=tuple(residual.tolist()),
                lines=tuple(runs.line[row] for row in rows),
            )
        )
    return out


def _item(
    judge: Judge | str, fitted: Fit, position: int, own: Measured, baseline: Measured
) -> ItemResult:
    """Judge one item; in place of a judge may stand why there is none."""
    described = {field.name: getattr(own, field.name) for field in fields(own)}
    difference = float(fitted.difference[position])
    if math.isnan(difference):
        apart = "no session, nor a chain of sessions, holds both it and the baseline"
        return ItemResult(**described, **_unknown(None, apart))
    if isinstance(judge, str):
        unknown = f"how far runs scatter is not known: {judge}"
        return ItemResult(**described, **_unknown(difference, unknown))
    factor = float(fitted.inverse[position, position])
    error = judge.sd * math.sqrt(factor)
    verdict, because = judge.verdict(difference, error, min(own.runs, baseline.runs))
    low, high = interval(difference, error, judge.needed.decisive)
    low_alone, high_alone = interval(difference, error, judge.alone)
    return ItemResult(
        **described,
        difference=difference,
        standard_error=error,
        df=judge.df,
        low=low,
        high=high,
        low_alone=low_alone,
        high_alone=high_alone,
        chance_faster=judge.chance_faster(difference, error),
        verdict=verdict,
        because=because,
        further_runs=judge.further_runs(difference, factor) if verdict == "undecided" else None,
    )


def _unknown(difference: float | None, because: str) -> dict[str, Any]:
    """Return what an item says without a standard error."""
    nothing = ("standard_error", "low", "high", "low_alone", "high_alone", "chance_faster")
    return {
        **dict.fromkeys((*nothing, "further_runs")),
        "difference": difference,
        "df": 0.0,
        "verdict": "undecided",
        "because": because,
    }


def _without(runs: Runs, outliers: tuple[Outlier, ...], items: int) -> Runs | None:
    """Return the runs without the outliers; None if there are none or an item is lost."""
    lines = {one.line for one in outliers}
    kept = [row for row, line in enumerate(runs.line) if line not in lines]
    if not lines or len({runs.item[row] for row in kept}) < items:
        return None
    return runs.kept(kept)
