"""A sheet as text for a terminal: tables, and charts of characters."""

import math
import textwrap
from collections.abc import Iterator, Mapping, Sequence
from threading import Lock

import numpy as np
from rich.box import SIMPLE_HEAD, Box
from rich.cells import cell_len
from rich.console import Console, JustifyMethod, RenderableType
from rich.padding import Padding
from rich.table import Table as Grid
from rich.text import Text

from racecalc.answers.cells import Cell, joined, several
from racecalc.answers.sheet import (
    Block,
    Curves,
    Depth,
    Drawn,
    Figures,
    Intervals,
    Line,
    Lines,
    Road,
    Sheet,
    Table,
)
from racecalc.views.width import draws_lines, width

# --- Curves --------------------------------------------------------------------------------------

_PLOTTING = Lock()
"""The library keeps its one figure between calls, and answers are worked out on several threads."""

TICKS = 5
"""Columns of the numbers next to charts above each other."""

HEIGHT = 9
ALONE = 14
"""Lines of a chart where there are several, and of the only one."""


def curves_text(block: Curves) -> str:
    """Charts of all curves, one below the other; empty where only letters can be shown."""
    if not draws_lines():
        return ""
    height = HEIGHT if len(block.curves) > 1 else ALONE
    return "".join(_chart(block, title, height) for title in block.curves)


def _chart(block: Curves, title: str, height: int) -> str:
    import plotext

    points = block.points if title == next(iter(block.curves)) else ()
    values = block.curves[title]
    low, high = _round_limits([*values.tolist(), *(up for _, up, _ in points)])
    along = block.along
    if block.steps:  # the corners of values that hold until the next
        along, values = np.repeat(along, 2)[1:], np.repeat(values, 2)[:-1]
    with _PLOTTING:
        plotext.clear_figure()
        plotext.limit_size(False, False)
        plotext.theme("clear")
        plotext.plot_size(width(), height)
        plotext.frame(True)
        plotext.plot(along.tolist(), values.tolist(), marker="braille")
        plotext.ylim(low, high)
        plotext.xlim(float(along[0]), float(along[-1]))
        ends = [low, 0.5 * (low + high), high]
        plotext.yticks(ends, [f"{end:>{TICKS}.4g} " for end in ends])
        _scale(block)
        if low < 0.0 < high:
            plotext.hline(0.0)
        for across, up, letter in points:
            plotext.scatter([across], [up], marker=letter)
        upright = np.linspace(low, high, 4 * height).tolist()
        for at, name in block.marks if block.across else ():
            plotext.scatter([at] * len(upright), upright, marker=":" if name else "|")
        plotext.title(title)
        drawn = plotext.uncolorize(plotext.build())
    return "\n".join(line.rstrip() for line in drawn.splitlines()) + "\n"


def _scale(block: Curves) -> None:
    """Numbers along the foot; the names of the marks there where nothing is counted, else above."""
    import plotext

    first, last = float(block.along[0]), float(block.along[-1])
    shown = _apart(block.marks, first, last)
    names = [at for at, _ in shown], [name for _, name in shown]
    if block.marks and not block.across:
        plotext.xticks(*names)
        return
    step = round_step(last - first)
    ticks = [step * one for one in range(math.ceil(first / step - 1e-9), int(last / step) + 1)]
    plotext.xticks(ticks, [f"{tick:g}" for tick in ticks])
    if shown:
        plotext.scatter([first], [-1e9], xside="upper")
        plotext.xlim(first, last, xside="upper")
        plotext.xticks(*names, xside="upper")
    plotext.xlabel(block.across)


def _apart(
    marks: Sequence[tuple[float, str]], first: float, last: float
) -> list[tuple[float, str]]:
    """The named marks whose names do not run into each other."""
    shown, taken = [], -math.inf
    for at, name in sorted(marks):
        middle = (at - first) / (last - first) * (width() - TICKS - 4)
        if name and middle - len(name) / 2 > taken:
            shown.append((at, name))
            taken = middle + len(name) / 2 + 1
    return shown


def _round_limits(values: Sequence[float]) -> tuple[float, float]:
    """Limits in whole steps of a power of ten that fits their range."""
    low, high = min(values), max(values)
    step = 10.0 ** np.floor(np.log10(max(high - low, 0.01 * abs(high), 1e-6)))
    low, high = float(np.floor(low / step) * step), float(np.ceil(high / step) * step)
    return low, max(high, low + float(step))


def round_step(length: float) -> float:
    """Round distance between marks that makes four to ten of them."""
    power = 10.0 ** np.floor(np.log10(length / 4.0))
    return float(max(step * power for step in (1.0, 2.0, 5.0) if step * power * 4.0 <= length))


# --- Dots and intervals --------------------------------------------------------------------------


def interval_chart(lines: Sequence[Drawn], margin: float | None, left: str, right: str) -> str:
    """A chart of dots with their intervals about zero."""
    wrapped = [textwrap.wrap(line.name, width() // 2) or [""] for line in lines]
    names = max(len(part) for parts in wrapped for part in parts)
    columns = width() - names - 2
    known = [abs(one) for line in lines for one in (line.value, line.low, line.high) if one]
    reach = 1.05 * max([*known, margin or 0.0, 1e-12])

    def place(value: float) -> int:
        return round((value + reach) / (2 * reach) * (columns - 1))

    bar, crossed, dot = ("\u2500", "\u253c", "\u25cf") if draws_lines() else ("-", "+", "*")
    drawn = []
    for line, (first, *further) in zip(lines, wrapped, strict=True):
        cells = [" "] * columns
        inside = False
        if line.low is not None and line.high is not None:
            inside = line.low <= 0.0 <= line.high
            first_bar, end = place(line.low), place(line.high) + 1
            cells[first_bar:end] = bar * (end - first_bar)
        for edge in (-margin, margin) if margin else ():
            cells[place(edge)] = ":"
        cells[place(0.0)] = crossed if inside else "|"
        cells[place(line.value)] = dot
        drawn += [f"{first:<{names}}  {''.join(cells).rstrip()}", *further]
    scale = f"{left:<{columns // 2}}{right:>{columns - columns // 2}}"
    return "\n".join([*drawn, " " * (names + 2) + scale.rstrip()]) + "\n"


# --- A sheet as text for a terminal, through rich ------------------------------------------------

STYLES = {"strong": "bold", "good": "green", "bad": "red", "open": "yellow", "faint": "dim"}
LETTERS_ONLY = Box("    \n    \n -- \n    \n    \n    \n    \n    \n", ascii=True)
LONGEST_TITLE = 60
"""Letters within which a headline says what it is about."""

LEAST_NAME = 12
"""Columns below which no words are broken."""

FLAGS = {Depth.DETAILS: "--details (every table)", Depth.BASIS: "--basis (what it rests on)"}


def print_sheet(sheet: Sheet, depth: Depth) -> None:
    """Print a sheet as far as a depth; plain text wherever it is no terminal."""
    print(sheet_text(sheet, depth, colour=None), end="")


def sheet_text(
    sheet: Sheet, depth: Depth, *, colour: bool | None = False, ways: Mapping[Depth, str] = FLAGS
) -> str:
    """A sheet as text, with the ways to its deeper depths at the end.

    Its colours are codes of the terminal; None means where the output is one.
    """
    # Each part fills the columns there are by itself.
    console = Console(width=1000, highlight=False, force_terminal=colour)
    with console.capture() as captured:
        console.print(*_parts(sheet, depth, width(), ways), sep="\n")
    return "".join(f"{line.rstrip()}\n" for line in captured.get().splitlines())


def _parts(
    sheet: Sheet, depth: Depth, columns: int, ways: Mapping[Depth, str]
) -> Iterator[RenderableType]:
    if sheet.title:
        yield _fill(text_of(sheet.title), columns)
    if sheet.about:
        yield _fill(text_of(joined([_parts_of(one) for one in sheet.about])), columns)
    headline = text_of(sheet.headline)
    headline.stylize("bold", 0, _end_of_finding(headline.plain))
    yield _fill(headline, columns)
    for block in sheet.upto(depth):
        yield from _block(block, sheet, depth, columns)
    if deeper := sorted({one.depth for one in sheet.upto(Depth.BASIS) if one.depth > depth}):
        yield _fill(Text(f"More: {', '.join(ways[one] for one in deeper)}.", "dim"), columns)


def _end_of_finding(words: str) -> int:
    """Where the first clause of a headline ends, behind the name that it may begin with."""
    name = words.find(": ") + 2 if ": " in words[:LONGEST_TITLE] else 0
    ends = [at for sign in ("; ", ", ", ". ") if (at := words.find(sign, name)) > 0]
    return min(ends, default=len(words))


def text_of(line: Line, styles: Mapping[str, str] = STYLES) -> Text:
    """A sentence with its tones."""
    if isinstance(line, str):
        return Text(line)
    return Text().append_tokens(
        (str(part), styles.get(part.tone, "") if isinstance(part, Cell) else "") for part in line
    )


def _block(block: Block, sheet: Sheet, depth: Depth, columns: int) -> Iterator[RenderableType]:
    if isinstance(block, Lines):
        yield from _lines(block, depth, columns)
    elif isinstance(block, Table | Road):
        table = block if isinstance(block, Table) else block.table
        yield from _table(table, sheet, depth, columns)
    elif isinstance(block, Figures):
        yield from _figures(block, columns)
    else:
        yield _title(block.title, columns)
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


def _parts_of(line: Line) -> tuple[str | Cell, ...]:
    return (line,) if isinstance(line, str) else line


def _figures(block: Figures, columns: int) -> Iterator[RenderableType]:
    """Each number with what it is, the words in a column of their own."""
    room = max(cell_len(one.shown.text) for one in block.figures)
    for one in block.figures:
        shown = Text(" " * (room - cell_len(one.shown.text))).append_text(_styled(one.shown))
        words = _fill(text_of(one.words), columns - room - 2).split("\n")
        for number, line in enumerate(words):
            yield (Text(" " * room) if number else shown).append("  ").append_text(line)


def _lines(block: Lines, depth: Depth, columns: int) -> Iterator[RenderableType]:
    every = [line for line in block.lines if line]
    told = every[: block.most] if depth == Depth.ANSWER else every
    if block.title and told:
        yield _title(block.title, columns)
    for line in map(text_of, told):
        if block.title:
            yield Padding(_hung(line, columns - 4), (0, 0, 0, 2))
        else:
            yield _fill(line, columns)
    if len(told) < len(every):
        yield Text(f"  and {len(every) - len(told)} more", "dim")


def _title(title: str, columns: int) -> Text:
    """The title of a block below an empty line; only that line where there is none."""
    return Text("\n" if title else "").append_text(_fill(Text(title, "bold"), columns))


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
    if block.foot:
        cells.append([*map(_styled, block.foot)])
    wide = [max(map(_broad, column)) for column in zip(titles, *cells, strict=True)]
    columns_wide = zip(wide, block.shown, strict=True)
    least = [min(one, LEAST_NAME) if column.left else one for one, column in columns_wide]
    between = 2 * (len(wide) - 1)
    words = [max(map(_longest_word, column)) for column in zip(titles, *cells, strict=True)]
    found = _widened(_narrowed(least, words, columns - between), wide, columns - between)
    grid = Grid(
        box=SIMPLE_HEAD if draws_lines() else LETTERS_ONLY,
        padding=(0, 1, 0, 0),
        pad_edge=False,
        show_edge=False,
        header_style="",
    )
    for one, title, room in zip(block.shown, titles, found, strict=True):
        side: JustifyMethod = "left" if one.left else "right"
        grid.add_column(title, justify=side, overflow="fold", width=room)
    for row in cells:
        grid.add_row(*row)
    yield _title(block.title, columns)
    yield grid
    if len(rows) < len(block.rows):
        yield _fill(_left_over(block, sheet), columns)
    if block.note:
        yield _fill(Text(block.note, "dim"), columns)


def _left_over(block: Table, sheet: Sheet) -> Text:
    """How many rows are not shown; in a table of groups, what these say to do, and their names."""
    hidden = block.rows[block.most :]
    if block.group is None or len(groups := {block.group(row) for row in hidden}) > 1:
        return Text(f"and {len(hidden)} more", "dim")
    names = [block.cells(row, sheet.units)[0].text for row in hidden]
    return text_of((f"{groups.pop()}: ", *several(names)))


def _narrowed(least: list[int], words: list[int], room: int) -> list[int]:
    """Least widths of columns where all are too wide: the widest break, between words, at last.

    Nothing is ever cut off: a table that cannot be narrower runs over the edge.
    """
    found = list(least)
    while sum(found) > room and any(one > word for one, word in zip(found, words, strict=True)):
        spare = [one if one > word else 0 for one, word in zip(found, words, strict=True)]
        found[spare.index(max(spare))] -= 1
    return found


def _widened(found: list[int], wide: list[int], room: int) -> list[int]:
    """Widths that use the room: what lacks most is widened first."""
    found = list(found)
    for _ in range(min(room, sum(wide)) - sum(found)):
        lacks = [full - one for full, one in zip(wide, found, strict=True)]
        found[lacks.index(max(lacks))] += 1
    return found


def _styled(cell: Cell) -> Text:
    return Text(cell.text, STYLES.get(cell.tone, ""))


def _longest_word(text: Text) -> int:
    return max(map(cell_len, text.plain.split()), default=0)


def _broad(text: Text) -> int:
    return max(map(cell_len, text.plain.split("\n")))
