"""A page without the folders of the machine that it was made on."""

import re
from dataclasses import replace
from pathlib import Path

from racecalc.views.advice.sheet import (
    Block,
    Grid,
    Items,
    Line,
    Paragraph,
    Part,
    Section,
    Sheet,
    Words,
)

FILE = r"(?=[^/\\\n]+\.(?:toml|csv|gpx|fit|tcx)\b)"
"""What must follow, so that no words with a stroke in them, as km/h, are taken for a folder."""


def without_folder(sheet: Sheet, folder: Path) -> Sheet:
    """Leave out the folder of the race file where a sentence names a file in it.

    Parameters
    ----------
    sheet : Sheet
        The page.
    folder : Path
        As the race file was given; absolute, or from where the command ran.

    Returns
    -------
    Sheet
        The same page where there is no folder to leave out.
    """
    if not folder.name:
        return sheet
    either = "|".join(re.escape(one) for one in {str(folder), folder.as_posix()})
    told = re.compile(rf"(?<![\w/\\])(?:{either})[/\\]{FILE}")

    def part(one: Part) -> Part:
        return replace(one, text=told.sub("", one.text)) if isinstance(one, Words) else one

    def line(parts: Line) -> Line:
        return tuple(map(part, parts))

    def block(one: Block) -> Block:
        if isinstance(one, Paragraph):
            return replace(one, line=line(one.line))
        if isinstance(one, Items):
            return replace(one, lines=tuple(map(line, one.lines)))
        if isinstance(one, Grid):
            return replace(one, rows=tuple(tuple(map(line, row)) for row in one.rows))
        return replace(one, alt=line(one.alt), caption=line(one.caption))

    def section(one: Section) -> Section:
        return replace(one, blocks=tuple(map(block, one.blocks)))

    front, rest = tuple(map(section, sheet.front)), tuple(map(section, sheet.rest))
    return replace(sheet, headline=line(sheet.headline), front=front, rest=rest)
