"""No page is wider than the terminal, and no chart is drawn where only letters can be shown."""

import io
import os
import subprocess
import sys
from types import SimpleNamespace

import pytest
from rich.cells import cell_len

from racecalc.answers.columns import Column, Words
from racecalc.answers.sheet import Depth, Sheet, Table
from racecalc.views.writers.terminal import sheet_text
from tests.answered import answered, asked
from tests.answers.test_answers import COMMANDS
from tests.files.making import RACE, race_file

COARSE = ("--set", "course.step=60 m")
CHARTED = [words for words in COMMANDS if words[0] in {"time", "basket", "weather", "pace"}]
PAGES = {
    "value": ("--round", "flat_round.toml", "--set", "money.per_second=100 EUR"),
    "breakeven": ("--option", "Dunquill covered rear wheel", "--with", "Fenzarra Calm tyres"),
    "decide": ("--repeatability", "0.003 m^2", "--draws", "2000"),
    "places": ("results.csv", "--me", "Ulvi Tarnasse", "--target", "59:00"),
}

SLOW = ("--set", "rider.power=95 W", *COARSE)
CASES = [
    # Times of hours, and what no command of `tests/answers` asks.
    *(asked(name, "race.toml", *words, *SLOW) for name, words in PAGES.items()),
    *(asked(name, "race.toml", *PAGES[name], *COARSE) for name in ("value", "breakeven", "places")),
]


@pytest.mark.parametrize("words", CASES)
def test_pages_fit_the_terminal(words: tuple[str, ...]) -> None:
    found = answered(*words)
    for columns in (72, 80, 100):
        for depth in Depth:
            lines = found.text(depth, columns).splitlines()
            assert [line for line in lines if cell_len(line) > columns] == []


def refuse_charts(text: str) -> None:
    assert [letter for letter in text if "\u2500" <= letter <= "\u28ff"] == []
    assert "???" not in text
    assert "\n\n\n" not in text
    assert "seconds saved over" not in text
    assert "time [min] by start" not in text


@pytest.mark.parametrize("words", [asked(*words) for words in CHARTED])
def test_no_chart_where_only_letters_can_be_shown(words: tuple[str, ...], monkeypatch) -> None:
    sheet = answered(*words).sheet
    monkeypatch.setattr("sys.stdout", io.TextIOWrapper(io.BytesIO(), "ascii"))
    for depth in Depth:
        refuse_charts(sheet_text(sheet, depth))


def test_no_chart_in_a_terminal_of_letters(tmp_path) -> None:
    letters = {"PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0", "COLUMNS": "80"}
    done = subprocess.run(
        [sys.executable, "-m", "racecalc", "time", race_file(tmp_path, RACE), "--basis"],
        capture_output=True,
        env={**os.environ, **letters},
        check=True,
    )
    assert b"Splits" in done.stdout
    refuse_charts(done.stdout.decode("utf-8"))


def table(headings: tuple[str, ...], *rows: tuple[str, ...]) -> str:
    """A table of words and, to the right of them, of numbers."""
    first, *others = headings
    columns = [
        Words(first, "cell0"),
        *(Column(name, f"cell{number}") for number, name in enumerate(others, 1)),
    ]
    cells = [
        SimpleNamespace(**{f"cell{number}": cell for number, cell in enumerate(row)})
        for row in rows
    ]
    return sheet_text(Sheet("", [Table("", columns, cells)]), Depth.DETAILS)


def test_headings_break_before_anything_is_cut(monkeypatch) -> None:
    monkeypatch.setenv("COLUMNS", "72")
    headings = ("option", *["two words\nof heading"] * 4)
    drawn = table(headings, ("a name of some words", *["123456"] * 4))
    lines = drawn.splitlines()
    assert max(map(len, lines)) <= 72
    assert drawn.count("heading") == 4
    assert drawn.count("123456") == 4


def test_cells_break_at_last(monkeypatch) -> None:
    monkeypatch.setenv("COLUMNS", "72")
    row = ("name", *["+4.2 (-115.5 to +123.8)"] * 3)
    drawn = table(("option", "one", "two", "three"), row)
    assert max(map(len, drawn.splitlines())) <= 72
    assert drawn.count("+4.2") == drawn.count("+123.8)") == 3


def test_what_can_not_break_runs_over_the_edge(monkeypatch) -> None:
    monkeypatch.setenv("COLUMNS", "72")
    drawn = table(("a", "b", "c"), ("x", "y" * 50, "z" * 50))
    assert "y" * 50 in drawn
    assert "z" * 50 in drawn
