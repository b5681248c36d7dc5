"""A sheet as Markdown, for a mail: readable as it stands."""

import re
from collections.abc import Iterator

from racecalc.answers.cells import Cell, quoted
from racecalc.answers.sheet import Block, Curves, Depth, Intervals, Line, Lines, Sheet, Table

_MARKS = re.compile(r"([\\`*_{}\[\]()<>#!|~&$@]|:(?=//)|(?<=www)\.|^[-+=]|(?<=^\d)[.)])")
"""Signs that Markdown, or a mail program, could read as more than themselves."""


def markdown_of(sheet: Sheet, depth: Depth = Depth.BASIS) -> str:
    """Write a sheet as far as a depth."""
    blocks = ("".join(_block(block, sheet)) for block in sheet.upto(depth))
    return "\n".join([f"# {_line(sheet.headline)}\n", *blocks])


def _block(block: Block, sheet: Sheet) -> Iterator[str]:
    if isinstance(block, Table | Lines) and block.title:
        yield f"## {_part(block.title)}\n\n"
    if isinstance(block, Lines):
        mark = "- " if block.title else ""
        yield from (f"{mark}{_line(one)}\n" for one in block.lines if one)
    elif isinstance(block, Table):
        columns = block.shown
        heads = [one.title(sheet.units).replace("\n", " ") for one in columns]
        rows = [[_part(one) for one in block.cells(row, sheet.units)] for row in block.rows]
        for cells in (heads, [":---" if one.left else "---:" for one in columns], *rows):
            yield f"| {' | '.join(cells)} |\n"
        yield f"\n{block.note}\n" if block.note else ""
    elif isinstance(block, Intervals):
        yield from (f"- {_part(quoted(one.name))}: {one.value:+.4g}\n" for one in block.lines)
    elif isinstance(block, Curves):
        yield f"{_line(block.alt)}\n"


def _line(line: Line) -> str:
    return _part(line) if isinstance(line, str) else "".join(map(_part, line))


def _part(part: str | Cell) -> str:
    if not isinstance(part, Cell):
        return part
    if part.tone == "quoted":
        return _MARKS.sub(r"\\\1", part.text)
    return f"**{part.text}**" if part.tone == "strong" else part.text
