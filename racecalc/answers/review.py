"""``racecalc review``: a ride held against its plan, and which input was off."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated

from racecalc.answers.basis import Basis
from racecalc.answers.cells import Cell, chance_text, file_name, quoted
from racecalc.answers.columns import Column, Made, Number, Quantity, SplitClock, shown_apart
from racecalc.answers.sheet import Depth, Line, Lines, Sheet, Table, details
from racecalc.decisions.explain import ExplainedStep, explained
from racecalc.decisions.review.fit import Blame
from racecalc.decisions.review.review import (
    INPUTS,
    NO_TARGETS,
    UNNAMED,
    Explanation,
    Review,
)
from racecalc.decisions.review.season import Season, SeasonRace, Throughout
from racecalc.decisions.riding import Ridden
from racecalc.decisions.verdicts import interval
from racecalc.quantities.clock import show_duration
from racecalc.quantities.plain_text import listed
from racecalc.quantities.showing import System, What, show_number, shown_unit
from racecalc.written import SPREAD, written

SHOWN: dict[str, tuple[What, int]] = {
    "cda": ("area", 4),
    "mass": ("mass", 1),
    "wind": ("wind_speed", 2),
    "power": ("power", 1),
}
"""How each input is shown, with how many decimals; Crr has no unit."""

LONG = 600.0
"""Seconds from which minutes are shown; our choice."""


@dataclass(frozen=True)
class ReviewAnswer:
    """What was planned, what was ridden, and which input was off."""

    found: Annotated[Review, SPREAD]
    """The ride held against the plan; differences and rests are positive where slower."""
    basis: Annotated[Basis, SPREAD]
    """What it rests on."""

    @classmethod
    def of(cls, base: Ridden, found: Review) -> "ReviewAnswer":
        """The answer on a race."""
        return cls(found, Basis.of(base, found.notes))

    @written
    def headline(self) -> str:
        """The advice in one to three sentences."""
        found = self.found
        first = (
            f"Ridden in {_clock(found)},"
            f" {slower(_behind(found))} than the plan of {show_duration(found.planned_s)}."
        )
        said = first, _by_power(found), _verdict(found), *_untold(found)
        return " ".join(filter(None, said))


def review_sheet(answer: ReviewAnswer, units: System) -> Sheet:
    """How far off, by which input, and what it means; then the splits, and why this is said."""
    found = answer.found
    unnamed = [UNNAMED] if found.named else []
    said = [found.known_error, *unnamed, *found.next_race, *_lines_to_type(found), NO_TARGETS]
    reasons = [one for one in found.reasons if one not in said]
    cautions = [one for one in found.cautions if one not in said]
    by = Cell(slower(_behind(found)), "strong", found.difference_s, "difference_s")
    return Sheet(
        (f"{answer.basis.title}: ", by, " than planned"),
        [
            Lines([_ridden(found), _by_power(found), _verdict(found), *_untold(found)]),
            Lines(found.notes, "Look at this first"),
            _inputs_table(found, units),
            Lines(said),
            _splits_table(found),
            details([INPUTS_NOTE] if found.alone else []),
            details(reasons, "Why this is said"),
            details(cautions, "What is in this, and what is not"),
            *answer.basis.blocks(units),
        ],
        units,
        explained=lambda: _explained(answer),
    )


def _explained(answer: ReviewAnswer) -> Iterator[ExplainedStep]:
    found = answer.found
    yield from explained(
        "review",
        answer.basis.ride,
        difference=found.difference_s,
        ridden=show_duration(found.ridden_s),
        planned=show_duration(found.planned_s),
        by_power="not given" if found.power_s is None else f"{found.power_s:+.1f} s",
        rest=found.rest_s,
    )
    names = (one.words for one in found.named)
    yield from explained("off", named=", ".join(names) or "none is named")


# --- The answer in sentences ---------------------------------------------------------------------


def _ridden(found: Review) -> Line:
    plan = f"{show_duration(found.planned_s)}, {found.plan}."
    return quoted(found.source), f": {_clock(found)}; plan: {plan}"


def _clock(found: Review) -> str:
    """The time ridden, and that by the clock of the race where there were stops."""
    where = "" if found.finished else " to the last split"
    ridden = f"{show_duration(found.ridden_s)}{where}"
    if not found.stopped_s:
        return ridden
    return f"{ridden} without stops ({show_duration(found.ridden_s + found.stopped_s)} with them)"


def _behind(found: Review) -> int:
    """Seconds from the plan to the clock, as both are shown."""
    return shown_apart(found.planned_s, found.ridden_s)


def _by_power(found: Review) -> str:
    if found.power_s is None:
        return ""
    by_power = slower(found.power_s)
    by_rest = slower(_behind(found) - round(found.power_s))
    return f"Of that, {by_power} from the ridden power and {by_rest} from the rest."


def slower(seconds: float) -> str:
    """A difference in words; 0 where it rounds to none."""
    if round(abs(seconds)) == 0:
        return "0 s slower"
    size = f"{abs(seconds):.0f} s" if abs(seconds) < LONG else show_duration(abs(seconds))
    return f"{size} {'slower' if seconds > 0 else 'faster'}"


def _verdict(found: Review) -> str:
    """Which input was off and by how much, or why that cannot be shown."""
    blamed, off = found.blamed, f"Likeliest cause: {listed(found.wrong or ('none',))}"
    if blamed.finding == "nothing":
        within = "the rest is within the doubt of the model and the reading of the clock"
        return f"{off if found.wrong else 'No input was off'}: {within}."
    if blamed.finding == "named":
        return f"{off}. The ride fits {' and '.join(map(_as_with, found.named))}."
    if found.wrong:
        return (
            f"{off}. The splits cannot show whether another input was off too: {_why_not(blamed)}."
        )
    return f"The splits cannot show which input was off: {_why_not(blamed)}."


def _untold(found: Review) -> Iterator[str]:
    """What the splits tell nothing of."""
    if found.untold:
        words = listed(found.untold)
        yield (
            f"{words[0].upper()}{words[1:]} cannot be told from these splits: a little more or less"
            " of it changes hardly any time there, as where wind blows straight across."
        )


def _as_with(one: Explanation) -> str:
    if one.quantity == "wind":
        return f"{one.value / one.stated:.2f} times the stated wind"
    kind = INPUTS[one.quantity]
    return f"{kind.short} {kind.text(one.value)} instead of {kind.text(one.stated)}"


def _why_not(blamed: Blame) -> str:
    rivals = [" with ".join(INPUTS[name].words for name in names) for names in blamed.rivals]
    if blamed.finding == "no power":
        return "without the power of each split, a different power looks like any other cause"
    if blamed.finding == "several":
        return f"{' or '.join(rivals)} would explain the rest"
    if blamed.finding == "together":
        return f"on these splits the effects of {listed(rivals)} look alike"
    return {
        "too few": f"there are too few of them, {blamed.needed} are needed",
        "no pattern": "the rest scatters, and no input makes such a pattern",
        "none fits": "neither one input nor two together explain the rest",
    }[blamed.finding]


def _lines_to_type(found: Review) -> Iterator[str]:
    """What writes the refined values."""
    for one in found.refined:
        yield f'To keep it, once confirmed: racecalc set RACE {one.key}="{one.text}"'


# --- Splits and inputs ---------------------------------------------------------------------------


def _splits_table(found: Review) -> Table:
    columns: list[Column] = [
        Quantity("to", "to_m", what="course_distance"),
        SplitClock("plan", "planned_s", elapsed="planned_so_far_s"),
        SplitClock("ridden", "ridden_s", elapsed="ridden_so_far_s"),
        Number("slower", "difference_s", form="+.1f"),
        Number("so far", "difference_so_far_s", form="+.1f"),
    ]
    words = (
        "Slower: ridden less planned seconds of the split, negative is faster. So far: the sum from"
        " the start."
    )
    if found.power_s is not None:
        columns += [
            Quantity("plan", "planned_w", what="power"),
            Quantity("", "ridden_w", what="power"),
            Number("by power", "power_s", form="+.1f"),
            Number("rest", "rest_s", form="+.1f"),
            Number("so far", "rest_so_far_s", form="+.1f"),
        ]
        words += (
            " By power: seconds that the ridden power explains. Rest: what it does not, and its sum"
            " so far. W: mean over the split at the power meter."
        )
    return Table("Split by split", columns, found.splits, words, path="splits")


def _inputs_table(found: Review, units: System) -> Table:
    both = found.pair.explanations if found.pair else ()

    def name(one: Explanation) -> str:
        return f"both: {one.words}" if one in both else one.words

    def best(one: Explanation) -> str:
        if not _believed(one):
            return "-"
        low, high = interval(one.value, one.doubt)
        number, *ends = (_number(one, at, units) for at in (one.value, low, high) if at is not None)
        return f"{number} ({' to '.join(ends) or '?'})"

    return Table(
        "What would explain the rest",
        [
            Made("if this was off", "", name, left=True),
            Made("stated", "", lambda one: _value(one, one.stated, units)),
            Made("fits best (95 %)", "", best),
            Made("explains", "", lambda one: chance_text(one.explained)),
        ],
        [*found.alone, *both],
        depth=Depth.ANSWER,
    )


INPUTS_NOTE = (
    "Fits best: the value with which the computed splits come closest to the ridden ones, all else"
    " as stated; - where it is not plausible or smaller than its doubt. Both: two of them together."
    " Its 95 % interval is by the scatter of the splits alone, without the doubt of the model; ?"
    " where the splits are too few to show it. Explains: share of the rest (of its sum of squares)."
)


def _believed(one: Explanation) -> bool:
    """Whether a value is shown: it need not be further off than is believed, nor all in doubt."""
    return one.believable and (one.doubt or 0.0) <= abs(one.value)


def _value(one: Explanation, value: float, units: System) -> str:
    """A value of an input with its unit, as they differ from row to row."""
    unit = "" if one.quantity == "crr" else f" {shown_unit(SHOWN[one.quantity][0], units)}"
    return f"{_number(one, value, units)}{unit}"


def _number(one: Explanation, value: float, units: System) -> str:
    if one.quantity == "crr":
        return INPUTS["crr"].text(value)
    what, decimals = SHOWN[one.quantity]
    return show_number(value, what, units, decimals)


# --- Several races -------------------------------------------------------------------------------


@dataclass(frozen=True)
class SeasonAnswer:
    """Which input is off throughout several races."""

    found: Annotated[Season, SPREAD]
    """What they tell together."""
    basis: Annotated[Basis, SPREAD]
    """What the first of them rests on."""

    @written
    def headline(self) -> str:
        """The finding in a sentence."""
        found = self.found
        if found.named:
            words = " and ".join(map(_share, found.named))
            return f"Off throughout: {words}{', and the winds of the days' if found.winds else ''}."
        if found.finding == "named":
            return "Nothing of rider and bike is off throughout: the winds of the days were."
        if found.finding == "nothing":
            return "Nothing is off throughout: all is within the known doubts."
        return f"The races cannot show what is off throughout: {_why_untold(found)}."


def _share(one: Throughout) -> str:
    low, high = (f"{100 * end:+.1f}" for end in one.within)
    return f"{INPUTS[one.quantity].words} {100 * one.share:+.1f} % ({low} to {high} %)"


def _why_untold(found: Season) -> str:
    rivals = " or ".join(found.rivals)
    return {
        "no power": "a ride has no power, and a different power looks like any other cause",
        "too few": "there are too few splits",
        "no pattern": "the rest scatters, and no input makes such a pattern",
        "several": f"{rivals} would do",
        "together": f"the effects of {rivals} look alike",
    }.get(found.finding, "neither one nor two of them explain the rest")


SEASON_NOTE = (
    "Drag area, rolling and mass are moved by one share in every race, the wind of each day by its"
    " own, until all splits fit at once. The interval holds the scatter of the splits and the error"
    " of the model, which does not average out over races."
)


def season_sheet(answer: SeasonAnswer, units: System) -> Sheet:
    """What is off throughout, and each race by itself."""
    found = answer.found
    advice = (
        "Change the race files by it only if all races had the same position, clothes and tyres."
        if found.named
        else "Change nothing in the race files because of these races."
    )

    def wind(one: SeasonRace) -> str:
        return "-" if one.wind_factor is None else f"{one.wind_factor:.2f}"

    return Sheet(
        (Cell(f"{len(found.races)} races", "strong"), " read together"),
        [
            Lines([answer.headline]),
            Table(
                "",
                [
                    Column("ride", "ridden", text=file_name, left=True),
                    Number("slower s", "difference_s", form="+.0f"),
                    Number("by power", "power_s", form="+.0f"),
                    Number("rest", "rest_s", form="+.0f"),
                    Made("wind times", "wind_factor", wind),
                    Made("alone", "", lambda one: _short(one.wrong), left=True),
                ],
                found.races,
                "Wind times: of the stated wind, what fits best with what is off throughout. Alone:"
                " what this race names by itself.",
                Depth.ANSWER,
                path="races",
            ),
            Lines([advice, NO_TARGETS]),
            *(
                Lines([(quoted(one.source), f": {note}") for note in one.notes])
                for one in found.reviews
                if one.notes
            ),
            details([SEASON_NOTE]),
            *answer.basis.blocks(units),
        ],
        units,
        explained=lambda: explained("off", answer.basis.ride, named=answer.headline),
    )


def _short(words: tuple[str, ...]) -> str:
    """Inputs in a few letters."""
    return ", ".join(one.short for one in INPUTS.values() if one.words in words) or "-"
