"""The parts of a page: a block, and those without a title that go with it."""

import re
from dataclasses import dataclass, field

from racecalc.answers.sheet import (
    Block,
    Curves,
    Depth,
    Intervals,
    Lines,
    Sheet,
    Table,
    says_something,
)
from racecalc.quantities.plain_text import one_line

WIDE = 5
"""Columns from which a table has no room for anything next to it, and where the page is narrow
none for itself.
"""


@dataclass
class Section:
    """A block, and those without a title that follow it on the sheet and go with it."""

    title: str
    name: str
    """Letters that no other section of the page has."""
    depth: Depth
    """Of the first block; a chart goes with it, since a page shows all depths."""
    blocks: list[Block] = field(default_factory=list)

    @property
    def paired(self) -> bool:
        """Whether it is a narrow table of the answer with a chart, which go side by side."""
        table, *others = self.blocks
        narrow = isinstance(table, Table) and len(table.shown) < WIDE
        charted = [type(one) for one in others] in ([Curves], [Intervals])
        return narrow and charted and self.depth == Depth.ANSWER


def sections_of(sheet: Sheet) -> list[Section]:
    """The parts of a page, the shallower ones first."""
    found: list[Section] = []
    for block in filter(says_something, sheet.blocks):
        apart = isinstance(block, Lines | Table) and found and found[-1].depth != block.depth
        if block.title or apart or not found:
            words = re.sub(r"[^a-z0-9]+", "-", block.title.lower()).strip("-") or "part"
            again = sum(one.name.startswith(words) for one in found)
            name = f"{words}-{again + 1}" if again else words
            found.append(Section(one_line(block.title), name, block.depth))
        found[-1].blocks.append(block)
    return sorted(found, key=lambda one: one.depth)
