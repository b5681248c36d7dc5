"""``racecalc trial`` on a sweep over yaw, and what an option of a race rests on."""

import math
from collections.abc import Callable, Iterator
from textwrap import wrap

from racecalc.answers.cells import Cell, quoted
from racecalc.answers.columns import Made, Number, Words
from racecalc.answers.option_rows import gain_line
from racecalc.answers.sheet import Block, Depth, Line, Lines, Sheet, Table
from racecalc.answers.trial import HOLDS_FOR, between, file_name, trial_sheet
from racecalc.decisions.evidence.judging import DECIMALS
from racecalc.decisions.evidence.sweep import Saved, Sweep, SweepAnswer
from racecalc.decisions.evidence.trial import TrialAnswer
from racecalc.decisions.value import OptionValue
from racecalc.decisions.verdicts import interval
from racecalc.domain.option import Option

AREA_WIDTH = 16
"""Columns of a drag area with its error, to which the names above it are broken."""

BEST_YAW = (
    "Which yaw counts depends on course and wind: --race RACE weights the sweep by the yaw that"
    " the race meets. The best yaw alone is no saving."
)
LOOK_AT_CLAIMS = (
    "Ask whoever states it: how many runs, over how many sessions and riders, at which speed and"
    " yaw, against what, and who paid for the test.",
    "What an own test before buying is worth: Ask, decide; how many runs it takes: Ask, plan.",
)


# --- a sweep over yaw ----------------------------------------------------------------------------


def sweep_sheet(answer: SweepAnswer) -> Sheet:
    """What the items save by the yaw of a race, and their drag areas yaw by yaw."""
    saved = {one.name: _saving(one) for one in answer.saved}
    return Sheet(
        _headline(answer),
        [
            Table(
                "",
                [
                    Words("item", "name"),
                    Number("drag area\nm^2", "area", form=f".{DECIMALS['cda']}f"),
                    Made(
                        "saves\nm^2 (95 %)", "", lambda row: saved.get(row.name, Cell("baseline"))
                    ),
                ],
                answer.weighted,
                "",
                Depth.ANSWER,
                most=9,
                path="weighted",
            ),
            Lines([*_mind(answer)]),
            _by_yaw(answer),
            Table(
                "The sweep and the field runs",
                [
                    Words("item", "name"),
                    Made("sweep saves\nm^2 (95 %)", "", lambda row: _saving(row.sweep)),
                    Made("field saves\nm^2 (95 %)", "", lambda row: _saving(row.field)),
                    Words("both", "agreement.verdict"),
                ],
                answer.checks,
                path="checks",
            ),
            Lines([*_grounds(answer)], "What it rests on", Depth.BASIS),
        ],
    )


def _saving(saved: Saved, key: str = "") -> Cell:
    text = between(saved.saving, *interval(saved.saving, saved.doubt), "cda")
    return Cell(text, "strong" if key else "", saved.saving, key)


def _headline(answer: SweepAnswer) -> Line:
    if answer.race is None:
        return (
            file_name(answer.source),
            f", a sweep over yaw of {len(answer.items)} items; what they save depends on yaw",
        )
    best = max(answer.saved, key=lambda one: one.saving, default=None)
    if best is None:
        return (file_name(answer.source), ": one item only, so there is nothing to compare")
    return (
        file_name(answer.source),
        ", by the yaw of ",
        quoted(answer.race, 34),
        ": ",
        quoted(best.name, 40),
        " saves ",
        _saving(best, f"saved/{answer.saved.index(best)}/saving"),
        " m^2",
    )


def _mind(answer: SweepAnswer) -> Iterator[Line]:
    """What could overturn the answer."""
    if answer.race is None:
        yield BEST_YAW
    elif answer.weighted[0].outside:
        area = answer.weighted[0]
        yield (
            f"For {100 * area.outside:.0f} % of the time the yaw lies outside the sweep"
            f" ({math.degrees(area.lowest_yaw):.0f} to {math.degrees(area.highest_yaw):.0f} deg);"
            " its end value is used there."
        )
    for one in answer.checks:
        yield (
            quoted(one.name),
            " held against the field runs, at their yaw of"
            f" {math.degrees(one.at_yaw):.1f} deg: {one.agreement.words}.",
        )


def _area_at(sweep: Sweep) -> Callable[[float], str]:
    """Text of the drag area of an item at a yaw [rad]."""
    texts = {
        one.yaw: f"{one.area:.4f}" + ("" if error is None else f" +- {error:.4f}")
        for one, error in zip(sweep.points, sweep.standard_error, strict=True)
    }
    return lambda yaw: texts.get(yaw, "-")


def _by_yaw(answer: SweepAnswer) -> Table:
    known = any(sweep.scatter for sweep in answer.items)
    return Table(
        "Yaw by yaw" if answer.race else "",
        [
            Made("yaw\ndeg", "", lambda yaw: f"{math.degrees(yaw):+.1f}"),
            *(
                Made("\n".join(wrap(sweep.name, AREA_WIDTH)), "", _area_at(sweep))
                for sweep in answer.items
            ),
        ],
        sorted({one.yaw for sweep in answer.items for one in sweep.points}),
        "Axial drag area in m^2 +- one standard error of the mean, from the scatter of all repeats."
        if known
        else "Axial drag area in m^2. No yaw was repeated, or all repeats agree to the last digit:"
        " nothing tells the doubt.",
        Depth.DETAILS if answer.race else Depth.ANSWER,
        most=9,
    )


def _grounds(answer: SweepAnswer) -> Iterator[Line]:
    first = answer.items[0]
    if first.folded:
        yield "Only one side was measured, and counts for both."
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
            "Each step of the course counts by what drag costs in time there; between two yaws of"
            " the sweep the drag area is taken as a straight line."
        )
    yield HOLDS_FOR


# --- what an option rests on ---------------------------------------------------------------------


def evidence_sheet(value: OptionValue, found: TrialAnswer | SweepAnswer | None) -> Sheet:
    """What is known of an option, and from what: its runs, its sweep, or a bare claim."""
    if found is None:
        return Sheet(gain_line(value), [*_claim(value.option)])
    inner = sweep_sheet(found) if isinstance(found, SweepAnswer) else trial_sheet(found)
    return Sheet(gain_line(value), [Lines([inner.headline]), *inner.blocks])


def _claim(option: Option) -> Iterator[Block]:
    if option.saves is None:
        yield Lines(["It states no saving; only its weight counts."])
        return
    doubt = option.doubt.words if option.doubt else "none stated"
    yield Lines(
        [
            ("It rests on a claim and not on runs: saves ", quoted(option.saves.words), "."),
            ("Standard uncertainty: ", quoted(doubt), "."),
        ]
    )
    yield Lines(LOOK_AT_CLAIMS, "Before you believe it")
