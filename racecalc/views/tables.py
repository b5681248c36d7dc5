"""Tables and paragraphs in plain text that fit the terminal."""

import os
import shutil
import sys
import textwrap
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar

NARROWEST = 72
WIDEST = 100

SHORTEST = 10
"""Least columns of a cell that is wrapped."""

BETWEEN = 2
"""Columns between two columns of a table."""


_COLUMNS: ContextVar[int | None] = ContextVar("columns", default=None)


@contextmanager
def columns_of(columns: int) -> Iterator[None]:
    """Fill so many columns inside, as of a part of a screen that can show lines."""
    token = _COLUMNS.set(columns)
    try:
        yield
    finally:
        _COLUMNS.reset(token)


def width() -> int:
    """Columns to fill: those of the terminal, within reason; 80 where there is none."""
    part = _COLUMNS.get()
    if part is not None:
        return part
    given = os.environ.get("COLUMNS", "")
    columns = int(given) if given.isdecimal() else shutil.get_terminal_size((80, 24)).columns
    return min(max(columns, NARROWEST), WIDEST)


def draws_lines() -> bool:
    """Whether the output can show lines and braille, or only letters."""
    if _COLUMNS.get() is not None:
        return True
    try:
        "\u2500\u28ff".encode(sys.stdout.encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return False
    return True


def paragraph(text: str, indent: str = "") -> str:
    """Text wrapped to the terminal, its later lines indented; a percent sign keeps its number."""
    kept = text.replace(" %", "\u00a0%")
    return textwrap.fill(kept, width(), subsequent_indent=indent).replace("\u00a0%", " %") + "\n"


def chance_text(chance: float) -> str:
    """A chance in percent, never shown as certain."""
    if chance > 0.99:
        return "> 99 %"
    return "< 1 %" if chance < 0.01 else f"{100 * chance:.0f} %"


def signed(number: float) -> str:
    """A number with its sign and one decimal; "0.0" has none."""
    shown = f"{number:+.1f}"
    return "0.0" if float(shown) == 0 else shown


def bullets(title: str, lines: Iterable[str]) -> str:
    """A titled list; empty where it has no lines."""
    items = [paragraph(f"  - {line}", indent="    ") for line in lines]
    return f"\n{paragraph(title)}{''.join(items)}" if items else ""


def table(headings: Sequence[str], rows: Sequence[Sequence[str]], wrapped: int = 0) -> str:
    """A table with words to the left and numbers to the right."""
    columns = [
        aligned(heading, [row[number] for row in rows]) for number, heading in enumerate(headings)
    ]
    room = sum(_columns_of(first) for first, *_ in columns) + BETWEEN * (len(columns) - 1)
    if draws_lines() and room <= width():
        head, *body = ["  ".join(cells).rstrip() for cells in zip(*columns, strict=True)]
        return "\n".join([head, "\u2500" * room, *body]) + "\n"
    return _wrapped(headings, rows, wrapped)


def aligned(heading: str, cells: Sequence[str]) -> list[str]:
    """A heading and its cells, filled with spaces to one width.

    Examples
    --------
    >>> aligned("W", ["5", "12"]), aligned("<who", ["A"])
    ([' W', ' 5', '12'], ['who', 'A  '])
    """
    texts = [heading.removeprefix("<"), *cells]
    wide = max(map(_columns_of, texts))
    gaps = [" " * (wide - _columns_of(text)) for text in texts]
    left = heading.startswith("<")
    return [text + gap if left else gap + text for text, gap in zip(texts, gaps, strict=True)]


def _wrapped(headings: Sequence[str], rows: Sequence[Sequence[str]], wrapped: int) -> str:
    """A table that is too wide as it stands, with cells and headings broken over lines."""
    from rich.box import ASCII2, SIMPLE_HEAD
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    drawn = Table(
        box=SIMPLE_HEAD if draws_lines() else ASCII2,
        padding=(0, 1, 0, 0),
        pad_edge=False,
        show_edge=False,
    )
    least = _least_widths(headings, rows, wrapped)
    for number, heading in enumerate(headings):
        drawn.add_column(
            Text(heading.removeprefix("<")),
            justify="left" if heading.startswith("<") else "right",
            overflow="fold",
            width=None if number == wrapped else least[number],
            min_width=least[number],
        )
    for row in rows:
        drawn.add_row(*(Text(cell) for cell in row))
    # Nothing is ever cut off: a table that cannot be narrower runs over the edge.
    whole = sum(least) + BETWEEN * (len(least) - 1)
    console = Console(
        width=max(width(), whole),
        no_color=True,
        highlight=False,
        force_terminal=None if _COLUMNS.get() is None else False,
    )
    with console.capture() as captured:
        console.print(drawn)
    return "\n".join(line.rstrip() for line in captured.get().splitlines() if line.strip()) + "\n"


def _least_widths(
    headings: Sequence[str], rows: Sequence[Sequence[str]], wrapped: int
) -> list[int]:
    """Least width of each column; where all are too wide, headings break, and at last cells."""
    named = [heading.removeprefix("<") for heading in headings]
    columns = [[row[number] for row in rows] for number in range(len(named))]
    cells = [max(map(_columns_of, column), default=0) for column in columns]
    least = [max(_columns_of(one), cell) for one, cell in zip(named, cells, strict=True)]
    least[wrapped] = min(SHORTEST, least[wrapped])
    broken = [max(_longest_word(one), cell) for one, cell in zip(named, cells, strict=True)]
    words = [
        max(map(_longest_word, (one, *column))) for one, column in zip(named, columns, strict=True)
    ]
    room = width() - BETWEEN * (len(least) - 1)
    for floor in (broken, words):
        floor[wrapped] = least[wrapped]
        while sum(least) > room and least != floor:
            number = max(range(len(least)), key=lambda one: (least[one] > floor[one], least[one]))
            least[number] = max(least[number] - 1, floor[number])
    return least


def _longest_word(text: str) -> int:
    return max(map(_columns_of, text.split()), default=0)


def _columns_of(text: str) -> int:
    """Columns that a text takes in a terminal, where some letters take two."""
    from rich.cells import cell_len

    return cell_len(text)
