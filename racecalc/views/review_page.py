"""``racecalc review`` as text."""

from racecalc.decisions.review.review import INPUTS, Explanation, Review, ReviewedSplit
from racecalc.domain.race import Race
from racecalc.quantities.clock import show_duration
from racecalc.quantities.showing import System, What, show, show_number, shown_unit
from racecalc.views.basis import basis_text
from racecalc.views.tables import bullets, chance_text, paragraph, signed, table

SHOWN: dict[str, tuple[What, int]] = {
    "cda": ("area", 4),
    "wind": ("wind_speed", 2),
    "power": ("power", 1),
}
"""How each input is shown, with how many decimals; Crr has no unit."""


def review_text(race: Race, found: Review, units: System) -> str:
    """The headline, the splits, every input alone, why, and what it means for the next race."""
    return (
        paragraph(f"{race.name}, {found.source}: after the race")
        + "\n"
        + paragraph(found.headline)
        + bullets("Look at this first", found.notes)
        + "\n"
        + _splits_text(found, units)
        + _inputs_text(found, units)
        + bullets("Why this is said", found.reasons)
        + bullets("For the next race", found.next_race)
        + _lines_to_type(found)
        + bullets("What is in this, and what is not", found.cautions)
        + basis_text(race, units)
    )


def _splits_text(found: Review, units: System) -> str:
    headings = [f"to {shown_unit('course_distance', units)}", "plan", "ridden", "slower", "so far"]
    words = (
        f"Plan: {found.plan}. Slower: seconds that the ridden split took more than the plan, so"
        " far: from the start to its end; minus is faster."
    )
    if found.power_s is not None:
        headings += ["plan W", "W", "by power", "rest", "so far"]
        words += (
            " By power: seconds of it that the ridden power makes; rest: what it leaves, and its"
            " sum so far. W: mean over the split, as the meter shows it."
        )
    rows = [_split_row(one, units) for one in found.splits]
    return table(headings, rows) + "\n" + paragraph(words)


def _split_row(split: ReviewedSplit, units: System) -> list[str]:
    cells = [
        show_number(split.to_m, "course_distance", units),
        show_duration(split.planned_s),
        show_duration(split.ridden_s),
        signed(split.difference_s),
        signed(split.difference_so_far_s),
    ]
    if split.ridden_w is None or split.power_s is None:
        return cells
    return [
        *cells,
        show_number(split.planned_w, "power", units),
        show_number(split.ridden_w, "power", units),
        signed(split.power_s),
        signed(split.rest_s),
        signed(split.rest_so_far_s),
    ]


def _inputs_text(found: Review, units: System) -> str:
    if not found.alone:
        return ""
    headings = ("<if only this was off", "stated", "fits best", "+-", "explains", "left")
    rows = [_input_row(INPUTS[one.quantity], one, units) for one in found.alone]
    both = found.pair.explanations if found.pair else ()
    rows += [_input_row(f"both: {INPUTS[one.quantity]}", one, units) for one in both]
    return (
        "\nWhat would explain the rest\n"
        + table(headings, rows)
        + "\n"
        + paragraph(
            "Fits best: the value with which the race, ridden again with all else as stated,"
            " comes nearest to the splits, - where that is not to be believed or all in doubt;"
            " both: two of them at once. +-: one standard uncertainty from the scatter of what is"
            " left, if nothing else was off; ? where too few splits show any. Explains: share of"
            " the rest, in squares of seconds. Left:"
            " what remains of a split, root mean square."
        )
    )


def _input_row(name: str, one: Explanation, units: System) -> list[str]:
    return [
        name,
        _number(one, one.stated, units),
        *_fitted(one, units),
        chance_text(one.explained),
        f"{one.left_s:.1f} s",
    ]


def _fitted(one: Explanation, units: System) -> tuple[str, str]:
    """Value and doubt; none is shown where it would have to be further off than is believed."""
    if not one.believable or (one.doubt or 0.0) > abs(one.value):
        return "-", "-"
    doubt = "?" if one.doubt is None else _number(one, one.doubt, units)
    return _number(one, one.value, units), doubt


def _number(one: Explanation, value: float, units: System) -> str:
    """A value of an input; its unit stands behind each, as they differ from row to row."""
    if one.quantity == "crr":
        return f"{value:.5f}"
    what, decimals = SHOWN[one.quantity]
    return show(value, what, units, decimals)


def _lines_to_type(found: Review) -> str:
    """What writes the refined values; a line to type is never wrapped."""
    lines = [f'  racecalc set RACE {one.key}="{one.text}"\n' for one in found.refined]
    return "".join(["\nTo keep it, once it has proved itself\n", *lines]) if lines else ""
