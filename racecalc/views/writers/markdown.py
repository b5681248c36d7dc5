"""A sheet as Markdown, for a mail: readable as it is, charts in words."""

import re
from collections.abc import Iterator

from racecalc.answers.cells import Cell
from racecalc.answers.columns import interval_text
from racecalc.answers.sheet import Block, Depth, Figures, Intervals, Line, Lines, Road, Sheet, Table
from racecalc.quantities.plain_text import one_line
from racecalc.views.writers.page import sections_of

_MARKS = re.compile(r"([\\`*_{}\[\]()<>#!|~&$@]|:(?=//)|(?<=www)\.|^[-+=]|(?<=^\d)[.)])")
"""Characters that Markdown, or a mail program, could read as more than themselves: marks,
formulas, addresses, and what begins a list."""


def markdown_of(sheet: Sheet, depth: Depth = Depth.BASIS) -> str:
    """Write a sheet as far as a depth."""
    head = f"# {_line(sheet.title or sheet.headline)}\n"
    about = [f"{', '.join(map(_line, sheet.about))}\n"] if sheet.about else []
    first = [*about, f"{_line(sheet.headline)}\n"] if sheet.title else about
    parts = (part for part in sections_of(sheet) if part.depth <= depth)
    blocks = ("".join(_block(block, sheet)) for part in parts for block in part.blocks)
    return "\n".join([head, *first, *blocks])


def _block(block: Block, sheet: Sheet) -> Iterator[str]:
    if block.title:
        yield f"## {_escaped(block.title)}\n\n"
    if isinstance(block, Lines):
        mark, end = ("- ", "\n") if block.title else ("", "\n\n")
        yield end.join(f"{mark}{_line(one)}" for one in block.lines if one) + "\n"
    elif isinstance(block, Figures):
        yield "".join(f"- {_part(one.shown)} {_line(one.words)}\n" for one in block.figures)
    elif isinstance(block, Table | Road):
        block = block.table if isinstance(block, Road) else block
        columns = block.shown
        heads = [one.title(sheet.units).replace("\n", " ") for one in columns]
        rows = [[_part(one) for one in block.cells(row, sheet.units)] for row in block.rows]
        rows += [[_part(one) for one in block.foot]] if block.foot else []
        for cells in (heads, [":---" if one.left else "---:" for one in columns], *rows):
            yield f"| {' | '.join(cells)} |\n"
        yield f"\n{block.note}\n" if block.note else ""
    elif isinstance(block, Intervals):
        for one in block.lines:
            yield f"- {_escaped(one.name)}: {interval_text(one.value, one.low, one.high)}\n"
    else:
        yield f"{_line(block.alt)}\n"


def _line(line: Line) -> str:
    return _part(line) if isinstance(line, str) else "".join(map(_part, line))


def _part(part: str | Cell) -> str:
    if not isinstance(part, Cell):
        return part
    if part.tone == "quoted":
        return _escaped(part.text)
    text = part.text.replace("\n", " ")
    return f"**{text}**" if part.tone == "strong" else text


def _escaped(words: str) -> str:
    return _MARKS.sub(r"\\\1", one_line(words))
