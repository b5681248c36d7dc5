"""``racecalc trial``: is this test a difference, a tie, or not enough runs."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from racecalc.answers.cells import Cell, quoted, several, verdict
from racecalc.answers.columns import Chance, Column, Made, Number, Verdict, Words, ends
from racecalc.answers.sheet import Block, Depth, Drawn, Intervals, Line, Lines, Sheet, Table
from racecalc.decisions.evidence.judging import DECIMALS, ItemResult, RiderTrial, shown
from racecalc.decisions.evidence.trial import (
    OneRider,
    OverRiders,
    SeveralRiders,
    TrialAnswer,
    saving_of,
)
from racecalc.decisions.verdicts import interval
from racecalc.domain.trial import SI_UNIT, Measure

TEST_SAFELY = "Test on quiet roads or a track, look up, obey the law, chase no reading."
HOLDS_FOR = "A result holds for this rider, fit, speed and yaw."


def trial_sheet(answer: TrialAnswer) -> Sheet:
    """The verdicts and what would settle those that are open, then what they rest on."""
    found = _of_one(answer) if isinstance(answer, OneRider) else _of_several(answer)
    return replace(
        found,
        blocks=[
            *found.blocks,
            Lines([*_what_next(answer.trials), *_outliers(answer.trials), *_drifts(answer.trials)]),
            *_left_out(answer),
            Lines([TEST_SAFELY]),
            Lines(_notes(answer.trials), "Mind", Depth.DETAILS),
            Lines([*_grounds(answer.trials)], "What the verdicts rest on", Depth.BASIS),
            Lines([HOLDS_FOR], "", Depth.BASIS),
        ],
    )


def file_name(source: str) -> Cell:
    """The name of a file without its folders."""
    return quoted(source.replace("\\", "/").rpartition("/")[2], 40)


# --- one rider -----------------------------------------------------------------------------------


@dataclass(frozen=True)
class WithInterval(Column):
    """A measured difference with its interval; its digits are those of the measure."""

    measure: Measure = "cda"

    def _made(self, value: Any, row: Any, units: Any) -> str:  # noqa: ARG002
        return between(value, *ends(row, self.key), self.measure)


def between(value: float, low: float | None, high: float | None, measure: Measure) -> str:
    """A difference with its interval, if that is known, without their unit."""
    best, *both = (
        "" if one is None else f"{one:+.{DECIMALS[measure]}f}" for one in (value, low, high)
    )
    return f"{best} ({' to '.join(both)})" if all(both) else best


def _columns(measure: Measure, of: str = "") -> list[Column]:
    return [
        Words("item", f"{of}name"),
        Number("runs", f"{of}runs", form="d"),
        Number(f"mean\n{SI_UNIT[measure]}", f"{of}mean", form=f".{DECIMALS[measure]}f"),
        WithInterval(f"difference\n{SI_UNIT[measure]} (95 %)", f"{of}difference", measure=measure),
        Chance("chance\nfaster", f"{of}chance_faster"),
        Verdict("verdict", f"{of}verdict"),
    ]


def _short(measure: Measure, of: str = "") -> list[Column]:
    """The difference and the verdict alone."""
    item, _, _, difference, _, word = _columns(measure, of)
    return [item, difference, word]


def _of_one(answer: OneRider) -> Sheet:
    trial = answer.trial
    clean, items = trial.without_outliers, trial.items
    return Sheet(
        (
            file_name(answer.source),
            ", against ",
            quoted(trial.baseline.name, 40),
            ": ",
            *(_verdicts(items) if items else ("nothing to compare",)),
        ),
        [
            Table("", _columns(trial.measure), items, "", Depth.ANSWER, most=8, path="items"),
            Intervals(_drawn({one.name: one for one in items}), trial.margin),
            Lines(
                [
                    (quoted(one.name), ": ", verdict(one.verdict), f", because {one.because}.")
                    for one in items
                ],
                "Why these verdicts",
                Depth.DETAILS,
            ),
            Table(
                "The same without the runs that do not fit",
                _short(trial.measure),
                clean.items if clean else (),
                path="without_outliers",
            ),
            *_shrunken(answer),
        ],
    )


def _verdicts(items: Sequence[ItemResult]) -> Iterator[str | Cell]:
    """Which are faster, and so on for each verdict."""
    words = dict.fromkeys(item.verdict for item in items)
    for number, word in enumerate(sorted(words, key=lambda word: word == "undecided")):
        yield "; " if number else ""
        yield from several([item.name for item in items if item.verdict == word])
        yield " "
        yield verdict(word)


def _shrunken(answer: OneRider) -> Iterator[Block]:
    found, trial = answer.best_of_many, answer.trial.fitting
    if found is None:
        return
    items = [item for item in trial.items if saving_of(item)]

    yield Table(
        f"The best of several looks better than it is ({SI_UNIT[trial.measure]})",
        [
            Made("item", "", lambda row: quoted(row[0].name), left=True),
            Made("as measured", "", lambda row: between(-row[1], None, None, trial.measure)),
            Made(
                "to be believed (95 %)",
                "",
                lambda row: between(-row[2], *interval(-row[2], row[3]), trial.measure),
            ),
        ],
        list(zip(items, found.raw, found.shrunken, found.doubt, strict=True)),
        f"{found.why} By the runs that fit.",
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


def _rows(trials: Mapping[str, RiderTrial]) -> list[RiderItem]:
    return [RiderItem(rider, one) for rider, trial in trials.items() for one in trial.items]


def _of_several(answer: SeveralRiders) -> Sheet:
    columns = [Words("rider", "rider"), *_columns(answer.measure, "item.")]
    return Sheet(
        (
            file_name(answer.source),
            f", {len(answer.trials)} riders, against ",
            quoted(answer.first.baseline.name, 40),
            ": ",
            *_foretold(answer.items),
        ),
        [
            *(
                block
                for number, one in enumerate(answer.items)
                for block in _over(one, answer, Depth.DETAILS if number else Depth.ANSWER)
            ),
            Table("Rider by rider", columns, _rows(answer.trials)),
        ],
    )


def _foretold(items: Sequence[OverRiders]) -> Iterator[str | Cell]:
    if not items:
        yield "no item was ridden by two riders who rode the baseline too, so none is pooled"
    for number, one in enumerate(items):
        yield "; " if number else ""
        yield quoted(one.name, 40)
        yield " for an untested rider "
        yield verdict(one.verdict)


def _over(one: OverRiders, answer: SeveralRiders, depth: Depth) -> Iterator[Block]:
    """What riders say of an item; its picture and its character from a depth on."""
    pooled, measure = one.pooled, answer.measure
    lines, name = _drawn(one.results), quoted(one.name)
    saving = between(pooled.saving, pooled.low, pooled.high, measure)
    mean = f" saves {saving} {SI_UNIT[measure]} in the mean of {pooled.riders} riders"
    if pooled.prediction is None:
        yield Lines([(name, f"{mean}.")])
    else:
        low, high = (
            f"{end:+.{DECIMALS[measure]}f}"
            for end in (pooled.prediction.low, pooled.prediction.high)
        )
        yield Lines([(name, f"{mean}; an untested rider between {low} and {high}.")])
        yield Lines([(name, f": {pooled.character}; {pooled.because}.")], "", depth)
        lines.append(
            Drawn("an untested rider", one.difference, one.predicted_low, one.predicted_high)
        )
    yield Intervals(lines, one.margin, depth=depth)
    yield Lines(
        [f"For an untested rider {one.verdict}, because {one.because}.", *pooled.known],
        "What so many riders tell",
        Depth.DETAILS,
    )


# --- what would settle it, and what speaks against it --------------------------------------------


def _what_next(trials: Mapping[str, RiderTrial]) -> Iterator[Line]:
    """How many runs would settle what is open."""
    rows = _rows(trials)
    by_item = "" in trials or len({row.item.name for row in rows}) > 1
    more = [
        f"{row.item.further_runs}"
        + (f" of {row.item.name}" if by_item else "")
        + (f" on {row.rider}" if row.rider else "")
        for row in rows
        if row.item.further_runs
    ]
    if more:
        told = "More runs that would probably settle it, with as many of the baseline: "
        yield (told, *several(more), ".")


def _outliers(trials: Mapping[str, RiderTrial]) -> Iterator[Line]:
    """What the runs that do not fit change."""
    lines = sorted(one.line for trial in trials.values() for one in trial.outliers)
    if not lines:
        return
    numbers = ", ".join(map(str, lines[:5])) + (" ..." if len(lines) > 5 else "")
    said = f"Runs that do not fit are in these numbers (line {numbers})"
    if any(trial.outliers and not trial.without_outliers for trial in trials.values()):
        yield f"{said}; without them an item has no run left."
    else:
        clean = {rider: trial.fitting for rider, trial in trials.items()}
        yield _compared(f"{said}; without them", trials, clean)


def _compared(
    said: str, trials: Mapping[str, RiderTrial], others: Mapping[str, RiderTrial]
) -> Line:
    """What is said of some runs, and which verdicts are other ones with or without them."""
    words = {(row.rider, row.item.name): row.item.verdict for row in _rows(others)}
    changed = dict.fromkeys(
        row.item.name
        for row in _rows(trials)
        if words.get((row.rider, row.item.name)) != row.item.verdict
    )
    if changed:
        return (f"{said} another verdict holds for ", *several([*changed]), ".")
    return f"{said} the verdicts are the same."


def _drifts(trials: Mapping[str, RiderTrial]) -> Iterator[Line]:
    """Sessions that drift by more than any difference found."""
    names = [one.session for trial in trials.values() for one in trial.drifts if one.exceeds]
    if names:
        yield ("Drift larger than any difference, taken out: ", *several(names, length=30), ".")


def _of(rider: str) -> tuple[str | Cell, ...]:
    return (quoted(rider), ": ") if rider else ()


def _notes(trials: Mapping[str, RiderTrial]) -> list[Line]:
    """The notes of all riders, each once, with the rider where it is one rider's."""
    riders_of: dict[str, list[str]] = {}
    for rider, trial in trials.items():
        for note in trial.notes:
            riders_of.setdefault(note, []).append(rider)
    return [
        (*_of("" if len(riders) == len(trials) else ", ".join(riders)), quoted(note))
        for note, riders in riders_of.items()
    ]


def _grounds(trials: Mapping[str, RiderTrial]) -> Iterator[Line]:
    for rider, trial in trials.items():
        if trial.repeatability is not None:
            df = trial.repeatability_df
            freedom = "1 degree of freedom" if df == 1 else f"{df:.3g} degrees of freedom"
            yield (
                *_of(rider),
                f"A single run repeats to {shown(trial.repeatability, trial.measure)} (one"
                f" standard deviation, {freedom}): {trial.repeatability_because}.",
            )
        for drift in trial.drifts:
            change = shown(drift.change, trial.measure, sign=True)
            if float(change.split()[0]):
                yield (
                    "Within session ",
                    quoted(drift.session),
                    f" the runs drifted by {change}; this is taken out.",
                )
    first = next(iter(trials.values()))
    if first.margin is not None:
        yield (
            f"Less than {shown(first.margin, first.measure)} does not matter:"
            f" {first.margin_because}."
        )
    yield (
        f"Difference is item minus baseline, with its {100 * first.confidence:.3g} % interval for"
        " all items together; chance that it is faster at all, taken alone."
    )


def _left_out(answer: TrialAnswer) -> Iterator[Block]:
    """The runs that the tester leaves out, and the answer with them."""
    other = answer.with_all
    if other is None:
        return
    said = f"Runs that the tester leaves out: {len(answer.left_out)}; with them"
    yield Lines([_compared(said, answer.trials, other.trials)])
    yield Lines(
        [
            (
                f"line {one.line}, ",
                quoted(f"{one.item}{f', {one.rider}' if one.rider else ''}"),
                f", {one.value:.6g} {answer.unit}: ",
                quoted(one.reason),
            )
            for one in answer.left_out
        ],
        "Left out by the tester",
        Depth.DETAILS,
    )
    rider = None if isinstance(other, OneRider) else Words("rider", "rider")
    yield Table(
        "The same with the runs that were left out",
        [rider, *_short(other.measure, "item.")],
        _rows(other.trials),
    )
