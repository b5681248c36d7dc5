"""Words of a race file are shown as text, whatever they are."""

import html5lib
import pytest

from racecalc.views.advice import PageRequest, advice_on, written
from tests.advice.races import named_throughout, race_in

XHTML = "{http://www.w3.org/1999/xhtml}"
HOSTILE = {
    "markup": "<script>alert('x')</script></td></table><!--",
    "entities": "&amp; &lt;b&gt; ]]>",
    "direction": "\u202eecar \u2066hidden\u2069\u200f",
    "right to left": "שלום עולם",
    "long": "Wide Moor " * 500,
    "one long word": "x" * 5000,
    "emoji": "🚴‍♀️🏁 round two",
    "breaks": "one\ntwo\r\nthree\x85four",
    "formula": "$x^2$ \\frac{1}{2} $",
    "template": "{{ 7 * 7 }} {% raw %} {# no #}",
    "mark": "@0@",
    "mail": "# a | b *c* [d](e) `f` ~g~",
}


SHOWN = 380
"""Signs of a long name that are shown at least."""

TURNING = "\u202e\u2066\u2069\u200f"


def text_in(name: str) -> str:
    """What a page shows of a name: a line without signs that turn the direction."""
    for sign in TURNING:
        name = name.replace(sign, "")
    return " ".join(name.split())


@pytest.mark.parametrize("first", range(0, len(HOSTILE), 4))
def test_names_are_text(first: int, tmp_path) -> None:
    """Four at a time: of the race, of options, and of landmarks with their notes."""
    names = [*HOSTILE.values()][first : first + 4]
    path = race_in(tmp_path, named_throughout(*names), "odd.toml")
    _, sheet = advice_on(path, PageRequest())
    text = written(sheet, "html", "metric").decode()
    tree = html5lib.HTMLParser(strict=True).parse(text)
    assert not any(sign in text for sign in (*TURNING, "\x85"))
    whole = "".join(tree.itertext())
    assert [name for name in names if text_in(name)[:SHOWN] not in whole] == []
    assert not list(tree.iter(f"{XHTML}script"))
    titles = ["".join(one.itertext()) for one in tree.iter(f"{XHTML}h2")]
    assert titles[1].startswith("What to do")
    assert any(one.startswith("Every option") for one in titles)
    charted = [one for one in tree.iter() if str(one.tag).endswith("}text")]
    assert not any(one.text and one.text.startswith("@1@") for one in charted)
    assert "{{ 7 * 7 }}" in whole or HOSTILE["template"] not in names


def test_mail_escapes_what_markdown_reads(tmp_path) -> None:
    path = race_in(tmp_path, named_throughout(HOSTILE["mail"]), "odd.toml")
    _, sheet = advice_on(path, PageRequest())
    mail = written(sheet, "md", "metric").decode()
    assert r"\# a \| b \*c\* \[d\](e)".replace("(e)", r"\(e\)") in mail
    rows = [line for line in mail.splitlines() if line.startswith("| ")]
    for row in rows:
        cells = row.replace(r"\|", "").count("|")
        assert cells in (3, 4, 5, 6, 10), row
