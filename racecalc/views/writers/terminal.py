"""A sheet as text for a terminal, through rich: colour where there is any, and nothing cut off."""

from collections.abc import Iterator, Mapping

from rich.box import SIMPLE_HEAD, Box
from rich.cells import cell_len
from rich.console import Console, JustifyMethod, RenderableType
from rich.padding import Padding
from rich.table import Table as Grid
from rich.text import Text

from racecalc.answers.cells import Cell
from racecalc.answers.sheet import (
    Block,
    Curves,
    Depth,
    Intervals,
    Line,
    Lines,
    Sheet,
    Table,
    says_something,
)
from racecalc.views.chart import curves_text, interval_chart
from racecalc.views.tables import draws_lines, width

STYLES = {"strong": "bold", "good": "green", "bad": "red", "open": "yellow", "faint": "dim"}
LETTERS_ONLY = Box("    \n    \n -- \n    \n    \n    \n    \n    \n", ascii=True)
LEAST_NAME = 12
"""Columns below which no words are broken."""

FLAGS = {
    Depth.DETAILS: "--details (every table)",
    Depth.BASIS: "--basis (what it rests on)",
}


def print_sheet(sheet: Sheet, depth: Depth) -> None:
    """Print a sheet as far as a depth; plain text wherever it is no terminal."""
    print(sheet_text(sheet, depth, colour=None), end="")


def sheet_text(
    sheet: Sheet,
    depth: Depth,
    *,
    colour: bool | None = False,
    ways: Mapping[Depth, str] = FLAGS,
) -> str:
    """A sheet as text, with the ways to its deeper depths at the end.

    Its colours are codes of the terminal; None means where the output is one.
    """
    console = Console(
        width=1000,  # each part fills the columns there are by itself
        highlight=False,
        force_terminal=None if colour is None else colour,
    )
    with console.capture() as captured:
        console.print(*_parts(sheet, depth, width(), ways), sep="\n")
    return "".join(f"{line.rstrip()}\n" for line in captured.get().splitlines())


def _parts(
    sheet: Sheet, depth: Depth, columns: int, ways: Mapping[Depth, str]
) -> Iterator[RenderableType]:
    if sheet.title:
        yield _fill(text_of(sheet.title), columns)
    yield _fill(text_of(sheet.headline), columns)
    for block in sheet.upto(depth):
        yield from _block(block, sheet, depth, columns)
    deeper = sorted(
        {one.depth for one in sheet.blocks if one.depth > depth and says_something(one)}
    )
    if deeper:
        yield Text(f"More: {', '.join(ways[one] for one in deeper)}.", "dim")


def text_of(line: Line) -> Text:
    """A sentence with its tones."""
    if isinstance(line, str):
        return Text(line)
    return Text().append_tokens(
        (str(part), STYLES.get(part.tone, "") if isinstance(part, Cell) else "") for part in line
    )


def _block(block: Block, sheet: Sheet, depth: Depth, columns: int) -> Iterator[RenderableType]:
    if isinstance(block, Lines):
        yield from _lines(block, depth, columns)
    elif isinstance(block, Table):
        yield from _table(block, sheet, depth, columns)
    else:
        yield Text(f"\n{block.title}" if block.title else "", "bold")
        if isinstance(block, Intervals):
            drawn = interval_chart(block.lines, block.margin, block.left, block.right)
        else:
            drawn = curves_text(block)
        if drawn:
            yield Text(drawn.rstrip("\n"), no_wrap=True)
        elif isinstance(block, Curves):
            yield _fill(text_of(block.alt), columns)
        if block.note:
            yield _fill(Text(block.note, "dim"), columns)


def _lines(block: Lines, depth: Depth, columns: int) -> Iterator[RenderableType]:
    every = [line for line in block.lines if line]
    told = every[: block.most] if depth == Depth.ANSWER else every
    if block.title and told:
        yield Text(f"\n{block.title}", "bold")
    for line in told:
        if block.title:
            yield Padding(_hung(text_of(line), columns - 4), (0, 0, 0, 2))
        else:
            yield _fill(text_of(line), columns)
    if len(told) < len(every):
        yield Text(f"  and {len(every) - len(told)} more", "dim")


def _hung(text: Text, columns: int) -> Text:
    """A list entry, its later lines under its words."""
    lines = _fill(text, columns).split("\n")
    return Text("\n").join(
        Text("  " if number else "- ").append_text(line) for number, line in enumerate(lines)
    )


def _fill(text: Text, columns: int) -> Text:
    """Text broken into lines; a percent sign keeps its number."""
    kept = Text(text.plain.replace(" %", "\ue000%"), text.style, spans=text.spans)
    filled = Text("\n").join(kept.wrap(Console(width=columns), columns))
    filled.plain = filled.plain.replace("\ue000%", " %")
    return filled


def _table(block: Table, sheet: Sheet, depth: Depth, columns: int) -> Iterator[RenderableType]:
    rows = block.rows[: block.most] if depth == Depth.ANSWER else block.rows
    titles = [Text(one.title(sheet.units)) for one in block.shown]
    cells = [[_styled(one) for one in block.cells(row, sheet.units)] for row in rows]
    wide = [max(map(_broad, column)) for column in zip(titles, *cells, strict=True)]
    least = [
        min(one, LEAST_NAME) if column.left else one
        for one, column in zip(wide, block.shown, strict=True)
    ]
    between = 2 * (len(wide) - 1)
    grid = Grid(
        box=SIMPLE_HEAD if draws_lines() else LETTERS_ONLY,
        padding=(0, 1, 0, 0),
        pad_edge=False,
        show_edge=False,
        header_style="",
        # Nothing is ever cut off: a table that cannot be narrower runs over the edge.
        width=max(sum(least) + between, min(sum(wide) + between, columns)),
    )
    for one, title, room in zip(block.shown, titles, least, strict=True):
        side: JustifyMethod = "left" if one.left else "right"
        grid.add_column(title, justify=side, no_wrap=not one.left, overflow="fold", min_width=room)
    for row in cells:
        grid.add_row(*row)
    yield Text("\n" if block.title else "").append_text(_fill(Text(block.title, "bold"), columns))
    yield grid
    if len(rows) < len(block.rows):
        yield Text(f"and {len(block.rows) - len(rows)} more", "dim")
    if block.note:
        yield _fill(Text(block.note, "dim"), columns)


def _styled(cell: Cell) -> Text:
    return Text(cell.text, STYLES.get(cell.tone, ""))


def _broad(text: Text) -> int:
    return max(map(cell_len, text.plain.split("\n")))
