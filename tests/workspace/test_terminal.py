"""The real program in a pseudo-terminal: it is typed at, its screen is read, it is killed."""

import os
import random
import re
import signal
import time
from pathlib import Path

import pytest

from racecalc.domain.loading import load_race
from racecalc.files.draft import Draft
from racecalc.files.opening import read_text
from racecalc.files.recovery import copy_path, read_copy
from racecalc.views.workspace.app import HANGUP_STATUS
from racecalc.views.workspace.desk_screen import KEEPING
from tests.workspace.driving import SMALL

pytest.importorskip("pty", reason="pseudo-terminals are a matter of POSIX")

from tests.workspace.terminal import Terminal

F4, CTRL_S, CTRL_Q, TAB = "\x1bOS", "\x13", "\x11", "\t"
KILLS = 200
KILLS_IN_SHORT = 2


def test_a_person_at_a_terminal(small_race: Path) -> None:
    """Open a race by its name alone, change the power, look at the options, save and leave."""
    terminal = Terminal([small_race.name], folder=small_race.parent)
    terminal.see("16:48")
    # From the numbers to the first field, body mass, and on to the power.
    terminal.type(TAB)
    terminal.see("body mass")
    terminal.type(TAB)
    terminal.see("power held over the race")
    terminal.type("270 W")
    terminal.see("*unsaved*")
    terminal.see("less than the saved file")
    time_shown = re.search(r"(\d\d:\d\d), (\d+\.\d) s less", terminal.text)
    assert time_shown
    terminal.type(F4)
    terminal.see("Other suit")
    terminal.type(CTRL_S)
    terminal.until(lambda: "unsaved" not in terminal.text)
    assert 'power = "270 W"' in small_race.read_text("utf-8")
    terminal.type(CTRL_Q)
    assert terminal.ended() == 0
    assert load_race(small_race).rider.power == 270.0
    # Nothing is left behind: the alternate screen is left and the cursor shown again.
    assert b"\x1b[?1049l" in terminal.raw
    assert b"\x1b[?25h" in terminal.raw


def test_without_a_file_recent_ones_are_offered(small_race: Path) -> None:
    terminal = Terminal([])
    terminal.see("Open another race file")
    terminal.type(CTRL_Q)
    assert terminal.ended() == 0


@pytest.mark.parametrize(
    ("content", "said"), [(None, "there is no such file"), ("[rider\n", "needs a terminal")]
)
def test_what_cannot_be_opened_is_refused_as_by_every_command(
    tmp_path: Path, racecalc, content: str | None, said: str
) -> None:
    path = tmp_path / "race.toml"
    if content is not None:
        path.write_text(content, "utf-8")
    status, _, err = racecalc(path)
    assert status == 2
    assert said in err
    assert "Traceback" not in err


LONGEST_S = 3.0
"""Of typing before a kill: saving and keeping a copy fall into it several times."""


def one_kill(small_race: Path, chance: random.Random, seconds: float) -> bool:
    """Type and save for so long, then kill; whether there was something to recover."""
    small_race.write_text(SMALL, "utf-8")
    copy_path(small_race).unlink(missing_ok=True)
    terminal = Terminal([str(small_race)], (80, 24))
    terminal.see("16:48")
    terminal.type(TAB)
    terminal.see("body mass")
    terminal.type(TAB)
    terminal.see("power held over the race")
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        terminal.type(f"\x15{chance.randrange(200, 400)} W")
        terminal.read(chance.uniform(0.0, 0.6))
        if chance.random() < 0.2:
            terminal.type(CTRL_S)
            terminal.read(chance.uniform(0.0, 0.05))
    terminal.kill()
    saved = read_text(small_race)
    load_race(small_race)
    assert re.sub(r'power = "\d+ W"', 'power = "250 W"', saved) == SMALL
    kept = read_copy(copy_path(small_race), saved)
    if kept is None:
        return False
    Draft(small_race, saved, kept.text)
    load_race(small_race, text=kept.text)
    assert re.sub(r'power = "\d+ W"', 'power = "250 W"', kept.text) == SMALL
    return True


def kill_often(small_race: Path, kills: int) -> int:
    """Kill at moments spread evenly from the first key to the longest typing."""
    chance = random.Random(20261125)
    moments = [LONGEST_S * (number + 0.5) / kills for number in range(kills)]
    recovered = sum(one_kill(small_race, chance, moment) for moment in moments)
    print(f"\n{kills} kills: the file whole every time, {recovered} with changes to recover")
    return recovered


def test_a_kill_at_any_moment_leaves_whole_files(small_race: Path) -> None:
    kill_often(small_race, KILLS_IN_SHORT)


def test_what_was_typed_a_moment_ago_survives_a_kill(small_race: Path) -> None:
    terminal = Terminal([str(small_race)], (80, 24))
    terminal.see("16:48")
    terminal.type(TAB)
    terminal.see("body mass")
    terminal.type("77 kg")
    terminal.see("*unsaved*")
    terminal.read(2 * KEEPING)
    terminal.kill()
    kept = read_copy(copy_path(small_race), SMALL)
    assert kept is not None
    assert kept.text == SMALL.replace("70 kg", "77 kg")
    assert small_race.read_text("utf-8") == SMALL


@pytest.mark.slow
def test_two_hundred_kills(small_race: Path) -> None:
    assert kill_often(small_race, KILLS) > 0


def test_a_vanished_terminal_ends_the_program_and_keeps_what_was_typed(small_race: Path) -> None:
    """Also where the signal of it is ignored, as under a command that outlives its terminal."""
    before = signal.signal(signal.SIGHUP, signal.SIG_IGN)
    try:
        terminal = Terminal([str(small_race)], (80, 24))
    finally:
        signal.signal(signal.SIGHUP, before)
    terminal.see("16:48")
    # In one burst: each key goes where those before it have led.
    terminal.type(f"{TAB}{TAB}271 W")
    terminal.see("*unsaved*")
    os.close(terminal._reader)
    assert terminal.process.wait(10.0) == HANGUP_STATUS
    kept = read_copy(copy_path(small_race), SMALL)
    assert kept is not None
    assert 'power = "271 W"' in kept.text
