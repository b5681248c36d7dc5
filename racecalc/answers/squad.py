"""One question about several races, as those of a squad: a row for each."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from racecalc.answers.cells import quoted
from racecalc.answers.columns import Clock, Column, Made, Number, Quantity, saved_text, time_span
from racecalc.answers.pace import PaceAnswer
from racecalc.answers.sheet import Depth, Lines, Sheet, Table, grounds
from racecalc.answers.time import TimeAnswer
from racecalc.answers.value import ValueAnswer
from racecalc.decisions.verdicts import interval_of
from racecalc.quantities.plain_text import one_line
from racecalc.quantities.showing import System


@dataclass(frozen=True)
class SquadAnswer:
    """The answers about several races."""

    races: tuple[Any, ...]
    """One for each race file, in their order."""


def squad_sheet(answer: SquadAnswer, units: System) -> Sheet:
    """The answers next to each other, and what is to be minded in each."""
    found = answer.races
    minded = [
        (quoted(one.basis.title), f": {said}") for one in found for said in one.basis.warnings
    ]
    files = [
        (quoted(one.basis.title), f": {line}") for one in found for line in one.basis.by_source
    ]
    said = f"{len(found)} races: {_headline(found)}"
    return Sheet(
        said,
        [TABLES[type(found[0])](found), Lines(minded, "Mind"), grounds(files, "Assumed")],
        units,
    )


def _headline(found: Sequence[Any]) -> str:
    if isinstance(found[0], ValueAnswer):
        return "what each option saves, in 95 of 100 cases between"
    timed = isinstance(found[0], TimeAnswer)
    times = [one.timed.time_s if timed else one.found.card.time_s for one in found]
    return time_span(min(times), max(times))


RACE = Made("race", "", lambda one: quoted(one.basis.title), left=True)


def _within(one: TimeAnswer) -> str:
    ends = interval_of(one.timed.time_s, one.timed.model_error_s)
    if one.band is not None:
        ends = one.band.spread.low_95_s, one.band.spread.high_95_s
    return time_span(*ends)


TIME = [
    RACE,
    Clock("time", "timed.time_s"),
    Made("likely\nbetween", "", _within),
    Quantity("", "timed.mean_speed_m_s", what="speed"),
    Number("W", "timed.mean_power_w", form=".0f"),
    Made("s/W", "", lambda one: f"{-one.ridden.time_by_power:.1f}"),
]
PACE = [
    RACE,
    Clock("card", "found.card.time_s"),
    Clock("even power", "found.card.constant_power_time_s"),
    Number("W", "found.card.mean_power_w", form=".0f"),
]


def _times(found: Sequence[TimeAnswer]) -> Table:
    note = (
        "Likely between: in 95 of 100 cases, by the doubt of the model alone where a race file"
        " states no other."
    )
    return Table("", TIME, found, note, Depth.ANSWER, path="races")


def _paced(found: Sequence[PaceAnswer]) -> Table:
    note = "Each card by itself: racecalc pace RACE."
    return Table("", PACE, found, note, Depth.ANSWER, path="races")


@dataclass(frozen=True)
class _Row:
    name: str
    saved: dict[int, str]
    """By the number of the race."""


def _values(found: Sequence[ValueAnswer]) -> Table:
    """The options as rows, the races as columns."""
    names = dict.fromkeys(one.option.name for answer in found for one in answer.ranked)
    known = [{one.option.name: saved_text(one) for one in answer.options} for answer in found]
    rows = [
        _Row(name, {number: one[name] for number, one in enumerate(known) if name in one})
        for name in names
    ]

    def column(number: int, answer: ValueAnswer) -> Column:
        heading = one_line(answer.basis.race, most=16)
        return Made(heading, "", lambda row: row.saved.get(number, "-"))

    columns = [
        Made("option", "", lambda row: quoted(row.name), left=True),
        *(column(number, answer) for number, answer in enumerate(found)),
    ]
    note = "Seconds saved on each course, by each rider; -: no option of that race."
    return Table("", columns, rows, note, Depth.ANSWER)


TABLES: dict[type, Callable[[Sequence[Any]], Table]] = {
    TimeAnswer: _times,
    PaceAnswer: _paced,
    ValueAnswer: _values,
}
