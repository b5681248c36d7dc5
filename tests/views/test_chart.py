"""Curves drawn with characters, their words where none can be drawn, and a picture to post."""

import re
import struct
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from racecalc.answers.sheet import Curves, Depth, Sheet
from racecalc.answers.value import posted
from racecalc.views.width import columns_of
from racecalc.views.writers import terminal
from racecalc.views.writers.charts import picture_of
from racecalc.views.writers.terminal import curves_text, sheet_text
from tests.advice.races import SUIT, race_in, race_text
from tests.answered import answered

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


# --- One result to post --------------------------------------------------------------------------


@pytest.mark.xdist_group("value race.toml")
@pytest.mark.parametrize(
    ("name", "saved", "sure"),
    [
        ("Fenzarra Calm tyres", "21 s faster", "Between 9 and 34 s faster in 95 of 100 cases"),
        # What is not proved is not told as a gain in large letters, nor is a bare claim.
        ("Kelmund bottle between the arms", "not proved", "Best estimate 1 s faster, between 38 s"),
        (
            "Tollimar coated shoe covers",
            "not proved",
            "19 s faster as it is claimed, with no doubt",
        ),
        ("Yttelan pulley cage", "a tie", "Best estimate 2 s faster, between 1 s slower and 6 s"),
        ("Fenzarra Bramble tyres", "27 s slower", "Between 10 and 44 s slower in 95 of 100 cases"),
    ],
)
def test_a_result_to_post_says_no_more_than_is_proved(name: str, saved: str, sure: str) -> None:
    """The words by hand from the rows that ``value`` prints on the demo."""
    options = answered("value", "race.toml").answer.options
    (value,) = (one for one in options if one.option.name == name)
    made = posted(value, "metric", date(2026, 5, 17))
    assert (made.name, made.saved) == (name, saved)
    assert made.sure.startswith(sure)
    told = " ".join(made.conditions)
    for words in ("36.5 km", "59:08 without it", "262 W", "0.2360 m^2", "5.5 m/s from WSW"):
        assert words in told
    assert "racecalc" in made.source
    assert "2026-05-17" in made.source
    picture = picture_of(made, "svg").decode()
    assert not re.search(r"<text|font-family|href=\"http|<script|url\((?!#)", picture)


def test_a_picture_has_the_size_that_links_are_shown_with(racecalc, tmp_path: Path) -> None:
    """PNG (ISO/IEC 15948): eight bytes, then width and height at bytes 16 to 24."""
    race = race_in(tmp_path, race_text(SUIT))
    wish = ("--figure", "suit", "-o", "suit.png", "-o", "suit.svg")
    status, _, err = racecalc("value", race, *wish)
    assert (status, err.count("written")) == (0, 2)
    content = (tmp_path / "suit.png").read_bytes()
    assert content[:8] == b"\x89PNG\r\n\x1a\n"
    assert struct.unpack(">II", content[16:24]) == (1200, 630)
    for arguments, problem in (
        (("--figure", "Suit"), "--figure and -o: only work together"),
        (("-o", "b.png"), "--figure and -o: only work together"),
        (("--figure", "Suit", "-o", "b.pdf"), "is not a kind of figure; end it with .png or .svg"),
        (("--figure", "Suit", "-o", "suit.png"), "this exists already"),
        (("--figure", "Bike", "-o", "b.png"), "--figure"),
    ):
        status, out, err = racecalc("value", race, *arguments)
        assert (status, out) == (2, "")
        assert problem in err
