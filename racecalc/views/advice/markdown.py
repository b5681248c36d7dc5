"""A page as Markdown, for a mail: readable as it stands, charts told in words."""

import re
from collections.abc import Iterable

from racecalc.views.advice.sheet import Block, Figure, Grid, Items, Line, Sheet, Words

_MARKS = re.compile(r"([\\`*_{}\[\]()<>#!|~&$@]|:(?=//)|(?<=www)\.|^[-+=]|(?<=^\d)[.)])")
"""Signs that Markdown, or a mail program, could read as more than themselves: marks, formulas,
addresses, and what begins a list."""


def markdown_of(sheet: Sheet) -> str:
    """Write a page; words of files are escaped, so that none is read as markup."""
    parts = [f"# {_words(sheet.title)}\n", f"**{_line(sheet.headline)}**\n"]
    for section in (*sheet.front, *sheet.rest):
        parts.append(f"## {section.title}\n")
        parts += [_block(block) for block in section.blocks]
    return "\n".join([*parts, f"{_line(sheet.made)} An estimate and no promise.\n"])


def _block(block: Block) -> str:
    if isinstance(block, Items):
        return "".join(f"- {_line(line)}\n" for line in block.lines)
    if isinstance(block, Grid):
        return _grid(block)
    return f"{_line(block.alt if isinstance(block, Figure) else block.line)}\n"


def _grid(grid: Grid) -> str:
    rule = [":---" if one.startswith("<") else "---:" for one in grid.headings]
    rows = [[_line(cell) for cell in row] for row in grid.rows]
    heads = [one.removeprefix("<") for one in grid.headings]
    return "".join(_row(cells) for cells in (heads, rule, *rows))


def _row(cells: Iterable[str]) -> str:
    return f"| {' | '.join(cells)} |\n"


def _line(line: Line) -> str:
    return "".join(_words(part) if isinstance(part, Words) else str(part) for part in line)


def _words(words: Words) -> str:
    return _MARKS.sub(r"\\\1", str(words))
