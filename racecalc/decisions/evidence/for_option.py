"""From the test behind an option to the saving that the race uses."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TypeVar

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.evidence.alike import made_alike
from racecalc.decisions.evidence.days import COUNTED_DAYS, USUAL_SHARE
from racecalc.decisions.evidence.judging import ItemResult, RiderTrial, per_watt, shown
from racecalc.decisions.evidence.pooling import Shrunken, blend
from racecalc.decisions.evidence.sweep import Saved, SweepAnswer, answer_sweep
from racecalc.decisions.evidence.trial import (
    LEAST_TO_SHRINK,
    OneRider,
    OverRiders,
    SeveralRiders,
    TrialAnswer,
    answer,
    comparable,
    pool_results,
    shrunken_of,
)
from racecalc.decisions.measuring.balance import Setup, setup_of
from racecalc.decisions.riding import Ridden, once
from racecalc.decisions.verdicts import NORMAL_95
from racecalc.domain.option import Option, Saving, SavingForm
from racecalc.domain.trial import Measure, Runs
from racecalc.errors import InputError

T = TypeVar("T", ItemResult, Saved)

swept = once(answer_sweep)


@dataclass(frozen=True)
class Evidence:
    """What a test says about an option."""

    measure: Measure
    saving: float
    doubt: float | None
    """Saving and standard uncertainty in the unit of the measure; no doubt where the test proves
    nothing for the rider of the race.
    """
    words: str
    """Where they come from, in a sentence."""
    measured: float | None = None
    """What was measured, where `saving` is the shrunken estimate of it."""
    unproved: str = ""
    """Why there is no doubt."""


def evidence_for(option: Option, base: Ridden) -> Evidence | None:
    """What the test named by an option says about it; None where it names none."""
    if option.trial is None:
        return None
    try:
        return _found(option, option.trial, base)
    except InputError as error:
        raise error.at(f"option {option.name}") from error


@lru_cache(maxsize=64)
def analysed(
    runs: Runs, setup: Setup | None, baseline: str | None, day_to_day: float | None
) -> TrialAnswer:
    """Analyse a test once for all the options, sets and rounds that rest on it."""
    alike = made_alike(runs, setup)
    if day_to_day is not None and alike.measure != runs.measure:
        day_to_day *= per_watt(alike) or 0.0
    return answer(alike, baseline, day_to_day=day_to_day)


def _setup(option: Option, base: Ridden) -> Setup | None:
    """The bike of the race for a test in watts of what acts on the air, as they were counted."""
    if option.acts_on != "air":
        return None
    lost = base.race.bike.drivetrain_loss if option.test_power_at == "cranks" else 0.0
    return setup_of(base.race, loss=lost)


def _analysed(option: Option, runs: Runs, base: Ridden) -> TrialAnswer:
    baseline = option.trial_baseline or None
    return analysed(runs, _setup(option, base), baseline, option.trial_day_to_day)


def test_behind(option: Option, base: Ridden) -> TrialAnswer | SweepAnswer | None:
    """All that the test named by an option says; None where it names none."""
    if option.trial is None:
        return None
    if option.trial.is_sweep:
        return swept(option.trial, option.trial_baseline or None, base, None)
    return _analysed(option, option.trial, base)


def _found(option: Option, runs: Runs, base: Ridden) -> Evidence:
    item = option.trial_item or option.name
    if option.trial_rider and option.trial_rider not in runs.riders:
        known = ", ".join(runs.riders) if any(runs.riders) else "none, as it has no rider column"
        problem = f"has no rider '{option.trial_rider}'"
        raise InputError(runs.source, problem, f"its riders are {known}")
    rider = rider_of(option, base)
    if runs.is_sweep:
        by_yaw = _by_yaw(runs, item, option.trial_baseline or None, base)
        return _of_whom(by_yaw, runs.riders[0], rider)
    found = _analysed(option, runs, base)
    if isinstance(found, SeveralRiders):
        over = next((one for one in found.items if one.name == item), None)
        if over is not None:
            own = rider in over.results
            return _blended(found, over, rider) if own else _foretold(found, over)
    ridden = [(name, one) for name, trial in found.trials.items() for one in trial.items]
    ridden.sort(key=lambda row: row[0] != rider)
    result = _named([one for _, one in ridden], item, found.source)
    name = next(name for name, one in ridden if one is result)
    only = runs.counted().riders[0] if isinstance(found, OneRider) else name
    return _of_whom(_own(found, found.trials[name], result), only, rider)


def rider_of(option: Option, base: Ridden) -> str:
    """The rider of the race as the table of an option writes the name; empty for none."""
    name = option.trial_rider or base.race.rider.name
    riders = option.trial.riders if option.trial else ()
    return next((one for one in riders if one.casefold() == name.casefold()), name)


ANOTHER = "the runs are of one other rider, which tells nothing of you; two riders or more would"
NOBODY = "the runs are of one rider with a name; if that is you, state it as rider.name"


def _of_whom(found: Evidence, ridden_by: str, rider: str) -> Evidence:
    """What the runs of one rider say for the rider of the race."""
    if ridden_by in ("", rider):
        return found
    return replace(found, doubt=None, unproved=ANOTHER if rider else NOBODY)


def _named(results: Sequence[T], item: str, source: str) -> T:
    """The result of an item."""
    for result in results:
        if result.name == item:
            return result
    known = ", ".join(dict.fromkeys(result.name for result in results)) or "none"
    problem = f"no run has the item '{item}' next to the baseline"
    raise InputError(source, problem, f"name one with trial_item; known: {known}")


def _own(found: TrialAnswer, trial: RiderTrial, own: ItemResult) -> Evidence:
    saving, doubt = _saving_and_doubt(found, own)
    said = f"{shown(saving, found.measure, sign=True)} from {own.runs} runs of {found.source}"
    lines = sorted(one.line for one in trial.outliers)
    odd = f", though line {', '.join(map(str, lines))} does not fit" if lines else ""
    odd += "; racecalc trial warns of it" if trial.warnings else ""
    best = _drawn_together(found, trial)
    if best is None:
        return Evidence(found.measure, saving, doubt, said + odd)
    at = comparable(trial).index(own)
    drawn = _drawn(found, best, at, said + odd, float(best.doubt[at]))
    return replace(drawn, measured=saving)


def _drawn(found: TrialAnswer, best: Shrunken, at: int, said: str, doubt: float) -> Evidence:
    """A saving drawn towards those of the other items."""
    left = float(best.shrunken[at])
    words = f"{shown(left, found.measure, sign=True)}, shrunken with {len(best.raw)} items: {said}"
    return Evidence(found.measure, left, doubt, words)


def _drawn_together(found: TrialAnswer, trial: RiderTrial) -> Shrunken | None:
    """The shrunken estimates that count for the race; None for too few items."""
    best = found.best_of_many if isinstance(found, OneRider) else shrunken_of(trial)
    return best if best is not None and len(best.raw) >= LEAST_TO_SHRINK else None


def _saving_and_doubt(found: TrialAnswer, own: ItemResult) -> tuple[float, float]:
    """Saving, and the doubt whose normal 95 % interval is that on any day, of this item alone."""
    low = own.low_alone
    if own.difference is None or low is None or not own.standard_error:
        problem = f"the runs of '{own.name}' tell no doubt: {own.because}"
        raise InputError(found.source, problem, "add runs")
    return -own.difference, (own.difference - low) / NORMAL_95


def _blended(found: SeveralRiders, over: OverRiders, rider: str) -> Evidence:
    """The rider's own result, shrunk towards what the other riders foretell."""
    others = {name: result for name, result in over.results.items() if name != rider}
    own = _own(found, found.trials[rider], over.results[rider])
    pooled = pool_results(others, over.margin)
    if pooled is None or pooled.prediction is None or own.doubt is None:
        return own
    saving, doubt = blend(own.saving, own.doubt, pooled)
    words = (
        f"{shown(own.saving, found.measure, sign=True)} on {rider}, shrunk towards"
        f" {len(others)} other riders of {found.source}"
    )
    measured = own.saving if own.measured is None else own.measured
    return Evidence(found.measure, saving, doubt, words, measured)


def _foretold(found: SeveralRiders, over: OverRiders) -> Evidence:
    pooled = over.pooled
    if pooled.prediction is None:
        problem = "says nothing about riders who were not tested"
        raise InputError(found.source, problem, "test more riders")
    doubt = 0.5 * (pooled.prediction.high - pooled.prediction.low) / NORMAL_95
    said = (
        f"{shown(pooled.saving, found.measure, sign=True)}, predicted from {pooled.riders} riders"
        f" of {found.source}"
    )
    best = found.best_of_many
    if best is None or len(best.raw) < LEAST_TO_SHRINK:
        return Evidence(found.measure, pooled.saving, doubt, said)
    drawn = _drawn(found, best, found.items.index(over), said, doubt)
    return replace(drawn, measured=pooled.saving)


def _by_yaw(runs: Runs, item: str, baseline: str | None, base: Ridden) -> Evidence:
    saved = _named(swept(runs, baseline, base, None).saved, item, runs.source)
    if saved.doubt is None:
        raise InputError(
            runs.source,
            f"the sweep of '{item}' tells no doubt, as no yaw was repeated or all repeats agree"
            " to the last digit",
            "repeat some yaws, and give more digits",
        )
    words = f"{shown(saved.saving, 'cda', sign=True)} by the yaw of this race, from {runs.source}"
    return Evidence("cda", saved.saving, saved.doubt, words)


@once
def proved(option: Option, base: Ridden) -> Option:
    """Return the option with the saving and doubt of the test that it names.

    The doubt is a standard uncertainty whose normal 95 % interval is that of the trial for any day,
    which knows its few runs and days (Student's t). It is that of this difference alone, so
    `trial`, which answers for all items together, may call undecided what is faster here. From
    `LEAST_TO_SHRINK` items on both are shrunken, for the best of many looks better than it is.
    """
    evidence = evidence_for(option, base)
    if evidence is None or option.trial is None:
        return option
    runs, measure, density = option.trial, evidence.measure, _mean(option.trial.density)

    def as_saving(amount: float | None, words: str) -> Saving | None:
        return None if amount is None else _saving(runs, measure, amount, words)

    doubt = "" if evidence.doubt is None else shown(evidence.doubt, measure)
    return replace(
        option,
        saves=as_saving(evidence.saving, evidence.words),
        doubt=as_saving(evidence.doubt, f"{doubt} by the same test"),
        measured=as_saving(evidence.measured, evidence.words),
        unproved=evidence.unproved,
        test_density=density or option.test_density,
        test_density_given=option.test_density_given or bool(density),
    )


# --- What options measured in one test have in common --------------------------------------------


def correlation(one: Option, other: Option, base: Ridden) -> float:
    """How far the savings of two options of one test err alike, from -1 to 1.

    By the fit of one rider; else by the doubt of their difference in the same test. Where that
    does not compare them they count as independent, the careful side for a difference.
    """
    behind = test_behind(one, base)
    if isinstance(behind, OneRider):
        names = [item.name for item in comparable(behind.trial)]
        best, across = _drawn_together(behind, behind.trial), behind.trial.any_day
        both = [item.trial_item or item.name for item in (one, other)]
        if across is None or not {*both} <= {*names}:
            return 0.0
        errors = best.covariance if best else across.of_known
        row, column = map(names.index, both)
        return float(errors[row, column] / np.sqrt(errors[row, row] * errors[column, column]))
    three = evidence_for(one, base), evidence_for(other, base), _between(one, other, base)
    first, second, between = (found and found.doubt for found in three)
    if not (first and second and between):
        return 0.0
    return 0.5 * (first**2 + second**2 - between**2) / (first * second)


def _between(one: Option, other: Option, base: Ridden) -> Evidence | None:
    """What a test says about an option against another one; None where it does not tell it."""
    try:
        return evidence_for(replace(one, trial_baseline=other.trial_item or other.name), base)
    except InputError:
        return None


@dataclass(frozen=True)
class FurtherDay:
    """How far one more day of a test would be off in one difference."""

    run: Saving
    """Scatter of one run."""
    from_day_to_day: float
    """Standard deviation by which a difference changes from day to day, in those of one run."""
    df: float
    day_df: float
    """Degrees of freedom of the scatter, and of the change from day to day; infinite where the
    former counts for both.
    """


def further_day_of(option: Option, base: Ridden) -> FurtherDay | None:
    """What the test that an option names says of one more day; None where none tells it."""
    if option.trial is None or option.trial.is_sweep:
        return None
    found = _analysed(option, option.trial, base)
    if isinstance(found, OneRider):
        across = found.trial.any_day
        if across is None:
            return None
        # The days ridden have corrected both, and one more brings a degree of freedom.
        scatter, change = np.sqrt(across.variance), np.sqrt(2.0 * across.across.ratio)
        return FurtherDay(_one_run(option.trial, found, scatter), change, across.df + 1.0, np.inf)
    known = [trial for trial in found.trials.values() if trial.repeatability]
    if not known:
        return None
    scatter = np.sqrt(np.mean([(trial.repeatability or 0.0) ** 2 for trial in known]))
    stated = known[0].day_to_day if option.trial_day_to_day else None
    change, df = USUAL_SHARE, max(trial.repeatability_df for trial in known)
    if stated is not None:
        change = stated / scatter
    return FurtherDay(_one_run(option.trial, found, scatter), change, df, COUNTED_DAYS)


def _one_run(runs: Runs, found: TrialAnswer, scatter: float) -> Saving:
    words = f"{shown(scatter, found.measure)} from the runs of {found.source}"
    return _saving(runs, found.measure, float(scatter), words)


def _saving(runs: Runs, measure: Measure, amount: float, words: str) -> Saving:
    """An amount in the unit of a measure as a saving at the mean speed of the runs."""
    form = FORMS[measure]
    return Saving(form, amount, 0.0 if form == "area" else _mean(runs.speed), words)


FORMS: dict[Measure, SavingForm] = {"cda": "area", "power": "power at speed", "drag": "force"}
"""Form in which a test of each measure states a saving."""


def _mean(column: FloatArray) -> float:
    """Mean of speed or density of a test; 0 where one is not stated throughout."""
    mean = float(np.mean(column))
    return mean if np.isfinite(mean) else 0.0
