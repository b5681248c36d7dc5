"""One question about several races, as those of a squad: a row for each."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from racecalc.answers.cells import quoted
from racecalc.answers.columns import Made
from racecalc.answers.sheet import Lines, Sheet, Table, grounds
from racecalc.quantities.showing import System

RACE = Made("race", "", lambda one: quoted(one.basis.title), left=True)


@dataclass(frozen=True)
class SquadAnswer:
    """The answers about several races."""

    races: tuple[Any, ...]
    """One for each race file, in their order."""


Together = Callable[[Sequence[Any]], tuple[str, Table]]
"""What is said of several answers in one line, and their table."""


def squad_sheet(together: Together, answer: SquadAnswer, units: System) -> Sheet:
    """The answers next to each other, and what is to be minded in each."""
    found = answer.races
    minded = [
        (quoted(one.basis.title), f": {said}") for one in found for said in one.basis.warnings
    ]
    files = [
        (quoted(one.basis.title), f": {line}") for one in found for line in one.basis.by_source
    ]
    said, table = together(found)
    mind, assumed = Lines(minded, "Mind"), grounds(files, "Assumed")
    return Sheet(f"{len(found)} races: {said}", [table, mind, assumed], units)
