"""``racecalc trial``: is this test a difference, a tie, or not enough runs."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Annotated, Any

from racecalc.answers.cells import Cell, several, verdict
from racecalc.answers.columns import (
    Chance,
    Column,
    Made,
    Number,
    Verdict,
    Words,
    ends,
)
from racecalc.answers.sheet import Block, Depth, Drawn, Intervals, Line, Lines, Sheet, Table
from racecalc.decisions.evidence.judging import DECIMALS, ItemResult, Trial, shown
from racecalc.decisions.evidence.pooling import Shrunken
from racecalc.decisions.evidence.trial import LeftOut, OverRiders, TrialAnswer, saving_of
from racecalc.domain.trial import SI_UNIT, Measure
from racecalc.written import SPREAD, WHERE_ANY

TEST_SAFELY = (
    "Test on quiet roads or a track, look up, obey the law, and do not chase a reading. A result"
    " holds for this rider, fit, speed and yaw."
)


@dataclass(frozen=True)
class OneRider:
    """What the runs of one rider say; differences are item minus baseline, below zero is faster."""

    source: str
    """File name as the user gave it."""
    unit: str
    """SI unit of all values."""
    trial: Annotated[Trial, SPREAD]
    """The test."""
    best_of_many: Annotated[Shrunken | None, WHERE_ANY]
    """The items as they should be believed; None where fewer than three can be compared."""
    left_out: Annotated[tuple[LeftOut, ...], WHERE_ANY]
    """Runs that the tester leaves out."""
    with_all: Annotated["OneRider | None", WHERE_ANY]
    """The same with them."""


@dataclass(frozen=True)
class SeveralRiders:
    """What the runs of several riders say together, and of each."""

    source: str
    unit: str
    """As for `OneRider`."""
    items: tuple[OverRiders, ...]
    """The mean of each item over riders, the safest for an untested rider first."""
    repeatability: float | None
    margin: float | None
    """Of the first rider: scatter of a run, and what does not matter."""
    riders: Mapping[str, Trial]
    """The test of each."""
    left_out: Annotated[tuple[LeftOut, ...], WHERE_ANY]
    with_all: Annotated["SeveralRiders | None", WHERE_ANY]
    """As for `OneRider`."""


def trial_answer(found: TrialAnswer) -> OneRider | SeveralRiders:
    """The answer in the form of one rider or of several."""
    unit, trials = SI_UNIT[found.measure], found.trials
    more: Any = (found.left_out, trial_answer(found.with_all) if found.with_all else None)
    if found.only:
        return OneRider(found.source, unit, found.only, found.shrunken, *more)
    first = next(iter(trials.values()))
    items = found.over_riders
    return SeveralRiders(
        found.source, unit, items, first.repeatability, first.margin, trials, *more
    )


def trial_sheet(answer: OneRider | SeveralRiders) -> Sheet:
    """The verdicts and what would settle those that are open, then what they rest on."""
    told = _of_one(answer) if isinstance(answer, OneRider) else _of_several(answer)
    return replace(
        told,
        blocks=[*told.blocks, *_left_out(answer), Lines([TEST_SAFELY], "", Depth.BASIS)],
    )


# --- one rider -----------------------------------------------------------------------------------


@dataclass(frozen=True)
class Difference(Column):
    """A measured difference with its interval; its digits are those of the measure."""

    measure: Measure = "cda"

    def _made(self, value: Any, row: Any, units: Any) -> str:  # noqa: ARG002
        best, low, high = (self._one(one) for one in (value, *ends(row, self.key)))
        return f"{best} ({low} to {high})" if low and high else best

    def _one(self, value: float | None) -> str:
        return "" if value is None else f"{value:+.{DECIMALS[self.measure]}f}"


def _columns(measure: Measure, of: str = "") -> list[Column | None]:
    return [
        Words("item", f"{of}name"),
        Number("runs", f"{of}runs", form="d"),
        Number(f"mean\n{SI_UNIT[measure]}", f"{of}mean", form=f".{DECIMALS[measure]}f"),
        Difference(f"difference\n{SI_UNIT[measure]} (95 %)", f"{of}difference", measure=measure),
        Chance("chance\nfaster", f"{of}chance_faster"),
        Verdict("verdict", f"{of}verdict"),
    ]


def _of_one(answer: OneRider) -> Sheet:
    trial = answer.trial
    columns = _columns(trial.measure)
    clean, fitting = trial.without_outliers, [columns[0], columns[3], columns[5]]
    return Sheet(
        (f"{answer.source}, against {trial.baseline.name}: ", *_verdicts(trial.items)),
        [
            Table("", columns, trial.items, depth=Depth.ANSWER, most=8),
            Intervals(
                _drawn({one.name: one for one in trial.items}), trial.margin, depth=Depth.ANSWER
            ),
            Lines([*_what_next(trial)]),
            Lines([_reason(item) for item in trial.items], "Why these verdicts", Depth.DETAILS),
            Table(
                "The same without the runs that do not fit", fitting, clean.items if clean else ()
            ),
            *_shrunken(answer),
            Lines(trial.notes, "Mind", Depth.DETAILS),
            Lines([*_grounds(trial)], "What the verdicts rest on", Depth.BASIS),
        ],
    )


def _verdicts(items: Sequence[ItemResult]) -> Iterator[str | Cell]:
    """Which are faster, and so on for each verdict."""
    words = dict.fromkeys(item.verdict for item in items)
    for number, word in enumerate(words):
        yield "; " if number else ""
        yield from several([item.name for item in items if item.verdict == word])
        yield " "
        yield replace(verdict(word), text=word)


def _what_next(trial: Trial) -> Iterator[Line]:
    """What would settle it, and what speaks against the answer."""
    more = [f"{one.further_runs} of {one.name}" for one in trial.items if one.further_runs]
    if more:
        yield (
            "More runs that would probably settle it, with as many of the baseline: ",
            *several(more),
            ".",
        )
    if trial.without_outliers:
        lines = ", ".join(str(one.line) for one in trial.outliers)
        changed = {
            item.name
            for item, clean in zip(trial.items, trial.without_outliers.items, strict=True)
            if item.verdict != clean.verdict
        }
        so: Line = (
            ("without it ", *several(sorted(changed)), " is judged otherwise")
            if changed
            else ("without it the verdicts are the same",)
        )
        yield (
            f"A run that does not fit is in these numbers (line {lines} of the file); ",
            *so,
            ".",
        )
    elif trial.notes:
        yield f"{len(trial.notes)} things to mind: --details."


def _reason(item: ItemResult) -> Line:
    return (f"{item.name}: ", verdict(item.verdict), f", because {item.because}.")


def _grounds(trial: Trial) -> Iterator[Line]:
    if trial.repeatability is not None:
        df = trial.repeatability_df
        freedom = "1 degree of freedom" if df == 1 else f"{df:.3g} degrees of freedom"
        yield (
            f"A single run repeats to {shown(trial.repeatability, trial.measure)} (one standard"
            f" deviation, {freedom}): {trial.repeatability_because}."
        )
    if trial.margin is not None:
        yield (
            f"Less than {shown(trial.margin, trial.measure)} does not matter:"
            f" {trial.margin_because}."
        )
    for drift in trial.drifts:
        change = shown(drift.change, trial.measure, sign=True)
        if float(change.split()[0]):
            yield f"Within session {drift.session} the runs drifted by {change}; this is taken out."
    yield (
        f"Difference is item minus baseline, with its {100 * trial.confidence:.3g} % interval for"
        " all items together; chance that it is faster at all, taken alone."
    )


def _shrunken(answer: OneRider) -> Iterator[Block]:
    found, trial = answer.best_of_many, answer.trial.fitting
    if found is None:
        return
    items = [item for item in trial.items if saving_of(item)]

    def text(values: Any, row: int, sign: int = -1) -> str:
        return shown(sign * values[row], trial.measure, sign=sign < 0)

    yield Table(
        "The best of several looks better than it is",
        [
            Made("item", "", lambda row: items[row].name, left=True),
            Made("as measured", "", lambda row: text(found.raw, row)),
            Made(
                "as to be believed",
                "",
                lambda row: f"{text(found.shrunken, row)} +- {text(found.doubt, row, 1)}",
            ),
        ],
        range(len(items)),
        f"{found.why} By the runs that fit; +- is one standard uncertainty.",
    )


def _drawn(results: Mapping[str, ItemResult]) -> list[Drawn]:
    return [
        Drawn(name, item.difference, item.low, item.high)
        for name, item in results.items()
        if item.difference is not None
    ]


# --- several riders ------------------------------------------------------------------------------


@dataclass(frozen=True)
class RiderItem:
    """An item of a rider, as a row."""

    rider: str
    item: ItemResult


def _of_several(answer: SeveralRiders) -> Sheet:
    first = next(iter(answer.riders.values()))
    rows = [RiderItem(rider, one) for rider, trial in answer.riders.items() for one in trial.items]
    return Sheet(
        (
            f"{answer.source}, {len(answer.riders)} riders, against {first.baseline.name}: ",
            *_foretold(answer.items),
        ),
        [
            *(block for one in answer.items for block in _over(one, first.measure)),
            Table(
                "Rider by rider", [Words("rider", "rider"), *_columns(first.measure, "item.")], rows
            ),
            Lines(_riders_notes(answer.riders), "Mind", Depth.DETAILS),
        ],
    )


def _foretold(items: Sequence[OverRiders]) -> Iterator[str | Cell]:
    if not items:
        yield "no item was ridden by two riders beside the baseline, so none is pooled"
    for number, one in enumerate(items):
        yield f"{'; ' if number else ''}{one.name} for an untested rider "
        yield verdict(one.verdict)


def _over(one: OverRiders, measure: Measure) -> Iterator[Block]:
    pooled, ahead = one.pooled, one.pooled.prediction
    lines = _drawn(one.results)
    saving = _saving(pooled.saving, pooled.low, pooled.high, measure)
    mean = f"On {pooled.riders} riders it saves {saving} {SI_UNIT[measure]}"
    if ahead is None:
        yield Lines([f"{mean} in the mean."])
    else:
        lines.append(
            Drawn("an untested rider", one.difference, one.predicted_low, one.predicted_high)
        )
        yield Lines(
            [
                f"{mean} in the mean; an untested rider between"
                f" {_saving(None, ahead.low, ahead.high, measure)}.",
                f"{one.name}: {pooled.character}; {pooled.because}.",
            ]
        )
    yield Intervals(lines, one.margin, depth=Depth.ANSWER)
    yield Lines(
        [f"For an untested rider {one.verdict}, because {one.because}.", *pooled.known],
        "What so many riders tell",
        Depth.DETAILS,
    )


def _saving(at: float | None, low: float | None, high: float | None, measure: Measure) -> str:
    best, *ends = (
        "?" if one is None else f"{one:+.{DECIMALS[measure]}f}" for one in (at, low, high)
    )
    return " and ".join(ends) if at is None else f"{best} ({' to '.join(ends)})"


def _riders_notes(riders: Mapping[str, Trial]) -> list[Line]:
    """The notes of all riders, each once, with the rider where it is one rider's."""
    said: dict[str, list[str]] = {}
    for rider, trial in riders.items():
        for note in trial.notes:
            said.setdefault(note, []).append(rider)
    return [
        note if len(those) == len(riders) else f"{', '.join(those)}: {note}"
        for note, those in said.items()
    ]


def _left_out(answer: OneRider | SeveralRiders) -> Iterator[Block]:
    """The runs that the tester leaves out, and the answer with them."""
    other = answer.with_all
    if other is None:
        return
    lines = [
        f"line {one.line}, {one.item}{f', {one.rider}' if one.rider else ''}, {one.value:.6g}"
        f" {answer.unit}: {one.reason}"
        for one in answer.left_out
    ]
    count = len(lines)
    yield Lines([f"Left out by the tester: {count} run{'s' if count > 1 else ''}."])
    yield Lines(lines, "Left out by the tester", Depth.DETAILS)
    trials = {"": other.trial} if isinstance(other, OneRider) else other.riders
    for rider, trial in trials.items():
        columns = _columns(trial.measure)
        title = f"The same with the runs that were left out{f', {rider}' if rider else ''}"
        yield Table(title, [columns[0], columns[3], columns[5]], trial.items)
