"""A pacing card as files: HTML to print, CSV, GPX waypoints."""

from collections.abc import Callable, Iterable, Sequence
from datetime import date
from html import escape
from pathlib import Path
from string import Template

import numpy as np

from racecalc import __version__
from racecalc.answers.pace import ADVICE, NO_SPEED_TARGETS, TARGETS, effort_words, gain_words
from racecalc.arrays import FloatArray
from racecalc.decisions.pacing.card import Card, Passage, Target
from racecalc.domain.course import Course, Positions
from racecalc.domain.race import Race
from racecalc.errors import InputError
from racecalc.files.race_writing import csv_text, refuse_to_write, write_new_file
from racecalc.files.tracks import Waypoint, waypoints_gpx
from racecalc.quantities.clock import show_duration, today
from racecalc.quantities.plain_text import one_line
from racecalc.quantities.showing import System, What, show, show_number, shown_unit

# --- How the printed page of a pacing card looks -------------------------------------------------

STYLE = """
:root { color-scheme: light dark; --ink: #000; --paper: #fff; --line: #777; }
@media screen and (prefers-color-scheme: dark) {
  :root { --ink: #eee; --paper: #161616; --line: #999; }
}
@media print { :root { color-scheme: light; } .screen { display: none; } }
@page { margin: 11mm; }
* { box-sizing: border-box; }
html { background: var(--paper); color: var(--ink); }
body { margin: 0 auto; padding: 0; max-width: 186mm; font: 9pt/1.3 sans-serif; }
@media screen { body { padding: 6mm 3mm; } }
h1, h2 { line-height: 1.2; overflow-wrap: anywhere; }
h1 { margin: 0 0 2mm; font-size: 13pt; }
h2 { margin: 3mm 0 1mm; font-size: 10pt; break-after: avoid; }
p, ul { margin: 0 0 1.5mm; }
ul { padding-left: 5mm; }
p, li, td { overflow-wrap: anywhere; }
table { margin-bottom: 1mm; border-collapse: collapse; font-variant-numeric: tabular-nums; }
thead { display: table-header-group; }
tr { break-inside: avoid; }
th, td { padding: 0.2mm 1.5mm; text-align: right; vertical-align: baseline; }
thead th { border-bottom: 0.3mm solid var(--line); font-weight: normal; white-space: nowrap; }
tbody th { font-weight: normal; }
.words { text-align: left; }
.wide { overflow-x: auto; }
hr { margin: 2mm 0 3mm; border: 0; border-top: 0.4mm dashed var(--line); }

/* The card is paper on every screen: black on white, and in millimetres. */
.card {
  display: inline-block; width: 60mm; margin: 0 0.5mm 2mm 0; padding: 1.5mm 2mm;
  border: 0.3mm dashed #000; background: #fff; color: #000;
  vertical-align: top; break-inside: avoid; line-height: 1.15;
}
.card .race {
  margin: 0; max-height: 2.3em; overflow: hidden;
  font-size: 8pt; font-weight: bold; overflow-wrap: anywhere;
}
.card table { margin: 0; width: 100%; table-layout: fixed; }
.card th, .card td { padding: 0.2mm 0; overflow: hidden; white-space: nowrap; }
.card thead th { border-color: #000; font-size: 8pt; }
.card thead th:first-child { width: 19mm; }
.card thead th:last-child { width: 17mm; }
.card tbody tr + tr > * { border-top: 0.1mm solid #000; }
.card .to { font-size: 16pt; }
.card .power { font-size: 20pt; font-weight: bold; }
.card .at { font-size: 10pt; }
.card .mark { padding-left: 2mm; font-size: 8.5pt; text-align: left; }
.card .mark div { max-height: 3.5em; overflow: hidden; white-space: normal; }
.card .advice { margin: 1mm 0 0; font-size: 7pt; }
"""
"""Style sheet; nothing in it is fetched. Sizes of the card suit arm's length, by eye."""


# --- A pacing card as one page to print ----------------------------------------------------------

MOST_LINES = 12
"""Lines of one card; more make another card."""

LONGEST_TITLE = 60
"""Signs of the race's name that are shown."""

LONGEST_CUE = 56
"""Signs of a landmark on the card, name and note; all of them stand below."""

PAGE = Template("""\
<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy"
 content="default-src 'none'; style-src 'unsafe-inline'">
<title>Pacing card: $title</title>
<style>$style</style>
</head>
<body>
<main>
<p class="screen">Print at 100 %, cut along the dashed lines, cover with clear tape.</p>
<section aria-label="To cut out">
$cards
</section>
<hr>
<section aria-label="The whole table">
<h1><bdi>$title</bdi></h1>
<h2>Targets</h2>
<div class="wide">$targets</div>
<p>Head wind: positive from ahead, negative from behind. s/W: seconds saved by one
watt more on the whole section. $no_speeds</p>
$landmarks
$warnings
<h2>Before you follow it</h2>
<ul>
$cautions
</ul>
<h2>How the numbers were made</h2>
$origin
</section>
</main>
</body>
</html>
""")


def card_html(card: Card, units: System, made_on: date) -> str:
    """Pacing card as one page of HTML5 that needs no network and runs no script."""
    return PAGE.substitute(
        title=_escaped(card.race, LONGEST_TITLE) or "race without a name",
        style=STYLE,
        cards=_cards(card, units),
        targets=_table(
            [column.title(units) for column in TARGETS],
            [
                [escape(column.cell(target, units).text) for column in TARGETS]
                for target in card.targets
            ],
        ),
        no_speeds=NO_SPEED_TARGETS,
        landmarks=_landmarks(card.passages, units),
        warnings=_warnings(card.warnings),
        cautions=_items((ADVICE, *card.cautions)),
        origin=_origin(card, units, made_on),
    )


def _escaped(text: str, most: int | None = None) -> str:
    return escape(one_line(text, most))


def _isolated(text: str, most: int | None = None) -> str:
    """Words of a file, whose direction of writing stays their own."""
    return f"<bdi>{_escaped(text, most)}</bdi>"


def _cards(card: Card, units: System) -> str:
    """As many cards to cut out as it takes, each with at most `MOST_LINES` lines."""
    lines = _lines(card, units)
    parts = [lines[first : first + MOST_LINES] for first in range(0, len(lines), MOST_LINES)]
    return "\n".join(
        _one_card(card, units, part, f"{number} of {len(parts)}" if len(parts) > 1 else "")
        for number, part in enumerate(parts, 1)
    )


def _one_card(card: Card, units: System, lines: Sequence[str], which: str) -> str:
    distance = shown_unit("course_distance", units)
    headings = "".join(
        f'<th scope="col">{name}</th>' for name in (f"to {distance}", "W", "elapsed")
    )
    number = f"{which}: " if which else ""
    advice = f"{ADVICE} {shown_unit('speed', units)} are no targets."
    return (
        f'<div class="card">\n<p class="race">{number}{_isolated(card.race, LONGEST_TITLE)}</p>\n'
        f"<table>\n<thead><tr>{headings}</tr></thead>\n<tbody>\n"
        + "\n".join(lines)
        + f'\n</tbody>\n</table>\n<p class="advice">{advice}</p>\n</div>'
    )


def _lines(card: Card, units: System) -> list[str]:
    """Rows of the card in the order in which the rider meets them."""
    decimals = _decimals(card, units)
    placed = [
        *((target.to_m, 0, _target_line(target, units, decimals)) for target in card.targets),
        *((passage.at_m, 1, _mark_line(passage, units, decimals)) for passage in card.passages),
    ]
    return [line for _, _, line in sorted(placed, key=lambda one: one[:2])]


def _decimals(card: Card, units: System) -> int:
    """Decimals of the distances: one more where two sections would end at the same number."""
    ends = [show_number(target.to_m, "course_distance", units, 1) for target in card.targets]
    return 1 if len(set(ends)) == len(ends) else 2


def _target_line(target: Target, units: System, decimals: int) -> str:
    distance = show_number(target.to_m, "course_distance", units, decimals)
    return (
        f'<tr><th scope="row" class="to">{distance}</th>'
        f'<td class="power">{show_number(target.power_w, "power", units)}</td>'
        f'<td class="at">{show_duration(target.elapsed_s)}</td></tr>'
    )


def _mark_line(passage: Passage, units: System, decimals: int) -> str:
    distance = show_number(passage.at_m, "course_distance", units, decimals)
    words = f"{passage.name}: {passage.note}" if one_line(passage.note) else passage.name
    return (
        f'<tr><th scope="row" colspan="2" class="mark"><div>{distance}'
        f" {_isolated(words, LONGEST_CUE)}</div></th>"
        f'<td class="at">{show_duration(passage.elapsed_s)}</td></tr>'
    )


def _table(
    headings: Sequence[str], rows: Iterable[Sequence[str]], words: Sequence[int] = ()
) -> str:
    """A table of cells that are escaped already; columns of words are set to the left."""

    def cell(number: int, text: str, tag: str, scope: str = "") -> str:
        left = ' class="words"' if number in words else ""
        return f"<{tag}{scope}{left}>{text}</{tag}>"

    head = "".join(cell(at, escape(one), "th", ' scope="col"') for at, one in enumerate(headings))
    body = "\n".join(
        "<tr>"
        + cell(0, first, "th", ' scope="row"')
        + "".join(cell(at, one, "td") for at, one in enumerate(others, 1))
        + "</tr>"
        for first, *others in rows
    )
    return f"<table>\n<thead><tr>{head}</tr></thead>\n<tbody>\n{body}\n</tbody>\n</table>"


def _landmarks(passages: Sequence[Passage], units: System) -> str:
    if not passages:
        return ""
    rows = []
    for one in passages:
        at, elapsed = show_number(one.at_m, "course_distance", units), show_duration(one.elapsed_s)
        rows.append([_isolated(words) for words in (at, one.name, elapsed, one.note)])
    headings = (f"at {shown_unit('course_distance', units)}", "landmark", "elapsed", "note")
    return "<h2>Landmarks</h2>\n" + _table(headings, rows, words=(1, 3))


def _warnings(warnings: Sequence[str]) -> str:
    return f"<h2>Reasons for caution</h2>\n<ul>\n{_items(warnings)}\n</ul>" if warnings else ""


def _items(lines: Iterable[str]) -> str:
    return "\n".join(f"<li>{_isolated(line)}</li>" for line in lines)


def _origin(card: Card, units: System, made_on: date) -> str:
    return (
        f"<p>Limit: {_isolated(card.limit)}. {gain_words(card, units)}</p>\n"
        f"<p>{escape(effort_words(card))}</p>\n"
        "<p>Computed from the race file by racecalc"
        f' {escape(__version__)} on <time datetime="{made_on:%Y-%m-%d}">{made_on:%Y-%m-%d}</time>.'
        " An estimate, not a promise: traffic, stops, road works and mechanical trouble are not"
        " in it.</p>"
    )


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
    rows = [[make(target) for make in CELLS.values()] for target in card.targets]
    return f"# {named}. {ADVICE} {NO_SPEED_TARGETS}\n" + csv_text([list(CELLS), *rows])


def _with_hours(seconds: float) -> str:
    """The clock with its hours even where there are none: spreadsheets take 8:55 for hours."""
    shown = show_duration(seconds, 1)
    return shown if shown.count(":") == 2 else f"0:{shown:0>7}"


# --- A pacing card as waypoints ------------------------------------------------------------------


def card_gpx(card: Card, course: Course, units: System) -> str:
    """Start of each section and the finish as the text of a GPX 1.1 file."""
    at = np.array([*(target.from_m for target in card.targets), card.targets[-1].to_m])
    where = _positions(course, at)
    unit = shown_unit("course_distance", units)
    words = [
        (
            show(target.power_w, "power", units),
            f"to {unit} {show_number(target.to_m, 'course_distance', units, 1)},"
            f" {show_duration(target.elapsed_s)} elapsed",
            "power target",
        )
        for target in card.targets
    ]
    words.append(("Finish", f"{show_duration(card.time_s)} elapsed", "finish"))
    points = [
        Waypoint(float(latitude), float(longitude), float(elevation), *texts)
        for latitude, longitude, elevation, texts in zip(
            where.latitude, where.longitude, course.elevation_at(at), words, strict=True
        )
    ]
    return waypoints_gpx(points, card.race, f"{card.limit}. {ADVICE}")


def _positions(course: Course, at: FloatArray) -> Positions:
    where = course.positions_at(at)
    if where is None:
        raise InputError(
            course.report.source,
            "the course has distances but no positions, so there are no waypoints",
            "take the course from a GPX, FIT or TCX file",
        )
    return where


# --- A pacing card as a file ---------------------------------------------------------------------

Writer = Callable[[Card, Race, System], str]

WRITERS: dict[str, Writer] = {
    ".csv": lambda card, _, __: card_csv(card),
    ".gpx": lambda card, race, units: card_gpx(card, race.course, units),
    ".html": lambda card, _, units: card_html(card, units, today()),
}


def card_writer(path: Path, race: Race) -> Writer:
    """What writes a card to a file; whatever speaks against it is said before any long work."""
    suffix = path.suffix.lower()
    if suffix not in WRITERS:
        raise InputError(
            "--output", f"'{path}' is not a kind of card", "end it with .html, .csv or .gpx"
        )
    refuse_to_write(path)
    if suffix == ".gpx":
        _positions(race.course, np.zeros(1))
    return WRITERS[suffix]


def write_card(path: Path, card: Card, race: Race, units: System) -> None:
    """Write a card to a file that is not there yet."""
    write_new_file(path, card_writer(path, race)(card, race, units))
