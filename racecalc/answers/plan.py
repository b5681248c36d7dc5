"""``racecalc plan``: how many runs a test needs; ``racecalc convert``: a saving in other forms."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from string import ascii_uppercase as LETTERS  # noqa: N812 - a constant
from typing import Annotated

from racecalc.answers.cells import Cell, chance_text, joined, quoted
from racecalc.answers.columns import Made, Words
from racecalc.answers.sheet import Depth, Line, Lines, Sheet, Table, grounds
from racecalc.decisions.evidence.judging import MOST_EXPERIENCE, shown
from racecalc.decisions.evidence.planning import TEST_SAFELY, OtherDays, PlannedTest
from racecalc.decisions.explain import ExplainedStep, explained
from racecalc.decisions.savings import Conversion, Lacking, by_need
from racecalc.written import HIDDEN

MOST_DECIMALS = 8

SHOWN_FIRST = ("m^2", "N")
"""Forms that say the most by themselves, for the headline; our choice."""

LONGEST_ORDER = 200
"""Runs up to which the order is shown with the answer."""

RESTS_ON = (
    "A difference is seen where the interval on any day for all items together (Dunnett 1955)"
    " excludes zero, and a tie is proved by two one-sided tests (Schuirmann 1987); several looks"
    " share the 5 % (Pocock 1977). Even numbers of runs on a day cancel a steady drift."
)


def plan_sheet(plan: PlannedTest) -> Sheet:
    """How many runs, what they can tell, and in which order to ride them."""
    key = joined((f"{label(number)} ", quoted(item)) for number, item in enumerate(plan.items))
    sessions = range(len(plan.sessions))
    order = [
        Made("day", "", lambda number: str(number + 1)),
        Made("runs", "", lambda number: _letters(plan, number), left=True),
    ]
    total = plan.runs_per_item * len(plan.items)
    depth = Depth.ANSWER if total <= LONGEST_ORDER else Depth.DETAILS
    return Sheet(
        _headline(plan, total),
        [
            Lines([*_chances(plan)]),
            Table("Order, balanced against drift", order, sessions, "", depth, 6),
            Lines([key], "", depth),
            Lines(plan.notes, "Mind"),
            Lines([TEST_SAFELY]),
            grounds([_repeats(plan), RESTS_ON], "What the chances rest on"),
        ],
        explained=lambda: _explained(plan),
    )


def _explained(plan: PlannedTest) -> Iterator[ExplainedStep]:
    tied = plan.chance_tied
    return explained(
        "plan",
        smallest=plan.detectable,
        unit=plan.unit,
        s=plan.repeatability.sd,
        d=plan.day_to_day,
        days=len(plan.sessions),
        seen=100.0 * plan.chance_seen,
        difference=plan.difference,
        runs=plan.runs_per_item,
        tied="no margin given" if tied is None else f"{100.0 * tied:.0f} %",
    )


def _headline(plan: PlannedTest, total: int) -> Line:
    on = "one day" if len(plan.sessions) == 1 else f"{len(plan.sessions)} days"
    runs = f"{plan.runs_per_item} runs of each of {len(plan.items)} items on {on}, {total} in all"
    if plan.runs_to_see is not None or plan.runs_given:
        seen = f": a difference of {plan.difference:.3g} {plan.unit} shows with a chance of "
        chance = Cell(chance_text(plan.chance_seen), "strong", plan.chance_seen, "chance_seen")
        return Cell(runs, "strong", plan.runs_per_item, "runs_per_item"), seen, chance
    return (
        f"No test of up to {plan.most_runs} runs of each item on {on} shows a difference of"
        f" {plan.difference:.3g} {plan.unit} 8 times in 10. The order below has {runs}."
    )


def _chances(plan: PlannedTest) -> Iterator[Line]:
    tie = "Without --margin no tie can be proved."
    if plan.chance_tied is not None:
        chance = f"with a chance of {chance_text(plan.chance_tied)}"
        tie = f"If there is no difference, a tie is proved {chance}."
    change = shown(plan.day_to_day, plan.measure)
    why = "" if plan.day_to_day_stated else "; state yours with --day-to-day"
    yield (
        f"That is if it changes by {change} from day to day{why}. If it is the same every day:"
        f" {chance_text(plan.chance_seen_if_same)}."
    )
    if plan.other_days:
        yield _other_days(plan.other_days, len(plan.items))
    if plan.detectable is not None:
        smallest = shown(plan.detectable, plan.measure)
        yield f"The smallest difference that shows 8 times in 10 is {smallest}. {tie}"
    elif plan.chance_tied is not None:
        yield tie
    known = plan.repeatability
    flags = f"--repeatability '{known.sd:.6g} {plan.unit}' --repeatability-df {known.df:.6g}"
    if plan.day_to_day_stated:
        flags += f" --day-to-day '{plan.day_to_day:.6g} {plan.unit}'"
    yield (
        f"Judge the runs with {flags}; without experience the chance is"
        f" {chance_text(plan.chance_seen_without_repeatability)}."
    )


def _other_days(other: OtherDays, items: int) -> str:
    """Days that need fewer runs."""
    on = "one day" if other.days == 1 else f"{other.days} days"
    each = other.runs_per_item // other.days
    return (
        f"Less work: {each} runs of each item a day on {on}, {other.runs_per_item * items} in"
        f" all (chance {chance_text(other.chance_seen)})."
    )


def _repeats(plan: PlannedTest) -> str:
    known = plan.repeatability
    return (
        f"A single run repeats to {shown(known.sd, plan.measure)} (one standard deviation,"
        f" {known.df:.3g} degrees of freedom, of which at most {MOST_EXPERIENCE:g} are counted)."
    )


def label(number: int) -> str:
    """Letters of an item by its number from 0, as the columns of a spreadsheet.

    Examples
    --------
    >>> label(0), label(25), label(26), label(52), label(702)
    ('A', 'Z', 'AA', 'BA', 'AAA')
    """
    rest, last = divmod(number, len(LETTERS))
    return (label(rest - 1) if rest else "") + LETTERS[last]


def _letters(plan: PlannedTest, number: int) -> str:
    """The order of a session in letters, in groups of a round each."""
    items = plan.items
    names = [label(items.index(item)) for item in plan.sessions[number]]
    within, between = ("", " ") if len(items) <= len(LETTERS) else (" ", ", ")
    starts = range(0, len(names), len(items))
    return between.join(within.join(names[start : start + len(items)]) for start in starts)


# --- a saving in other forms ---------------------------------------------------------------------


@dataclass(frozen=True)
class ConvertAnswer:
    """A saving in other forms."""

    stated: str
    """As the user wrote it."""
    taken_at_speed_m_s: float | None
    taken_at_power_w: float | None
    """Speed that it is taken to refer to where it names none and needs one, and the power that
    gives that speed on a flat, calm road where no speed was given; None otherwise.
    """
    conversions: tuple[Conversion, ...]
    """The forms that can be worked out."""
    lacking: tuple[Lacking, ...]
    """The others."""
    bearings_given: Annotated[bool, HIDDEN]
    """Whether the bearings are those of a race, and no assumption."""
    claim_density_kg_m3: float
    """Air of what is stated at a speed or power of its own."""
    own_density_kg_m3: float
    """Air of the rider."""
    claim_density_stated: bool
    """Whether the former is stated, and no assumption."""


def convert_sheet(answer: ConvertAnswer) -> Sheet:
    """The statement in other forms, with the range that its rounding leaves."""
    by_unit = {one.unit: one for one in answer.conversions}
    first = next((by_unit[one] for one in SHOWN_FIRST if one in by_unit), answer.conversions[0])
    at, more = _at(first), len(answer.conversions) - 1
    needs = by_need(answer.lacking)
    bearings = "" if answer.bearings_given else ", with wheel bearings of Martin et al. 1998"
    note = f"{OF_RACE if answer.bearings_given else ''}{FORMS_NOTE} {_airs(answer)}"
    key = f"conversions/{answer.conversions.index(first)}/value"
    return Sheet(
        (
            quoted(answer.stated, 40),
            " is the same as ",
            Cell(f"{_number(first)} {first.unit}", "strong", first.value, key),
            "" if at == "-" else f" at {at}",
            f"; {more} more forms below" if more else "",
        ),
        [
            Lines([_taken_at(answer)]),
            Table("", FORMS, answer.conversions, note, Depth.ANSWER, path="conversions"),
            Lines([f"{', '.join(units)}: {need}" for need, units in needs.items()], LACKING),
            grounds([f"{COUNTED}{bearings}."]),
        ],
        explained=lambda: _restated(answer, first),
    )


def _restated(answer: ConvertAnswer, first: Conversion) -> Iterator[ExplainedStep]:
    v = answer.taken_at_speed_m_s
    return explained(
        "convert",
        stated=answer.stated,
        air=answer.claim_density_kg_m3,
        speed=f", v {3.6 * v:.1f} km/h" if v else "",
        form=f"{_number(first)} {first.unit}",
        own=answer.own_density_kg_m3,
        low=first.low,
        high=first.high,
    )


OF_RACE = "Rider, power, bike and air of the race file. "
FORMS_NOTE = (
    "A speed next to a power is what that power gives on a flat, calm road; seconds are for that"
    " road."
)


def _airs(answer: ConvertAnswer) -> str:
    """The air of the claim, and that of the rider where it is another one."""
    claim, own = (f"{one:.2f}" for one in (answer.claim_density_kg_m3, answer.own_density_kg_m3))
    stated = "" if answer.claim_density_stated else " (assumed; state it with --density)"
    if claim == own:
        return f"The air is {claim} kg/m^3{stated}."
    return f"The claim holds in air of {claim} kg/m^3{stated}, your own figures in {own} kg/m^3."


LACKING = "Needs more information"
COUNTED = (
    "Watts and shares of power are counted at the wheel; speeds and seconds are those at steady"
    " power"
)


def sensible(value: float, low: float, high: float) -> str:
    """Digits that the range supports: none finer than half of it, and two that count at least.

    Examples
    --------
    >>> sensible(250.03, 242.9, 257.4), sensible(3.7196, 3.708, 3.731)
    ('250', '3.72')
    """
    half = 0.5 * abs(high - low) or 1e-4 * abs(value) or 1.0
    decimals = max(0, -math.floor(math.log10(half)))
    if value:
        decimals = max(decimals, 1 - math.floor(math.log10(abs(value))))
    decimals = min(decimals, MOST_DECIMALS)
    return f"{value:.{decimals}f}"


def _number(one: Conversion) -> str:
    return sensible(one.value, one.low, one.high)


def _range(one: Conversion) -> str:
    if one.low == one.high:
        return "-"
    return " to ".join(sensible(end, one.low, one.high) for end in (one.low, one.high))


def _taken_at(answer: ConvertAnswer) -> str:
    """The speed that a statement without one is taken for."""
    if answer.taken_at_speed_m_s is None:
        return ""
    power, taken = answer.taken_at_power_w, _speed(answer.taken_at_speed_m_s)
    that = "" if power is None else f", that of {power:.0f} W on a flat, calm road"
    return f"It names no speed, so it is taken at {taken}{that}."


def _speed(speed: float) -> str:
    return f"{3.6 * speed:.1f} km/h"


def _at(one: Conversion) -> str:
    speed = None if one.at_speed_m_s is None else _speed(one.at_speed_m_s)
    power = None if one.at_power_w is None else f"{one.at_power_w:.0f} W"
    return ", ".join(part for part in (speed, power) if part) or "-"


FORMS = [
    Made("saved", "value", _number),
    Words("", "unit"),
    Made("at", "", _at, left=True),
    Made("range from rounding", "", _range, left=True),
]
