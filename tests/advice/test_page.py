"""The page of the demo: its numbers are those of the commands, and it is sound HTML."""

import json
import re
import shlex
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import Element

import html5lib
import pytest

from racecalc.answers.fields import plain
from racecalc.answers.sheet import Depth, Sheet
from racecalc.views.advice import PageRequest, advice_on, written

pytestmark = pytest.mark.xdist_group(__name__)
"""What the tests share is worked out once."""

DEMO = Path(__file__).parents[2] / "course_demo" / "race.toml"
CHANGES = ('rider.power_doubt="5 W"', 'air.wind_doubt="1 m/s"', 'course.step="50 m"')
XHTML = "{http://www.w3.org/1999/xhtml}"
SVG = "{http://www.w3.org/2000/svg}"
LEAST_NUMBERS = 150


@dataclass
class Page:
    """The page of the demo in every form."""

    json: Any
    sheet: Sheet
    html: str
    tree: Element

    def each(self, tag: str) -> list[Element]:
        return list(self.tree.iter(f"{XHTML}{tag}"))

    def words(self, name: str = "") -> str:
        part = self.tree if not name else self.section(name)
        return re.sub(r"\s+", " ", "".join(part.itertext()))

    def section(self, name: str) -> Element:
        return next(one for one in self.each("section") if one.get("class").split()[0] == name)


@pytest.fixture(scope="module")
def page() -> Page:
    asked = PageRequest(changes=CHANGES, made_on=date(2026, 5, 17))
    answer, sheet = advice_on(DEMO, asked)
    text = written(sheet, "html", "metric").decode()
    # A strict parser: the first thing that the standard calls a parse error ends the test.
    tree = html5lib.HTMLParser(strict=True).parse(text)
    return Page(plain(answer), sheet, text, tree)


def commands_of(page: Page) -> Iterator[list[str]]:
    """The commands that the page tells to repeat it by, as a reader would type them."""
    for entry in page.section("to-repeat-it").iter(f"{XHTML}li"):
        words = "".join(entry.itertext())
        if words.startswith("racecalc "):
            yield shlex.split(words)


def test_numbers_are_those_of_the_commands(page: Page, racecalc) -> None:
    answers = {}
    for program, name, file, *rest in commands_of(page):
        assert (program, file) == ("racecalc", DEMO.name)
        if name == "advice":
            answers[name] = page.json
            continue
        status, out, _ = racecalc(name, DEMO, *rest, "--json")
        assert status == 0
        answers[name] = json.loads(out)
    told = [one for one in page.each("data") if one.get("data-key")]
    assert len(told) >= LEAST_NUMBERS
    assert {one.get("data-key").split("/")[0] for one in told} == set(answers)
    for one in told:
        found = answers
        for step in one.get("data-key").split("/"):
            found = found[int(step)] if isinstance(found, list) else found[step]
        assert float(one.get("value")) == pytest.approx(found, rel=1e-12), one.get("data-key")


def number(text: str) -> tuple[float, float]:
    """A number as it is told, in its own unit, and the unit of its last digit."""
    clock = re.fullmatch(r"(?:(\d+):)?(\d+):(\d\d)", text)
    if clock:
        hours, minutes, seconds = (int(part or 0) for part in clock.groups())
        return 3600.0 * hours + 60.0 * minutes + seconds, 1.0
    found = re.search(r"[-+]?\d+(?:\.(\d+))?", text)
    assert found, text
    return float(found[0]), 10.0 ** -len(found[1] or "")


def test_text_of_a_number_is_its_value_rounded(page: Page) -> None:
    checked = 0
    for one in page.each("data"):
        text, key = "".join(one.itertext()), one.get("data-key")
        value = float(one.get("value"))
        if text.startswith(("less than", ">", "<")):
            continue
        if text.endswith("%"):
            value *= 100.0
        if key.endswith(("to_m", "at_m")):
            value /= 1000.0
        if "between" in text or key.startswith("basket/saved_s_"):
            value = abs(value)
        shown, unit = number(text)
        assert abs(abs(shown) - abs(value)) <= 0.5 * unit + 1e-9, (key, text, value)
        checked += 1
    assert checked >= LEAST_NUMBERS - 20


def test_headline_says_all_that_is_to_be_done(page: Page) -> None:
    (line,) = (one for one in page.each("p") if one.get("class") == "headline")
    words = "".join(line.itertext())
    assert words.count(".") == 1
    for part in ("Ride ", "buy ", "use ", "leave ", "test ", "between ", "in 95 of 100 cases"):
        assert part in words
    assert "Hot-waxed chain" in words


def test_first_sheet_holds_what_the_athlete_needs(page: Page) -> None:
    front = next(one for one in page.each("div") if one.get("class") == "front")
    sections = [one.get("class").split()[0] for one in front.iter(f"{XHTML}section")]
    assert sections == [
        "do",
        "do-not",
        "how-long-and-how-sure",
        "the-card",
        "before-you-follow-it",
    ]
    assert 4 <= len(list(page.section("do").iter(f"{XHTML}li"))) <= 10
    assert 3 <= len(list(page.section("do-not").iter(f"{XHTML}li"))) <= 4
    targets = list(page.section("the-card").iter(f"{XHTML}tr"))
    assert len(targets) - 1 <= 12 + 2
    assert "not targets" in page.words("before-you-follow-it")


def test_every_chart_is_told_in_words(page: Page) -> None:
    charts = [one for one in page.each("div") if one.get("class") == "chart"]
    assert len(charts) == 6
    for one in charts:
        assert one.get("role") == "img"
        assert len(one.get("aria-label")) > 60
        assert len(one.findall(f"{SVG}svg")) == 1
    assert "Fenzarra Calm tyres" in charts[1].get("aria-label")


def test_identifiers_are_unique_and_all_that_is_pointed_to_is_there(page: Page) -> None:
    identifiers = [one.get("id") for one in page.tree.iter() if one.get("id")]
    assert len(identifiers) == len(set(identifiers))
    pointed = re.findall(r'(?:href|aria-labelledby)="#?([^"]+)"|url\(#([^)]+)\)', page.html)
    assert {one or other for one, other in pointed} <= set(identifiers)


def test_page_needs_no_network_and_runs_no_script(page: Page) -> None:
    assert "default-src 'none'" in page.html
    assert not page.each("script")
    assert not page.each("link")
    assert not page.each("img")
    assert not re.search(r"https?:(?!//www\.w3\.org)|@import|src=", page.html)


def test_headings_go_down_one_by_one(page: Page) -> None:
    levels = [int(one.tag[-1]) for one in page.tree.iter() if re.search(r"}h\d$", str(one.tag))]
    assert levels[0] == 1
    assert set(levels[1:]) == {2}


def test_inputs_assumptions_version_date_and_seed_stand_at_the_end(page: Page) -> None:
    inputs = page.words("inputs")
    for words in ('cda = "0.236 m^2"', 'power_doubt = "5 W"', 'holds = ["95 %"', "option 15"):
        assert words in inputs
    assert "bearing_drag 91 mN" in page.words("assumed-because-the-race-file-does-not-say")
    assert "seed 1" in page.words("to-repeat-it")
    assert "SHA-256" in page.words("to-repeat-it")
    assert "oskavell_shore.gpx" in page.words("to-repeat-it")
    assert "racecalc 0.1.0 on 2026-05-17" in page.words()
    assert "not included" in page.words("what-this-does-not-include")


def test_folders_of_the_machine_are_not_told(page: Page) -> None:
    assert str(DEMO.parent) not in page.html
    assert "course_demo" not in page.html


def test_same_page_twice(page: Page) -> None:
    assert written(page.sheet, "html", "metric").decode() == page.html


def test_mail_says_the_same(page: Page) -> None:
    mail = written(page.sheet, "md", "metric").decode()
    titles = [one.title for one in page.sheet.upto(Depth.BASIS) if one.title]
    assert len(titles) > 15
    for title in titles:
        assert f"\n## {title}\n" in mail.replace("\\", "")
    assert "| Ostrewyn Ripple suit | leave |" in mail
    text = written(page.sheet, "txt", "metric").decode()
    assert max(map(len, text.splitlines())) <= 80
    assert "Ostrewyn Ripple suit" in text


def test_paper_is_left_to_whoever_prints_unless_it_is_asked_for(page: Page) -> None:
    assert "@page { size" not in page.html
    assert "@page { size: letter; }" in written(page.sheet, "html", "metric", "letter").decode()
