"""A command that writes may be killed, or find the disk full: a file is whole, old or new."""

import errno
import os
import random
import re
import subprocess
import sys
import time
import tomllib
from pathlib import Path

import pytest

from racecalc.files.recovery import Recovery
from tests.fuzz.drawing import NEEDED, written
from tests.workspace.driving import SMALL, small_race_in

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


PLAN = "plan A B --difference 0.004m2 --repeatability 0.002m2"

FULL = [
    "set race.toml rider.power=251W",
    "new mine",
    "new a/b/mine",
    "pace race.toml -o out.html",
    "pace race.toml -o out.csv",
    f"{PLAN} -o out.csv",
    "quick 5km 250W 0.25m2 83kg --save out.toml",
]
OFTEN = [
    "pace race.toml -o out.pdf",
    "value race.toml --figure A -o out.svg",
    "value race.toml --figure A -o out.png",
    *(f"advice race.toml -o out.{kind}" for kind in ("html", "pdf", "md", "txt")),
    *(f"advice race.toml --replace -o out.{kind}" for kind in ("html", "md")),
    "advice race.toml race.toml --out pages --jobs 1",
]


def told_of_a_full_disk(racecalc, monkeypatch, words: str, why: int) -> None:
    """Whatever a command was to write: it is said, and nothing is changed."""
    race, old = (
        written(NEEDED | {"option": [{"name": "A", "saves": "0.004 m^2"}]}),
        "--replace" in words,
    )
    Path("race.toml").write_text(race, encoding="utf-8")
    if old:
        Path(words.rsplit(maxsplit=1)[-1]).write_text("old", encoding="utf-8")
    before = {one: one.read_bytes() for one in Path().iterdir()}

    def full(_: int) -> None:
        raise OSError(why, os.strerror(why))

    monkeypatch.setattr(os, "fsync", full)
    status, _, err = racecalc(*words.split())
    assert status == 2
    told = [line for line in err.splitlines() if os.strerror(why) in line]
    assert len(told) == (3 if "--out" in words else 1)
    assert {one: one.read_bytes() for one in Path().iterdir()} == before


@pytest.mark.parametrize("words", FULL)
def test_a_full_disk(racecalc, monkeypatch, words: str) -> None:
    told_of_a_full_disk(racecalc, monkeypatch, words, errno.ENOSPC)


@pytest.mark.slow
@pytest.mark.parametrize("words", [*FULL, *OFTEN])
@pytest.mark.parametrize("why", [errno.EROFS, errno.EFBIG, errno.EIO])
def test_full_disks(racecalc, monkeypatch, words: str, why: int) -> None:
    told_of_a_full_disk(racecalc, monkeypatch, words, why)


# --- Saving on the screen, killed at any moment ---------------------------------------------------

WRITER = """
import sys
from pathlib import Path
from racecalc.files.draft import Draft, Spot
from racecalc.files.recovery import Recovery

path = Path(sys.argv[1])
draft, recovery = Draft.opened(path), Recovery(path)
for watts in range(251, 400):
    draft.write(Spot("rider", "power"), f"{watts} W")
    recovery.keep(draft.text, draft.saved)
    print("kept", watts, flush=True)
    draft.save()
    recovery.drop()
    print("saved", watts, flush=True)
"""
"""What saving does, without the screen."""

SCREEN = """
import sys
from pathlib import Path
from tests.workspace.driving import at_desk

async def act(driver):
    for watts in range(251, 400):
        await driver.fill("rider", "power", f"{watts} W")
        driver.desk.keep_unsaved()
        print("kept", watts, flush=True)
        await driver.press("ctrl+s")
        await driver.until(lambda: not driver.desk.session.draft.unsaved)
        print("saved", watts, flush=True)

at_desk(act, Path(sys.argv[1]))
"""
"""A rider who types and saves on and on."""


def kill_saving(folder: Path, monkeypatch: pytest.MonkeyPatch, program: str, times: int) -> None:
    """Kill it at any moment after its first save; what was saved or kept is there, and whole."""
    monkeypatch.setenv("XDG_STATE_HOME", str(folder / "state"))
    race, chance = small_race_in(folder), random.Random(program)
    for _ in range(times):
        race.write_text(SMALL, encoding="utf-8")
        words = [sys.executable, "-c", program, str(race)]
        running = subprocess.Popen(words, stdout=subprocess.PIPE, text=True)
        said = [running.stdout.readline(), running.stdout.readline()]
        time.sleep(chance.uniform(0.0, 0.4 if program == SCREEN else 0.02))
        running.kill()
        said += running.communicate()[0].splitlines()
        done = {word: int(watts) for word, watts in map(str.split, said)}
        saved = race.read_text("utf-8")
        recovery = Recovery(race)
        texts = [saved, *(one.text for one in recovery.left_behind(saved))]
        watts = [int(re.search(r"(\d+) W\"", text)[1]) for text in texts]
        assert texts == [SMALL.replace("250 W", f"{one} W") for one in watts]
        assert watts[0] >= done["saved"]
        assert max(watts) >= done["kept"]
        recovery.drop()
        recovery.release()
        assert {one.name for one in folder.iterdir()} <= {race.name, "state"}


def test_few_kills_of_saving(tmp_path: Path, monkeypatch) -> None:
    kill_saving(tmp_path, monkeypatch, WRITER, 2)


@pytest.mark.slow
@pytest.mark.parametrize("program", [WRITER, SCREEN], ids=["writer", "screen"])
def test_many_kills_of_saving(tmp_path: Path, monkeypatch, program: str) -> None:
    kill_saving(tmp_path, monkeypatch, program, 60)
