"""On which line of a TOML text each key stands.

The parser of the standard library gives values without places; this finds the places again by
the layout of the text, for messages only.
"""

import re

_HEADER = re.compile(r"\s*(\[\[?)\s*([^\[\]]+?)\s*\]\]?\s*(?:#.*)?$")
_KEY = re.compile(r"""\s*("[^"]*"|'[^']*'|[A-Za-z0-9_.-]+)\s*=""")
_QUOTES = re.compile(r'"""|\'\'\'|"(?:[^"\\]|\\.)*"|\'[^\']*\'|#.*')


def key_lines(text: str) -> dict[tuple[str, int, str], int]:
    """Find the line of every key.

    Parameters
    ----------
    text : str
        A valid TOML document.

    Returns
    -------
    dict
        (table name, its number counted from 0, key) to line counted from 1. The empty key gives
        the line of the table's header.
    """
    lines: dict[tuple[str, int, str], int] = {}
    counts: dict[str, int] = {}
    table = ""
    open_brackets, open_quotes = 0, ""
    for number, line in enumerate(text.splitlines(), 1):
        if not open_brackets and not open_quotes:
            if header := _HEADER.match(line):
                table = _unquoted(header[2])
                counts[table] = counts.get(table, -1) + (1 if header[1] == "[[" else 0)
                counts[table] = max(counts[table], 0)
                lines.setdefault((table, counts[table], ""), number)
                continue
            if key := _KEY.match(line):
                lines.setdefault((table, counts.get(table, 0), _unquoted(key[1])), number)
        open_brackets, open_quotes = _still_open(line, open_brackets, open_quotes)
    return lines


def _unquoted(name: str) -> str:
    return ".".join(part.strip().strip("\"'") for part in name.split("."))


def _still_open(line: str, brackets: int, quotes: str) -> tuple[int, str]:
    """Brackets and triple quotes that stay open after a line."""
    if quotes:
        _, closed, line = line.partition(quotes)
        if not closed:
            return brackets, quotes
    bare = ""
    position = 0
    for found in _QUOTES.finditer(line):
        if found.start() < position:
            continue
        bare += line[position : found.start()]
        position = found.end()
        if found[0] in ('"""', "'''"):
            end = line.find(found[0], found.end())
            if end < 0:
                return max(brackets + _net(bare), 0), found[0]
            position = end + 3
    bare += line[position:]
    return max(brackets + _net(bare), 0), ""


def _net(bare: str) -> int:
    return sum(bare.count(sign) for sign in "[{") - sum(bare.count(sign) for sign in "]}")
