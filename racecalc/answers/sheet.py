"""What an answer says, apart from how it is written: a few blocks, each with its depth."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import IntEnum
from typing import TYPE_CHECKING, Any

from racecalc.answers.cells import Cell

if TYPE_CHECKING:
    from racecalc.answers.columns import Column
    from racecalc.arrays import FloatArray
    from racecalc.quantities.showing import System


class Depth(IntEnum):
    """How much of an answer is told."""

    ANSWER = 0
    """The result, its doubt, and what changes what to do: one screen of 80 by 24."""
    DETAILS = 1
    """All tables."""
    BASIS = 2
    """What it rests on: assumptions, what was done to the course, method, sources."""


Line = str | tuple[str | Cell, ...]
"""A sentence; numbers that a machine should find are cells of it."""


@dataclass(frozen=True)
class Lines:
    """Sentences: paragraphs, or under a title a list.

    Parameters
    ----------
    lines : sequence of Line
        What is said; nothing at all is shown, the title neither, where it is empty.
    title : str
        What they are about.
    depth : Depth
        From which depth on they are told.
    """

    lines: Sequence[Line]
    title: str = ""
    depth: Depth = Depth.ANSWER


@dataclass(frozen=True)
class Table:
    """Rows of one kind; any objects, whose columns know how to read and show them.

    Parameters
    ----------
    title : str
        What it shows.
    columns : sequence of Column
        From left to right; None leaves a place out, so that one can be made to depend.
    rows : sequence
        Nothing at all is shown where it is empty.
    note : str
        How to read it.
    depth : Depth
        From which depth on it is told.
    most : int
        Rows told where no more than the answer is wanted.
    path : str
        Of the list in the JSON of the answer that holds the rows; empty where none does.
    among : sequence
        That list, where the rows are sorted or chosen otherwise; the rows themselves if empty.
    """

    title: str
    columns: Sequence["Column | None"]
    rows: Sequence[Any]
    note: str = ""
    depth: Depth = Depth.DETAILS
    most: int = 1000
    path: str = ""
    among: Sequence[Any] = ()

    def cells(self, row: Any, units: "System") -> list[Cell]:
        """The cells of a row, numbers with their path from the root of the answer."""
        made = [column.cell(row, units) for column in self.shown]
        if not self.path:
            return [replace(cell, key="") for cell in made]
        at = next(at for at, one in enumerate(self.among or self.rows) if one is row)
        return [
            replace(cell, key=f"{self.path}/{at}/{cell.key}") if cell.key else cell for cell in made
        ]

    @property
    def shown(self) -> list["Column"]:
        """The columns there are."""
        return [column for column in self.columns if column is not None]


@dataclass(frozen=True)
class Curves:
    """Curves over the course, all in the units of the reader.

    Parameters
    ----------
    along : FloatArray, shape (n,)
        Distance.
    curves : dict of str to FloatArray
        Values by what they are and their unit.
    alt : str
        The same in words.
    """

    along: "FloatArray"
    curves: dict[str, "FloatArray"]
    alt: str
    depth: Depth = Depth.DETAILS


@dataclass(frozen=True)
class Drawn:
    """One line of intervals: a name, a best value and its ends, None where unknown."""

    name: str
    value: float
    low: float | None
    high: float | None


@dataclass(frozen=True)
class Intervals:
    """Best values and their intervals about zero, in any one unit, with a margin about it."""

    lines: Sequence[Drawn]
    margin: float | None
    left: str = "faster"
    right: str = "slower"
    depth: Depth = Depth.DETAILS


Block = Lines | Table | Curves | Intervals


@dataclass(frozen=True)
class Sheet:
    """All that is told of an answer, in the order in which it is read.

    Parameters
    ----------
    headline : Line
        The answer and its doubt in a sentence.
    blocks : sequence of Block
        The rest.
    units : {"metric", "imperial"}
        For the cells of its tables.
    """

    headline: Line
    blocks: Sequence[Block]
    units: "System" = "metric"

    def upto(self, depth: Depth) -> Iterator[Block]:
        """The blocks that have something to say at a depth, the shallower ones first."""
        for level in Depth:
            for block in self.blocks:
                if block.depth == level <= depth and says_something(block):
                    yield block


def says_something(block: Block) -> bool:
    """Whether there is anything in a block."""
    return isinstance(block, Curves) or bool(
        block.rows if isinstance(block, Table) else block.lines
    )
