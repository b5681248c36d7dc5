"""Every answer fits a screen, says the same in every medium, and documents its JSON."""

import json
from pathlib import Path

import pytest

from racecalc.answers.fields import schema
from racecalc.decisions.evidence.sweep import SweepAnswer
from racecalc.decisions.evidence.trial import SeveralRiders
from racecalc.views.manual import ANSWERS

DEMO = Path(__file__).parents[2] / "course_demo"
KINDS = [*ANSWERS.values(), SeveralRiders, SweepAnswer]
"""Every kind of answer; a test of several riders, and one by yaw, are shapes of their own."""

COMMANDS = [
    ("time", "race.toml"),
    ("rates", "race.toml"),
    ("compare", "race.toml", "flat_round.toml"),
    ("value", "race.toml"),
    ("pace", "race.toml"),
    ("review", "race.toml", "ridden.csv"),
    ("breakeven", "race.toml", "--option", "Dunquill covered rear wheel"),
    ("basket", "race.toml"),
    ("decide", "race.toml"),
    ("decide", "race.toml", "--repeatability", "0.003 m^2", "--fee-per-pair", "1.5 EUR"),
    ("trial", "suits.csv"),
    ("trial", "bottles.csv"),
    ("trial", "wheel_sweep.csv"),
    ("trial", "wheel_sweep.csv", "--race", "race.toml"),
    ("plan", "Old suit", "New suit", "--difference", "0.004 m^2", "--repeatability", "0.002 m^2"),
    ("convert", "4.5 W at 45 km/h", "--race", "race.toml"),
    ("weather", "race.toml", "--forecast", "forecast.csv"),
    ("places", "race.toml", "results.csv"),
    ("advice", "race.toml"),
]
LINES = {"decide": 24, "pace": 32, "places": 32, "advice": 60}
"""Lines of an answer where more than a screen of 24 is given to it."""


@pytest.mark.parametrize("words", COMMANDS, ids=" ".join)
def test_the_answer_fits_a_screen(racecalc, monkeypatch, words) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.chdir(DEMO)
    lines = racecalc(*words)[1].splitlines()
    assert len(lines) <= LINES.get(words[0], 23)
    assert max(map(len, lines)) <= 80


@pytest.mark.parametrize("words", COMMANDS, ids=" ".join)
def test_each_depth_holds_the_one_before(racecalc, monkeypatch, words) -> None:
    monkeypatch.chdir(DEMO)
    answer, details, basis = (
        racecalc(*words, *more)[1] for more in ((), ("--details",), ("--basis",))
    )
    assert len(answer) <= len(details) + 40 < len(basis)
    assert answer.splitlines()[0] == details.splitlines()[0] == basis.splitlines()[0]


@pytest.mark.parametrize("kind", KINDS)
def test_every_key_of_an_answer_has_a_type(kind) -> None:
    described = schema(kind)
    assert json.dumps(described)
    assert all("type" in one for one in described["properties"].values())
