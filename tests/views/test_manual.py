"""The manual: topics that fit a sitting, and topics that leave nothing out."""

import shlex

import pytest

from racecalc.files.race_keys import RACE_KEYS
from racecalc.views.command_line import COMMANDS, command
from racecalc.views.manual import ANSWERS, WRITTEN, titles, topic


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
