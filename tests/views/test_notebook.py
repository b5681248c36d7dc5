"""The questions of the commands from Python: the same answers, as rows and as a page."""

import re
from contextlib import chdir
from html import unescape

import pytest

import racecalc
from tests.answered import DEMO, answered

COARSE = {"course.step": "50 m"}
WORDS = ("value", "race.toml", "--set", "course.step=50 m")


@pytest.fixture(scope="module")
def value() -> racecalc.Answer:
    with chdir(DEMO):
        return racecalc.ask("value", "race.toml", set=COARSE)


def test_the_answer_is_that_of_the_command(value) -> None:
    wanted = answered(*WORDS)
    assert value.json == wanted.json
    assert str(value) == wanted.text()


def test_rows_are_flat(value) -> None:
    rows = value.rows("options")
    assert [row["saved_s"] for row in rows] == [one["saved_s"] for one in value.json["options"]]
    assert all(not isinstance(cell, dict) for row in rows for cell in row.values())
    with pytest.raises(racecalc.InputError, match="there is no list 'option'; known: options"):
        value.rows("option")


def test_a_notebook_shows_the_sheet(value) -> None:
    frame = value._repr_html_()
    page = unescape(re.fullmatch(r'<iframe srcdoc="([^"]*)" style="[^"]*"></iframe>', frame)[1])
    assert page.startswith("<!doctype html>") or page.startswith("<!DOCTYPE html>")
    assert "Fenzarra Calm tyres" in page
    assert "<script" not in page


def test_a_race_that_was_read_is_asked_about() -> None:
    race = racecalc.read_race(DEMO / "race.toml", ["course.step=50 m"])
    found = racecalc.ask("against", race, "ripple", "lowtide")
    assert found.json == racecalc.ask("against", DEMO / "race.toml", "3", "2", set=COARSE).json
    with pytest.raises(racecalc.InputError, match="is as it is; give its file"):
        racecalc.ask("time", race, set=COARSE)


@pytest.mark.parametrize(
    ("question", "wishes", "said"),
    [
        ("valu", {}, "there is no question 'valu'"),
        ("value", {"orders": "money"}, "--orders: there is no such flag; did you mean '--order'?"),
        ("value", {"order": "colour"}, "'colour' is not one of"),
        ("basket", {"budget": "5 kr"}, "--budget"),
    ],
)
def test_what_will_not_do_is_an_error(question: str, wishes, said: str) -> None:
    with pytest.raises(racecalc.InputError, match=re.escape(said)):
        racecalc.ask(question, DEMO / "race.toml", **wishes)


def test_the_lines_of_the_manual_run(capsys) -> None:
    text = (DEMO.parent / "racecalc" / "manual" / "python.md").read_text("utf-8")
    [lines] = re.findall(r"```python\n(.*?)```", text, re.DOTALL)
    with chdir(DEMO.parent):
        exec(lines, {})  # noqa: S102 - the page's own lines
    first, *rows = capsys.readouterr().out.splitlines()
    assert first == f"{answered('time', 'race.toml').answer.timed.time_s:.0f} s"
    assert len(rows) == 14


def test_only_what_is_public_is_there() -> None:
    assert {getattr(racecalc, name).__name__ for name in racecalc.__all__} == {
        *("Answer", "InputError", "ask", "load_measured")
    }
    with pytest.raises(AttributeError):
        racecalc.nothing  # noqa: B018
