"""Curves drawn with characters, and their words where none can be drawn."""

import re

import numpy as np
import pytest

from racecalc.answers.sheet import Curves, Depth, Sheet
from racecalc.views.width import columns_of
from racecalc.views.writers import terminal
from racecalc.views.writers.terminal import curves_text, sheet_text

ALONG = np.linspace(0.0, 36.0, 300)
BLOCK = Curves(
    ALONG,
    {"elevation [m]": 100.0 + ALONG, "speed [km/h]": 40.0 - ALONG / 4.0},
    "Up to 136 m.",
    across="km",
    marks=[(6.0, "Turn"), (7.0, "Hidden"), (24.0, "Wood")],
    points=[(12.0, 120.0, "X")],
    title="The course",
)


@pytest.mark.parametrize("columns", [60, 80, 100])
def test_curves_fill_the_columns_and_name_their_marks(columns) -> None:
    with columns_of(columns):
        drawn = curves_text(BLOCK)
    assert max(map(len, drawn.splitlines())) <= columns
    assert drawn.count("X") == 1
    assert drawn.count("Turn") == drawn.count("Wood") == 2
    assert "Hidden" not in drawn
    assert drawn.count("km") == 3


def test_steps_hold_until_the_next() -> None:
    with columns_of(80):
        flat, sloping = (
            curves_text(Curves(np.array([0.0, 50.0, 100.0]), {"s": ALONG[:3]}, "", steps=steps))
            for steps in (True, False)
        )
    level = re.compile(r"([\u2801-\u28ff])\1{20}")
    assert level.search(flat)
    assert not level.search(sloping)


def test_names_are_the_scale_where_nothing_is_counted() -> None:
    starts = [(float(at), f"{at + 8}:00") for at in range(4)]
    with columns_of(80):
        foot = curves_text(Curves(np.arange(4.0), {"min": ALONG[:4]}, "", marks=starts))
    assert foot.splitlines()[-1].split() == ["8:00", "9:00", "10:00", "11:00"]


def test_letters_only_get_the_words(monkeypatch) -> None:
    monkeypatch.setattr(terminal, "draws_lines", lambda: False)
    assert "Up to 136 m." in sheet_text(Sheet("Course", [BLOCK]), Depth.DETAILS)
