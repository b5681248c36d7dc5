"""Every answer fits a screen, says the same in every medium, and documents its JSON."""

import json

import pytest
from rich.cells import cell_len

from racecalc.answers.fields import schema
from racecalc.answers.review import SeasonAnswer
from racecalc.answers.sheet import Depth
from racecalc.decisions.evidence.sweep import SweepAnswer
from racecalc.decisions.evidence.trial import SeveralRiders
from racecalc.views.manual import ANSWERS
from racecalc.views.width import columns_of
from racecalc.views.writers.terminal import sheet_text
from tests.answered import answered, asked

KINDS = [*ANSWERS.values(), SeveralRiders, SeasonAnswer, SweepAnswer]
"""Every kind of answer; a test of several riders, and one by yaw, are shapes of their own."""

COMMANDS = [
    ("time", "race.toml"),
    ("rates", "race.toml"),
    ("quick", "40km", "250W", "0.25m2", "83kg", "--saves", "0.008m2", "--price", "300 EUR"),
    ("compare", "race.toml", "flat_round.toml"),
    ("value", "race.toml"),
    ("against", "race.toml", "Dunquill deep front wheel", "Ostrewyn Ripple suit"),
    (
        *("against", "race.toml", "Brinnoth Lowtide suit + Vaskelle knit shoe covers"),
        *("Ostrewyn Ripple suit + Tollimar coated shoe covers", "--set", "course.step=50 m"),
    ),
    ("pace", "race.toml"),
    ("review", "race.toml", "ridden.csv"),
    ("breakeven", "race.toml", "--option", "Dunquill covered rear wheel"),
    ("basket", "race.toml"),
    ("decide", "race.toml"),
    ("decide", "race.toml", "--fee-per-pair", "1.5 EUR", "--repeatability", "0.003 m^2"),
    ("trial", "suits.csv"),
    ("trial", "bottles.csv"),
    ("trial", "wheel_sweep.csv"),
    ("trial", "wheel_sweep.csv", "--race", "race.toml"),
    ("measure", "../tests/measure/day/sheet.csv", "race.toml"),
    ("plan", "Old suit", "New suit", "--difference", "0.004 m^2", "--repeatability", "0.002 m^2"),
    ("convert", "4.5 W at 45 km/h", "--race", "race.toml"),
    ("weather", "race.toml", "--forecast", "forecast.csv", "--budget", "1200 EUR"),
    ("places", "race.toml", "results.csv"),
    ("advice", "race.toml"),
]
LINES = {
    "quick": 10,
    "basket": 24,
    "decide": 27,
    "weather": 24,
    "pace": 32,
    "places": 35,
    "advice": 60,
}
"""Lines of an answer where more than a screen of 24 is given to it."""


ASKED = pytest.mark.parametrize("words", [asked(*words) for words in COMMANDS])


@ASKED
def test_the_answer_fits_a_screen(words) -> None:
    lines = answered(*words).text().splitlines()
    assert len(lines) <= LINES.get(words[0], 23)
    assert max(map(len, lines)) <= 80


@ASKED
def test_each_depth_holds_the_one_before(words) -> None:
    answer, details, basis = (answered(*words).text(depth) for depth in Depth)
    assert len(answer) <= len(details) + 40 < len(basis)
    lines = [line for text in (answer, details, basis) for line in text.splitlines()]
    assert [line for line in lines if cell_len(line) > 80] == []
    assert answer.splitlines()[0] == details.splitlines()[0] == basis.splitlines()[0]


@ASKED
def test_the_way_to_an_answer_fits_a_screen(words) -> None:
    """Each says its result, a formula and what it rests on; none is a repetition."""
    sheet = answered(*words).sheet
    with columns_of(80):
        lines = sheet_text(sheet.explanation, Depth.ANSWER).splitlines()
    assert len(lines) <= 24
    assert max(map(len, lines)) <= 80
    steps = [*sheet.explained()]
    assert len({one.what for one in steps}) == len(steps) >= 2
    assert all(one.what and (one.result or one.formula) for one in steps)
    assert [one for one in steps if one.formula and one.inputs and one.source]


@ASKED
@pytest.mark.parametrize("columns", [72, 100])
def test_no_line_is_wider_than_the_terminal(words, columns: int) -> None:
    for depth in Depth:
        lines = answered(*words).text(depth, columns).splitlines()
        assert [line for line in lines if cell_len(line) > columns] == []


@pytest.mark.parametrize("kind", KINDS)
def test_every_key_of_an_answer_has_a_type(kind) -> None:
    described = schema(kind)
    assert json.dumps(described)
    assert all("type" in one for one in described["properties"].values())
