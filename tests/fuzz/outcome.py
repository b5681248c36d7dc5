"""A command run inside this process, within bounds of time, and what may never come of it."""

import io
import json
import math
import re
import signal
import unicodedata
from collections.abc import Callable, Iterator, Mapping
from contextlib import chdir, contextmanager, redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from unittest.mock import patch

from hypothesis import HealthCheck, given, settings
from hypothesis.strategies import SearchStrategy

from racecalc.views.command_line import run
from tests.answered import DEMO

LONGEST = 20.0
"""Processor time that no command may take [s]."""


Check = Callable[..., bool | None]
"""Takes the folder and what is drawn; whether there was an answer, if it tells."""


def with_demo(folder: Path) -> Path:
    """A folder with the files of the demo in it, as links."""
    for one in DEMO.iterdir():
        if one.is_file():
            (folder / one.name).symlink_to(one)
    return folder


def draw(
    check: Check,
    drawn: Mapping[str, SearchStrategy[Any]],
    folder: Path,
    times: int,
    **how: Any,
) -> None:
    """Try a check on cases that are drawn: few are the same each time, many are new."""

    @settings(
        max_examples=times,
        derandomize=times <= 10,
        deadline=None,
        suppress_health_check=list(HealthCheck),
        **how,
    )
    @given(**drawn)
    def run(**drawn: Any) -> None:
        check(folder, **drawn)

    run()


@dataclass(frozen=True)
class Outcome:
    """What a command printed, and its exit status."""

    words: tuple[str, ...]
    status: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        return json.loads(self.out, parse_constant=_refuse_constant)


def _refuse_constant(name: str) -> None:
    raise AssertionError(f"{name} in the JSON")


@contextmanager
def _within(seconds: float) -> Iterator[None]:
    def too_long(*_: object) -> None:
        raise TimeoutError(f"more than {seconds:g} s of processor time")

    before = signal.signal(signal.SIGVTALRM, too_long)
    signal.setitimer(signal.ITIMER_VIRTUAL, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        signal.signal(signal.SIGVTALRM, before)


def outcome(folder: Path, *words: str) -> Outcome:
    """Run a command in a folder, and hold what holds of every command."""
    out, err = io.StringIO(), io.StringIO()
    with (
        chdir(folder),
        redirect_stdout(out),
        redirect_stderr(err),
        patch("sys.argv", ["racecalc", *words]),
        _within(LONGEST),
    ):
        status = run()
    found = Outcome(words, status, out.getvalue(), err.getvalue())
    _hold(found)
    return found


def _hold(found: Outcome) -> None:
    """Exit status 0 with an answer, 2 with one line of error; nothing that a terminal obeys."""
    assert "bug in racecalc" not in found.err, found
    assert found.status in {0, 2}, found
    assert "--json" in found.words or not re.search(r"\b(nan|inf)\b", found.out.casefold()), found
    for text in (found.out, found.err):
        obeyed = [
            c for c in text if unicodedata.category(c) in {"Cc", "Cf"} and c not in "\n\u200c\u200d"
        ]
        assert obeyed == [], found
    if found.status == 2:
        assert found.out == "", found
        errors = [
            line for line in found.err.splitlines() if line.startswith(("error:", '{"errors"'))
        ]
        assert len(errors) == 1, found
    elif "--json" in found.words:
        _finite(found.json)


def _finite(value: Any) -> None:
    if isinstance(value, dict):
        value = list(value.values())
    if isinstance(value, list):
        for one in value:
            _finite(one)
    elif isinstance(value, float):
        assert math.isfinite(value)
