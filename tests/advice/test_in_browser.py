"""The page in a real browser, where one is at hand: how wide it is, and what it prints."""

import re
import subprocess
from pathlib import Path

import pytest

from racecalc.answers.sheet import Sheet
from racecalc.decisions.pacing.card import Passage
from racecalc.views.advice import PageRequest, advice_on, written
from racecalc.views.cards import SIZES, Print, card_html, card_pdf
from racecalc.views.writers.page import FLAGS, browser, pdf_of
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
from tests.views.test_card_outputs import TURN, card

DEMO = Path(__file__).parents[2] / "course_demo" / "race.toml"

pytestmark = pytest.mark.skipif(browser() is None, reason="no browser is at hand")


@pytest.fixture(scope="module")
def sheets(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Sheet]:
    folder = tmp_path_factory.mktemp("races")
    long = race_in(folder, named_throughout("W" * 5000), "long.toml")
    return {
        name: advice_on(path, PageRequest())[1] for name, path in (("demo", DEMO), ("long", long))
    }


@pytest.mark.parametrize("name", ["demo", "long"])
@pytest.mark.parametrize("width", [360, 1000])
def test_nothing_is_wider_than_the_screen(
    sheets: dict[str, Sheet], name: str, width: int, tmp_path: Path
) -> None:
    """A frame of that width holds the page, since a window may not be made so narrow."""
    page = written(sheets[name], "html", "metric").decode()
    # The page itself forbids scripts; this copy is measured by one.
    page = re.sub(r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", page)
    measure = "document.title = document.documentElement.scrollWidth + ' of ' + innerWidth"
    inside = page.replace("</body>", f"<script>{measure}</script></body>")
    Path(tmp_path, "inside.html").write_text(inside, "utf-8")
    outside = (
        f'<iframe id=f src=inside.html style="width:{width}px;height:900px;border:0"></iframe>'
        "<script>onload = () => { document.title = f.contentDocument.title }</script>"
    )
    source = Path(tmp_path, "outside.html")
    source.write_text(outside, "utf-8")
    words = [str(browser()), *FLAGS, "--no-sandbox", "--allow-file-access-from-files"]
    words += [f"--user-data-dir={tmp_path}/profile", "--dump-dom", source.as_uri()]
    dump = subprocess.run(words, capture_output=True, timeout=120, check=True).stdout.decode()
    found = re.search(r"<title>(\d+) of (\d+)</title>", dump)
    assert found, dump[:500]
    assert int(found[2]) == width
    assert int(found[1]) <= width


def sheets_of(printed: bytes) -> list[tuple[float, float]]:
    """Width and height of the sheets of a PDF [mm]; 72 points an inch (ISO 32000-1, 8.3.2.3)."""
    boxes = re.findall(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)\s*\]", printed)
    return [(float(wide) * 25.4 / 72.0, float(high) * 25.4 / 72.0) for wide, high in boxes]


PAPERS = {"A4": (210.0, 297.0), "letter": (8.5 * 25.4, 11.0 * 25.4)}
"""ISO 216 and ANSI/ASME Y14.1 [mm]."""


@pytest.mark.parametrize("paper", PAPERS)
def test_first_sheet_fits_a_sheet_and_the_demo_five(sheets: dict[str, Sheet], paper) -> None:
    page = written(sheets["demo"], "html", "metric", paper).decode()
    printed = pdf_of(page)
    assert b"/Creator (racecalc)" in printed
    found = sheets_of(printed)
    assert 3 <= len(found) <= 5
    assert all(at == pytest.approx(PAPERS[paper], abs=0.3) for at in found)
    front = pdf_of(page.replace("</style>", ".rest { display: none; }</style>", 1))
    assert len(sheets_of(front)) == 1


def test_cards_are_printed_to_scale_and_nothing_runs_over(tmp_path: Path) -> None:
    marks = [Passage(9_000.0, "W" * 60, 800.0, "Sit up, look over the shoulder, go." * 2), TURN]
    whole = card(10, 200_000.0, passages=marks)
    printed = sheets_of(card_pdf(whole, Print("metric")))
    sizes = [(one.width, one.height) for one in SIZES]
    # A side of each, and the back of those that have no room for the note.
    assert sorted({min(sizes, key=lambda one: abs(one[0] - at[0])) for at in printed}) == sizes
    for wide, high in printed:
        assert min(abs(wide - one) + abs(high - other) for one, other in sizes) < 0.5
    page = card_html(whole, Print("metric"))
    measure = (
        "let over = 0; for (const one of document.querySelectorAll('.card:not(.back)')) {"
        " const end = one.querySelector('tbody').getBoundingClientRect().bottom;"
        " if (end > one.querySelector('.advice').getBoundingClientRect().top + 1) over++;"
        " const edge = one.getBoundingClientRect().right, range = document.createRange();"
        " for (const clock of one.querySelectorAll('td.clock')) { range.selectNodeContents(clock);"
        " if (range.getBoundingClientRect().right > edge) over++; } }"
        " document.title = over + ' of ' + document.querySelectorAll('.card').length"
    )
    assert re.match("0 of [4-9]", measured(page, measure, tmp_path))


def test_first_sheet_holds_what_many_options_and_landmarks_leave_of_it(tmp_path: Path) -> None:
    """Rows and notes give way; cautions do not."""
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
    page = written(advice_on(path, PageRequest())[1], "html", "metric", "letter").decode()
    for words in ("Above 28 degC", "Side wind pushes", "chest pain", "ask the organiser"):
        assert words in page.partition('<div class="rest">')[0]
    front = pdf_of(page.replace("</style>", ".rest { display: none; }</style>", 1))
    assert len(sheets_of(front)) == 1


def measured(page: str, script: str, folder: Path) -> str:
    """The title of a copy of a page that is measured by a script, which the page itself forbids."""
    page = re.sub(r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", page)
    source = Path(folder, "inside.html")
    source.write_text(page.replace("</body>", f"<script>{script}</script></body>"), "utf-8")
    words = [str(browser()), *FLAGS, "--no-sandbox", f"--user-data-dir={folder}/profile"]
    words += ["--dump-dom", source.as_uri()]
    dump = subprocess.run(words, capture_output=True, timeout=120, check=True).stdout.decode()
    return re.findall(r"<title>([^<]*)</title>", dump)[0]
