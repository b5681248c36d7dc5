"""Dots and intervals drawn with characters."""

import pytest

from racecalc.answers.sheet import Drawn
from racecalc.views.writers import terminal
from racecalc.views.writers.terminal import interval_chart


@pytest.fixture(params=[True, False], ids=["lines", "letters"])
def marks(request, monkeypatch):
    """Bar, crossing and dot of either way to draw."""
    monkeypatch.setattr(terminal, "draws_lines", lambda: request.param)
    monkeypatch.setenv("COLUMNS", "80")
    return "\u2500\u253c\u25cf" if request.param else "-+*"


def chart(*lines: Drawn, margin: float | None = None) -> list[str]:
    return interval_chart(lines, margin, "faster", "slower").splitlines()


def test_a_bar_across_zero_shows_zero(marks):
    bar, crossing, dot = marks
    across, beside, scale = chart(Drawn("a", -1.0, -3.0, 1.0), Drawn("b", 2.0, 1.0, 3.0))
    assert across.count(crossing) == 1
    assert across.index(crossing) == beside.index("|")
    assert across.count(dot) == beside.count(dot) == 1
    assert crossing not in beside
    assert beside.count(bar) > 10
    assert scale.split() == ["faster", "slower"]


def test_the_margin_stays_visible_within_a_bar(marks):
    (line, _) = chart(Drawn("a", -1.5, -3.0, 3.0), margin=1.0)
    assert line.count(":") == 2
    assert line.index(":") < line.index(marks[1]) < line.rindex(":")


def test_an_unknown_interval_is_a_dot(marks):
    (line, _) = chart(Drawn("a", 1.0, None, None))
    assert line.split() == ["a", "|", marks[2]]


def test_zero_alone(marks):
    (line, _) = chart(Drawn("a", 0.0, 0.0, 0.0))
    assert line.split() == ["a", marks[2]]


@pytest.mark.parametrize("columns", [72, 80, 100])
@pytest.mark.parametrize("name", ["x" * 200, "a long name of many words " * 8, ""])
def test_no_line_is_wider_than_the_terminal(marks, monkeypatch, columns, name):
    monkeypatch.setenv("COLUMNS", str(columns))
    lines = chart(Drawn(name, -1.0, -3.0, 3.0), Drawn("b", 1.0, 0.5, 1.5), margin=0.5)
    assert max(map(len, lines)) <= columns
    shown = "".join(lines)
    assert shown.count("x") == name.count("x")
    assert shown.count(marks[2]) == 2
