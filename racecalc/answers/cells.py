"""A text ready to be written, with the number behind it and what it is to the reader."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from racecalc.decisions.verdicts import shown_percent
from racecalc.quantities.plain_text import one_line

Tone = Literal["", "strong", "good", "bad", "open", "faint", "quoted"]
"""What a text is to the reader; each medium knows one way to show it. What is "quoted"
may come from a file and is never markup."""

TONES: dict[str, Tone] = {"faster": "good", "slower": "bad", "undecided": "open"}


@dataclass(frozen=True)
class Cell:
    """A text ready to be written."""

    text: str
    """Rounded to what its doubt allows, with its unit unless a heading has it."""
    tone: Tone = ""
    """What it is to the reader."""
    value: float | None = None
    """The number before rounding, in SI units or money; None for words."""
    key: str = ""
    """The path of that number in the JSON of the answer; empty for words."""

    def __str__(self) -> str:
        return self.text


def chance_text(chance: float) -> str:
    """A chance in percent, never shown as certain."""
    percent = shown_percent(chance)
    return {100: "> 99 %", 0: "< 1 %"}.get(percent, f"{percent} %")


LONGEST_QUOTED = 400
"""Signs of words from a file that are shown; our choice, five lines."""


def quoted(text: str, most: int | None = None) -> Cell:
    """Words from a file, on one line; cut to `most` characters."""
    return Cell(one_line(text, most or LONGEST_QUOTED) or "(no name)", "quoted")


def several(
    names: Sequence[str], most: int = 3, last: str = "and", length: int | None = 60
) -> tuple[str | Cell, ...]:
    """Names from a file in a row, for a line; beyond `most` only how many more there are.

    Examples
    --------
    >>> "".join(map(str, several(["A", "B", "C"]))), "".join(map(str, several(list("ABCDE"))))
    ('A, B and C', 'A, B and 3 more')
    """
    cells: list[str | Cell] = [quoted(one, length) for one in names]
    if len(cells) > most:
        cells = [*cells[: most - 1], f"{len(cells) - most + 1} more"]
    return joined([(cell,) for cell in cells], last=last)


def naming(
    words: str, names: Sequence[str], most: int = 3, after: str = ".", last: str = "and"
) -> Iterator[tuple[str | Cell, ...]]:
    """A sentence on names from a file, where there are any."""
    if names:
        yield words, *several(names, most, last), after


def joined(
    lines: Iterable[Sequence[str | Cell]], between: str = ", ", last: str = ""
) -> tuple[str | Cell, ...]:
    """Lines in a row, with a word before the last one or the same between all.

    Examples
    --------
    >>> "".join(map(str, joined([("a",), ("b", "c")], "; ")))
    'a; bc'
    """
    every = list(lines)
    parts: list[str | Cell] = []
    for number, line in enumerate(every):
        if number:
            parts.append(f" {last} " if last and number == len(every) - 1 else between)
        parts.extend(line)
    return tuple(parts)


def verdict(word: str) -> Cell:
    """The word for a difference, with its tone."""
    return Cell(word, TONES.get(word, ""))


def file_name(source: str) -> Cell:
    """The name of a file without its folders."""
    return quoted(source.replace("\\", "/").rpartition("/")[2], 40)
