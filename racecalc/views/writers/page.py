"""A sheet as HTML: the answer in sight, details and basis folded; no script, no network."""

from collections.abc import Iterator
from html import escape

from racecalc.answers.cells import Cell
from racecalc.answers.sheet import Block, Curves, Depth, Intervals, Line, Lines, Sheet, Table

FOLDED = {Depth.DETAILS: "Details", Depth.BASIS: "What it rests on"}


def html_of(sheet: Sheet) -> str:
    """Write a sheet as one article, all depths of it."""
    levels = []
    for depth in Depth:
        told = "".join(
            part for one in sheet.upto(depth) if one.depth == depth for part in _block(one, sheet)
        )
        if depth in FOLDED and told:
            told = f"<details><summary>{FOLDED[depth]}</summary>{told}</details>"
        levels.append(told)
    return f"<article><h1>{_line(sheet.headline)}</h1>{''.join(levels)}</article>"


def _block(block: Block, sheet: Sheet) -> Iterator[str]:
    if isinstance(block, Lines):
        if block.title:
            entries = "".join(f"<li>{_line(one)}" for one in block.lines)
            yield f"<h2>{escape(block.title)}</h2><ul>{entries}</ul>"
        else:
            yield from (f"<p>{_line(one)}" for one in block.lines if one)
    elif isinstance(block, Table):
        yield from _table(block, sheet)
    elif isinstance(block, Intervals):
        yield "".join(
            f"<p>{escape(one.name)}: {one.value:+.4g} ({one.low:+.4g} to {one.high:+.4g})"
            for one in block.lines
            if one.low is not None and one.high is not None
        )
    elif isinstance(block, Curves):
        yield f"<p>{_line(block.alt)}"


def _table(block: Table, sheet: Sheet) -> Iterator[str]:
    yield f"<table><caption>{escape(block.title)}</caption><tr>"
    for one in block.shown:
        yield f'<th scope="col">{escape(one.title(sheet.units)).replace(chr(10), "<br>")}'
    for row in block.rows:
        yield "<tr>"
        for one, cell in zip(block.shown, block.cells(row, sheet.units), strict=True):
            side = "" if one.left else ' class="number"'
            yield f"<td{side}>{_cell(cell)}"
    yield f"</table><p>{escape(block.note)}" if block.note else "</table>"


def _line(line: Line) -> str:
    parts = (line,) if isinstance(line, str) else line
    return "".join(_cell(one) if isinstance(one, Cell) else escape(one) for one in parts)


def _cell(cell: Cell) -> str:
    text = escape(cell.text)
    if cell.tone == "quoted":
        return f"<bdi>{text}</bdi>"
    if cell.value is not None:
        text = f'<data value="{cell.value!r}" data-key="{escape(cell.key)}">{text}</data>'
    return f'<span class="{cell.tone}">{text}</span>' if cell.tone else text
