"""Tables that can be walked through, filled with the cells of the pages."""

from collections.abc import Sequence
from typing import Any

from rich.text import Text
from textual.widgets import DataTable

from racecalc.answers.columns import Column
from racecalc.quantities.showing import System
from racecalc.views.tables import aligned
from racecalc.views.writers.terminal import STYLES


def fill(
    table: DataTable[Any],
    headings: Sequence[str],
    rows: Sequence[Sequence[str]],
    keys: Sequence[str] = (),
    gap: str = "",
) -> None:
    """Fill a table anew; words to the left and numbers to the right, the cursor stays on its row.

    Parameters
    ----------
    table : DataTable
        What is filled.
    headings : sequence of str
        One a column; a heading that begins with "<" is set to the left.
    rows : sequence of sequence of str
        Cells.
    keys : sequence of str
        A name for each row, by which the cursor finds it again; its number where none is given.
    gap : str
        What parts the columns, where the table itself leaves nothing between them.
    """
    held = row_key(table)
    names = keys or [str(number) for number in range(len(rows))]
    table.clear(columns=True)
    columns = [
        [f"{cell}{gap}" for cell in aligned(heading, [row[number] for row in rows])]
        for number, heading in enumerate(headings)
    ]
    for heading, *_ in columns:
        table.add_column(Text(heading))
    for number, name in enumerate(names, 1):
        table.add_row(*(Text(column[number]) for column in columns), key=name)
    if held in names:
        table.move_cursor(row=list(names).index(held))


def fill_columns(
    table: DataTable[Any],
    columns: Sequence[Column],
    rows: Sequence[Any],
    units: System,
    keys: Sequence[str] = (),
    gap: str = "",
) -> None:
    """Fill a table anew from columns that know how to show their rows, with their tones."""
    cells = [[column.cell(row, units) for column in columns] for row in rows]
    headings = [f"{'<' if column.left else ''}{column.title(units)}" for column in columns]
    fill(table, headings, [[cell.text for cell in row] for row in cells], keys, gap)
    for row, key in zip(cells, keys, strict=True):
        for cell, column in zip(row, table.ordered_columns, strict=True):
            if cell.tone:
                shown = table.get_cell(key, column.key)
                shown.stylize(STYLES[cell.tone])
                table.update_cell(key, column.key, shown)


def row_key(table: DataTable[Any]) -> str:
    """The name of the row under the cursor; empty where there is none."""
    if not table.row_count:
        return ""
    return str(table.coordinate_to_cell_key(table.cursor_coordinate).row_key.value)
