"""The answer to a test: of one rider, or of several."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Annotated, Any

import numpy as np
from numpy.typing import NDArray

from racecalc.arrays import FloatArray
from racecalc.decisions.evidence.alike import (
    ONE_STRETCH,
    Stretches,
    by_mounting,
    made_alike,
    moved_by_leeway,
    one_value_a_stretch,
    refuse_unless_alike,
    stretches_of,
    warnings,
)
from racecalc.decisions.evidence.chances import LEVEL, t_point
from racecalc.decisions.evidence.days import (
    USUAL_RATIO,
    AnyDay,
    DayFit,
    RunScatter,
    any_day,
    found_from_day_to_day,
)
from racecalc.decisions.evidence.judging import (
    Asked,
    Drift,
    Errors,
    ItemResult,
    ItemRuns,
    Judge,
    Outlier,
    Repeatability,
    RiderTrial,
    margin_of,
    shown,
    spread_of,
)
from racecalc.decisions.evidence.least_squares import (
    ROUND_OFF,
    Design,
    RunFit,
    design_of,
    fit,
    studentised,
)
from racecalc.decisions.evidence.pooling import Pooled, Shrunken, pool, shrink
from racecalc.decisions.verdicts import NORMAL_95, Verdict, minus, word_by_intervals
from racecalc.domain.trial import SI_UNIT, Measure, Runs
from racecalc.errors import InputError
from racecalc.written import HIDDEN, SPREAD, WHERE_ANY, As, written

# --- What a tester should know about a test besides its numbers ----------------------------------

OUTLIER_LEVEL = 0.05
"""Chance that any run of a clean test is pointed at (Bonferroni over the runs)."""


def outliers_of(runs: Runs, fitted: RunFit) -> tuple[Outlier, ...]:
    """Runs that do not fit the others."""
    sizes = studentised(fitted)
    if not np.any(np.isfinite(sizes)):
        return ()
    limit = t_point(fitted.df - 1, 1 - OUTLIER_LEVEL / (2 * len(sizes)))
    columns = zip(runs.line, runs.item, runs.session, runs.value.tolist(), strict=True)
    rows = zip(columns, fitted.residual.tolist(), sizes.tolist(), strict=True)
    return tuple(Outlier(*run, left, size) for run, left, size in rows if abs(size) > limit)


def drifts_of(runs: Runs, fitted: RunFit, sd: float | None, largest: float) -> tuple[Drift, ...]:
    """Drift of each session that carries it."""
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


def cautions(runs: Runs, design: Design, found: RiderTrial) -> Iterator[str]:
    """What one should know of a test."""
    if not found.items:
        yield "Only one item was ridden, so there is nothing to compare it with."
        return
    yield from _session_notes(design, found)
    yield from _drift_notes(found)
    yield from _baseline_notes(runs, design, largest_of(found.items))
    yield from _outlier_notes(found)
    if len(found.items) > 2:
        yield (
            f"The best of {len(found.items)} items looks better than it is, because luck helped it"
            " to come first; the intervals allow for the number of items, the shrunken estimates"
            " for the luck."
        )


def _session_notes(design: Design, found: RiderTrial) -> Iterator[str]:
    if found.days == 1:
        yield (
            "All runs are of one day, which cannot show what changes from day to day (position,"
            " mounting, road, calibration)."
        )
    without, all_of = int(np.sum(~design.drift)), design.sessions
    if without:
        whose = "the session" if all_of == 1 else f"{without} of {all_of} sessions"
        more = "that needs two runs more than items, as in A-B-B-A."
        yield f"No drift is removed from {whose}: {more}"


def _drift_notes(found: RiderTrial) -> Iterator[str]:
    flagged = [one for one in found.drifts if one.exceeds]
    if flagged:
        worst = max(flagged, key=lambda one: abs(one.change))
        others = f" (as in {len(flagged) - 1} more)" if len(flagged) > 1 else ""
        yield (
            f"Session '{worst.session}' drifts by {shown(worst.change, found.measure, sign=True)}"
            f" from its first to its last run, more than the largest difference found{others}. The"
            " drift is removed as a straight line; what is not straight stays in."
        )


def _baseline_notes(runs: Runs, design: Design, largest: float) -> Iterator[str]:
    """Compare the first and the last baseline run of each session with the largest effect."""
    rows = np.flatnonzero(design.item == 0)
    rows = rows[np.lexsort((design.order[rows], design.session[rows]))]
    starts = np.flatnonzero(np.diff(design.session[rows], prepend=-1))
    ends = np.append(starts[1:], len(rows)) - 1
    if not np.any(ends > starts):
        yield "The baseline is not repeated within a session, so a change of it would not show."
        return
    change = runs.value[rows[ends]] - runs.value[rows[starts]]
    worst = int(np.argmax(np.abs(change)))
    if abs(change[worst]) > largest:
        yield (
            f"In session '{runs.session[rows[starts[worst]]]}' the baseline itself changed by"
            f" {shown(change[worst], runs.measure, sign=True)} from its first to its last run, more"
            " than the largest difference found."
        )


def _outlier_notes(found: RiderTrial) -> Iterator[str]:
    if found.outliers:
        lines = [
            f"line {one.line} ({one.item}, {shown(one.value, found.measure)})"
            for one in found.outliers
        ]
        said = ", ".join(lines[:5])
        more = f" and {len(lines) - 5} more" if len(lines) > 5 else ""
        both = (
            "they stay in, and the result without them is shown too"
            if found.without_outliers
            else "they stay in, as an item would have no run without them"
        )
        yield f"Runs that do not fit the others: {said}{more}; {both}."


def largest_of(items: tuple[ItemResult, ...]) -> float:
    """Largest difference without its sign; infinite where none is known."""
    known = [abs(item.difference) for item in items if item.difference is not None]
    return max(known, default=np.inf)


# --- From the runs of a test on one rider to differences, intervals and verdicts -----------------


def analyse(runs: Runs, baseline: str | None = None, **how: Any) -> RiderTrial:
    """Compare every item of a test with the baseline; `how` as in `Asked`."""
    return analysed(runs, Asked(baseline, **how))


def analysed(runs: Runs, asked: Asked) -> RiderTrial:
    """Compare every item of a test of one rider with the baseline."""
    if len(runs.riders) > 1:
        problem = f"the runs are of {len(runs.riders)} riders"
        raise InputError(runs.source, problem, "analyse them one by one")
    runs = by_mounting(runs)
    names = _baseline_first(runs, asked.baseline)
    design = _design(runs, names)
    margin, _ = margin_of(runs, asked.margin)
    moved = moved_by_leeway(runs, design)
    refuse_unless_alike(runs, names, moved, margin)
    fitted, stretches = fit(design, runs.value), stretches_of(runs, design)
    found = _compared(runs, asked, names, fitted, stretches)
    same = replace(asked, baseline=names[0])
    again = _without(runs, found.outliers, len(names))
    found = replace(found, without_outliers=analysed(again, same) if again else None)
    on_end = None
    if stretches:
        on_end = stretches, analysed(one_value_a_stretch(runs, stretches), same)
    said = f"The baseline is '{names[0]}', the item of the first run, because none is named."
    named = [] if asked.baseline is not None else [said]
    return replace(
        found,
        notes=(*runs.notes, *named, *cautions(runs, design, found)),
        warnings=tuple(warnings(runs, fitted, found, moved, on_end)),
    )


def _compared(
    runs: Runs, asked: Asked, names: list[str], fitted: RunFit, stretches: Stretches | None
) -> RiderTrial:
    """What the runs say, without what one should know of them."""
    fits = DayFit(fitted.design, runs.value)
    spread = spread_of(fits.within, asked.repeatability)
    margin, margin_because = margin_of(runs, asked.margin)
    across, judge = judge_of(fits, spread, asked, runs.measure, margin)
    difference = (across.across if across else fits.at(USUAL_RATIO)).difference
    baseline, *item_runs = _by_item(runs, fitted, difference, names)
    items = tuple(
        _item(judge or spread.because, float(difference[position]), position, own, baseline)
        for position, own in enumerate(item_runs)
    )
    items = _mounted_twice(items, stretches)
    return RiderTrial(
        measure=runs.measure,
        baseline=baseline,
        items=items,
        margin=margin,
        margin_because=margin_because,
        repeatability=spread.sd,
        repeatability_df=spread.df,
        repeatability_because=spread.because,
        days=fits.days,
        day_to_day=across.sd if across else None,
        day_to_day_because=across.because if across else "",
        day_to_day_found=found_from_day_to_day(fits, spread),
        day_to_day_found_df=fits.at(USUAL_RATIO).between_df,
        level=asked.level,
        next_level=asked.next_level,
        drifts=drifts_of(runs, fitted, spread.sd, largest_of(items)),
        outliers=outliers_of(runs, fitted),
        speed=float(np.mean(runs.speed)) if np.all(np.isfinite(runs.speed)) else None,
        any_day=across,
    )


def _design(runs: Runs, names: Sequence[str]) -> Design:
    day = _numbers(runs.day) if runs.day else None
    return design_of(_numbers(runs.item, names), _numbers(runs.session), runs.order, day)


def _mounted_twice(
    items: tuple[ItemResult, ...], stretches: Stretches | None
) -> tuple[ItemResult, ...]:
    """No winner among items that, or whose baseline, may have been mounted only once."""

    def of(number: int, item: ItemResult) -> ItemResult:
        once = stretches and (stretches.single(0) or stretches.single(number))
        if not once or item.difference is None:
            return item
        return replace(
            item,
            verdict="undecided",
            verdict_that_day="undecided",
            because=ONE_STRETCH,
            further_days=None,
        )

    return tuple(of(number, item) for number, item in enumerate(items, 1))


def judge_of(
    fits: DayFit, spread: RunScatter, asked: Asked, measure: Measure, margin: float | None
) -> tuple[AnyDay | None, Judge | None]:
    """What the verdicts rest on; nothing where the scatter is not known or nothing compares."""

    def errors(found: AnyDay) -> Errors:
        return Errors.of(found.covariance, found.df, found.across.known, asked.level)

    def width(found: AnyDay) -> float:
        return errors(found).needed.decisive * math.sqrt(found.variance)

    across = any_day(fits, spread, asked.day_to_day, width)
    if across is None:
        return None, None
    then = None
    if spread.variance:
        of_runs = spread.variance * across.across.of_runs
        then = Errors.of(of_runs, spread.df, across.across.known, asked.level)
    return across, Judge(
        asked=asked,
        measure=measure,
        margin=margin,
        days=fits.days,
        across=across.across,
        any_day=errors(across),
        that_day=then,
    )


def _numbers(column: Sequence[str], names: Sequence[str] | None = None) -> NDArray[np.intp]:
    """Number of each name, in the order given or in that of first appearance."""
    names = list(dict.fromkeys(column)) if names is None else names
    place = {name: number for number, name in enumerate(names)}
    return np.array([place[name] for name in column], np.intp)


def _baseline_first(runs: Runs, baseline: str | None) -> list[str]:
    names = list(runs.items)
    if baseline is None:
        return names
    if baseline not in names:
        problem = f"no run has the item '{baseline}'"
        raise InputError(f"{runs.source}, baseline", problem, f"the items are: {', '.join(names)}")
    return [baseline, *(name for name in names if name != baseline)]


def _by_item(
    runs: Runs, fitted: RunFit, differences: FloatArray, names: list[str]
) -> list[ItemRuns]:
    """Runs of each item, on the conditions of the baseline's runs where it can be compared."""
    item = fitted.design.item
    groups = np.split(np.argsort(item, kind="stable"), np.cumsum(np.bincount(item))[:-1])
    centre = float(np.mean(runs.value[groups[0]]))
    out = []
    for name, rows, difference in zip(names, groups, [0.0, *differences], strict=True):
        known = math.isfinite(difference)
        mean = centre + float(difference) if known else float(np.mean(runs.value[rows]))
        residual = fitted.residual[rows]
        arrays = {"values": runs.value[rows], "adjusted": mean + residual, "residuals": residual}
        columns = {key: tuple(array.tolist()) for key, array in arrays.items()}
        lines = tuple(runs.line[row] for row in rows)
        out.append(ItemRuns(name=name, mean=mean, lines=lines, **columns))
    return out


def _item(
    judge: Judge | str, difference: float, position: int, own: ItemRuns, baseline: ItemRuns
) -> ItemResult:
    """Judge one item; in place of a judge may stand why there is none."""
    if math.isnan(difference):
        apart = "no session, nor a chain of sessions, holds both it and the baseline"
        return ItemResult(**vars(own), because=apart)
    if isinstance(judge, str):
        unknown = f"how far runs scatter is not known: {judge}"
        return ItemResult(**vars(own), difference=difference, because=unknown)
    return judge.item(position, own, baseline)


def _without(runs: Runs, outliers: tuple[Outlier, ...], items: int) -> Runs | None:
    """Return the runs without the outliers; None if there are none or an item is lost."""
    lines = {one.line for one in outliers}
    kept = [row for row, line in enumerate(runs.line) if line not in lines]
    if not lines or len({runs.item[row] for row in kept}) < items:
        return None
    return runs.kept(kept)


# --- The answer to a table of runs ---------------------------------------------------------------


LEAST_TO_SHRINK = 3
"""Items from which on the race counts shrunken estimates; of two they are only shown, as one
difference tells next to nothing of how far items differ; our choice.
"""


@dataclass(frozen=True)
class OverRiders:
    """One item tested on several riders."""

    name: str
    """The item."""
    results: Annotated[Mapping[str, ItemResult], HIDDEN]
    """The item on each rider."""
    runs: int
    """Runs of the item on all riders."""
    mean: float
    """Mean of them, in the unit of the measure."""
    margin: Annotated[float | None, HIDDEN]
    """Difference that does not matter."""
    pooled: Annotated[Pooled, SPREAD]
    """What they say together."""
    verdict: Verdict
    """For a rider who was not tested."""
    because: str
    """Why, in one sentence."""
    difference: float
    """Item minus baseline, the mean over riders; below zero is faster."""
    low: float | None
    high: float | None
    """Its 95 % interval."""
    predicted_low: float | None
    predicted_high: float | None
    """95 % prediction of the difference for an untested rider."""


@dataclass(frozen=True)
class RunLeftOut:
    """A run that the tester leaves out."""

    line: int
    """Line of the file."""
    item: str
    rider: str
    """Of what and of whom."""
    value: float
    """What was measured, in the unit of the measure."""
    reason: str
    """The tester's own words."""


@dataclass(frozen=True, kw_only=True)
class Tested:
    """What every table of runs says; differences are item minus baseline, below zero is faster."""

    source: str
    """File name as the user gave it."""
    measure: Annotated[Measure, HIDDEN]
    """What was measured."""
    left_out: Annotated[tuple[RunLeftOut, ...], WHERE_ANY] = ()
    """Runs that the tester leaves out of all the numbers."""

    @written
    def unit(self) -> str:
        """SI unit of all values."""
        return SI_UNIT[self.measure]


@dataclass(frozen=True, kw_only=True)
class OneRider(Tested):
    """What the runs of one rider say."""

    trial: Annotated[RiderTrial, SPREAD]
    """The test."""
    best_of_many: Annotated[Shrunken | None, WHERE_ANY]
    """The shrunken estimates of the items that can be compared, in their order; None where fewer
    than two can.
    """
    with_all: Annotated["OneRider | SeveralRiders | None", WHERE_ANY] = None
    """The same with the runs that the tester leaves out; None where none is."""

    @property
    def trials(self) -> Mapping[str, RiderTrial]:
        """The test, of a rider without a name."""
        return {"": self.trial}


@dataclass(frozen=True, kw_only=True)
class SeveralRiders(Tested):
    """What the runs of several riders say together, and of each."""

    items: tuple[OverRiders, ...]
    """Items that at least two riders tested, the safest for an untested rider first."""
    trials: Annotated[Mapping[str, RiderTrial], As(riders="")]
    """The test of each rider."""
    best_of_many: Annotated[Shrunken | None, WHERE_ANY]
    """The shrunken estimates of the means over riders, in the order of `items`; None for fewer than
    two, or where the doubt of one is not known.
    """
    with_all: Annotated["SeveralRiders | OneRider | None", WHERE_ANY] = None
    """The same with the runs that the tester leaves out; None where none is."""

    @property
    def first(self) -> RiderTrial:
        """The test of the first rider."""
        return next(iter(self.trials.values()))

    @written
    def repeatability(self) -> float | None:
        """Standard deviation of a single run of the first rider."""
        return self.first.repeatability

    @written
    def margin(self) -> float | None:
        """Difference that does not matter."""
        return self.first.margin


TrialAnswer = OneRider | SeveralRiders


def answer(runs: Runs, baseline: str | None = None, **how: Any) -> TrialAnswer:
    """Analyse a table of runs; `how` as in `Asked`."""
    asked = Asked(baseline, **how)

    def found_in(some: Runs) -> Any:
        what: dict[str, Any] = {"source": some.source, "measure": some.measure}
        if len(some.riders) == 1:
            # With one rider the analysis itself chooses the baseline, and says so.
            trial = analysed(some, asked)
            return OneRider(**what, trial=trial, best_of_many=shrunken_of(trial))
        trials = _several_riders(some, asked)
        items = _over_riders(trials)
        return SeveralRiders(
            **what, items=items, trials=trials, best_of_many=_means_shrunken(items)
        )

    runs = made_alike(runs)
    counted = runs.counted()
    found: TrialAnswer = found_in(counted)
    if counted is runs:
        return found
    left_out = tuple(
        RunLeftOut(runs.line[row], runs.item[row], runs.rider[row], float(runs.value[row]), reason)
        for row, reason in enumerate(runs.excluded)
        if reason
    )
    return replace(found, left_out=left_out, with_all=found_in(runs))


def _several_riders(runs: Runs, asked: Asked) -> dict[str, RiderTrial]:
    chosen = runs.items[0] if asked.baseline is None else asked.baseline
    asked = replace(asked, baseline=chosen)
    own = {rider: _of_rider(runs, rider, chosen) for rider in runs.riders}
    if asked.repeatability is not None:
        return {rider: analysed(rows, asked) for rider, rows in own.items()}
    # Riders were tested in the same way, so the runs of the others tell how runs scatter.
    spreads = {rider: _scatter(rows, chosen) for rider, rows in own.items()}
    return {
        rider: analysed(rows, replace(asked, repeatability=_of_others(spreads, rider)))
        for rider, rows in own.items()
    }


def _scatter(runs: Runs, baseline: str) -> RunScatter:
    """Scatter of the runs of one rider, without those that do not fit."""
    runs = by_mounting(runs)
    names = _baseline_first(runs, baseline)
    fitted = fit(_design(runs, names), runs.value)
    if fitting := _without(runs, outliers_of(runs, fitted), len(names)):
        runs = by_mounting(fitting)
        fitted = fit(_design(runs, _baseline_first(runs, names[0])), runs.value)
    return spread_of(DayFit(fitted.design, runs.value).within, None)


def _of_others(spreads: Mapping[str, RunScatter], rider: str) -> Repeatability | None:
    """Scatter of the other riders' runs."""
    others = [spread for name, spread in spreads.items() if name != rider]
    known = [(one.sd, one.df) for one in others if one.sd]
    df = sum(freedom for _, freedom in known)
    if not df:
        return None
    return Repeatability(math.sqrt(sum(sd**2 * freedom for sd, freedom in known) / df), df)


def _of_rider(runs: Runs, rider: str, baseline: str) -> Runs:
    rows = [row for row, name in enumerate(runs.rider) if name == rider]
    own = runs.kept(rows)
    if baseline in runs.item and baseline not in own.item:
        raise InputError(
            f"{runs.source}, rider {rider}",
            f"there is no run of the baseline '{baseline}'",
            "compare with another item (--baseline), or leave this rider out of the table",
        )
    return own


def _over_riders(trials: Mapping[str, RiderTrial]) -> tuple[OverRiders, ...]:
    names = dict.fromkeys(item.name for trial in trials.values() for item in trial.items)
    margin = next(iter(trials.values())).margin
    found = []
    for name in names:
        results = {
            rider: item
            for rider, trial in trials.items()
            for item in trial.items
            if item.name == name and item.difference is not None
        }
        pooled = pool_results(results, margin)
        if pooled is not None:
            runs = sum(item.runs for item in results.values())
            mean = sum(item.mean * item.runs for item in results.values()) / runs
            word = _for_an_untested_rider(pooled, margin)
            ahead = pooled.prediction
            foretold = (-ahead.high, -ahead.low) if ahead else (None, None)
            differs = (-pooled.saving, minus(pooled.high), minus(pooled.low), *foretold)
            found.append(OverRiders(name, results, runs, mean, margin, pooled, *word, *differs))
    return tuple(sorted(found, key=lambda one: one.pooled.safety, reverse=True))


def pool_results(results: Mapping[str, ItemResult], margin: float | None) -> Pooled | None:
    """Pool one item over riders; None for fewer than two.

    Errors are those of the days ridden, so that what changes from day to day is in the spread over
    riders as it was found, and not taken out of it as it is assumed. Riders whose own runs tell no
    doubt count only where no rider's do; then the spread of the savings is all that is known.
    """
    known = [saving for item in results.values() if (saving := saving_of(item, that_day=True))]
    if len(known) < 2:
        known = [(-(item.difference or 0.0), 0.0) for item in results.values()]
    if len(known) < 2:
        return None
    values, errors = np.array(known).T
    largest = max(abs(item.mean) for item in results.values())
    if not np.any(errors) and np.ptp(values) <= ROUND_OFF * largest:
        # Alike to the last digit: what is left of it is round-off and no spread.
        values = np.full_like(values, values[0])
    return pool(values, errors, margin or 0.0)


def saving_of(item: ItemResult, *, that_day: bool = False) -> tuple[float, float] | None:
    """Saving of an item on any day, or those ridden, and its standard error; None without both."""
    error = item.standard_error_that_day if that_day else item.standard_error
    return (-item.difference, error) if item.difference is not None and error else None


def _for_an_untested_rider(pooled: Pooled, margin: float | None) -> tuple[Verdict, str]:
    ahead = pooled.prediction
    if ahead is None:
        return "undecided", "how much riders differ is not known"
    whole = (ahead.low, ahead.high)
    found = word_by_intervals(whole, whole, margin or None)
    return found, FORETOLD[found]


FORETOLD: dict[Verdict, str] = {
    "tie": "the whole 95 % prediction interval lies within the margin",
    "faster": "the whole 95 % prediction interval is on the faster side",
    "slower": "the whole 95 % prediction interval is on the slower side",
    "undecided": "the 95 % prediction interval includes both gain and loss",
}
"""Why the word for an untested rider is what it is."""


def comparable(trial: RiderTrial) -> list[ItemResult]:
    """The items whose saving and doubt the runs tell."""
    return [item for item in trial.items if saving_of(item)]


def shrunken_of(trial: RiderTrial) -> Shrunken | None:
    """The shrunken estimates of the items of one rider, with the few runs behind their errors."""
    items = comparable(trial)
    if len(items) < 2 or trial.any_day is None:
        return None
    savings, _ = np.array([saving_of(item) for item in items]).T
    found = shrink(savings, trial.any_day.of_known)
    return found.wider(t_point(items[0].df, 1 - LEVEL / 2) / NORMAL_95)


def _means_shrunken(items: Sequence[OverRiders]) -> Shrunken | None:
    """The same of means over riders, whose errors count as independent: that draws more."""
    errors = [one.pooled.standard_error or 0.0 for one in items]
    if len(items) < 2 or not all(errors):
        return None
    return shrink(np.array([one.pooled.saving for one in items]), np.diag(np.square(errors)))
