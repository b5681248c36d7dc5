"""Every case that was once a failure of ours: bad input, in one line, or a right answer."""

import os
import shlex
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from racecalc.domain.surveying.smoothing import Spline
from tests.fuzz.drawing import NEEDED, written
from tests.fuzz.outcome import outcome

LONG = "9" * 4300


def race(**changes: object) -> str:
    """The least race, with keys changed as table__key."""
    tables = {table: dict(keys) for table, keys in NEEDED.items()}
    for name, value in changes.items():
        table, _, key = name.partition("__")
        if key:
            tables.setdefault(table, {})[key] = value
        else:
            tables[table] = value
    return written(tables)


SLOPE = {"course__distance": "50 m", "course__grade": "-45 %", "course__max_speed": "none"}

REFUSED = {
    "a number of 4,300 digits": (race(), ["time"], f"course.laps={LONG}", "of this size"),
    "brackets in brackets": (race() + f"x = {'[' * 500}{']' * 500}\n", ["time"], "", "nested"),
    "a key of many parts": (race() + f"{'a.' * 400_000}a = 1\n", ["time"], "", "100 parts"),
    "5 W at a speed of no rider": (
        race(option=[{"name": "A", "saves": "5 W at 1e308 km/h"}]),
        ["value"],
        "",
        "is no speed of a rider",
    ),
    "a road above all air": (
        race(course__distance="100 km", course__grade="30 %"),
        ["time"],
        "",
        "above the sea",
    ),
    "a wind a hair below none": (
        race(air={"wind_speed": "-1e-288 m/s", "wind_from": "left"}),
        ["time"],
        "",
        "is not possible",
    ),
    "one watt": (race(rider__power="1 W"), ["pace"], "", "nobody stays upright"),
    "steering signs in a value": (
        race(rider__power="\x1b[2J\u202e W"),
        ["time"],
        "",
        "rider.power",
    ),
}

ANSWERED = {
    "a limit that no power needs": (
        race(course__max_speed="8 km/h", course__lateral_grip="none"),
        ["pace"],
    ),
    "steep and fast": (race(bike__start_speed="100 km/h", **SLOPE), ["pace"]),
    "a critical power of one watt": (
        race(rider__critical_power="1 W", rider__work_above_critical="200 kJ"),
        ["pace"],
    ),
    "a gale from the side": (
        race(
            bike__cda={"yaw": ["0 deg", "10 deg"], "area": ["0.25 m^2", "0.1 m^2"]},
            air={"wind_speed": "40 m/s", "wind_from": "left"},
        ),
        ["pace"],
    ),
    "a name that steers": (race(race={"name": "\x1b]0;x\x07\u202e\x7f"}), ["time", "--json"]),
}


@pytest.mark.parametrize("name", REFUSED)
def test_it_is_refused(tmp_path, name) -> None:
    text, words, change, said = REFUSED[name]
    (tmp_path / "race.toml").write_text(text, encoding="utf-8")
    found = outcome(tmp_path, *words, "race.toml", *([f"--set={change}"] if change else []))
    assert found.status == 2
    assert said in found.err


@pytest.mark.parametrize("name", ANSWERED)
def test_it_is_answered(tmp_path, name) -> None:
    text, words = ANSWERED[name]
    (tmp_path / "race.toml").write_text(text, encoding="utf-8")
    command, *flags = words
    assert outcome(tmp_path, command, "race.toml", *flags).status == 0


# --- Files that are more than they seem -----------------------------------------------------------

GPX = "<gpx><trk><trkseg>{}</trkseg></trk></gpx>"
FRAMES = b"\x40\0\0\x14\0\xff" + bytes(255 * 3)
"""A definition of 255 fields in FIT."""

BOMBS = {
    "entities": ("c.gpx", '<!DOCTYPE x [<!ENTITY a "b">]>' + GPX.format("&a;"), "entity bomb"),
    "elements": ("c.gpx", GPX.format("<trkpt/>" * 2_500_100), "more than 5,000,000 values"),
    "cells": ("c.csv", "distance [m],elevation [m]\n" + "," * 5_000_001, "more than 5,000,000"),
    "headings": ("c.csv", ",".join(map(str, range(100_000))) + "\n1\n", "under 100000 headings"),
    "a long line": ("c.csv", "distance [m],elevation [m]\n" + "1" * 200_000, "line 2"),
    "a packed file": ("c.gpx", b"\x1f\x8b\x08" + bytes(99), "is not text in UTF-8"),
    "another kind": ("c.zip", b"PK", "the ending '.zip' is not that of a course file"),
}


@pytest.mark.parametrize("name", BOMBS)
def test_bombs_are_refused(tmp_path, name) -> None:
    file, content, said = BOMBS[name]
    (tmp_path / file).write_bytes(content if isinstance(content, bytes) else content.encode())
    (tmp_path / "race.toml").write_text(race(course={"file": file}), encoding="utf-8")
    assert said in outcome(tmp_path, "time", "race.toml").err


def test_fields_of_fit_are_counted(tmp_path, monkeypatch) -> None:
    monkeypatch.setattr("racecalc.files.opening.MOST_VALUES", 700)
    body = FRAMES * 3
    header = b"\x0e\x10\x34\x08" + len(body).to_bytes(4, "little") + b".FIT\0\0"
    (tmp_path / "c.fit").write_bytes(header + body + b"\0\0")
    (tmp_path / "race.toml").write_text(race(course={"file": "c.fit"}), encoding="utf-8")
    assert (
        "c.fit: the file holds more than 700 values" in outcome(tmp_path, "time", "race.toml").err
    )


def test_a_race_file_has_its_size(tmp_path) -> None:
    (tmp_path / "race.toml").write_text(race() + "#" * 2**21, encoding="utf-8")
    assert "has 2 MB, more than 1 MB" in outcome(tmp_path, "time", "race.toml").err
    text = race() + "[[option]]\n" * 2001
    (tmp_path / "race.toml").write_text(text, encoding="utf-8")
    assert "2001 of [[option]], more than 2000" in outcome(tmp_path, "time", "race.toml").err


def test_a_pipe_in_the_folder_is_not_read(tmp_path) -> None:
    os.mkfifo(tmp_path / "pipe.toml")
    assert "this is a folder" in outcome(tmp_path, "time", ".").err
    assert "not an ordinary file" in outcome(tmp_path, "time", "pipe.toml").err


def test_a_long_and_dense_course_is_smoothed() -> None:
    """A straight line is left of waves on it, also where no float tells the spline from one."""
    at = np.arange(0.0, 450_000.0, 5.0)
    waves = np.sin(at / 500.0)
    taken = Spline(at).residual(0.01 * at + waves, 1e20)
    assert np.allclose(taken[1000:-1000], waves[1000:-1000], atol=0.1)


@pytest.mark.parametrize(
    ("end", "status", "said"),
    [
        (">/dev/full", 2, "the answer: cannot be written: No space left"),
        (">&-", 0, ""),
        ("2>&- >/dev/null", 0, ""),
        ("<&- >&- 2>&-", 0, ""),
    ],
)
def test_streams_that_take_nothing(tmp_path, end, status, said) -> None:
    if not Path("/dev/full").exists():
        pytest.skip("this system has no device that is full")
    words = f"{shlex.quote(sys.executable)} -m racecalc --version {end}"
    done = subprocess.run(["/bin/sh", "-c", words], check=False, capture_output=True, text=True)
    assert (done.returncode, said in done.stderr) == (status, True)
