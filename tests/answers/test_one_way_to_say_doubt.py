"""Intervals and times are written alike in every answer, and times that belong together add up."""

import re

import pytest

from racecalc.answers.sheet import Depth
from racecalc.quantities.clock import read_duration
from tests.answered import answered, asked
from tests.answers.test_answers import COMMANDS

WEATHER = next(words for words in COMMANDS if words[0] == "weather")
COMMANDS_HERE = [words for words in COMMANDS if words[0] != "advice"]


@pytest.mark.parametrize("words", [asked(*words) for words in COMMANDS_HERE])
def test_doubt_is_an_interval_and_times_are_to_the_second(words) -> None:
    """A standard uncertainty is an input: in the answer it would be read as the whole interval."""
    found = answered(*words)
    everything = found.text(Depth.BASIS)
    assert not re.search(r"\+-|\+/-|±|give or take|of 80 of 100|80 of 100|\(80 %\)", everything)
    assert not re.search(r"\d:\d\d\.\d", everything)
    assert "standard uncertaint" not in found.text()


@pytest.mark.xdist_group("time race.toml")
def test_the_splits_add_up_to_the_finish() -> None:
    """By hand from what is printed."""
    text = answered("time", "race.toml").text()
    finish = re.search(r": ([\d:]+)\n", text)
    rows = re.findall(r"^ *[\d.]+ +([\d:]+) +([\d:]+) +\d", text, flags=re.MULTILINE)
    total = 0.0
    for split, elapsed in rows:
        total += read_duration(split)
        assert total == read_duration(elapsed)
    assert len(rows) == len(answered("time", "race.toml").answer.timed.splits)
    assert finish is not None
    assert total == read_duration(finish[1])


@pytest.mark.xdist_group(" ".join(WEATHER))
def test_starts_differ_by_what_their_times_do() -> None:
    text = answered(*WEATHER).text()
    rows = re.findall(r"^\d\d:00 .* ([\d:]+) +([-+]?\d*)$", text, flags=re.MULTILINE)
    assert len(rows) == 11
    first = read_duration(rows[0][0])
    for time, against in rows[1:]:
        assert read_duration(time) - first == float(against)


@pytest.mark.xdist_group("places race.toml results.csv")
def test_a_place_is_as_far_as_the_times_say() -> None:
    text = answered("places", "race.toml", "results.csv").text()
    own = read_duration(text.splitlines()[1].split()[0])
    rows = re.findall(r" (\d\d:\d\d) +(\d+) +[\d.]+$", text, flags=re.MULTILINE)
    assert len(rows) == 6
    for time, seconds in rows:
        assert own - read_duration(time) == float(seconds)


@pytest.mark.xdist_group("review race.toml ridden.csv")
def test_power_and_the_rest_are_the_whole() -> None:
    text = " ".join(answered("review", "race.toml", "ridden.csv").text().split())
    whole = re.search(r": (\d+) s slower than planned", text)
    parts = re.search(r"(\d+) s slower from the ridden power and (\d+) s slower", text)
    times = re.search(r": ([\d:]+); plan: ([\d:]+),", text)
    assert whole
    assert parts
    assert times
    ridden, planned = map(read_duration, times.groups())
    assert ridden - planned == float(whole[1]) == float(parts[1]) + float(parts[2])
