"""From a race file to a page, in any of the forms that a page is written in."""

from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Literal, get_args

from racecalc.decisions.advice.answer import NO_WISH, Advice, Wish, advise
from racecalc.domain.loading import load_race
from racecalc.errors import InputError
from racecalc.files.inputs import inputs_of, sources_of
from racecalc.files.opening import decoded, read_bytes
from racecalc.quantities.clock import today
from racecalc.quantities.showing import System
from racecalc.views.advice.basis_part import Basis
from racecalc.views.advice.commands import Origin, repeating
from racecalc.views.advice.folders import without_folder
from racecalc.views.advice.html import Paper, html_of
from racecalc.views.advice.markdown import markdown_of
from racecalc.views.advice.pdf import pdf_of
from racecalc.views.advice.sheet import Sheet
from racecalc.views.advice.text import text_of
from racecalc.views.advice.whole import sheet_of
from racecalc.views.tables import columns_of

Form = Literal["html", "md", "pdf", "txt"]

COLUMNS = 80
"""Columns of a page as a text file."""


@dataclass(frozen=True)
class Asked:
    """What a page is to be, in a form that can be sent to another process.

    Parameters
    ----------
    changes : tuple of str
        Values to try, as ``--set`` takes them.
    units : {"metric", "imperial"}
        System of units.
    wish : Wish
        What is asked beside the race file.
    repeatability : tuple of str
        The scatters of the wish as they were given.
    form : {"html", "md", "pdf", "txt"}
        What it is written as.
    paper : {"A4", "letter"} or None
        What a PDF is for; by the units unless given.
    made_on : date
        Day that the page names.
    """

    changes: tuple[str, ...] = ()
    units: System = "metric"
    wish: Wish = NO_WISH
    repeatability: tuple[str, ...] = ()
    form: Form = "html"
    paper: Paper | None = None
    made_on: date = field(default_factory=today)


NOTHING_ASKED = Asked()


def form_of(path: Path) -> Form:
    """What a page is written as, by the ending of its file.

    Raises
    ------
    InputError
        If it is no kind of page.
    """
    for form in get_args(Form):
        if path.suffix.lower() == f".{form}":
            return form  # type: ignore[no-any-return]
    raise InputError(
        "--output", f"'{path}' is no kind of page", "end it with .html, .pdf, .md or .txt"
    )


def advice_on(race_file: Path, asked: Asked, text: str | None = None) -> tuple[Advice, Sheet]:
    """Work out the advice on a race, and what its page says.

    Parameters
    ----------
    race_file : Path
        The race file.
    asked : Asked
        What is wanted.
    text : str, optional
        Content to take instead of that of the file.

    Returns
    -------
    Advice, Sheet
        What is advised, and the page.

    Raises
    ------
    InputError
        If the race file will not do, or the rider comes to a stop on the way.
    """
    content = read_bytes(race_file) if text is None else text.encode()
    text = decoded(content, race_file)
    advice = advise(load_race(race_file, asked.changes, text), asked.wish)
    inputs = inputs_of(text, race_file.name, asked.changes)
    origin = Origin(race_file.name, (*asked.changes, *_lowered(advice)), asked.repeatability)
    basis = Basis(
        inputs=inputs,
        sources=sources_of(race_file, content, inputs),
        commands=repeating(advice, origin),
        made_on=asked.made_on,
    )
    sheet = sheet_of(advice, basis, asked.units)
    return advice, without_folder(sheet, race_file.parent)


def _lowered(advice: Advice) -> tuple[str, ...]:
    """The change of the power for which an advice holds, where the stated one cannot be held."""
    if advice.stated_power_w is None:
        return ()
    return (f'rider.power="{advice.race.rider.power:.0f} W"',)


def written(sheet: Sheet, form: Form, units: System, paper: Paper | None = None) -> bytes:
    """Write a page.

    Parameters
    ----------
    sheet : Sheet
        What it says.
    form : {"html", "md", "pdf", "txt"}
        What it is written as.
    units : {"metric", "imperial"}
        By which paper is chosen where it is not given.
    paper : {"A4", "letter"}, optional
        What a PDF is for.

    Returns
    -------
    bytes
        Content of a file; text is in UTF-8.

    Raises
    ------
    InputError
        If there is no browser to print a PDF.
    """
    if form == "pdf":
        return pdf_of(html_of(sheet, paper or ("A4" if units == "metric" else "letter")))
    if form == "html":
        return html_of(sheet, paper).encode()
    if form == "md":
        return markdown_of(sheet).encode()
    with columns_of(COLUMNS):
        return text_of(sheet).encode()


def page_of(race_file: Path, asked: Asked = NOTHING_ASKED) -> bytes:
    """Make the page of a race.

    Parameters
    ----------
    race_file : Path
        The race file.
    asked : Asked
        What is wanted.

    Returns
    -------
    bytes
        As `written`.

    Raises
    ------
    InputError
        As `advice_on` and `written`.
    """
    _, sheet = advice_on(race_file, asked)
    return written(sheet, asked.form, asked.units, asked.paper)
