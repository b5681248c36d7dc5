"""A sheet as HTML, and printed to PDF by a browser."""

import os
import re
import shutil
import subprocess
import tempfile
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import lru_cache
from importlib.util import find_spec
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from markupsafe import Markup, escape

from racecalc.answers.cells import Cell
from racecalc.answers.columns import interval_text
from racecalc.answers.sheet import (
    Block,
    Curves,
    Depth,
    Figures,
    Intervals,
    Line,
    Lines,
    Road,
    Sheet,
    Table,
    says_something,
)
from racecalc.errors import InputError
from racecalc.quantities.plain_text import one_line, shortened
from racecalc.quantities.showing import System
from racecalc.views.writers.charts import WIDTH, chart_of
from racecalc.views.writers.drawing import Axis, bar, curtain, outline, scale

if TYPE_CHECKING:
    from jinja2 import Environment


WIDE, BROAD, WORDS = 5, 40, 12
"""Columns, or characters in a row, from which a table has no room where the page is narrow, and
the characters that words need, which may be broken; our choice."""


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
    def laid(self) -> str:
        """How it is set: a table next to its curves, or charts alone next to others."""
        kinds = [type(one) for one in self.blocks]
        charts = all(kind in (Curves, Intervals) for kind in kinds)
        return "charted" if charts else "paired" if kinds == [Table, Curves] else ""


def sections_of(sheet: Sheet) -> list[Section]:
    """The parts of a page, the shallower ones first."""
    found: list[Section] = []
    for block in filter(says_something, sheet.blocks):
        apart = (
            found and found[-1].depth != block.depth and not isinstance(block, Curves | Intervals)
        )
        if block.title or apart or not found:
            words = re.sub(r"[^a-z0-9]+", "-", block.title.lower()).strip("-") or "part"
            again = sum(one.name.startswith(words) for one in found)
            name = f"{words}-{again + 1}" if again else words
            found.append(Section(one_line(block.title), name, block.depth))
        found[-1].blocks.append(block)
    return sorted(found, key=lambda one: one.depth)


# --- A sheet as an HTML5 page that needs no network and runs no script ---------------------------

TEMPLATES = Path(__file__).parent / "templates"

NAMED = 46
"""Characters of a name where a chart is put into words."""

LONGEST_TITLE = 70
"""Characters of the name of a page, of which lists of pages show no more."""

NARROW = 2.6
"""Width of a chart where three are next to each other [in]."""

Paper = Literal["A4", "letter"]


def html_of(sheet: Sheet, paper: Paper | None = None, before: str = "") -> str:
    """Write a page, with markup of cards to cut out before it."""
    sections, charts = sections_of(sheet), count(1)

    def svg(block: Curves | Intervals, narrow: bool) -> Markup:
        drawn = chart_of(block, f"chart{next(charts)}", NARROW if narrow else WIDTH)
        return Markup(drawn)  # noqa: S704 - words in it escaped

    front = [one for one in sections if one.depth == Depth.ANSWER]
    rest = [one for one in sections if one.depth != Depth.ANSWER]
    parts = {"front": front, "rest": rest, "cards": Markup(before)}  # noqa: S704 - from a template
    return str(rendered("page.html", sheet=sheet, svg=svg, paper=paper, **parts))


def rendered(template: str, **given: object) -> Markup:
    """Fill in a template; all that is no markup is escaped."""
    return Markup(_environment().get_template(template).render(given))  # noqa: S704 - escaped there


@lru_cache
def _environment() -> "Environment":
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    made = Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters |= {"said": _said, "cell": _cell, "spoken": _spoken}
    made.filters["short"] = lambda words: shortened(words, LONGEST_TITLE)
    made.tests |= {
        "lines": lambda one: isinstance(one, Lines),
        "table": lambda one: isinstance(one, Table),
        "figures": lambda one: isinstance(one, Figures),
        "road": lambda one: isinstance(one, Road),
        "broad": _is_broad,
    }
    made.globals |= {"axis": _axis, "bar": bar, "scale": scale}
    made.globals |= {"curtain": curtain, "outline": outline}
    made.globals |= {"style": _style("page"), "drawing_style": _style("drawing")}
    made.globals["card_style"] = _style("card")
    return made


def _axis(table: Table) -> Axis | None:
    """The axis of the bars of a table; None where it has none."""
    return Axis.of(map(table.bar, table.rows)) if table.bar else None


def _is_broad(table: Table, units: System) -> bool:
    """Whether a narrow screen shows each row of a table as lines below each other."""
    rows = [table.cells(row, units) for row in table.rows]
    widest = (max(len(str(cell)) for cell in column) for column in zip(*rows, strict=True))
    parts = zip(table.shown, widest, strict=True)
    room = sum(min(wide, WORDS) if one.left else wide for one, wide in parts)
    return len(table.shown) >= WIDE or room > BROAD


def _style(name: str) -> Markup:
    return Markup((TEMPLATES / f"{name}.css").read_text("utf-8"))  # noqa: S704 - our own style sheet


def _said(line: Line) -> Markup:
    parts: Iterable[str | Cell] = (line,) if isinstance(line, str) else line
    return Markup("").join(_cell(one) if isinstance(one, Cell) else one for one in parts)


def _cell(cell: Cell) -> Markup:
    """A cell: words of a file with a direction of writing of their own, numbers for machines."""
    text = escape(cell.text)
    if cell.tone == "quoted":
        return Markup("<bdi>{}</bdi>").format(text)
    if cell.value is not None and cell.key:
        data = Markup('<data value="{!r}" data-key="{}">{}</data>')
        text = data.format(float(cell.value), cell.key, text)
    return Markup('<span class="{}">{}</span>').format(cell.tone, text) if cell.tone else text


def _spoken(said: Line | Curves | Intervals) -> str:
    """A line as text, or all that a chart shows."""
    if isinstance(said, Intervals):
        rows = (
            f"{one_line(one.name, NAMED)} {interval_text(one.value, one.low, one.high)}"
            for one in said.lines
        )
        return f"{said.across or said.right}, with the 95 % interval: {'; '.join(rows)}."
    return "".join(map(str, said.alt if isinstance(said, Curves) else said))


# --- A page printed by a browser that has no window, or by a library ------------------------------

BROWSER = "RACECALC_BROWSER"
"""Variable of the environment that names a browser to print with."""

KNOWN = ("chromium", "chromium-browser", "chrome")
"""What a browser that can print without a window is called on the path."""

FLAGS = (
    "--headless",
    "--disable-gpu",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-pdf-header-footer",
)

PATIENCE = 120.0
"""Seconds until a browser is given up."""

LIBRARY = "weasyprint"
"""What prints where there is no browser, if it is installed."""

CREATOR = b"/Creator (racecalc)"

WRITTEN_CREATOR = re.compile(rb"/Creator \((?:[^()\\]|\\.)*\)", re.DOTALL)
"""What a PDF says made it: text in brackets, with a backslash before each bracket in it."""


def browser() -> str | None:
    """The browser to print with; None where none is found."""
    named = os.environ.get(BROWSER)
    return shutil.which(named) if named else next(filter(None, map(shutil.which, KNOWN)), None)


def refuse_without_printer() -> None:
    """Say before any work what is missing to print with."""
    found, named = browser(), os.environ.get(BROWSER)
    if found is None and named:
        raise InputError(BROWSER, f"there is no program '{named}'", "name another browser")
    if found is None and find_spec(LIBRARY) is None:
        raise InputError(
            "a .pdf page",
            "there is no browser here to print it with, nor the library for it",
            f"pip install 'racecalc[pdf]', install chromium or name another with {BROWSER},"
            " or write .html and print that",
        )


def pdf_of(page: str) -> bytes:
    """Print a page."""
    refuse_without_printer()
    found = browser()
    return _by_library(page) if found is None else _by_browser(page, found)


def _by_browser(page: str, found: str) -> bytes:
    with tempfile.TemporaryDirectory(prefix="racecalc-", ignore_cleanup_errors=True) as folder:
        source, target = Path(folder, "page.html"), Path(folder, "page.pdf")
        source.write_text(page, "utf-8")
        words = [found, *FLAGS, f"--user-data-dir={folder}/profile", *_as_root()]
        _run([*words, f"--print-to-pdf={target}", source.as_uri()])
        printed = target.read_bytes() if target.is_file() else b""
    if not printed.startswith(b"%PDF"):
        raise InputError("a .pdf page", f"'{found}' printed nothing", f"try another {BROWSER}")
    return made_here(printed)


def _by_library(page: str) -> bytes:
    """Print without a browser."""
    try:
        from weasyprint import HTML

        printed: bytes = HTML(string=_for_library(page)).write_pdf()
    except Exception as error:
        raise InputError(
            "a .pdf page", f"{LIBRARY} does not print: {error!r}", "install chromium"
        ) from error
    return printed


def _for_library(page: str) -> str:
    """The page with its light colours in place, and in each drawing the rules for it.

    The library reads no variables in drawings, no rules of the page for what is in them, and no
    list of media that names a width.
    """
    light = dict(reversed(re.findall(r"--([a-z-]+): ([^;]+);", page)))
    drawn = (TEMPLATES / "drawing.css").read_text("utf-8")
    page = page.replace("@media print, (min-width: 46rem)", "@media print")
    page = re.sub(r'<svg class="[^>]*>', lambda head: f"{head[0]}<style>{drawn}</style>", page)
    return re.sub(r"var\(--([a-z-]+)\)", lambda name: light.get(name[1], "#000"), page)


def made_here(printed: bytes) -> bytes:
    r"""Name racecalc as what made a PDF, where a browser names itself; no byte moves.

    Examples
    --------
    >>> made_here(rb"<</Creator (Some browser \(1.0\))>>")
    b'<</Creator (racecalc)            >>'
    """

    def named(found: re.Match[bytes]) -> bytes:
        return CREATOR.ljust(len(found[0])) if len(found[0]) >= len(CREATOR) else found[0]

    return WRITTEN_CREATOR.sub(named, printed, count=1)


def _as_root() -> list[str]:
    """A browser refuses its sandbox to the root user; the page runs no script and loads nothing."""
    return ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []


def _run(words: list[str]) -> None:
    try:
        subprocess.run(words, check=True, capture_output=True, timeout=PATIENCE)  # noqa: S603
    except (OSError, subprocess.SubprocessError) as error:
        raise InputError(
            "a .pdf page", f"'{words[0]}' does not print: {error}", f"try another {BROWSER}"
        ) from error
