"""How quickly the terminal interface answers: a key on the demo, and the first screen."""

import asyncio
import fcntl
import os
import pty
import select
import statistics
import struct
import subprocess
import sys
import termios
import time
from pathlib import Path

import pytest
from textual.events import Key
from textual.widgets import Input

from racecalc.views.workspace.desk_screen import PAUSE
from tests.workspace.driving import PATIENCE, Driver, at_desk, copied_demo

KEYS = 24
STARTS = 5
ASKED_MS, ASKED_START_S = 100.0, 1.2

EMPTY = """
import numpy, scipy
from textual.app import App
from textual.widgets import Static
class Empty(App):
    def compose(self):
        yield Static("race.toml")
Empty().run()
"""


async def one_key(driver: Driver, letter: str) -> float:
    """Seconds from a key until every number is drawn anew, without the pause for typing."""
    desk, drawn = driver.desk, asyncio.Event()
    before = desk.session.outlook
    began = time.perf_counter()
    driver.app.post_message(Key(letter, letter))
    while desk.session.outlook is before:
        assert time.perf_counter() - began < PATIENCE, driver.screen
        await asyncio.sleep(0.0005)
    driver.app.screen.call_after_refresh(drawn.set)
    await drawn.wait()
    return time.perf_counter() - began - PAUSE


def test_key_to_numbers(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    taken: list[float] = []

    async def act(driver: Driver) -> None:
        row = driver.field("rider", "power")
        await driver.go_to(row)
        field = row.query_one(Input)
        for number in range(KEYS):
            await driver.pilot.pause(0.3)
            field.value = f"26{number % 10} "
            field.action_end()
            await driver.pilot.pause(0.3)
            taken.append(await one_key(driver, "W"))
            await driver.settled()

    at_desk(act, copied_demo(tmp_path), (140, 45))
    median = 1000 * statistics.median(taken)
    worst = 1000 * max(taken)
    print(f"\nkey to numbers: {median:.0f} ms median, {worst:.0f} ms at most of {KEYS}"
          f" (asked {ASKED_MS:.0f} ms)")  # fmt: skip


def first_screen(command: list[str], sign: bytes) -> float:
    """Seconds from the start of a process until a text stands on its screen."""
    reader, writer = pty.openpty()
    fcntl.ioctl(writer, termios.TIOCSWINSZ, struct.pack("HHHH", 45, 140, 0, 0))
    environment = {**os.environ, "TERM": "xterm-256color"}
    began = time.perf_counter()
    process = subprocess.Popen(
        command, stdin=writer, stdout=writer, stderr=writer, env=environment, close_fds=True
    )
    seen = b""
    try:
        while sign not in seen:
            ready, _, _ = select.select([reader], [], [], 20.0)
            assert ready, seen[-500:]
            seen += os.read(reader, 65536)
        return time.perf_counter() - began
    finally:
        process.kill()
        process.wait()
        os.close(reader)
        os.close(writer)


def test_first_screen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Side by side with an empty application that imports the same two large libraries."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    ours = [sys.executable, "-m", "racecalc", str(copied_demo(tmp_path))]
    empty = [sys.executable, "-c", EMPTY]
    screens, answers, empties = [], [], []
    for _ in range(STARTS):
        empties.append(first_screen(empty, b"race.toml"))
        screens.append(first_screen(ours, b"262 W"))
        answers.append(first_screen(ours, b"59:08"))
    screen, answer, base = map(statistics.median, (screens, answers, empties))
    print(
        f"\nfirst screen: {screen:.2f} s, its numbers {answer:.2f} s (asked {ASKED_START_S} s);"
        f" an empty application {base:.2f} s, so {screen / base:.1f} times"
    )
