"""A command that writes may be killed at any moment: a file is whole, the old one or the new."""

import random
import subprocess
import sys
import time
import tomllib
from pathlib import Path

import pytest

from tests.fuzz.drawing import NEEDED, written

WRITES = {
    "set": ("set race.toml rider.power=251W", "race.toml"),
    "new": ("new mine", "mine/race.toml"),
    "pace": ("pace race.toml -o card.csv", "card.csv"),
    "advice": ("advice race.toml -o page.md --replace", "page.md"),
    "plan": ("plan A B --difference 0.004m2 --repeatability 0.002m2 -o sheet.csv", "sheet.csv"),
}
"""Each command that writes, and what it writes."""


def started(folder: Path, words: str) -> subprocess.Popen[bytes]:
    command = [sys.executable, "-m", "racecalc", *words.split()]
    quiet = subprocess.DEVNULL
    return subprocess.Popen(command, cwd=folder, stdout=quiet, stderr=quiet)


def make_ready(race: Path, target: Path, name: str) -> None:
    race.write_text(written(NEEDED), encoding="utf-8")
    if name in {"new", "pace", "plan"}:  # they write over nothing
        for path in (target.with_name("course.csv"), target):
            path.unlink(missing_ok=True)


def kill_often(folder: Path, name: str, times: int) -> None:
    words, file = WRITES[name]
    race, target = folder / "race.toml", folder / file
    race.write_text(written(NEEDED), encoding="utf-8")
    begun = time.monotonic()
    assert started(folder, words).wait() == 0
    took, whole = time.monotonic() - begun, target.read_bytes()
    # The write is at the end: most kills fall near it.
    chance = random.Random(name)
    for _ in range(times):
        make_ready(race, target, name)
        running = started(folder, words)
        time.sleep(took * chance.uniform(0.7, 1.1))
        running.kill()
        running.wait()
        tomllib.loads(race.read_text("utf-8"))
        assert not target.exists() or name == "set" or len(target.read_bytes()) == len(whole)
        seen = {one.name for one in folder.iterdir() if not one.name.startswith(".")}
        assert seen <= {"race.toml", "mine", file}
    make_ready(race, target, name)
    assert started(folder, words).wait() == 0
    assert [one for one in target.parent.iterdir() if one.name.endswith(".new")] == []


def test_few_kills(tmp_path: Path) -> None:
    kill_often(tmp_path, "set", 3)


@pytest.mark.slow
@pytest.mark.parametrize("name", WRITES)
def test_many_kills(tmp_path: Path, name: str) -> None:
    kill_often(tmp_path, name, 60)
