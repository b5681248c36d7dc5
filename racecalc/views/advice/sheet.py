"""What a page says, apart from how it is written: headings, lines, tables and figures.

A line is made of our own words, of `Words` that may come from a file and are never markup, and of
`Number` s that remember what they were before rounding and which answer they come from.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from html import escape
from typing import ClassVar

from racecalc.quantities.plain_text import one_line

SHORT = 60
"""Signs of a name where there is little room; it stands in full below."""


@dataclass(frozen=True)
class Words:
    """Words that may come from a file."""

    text: str
    """Anything."""
    most: int | None = None
    """Longest length; None for all of it."""

    def __str__(self) -> str:
        return one_line(self.text, self.most) or "(no name)"

    def __html__(self) -> str:
        """As a template writes it: escaped, its direction of writing its own."""
        return f"<bdi>{escape(str(self))}</bdi>"


@dataclass(frozen=True)
class Number:
    """A number as it is shown, and what it is."""

    text: str
    """Rounded to what its doubt allows."""
    value: float
    """As the command gives it, in SI units or money."""
    key: str
    """The command and the path of its JSON, as "value/options/0/saved_s"."""

    def __str__(self) -> str:
        return self.text

    def __html__(self) -> str:
        """As a template writes it: the text, and the number for machines."""
        value, key = repr(float(self.value)), escape(self.key)
        return f'<data value="{value}" data-key="{key}">{escape(self.text)}</data>'


Part = str | Words | Number
Line = tuple[Part, ...]


@dataclass(frozen=True)
class Paragraph:
    """A line of its own."""

    line: Line
    kind: ClassVar = "paragraph"


@dataclass(frozen=True)
class Items:
    """A list; each line an entry."""

    lines: tuple[Line, ...]
    kind: ClassVar = "items"


@dataclass(frozen=True)
class Grid:
    """A table."""

    title: str
    """What it shows, for whoever cannot see it."""
    headings: tuple[str, ...]
    """One a column; a heading that begins with "<" is over words."""
    rows: tuple[tuple[Line, ...], ...]
    """Cells; the first of a row names it."""
    stacked: bool = True
    """Whether its rows are set below each other where the screen is narrow."""
    kind: ClassVar = "grid"


@dataclass(frozen=True)
class Figure:
    """A chart."""

    name: str
    """Letters that no other figure of the page has."""
    alt: Line
    """All that it shows, in words."""
    caption: Line
    """How to read it."""
    draw: Callable[[str], str]
    """Draws it as SVG, whose identifiers begin with a name."""
    kind: ClassVar = "figure"

    @property
    def spoken(self) -> str:
        """All that it shows, as text."""
        return spoken(self.alt)


Block = Paragraph | Items | Grid | Figure


@dataclass(frozen=True)
class Section:
    """A part of a page."""

    name: str
    """Letters that no other part of the page has."""
    title: str
    """Its heading."""
    blocks: tuple[Block, ...]
    """What stands in it."""


@dataclass(frozen=True)
class Sheet:
    """A page."""

    title: Words
    """The race."""
    headline: Line
    """All of the advice in one sentence."""
    front: tuple[Section, ...]
    """What the athlete needs; one sheet of paper."""
    rest: tuple[Section, ...]
    """What it rests on."""
    made: Line
    """What made it, when, and from what."""


def spoken(line: Line) -> str:
    """A line as text."""
    return "".join(str(part) for part in line)


def listed(
    names: Iterable[str], last: str = "and", most: int | None = None, length: int | None = SHORT
) -> Line:
    """Names of a file in a row; beyond `most` only how many more there are.

    Examples
    --------
    >>> spoken(listed(["A", "B", "C"])), spoken(listed("ABCDE", most=2))
    ('A, B and C', 'A, B and 3 more')
    """
    every = list(names)
    kept = every[:most]
    parts: list[Part] = [Words(name, length) for name in kept]
    if len(kept) < len(every):
        parts.append(f"{len(every) - len(kept)} more")
    return joined([(part,) for part in parts], last)


def joined(parts: Iterable[Line], last: str = "", between: str = ", ") -> Line:
    """Lines in a row, with a word before the last one, or with the same between all.

    Examples
    --------
    >>> spoken(joined([("a",), ("b",), ("c",)], between="; "))
    'a; b; c'
    """
    every = list(parts)
    found: list[Part] = []
    for number, part in enumerate(every):
        if number:
            found.append(f" {last} " if last and number == len(every) - 1 else between)
        found.extend(part)
    return tuple(found)
