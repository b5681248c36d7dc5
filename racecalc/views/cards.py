"""A pacing card as files: HTML and PDF to print, CSV, a GPX route."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from math import ceil
from pathlib import Path

import numpy as np

from racecalc import __version__
from racecalc.answers.cells import quoted
from racecalc.answers.pace import (
    ADVICE,
    NO_SPEED_TARGETS,
    card_steps,
    card_tables,
    card_words,
    effort_words,
    gain_words,
)
from racecalc.answers.sheet import Lines, Road, Sheet, Step, grounds
from racecalc.arrays import FloatArray
from racecalc.decisions.pacing.card import Card, Passage, Target
from racecalc.domain.course import Course
from racecalc.domain.race import Race
from racecalc.errors import InputError
from racecalc.files.race_writing import csv_text, refuse_to_write, write_new_file
from racecalc.files.route import Waypoint, route_gpx
from racecalc.quantities.clock import show_duration, today
from racecalc.quantities.plain_text import one_line, shortened
from racecalc.quantities.showing import (
    System,
    What,
    show,
    show_number,
    shown_unit,
    to_shown,
    unit_size,
)
from racecalc.views.writers.page import html_of, pdf_of, refuse_without_printer, rendered

# --- The sizes of a card, and what fits on each --------------------------------------------------


@dataclass(frozen=True)
class Size:
    """A card of a size that has a place on a bicycle; lengths in mm."""

    name: str
    width: float
    height: float
    around: float
    """Height of the race's name, the headings, the advice below, and the finish."""
    row: float
    mark: float
    """Least heights of a target, and of a landmark."""
    named: int
    told: int
    """Characters of a landmark's name and of its note for which there is room; 0 for no note."""
    lines: int
    broad: int
    """Lines of its back, and characters of each."""
    profile: float = 0.0
    """Height of the profile of the course; 0 for none."""

    @property
    def room(self) -> float:
        """Height for targets and landmarks."""
        return self.height - self.around - self.profile

    def fits(self, landmarks: int) -> int:
        """How many sections a single card has room for; landmarks that crowd it go to the back."""
        marks = landmarks * self.mark
        return int((self.room - (marks if marks < CROWDED * self.room else 0.0)) / self.row)


CROWDED = 0.35
"""Share of a card from which landmarks go to its back; our choice."""

SIZES = (
    Size("stem", 45.0, 100.0, 20.4, 6.5, 6.5, 22, 0, 25, 30),
    Size("top-tube", 60.0, 128.0, 21.0, 7.6, 15.0, 28, 44, 33, 42),
    Size("pocket", 105.0, 148.0, 25.0, 7.6, 9.5, 46, 64, 36, 76, 20.0),
)
"""A strip on the stem, a label on the top tube, and an A6 sheet (ISO 216) for the pocket. Their
figures are 4.9, 6.1 and 6.1 mm high (19.5 and 24 pt: digits of the usual fonts are 0.716 of it):
at 60 cm 28 and 35 minutes of arc, as much as displays to be read at a glance (ISO 9241-303: 20 to
22 preferred, from memory)."""

WHOLE = 120
"""Characters of a landmark on the back."""


@dataclass(frozen=True)
class Face:
    """One side of a card."""

    size: Size
    which: str
    """As "1 of 2"; empty where it is the only one."""
    rows: tuple[tuple[Step, float], ...]
    """What is on it, each with its height [mm]."""
    back: bool = False


def faces(size: Size, steps: Sequence[Step]) -> list[Face]:
    """The sides of a card: as many as it takes, and a back for what the front has no room for."""
    *road, finish = steps
    fronts = _filled(size, road)
    bare = [one for one in road if one.effort]
    if len(fronts) > 1 and len(alone := _filled(size, bare)) < len(fronts):
        fronts = alone
    shown = {id(step) for front in fronts for step in front}
    behind = [one for one in road if not one.effort and (id(one) not in shown or _cut(size, one))]
    found = [
        Face(size, f"{at} of {len(fronts)}" if len(fronts) > 1 else "", _spread(size, front))
        for at, front in enumerate(fronts, 1)
    ]
    found[-1] = replace(found[-1], rows=(*found[-1].rows, (finish, 0.0)))
    backs = _backs(size, behind)
    return [*found, *(Face(size, "", tuple((one, 0.0) for one in back), True) for back in backs)]


def _least(size: Size, step: Step) -> float:
    if step.effort:
        return size.row
    return size.mark if step.note or not size.told else size.row


def _filled(size: Size, steps: Sequence[Step]) -> list[list[Step]]:
    """Steps side by side, each side as full as it goes."""
    found: list[list[Step]] = [[]]
    left = size.room
    for step in steps:
        if _least(size, step) > left and found[-1]:
            found.append([])
            left = size.room
        found[-1].append(step)
        left -= _least(size, step)
    return found


MOST_SPREAD = 1.3
"""How much higher than the least a row may be; our choice."""


def _spread(size: Size, steps: Sequence[Step]) -> tuple[tuple[Step, float], ...]:
    """Rows with the height that is left over among them, in steps of half a millimetre."""
    least = sum(_least(size, step) for step in steps)
    factor = min(size.room / least, MOST_SPREAD) if least else 1.0
    return tuple((step, int(2.0 * factor * _least(size, step)) / 2.0) for step in steps)


def _cut(size: Size, step: Step) -> bool:
    """Whether the front does not say all of a landmark."""
    note = step.note.text if step.note else ""
    return len(one_line(step.cue.text)) > size.named or len(note) > size.told


def _backs(size: Size, marks: Sequence[Step]) -> list[list[Step]]:
    found: list[list[Step]] = [[]] if marks else []
    left = size.lines
    for one in marks:
        words = len(one_line(_whole(one), WHOLE)) + 12
        lines = ceil(words / size.broad)
        if lines > left and found[-1]:
            found.append([])
            left = size.lines
        found[-1].append(one)
        left -= lines
    return found


def _whole(step: Step) -> str:
    return f"{step.cue.text}: {step.note.text}" if step.note else step.cue.text


# --- A pacing card to print ----------------------------------------------------------------------


@dataclass(frozen=True)
class Print:
    """What a card is printed for."""

    units: System
    sizes: tuple[Size, ...] = SIZES
    race: Race | None = None
    """For the profile; None where only the card is known."""
    made_on: date | None = None


BEYOND = "Beyond your limits"
"""What a card says on its face that its rider has not shown to hold."""


def _faces_html(card: Card, asked: Print) -> str:
    """The sides of the cards that are wanted."""
    steps, road = card_steps(card, asked.units), None
    if asked.race is not None:
        road = _road(asked.race.course, steps, asked.units)
    return rendered(
        "card.html",
        faces=[face for size in asked.sizes for face in faces(size, steps)],
        race=one_line(card.race, LONGEST_TITLE) or "race without a name",
        heads=(f"from {shown_unit('course_distance', asked.units)}", "W", "clock"),
        advice=f"{ADVICE} {'Speeds are no targets' if card.within_limits else BEYOND}.",
        name=lambda step, most: shortened(step.cue.text, most),
        note=lambda step, most: shortened(step.note.text, most) if step.note and most else "",
        whole=lambda step: one_line(_whole(step), WHOLE),
        road=road,
        hours=card.time_s >= 3600.0,
    )


def _road(course: Course, steps: Sequence[Step], units: System) -> Road:
    at = np.linspace(0.0, course.length, 300)
    height = to_shown(course.elevation_at(at), "elevation", units)
    return Road(steps, at / unit_size("course_distance", units), height, ("", "", "", ""))


LONGEST_TITLE = 60
"""Characters of the race's name that are shown."""


def card_html(card: Card, asked: Print) -> str:
    """Cards to cut out, with the whole table below: a page that needs no network and no script."""
    targets, landmarks = card_tables(card)
    made = f"{asked.made_on or today():%Y-%m-%d}"
    sheet = Sheet(
        f"Pacing card: {show_duration(card.time_s)}",
        [
            replace(targets, title="Targets", note=f"{targets.note} {NO_SPEED_TARGETS}"),
            landmarks,
            Lines([*card_words(card, asked.units)]),
            Lines([(quoted(one),) for one in card.warnings], "Reasons for caution"),
            Lines([(quoted(one),) for one in (ADVICE, *card.cautions)], "Before you follow it"),
            grounds(
                [
                    ("Limit: ", quoted(card.limit), f". {gain_words(card, asked.units)}"),
                    effort_words(card),
                    f"Computed from the race file by racecalc {__version__} on {made}. An estimate,"
                    " not a promise: traffic, stops, road works and mechanical trouble are not in"
                    " it.",
                ],
                "How the numbers were made",
            ),
        ],
        asked.units,
        (quoted(card.race, LONGEST_TITLE),),
    )
    return html_of(sheet, before=_faces_html(card, asked))


def card_pdf(card: Card, asked: Print) -> bytes:
    """The cards alone, each side on a page of its own size, to be printed at 100 %."""
    return pdf_of(str(rendered("cards.html", cards=_faces_html(card, asked), sizes=asked.sizes)))


# --- A pacing card as a CSV table that a spreadsheet and `racecalc.files.tables` read -------------


def _metric(value: float, what: What, decimals: int) -> str:
    return show_number(value, what, "metric", decimals)


CELLS: dict[str, Callable[[Target], str]] = {
    "from [km]": lambda one: _metric(one.from_m, "course_distance", 3),
    "to [km]": lambda one: _metric(one.to_m, "course_distance", 3),
    "power [W]": lambda one: f"{one.power_w:.1f}",
    "speed [km/h]": lambda one: _metric(one.speed_m_s, "speed", 2),
    "time [s]": lambda one: f"{one.time_s:.2f}",
    "elapsed [h:m:s]": lambda one: _with_hours(one.elapsed_s),
    "grade [%]": lambda one: _metric(one.grade, "grade", 2),
    "head wind [m/s]": lambda one: _metric(one.head_wind_m_s, "wind_speed", 2),
    "seconds per watt [s/W]": lambda one: f"{one.seconds_per_watt:.4f}",
}
"""Cells of the table by their headings, in metric units whatever the reader sees elsewhere."""

PARTING = str.maketrans({",": " ", ";": " ", '"': "'"})
"""Signs that would part the comment into cells, which a spreadsheet may take for formulas."""


def card_csv(card: Card) -> str:
    """Targets of a card as CSV, below a comment that says what they are."""
    named = one_line(f"{card.race}: {card.limit}".translate(PARTING))
    rows = [
        [*(make(target) for make in CELLS.values()), _marks_on(card, target)]
        for target in card.targets
    ]
    heading = [*CELLS, "landmarks"]
    return f"# {named}. {ADVICE} {NO_SPEED_TARGETS}\n" + csv_text([heading, *rows])


def _marks_on(card: Card, target: Target) -> str:
    """Landmarks of a section behind where they are; the last section has one at the finish."""
    last = target is card.targets[-1]
    marks = (
        f"{_metric(one.at_m, 'course_distance', 2)} {one.name}"
        + (f" ({one.note})" if one.note else "")
        for one in card.passages
        if target.from_m <= one.at_m and (last or one.at_m < target.to_m)
    )
    return " / ".join(one_line(words.translate(PARTING), WHOLE) for words in marks)


def _with_hours(seconds: float) -> str:
    """The clock with its hours even where there are none: spreadsheets take 8:55 for hours."""
    shown = show_duration(seconds, 1)
    return shown if shown.count(":") == 2 else f"0:{shown:0>7}"


# --- A pacing card as a route --------------------------------------------------------------------


def card_gpx(card: Card, course: Course, units: System) -> str:
    """The course as a track, and on it the start of each section, the landmarks and the finish."""
    _need_positions(course)
    line = _line(course, course.distance)
    places = sorted(_places(card, units), key=lambda place: place[0])
    rows = _line(course, np.array([at for at, *_ in places])).tolist()
    points = [Waypoint(*row, *words) for row, (_, *words) in zip(rows, places, strict=True)]
    return route_gpx(points, line, card.race, f"{card.limit}. {ADVICE}")


def _places(card: Card, units: System) -> Iterator[tuple[float, str, str, str]]:
    """How far along each is, what it is called, what more is told, and its sort."""
    unit = shown_unit("course_distance", units)
    for one in card.targets:
        to = show_number(one.to_m, "course_distance", units, 1)
        more = f"to {unit} {to}, {show_duration(one.elapsed_s)} elapsed"
        yield one.from_m, show(one.power_w, "power", units), more, "power target"
    for mark in card.passages:
        yield mark.at_m, mark.name, _told_of(mark), "landmark"
    done = f"{show_duration(card.time_s)} elapsed"
    yield card.targets[-1].to_m, "Finish", done, "finish"


def _told_of(mark: Passage) -> str:
    return ", ".join(filter(None, (f"{show_duration(mark.elapsed_s)} elapsed", mark.note)))


def _line(course: Course, at: FloatArray) -> FloatArray:
    """Latitude, longitude and height at distances from the start; shape (n, 3)."""
    where = course.positions_at(at)
    if where is None:
        raise TypeError("the course has no positions")
    return np.column_stack([where.latitude, where.longitude, course.elevation_at(at)])


def _need_positions(course: Course) -> None:
    if course.positions is None:
        raise InputError(
            course.report.source,
            "the course has distances but no positions, so there is no route",
            "take the course from a GPX, FIT or TCX file",
        )


# --- A pacing card as a file ---------------------------------------------------------------------

Writer = Callable[[Card, Race, Print], str | bytes]

WRITERS: dict[str, Writer] = {
    ".csv": lambda card, _, __: card_csv(card),
    ".gpx": lambda card, race, asked: card_gpx(card, race.course, asked.units),
    ".html": lambda card, _, asked: card_html(card, asked),
    ".pdf": lambda card, _, asked: card_pdf(card, asked),
}

PRINTED = (".html", ".pdf")
"""Kinds that are cards of a size."""


def card_writer(path: Path, race: Race) -> Writer:
    """What writes a card to a file; whatever speaks against it is said before any long work."""
    suffix = path.suffix.lower()
    if suffix not in WRITERS:
        raise InputError(
            "--output", f"'{path}' is not a kind of card", "end it with .html, .pdf, .csv or .gpx"
        )
    refuse_to_write(path)
    if suffix == ".pdf":
        refuse_without_printer()
    if suffix == ".gpx":
        _need_positions(race.course)
    return WRITERS[suffix]


def write_card(
    path: Path, card: Card, race: Race, units: System, sizes: tuple[Size, ...] = SIZES
) -> None:
    """Write a card to a file that is not there yet."""
    write_new_file(path, card_writer(path, race)(card, race, Print(units, sizes, race)))
