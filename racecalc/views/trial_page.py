"""``racecalc trial`` as text."""

from collections.abc import Mapping

from racecalc.decisions.evidence.answers import OverRiders, TrialAnswer, saving_of
from racecalc.decisions.evidence.findings import ItemResult, Trial, shown
from racecalc.domain.trial import SI_UNIT, Measure
from racecalc.views.intervals import Drawn, interval_chart
from racecalc.views.tables import bullets, chance_text, paragraph, table

CAUTION = (
    "Test on quiet roads or a track, look up, obey the law, and do not chase a reading. A result"
    " holds for this rider, fit, speed and yaw."
)


def trial_text(found: TrialAnswer) -> str:
    """Differences, intervals and verdicts, and what one should know about them."""
    one = found.only
    text = _one_rider(one) + _shrunken_text(found) if one else _riders_text(found)
    return text + _left_out_text(found) + "\n" + paragraph(CAUTION)


def _riders_text(found: TrialAnswer) -> str:
    baseline = next(iter(found.trials.values())).baseline.name
    text = f"{found.source}: {len(found.trials)} riders, against {baseline}\n\n"
    if not found.over_riders:
        text += paragraph("No item was ridden by two riders beside the baseline: none is pooled.")
    text += "".join(_several_riders(found, one) for one in found.over_riders)
    return (
        text
        + "Rider by rider\n"
        + _rider_table(found)
        + "\n"
        + paragraph(
            "Difference is item minus baseline, so below zero is faster, with the interval that"
            " the verdict of this rider rests on."
        )
        + bullets("Mind", _riders_notes(found))
    )


def _riders_notes(found: TrialAnswer) -> list[str]:
    """The notes of all riders, each once, with the rider where it is one rider's."""
    said: dict[str, list[str]] = {}
    for rider, trial in found.trials.items():
        for note in trial.notes:
            said.setdefault(note, []).append(rider)
    everyone = len(found.trials)
    return [
        note if len(riders) == everyone else f"{', '.join(riders)}: {note}"
        for note, riders in said.items()
    ]


def _one_rider(trial: Trial) -> str:
    base = trial.baseline
    mean = shown(base.mean, trial.measure)
    rows: list[tuple[str, ...]] = [(base.name, str(base.runs), mean, "-", "-", "baseline")]
    rows += [_item_row(item, trial.measure) for item in trial.items]
    text = (
        paragraph(f"{trial.source}: against {base.name}")
        + "\n"
        + table(("<item", "runs", "mean", "difference", "chance", "<verdict"), rows)
    )
    lines = _lines({item.name: item for item in trial.items})
    if lines:
        text += "\n" + interval_chart(lines, trial.margin, "faster", "slower")
    return (
        text
        + "\n"
        + paragraph(
            f"Difference is item minus baseline, with its {_percent(1 - trial.level)} interval for"
            " all items together; chance that it is faster at all, taken alone."
        )
        + bullets("Why these verdicts", [_reason(item) for item in trial.items])
        + bullets("What the verdicts rest on", _grounds(trial))
        + bullets("Mind", trial.notes)
        + _without_outliers(trial)
    )


def _item_row(item: ItemResult, measure: Measure) -> tuple[str, ...]:
    return (
        item.name,
        str(item.runs),
        shown(item.mean, measure),
        _interval(item.difference, item.low, item.high, measure),
        "?" if item.chance_faster is None else chance_text(item.chance_faster),
        item.verdict,
    )


def _interval(best: float | None, low: float | None, high: float | None, measure: Measure) -> str:
    if best is None:
        return "?"
    text = shown(best, measure, sign=True).split()[0]
    if low is None or high is None:
        return text
    ends = (shown(end, measure, sign=True).split()[0] for end in (low, high))
    return f"{text} ({' to '.join(ends)})"


def _percent(share: float) -> str:
    return f"{100 * share:.3g} %"


def _reason(item: ItemResult) -> str:
    more = ""
    if item.further_runs:
        count = "One more run" if item.further_runs == 1 else f"About {item.further_runs} more runs"
        more = f" {count} of it, and as many of the baseline, would probably settle it."
    return f"{item.name}: {item.verdict}. {item.because[:1].upper()}{item.because[1:]}.{more}"


def _grounds(trial: Trial) -> list[str]:
    lines = []
    if trial.repeatability is not None:
        lines.append(
            f"A single run repeats to {shown(trial.repeatability, trial.measure)} (one standard"
            f" deviation, {_freedom(trial.repeatability_df)}):"
            f" {trial.repeatability_because}."
        )
    if trial.margin is not None:
        lines.append(
            f"Less than {shown(trial.margin, trial.measure)} does not matter:"
            f" {trial.margin_because}."
        )
    lines += [
        f"Within session {drift.session} the runs drifted by"
        f" {shown(drift.change, trial.measure, sign=True)}; this is taken out."
        for drift in trial.drifts
        if float(shown(drift.change, trial.measure).split()[0])
    ]
    return lines


def _freedom(df: float) -> str:
    return "1 degree of freedom" if df == 1 else f"{df:.3g} degrees of freedom"


def _without_outliers(trial: Trial) -> str:
    if trial.without_outliers is None:
        return ""
    return "\nThe same without the runs that do not fit\n" + _short_table(trial.without_outliers)


def _short_table(trial: Trial) -> str:
    rows = [
        (item.name, _interval(item.difference, item.low, item.high, trial.measure), item.verdict)
        for item in trial.items
    ]
    return table(("<item", "difference", "<verdict"), rows)


def _left_out_text(found: TrialAnswer) -> str:
    """The runs that the tester leaves out, and the answer with them."""
    if found.with_all is None:
        return ""
    runs = [
        f"line {one.line}, {one.item}{f', {one.rider}' if one.rider else ''},"
        f" {shown(one.value, found.measure)}: {one.reason}"
        for one in found.left_out
    ]
    return (
        bullets("Left out by the tester", runs)
        + "\nThe same with the runs that were left out\n"
        + "".join(
            (f"{rider}\n" if rider else "") + _short_table(trial)
            for rider, trial in found.with_all.trials.items()
        )
    )


def _shrunken_text(found: TrialAnswer) -> str:
    trial, shrunken = found.only, found.shrunken
    if trial is None or shrunken is None:
        return ""
    trial = trial.fitting
    items = [item for item in trial.items if saving_of(item)]
    columns = zip(items, shrunken.raw, shrunken.shrunken, shrunken.doubt, strict=True)
    rows = [
        (
            item.name,
            shown(-raw, trial.measure, sign=True),
            f"{shown(-believed, trial.measure, sign=True)} +- {shown(doubt, trial.measure)}",
        )
        for item, raw, believed, doubt in columns
    ]
    return (
        "\nThe best of several looks better than it is\n"
        + table(("<item", "as measured", "as to be believed"), rows)
        + "\n"
        + paragraph(f"{shrunken.why} By the runs that fit; +- is one standard uncertainty.")
    )


def _several_riders(found: TrialAnswer, over: OverRiders) -> str:
    pooled, measure = over.pooled, found.measure
    lines = _lines(over.results)
    rows = [("all riders, their mean", _interval(pooled.saving, pooled.low, pooled.high, measure))]
    if pooled.prediction:
        ahead = pooled.prediction
        lines.append(Drawn("an untested rider", -pooled.saving, -ahead.high, -ahead.low))
        loss = "more than the margin" if over.margin else "anything"
        rows += [
            ("an untested rider", _interval(pooled.saving, ahead.low, ahead.high, measure)),
            ("chance that it is faster", chance_text(ahead.chance_faster)),
            (f"chance that it costs {loss}", chance_text(ahead.chance_of_loss)),
        ]
    return (
        f"{over.name} on {pooled.riders} riders\n"
        + table((f"<saving [{SI_UNIT[measure]}], more is faster", "with its 95 % interval"), rows)
        + "\n"
        + interval_chart(lines, over.margin, "faster", "slower")
        + "\n"
        + paragraph(f"For an untested rider: {over.verdict}, because {over.because}.")
        + paragraph(f"{over.name}: {pooled.character}; {pooled.because}.")
        + bullets("What so many riders tell", pooled.known)
        + "\n"
    )


def _rider_table(found: TrialAnswer) -> str:
    rows = [
        (rider, *_item_row(item, found.measure))
        for rider, trial in found.trials.items()
        for item in trial.items
    ]
    return table(("<rider", "<item", "runs", "mean", "difference", "chance", "<verdict"), rows, 1)


def _lines(results: Mapping[str, ItemResult]) -> list[Drawn]:
    """What can be drawn of them, in their order."""
    return [
        Drawn(name, item.difference, item.low, item.high)
        for name, item in results.items()
        if item.difference is not None
    ]
