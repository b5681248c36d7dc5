"""The tables of a pacing card as text; the printed page and the files show the same numbers."""

from collections.abc import Sequence

from racecalc.decisions.pacing.card import Card, Passage, Target
from racecalc.decisions.pacing.limits import ordinal
from racecalc.quantities.clock import show_duration
from racecalc.quantities.plain_text import one_line
from racecalc.quantities.showing import System, show_number, shown_unit
from racecalc.views.tables import table

ADVICE = "Advice, not orders: road, traffic, law and how you feel come first."
"""What stands wherever targets do."""

NO_SPEED_TARGETS = "Speeds are estimates and no targets, in bends and descents least of all."
"""What stands wherever speeds do."""


def card_table(card: Card, units: System) -> str:
    """Targets and landmarks of a card as tables for the terminal."""
    targets = table(
        target_headings(units), [target_row(target, units) for target in card.targets], wrapped=-1
    )
    if not card.passages:
        return targets
    return targets + "\nLandmarks\n" + _passage_table(card.passages, units)


def target_headings(units: System) -> tuple[str, ...]:
    """Headings over the cells of `target_row`."""
    distance = shown_unit("course_distance", units)
    return (
        f"from {distance}",
        f"to {distance}",
        "watts",
        shown_unit("speed", units),
        "time",
        "elapsed",
        "grade %",
        f"head wind {shown_unit('wind_speed', units)}",
        "s/W",
    )


def target_row(target: Target, units: System) -> tuple[str, ...]:
    """One section in the units of the reader; a positive wind is a head wind."""
    return (
        show_number(target.from_m, "course_distance", units),
        show_number(target.to_m, "course_distance", units),
        show_number(target.power_w, "power", units),
        show_number(target.speed_m_s, "speed", units),
        show_duration(target.time_s),
        show_duration(target.elapsed_s),
        show_number(target.grade, "grade", units, signed=True),
        show_number(target.head_wind_m_s, "wind_speed", units, signed=True),
        f"{target.seconds_per_watt:.2f}",
    )


def passage_headings(units: System) -> tuple[str, ...]:
    """Headings over the cells of `passage_row`."""
    return (f"at {shown_unit('course_distance', units)}", "landmark", "elapsed", "note")


def passage_row(passage: Passage, units: System) -> tuple[str, ...]:
    """One landmark in the units of the reader; its words are set on one line."""
    return (
        show_number(passage.at_m, "course_distance", units),
        one_line(passage.name),
        show_duration(passage.elapsed_s),
        one_line(passage.note),
    )


def _passage_table(passages: Sequence[Passage], units: System) -> str:
    """Name and note share the one column that is wrapped."""
    at, name, elapsed, note = passage_headings(units)
    rows = []
    for passage in passages:
        place, landmark, time, words = passage_row(passage, units)
        rows.append((place, time, f"{landmark}: {words}" if words else landmark))
    noted = any(passage.note for passage in passages)
    return table((at, elapsed, f"<{name}: {note}" if noted else f"<{name}"), rows, wrapped=2)


def ideal_words(card: Card) -> str:
    """How finely the ideal of a card was found."""
    if card.ideal_sections is None:
        return "at every metre"
    return f"in {card.ideal_sections} section{'' if card.ideal_sections == 1 else 's'}"


def effort_words(card: Card) -> str:
    """What a card comes to: its means, and what it leaves above critical power."""
    means = f"Mean over time {card.mean_power_w:.0f} W"
    if card.power_mean_order != 1:
        means += f", {ordinal(card.power_mean_order)}-power mean {card.power_mean_w:.0f} W"
    means += f"; mean over distance {card.distance_mean_w:.0f} W, which is no measure of effort."
    if card.reserve_left_j is None or card.reserve_unrefilled_j is None:
        return means
    left = (
        f" Of the work above critical power {card.reserve_left_j / 1000:.1f} kJ are left at the"
        " least, if it comes back as the formula says; that differs much between riders."
    )
    lacking = -card.reserve_unrefilled_j
    if lacking <= 0:
        return means + left + " Even if nothing came back it would last."
    return (
        means + left + f" If nothing came back, {lacking / 1000:.1f} kJ would be lacking: have a"
        " softer section in mind."
    )
