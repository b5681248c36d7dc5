"""What each verdict rests on: the words of its claim or its test, and the tests drawn."""

from collections.abc import Iterator
from functools import partial

import numpy as np

from racecalc.decisions.advice.advice import Advice
from racecalc.decisions.advice.shopping import Advised
from racecalc.decisions.evidence.judging import DECIMALS, ItemResult
from racecalc.decisions.evidence.sweep import Sweep, SweepAnswer
from racecalc.decisions.evidence.trial import SeveralRiders, TrialAnswer
from racecalc.decisions.value import OptionValue
from racecalc.domain.trial import SI_UNIT, Measure
from racecalc.views.advice.charts import Bar, Swept, draw_bars, draw_sweep
from racecalc.views.advice.options_part import ranked
from racecalc.views.advice.sheet import Block, Figure, Items, Line, Paragraph, Section, Words

MOST_SWEPT = 4
"""Items of a sweep that can be told apart in black and white."""

LONGEST_BARS = 24
"""Rows of a chart at most; whoever wants more asks ``trial``."""


def evidence_section(advice: Advice) -> tuple[Section, ...]:
    """Behind each verdict, what is known and from what; nothing where there are no options."""
    if not advice.values:
        return ()
    reasons = Items(tuple(_reasons(value, advised) for _, value, advised in ranked(advice)))
    blocks = (reasons, *_sets(advice), *_tests(advice), *_sure(advice))
    return (Section("evidence", "Why: the evidence", blocks),)


def _sets(advice: Advice) -> Iterator[Block]:
    """Tests of several options as one, which count instead of their parts."""
    lines = tuple(
        (
            Words(" and ".join(test.set_of)),
            ", tested as one: saves ",
            Words(test.saves.words if test.saves else "what its runs say"),
            ", doubt (one standard uncertainty) ",
            Words(test.doubt.words) if test.doubt else "none stated",
            ".",
        )
        for test in advice.race.tested_sets
    )
    if lines:
        yield Items(lines)


def _reasons(value: OptionValue, advised: Advised) -> Line:
    """All that speaks for what is advised about an option, and what to mind."""
    option = value.option
    rests = option.saves.words if option.saves else "nothing but its weight"
    if option.trial is not None:
        rests = rests.replace(option.trial.source, str(_file(option.trial.source)))
    doubt = option.doubt.words if option.doubt else "none stated"
    rules = {"not checked": "nobody has checked the rules", "forbidden": "the rules forbid it"}
    mind = [
        rules.get(option.restrictions.rules, ""),
        *value.assumptions,
        option.note,
        option.comfort,
    ]
    told = "; ".join(one.rstrip(".") for one in mind if one)
    return (
        Words(option.name),
        f": {advised.do}, because ",
        Words(advised.because),
        ". It rests on ",
        Words(rests),
        ", doubt (one standard uncertainty) ",
        Words(doubt),
        f". Verdict: {value.verdict}, because ",
        Words(value.because),
        *((". Mind: ", Words(told)) if told else ()),
        ".",
    )


def _tests(advice: Advice) -> Iterator[Block]:
    """Each test once, whatever the number of options that rest on it."""
    found = {one.source: one for one in advice.evidence if one is not None}
    for number, test in enumerate(found.values(), 1):
        if isinstance(test, SweepAnswer):
            yield _sweep(f"test{number}", test)
        else:
            yield from _trial(f"test{number}", test)


def _trial(name: str, found: TrialAnswer) -> Iterator[Figure]:
    if isinstance(found, SeveralRiders):
        for number, over in enumerate(found.items, 1):
            bars = [bar for rider, one in over.results.items() if (bar := _bar(rider, one))]
            foretold = over.pooled.prediction
            if foretold is not None:
                bars.append(
                    Bar("an untested rider", over.pooled.saving, foretold.low, foretold.high, False)
                )
            title = f"{Words(over.name, 40)} on each rider, {_file(found.source)}"
            yield _bars(f"{name}-{number}", title, bars, found.measure, over.margin)
    else:
        trial = found.trial
        bars = [bar for item in trial.items if (bar := _bar(item.name, item))]
        title = f"{_file(found.source)}, against {Words(trial.baseline.name, 40)}"
        yield _bars(name, title, bars, found.measure, trial.margin)


def _file(source: str) -> Words:
    return Words(source.replace("\\", "/").rpartition("/")[2], 40)


def _bar(name: str, result: ItemResult) -> Bar | None:
    """A result as a saving, to the right where it is faster; None where nothing is known."""
    saved = result.saved
    if saved is None:
        return None
    return Bar(name, *saved, result.verdict in ("faster", "slower"))


def _bars(name: str, title: str, bars: list[Bar], measure: Measure, margin: float | None) -> Figure:
    shown = bars[:LONGEST_BARS]
    unit, decimals = SI_UNIT[measure], DECIMALS[measure]

    def number(value: float | None) -> str:
        return "not known" if value is None else f"{value:+.{decimals}f}"

    told = "; ".join(
        f"{Words(bar.name, 40)} {number(bar.at)} ({number(bar.low)} to {number(bar.high)})"
        for bar in shown
    )
    left_out = f" The first {LONGEST_BARS} of {len(bars)}." if len(shown) < len(bars) else ""
    return Figure(
        name,
        (Words(title), f", saved in {unit} with the 95 % interval: ", Words(told), "."),
        (
            Words(title),
            f". Saved, in {unit}, with the 95 % interval of the test; right of the line is faster,"
            f" and the grey band does not matter either way. Full dots are proved.{left_out}",
        ),
        partial(draw_bars, bars=shown, axis=f"saved [{unit}]", margin=margin),
    )


def _sweep(name: str, found: SweepAnswer) -> Figure:
    swept = [
        Swept(
            one.name,
            [float(np.degrees(point.yaw)) for point in one.points],
            [point.area for point in one.points],
            _errors(one),
        )
        for one in found.items[:MOST_SWEPT]
    ]
    told = "; ".join(
        f"{Words(one.name, 40)} from {min(one.area_m2):.4f} to {max(one.area_m2):.4f} m^2"
        for one in swept
    )
    file, count = _file(found.source), len(found.items)
    left_out = f" The first {MOST_SWEPT} of {count} items." if count > MOST_SWEPT else ""
    return Figure(
        name,
        (file, ", drag area over yaw: ", Words(told), "."),
        (
            file,
            ". Drag area over yaw, with one standard error. What it is worth here depends on the"
            f" yaw that this wind makes on this course.{left_out}",
        ),
        partial(draw_sweep, swept=swept),
    )


def _errors(sweep: Sweep) -> list[float] | None:
    known = [error for error in sweep.standard_error if error is not None]
    return known if len(known) == len(sweep.points) else None


def _sure(advice: Advice) -> Iterator[Block]:
    """What the doubts of the race itself do, and where the advice on tests would change."""
    if advice.band is not None:
        causes = ", ".join(
            f"{cause.words} {100 * cause.share:.0f} %" for cause in advice.band.causes[:5]
        )
        yield Items(((f"The doubt of the finish time comes from: {causes}.",),))
    decision = advice.decision
    if decision is None:
        if advice.no_decision:
            yield Items((("Whether a test pays is not worked out: ", Words(advice.no_decision)),))
        return
    currency = decision.question.per_second.currency
    edges = tuple(
        (
            Words(slot.slot),
            f": {more} than {edge.per_second:.3g} {currency} to you: ",
            Words(edge.becomes.words),
            ".",
        )
        for slot in decision.slots
        for edge, more in ((slot.edges.below, "less"), (slot.edges.above, "more"))
        if edge and slot.edges.near
    )
    if edges:
        near = "Slot by slot, the advice stands near another one. If a second is worth"
        yield Paragraph((near,))
        yield Items(edges)
