"""The page in a real browser, where one is at hand: how wide it is, and what it prints."""

import re
import subprocess
from itertools import groupby
from pathlib import Path

import pytest

from racecalc.answers.advice_squad import SquadAdvice, in_a_row, squad_advice_sheet
from racecalc.decisions.pacing.card import Passage
from racecalc.views.advice import PageRequest, advice_on, written
from racecalc.views.cards import SIZES, Print, card_html, card_pdf
from racecalc.views.writers.page import FLAGS, browser, html_of, pdf_of
from tests.advice.races import (
    CLAIM,
    DEEP,
    FREE,
    HEAVY,
    OWNED,
    SUIT,
    UNPROVED,
    named_throughout,
    race_in,
    race_text,
)
from tests.answered import answered
from tests.views.test_card_outputs import TURN, card

pytestmark = pytest.mark.skipif(browser() is None, reason="no browser is at hand")

MARKS = [Passage(9_000.0, "W" * 60, 800.0, "Sit up, look over the shoulder, go." * 2), TURN]
CARD = card(10, 200_000.0, passages=MARKS)
"""A card of hours with a landmark whose words no line holds."""

WIDE = "document.title = document.scrollingElement.scrollWidth + ' of ' + innerWidth"
"""How wide a page is, and how much of that a window shows."""

OVER = (
    "let over = 0; for (const one of document.querySelectorAll('.card:not(.back)')) {"
    " const end = one.querySelector('tbody').getBoundingClientRect().bottom;"
    " if (end > one.querySelector('.advice').getBoundingClientRect().top + 1) over++;"
    " const edge = one.getBoundingClientRect().right, range = document.createRange();"
    " for (const clock of one.querySelectorAll('td.clock')) { range.selectNodeContents(clock);"
    " if (range.getBoundingClientRect().right > edge) over++; } }"
    " document.title = over + ' of ' + document.querySelectorAll('.card').length"
)
"""Cards whose rows or clocks run over, of how many."""


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    folder = tmp_path_factory.mktemp("races")
    long = race_in(folder, named_throughout("W" * 5000), "long.toml")
    return {
        "demo": written(answered("advice", "race.toml").sheet, "html", "metric").decode(),
        "long": written(advice_on(long, PageRequest())[1], "html", "metric").decode(),
        "card": card_html(CARD, Print("metric")),
        "value": html_of(answered("value", "race.toml").sheet),
        "sweep": html_of(answered("trial", "wheel_sweep.csv").sheet),
    }


def measured(frames: list[tuple[str, str, int]], folder: Path) -> list[tuple[int, int]]:
    """What scripts find on pages in frames so wide, since a window may not be made so narrow."""
    outside = "<script>onload = () => { document.title = [...document.querySelectorAll('iframe')]"
    outside += ".map(one => one.contentDocument.title).join('; ') }</script>"
    for number, (page, script, width) in enumerate(frames):
        # The page itself forbids scripts; this copy is measured by one.
        bare = re.sub(r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", page)
        inside = bare.replace("</body>", f"<script>{script}</script></body>")
        Path(folder, f"{number}.html").write_text(inside, "utf-8")
        outside += f'<iframe src={number}.html style="width:{width}px;height:900px;border:0">'
        outside += "</iframe>"
    source = Path(folder, "outside.html")
    source.write_text(outside, "utf-8")
    words = [str(browser()), *FLAGS, "--no-sandbox", "--allow-file-access-from-files"]
    words += ["--hide-scrollbars", f"--user-data-dir={folder}/profile", "--dump-dom"]
    dump = subprocess.run(
        [*words, source.as_uri()], capture_output=True, timeout=120, check=True
    ).stdout.decode()
    titles = re.findall(r"<title>([^<]*)</title>", dump)[0].split("; ")
    return [(int(one), int(other)) for one, other in (title.split(" of ") for title in titles)]


def test_nothing_is_wider_than_the_screen_or_its_card(pages: dict[str, str], tmp_path) -> None:
    """At 320 CSS pixels nothing is to be scrolled sideways (WCAG 2.2, 1.4.10)."""
    widths = [(name, width) for name in pages for width in (320, 360, 1000)]
    frames = [(pages[name], WIDE, width) for name, width in widths]
    *found, (over, cards) = measured([*frames, (pages["card"], OVER, 1000)], tmp_path)
    assert found == [(width, width) for _, width in widths]
    assert over == 0
    assert 4 <= cards <= 9


def sheets_of(printed: bytes) -> list[tuple[float, float]]:
    """Width and height of the sheets of a PDF [mm]; 72 points an inch (ISO 32000-1, 8.3.2.3)."""
    boxes = re.findall(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)\s*\]", printed)
    return [(float(wide) * 25.4 / 72.0, float(high) * 25.4 / 72.0) for wide, high in boxes]


PAPERS = {"A4": (210.0, 297.0), "letter": (8.5 * 25.4, 11.0 * 25.4)}
"""ISO 216 and ANSI/ASME Y14.1 [mm]."""


def printed_at_once(*pages: tuple[str, str]) -> list[tuple[str, int]]:
    """How many sheets of which paper each page takes; papers must alternate."""
    style = re.findall(r"<style>(.*?)</style>", pages[0][0], re.DOTALL)[0]
    style += "".join(f"@page {one} {{ size: {one}; }} .{one} {{ page: {one}; }}" for one in PAPERS)
    mains = (
        f'<main class="{paper}">{page.partition("<main>")[2].partition("</main>")[0]}</main>'
        for page, paper in pages
    )
    printed = pdf_of(f"<!DOCTYPE html><style>{style}</style>{''.join(mains)}")
    assert b"/Creator (racecalc)" in printed
    papers = [
        next(name for name, size in PAPERS.items() if at == pytest.approx(size, abs=0.3))
        for at in sheets_of(printed)
    ]
    return [(paper, len(list(sheets))) for paper, sheets in groupby(papers)]


def front_of(page: str) -> str:
    """The first sheet of a page by itself."""
    before, _, rest = page.partition('<div class="rest">')
    return f"{before}</main>{rest.partition('</main>')[2]}"


def test_first_sheet_fits_a_sheet_and_the_demo_five(pages: dict[str, str], tmp_path) -> None:
    """Where options and landmarks are many, rows and notes give way; cautions do not."""
    marks = "".join(
        f'[[course.landmark]]\nat = "{1 + number} km"\nname = "Gate number {number} by the mill"\n'
        'note = "Look up and drink here, then go on."\n'
        for number in range(15)
    )
    many = [SUIT.replace('"Suit"', f'"Suit {at}"').replace('"suit"', f'"{at}"') for at in range(9)]
    claims = [CLAIM.replace("Claimed", f"Claimed {at}") for at in range(5)]
    text = race_text(*many, *claims, UNPROVED, FREE, HEAVY, DEEP, OWNED, more=marks)
    hot = 'temperature = "33 degC"\npressure = "1010 hPa"'
    path = race_in(tmp_path, text.replace('density = "1.2 kg/m^3"', hot))
    full = front_of(written(advice_on(path, PageRequest())[1], "html", "metric").decode())
    for words in ("Above 28 degC", "Side wind pushes", "chest pain", "ask the organiser"):
        assert words in full
    demo, front = pages["demo"], front_of(pages["demo"])
    found = printed_at_once(
        (demo, "A4"), (front, "letter"), (front, "A4"), (full, "letter"), (front, "A4"),
        (demo, "letter"),
    )  # fmt: skip
    assert found[1:-1] == [("letter", 1), ("A4", 1)] * 2
    assert [paper for paper, _ in (found[0], found[-1])] == ["A4", "letter"]
    rows = SquadAdvice((in_a_row(answered("advice", "race.toml").answer.advice),) * 12)
    squad = html_of(squad_advice_sheet(rows, "metric"))
    assert printed_at_once((squad, "A4")) == [("A4", 1)]
    assert all(3 <= sheets <= 5 for _, sheets in (found[0], found[-1]))


def test_cards_are_printed_to_scale() -> None:
    printed = sheets_of(card_pdf(CARD, Print("metric")))
    sizes = [(one.width, one.height) for one in SIZES]
    # A side of each, and the back of those that have no room for the note.
    assert sorted({min(sizes, key=lambda one: abs(one[0] - at[0])) for at in printed}) == sizes
    for wide, high in printed:
        assert min(abs(wide - one) + abs(high - other) for one, other in sizes) < 0.5
