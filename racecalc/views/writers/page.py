"""A sheet as an HTML5 page that needs no network and runs no script."""

from collections.abc import Iterable
from functools import lru_cache
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from racecalc.answers.cells import Cell
from racecalc.answers.columns import interval_text
from racecalc.answers.sheet import Curves, Depth, Intervals, Line, Lines, Sheet, Table
from racecalc.quantities.plain_text import one_line
from racecalc.views.writers.charts import chart_of
from racecalc.views.writers.sections import WIDE, sections_of

if TYPE_CHECKING:
    from jinja2 import Environment
    from markupsafe import Markup

TEMPLATES = Path(__file__).parent / "templates"

NAMED = 46
"""Characters of a name where a chart is put into words."""

Paper = Literal["A4", "letter"]


def html_of(sheet: Sheet, paper: Paper | None = None) -> str:
    """Write a page."""
    sections, charts = sections_of(sheet), count(1)

    def svg(block: Curves | Intervals) -> "Markup":
        from markupsafe import Markup

        return Markup(chart_of(block, f"chart{next(charts)}"))  # noqa: S704 - words in it escaped

    return (
        _environment()
        .get_template("page.html")
        .render(
            sheet=sheet,
            front=[one for one in sections if one.depth == Depth.ANSWER],
            rest=[one for one in sections if one.depth != Depth.ANSWER],
            style=_style(),
            svg=svg,
            paper=paper,
        )
    )


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
    made.tests |= {
        "lines": lambda one: isinstance(one, Lines),
        "table": lambda one: isinstance(one, Table),
    }
    made.globals["wide"] = WIDE
    return made


@lru_cache
def _style() -> "Markup":
    from markupsafe import Markup

    return Markup((TEMPLATES / "page.css").read_text("utf-8"))  # noqa: S704 - our own style sheet


def _said(line: Line) -> "Markup":
    from markupsafe import Markup

    parts: Iterable[str | Cell] = (line,) if isinstance(line, str) else line
    return Markup("").join(_cell(one) if isinstance(one, Cell) else one for one in parts)


def _cell(cell: Cell) -> "Markup":
    """A cell: words of a file with a direction of writing of their own, numbers for machines."""
    from markupsafe import Markup, escape

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
