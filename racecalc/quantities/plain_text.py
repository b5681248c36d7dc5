"""Words from files, made safe to set into one line of a page, a table, a map or a script's JSON."""

import json
import re
from collections.abc import Iterable
from typing import Any

JOINERS = "\u200c\u200d"
"""Invisible signs that some scripts and emoji are spelled with; they steer nothing else."""


def one_line(text: str, most: int | None = None) -> str:
    r"""Return the text on one line, without signs that steer what shows it.

    Line breaks and runs of spaces become one space. Control characters, marks and overrides of
    the direction of writing, lone surrogates and code points without a character are left out.

    >>> one_line(" River\n\u202eroad\x07 "), one_line("a long name", most=6)
    ('River road', 'a lon…')
    """
    signs = (sign for sign in text if sign.isprintable() or sign.isspace() or sign in JOINERS)
    kept = " ".join("".join(signs).split())
    if most is None or len(kept) <= most:
        return kept
    return kept[: most - 1].rstrip() + "\u2026"


def shortened(words: str, most: int) -> str:
    """Words on one line, the last of them left out where they are too many.

    >>> shortened("Sit up, look, then build the speed again.", 30), shortened("Turn", 30)
    ('Sit up, look, then build the…', 'Turn')
    """
    line = one_line(words)
    if len(line) <= most:
        return line
    cut = line[:most].rpartition(" ")[0]
    return f"{cut.rstrip(' ,;:.')}\u2026" if cut else one_line(words, most)


def listed(words: Iterable[str]) -> str:
    """Words in a row, the last after "and"."""
    *first, last = words
    return f"{', '.join(first)} and {last}" if first else last


def json_text(value: Any, indent: int | None = None) -> str:
    r"""JSON in which every sign that steers a terminal is escaped.

    Raises
    ------
    ValueError
        If a number is not finite: JSON has none.

    Examples
    --------
    >>> print(json_text(["River\x7f", "Río"]))
    ["River\u007f", "Río"]
    """
    text = json.dumps(value, indent=indent, ensure_ascii=False, allow_nan=False)
    return re.sub(r"[^\n\x20-\x7e]", _escaped, text)


def _escaped(found: re.Match[str]) -> str:
    return found[0] if found[0].isprintable() else json.dumps(found[0])[1:-1]
