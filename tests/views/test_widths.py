"""No page is wider than the terminal, and no chart is drawn where only letters can be shown."""

import os
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest
from rich.cells import cell_len

from racecalc.answers.columns import Column, Words
from racecalc.answers.sheet import Depth, Sheet, Table
from racecalc.views.command_line import run
from racecalc.views.writers.terminal import sheet_text

ROOT = Path(__file__).parents[2]
COARSE = ("--set", "course.step=60 m")
CHARTED = ["time", "basket", "breakeven", "weather", pytest.param("pace", marks=pytest.mark.slow)]
PAGES = {
    "value": ("--round", "course_demo/flat_round.toml", "--set", "money.per_second=100 EUR"),
    "basket": (),
    "breakeven": ("--option", "Dunquill covered rear wheel", "--beside", "Fenzarra Calm tyres"),
    "decide": ("--repeatability", "0.003 m^2", "--draws", "2000"),
    "places": ("course_demo/results.csv", "--me", "Ulvi Tarnasse", "--target", "59:00"),
    "weather": ("--forecast", "course_demo/forecast.csv", "--budget", "1200 EUR"),
    "pace": (),
}

QUICK = {"pace": [(3, 72)]}
"""Laps and columns of the default run, where they are not those of `USUAL`."""

USUAL = [(1, 72), (1, 80), (3, 72)]


def case(name: str, laps: int, columns: int):
    """A page of the default run, or of the slow one."""
    quick = (laps, columns) in QUICK.get(name, USUAL)
    return pytest.param(name, laps, columns, marks=[] if quick else [pytest.mark.slow])


CASES = [
    case(name, laps, columns) for name in PAGES for laps in (1, 3) for columns in (72, 80, 100)
]


@pytest.mark.parametrize(("name", "laps", "columns"), CASES)
def test_pages_fit_the_terminal(name: str, laps: int, columns: int, capsys, monkeypatch) -> None:
    monkeypatch.chdir(ROOT)
    monkeypatch.setenv("COLUMNS", str(columns))
    arguments = (name, "course_demo/race.toml", *PAGES[name], *COARSE)
    monkeypatch.setattr(sys, "argv", ["racecalc", *arguments, "--set", f"course.laps={laps}"])
    assert run() == 0
    lines = capsys.readouterr().out.splitlines()
    assert [line for line in lines if cell_len(line) > columns] == []


@pytest.mark.parametrize("name", CHARTED)
def test_no_chart_where_only_letters_can_be_shown(name: str) -> None:
    command = [sys.executable, "-m", "racecalc", name, "course_demo/race.toml", *COARSE]
    done = subprocess.run(
        [*command, *PAGES.get(name, ())],
        capture_output=True,
        cwd=ROOT,
        env={**os.environ, "PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0", "COLUMNS": "80"},
        check=True,
    )
    text = done.stdout.decode("utf-8")
    assert [letter for letter in text if "\u2500" <= letter <= "\u28ff"] == []
    assert "???" not in text
    assert "\n\n\n" not in text
    assert "seconds saved over" not in text
    assert "time [min] by start" not in text


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
