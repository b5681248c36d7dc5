"""What an answer says, apart from how it is written: a few blocks, each with its depth."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import IntEnum
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Literal

from racecalc.answers.cells import Cell
from racecalc.answers.columns import Made

if TYPE_CHECKING:
    from racecalc.answers.columns import Column
    from racecalc.arrays import FloatArray
    from racecalc.decisions.explain import ExplainedStep
    from racecalc.quantities.showing import System


class Depth(IntEnum):
    """How much of an answer is shown."""

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
    """Sentences: paragraphs, or under a title a list."""

    lines: Sequence[Line]
    """What is said; nothing at all is shown, the title neither, where it is empty."""
    title: str = ""
    """What they are about."""
    depth: Depth = Depth.ANSWER
    """From which depth on they are shown."""
    most: int = 1000
    """Sentences shown where no more than the answer is wanted."""


def details(lines: Iterable[Line], title: str = "") -> Lines:
    """Sentences for the details."""
    return Lines([*lines], title, Depth.DETAILS)


def grounds(lines: Iterable[Line], title: str = "") -> Lines:
    """Sentences for what an answer rests on."""
    return Lines([*lines], title, Depth.BASIS)


Group = Literal["do", "test", "leave"]
"""What is to be done about a row."""


@dataclass(frozen=True)
class Table:
    """Rows of one kind; any objects, whose columns know how to read and show them."""

    title: str
    """What it shows."""
    columns: Sequence["Column | None"]
    """From left to right; None leaves a place out, so that one can be made to depend."""
    rows: Sequence[Any]
    """Nothing at all is shown where it is empty."""
    note: str = ""
    """How to read it."""
    depth: Depth = Depth.DETAILS
    """From which depth on it is shown."""
    most: int = 1000
    """Rows shown where no more than the answer is wanted."""
    path: str | Mapping[str, Sequence[Any]] = ""
    """Of the list in the JSON of the answer that holds the rows; empty where none does. Where more
    than one list holds them, these by their paths.
    """
    among: Sequence[Any] = ()
    """That list, where the rows are sorted or chosen otherwise; the rows themselves if empty."""
    bar: "Callable[[Any], Drawn] | None" = None
    """Interval of a row, which a medium that draws shows before the third column."""
    group: Callable[[Any], "Group"] | None = None
    """What a row belongs to, for a medium that can set groups apart."""
    reasons: Callable[[Any], Line] | None = None
    """A sentence on a row, which a medium with room shows below it."""
    foot: Sequence[Cell] = ()
    """A last row, of the table as a whole, its numbers with their paths."""

    def cells(self, row: Any, units: "System") -> list[Cell]:
        """The cells of a row, numbers with their path from the root of the answer."""
        made = [column.cell(row, units) for column in self.shown]
        if not self.path:
            return [replace(cell, key="") for cell in made]
        place = self._place_of(row)
        return [replace(cell, key=f"{place}/{cell.key}") if cell.key else cell for cell in made]

    def _place_of(self, row: Any) -> str:
        """The path of a row from the root of the answer."""
        lists = {self.path: self.among or self.rows} if isinstance(self.path, str) else self.path
        return next(
            f"{path}/{at}"
            for path, rows in lists.items()
            for at, one in enumerate(rows)
            if one is row
        )

    @property
    def shown(self) -> list["Column"]:
        """The columns there are."""
        return [column for column in self.columns if column is not None]


@dataclass(frozen=True)
class Curves:
    """Curves over the course, or over money or power, all in the units of the reader."""

    along: "FloatArray"
    """Where; shape (n,)."""
    curves: dict[str, "FloatArray"]
    """Values by what they are and their unit; each is drawn as a chart of its own."""
    alt: Line
    """The same in words."""
    across: str = ""
    """What `along` is, and its unit."""
    steps: bool = False
    """Whether values hold until the next."""
    marks: Sequence[tuple[float, str]] = ()
    """Places to be marked, with their names; without `across` these are the scale."""
    points: Sequence[tuple[float, float, str]] = ()
    """Points to go with the first curve: where, how high, and the letter for each."""
    names: Sequence[tuple[float, float, str]] = ()
    """Words that belong to places of the first curve, where there is room for them."""
    together: bool = False
    """Whether curves of one unit share a chart, where the medium can tell them apart."""
    errors: Mapping[str, "FloatArray"] = field(default_factory=dict)
    """Standard uncertainty of a curve, by its name."""
    title: str = ""
    note: str = ""
    """How to read it."""
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
    """What it means to lie there."""
    across: str = ""
    """What they are, and its unit."""
    title: str = ""
    note: str = ""
    """How to read it."""
    depth: Depth = Depth.DETAILS


@dataclass(frozen=True)
class Figure:
    """A number that answers the question."""

    shown: Cell
    words: Line
    """What it is."""
    chief: bool = False
    """Whether it is the answer itself."""


@dataclass(frozen=True)
class Figures:
    """The few numbers that answer the question, in the order in which one leads to the next."""

    figures: Sequence[Figure]
    title: str = ""
    depth: Depth = Depth.ANSWER


Effort = Literal["push", "hold", "ease"]
"""How hard a stretch is ridden."""


@dataclass(frozen=True)
class Step:
    """A place on a road from which a power holds; a landmark, or the end, where it has none."""

    at: float
    """Where, in the unit of the road."""
    where: Cell
    power: Cell
    clock: Cell
    cue: Cell
    """Distance, watts, time since the start, and a word or two or the name of the landmark."""
    effort: Effort | None = None
    """How hard; None for a landmark and the end."""
    note: Cell | None = None
    """On a landmark, in the words of its user."""


@dataclass(frozen=True)
class Road:
    """How hard to ride where: the profile of a course, and its steps from start to finish."""

    steps: Sequence[Step]
    """The last one is the finish."""
    along: "FloatArray"
    height: "FloatArray"
    """The profile in the units of the reader; shape (n,)."""
    headings: tuple[str, str, str, str]
    """Of distance, watts, time and cue."""
    most: int = 16
    """Steps of its table from which the landmarks are left to a table of their own."""
    title: str = ""
    depth: Depth = Depth.ANSWER

    @property
    def stretches(self) -> list[tuple[Step, Step]]:
        """Each power, with the step that ends it."""
        marks = [one for one in self.steps if one.effort]
        return list(pairwise([*marks, self.steps[-1]]))

    @property
    def landmarks(self) -> list[Step]:
        """The landmarks."""
        return [one for one in self.steps[:-1] if not one.effort]

    @property
    def table(self) -> Table:
        """The steps as rows, for a medium that draws nothing; without landmarks if too many."""
        where, power, clock, cue = self.headings
        columns = [
            Made(where, "", lambda step: step.where),
            Made(power, "", lambda step: step.power),
            Made(clock, "", lambda step: step.clock),
            Made(cue, "", lambda step: step.cue, left=True),
        ]
        few = len(self.steps) <= self.most
        steps = self.steps if few else [one for one in self.steps if one not in self.landmarks]
        return Table(self.title, columns, steps, depth=self.depth)


Block = Lines | Table | Curves | Intervals | Figures | Road


EXPLAINED = "How it arises: result = formula; inputs (source)"


@dataclass(frozen=True)
class Sheet:
    """All that an answer says, in the order in which it is read."""

    headline: Line
    """The answer and its doubt in a sentence."""
    blocks: Sequence[Block]
    """The rest."""
    units: "System" = "metric"
    """For the cells of its tables."""
    title: Line = ""
    """What it is about, where the headline does not begin with it."""
    about: Sequence[Line] = ()
    """Conditions that go with the title, each in a few words."""
    explained: Callable[[], Iterable["ExplainedStep"]] = tuple
    """How its numbers arise, in the order in which one leads to the next."""

    @property
    def explanation(self) -> "Sheet":
        """That alone, below the answer."""
        return replace(self, blocks=[Lines([one.words for one in self.explained()], EXPLAINED)])

    def upto(self, depth: Depth) -> Iterator[Block]:
        """The blocks that have something to say at a depth, the shallower ones first."""
        for level in Depth:
            for block in self.blocks:
                if block.depth == level <= depth and says_something(block):
                    yield block


def says_something(block: Block) -> bool:
    """Whether there is anything in a block."""
    if isinstance(block, Curves | Road):
        return True
    if isinstance(block, Figures):
        return bool(block.figures)
    return bool(block.rows if isinstance(block, Table) else block.lines)


@dataclass(frozen=True)
class Posted:
    """One result for those who see nothing else of the answer."""

    name: str
    saved: str
    sure: str
    """What it is about, the result, and how sure that is, in words."""
    drawn: Drawn
    conditions: Sequence[str]
    source: str
    """Under which conditions it holds, and where it comes from."""
