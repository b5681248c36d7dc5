"""The card on the page: where to ride how hard, beside a profile of the course."""

from functools import partial

from racecalc.decisions.advice.answer import Advice
from racecalc.decisions.along import Along
from racecalc.decisions.pacing.card import Card
from racecalc.quantities.clock import show_duration
from racecalc.quantities.showing import System, show, show_number, shown_unit
from racecalc.views.advice.charts import draw_profile
from racecalc.views.advice.sheet import (
    Block,
    Figure,
    Grid,
    Line,
    Number,
    Paragraph,
    Section,
    Words,
)

CARD_ROWS = 14
"""Rows of the card on the first sheet; landmarks that make more stand in a part of their own."""

SHORT_CUE = 30
"""Signs of a landmark on the card."""

Cells = tuple[Line, Line]


def card_blocks(advice: Advice, units: System) -> tuple[Block, ...]:
    """Targets and profile side by side, or why there are none."""
    if advice.pacing is None:
        return (Paragraph(("There is no card: ", Words(advice.no_card))),)
    pacing = advice.pacing
    draw = partial(
        draw_profile,
        along=Along(pacing.ridden.ridden),
        card=pacing.card,
        landmarks=advice.race.landmarks,
        units=units,
    )
    read = ("Landmarks are dotted. The speed is expected and no target.",)
    profile = Figure("profile", _profile_words(advice, pacing.card, units), read, draw)
    return _targets(pacing.card, units), profile


def _targets(card: Card, units: System) -> Grid:
    """Targets and landmarks in the order in which the rider meets them."""
    placed: list[tuple[float, int, tuple[Line, ...]]] = []
    for at, target in enumerate(card.targets):
        path = f"pace/targets/{at}"
        watts = Number(
            show_number(target.power_w, "power", units), target.power_w, f"{path}/power_w"
        )
        cells = _place(target.to_m, "to_m", target.elapsed_s, path, units)
        placed.append((target.to_m, 0, (cells[0], (watts,), cells[1], ("",))))
    for at, passage in enumerate(card.passages if _has_room(card) else ()):
        path = f"pace/landmarks/{at}"
        cells = _place(passage.at_m, "at_m", passage.elapsed_s, path, units)
        cue = (Words(passage.name, SHORT_CUE),)
        placed.append((passage.at_m, 1, (cells[0], ("",), cells[1], cue)))
    rows = tuple(cells for _, _, cells in sorted(placed, key=lambda one: one[:2]))
    distance = shown_unit("course_distance", units)
    return Grid("Pacing card", (f"to {distance}", "W", "elapsed", "<cue"), rows, stacked=False)


def _has_room(card: Card) -> bool:
    """Whether the landmarks fit beside the targets."""
    return len(card.targets) + len(card.passages) <= CARD_ROWS


def landmarks_section(advice: Advice, units: System) -> tuple[Section, ...]:
    """The landmarks that found no room on the card."""
    card = advice.pacing.card if advice.pacing else None
    if card is None or _has_room(card):
        return ()
    rows = tuple(
        (
            *_place(one.at_m, "at_m", one.elapsed_s, f"pace/landmarks/{at}", units),
            (Words(one.name),),
        )
        for at, one in enumerate(card.passages)
    )
    headings = (f"at {shown_unit('course_distance', units)}", "elapsed", "<landmark")
    return (Section("landmarks", "Landmarks", (Grid("Landmarks", headings, rows, stacked=False),)),)


def _place(at_m: float, at_key: str, elapsed_s: float, path: str, units: System) -> Cells:
    """Where, and when."""
    return (
        (Number(show_number(at_m, "course_distance", units, 1), at_m, f"{path}/{at_key}"),),
        (Number(show_duration(elapsed_s), elapsed_s, f"{path}/elapsed_s"),),
    )


def _profile_words(advice: Advice, card: Card, units: System) -> Line:
    timed = advice.timing
    distance = show(timed.distance_m, "course_distance", units, 1)
    ascent = show(timed.ascent_m, "elevation", units)
    sections = "; ".join(
        f"to {show(target.to_m, 'course_distance', units, 1)}"
        f" {show(target.power_w, 'power', units)} at about"
        f" {show(target.speed_m_s, 'speed', units, 0)}"
        for target in card.targets
    )
    return (f"Elevation, power and speed over {distance} with {ascent} of ascent: {sections}.",)
