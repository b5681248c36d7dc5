"""Two versions of a race compared, and one of them at first sight."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Annotated, Any

from racecalc.answers.basis import Basis
from racecalc.answers.cells import Cell, naming, quoted
from racecalc.answers.columns import (
    LONG,
    Column,
    Made,
    Number,
    Seconds,
    Share,
    Verdict,
    Words,
    seconds_text,
    shown_apart,
)
from racecalc.answers.sheet import Block, Depth, Line, Lines, Sheet, Table
from racecalc.answers.time import (
    HOLDS_FOR,
    SPLITS,
    PerUnit,
    TimeAnswer,
    spent,
    time_basis,
    time_details,
    time_lines,
    unit_for,
)
from racecalc.decisions.comparison import Comparison, NumberPair, Outlook, RatePair, compared
from racecalc.decisions.doubt import TimeBand
from racecalc.decisions.explain import ExplainedStep, explain_ride, explained
from racecalc.files.draft import Draft
from racecalc.files.race_writing import as_typed
from racecalc.quantities.clock import show_duration
from racecalc.quantities.plain_text import one_line
from racecalc.quantities.showing import DISPLAYS, System, What, show, show_number, shown_unit
from racecalc.written import HIDDEN, SPREAD


@dataclass(frozen=True)
class InputChange:
    """A value that two race files give differently, as they write it."""

    where: str
    """Which value."""
    before: str
    after: str
    """In the first file and in the second; "-" for none."""


@dataclass(frozen=True)
class CompareAnswer:
    """Two versions of a race compared."""

    names: tuple[str, str]
    """What they are called."""
    inputs: tuple[InputChange, ...]
    """What the race files give differently."""
    found: Annotated[Comparison, SPREAD]
    """What that does to the answers."""
    outlooks: Annotated[tuple[Outlook, Outlook], HIDDEN]
    """Both, worked out."""

    @classmethod
    def of(
        cls, names: tuple[str, str], before: str, after: Draft, outlooks: tuple[Outlook, Outlook]
    ) -> "CompareAnswer":
        """The comparison of a text of a race file with another version of it."""
        inputs = tuple(
            InputChange(one.words, as_typed(one.before) or "-", as_typed(one.after) or "-")
            for one in after.differences(before)
        )
        return cls(names, inputs, compared(*outlooks), outlooks)


@dataclass(frozen=True)
class Figure:
    """A number of a ride in two versions."""

    name: str
    what: What | None
    """None for a time."""
    pair: NumberPair


FIGURES: dict[str, tuple[str, What | None]] = {
    "time_s": ("time", None),
    "mean_speed_m_s": ("mean speed", "speed"),
    "mean_power_w": ("mean power", "power"),
    "air_density_kg_m3": ("air density", "density"),
    "wind_at_rider_m_s": ("wind at the rider", "wind_speed"),
    "distance_m": ("length", "course_distance"),
    "ascent_m": ("climbing", "elevation"),
}


SURE = "Best estimates; a doubt that both share mostly cancels in the difference."
SURE_APART = "Other {own}: only doubts of model, power and CdA cancel in part."
APART = {"course": "courses", "air": "weather"}


class FigureValue(Column):
    """A figure in the units of the reader; a change has one decimal more."""

    def _made(self, value: Any, row: Figure, units: System) -> str:
        change = self.key == "pair.change"
        if row.what is None:
            return _clock_change(row.pair) if change else show_duration(value)
        # So that a change of what is rounded alike is still seen.
        finer = DISPLAYS[row.what].decimals(units) + change
        return show_number(value, row.what, units, finer, signed=change)


def compare_sheet(answer: CompareAnswer, units: System) -> Sheet:
    """Which version is faster and by how much, what differs, and what that does."""
    found = answer.found
    return Sheet(
        (
            quoted(answer.names[1], 24),
            ": ",
            Cell(_clock(found.time_s.after), "strong", found.time_s.after, "time_s/after"),
            f", {time_against(found.time_s)} ",
            quoted(answer.names[0], 24),
            f" ({_clock(found.time_s.before)}).",
        ),
        [
            Lines(
                [_how_sure(answer), "" if answer.inputs else "No value of the race files differs."]
            ),
            Lines([*_options_lines(answer)]),
            Lines(_warnings(answer), "Mind"),
            *_compared(answer, units),
            *_bases(answer, units),
        ],
        units,
        explained=lambda: _explained(answer),
    )


def _explained(answer: CompareAnswer) -> Iterator[ExplainedStep]:
    for name, one in zip(answer.names, answer.outlooks, strict=True):
        yield replace(explain_ride(one.base), what=f"time, {name}")
    change = answer.found.time_s.change
    yield from explained("compare", change=change, inputs=len(answer.inputs))


def _how_sure(answer: CompareAnswer) -> str:
    """Which doubts cancel in the difference."""
    changed = [one.where for one in answer.inputs]
    own = [table for table in APART if any(where.startswith(table) for where in changed)]
    if not own:
        return SURE
    return SURE_APART.format(own=" and ".join(APART[table] for table in own))


def _compared(answer: CompareAnswer, units: System) -> Iterator[Table]:
    """What differs, figures, watts, rates and options of both versions."""
    found, (before, after) = answer.found, answer.outlooks
    one, other = (one_line(name, most=18) for name in answer.names)
    inputs = [Words("what differs", "where"), Words(one, "before"), Words(other, "after")]
    yield Table("", inputs, answer.inputs, "", Depth.ANSWER, most=4, path="inputs")
    headings = {"before": one, "after": other, "change": "change"}.items()
    values = [FigureValue(heading, f"pair.{key}") for key, heading in headings]
    named = Made("", "", lambda figure: _with_unit(figure, units), left=True)
    figures = [Figure(*FIGURES[name], getattr(found, name)) for name in FIGURES]
    yield Table("", [named, *values], figures, "", Depth.ANSWER)
    watts = [Number(one, "before"), Number(other, "watts"), Number("change", "change", form="+.1f")]
    rows = spent(after.timing.shares, before.timing.shares)
    yield Table("Where the watts go [W]", [Words("", "on"), *watts], rows)
    both = PerUnit(one, "before", unknown="-"), PerUnit(other, "after", unknown="-")
    rates = [_change_by(units), *both]
    yield Table("Seconds saved by a small change", rates, found.rates, HOLDS_FOR, path="rates")
    saved = [Number(heading, f"saved.{key}", form="+.1f", unknown="-") for key, heading in headings]
    options = [Words("option", "name"), *saved]
    yield Table("Seconds that each option saves", options, found.options, path="options")


def _with_unit(figure: Figure, units: System) -> str:
    """The name of a figure with its unit."""
    return f"{figure.name} [{shown_unit(figure.what, units)}]" if figure.what else figure.name


def _change_by(units: System) -> Column:
    """The change that both rates of a row are shown for."""

    def words(row: RatePair) -> str:
        return f"{unit_for(row.rate, units)[0]} {row.rate.meaning}"

    return Made("a change of", "", words, left=True)


def time_against(time: NumberPair) -> str:
    """How the second time compares with the first, to go before the name of the first."""
    change = time.change or 0.0
    if _tenths(change) == "0":
        return "as"
    size = _clock_change(time).lstrip("+-")
    return f"{size} {'less' if change < 0 else 'more'} than"


def _tenths(seconds: float | None) -> str:
    """Seconds with their sign, to a tenth whatever their doubt, as changes are wanted."""
    return seconds_text(seconds or 0.0, 0.0)


def _clock_change(time: NumberPair) -> str:
    """A change of a time, from ten minutes on what lies between both as the clock shows them."""
    change = time.change or 0.0
    if abs(change) < LONG:
        return f"{_tenths(change)} s"
    apart = shown_apart(time.before or 0.0, time.after or 0.0)
    return f"{'-' if apart < 0 else '+'}{show_duration(abs(apart))}"


def _clock(seconds: float | None) -> str:
    return show_duration(seconds or 0.0)


def _options_lines(answer: CompareAnswer) -> Iterator[Line]:
    """Which options change sides, and which changes most."""
    both = [one for one in answer.found.options if one.saved.change is not None]
    turned = [one.name for one in both if _turned(one.saved)]
    yield from naming("Faster in one, slower in the other: ", turned)
    most = max(both, key=lambda one: abs(one.saved.change or 0.0), default=None)
    if most and _tenths(most.saved.change) != "0":
        before, after = (_tenths(one) for one in (most.saved.before, most.saved.after))
        change = f", from {before} to {after} s saved."
        yield "The option that changes most: ", quoted(most.name, 40), change


def _turned(saved: NumberPair) -> bool:
    return (saved.before or 0.0) * (saved.after or 0.0) < 0.0


def _warnings(answer: CompareAnswer) -> list[Line]:
    """The warnings of each race file, those of both once."""
    first, second = (_basis(one).warnings for one in answer.outlooks)
    name, other = (quoted(one, 24) for one in answer.names)
    alone = [(name, one) for one in first if one not in second]
    alone += [(other, one) for one in second if one not in first]
    return [*(one for one in first if one in second), *((who, f": {one}") for who, one in alone)]


def _basis(outlook: Outlook) -> Basis:
    return Basis.of(outlook.base, outlook.timing.warnings)


def _bases(answer: CompareAnswer, units: System) -> Iterator[Lines]:
    """What both rest on; under the name of each where that differs."""
    first, second = (_basis(one).blocks(units) for one in answer.outlooks)
    for before, after in zip(first, second, strict=True):
        if before == after:
            yield after
        else:
            for name, block in zip(answer.names, (before, after), strict=True):
                yield replace(block, title=f"{block.title}: {one_line(name, most=24)}")


# --- one race at first sight ---------------------------------------------------------------------


IN_SHORT = {
    "power": "power",
    "cda": "drag area",
    "crr": "rolling (Crr)",
    "mass": "mass",
    "air_density": "air",
    "temperature": "warmer air",
    "pressure": "air pressure",
    "head_wind": "head wind",
    "wind_speed": "wind",
}
"""What a rate is for, in as few words as a narrow screen has room for."""

Bars = Callable[[Sequence[float], int], Callable[[float], Cell] | None]
"""Gives for some values, next to so many columns, what draws each; None where there is no room."""

RATES, WATTS, BEFORE = 33, 46, 9
"""Columns of the rates and of the watts without their bars, and of what was there before."""


def _more_of(units: System) -> Column:
    def words(row: RatePair) -> str:
        _, found, side = row.rate.meaning.rpartition(", from ")
        where = f" from {side.partition(' (')[0]}" if found else ""
        return f"{unit_for(row.rate, units)[0]} {IN_SHORT[row.rate.quantity]}{where}"

    return Made("more of", "", words, left=True)


def outlook_sheet(
    outlook: Outlook,
    before: Outlook | None,
    called: str,
    units: System,
    band: TimeBand | None = None,
    bars: Bars | None = None,
) -> Sheet:
    """Time, rates, watts and options of a race, each with its change against another version."""
    answer = TimeAnswer(outlook.base, outlook.timing, _basis(outlook), band, tried=outlook.tried)
    found = compared(before or outlook, outlook)
    changed = before is not None and before is not outlook
    more_columns = BEFORE if changed else 0
    how_sure, *conditions = time_lines(answer, units)
    sure, _, more = str(how_sure).partition("; ")
    rows = spent(outlook.timing.shares, before.timing.shares if before else None)
    saved = [one.after for one in found.rates if one.after is not None]
    rates = [
        _more_of(units),
        PerUnit("saves s", "after"),
        PerUnit("before", "before", unknown="-") if changed else None,
        _bar(bars, "after", saved, RATES + more_columns),
    ]
    watts = [
        Words("where the watts go", "on"),
        Number("W", "watts"),
        Share("%", "percent", unknown="-"),
        Number("change", "change", form="+.1f") if changed else None,
        _bar(bars, "watts", [one.watts for one in rows], WATTS + more_columns),
    ]
    time = Cell(_clock(outlook.timing.time_s), "strong", outlook.timing.time_s, "time_s")
    against = f", {time_against(found.time_s)} {called}" if changed else ""
    inputs = [str(one) for one in outlook.base.race.notices if not one.warning]
    power = show(outlook.base.race.rider.power, "power", units)
    sheet = Sheet(
        (time, f" at {power}{against}"),
        [
            Lines([f"{sure}." if more else sure]),
            Lines(answer.basis.warnings, "Mind"),
            Table("", rates, found.rates, "", Depth.ANSWER),
            Table("", watts, rows, "", Depth.ANSWER),
            Lines([*conditions, f"If the inputs are not exact: {more}" if more else ""]),
            *_gains(outlook, found, changed),
            Lines(inputs, "About the inputs"),
            Table("Splits", SPLITS, outlook.timing.splits),
            *time_details(answer, units),
            *time_basis(answer, units),
        ],
        units,
    )
    return answer.basis.with_use(sheet)


def _bar(bars: Bars | None, key: str, values: Sequence[float], columns: int) -> Column | None:
    """The column that draws a value of each row, where bars are wanted."""
    draw = bars(values, columns) if bars else None
    return draw and Made("", "", lambda row: draw(getattr(row, key) or 0.0), left=True)


def _gains(outlook: Outlook, found: Comparison, changed: bool) -> Iterator[Block]:
    """What each option saves alone, and those that cannot be worked out."""
    changes = {one.name: one.saved.change for one in found.options}

    def change(row: Any) -> str:
        known = changes.get(row.option.name)
        return "-" if known is None else _tenths(known)

    yield Table(
        "",
        [
            Words("each alone saves", "option.name"),
            Seconds("s (95 %)", "saved_s"),
            Verdict("verdict", "verdict"),
            Made("change", "", change) if changed else None,
        ],
        outlook.gains,
        "By the doubt of its own saving; ? where none is stated.",
        Depth.ANSWER,
    )
    refused: list[Line] = [(quoted(one.name), f": {one.problem}") for one in outlook.refused]
    yield Lines(refused, "Not worked out")
