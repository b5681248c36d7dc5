"""The questions of the commands, asked from Python and notebooks through the commands."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import Any

import click

from racecalc.answers.fields import plain
from racecalc.answers.sheet import Depth, Sheet
from racecalc.decisions.riding import load_measured
from racecalc.domain.race import Race
from racecalc.errors import InputError
from racecalc.views.command_line import command, refused
from racecalc.views.desk import Desk, at_desk

read_race = load_measured


@dataclass(frozen=True)
class Answer:
    """What a question found; shown as its sheet in a notebook, and as text by `print`."""

    answer: Any
    """The dataclass of the answer, everything in SI."""
    sheet: Sheet
    """What a person reads of it."""
    notices: tuple[str, ...]
    """What the user should know besides."""

    @property
    def json(self) -> Any:
        """All of it as dictionaries and lists, by the keys of ``--json``."""
        return plain(self.answer)

    def rows(self, key: str) -> list[dict[str, Any]]:
        """A list of the answer as flat rows, for a data frame; inner keys are joined by points.

        Raises
        ------
        InputError
            If there is no such list.
        """
        lists = {name: value for name, value in self.json.items() if isinstance(value, list)}
        if key not in lists:
            raise InputError("rows", f"there is no list '{key}'", f"known: {', '.join(lists)}")
        return [dict(_flat(row)) for row in lists[key]]

    def __str__(self) -> str:
        from racecalc.views.writers.terminal import sheet_text

        return sheet_text(self.sheet, Depth.ANSWER)

    def _repr_html_(self) -> str:
        """The page of the sheet, in a frame of its own so that its looks stay inside."""
        from racecalc.views.writers.page import html_of

        page = escape(html_of(self.sheet), quote=True)
        return f'<iframe srcdoc="{page}" style="width:100%;height:36em;border:0"></iframe>'


def _flat(value: Any, before: str = "") -> Iterator[tuple[str, Any]]:
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from _flat(inner, f"{before}.{key}" if before else key)
    else:
        yield before, value


def ask(
    question: str,
    *about: Race | Path | str,
    set: Mapping[str, object] | None = None,  # noqa: A002 - the flag's own name
    **wishes: object,
) -> Answer:
    """Ask what a command asks.

    Parameters
    ----------
    question : str
        Name of the command, as "value".
    *about : Race, Path or str
        What it is about, as the command takes it: a race that was read or a race file first, then
        further files or words.
    set : mapping of str to object, optional
        Values to try, by key, as ``{"rider.power": "280 W"}``.
    **wishes
        Its other flags, "_" in place of "-"; True for a flag without a value, a list for one that
        may be repeated.

    Raises
    ------
    InputError
        If the question, a wish or a value will not do.

    Examples
    --------
    >>> print(ask("convert", "4.5 W at 45 km/h", to="m^2").sheet.headline[0])
    4.5 W at 45 km/h
    """
    races = [one for one in about if isinstance(one, Race)]
    desk = Desk(lambda *_: None, _reader(races[0]) if races else None)
    words = [one.name if isinstance(one, Race) else str(one) for one in about]
    flags = [*_flags(wishes), *(f"--set={key}={value}" for key, value in (set or {}).items())]
    with at_desk(desk):
        try:
            command(question).main([*flags, "--", *words], question, standalone_mode=False)
        except click.ClickException as error:
            raise refused(error) from error
        except KeyError:
            raise InputError("ask", f"there is no question '{question}'") from None
    answer, sheet = desk.answers[-1]
    return Answer(answer, sheet, tuple(desk.notices))


def _reader(race: Race) -> Any:
    def read(path: Path, changes: Iterable[str]) -> Race:
        if list(changes):
            raise InputError("set", "a race that was read is as it is", "give its file")
        return race if str(path) == race.name else load_measured(path)

    return read


def _flags(wishes: Mapping[str, object]) -> Iterator[str]:
    for name, wish in wishes.items():
        flag = f"--{name.replace('_', '-')}"
        for one in wish if isinstance(wish, list | tuple) else [wish]:
            if one is True:
                yield flag
            elif one is not None and one is not False:
                yield f"{flag}={one}"
