"""A pacing card as one page to print: the card to cut out, and below it the whole table."""

from collections.abc import Iterable, Sequence
from datetime import date
from html import escape
from string import Template

from racecalc import __version__
from racecalc.decisions.pacing.card import Card, Passage, Target
from racecalc.quantities.clock import show_duration
from racecalc.quantities.plain_text import one_line
from racecalc.quantities.showing import System, show, show_number, shown_unit
from racecalc.views.card_page import (
    ADVICE,
    NO_SPEED_TARGETS,
    effort_words,
    ideal_words,
    passage_headings,
    passage_row,
    target_headings,
    target_row,
)
from racecalc.views.card_style import STYLE

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
<p>A positive head wind blows from ahead, a negative one from behind. s/W: seconds saved by one
watt more on the whole section. $no_speeds</p>
$landmarks
$warnings
<h2>Before you follow it</h2>
<ul>
$cautions
</ul>
<h2>How the numbers came</h2>
$origin
</section>
</main>
</body>
</html>
""")


def card_html(card: Card, units: System, made_on: date) -> str:
    """Pacing card as one page of HTML5 that needs no network and runs no script.

    Parameters
    ----------
    card : Card
        What the rider takes along.
    units : {"metric", "imperial"}
        System of units.
    made_on : date
        Day that the page names.

    Returns
    -------
    str
        The page; all words of files are escaped and set on one line.
    """
    return PAGE.substitute(
        title=_escaped(card.race, LONGEST_TITLE) or "race without a name",
        style=STYLE,
        cards=_cards(card, units),
        targets=_table(
            target_headings(units),
            [[escape(cell) for cell in target_row(target, units)] for target in card.targets],
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
    rows = [[_isolated(cell) for cell in passage_row(passage, units)] for passage in passages]
    return "<h2>Landmarks</h2>\n" + _table(passage_headings(units), rows, words=(1, 3))


def _warnings(warnings: Sequence[str]) -> str:
    return f"<h2>What speaks against it</h2>\n<ul>\n{_items(warnings)}\n</ul>" if warnings else ""


def _items(lines: Iterable[str]) -> str:
    return "\n".join(f"<li>{_isolated(line)}</li>" for line in lines)


def _origin(card: Card, units: System, made_on: date) -> str:
    gains = "gains" if card.saved_s >= 0 else "loses"
    return (
        f"<p>What is held: {_isolated(card.limit)}. With these targets the course is expected to"
        f" take {show_duration(card.time_s, 1)}. That {gains} {abs(card.saved_s):.1f} s over one"
        f" power all along under the same limit, {show(card.constant_power_w, 'power', units)} in"
        f" {show_duration(card.constant_power_time_s, 1)}, and gives {card.given_away_s:.1f} s away"
        f" to the ideal {ideal_words(card)}, {show_duration(card.ideal_time_s, 1)}.</p>\n"
        f"<p>{escape(effort_words(card))}</p>\n"
        "<p>Computed from the race file by racecalc"
        f' {escape(__version__)} on <time datetime="{made_on:%Y-%m-%d}">{made_on:%Y-%m-%d}</time>.'
        " An estimate and no promise: traffic, stops, road works and mechanical trouble are not"
        " in it.</p>"
    )
