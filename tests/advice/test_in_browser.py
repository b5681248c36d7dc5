"""The page in a real browser, where one is at hand: how wide it is, and what it prints."""

import re
import subprocess
from io import BytesIO
from pathlib import Path

import pytest

from racecalc.answers.sheet import Sheet
from racecalc.views.advice import PageRequest, advice_on, written
from racecalc.views.writers.page import FLAGS, browser, pdf_of
from tests.advice.races import named_throughout, race_in

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


@pytest.mark.parametrize("paper", ["A4", "letter"])
def test_first_sheet_of_paper_is_all_that_the_athlete_needs(
    sheets: dict[str, Sheet], paper
) -> None:
    pypdf = pytest.importorskip("pypdf")
    for name, sheet in sheets.items():
        printed = pypdf.PdfReader(BytesIO(pdf_of(written(sheet, "html", "metric", paper).decode())))
        assert printed.metadata
        assert printed.metadata.creator == "racecalc"
        first, second = (printed.pages[number].extract_text() for number in (0, 1))
        assert "Before you follow it" in first, name
        assert "ask the organiser" in first, name
        assert "How the card was made" not in first, name
        assert second.lstrip().startswith("How the card was made"), name
        width = float(printed.pages[0].mediabox.width)
        # ISO 216: A4 is 210 mm wide; a letter sheet is 8.5 in (ANSI/ASME Y14.1); 72 points an inch.
        assert width == pytest.approx({"A4": 210 / 25.4 * 72, "letter": 8.5 * 72}[paper], abs=1.0)
