"""A page as HTML5 that needs no network and runs no script."""

from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from racecalc.views.advice.sheet import Figure, Sheet

if TYPE_CHECKING:
    from jinja2 import Environment
    from markupsafe import Markup

TEMPLATES = Path(__file__).parent / "templates"

Paper = Literal["A4", "letter"]


def html_of(sheet: Sheet, paper: Paper | None = None) -> str:
    """Write a page."""
    page = _environment().get_template("page.html")
    return page.render(sheet=sheet, style=_style(), svg=_drawn, paper=paper)


@lru_cache
def _environment() -> "Environment":
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    return Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


@lru_cache
def _style() -> "Markup":
    from markupsafe import Markup

    return Markup((TEMPLATES / "page.css").read_text("utf-8"))  # noqa: S704 - our own style sheet


def _drawn(figure: Figure) -> "Markup":
    from markupsafe import Markup

    return Markup(figure.draw(figure.name))  # noqa: S704 - our own drawing, its words escaped
