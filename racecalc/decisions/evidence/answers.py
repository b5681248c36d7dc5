"""The answer to a table of runs: rider by rider, over riders, and the best of many."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Annotated, ClassVar

import numpy as np

from racecalc.decisions.evidence.findings import ItemResult, Trial
from racecalc.decisions.evidence.one_rider import analyse
from racecalc.decisions.evidence.pooling import Pooled, pool, safest_first
from racecalc.decisions.evidence.shrinkage import Shrunken, shrink
from racecalc.decisions.evidence.spread import Repeatability
from racecalc.decisions.verdicts import Verdict, word_by_intervals
from racecalc.domain.trial import Measure, Runs
from racecalc.errors import InputError
from racecalc.written import HIDDEN, As

OVER_RIDERS = As(
    riders="riders",
    spread_between_riders="tau",
    spread_low="tau_low",
    spread_high="tau_high",
    share_of_scatter_between_riders="i_squared",
    worst_saving="worst",
    chance_faster="prediction.chance_faster",
    chance_of_loss="prediction.chance_of_loss",
    character="character",
    character_because="because",
    known="known",
)

LEAST_TO_SHRINK = 3
"""Items from which their own spread tells something about the best of them; our choice."""


@dataclass(frozen=True)
class OverRiders:
    """One item tested on several riders.

    Parameters
    ----------
    name : str
        The item.
    results : Mapping of str to ItemResult
        The item on each rider.
    runs : int
        Runs of the item on all riders.
    mean : float
        Mean of them, in the unit of the measure.
    margin : float or None
        Difference that does not matter.
    pooled : Pooled
        What they say together.
    verdict : str
        For a rider who was not tested.
    because : str
        Why, in one sentence.
    """

    name: str
    results: Annotated[Mapping[str, ItemResult], HIDDEN]
    runs: int
    mean: float
    margin: Annotated[float | None, HIDDEN]
    pooled: Annotated[Pooled, OVER_RIDERS]
    verdict: Verdict
    because: str

    ALSO_WRITTEN: ClassVar = ("difference", "low", "high", "predicted_low", "predicted_high")

    @property
    def difference(self) -> float:
        """Item minus baseline, the mean over riders; below zero is faster."""
        return -self.pooled.saving

    @property
    def low(self) -> float | None:
        """Low end of its 95 % interval."""
        return None if self.pooled.high is None else -self.pooled.high

    @property
    def high(self) -> float | None:
        """High end of its 95 % interval."""
        return None if self.pooled.low is None else -self.pooled.low

    @property
    def predicted_low(self) -> float | None:
        """Low end of the 95 % prediction for an untested rider."""
        return None if self.pooled.prediction is None else -self.pooled.prediction.high

    @property
    def predicted_high(self) -> float | None:
        """High end of the 95 % prediction for an untested rider."""
        return None if self.pooled.prediction is None else -self.pooled.prediction.low


@dataclass(frozen=True)
class LeftOut:
    """A run that the tester leaves out.

    Parameters
    ----------
    line : int
        Line of the file.
    item, rider : str
        Of what and of whom.
    value : float
        What was measured, in the unit of the measure.
    reason : str
        The tester's own words.
    """

    line: int
    item: str
    rider: str
    value: float
    reason: str


@dataclass(frozen=True)
class TrialAnswer:
    """What a table of runs says.

    Parameters
    ----------
    source : str
        File name as the user gave it.
    measure : {"cda", "power", "drag"}
        What was measured.
    trials : Mapping of str to Trial
        The test of each rider; the key is "" where the table names no rider.
    over_riders : tuple of OverRiders
        Items that at least two riders tested, the safest for an untested rider first; empty for
        a test of one rider.
    shrunken : Shrunken or None
        The items of a single rider's test as they should be believed, in their order and
        without the runs that do not fit; None where fewer than three can be compared.
    left_out : tuple of LeftOut
        Runs that the tester leaves out of all the above.
    with_all : TrialAnswer or None
        The same with them; None where none is left out.
    """

    source: str
    measure: Measure
    trials: Mapping[str, Trial]
    over_riders: tuple[OverRiders, ...]
    shrunken: Shrunken | None
    left_out: tuple[LeftOut, ...] = ()
    with_all: "TrialAnswer | None" = None

    @property
    def only(self) -> Trial | None:
        """The test itself where there is one rider."""
        return next(iter(self.trials.values())) if len(self.trials) == 1 else None


def answer(
    runs: Runs,
    baseline: str | None = None,
    margin: float | None = None,
    repeatability: Repeatability | None = None,
    looks: int = 1,
) -> TrialAnswer:
    """Analyse a table of runs.

    Parameters
    ----------
    runs : Runs
        Runs of one or more riders.
    baseline, margin, repeatability, looks
        As for `racecalc.decisions.evidence.one_rider.analyse`.

    Returns
    -------
    TrialAnswer
        In the unit of the measure.

    Raises
    ------
    InputError
        As `analyse`; and if a rider did not ride the baseline, or all runs are left out.
    """
    counted = runs.counted()
    found = _answer(counted, baseline, margin, repeatability, looks)
    if counted is runs:
        return found
    left_out = tuple(
        LeftOut(runs.line[row], runs.item[row], runs.rider[row], float(runs.value[row]), reason)
        for row, reason in enumerate(runs.excluded)
        if reason
    )
    with_all = _answer(runs, baseline, margin, repeatability, looks)
    return replace(found, left_out=left_out, with_all=with_all)


def _answer(
    runs: Runs,
    baseline: str | None,
    margin: float | None,
    repeatability: Repeatability | None,
    looks: int,
) -> TrialAnswer:
    if len(runs.riders) == 1:
        # With one rider the analysis itself chooses the baseline, and says so.
        one = analyse(runs, baseline, margin, repeatability, looks)
        return TrialAnswer(runs.source, runs.measure, {runs.riders[0]: one}, (), _shrunken(one))
    chosen = runs.items[0] if baseline is None else baseline
    trials = {
        rider: analyse(_of_rider(runs, rider, chosen), chosen, margin, repeatability, looks)
        for rider in runs.riders
    }
    if repeatability is None:
        # Riders were tested in the same way, so the runs of the others tell how runs scatter.
        trials = {
            rider: analyse(
                _of_rider(runs, rider, chosen), chosen, margin, _of_others(trials, rider), looks
            )
            for rider in trials
        }
    return TrialAnswer(runs.source, runs.measure, trials, _over_riders(trials), None)


def _of_others(trials: Mapping[str, Trial], rider: str) -> Repeatability | None:
    """Scatter of the other riders' runs, without those that do not fit."""
    others = [
        (clean.repeatability, clean.repeatability_df)
        for name, trial in trials.items()
        if name != rider
        for clean in (trial.fitting,)
        if clean.repeatability
    ]
    df = sum(freedom for _, freedom in others)
    if not df:
        return None
    return Repeatability(math.sqrt(sum(sd**2 * freedom for sd, freedom in others) / df), df)


def _of_rider(runs: Runs, rider: str, baseline: str) -> Runs:
    rows = [row for row, name in enumerate(runs.rider) if name == rider]
    own = runs.kept(rows)
    if baseline in runs.item and baseline not in own.item:
        raise InputError(
            f"{runs.source}, rider {rider}",
            f"has no run of the baseline '{baseline}'",
            "compare with another item (--baseline), or leave this rider out of the table",
        )
    return own


def _over_riders(trials: Mapping[str, Trial]) -> tuple[OverRiders, ...]:
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
            found.append(OverRiders(name, results, runs, mean, margin, pooled, *word))
    safest = safest_first({one.name: one.pooled for one in found})
    return tuple(sorted(found, key=lambda one: safest.index(one.name)))


def pool_results(results: Mapping[str, ItemResult], margin: float | None) -> Pooled | None:
    """Pool one item over riders; None for fewer than two.

    Riders whose own runs tell no doubt count only where no rider's do; then the spread of the
    savings themselves is all that is known.
    """
    known = [saving for item in results.values() if (saving := saving_of(item))]
    if len(known) < 2:
        known = [(-(item.difference or 0.0), 0.0) for item in results.values()]
    if len(known) < 2:
        return None
    values, errors = np.array(known).T
    return pool(values, errors, margin or 0.0)


def saving_of(item: ItemResult) -> tuple[float, float] | None:
    """Saving of an item and its standard error; None where the runs do not tell both."""
    if item.difference is None or not item.standard_error:
        return None
    return -item.difference, item.standard_error


def _for_an_untested_rider(pooled: Pooled, margin: float | None) -> tuple[Verdict, str]:
    ahead = pooled.prediction
    if ahead is None:
        return "undecided", "nothing tells how much riders differ"
    whole = (ahead.low, ahead.high)
    found = word_by_intervals(whole, whole, margin or None)
    return found, FORETOLD[found]


FORETOLD: dict[Verdict, str] = {
    "tie": "the whole 95 % prediction lies within the margin",
    "faster": "the whole 95 % prediction lies on the fast side",
    "slower": "the whole 95 % prediction lies on the slow side",
    "undecided": "the 95 % prediction holds both gain and loss",
}
"""Why the word for an untested rider is what it is."""


def _shrunken(trial: Trial) -> Shrunken | None:
    """The best of many as it should be believed, from the runs that fit."""
    trial = trial.fitting
    known = [saving for item in trial.items if (saving := saving_of(item))]
    if len(known) < LEAST_TO_SHRINK or trial.repeatability is None:
        return None
    savings, errors = np.array(known).T
    # All items share the runs of the baseline and so its error.
    shared = trial.repeatability**2 / trial.baseline.runs
    covariance = np.full((len(known), len(known)), min(shared, 0.9 * float(np.min(errors)) ** 2))
    np.fill_diagonal(covariance, errors**2)
    return shrink(savings, errors, covariance)
