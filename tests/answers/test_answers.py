"""Every answer fits a screen, says the same in every medium, and documents its JSON."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from rich.cells import cell_len

from racecalc.answers.advice_squad import SquadAdvice
from racecalc.answers.fields import schema
from racecalc.answers.review import SeasonAnswer
from racecalc.answers.sheet import Depth
from racecalc.decisions.evidence.sweep import SweepAnswer
from racecalc.decisions.evidence.trial import SeveralRiders
from racecalc.views.manual import ANSWERS, SQUADS
from racecalc.views.width import columns_of
from racecalc.views.writers.terminal import sheet_text
from tests.answered import answered, asked
from tests.files.making import RACE

KINDS = [*ANSWERS.values(), SeveralRiders, SeasonAnswer, SweepAnswer, SquadAdvice]
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
    (
        *("decide", "race.toml", "--fee-per-pair", "1.5 EUR", "--repeatability", "0.003 m^2"),
        *("--draws", "2000", "--set", "course.step=100 m"),
    ),
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
    "decide": 25,
    "weather": 24,
    "pace": 32,
    "places": 32,
    "advice": 60,
}
"""Lines of an answer where more than a screen of 24 is given to it."""


ASKED = pytest.mark.parametrize("words", [asked(*words) for words in COMMANDS])


@ASKED
def test_the_answer_fits_a_screen_and_each_depth_holds_the_one_before(words) -> None:
    answer, details, basis = (answered(*words).text(depth) for depth in Depth)
    assert len(answer.splitlines()) <= LINES.get(words[0], 23)
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
    # The details are part of the basis, all rows of their tables too.
    for depth in (Depth.ANSWER, Depth.BASIS):
        lines = answered(*words).text(depth, columns).splitlines()
        assert [line for line in lines if cell_len(line) > columns] == []


@pytest.mark.parametrize("kind", KINDS)
def test_every_key_of_an_answer_has_a_type(kind) -> None:
    described = schema(kind)
    assert json.dumps(described)
    assert all("type" in one for one in described["properties"].values())


TYPES = {
    "number": int | float,
    "integer": int,
    "string": str,
    "boolean": bool,
    "array": list,
    "object": dict,
}


def misfits(value: Any, described: dict[str, Any], path: str = "") -> Iterator[str]:
    """Where a value is not as its JSON Schema says."""
    kind = described["type"]
    if value is None and described.get("nullable"):
        return
    if not isinstance(value, TYPES[kind]) or (kind != "boolean" and isinstance(value, bool)):
        yield f"{path}: {value!r} is no {kind}"
    elif value not in described.get("enum", [value]):
        yield f"{path}: {value!r} is none of {described['enum']}"
    elif kind == "array":
        for one in value:
            yield from misfits(one, described["items"], f"{path}/")
    elif kind == "object" and "title" not in described:
        yield from _misfits_within(value, described, path)


def _misfits_within(value: Any, described: dict[str, Any], path: str) -> Iterator[str]:
    keys = described.get("properties", {})
    # The keys of a mapping, as of dropped points, are data.
    data = described.get("additionalProperties")
    for key, one in value.items():
        if about := keys.get(key, data):
            yield from misfits(one, about, f"{path}/{key}")
        else:
            yield f"{path}/{key} is not described"
    lacking = (key for key in keys if key not in value and "optional" not in keys[key])
    yield from (f"{path}/{key} is missing" for key in lacking)


@ASKED
def test_an_answer_is_as_its_schema_says(words: tuple[str, ...]) -> None:
    found = answered(*words)
    assert [*misfits(found.json, schema(type(found.answer)))] == []


def test_a_misfit_of_a_schema_is_seen() -> None:
    about = schema(ANSWERS["rates"])
    right = answered("rates", "race.toml").json
    for wrong, said in (
        ({"time_s": "59:09"}, "/time_s: '59:09' is no number"),
        ({"time_s": None}, "/time_s: None is no number"),
        ({"time_s": True}, "/time_s: True is no number"),
        ({"watt": 1.0}, "/watt is not described"),
    ):
        assert [*misfits(right | wrong, about)] == [said]
    assert [*misfits({key: right[key] for key in right if key != "rates"}, about)] == [
        "/rates is missing"
    ]


@pytest.mark.parametrize("question", SQUADS)
def test_the_answers_about_several_races_are_as_the_schema_of_each(racecalc, question) -> None:
    Path("one.toml").write_text(RACE.replace("40 km", "6 km"), encoding="utf-8")
    found = json.loads(racecalc(question, "one.toml", "one.toml", "--json")[1])
    assert set(found) == {"races"}
    assert [
        error for one in found["races"] for error in misfits(one, schema(ANSWERS[question]))
    ] == []
