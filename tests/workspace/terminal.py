"""The real program in a pseudo-terminal, its screen read by a terminal emulator (pyte)."""

import fcntl
import os
import pty
import select
import signal
import struct
import subprocess
import sys
import termios
import time
from collections.abc import Callable, Mapping
from pathlib import Path

import pyte

PATIENCE = 60.0


class Terminal:
    """A process on a terminal of its own.

    Parameters
    ----------
    arguments : list of str
        Behind ``python -m racecalc``.
    size : tuple of int
        Columns and lines.
    environment : mapping
        Beside that of the tests.
    """

    def __init__(
        self,
        arguments: list[str],
        size: tuple[int, int] = (100, 30),
        environment: Mapping[str, str] | None = None,
        folder: Path | None = None,
    ) -> None:
        columns, lines = size
        self.screen = pyte.Screen(columns, lines)
        self._stream = pyte.ByteStream(self.screen)
        self._reader, writer = pty.openpty()
        fcntl.ioctl(writer, termios.TIOCSWINSZ, struct.pack("HHHH", lines, columns, 0, 0))
        self.raw = b""
        self.process = subprocess.Popen(
            [sys.executable, "-m", "racecalc", *arguments],
            stdin=writer,
            stdout=writer,
            stderr=writer,
            cwd=folder,
            env={**os.environ, "TERM": "xterm-256color", **(environment or {})},
            start_new_session=True,
        )
        os.close(writer)

    @property
    def text(self) -> str:
        return "\n".join(line.rstrip() for line in self.screen.display)

    def read(self, seconds: float = 0.05) -> None:
        """Take in what the program draws, for so long at least."""
        until = time.monotonic() + seconds
        while (left := until - time.monotonic()) > 0:
            ready, _, _ = select.select([self._reader], [], [], left)
            if ready:
                try:
                    found = os.read(self._reader, 65536)
                except OSError:
                    return
                self.raw += found
                self._stream.feed(found)

    def until(self, true: Callable[[], bool]) -> None:
        deadline = time.monotonic() + PATIENCE
        while not true():
            assert time.monotonic() < deadline, self.text
            self.read()

    def see(self, words: str) -> None:
        """Wait until some words stand on the screen."""
        self.until(lambda: words in self.text)

    def type(self, keys: str) -> None:
        os.write(self._reader, keys.encode())

    def kill(self) -> None:
        """Kill it as the kernel does when memory runs out: no handler runs."""
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()
        os.close(self._reader)

    def ended(self) -> int:
        self.until(lambda: self.process.poll() is not None)
        os.close(self._reader)
        return self.process.wait()
