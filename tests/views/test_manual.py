"""The manual: topics that fit a sitting, and topics that leave nothing out."""

import json
import shlex
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from racecalc.answers.fields import schema
from racecalc.files.race_keys import RACE_KEYS
from racecalc.views.command_line import COMMANDS, command
from racecalc.views.manual import ANSWERS, SQUADS, WRITTEN, titles, topic
from tests.answered import answered, asked
from tests.answers.test_answers import COMMANDS as QUESTIONS
from tests.files.making import RACE


@pytest.mark.parametrize("name", WRITTEN)
def test_a_topic_is_read_in_one_sitting(name: str) -> None:
    text = topic(name)
    assert text.startswith("# ")
    assert len(text.splitlines()) <= 150


def test_the_list_names_every_topic(racecalc) -> None:
    status, out, err = racecalc("help")
    assert (status, err) == (0, "")
    assert all(f"racecalc help {name}" in out for name in titles())


def test_a_misspelt_topic_is_answered_with_the_nearest(racecalc) -> None:
    status, out, err = racecalc("help", "pasing")
    assert (status, out) == (2, "")
    assert "did you mean 'pacing'?" in err


def test_every_key_of_the_race_file_is_explained(racecalc) -> None:
    lines = racecalc("help", "keys")[1].splitlines()
    for table, keys in RACE_KEYS.items():
        assert any(line.startswith("## ") and f"[{table}]" in line for line in lines)
        for name, about in keys.items():
            assert any(f"**{name}**: {about.meaning}" in line for line in lines)


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


@pytest.mark.parametrize("words", [asked(*words) for words in QUESTIONS])
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


@pytest.mark.parametrize("name", ANSWERS)
def test_every_described_key_has_a_meaning(name: str) -> None:
    text = topic("json", name)
    bare = [line for line in text.splitlines() if line.rstrip().endswith("):")]
    assert not bare


@pytest.mark.parametrize("name", COMMANDS)
def test_the_table_of_commands_says_what_the_command_says(name: str) -> None:
    assert command(name).get_short_help_str(200).rstrip(".") == COMMANDS[name][1].rstrip(".")


@pytest.mark.parametrize("name", COMMANDS)
def test_help_ends_with_examples_that_the_command_takes(racecalc, name: str) -> None:
    lines = racecalc(name, "--help")[1].splitlines()
    shown = [line.strip() for line in lines[lines.index("  Examples:") + 1 :]]
    assert len(shown) == 2
    for line in shown:
        _, called, *words = shlex.split(line)
        assert called == name
        assert command(name).make_context(name, words)
