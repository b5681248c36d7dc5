"""A page as plain text for the terminal, charts left out where a table says the same."""

from racecalc.views.advice.sheet import Block, Figure, Grid, Items, Sheet, spoken
from racecalc.views.tables import bullets, paragraph, table


def text_of(sheet: Sheet) -> str:
    """Write a page for the columns there are."""
    parts = [paragraph(str(sheet.title)), "\n" + paragraph(spoken(sheet.headline))]
    for section in (*sheet.front, *sheet.rest):
        parts.append("\n" + paragraph(section.title))
        parts += [_block(block) for block in section.blocks if not isinstance(block, Figure)]
    return "".join([*parts, "\n" + paragraph(spoken(sheet.made))])


def _block(block: Block) -> str:
    if isinstance(block, Items):
        return bullets("", map(spoken, block.lines)).lstrip("\n")
    if isinstance(block, Grid):
        return _grid(block)
    return "" if isinstance(block, Figure) else paragraph(spoken(block.line))


def _grid(grid: Grid) -> str:
    rows = [[spoken(cell) for cell in row] for row in grid.rows]
    return table(grid.headings, rows, wrapped=len(grid.headings) - 1)
