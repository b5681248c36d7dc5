"""How wide and how plain a text must be: for a terminal, a file, a part of a screen."""

import os
import shutil
import sys
import textwrap
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

from racecalc.quantities.plain_text import one_line

NARROWEST = 72
WIDEST = 100

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


LONGEST_MESSAGE = 1000
"""Signs of a message: what is longer quotes something that nobody means."""


def for_errors(text: str) -> str:
    """A message wrapped where a person reads it, a line where a program does; nothing steers."""
    line = one_line(text)
    if len(line) > LONGEST_MESSAGE:
        line = f"{line[: LONGEST_MESSAGE // 2]} ... {line[-LONGEST_MESSAGE // 2 :]}"
    return paragraph(line, "  ").removesuffix("\n") if sys.stderr.isatty() else line


def paragraph(text: str, indent: str = "") -> str:
    """Text wrapped to the terminal, its later lines indented; a percent sign keeps its number."""
    kept = text.replace(" %", "\u00a0%")
    return textwrap.fill(kept, width(), subsequent_indent=indent).replace("\u00a0%", " %") + "\n"
