"""The card on the page: where to ride how hard, beside a profile of the course."""

from functools import partial

from racecalc.decisions.advice.advice import Advice
from racecalc.decisions.pacing.card import Card
from racecalc.decisions.timing import Along
from racecalc.quantities.clock import show_duration
from racecalc.quantities.showing import System, show, show_number, shown_unit
from racecalc.views.advice.charts import draw_profile
from racecalc.views.advice.sheet import (
    Block,
    Figure,
    Grid,
    Items,
    Line,
    Number,
    Paragraph,
    Section,
    Words,
)

CARD_ROWS = 14
"""Rows of the card on the first sheet; landmarks that make more stand behind it alone."""

ROLLED = "roll: a bend or limit decides"
"""What stands in the place of a target that is not pedalled on most of its section."""

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
    read = (
        "Times are with what you have now. Landmarks are dotted; the speed is expected and no"
        " target.",
    )
    profile = Figure("profile", _profile_words(advice, pacing.card, units), read, draw)
    return _targets(pacing.card, units), profile


def _targets(card: Card, units: System) -> Grid:
    """Targets and landmarks in the order in which the rider meets them."""
    placed: list[tuple[float, int, tuple[Line, ...]]] = []
    for at, target in enumerate(card.targets):
        path = f"pace/targets/{at}"
        place, passed = _place(target.to_m, "to_m", target.elapsed_s, path, units)
        shown = show_number(target.power_w, "power", units)
        watts: Line = (Number(shown, target.power_w, f"{path}/power_w"),)
        cells = (watts, passed, ("",)) if target.pedalled else (("-",), passed, (ROLLED,))
        placed.append((target.to_m, 0, (place, *cells)))
    for at, passage in enumerate(card.passages if _has_room(card) else ()):
        path = f"pace/landmarks/{at}"
        place, passed = _place(passage.at_m, "at_m", passage.elapsed_s, path, units)
        placed.append((passage.at_m, 1, (place, ("",), passed, (Words(passage.name, SHORT_CUE),))))
    rows = tuple(cells for _, _, cells in sorted(placed, key=lambda one: one[:2]))
    distance = shown_unit("course_distance", units)
    return Grid("Pacing card", (f"to {distance}", "W", "elapsed", "<cue"), rows, stacked=False)


def _has_room(card: Card) -> bool:
    """Whether the landmarks fit beside the targets."""
    return len(card.targets) + len(card.passages) <= CARD_ROWS


def card_section(advice: Advice, units: System) -> tuple[Section, ...]:
    """How the card was made, and for which weather."""
    card, timed = advice.card, advice.timing
    if card is None:
        return ()
    power, even = card.constant_power_w, card.constant_power_time_s
    wind, air = timed.wind_at_rider_m_s, timed.air_density_kg_m3
    held: Line = (
        "Held: ",
        Words(card.limit),
        ". One power all along under the same limit is ",
        Number(show(power, "power", units), power, "pace/constant_power_w"),
        ", for a time of ",
        Number(show_duration(even), even, "pace/constant_power_time_s"),
        "; the card takes ",
        Number(show_duration(card.time_s), card.time_s, "pace/time_s"),
        ".",
    )
    weather: Line = (
        "Made for a mean wind of ",
        Number(show(wind, "wind_speed", units), wind, "time/wind_at_rider_m_s"),
        " at the rider and air of ",
        Number(show(air, "density", units), air, "time/air_density_kg_m3"),
        "; in other weather the targets and the times are others: racecalc pace says which.",
    )
    return (Section("made", "How the card was made", (Items((held, weather)),)),)


def landmarks_section(advice: Advice, units: System) -> tuple[Section, ...]:
    """The landmarks with their notes, for which the card has no room."""
    card = advice.card
    if card is None or not card.passages:
        return ()
    rows = tuple(
        (
            *_place(one.at_m, "at_m", one.elapsed_s, f"pace/landmarks/{at}", units),
            (Words(f"{one.name}: {one.note}" if one.note else one.name),),
        )
        for at, one in enumerate(card.passages)
    )
    headings = (f"at {shown_unit('course_distance', units)}", "elapsed", "<landmark")
    return (Section("landmarks", "Landmarks", (Grid("Landmarks", headings, rows, stacked=False),)),)


def _place(at_m: float, at_key: str, elapsed_s: float, path: str, units: System) -> Cells:
    """Where, and when."""
    return (
        (Number(show_number(at_m, "course_distance", units), at_m, f"{path}/{at_key}"),),
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
