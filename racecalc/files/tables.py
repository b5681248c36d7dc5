"""Tables as CSV files: columns with units, lines with their places, times."""

import csv
import difflib
import io
import re
from codecs import BOM_UTF8
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from racecalc.arrays import FloatArray
from racecalc.errors import InputError
from racecalc.files.opening import decoded, read_bytes, refuse_many
from racecalc.quantities.clock import read_duration
from racecalc.quantities.kinds import TIME, Kind
from racecalc.quantities.measured import (
    QuantityError,
    comma_may_be_either,
    commas_part_decimals,
    in_quotes,
    plain_number,
    unit_scale,
)

Absent = TypeVar("Absent")

SHORT_ROAD = 300.0
"""Length below which numbers with decimals are taken for kilometres, and others below a third of it
[m]; our choice."""

ALSO = {"elevation": ("altitude", "height", "ele", "alt"), "distance": ("dist", "km")}
"""What people call a column, to say what to write."""

_HEADING = re.compile(r"(?P<name>.*?)\s*(?:\[(?P<unit>[^\]]*)\])?")


@dataclass(frozen=True)
class Heading:
    """One heading of a table."""

    name: str
    unit: str
    """Small letters before the square brackets, and what is in them; "" without any."""
    heading: str
    """As written."""


@dataclass(frozen=True)
class CsvTable:
    """A CSV table whose cells remember their lines."""

    source: str
    """File name as the user gave it."""
    header_line: int
    columns: tuple[Heading, ...]
    lines: tuple[int, ...]
    """Lines of the header and of each row, from 1."""
    rows: tuple[tuple[str, ...], ...]
    """Cells without the spaces around them; each row as long as the header."""
    decimal_commas: bool = False
    """Whether a comma may part decimals, as no comma parts the cells."""
    settled: bool = False
    """Whether it does, as other cells show: "1,204" is 1.204 then."""

    def has(self, name: str) -> bool:
        """Whether there is a column of that name."""
        return any(column.name == name for column in self.columns)

    def _index(self, name: str) -> int:
        names = [column.name for column in self.columns]
        if name in names:
            return names.index(name)
        near = [one for one in names if one in ALSO.get(name, ())]
        near = near or difflib.get_close_matches(name, names, n=1)
        meant = f", perhaps meant by '{self.columns[names.index(near[0])].heading}'" if near else ""
        raise InputError(
            self.header_place,
            f"the column '{name}' is missing{meant}",
            "the headings are: " + ", ".join(column.heading for column in self.columns),
        )

    def column(self, name: str) -> Heading:
        """Return a column's heading and unit."""
        return self.columns[self._index(name)]

    @property
    def header_place(self) -> str:
        """File and line of the header, for messages."""
        return f"{self.source}, line {self.header_line}"

    def place(self, row: int, name: str) -> str:
        """Return file, line and column of a cell, for messages; rows count from 0."""
        return f"{self.source}, line {self.lines[row]}, column '{self.column(name).heading}'"

    def texts(self, name: str) -> list[str]:
        """Return the cells of a column."""
        index = self._index(name)
        return [row[index] for row in self.rows]

    def optional_texts(self, name: str) -> list[str]:
        """Return the cells of a column; empty ones where there is no such column."""
        return self.texts(name) if self.has(name) else [""] * len(self.rows)

    def filled(self, name: str, otherwise: str = "") -> tuple[str, ...]:
        """Return the cells of a column none of which may be empty, or what else to do."""
        texts = self.texts(name)
        if not all(texts):
            remedy = f"give the {name} of this run{otherwise}"
            raise self.wrong(texts.index(""), name, "the cell is empty", remedy)
        return tuple(texts)

    def numbers(self, name: str, kind: Kind, *, gaps: bool = False) -> FloatArray:
        """Return a column as SI numbers."""
        column = self.column(name)
        numbers = [
            np.nan if gaps and not cell else self._number(cell, row, name)
            for row, cell in enumerate(self.texts(name))
        ]
        try:
            with np.errstate(over="ignore"):
                values = unit_scale(column.unit, kind)(np.array(numbers))
        except QuantityError as error:
            place = f"{self.header_place}, column '{column.heading}'"
            problem = error.problem if column.unit else "the unit is missing"
            remedy = f"write the unit in square brackets, as in '{name} [{kind.unit}]'"
            raise InputError(place, problem, error.remedy if column.unit else remedy) from error
        self.refuse(name, np.isinf(values), "is too large", "check the number and its unit")
        return values

    def refuse_kilometres(self, name: str, distances: FloatArray) -> None:
        """Refuse distances from the start [m] that are kilometres under a heading in metres."""
        cells, most = self.texts(name), float(np.max(distances))
        parted = any("." in cell or "," in cell for cell in cells)
        if self.column(name).unit == "m" and most < SHORT_ROAD / (1 if parted else 3):
            row = int(np.argmax(distances))
            problem = f"{in_quotes(cells[row])} is the farthest, {most:.3g} m in all"
            raise self.wrong(row, name, problem, f"write '{name} [km]' if it is in kilometres")

    def _number(self, cell: str, row: int, name: str) -> float:
        try:
            value = float(self._plain(cell) if self.decimal_commas and cell else cell)
        except QuantityError as error:
            raise self.wrong(row, name, error.problem, error.remedy) from error
        except ValueError:
            value = np.nan
        if not np.isfinite(value) or "_" in cell:
            problem = f"{in_quotes(cell)} is not a number" if cell else "the cell is empty"
            raise self.wrong(row, name, problem, "write a plain number with a decimal point")
        return value

    def _plain(self, cell: str) -> str:
        sign = "-" if cell.startswith("-") else ""
        number = cell.lstrip("+-")
        decimal = self.settled and comma_may_be_either(number)
        return sign + (number.replace(",", ".") if decimal else plain_number(number, cell))

    def clock_times(
        self, name: str, remedy: str, absent: Callable[[str], Absent | None]
    ) -> list[float | Absent]:
        """Times on the clock [s], or what `absent` makes of a cell that holds none."""
        self._check_clock(name)
        found: list[float | Absent] = []
        for row, cell in enumerate(self.texts(name)):
            instead = absent(cell)
            found.append(self._clock(row, cell, name, remedy) if instead is None else instead)
        return found

    def _check_clock(self, name: str) -> None:
        """Refuse a heading that does not say how its times are written."""
        column = self.column(name)
        try:
            if ":" in column.unit:
                read_duration(f"0{column.unit.count(':') * ':00'} {column.unit}")
            elif column.unit:
                unit_scale(column.unit, TIME)
        except QuantityError as error:
            place = f"{self.header_place}, column '{column.heading}'"
            problem = f"{in_quotes(column.unit)} does not say how times are written"
            remedy = f"write '{name} [h:m:s]', '{name} [min:s]' or '{name} [s]'"
            raise InputError(place, problem, remedy) from error

    def _clock(self, row: int, cell: str, name: str, remedy: str) -> float:
        unit = self.column(name).unit
        stated = ":" not in unit or cell.count(":") == unit.count(":")
        try:
            return read_duration(f"{cell} {unit}" if unit and stated else cell)
        except QuantityError as error:
            problem = f"{in_quotes(cell)} is not a time" if cell else "the cell is empty"
            raise self.wrong(row, name, problem, remedy) from error

    def wrong(self, row: int, name: str, problem: str, remedy: str) -> InputError:
        """An error about a cell; rows count from 0."""
        return InputError(self.place(row, name), problem, remedy)

    def refuse(self, name: str, wrong: NDArray[np.bool_], problem: str, remedy: str) -> None:
        """Raise an error for the first row that is wrong."""
        if np.any(wrong):
            row = int(np.argmax(wrong))
            raise self.wrong(row, name, f"{in_quotes(self.texts(name)[row])} {problem}", remedy)


def read_table(path: Path) -> CsvTable:
    """Read a CSV table with a header; lines that begin with # are comments."""
    source, (text, _) = str(path), read_table_text(path)
    mark = separator(text)
    refuse_many(path, text.count(mark) + text.count("\n"))
    rows = _csv_rows(text, source, mark)
    header_line, cells = next(rows, (0, []))
    if not cells:
        raise InputError(source, "the file holds no table", "begin with a line of headings")
    columns = _headings(source, header_line, cells)
    lines, kept = [], []
    for line, row in rows:
        if len(row) < len(columns) or any(row[len(columns) :]):
            raise InputError(
                f"{source}, line {line}",
                f"the line has {len(row)} cells under {len(columns)} headings",
                "give each heading one cell, and use a decimal point, not a comma"
                if mark == ","
                else "give each heading one cell",
            )
        lines.append(line)
        kept.append(tuple(row[: len(columns)]))
    if not kept:
        raise InputError(source, "there are headings but no rows", "add a line for each row")
    commas = mark != ","
    settled = commas and commas_part_decimals(cell for row in kept for cell in row)
    return CsvTable(source, header_line, columns, tuple(lines), tuple(kept), commas, settled)


def read_table_text(path: Path) -> tuple[str, str]:
    """Text and encoding of a table: UTF-8, or as spreadsheets of western Europe write it (1252)."""
    content = read_bytes(path)
    for encoding in ("utf-8-sig" if content.startswith(BOM_UTF8) else "utf-8", "cp1252"):
        try:
            return content.decode(encoding), encoding
        except UnicodeDecodeError:
            pass
    return decoded(content, path), "utf-8"


def separator(text: str) -> str:
    """What parts the cells of a table: semicolons or tabs where its headings have no comma.

    >>> separator("name;time [s]"), separator("name,time [s]")
    (';', ',')
    """
    lines = io.StringIO(text, newline=None)
    rows = (line for line in lines if line.strip() and not line.startswith("#"))
    heading = next(rows, "")
    return max(";\t,", key=heading.count) if re.search("[;\t]", heading) else ","


def _csv_rows(text: str, source: str, mark: str) -> Iterator[tuple[int, list[str]]]:
    """Yield line and cells of each row that is neither empty nor a comment."""
    lines = ("\n" if line.startswith("#") else line for line in io.StringIO(text, newline=None))
    reader = csv.reader(lines, delimiter=mark, strict=True)
    try:
        for cells in reader:
            tidy = [_unmarked(cell.strip()) for cell in cells]
            if any(tidy):
                yield reader.line_num, tidy
    except csv.Error as error:
        raise InputError(
            f"{source}, line {reader.line_num}",
            f"the quotes or commas of this line do not match ({error})",
            "close every quotation mark, or use none",
        ) from error


_RECKONED = ("=", "+", "-", "@")
"""What begins a formula in a spreadsheet; common practice, no source."""


def marked_as_text(cell: str) -> str:
    """A cell, with an apostrophe where a spreadsheet would take it for a formula."""
    if not cell.startswith(_RECKONED):
        return cell
    try:
        float(cell)
    except ValueError:
        return f"'{cell}"
    return cell


def _unmarked(cell: str) -> str:
    return cell[1:] if cell.startswith("'") and cell.startswith(_RECKONED, 1) else cell


def _headings(source: str, line: int, cells: list[str]) -> tuple[Heading, ...]:
    place = f"{source}, line {line}"
    columns = []
    for cell in cells:
        found = _HEADING.fullmatch(cell)
        name, unit = (found["name"], found["unit"] or "") if found else (cell, "")
        columns.append(Heading(name.lower(), unit.strip(), cell))
    names = [column.name for column in columns if column.name]
    if twice := next((name for name, times in Counter(names).items() if times > 1), None):
        raise InputError(place, f"the column '{twice}' appears twice", "rename one of them")
    return tuple(columns)
