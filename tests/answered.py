"""Answers of the commands on the demo, each worked out once in a process.

Tests of one command belong into one group of `pytest-xdist`, so that one process has its answer.
"""

from contextlib import chdir
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any
from unittest.mock import patch

import pytest

from racecalc.answers.fields import plain
from racecalc.answers.sheet import Depth, Sheet
from racecalc.views.command_line import racecalc
from racecalc.views.commands import advice, shared
from racecalc.views.width import columns_of
from racecalc.views.writers.terminal import sheet_text

DEMO = Path(__file__).parents[1] / "course_demo"


@dataclass(frozen=True)
class Answered:
    """What a command found."""

    answer: Any
    sheet: Sheet

    @property
    def json(self) -> Any:
        return plain(self.answer)

    def text(self, depth: Depth = Depth.ANSWER, columns: int = 80) -> str:
        with columns_of(columns):
            return sheet_text(self.sheet, depth)


@cache
def answered(*words: str) -> Answered:
    """Run a command in the folder of the demo."""
    found: list[Answered] = []

    def keep(answer: Any, sheet: Any, *_: object) -> None:
        found.append(Answered(answer, sheet()))

    with chdir(DEMO), patch.object(shared, "deliver", keep), patch.object(advice, "deliver", keep):
        racecalc.main(list(words), "racecalc", standalone_mode=False)
    return found[0]


def asked(*words: str) -> Any:
    """The parameter of a test about a command: all that ask the same run in one process."""
    name = " ".join(words)
    return pytest.param(words, id=name, marks=pytest.mark.xdist_group(name))
