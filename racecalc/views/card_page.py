"""The tables of a pacing card as text; the printed page and the files show the same numbers."""

from collections.abc import Sequence

from racecalc.decisions.pacing.card import Card, Passage, Target
from racecalc.quantities.clock import show_duration
from racecalc.quantities.plain_text import one_line
from racecalc.quantities.showing import System, show_number, shown_unit
from racecalc.views.tables import table

ADVICE = "Advice, not orders: road, traffic, law and how you feel come first."
"""What stands wherever targets do."""

NO_SPEED_TARGETS = "Speeds are estimates and no targets, in bends and descents least of all."
"""What stands wherever speeds do."""


def card_table(card: Card, units: System) -> str:
    """Targets and landmarks of a card as tables for the terminal.

    Parameters
    ----------
    card : Card
        What the rider takes along.
    units : {"metric", "imperial"}
        System of units.

    Returns
    -------
    str
        Lines, each ended; within 80 columns but for very long courses. Landmarks are left out
        where there are none.
    """
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
