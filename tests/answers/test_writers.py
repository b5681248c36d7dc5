"""Each medium writes every sheet: a page that is sound HTML, and a mail."""

import re

import html5lib
import numpy as np
import pytest

from racecalc.answers.cells import Cell, quoted
from racecalc.answers.columns import Made, Number
from racecalc.answers.sheet import Curves, Depth, Drawn, Intervals, Lines, Sheet, Table
from racecalc.views.writers.markdown import markdown_of
from racecalc.views.writers.page import html_of, sections_of
from tests.answered import answered, asked
from tests.answers.test_answers import COMMANDS

XHTML = "{http://www.w3.org/1999/xhtml}"


# The page of advice has tests of its own, against every command that it names.
EACH = pytest.mark.parametrize("words", [asked(*one) for one in COMMANDS if one[0] != "advice"])


@EACH
def test_page_of_any_answer(words) -> None:
    sheet, answer = answered(*words).sheet, answered(*words).json
    text = html_of(sheet)
    # A strict parser: the first thing that the standard calls a parse error ends the test.
    tree = html5lib.HTMLParser(strict=True).parse(text)
    (title,) = tree.iter(f"{XHTML}title")
    assert 5 < len("".join(title.itertext())) <= 70  # what lists of pages show of it
    whole = " ".join("".join(tree.itertext()).split())
    for part in sections_of(sheet):
        assert part.title in whole
    identifiers = [one.get("id") for one in tree.iter() if one.get("id")]
    assert len(identifiers) == len(set(identifiers))
    assert not re.search(r"<script|<link|https?:(?!//www\.w3\.org)|@import|src=", text)
    for one in tree.iter(f"{XHTML}data"):
        found = answer
        for step in one.get("data-key").split("/"):
            found = found[int(step)] if isinstance(found, list) else found[step]
        assert float(one.get("value")) == pytest.approx(found, rel=1e-12), one.get("data-key")
    for one in tree.iter(f"{XHTML}div"):
        if one.get("class") == "chart":
            assert len(one.get("aria-label")) > 20


@EACH
def test_mail_of_any_answer(words) -> None:
    sheet = answered(*words).sheet
    mail = markdown_of(sheet)
    for part in sections_of(sheet):
        assert not part.title or f"\n## {part.title}\n" in mail.replace("\\", "")
    for line in mail.splitlines():
        # A table is one line a row, whatever breaks its cells have on a terminal.
        assert not line.startswith("| ") or line.endswith(" |")


HOSTILE = "<b>&amp;</b> $x^2$ @0@ \u202e| *c*"


@pytest.fixture
def odd() -> Sheet:
    """A sheet with words of a file wherever these may be."""
    along = np.linspace(0.0, 9.0, 10)
    rows = [Cell("3", value=3.0, key="a"), Cell("4", value=4.0, key="b")]
    return Sheet(
        ("Headline on ", quoted(HOSTILE)),
        [
            Lines([("About ", quoted(HOSTILE), ".")], HOSTILE),
            Table(
                "Rows",
                [Made("name", "", lambda _: quoted(HOSTILE), left=True), Number("n", "value")],
                rows,
                path={"here": rows[:1], "there": rows[1:]},
            ),
            Intervals([Drawn(HOSTILE, 1.0, 0.5, 1.5), Drawn("B", 1.0, None, None)], 0.2),
            Curves(along, {HOSTILE: along, "b": along}, (quoted(HOSTILE),), together=True),
            Curves(along, {"elevation [m]": along}, "Flat.", marks=[(3.0, HOSTILE)], steps=True),
        ],
        title=(quoted(HOSTILE),),
    )


def test_words_of_files_are_no_markup(odd: Sheet) -> None:
    text = html_of(odd, "A4")
    tree = html5lib.HTMLParser(strict=True).parse(text)
    assert "\u202e" not in text
    assert not list(tree.iter(f"{XHTML}b"))
    shown = "".join(tree.itertext())
    assert shown.count("<b>&amp;</b> $x^2$ @0@ | *c*") >= 8
    mail = markdown_of(odd)
    assert r"\<b\>\&amp;\</b\> \$x^2\$ \@0\@ \| \*c\*" in mail
    assert HOSTILE not in mail


def test_rows_of_several_lists_keep_their_paths(odd: Sheet) -> None:
    table = next(one for one in odd.blocks if isinstance(one, Table))
    keys = [table.cells(row, "metric")[1].key for row in table.rows]
    assert keys == ["here/0/value", "there/0/value"]


def test_a_chart_goes_with_the_table_before_it(odd: Sheet) -> None:
    parts = sections_of(odd)
    assert [part.depth for part in parts] == [Depth.ANSWER, Depth.DETAILS]
    assert [len(part.blocks) for part in parts] == [1, 4]
