"""A pacing card as a CSV table that a spreadsheet and `racecalc.files.table` read."""

from racecalc.decisions.pacing.card import Card, Target
from racecalc.files.csv_writing import csv_text
from racecalc.quantities.clock import show_duration
from racecalc.quantities.plain_text import one_line
from racecalc.quantities.showing import show_number
from racecalc.views.card_page import ADVICE, NO_SPEED_TARGETS

HEADINGS = (
    "from [km]",
    "to [km]",
    "power [W]",
    "speed [km/h]",
    "time [s]",
    "elapsed [h:m:s]",
    "grade [%]",
    "head wind [m/s]",
    "seconds per watt [s/W]",
)
"""Headings of the table, in metric units whatever the reader sees elsewhere."""

PARTING = str.maketrans({",": " ", ";": " ", '"': "'"})
"""Signs that would part the comment into cells, which a spreadsheet may take for formulas."""


def card_csv(card: Card) -> str:
    """Targets of a card as CSV, below a comment that says what they are.

    Parameters
    ----------
    card : Card
        What the rider takes along.

    Returns
    -------
    str
        A line that begins with #, the headings, and a line for each target. Landmarks are not
        in it: they are no rows of this table.
    """
    return _comment(card) + csv_text([HEADINGS, *(_row(target) for target in card.targets)])


def _comment(card: Card) -> str:
    named = one_line(f"{card.race}: {card.limit}".translate(PARTING))
    return f"# {named}. {ADVICE} {NO_SPEED_TARGETS}\n"


def _row(target: Target) -> tuple[str, ...]:
    return (
        show_number(target.from_m, "course_distance", "metric", 3),
        show_number(target.to_m, "course_distance", "metric", 3),
        f"{target.power_w:.1f}",
        show_number(target.speed_m_s, "speed", "metric", 2),
        f"{target.time_s:.2f}",
        _with_hours(target.elapsed_s),
        show_number(target.grade, "grade", "metric", 2),
        show_number(target.head_wind_m_s, "wind_speed", "metric", 2),
        f"{target.seconds_per_watt:.4f}",
    )


def _with_hours(seconds: float) -> str:
    """The clock with its hours even where there are none: spreadsheets take 8:55 for hours."""
    shown = show_duration(seconds, 1)
    return shown if shown.count(":") == 2 else f"0:{shown:0>7}"
