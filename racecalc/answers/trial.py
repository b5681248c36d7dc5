"""``racecalc trial``: is this test a difference, a tie, or not enough runs; by yaw too."""

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from textwrap import wrap
from typing import Any

from racecalc.answers.cells import Cell, file_name, joined, naming, quoted, several, verdict
from racecalc.answers.columns import Chance, Column, Made, Number, Verdict, Words, ends
from racecalc.answers.sheet import (
    Block,
    Depth,
    Drawn,
    Intervals,
    Line,
    Lines,
    Sheet,
    Table,
    details,
    grounds,
)
from racecalc.answers.value import gain_line, size_lines
from racecalc.decisions.evidence.alike import ONE_STRETCH
from racecalc.decisions.evidence.chances import AGAIN
from racecalc.decisions.evidence.days import AS_STATED, COUNTED_DAYS
from racecalc.decisions.evidence.judging import DECIMALS, ItemResult, RiderTrial, shown
from racecalc.decisions.evidence.planning import TEST_SAFELY
from racecalc.decisions.evidence.sweep import Saved, Sweep, SweepAnswer, WeightedArea
from racecalc.decisions.evidence.trial import (
    LEAST_TO_SHRINK,
    OneRider,
    OverRiders,
    SeveralRiders,
    TrialAnswer,
    comparable,
)
from racecalc.decisions.explain import ExplainedStep, explained
from racecalc.decisions.value import OptionValue
from racecalc.decisions.verdicts import interval
from racecalc.domain.option import Option
from racecalc.domain.trial import SI_UNIT, Measure

HOLDS_FOR = "A result holds for this rider, fit, speed and yaw."

MOST_THAT_DAY = 3
"""Items whose difference on the one day is said with the answer; `--details` has all."""

MOST_WARNED = 3
"""Warnings said with the answer; the first is what matters most, and the JSON has all."""

NEARLY = 0.95
"""Chance from which on, and from 1 less this down, an undecided item surprises; our choice."""


def trial_sheet(answer: TrialAnswer) -> Sheet:
    """The verdicts and what would settle those that are open, then what they rest on."""
    found = _of_one(answer) if isinstance(answer, OneRider) else _of_several(answer)
    return replace(
        found,
        blocks=[
            *found.blocks,
            Lines([*_alike(answer), *_open(answer), *_days(answer), *_what_next(answer.trials)]),
            Lines([*_warned(answer.trials), *_outliers(answer.trials), *_drifts(answer.trials)]),
            *_shrunken(answer),
            *_left_out(answer),
            Lines([TEST_SAFELY]),
            details(_each_once({rider: one.notes for rider, one in answer.trials.items()}), "Mind"),
            grounds(_grounds(answer.trials), "What the verdicts rest on"),
            grounds([HOLDS_FOR]),
        ],
        explained=lambda: _explained(answer),
    )


def _explained(answer: TrialAnswer) -> Iterator[ExplainedStep]:
    trial = next(iter(answer.trials.values()))
    unit, items = SI_UNIT[trial.measure], trial.items
    first = items[0] if items else None
    none = "there is no item"
    yield from explained(
        "trial",
        difference=f"{first.difference:+.3g} {unit}, {first.name}" if first else none,
        runs=sum(one.runs for one in (trial.baseline, *items)),
        days=trial.days,
        confidence=100.0 * trial.confidence,
        within=f"{first.low:+.3g} to {first.high:+.3g} {unit}" if first else none,
        s=trial.repeatability or 0.0,
        unit=unit,
        df=trial.repeatability_df,
        d=trial.day_to_day,
        verdict=f"{first.verdict}, {first.because}" if first else none,
        margin=trial.margin or 0.0,
    )
    if isinstance(answer, SeveralRiders):
        yield from explained("several riders", riders=len(answer.trials))


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
        Verdict("verdict", f"{of}said"),
    ]


def _short(measure: Measure, of: str = "") -> list[Column]:
    """The difference and the verdict alone."""
    item, _, _, difference, _, word = _columns(measure, of)
    return [item, difference, word]


def _then_columns(measure: Measure) -> list[Column]:
    """The difference on the days ridden and the word for it."""

    def then(item: ItemResult) -> str:
        return _then(item, measure)

    ridden = Made(f"difference\n{SI_UNIT[measure]} (95 %)", "", then)
    return [Words("item", "name"), ridden, Verdict("verdict", "verdict_that_day")]


def _of_one(answer: OneRider) -> Sheet:
    trial = answer.trial
    items, clean = trial.items, trial.without_outliers.items if trial.without_outliers else ()
    without, columns = "The same without the runs that do not fit", _short(trial.measure)
    reasons: list[Line] = [
        (quoted(one.name), ": ", verdict(one.verdict), f", because {one.because}.") for one in items
    ]
    found = _verdicts(items) if items else ("nothing to compare",)
    against = f"{_at_speed(trial)}, against ", quoted(trial.baseline.name, 40), ": "
    return Sheet(
        (file_name(answer.source), *against, *found),
        [
            Table("", _columns(trial.measure), items, "", Depth.ANSWER, most=8, path="items"),
            Intervals(_drawn({one.name: one for one in items}), trial.margin),
            details(reasons, "Why these verdicts"),
            Table("On the days ridden alone", _then_columns(trial.measure), items),
            Table(without, columns, clean, path="without_outliers"),
        ],
    )


def _at_speed(trial: RiderTrial) -> str:
    """The speed of a test, where what was measured means nothing without it."""
    if trial.speed is None or trial.measure == "cda":
        return ""
    return f" at {3.6 * trial.speed:.1f} km/h"


def _verdicts(items: Sequence[ItemResult]) -> tuple[str | Cell, ...]:
    """Which are faster, and so on for each verdict."""
    words = dict.fromkeys(item.said for item in items)
    named = {word: [item.name for item in items if item.said == word] for word in words}
    ranked = sorted(words, key=lambda word: word == "undecided")
    return joined(((*several(named[word]), " ", verdict(word)) for word in ranked), "; ")


def _shrunken(answer: TrialAnswer) -> Iterator[Block]:
    """Each item as measured and as the race counts it."""
    found, measure = answer.best_of_many, answer.measure
    if found is None:
        return
    items = comparable(answer.trial) if isinstance(answer, OneRider) else answer.items
    names = [one.name for one in items]

    def believed(row: tuple[str, float, float, float]) -> str:
        *_, saving, doubt = row
        return between(-saving, *interval(-saving, doubt), measure)

    counts = len(names) >= LEAST_TO_SHRINK
    yield Table(
        f"The best of several looks better than it is: difference in {SI_UNIT[measure]}",
        [
            Made("item", "", lambda row: quoted(row[0]), left=True),
            Made("as measured", "", lambda row: between(-row[1], None, None, measure)),
            Made("shrunken estimate (95 %)", "", believed),
        ],
        list(zip(names, found.raw, found.shrunken, found.doubt, strict=True)),
        f"{found.why} {RACE_COUNTS if counts else RACE_COUNTS_MEASURED}",
    )


RACE_COUNTS = "The race counts the shrunken estimates."
RACE_COUNTS_MEASURED = "Two items tell too little of it: the race counts what was measured."


def _alike(answer: TrialAnswer) -> Iterator[Line]:
    """Items that the test does not tell apart."""
    found = answer.best_of_many
    if found is not None and found.alike and len(found.raw) >= LEAST_TO_SHRINK:
        left = shown(-found.common, answer.measure, sign=True)
        yield (
            f"The {len(found.raw)} items are taken as alike, at {left} each: they differ by no"
            " more than luck explains."
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
    at = _at_speed(answer.first)
    against = f", {len(answer.trials)} riders{at}, against ", quoted(answer.first.baseline.name, 40)
    blocks = [
        block
        for number, one in enumerate(answer.items)
        for block in _over(one, answer, Depth.DETAILS if number else Depth.ANSWER)
    ]
    return Sheet(
        (file_name(answer.source), *against, ": ", *_foretold(answer.items)),
        [*blocks, Table("Rider by rider", columns, _rows(answer.trials))],
    )


def _foretold(items: Sequence[OverRiders]) -> tuple[str | Cell, ...]:
    if not items:
        return ("no item was ridden by two riders who rode the baseline too, so none is pooled",)
    every = (
        (quoted(one.name, 40), " ", verdict(one.verdict), " for an untested rider") for one in items
    )
    return joined(every, "; ")


def _over(one: OverRiders, answer: SeveralRiders, depth: Depth) -> Iterator[Block]:
    """What riders say of an item; its picture and its character from a depth on."""
    pooled, measure = one.pooled, answer.measure
    lines, name = _drawn(one.results), quoted(one.name)
    unit = f"{SI_UNIT[measure]}{_at_speed(answer.first)}"
    difference = between(one.difference, one.low, one.high, measure)
    mean = (
        f": difference {difference} {unit}, the mean of {pooled.riders} riders; negative is faster"
    )
    if one.predicted_low is None or one.predicted_high is None:
        yield Lines([(name, f"{mean}.")])
    else:
        both = one.predicted_low, one.predicted_high
        low, high = (f"{end:+.{DECIMALS[measure]}f}" for end in both)
        yield Lines([(name, f"{mean}. An untested rider: {low} to {high}.")])
        character = f"{pooled.character}; {pooled.because}."
        whose = (name, ": ") if len(answer.items) > 1 else ()
        said = character if whose else character[0].upper() + character[1:]
        yield Lines([(*whose, said)], "", depth)
        predicted = one.difference, one.predicted_low, one.predicted_high
        lines.append(Drawn("an untested rider", *predicted))
    yield Intervals(lines, one.margin, depth=depth)
    why = f"For an untested rider: {one.verdict}, because {one.because}."
    yield details([why, *pooled.known], "What so many riders show")


# --- what would settle it, and what speaks against it --------------------------------------------


def _open(answer: TrialAnswer) -> Iterator[Line]:
    """Why an item with a high or low chance is undecided all the same."""
    if not isinstance(answer, OneRider):
        return
    items = answer.trial.items
    open_ones = (one for one in items if one.verdict == "undecided" and one.because != ONE_STRETCH)
    chances = [one.chance_faster for one in open_ones]
    if any(chance is not None and abs(chance - 0.5) > NEARLY - 0.5 for chance in chances):
        luck = f"With {len(items)} items tried a high chance can be luck: a" if items[1:] else "A"
        yield f"{luck} verdict needs the whole interval on one side of zero."


def _days(answer: TrialAnswer) -> Iterator[Line]:
    """What is taken for granted of any day, and what the days ridden say of it."""
    trials = answer.trials.values()
    if not isinstance(answer, OneRider):
        if all(trial.days == 1 for trial in trials):
            yield "One day for each rider: changes from day to day are in the range over riders."
        return
    trial = answer.trial
    alone = trial.day_to_day_found
    shows = (
        "" if alone is None else f"your {trial.days} days alone show {shown(alone, trial.measure)}"
    )
    if trial.day_to_day is not None:
        stated = trial.day_to_day_because.startswith(AS_STATED)
        said = [
            "" if stated else "assumed",
            shows,
            "" if stated else "state yours with --day-to-day",
        ]
        yield (
            "The intervals are for any day: a difference is taken to change by"
            f" {shown(trial.day_to_day, trial.measure)} from day to day"
            f" ({'; '.join(part for part in said if part) or 'as stated'})."
        )
    elif trial.day_to_day_because:
        because = trial.day_to_day_because
        yield f"{because[0].upper()}{because[1:]}; {shows}." if shows else f"{because}."
    if trial.days == 1:
        yield from _that_day(trial)


def _that_day(trial: RiderTrial) -> Iterator[Line]:
    """What one day shows of that day."""
    said = [
        (quoted(one.name, 30), f" {_then(one, trial.measure)}")
        for one in trial.items
        if one.low_that_day is not None
    ]
    if said:
        yield "One day shows that day only: ", *joined(said[:MOST_THAT_DAY], "; "), "."


def _then(item: ItemResult, measure: Measure) -> str:
    """A difference on the day ridden."""
    return between(item.difference or 0.0, item.low_that_day, item.high_that_day, measure)


def _what_next(trials: Mapping[str, RiderTrial]) -> Iterator[Line]:
    """How many more days would probably settle what is undecided."""
    rows, riders = _rows(trials), "" not in trials
    by_item = not riders or len({row.item.name for row in rows}) > 1
    more = [
        f"{row.item.further_days}"
        + (f" for {row.item.name}" if by_item else "")
        + (f" on {row.rider}" if row.rider else "")
        for row in rows
        if row.item.further_days
    ]
    first = next(iter(trials.values()))
    level, planned = f"{100 * first.next_level:.3g} %", first.level == first.next_level
    again = first.level == AGAIN
    how = f"{level}, --again" if again or not planned else level
    yield from naming(
        f"More days needed ({how}): " if riders else "More days like these needed: ", more
    )
    if more and not riders:
        judge = ": judge it with --again." if again else ": judge it with the same --looks."
        unplanned = ", unless it was planned: judge it with --again."
        yield f"The next look counts at {level}{judge if planned else unplanned}"


def _outliers(trials: Mapping[str, RiderTrial]) -> Iterator[Line]:
    """What the runs that do not fit change."""
    lines = sorted(one.line for trial in trials.values() for one in trial.outliers)
    if not lines:
        return
    numbers = ", ".join(map(str, lines[:5])) + (" ..." if len(lines) > 5 else "")
    one = len(lines) == 1
    said = f"Line {numbers} does not" if one else f"Lines {numbers} do not"
    said = f"{said} fit the others; without"
    said = f"{said} {'it' if one else 'them'}"
    if any(trial.outliers and not trial.without_outliers for trial in trials.values()):
        yield f"{said} an item has no run left."
    else:
        clean = {rider: trial.fitting for rider, trial in trials.items()}
        yield _compared(said, trials, clean)


def _compared(
    said: str, trials: Mapping[str, RiderTrial], others: Mapping[str, RiderTrial]
) -> Line:
    """What is said of some runs, and which verdicts are other ones with or without them."""
    words = {(row.rider, row.item.name): row.item.said for row in _rows(others)}
    changed = dict.fromkeys(
        row.item.name
        for row in _rows(trials)
        if words.get((row.rider, row.item.name)) != row.item.said
    )
    if changed:
        return (f"{said} the verdict changes for ", *several([*changed]), ".")
    return f"{said} the verdicts are the same."


def _drifts(trials: Mapping[str, RiderTrial]) -> Iterator[Line]:
    """Sessions that drift by more than any difference found."""
    names = [one.session for trial in trials.values() for one in trial.drifts if one.exceeds]
    if names:
        yield (
            "Drift larger than the differences was corrected for in ",
            *several(names, length=30),
            ".",
        )


def _of(rider: str) -> tuple[str | Cell, ...]:
    return (quoted(rider), ": ") if rider else ()


def _warned(trials: Mapping[str, RiderTrial]) -> list[Line]:
    """What could overturn the verdicts."""
    return _each_once({rider: trial.warnings for rider, trial in trials.items()})[:MOST_WARNED]


def _each_once(sentences: Mapping[str, Sequence[str]]) -> list[Line]:
    """Sentences about all riders, each once, with the rider where it is one rider's."""
    riders_of: dict[str, list[str]] = {}
    for rider, said in sentences.items():
        for one in said:
            riders_of.setdefault(one, []).append(rider)
    return [
        (*_of("" if len(riders) == len(sentences) else ", ".join(riders)), quoted(one))
        for one, riders in riders_of.items()
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
        yield from _day_to_day(rider, trial)
        for drift in trial.drifts:
            change = shown(drift.change, trial.measure, sign=True)
            if float(change.split()[0]):
                drifted = f" the runs drifted by {change}; this is removed."
                yield "Within session ", quoted(drift.session), drifted
    first = next(iter(trials.values()))
    if first.margin is not None:
        yield (
            f"Less than {shown(first.margin, first.measure)} does not matter:"
            f" {first.margin_because}."
        )
    yield (
        f"Difference: item minus baseline, negative is faster, with its"
        f" {100 * first.confidence:.3g} % interval on any day for all items together. Chance: that"
        " it is faster at all, each item taken alone. More days needed: like those ridden, would"
        f" settle it 8 times in 10 if the true difference is the one found, judged at"
        f" {100 * first.next_level:.3g} %, so that looking again fools nobody."
    )


def _day_to_day(rider: str, trial: RiderTrial) -> Iterator[Line]:
    """How much a difference changes from day to day, as assumed and as found."""
    if trial.day_to_day is not None:
        yield (
            *_of(rider),
            f"From day to day a difference is taken to change by"
            f" {shown(trial.day_to_day, trial.measure)} (one standard deviation):"
            f" {trial.day_to_day_because}. It counts as {COUNTED_DAYS:g} degrees of freedom, which"
            " the days ridden correct.",
        )
    if trial.day_to_day_found is not None:
        found, df = shown(trial.day_to_day_found, trial.measure), trial.day_to_day_found_df
        counts = f"{df} degree{'s' if df > 1 else ''} of freedom"
        yield *_of(rider), f"The {trial.days} days alone show a change of {found} ({counts})."


def left_out_lines(answer: TrialAnswer) -> Iterator[Line]:
    """Each run that is left out, with its value and why."""
    for one in answer.left_out:
        whose = quoted(f"{one.item}, {one.rider}" if one.rider else one.item)
        value = f", {one.value:.6g} {answer.unit}: "
        yield f"line {one.line}, ", whose, value, quoted(one.reason)


def _left_out(answer: TrialAnswer) -> Iterator[Block]:
    """The runs that the tester leaves out, and the answer with them."""
    other = answer.with_all
    if other is None:
        return
    said = f"Runs that the tester left out: {len(answer.left_out)}; with them"
    yield Lines([_compared(said, answer.trials, other.trials)])
    yield details(left_out_lines(answer), "Left out by the tester")
    rider = None if isinstance(other, OneRider) else Words("rider", "rider")
    yield Table(
        "The same with the runs that were left out",
        [rider, *_short(other.measure, "item.")],
        _rows(other.trials),
    )


# --- ``racecalc trial`` on a sweep over yaw, and what an option of a race rests on ---------------

AREA_WIDTH = 16
"""Columns of a drag area with its error, to which the names above it are broken."""

BEST_YAW = (
    "Which yaw counts depends on course and wind: --race RACE weights the sweep by the yaw that"
    " the race meets. The best yaw alone is not the saving."
)
LOOK_AT_CLAIMS = (
    "Ask who states it: how many runs, over how many sessions and riders, at which speed and"
    " yaw, against what, and who paid for the test.",
    "F8 Ask, decide: what a test of your own is worth. F8 Ask, plan: how many runs it takes.",
)


def sweep_sheet(answer: SweepAnswer) -> Sheet:
    """What the items save by the yaw of a race, and their drag areas yaw by yaw."""
    saved = {one.name: _saving(one) for one in answer.saved}
    area = Number("drag area\nm^2", "area", form=f".{DECIMALS['cda']}f")

    def saves(row: WeightedArea) -> Cell:
        return saved.get(row.name, Cell("baseline"))

    items = [ITEM, area, Made("saves\nm^2 (95 %)", "", saves)]
    return Sheet(
        _headline(answer),
        [
            Table("", items, answer.weighted, "", Depth.ANSWER, 9, "weighted"),
            Lines([*_mind(answer)]),
            _by_yaw(answer),
            Table("The sweep and the field runs", CHECKS, answer.checks, path="checks"),
            grounds(_grounds_of_sweep(answer), "What it rests on"),
        ],
        explained=lambda: _explained_sweep(answer),
    )


def _explained_sweep(answer: SweepAnswer) -> Iterator[ExplainedStep]:
    areas = ", ".join(f"{one.name} {one.area:.4f} m^2" for one in answer.weighted[:2])
    race, items = answer.race or "the sweep alone", len(answer.items)
    yield from explained("sweep", areas=areas or "none without --race", race=race, items=items)
    for one in answer.saved[:2]:
        doubt = one.doubt or 0.0
        yield from explained("sweep saving", name=one.name, saving=one.saving, doubt=doubt)


def _saving(saved: Saved, key: str = "") -> Cell:
    text = between(saved.saving, *interval(saved.saving, saved.doubt), "cda")
    return Cell(text, "strong" if key else "", saved.saving, key)


ITEM = Words("item", "name")
CHECKS = [
    ITEM,
    Made("sweep saves\nm^2 (95 %)", "", lambda row: _saving(row.sweep)),
    Made("field saves\nm^2 (95 %)", "", lambda row: _saving(row.field)),
    Words("both", "agreement.verdict"),
]


def _headline(answer: SweepAnswer) -> Line:
    file = file_name(answer.source)
    if answer.race is None:
        items = f"{len(answer.items)} items; what they save depends on yaw"
        return file, f", a sweep over yaw of {items}"
    best = max(answer.saved, key=lambda one: one.saving, default=None)
    if best is None:
        return file, ": one item only, so there is nothing to compare"
    saving = _saving(best, f"saved/{answer.saved.index(best)}/saving")
    race, name = quoted(answer.race, 34), quoted(best.name, 40)
    return file, ", weighted by the yaw of ", race, ": ", name, " saves ", saving, " m^2"


def _mind(answer: SweepAnswer) -> Iterator[Line]:
    """What could overturn the answer."""
    if answer.race is None:
        yield BEST_YAW
    elif answer.weighted[0].outside:
        area = answer.weighted[0]
        yield (
            f"For {100 * area.outside:.0f} % of the time the yaw is outside the sweep"
            f" ({math.degrees(area.lowest_yaw):.0f} to {math.degrees(area.highest_yaw):.0f} deg);"
            " the value at its end is used there."
        )
    for one in answer.checks:
        agreement = f"{math.degrees(one.at_yaw):.1f} deg: {one.agreement.words}."
        yield quoted(one.name), f" compared with the field runs, at their yaw of {agreement}"


def _area_at(sweep: Sweep) -> Callable[[float], str]:
    """Text of the drag area of an item at a yaw [rad]."""
    texts = {
        one.yaw: f"{one.area:.4f}" + (f" ({ends[0]:.4f} to {ends[1]:.4f})" if ends else "")
        for one, ends in zip(sweep.points, sweep.intervals, strict=True)
    }
    return lambda yaw: texts.get(yaw, "-")


def _by_yaw(answer: SweepAnswer) -> Table:
    known = any(sweep.scatter for sweep in answer.items)
    names = ["\n".join(wrap(sweep.name, AREA_WIDTH)) for sweep in answer.items]
    areas = zip(names, map(_area_at, answer.items), strict=True)
    return Table(
        "Yaw by yaw" if answer.race else "",
        [
            Made("yaw\ndeg", "", lambda yaw: f"{math.degrees(yaw):+.1f}"),
            *(Made(name, "", area) for name, area in areas),
        ],
        sorted({one.yaw for sweep in answer.items for one in sweep.points}),
        "Axial drag area in m^2 with the 95 % interval of the mean, by the scatter of all repeats."
        if known
        else "Axial drag area in m^2. No yaw was repeated, or all repeats agree to the last digit:"
        " the doubt is unknown.",
        Depth.DETAILS if answer.race else Depth.ANSWER,
        most=9,
    )


def _grounds_of_sweep(answer: SweepAnswer) -> Iterator[Line]:
    first = answer.items[0]
    if first.folded:
        yield "Only one side was measured; it is used for both."
    else:
        yield "Where only one side was measured at a yaw, the other takes its value."
    if first.scatter is not None:
        yield (
            f"A single run scatters by {first.scatter:.4f} m^2 (one standard deviation,"
            f" {first.df} degrees of freedom, the repeats of all items together); intervals are"
            " Student's t."
        )
    if answer.race is not None:
        yield (
            "Each step of the course is weighted by the time that drag costs there; between two"
            " yaws of the sweep the drag area is interpolated linearly."
        )
    yield HOLDS_FOR


# --- what an option rests on ---------------------------------------------------------------------


def evidence_sheet(value: OptionValue, found: TrialAnswer | SweepAnswer | None) -> Sheet:
    """What is known of an option, and from what: its runs, its sweep, or a bare claim."""
    if found is None:
        return Sheet(gain_line(value), [*_claim(value.option)])
    inner = sweep_sheet(found) if isinstance(found, SweepAnswer) else trial_sheet(found)
    about = Lines([inner.headline, *size_lines([value.option])])
    return Sheet(gain_line(value), [about, *inner.blocks])


def with_other_runs(
    saved: OptionValue, value: OptionValue, found: TrialAnswer | SweepAnswer | None, left_out: str
) -> Sheet:
    """What an option rests on where runs are left out otherwise than its sheet says."""
    sheet = evidence_sheet(value, found)
    before = Lines([("As the sheet is: ", *gain_line(saved)), left_out])
    return replace(sheet, blocks=[before, *sheet.blocks])


def _claim(option: Option) -> Iterator[Block]:
    if option.saves is None:
        yield Lines(["It states no saving; only its weight counts."])
        return
    yield Lines([*size_lines([option])])
    doubt = option.doubt.words if option.doubt else "none stated"
    yield Lines(
        [
            ("It rests on a claim, not on runs: saves ", quoted(option.saves.words), "."),
            ("Doubt (one standard uncertainty): ", quoted(doubt), "."),
        ]
    )
    yield Lines(LOOK_AT_CLAIMS, "Before you believe it")
