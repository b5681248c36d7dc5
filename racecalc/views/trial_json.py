"""``racecalc trial`` as JSON: values in the SI unit of the measure, which ``unit`` names."""

from dataclasses import asdict
from typing import Any

from racecalc.decisions.evidence.answers import OverRiders, TrialAnswer
from racecalc.decisions.evidence.findings import ItemResult, Trial
from racecalc.domain.trial import SI_UNIT


def trial_json(found: TrialAnswer) -> dict[str, Any]:
    """Answer of ``racecalc trial``; ``difference`` is item minus baseline, below zero is faster.

    With several riders ``items`` holds the mean over riders, and ``riders`` each rider's own.
    """
    answer: dict[str, Any] = {"source": found.source, "unit": SI_UNIT[found.measure]}
    if found.with_all:
        answer["left_out"] = [asdict(one) for one in found.left_out]
        answer["with_all"] = trial_json(found.with_all)
    if found.only:
        return {**answer, **_trial_json(found.only), **_shrunken_json(found)}
    first = next(iter(found.trials.values()))
    return {
        **answer,
        "items": [_over_riders_json(one) for one in found.over_riders],
        "repeatability": first.repeatability,
        "margin": first.margin,
        "riders": {rider: _trial_json(trial) for rider, trial in found.trials.items()},
    }


def _trial_json(trial: Trial) -> dict[str, Any]:
    return {
        "baseline": {
            "name": trial.baseline.name,
            "runs": trial.baseline.runs,
            "mean": trial.baseline.mean,
        },
        "items": [_item_json(item) for item in trial.items],
        "repeatability": trial.repeatability,
        "repeatability_df": trial.repeatability_df,
        "repeatability_because": trial.repeatability_because,
        "margin": trial.margin,
        "margin_because": trial.margin_because,
        "confidence": 1.0 - trial.level,
        "drifts": [asdict(drift) for drift in trial.drifts],
        "outliers": [asdict(outlier) for outlier in trial.outliers],
        "without_outliers": [_item_json(item) for item in trial.without_outliers.items]
        if trial.without_outliers
        else None,
        "notes": list(trial.notes),
    }


def _item_json(item: ItemResult) -> dict[str, Any]:
    return {**asdict(item), "runs": item.runs}


def _shrunken_json(found: TrialAnswer) -> dict[str, Any]:
    if found.shrunken is None:
        return {}
    return {
        "best_of_many": {
            "saved_as_measured": found.shrunken.raw.tolist(),
            "saved_as_believed": found.shrunken.shrunken.tolist(),
            "doubt": found.shrunken.doubt.tolist(),
            "looked_best": found.shrunken.looked_best,
            "best": found.shrunken.best,
            "luck_of_the_best": found.shrunken.luck,
            "common": found.shrunken.common,
            "because": found.shrunken.why,
        }
    }


def _over_riders_json(over: OverRiders) -> dict[str, Any]:
    pooled, ahead = over.pooled, over.pooled.prediction
    return {
        "name": over.name,
        "runs": over.runs,
        "mean": over.mean,
        "difference": -pooled.saving,
        "low": None if pooled.high is None else -pooled.high,
        "high": None if pooled.low is None else -pooled.low,
        "verdict": over.verdict,
        "because": over.because,
        "riders": pooled.riders,
        "spread_between_riders": pooled.tau,
        "spread_low": pooled.tau_low,
        "spread_high": pooled.tau_high,
        "share_of_scatter_between_riders": pooled.i_squared,
        "worst_saving": pooled.worst,
        "predicted_low": None if ahead is None else -ahead.high,
        "predicted_high": None if ahead is None else -ahead.low,
        "chance_faster": None if ahead is None else ahead.chance_faster,
        "chance_of_loss": None if ahead is None else ahead.chance_of_loss,
        "character": pooled.character,
        "character_because": pooled.because,
        "known": list(pooled.known),
    }
