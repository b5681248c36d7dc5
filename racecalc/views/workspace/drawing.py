"""Colours with one meaning each, filled curves and interval bars, all of characters."""

from collections.abc import Mapping, Sequence

import numpy as np
from rich.style import Style
from rich.text import Span, Text
from textual.app import App
from textual.theme import Theme

from racecalc.arrays import FloatArray
from racecalc.domain.course import Course
from racecalc.quantities.showing import System, shown_unit, to_shown, unit_size
from racecalc.views.writers.terminal import round_step

# --- Colours -------------------------------------------------------------------------------------

DARK = {
    "good": "#7cc8e6",
    "open": "#e0ad55",
    "bad": "#f2896f",
    "faint": "#9aa4ae",
    "push": "#8fd0ee",
    "hold": "#3d6a85",
    "ease": "#26404f",
    "cursor": "#e0ad55",
    "chosen": "#24384a",
    "rule": "#3a424a",
}
LIGHT = {
    "good": "#0f5168",
    "open": "#8a5300",
    "bad": "#9a2c1c",
    "faint": "#545b64",
    "push": "#123a52",
    "hold": "#8fb2c4",
    "ease": "#d3e0e7",
    "cursor": "#8a5300",
    "chosen": "#d6e5ee",
    "rule": "#c9ced4",
}
"""Colours by what they mean: do, test first, mind; hard, steady, easy. Our choice; text has a
contrast of 5.5 at least. None of them is needed to understand what is shown.
"""


def _theme(name: str, colours: dict[str, str], paper: tuple[str, str, str, str]) -> Theme:
    background, surface, panel, foreground = paper
    return Theme(
        name,
        primary=colours["good"],
        secondary=colours["hold"],
        accent=colours["good"],
        success=colours["good"],
        warning=colours["open"],
        error=colours["bad"],
        foreground=foreground,
        background=background,
        surface=surface,
        panel=panel,
        dark=colours is DARK,
        variables={
            "footer-key-foreground": colours["good"],
            "block-cursor-background": colours["chosen"],
            "block-cursor-foreground": foreground,
            "border": colours["hold"],
        },
    )


THEMES = (
    _theme("racecalc-dark", DARK, ("#14181c", "#1a2026", "#20272e", "#e6e9ec")),
    _theme("racecalc-light", LIGHT, ("#ffffff", "#f4f6f8", "#e6ebef", "#16191d")),
)


PRINTED = {"color(2)": "good", "color(3)": "open", "color(1)": "bad"}
"""Tones of texts by the colour in which a terminal prints them."""


def in_theme(text: Text, styles: Mapping[str, str]) -> Text:
    """A printed text with the colours of the theme."""
    for number, span in enumerate(text.spans):
        style = span.style
        if not isinstance(style, Style):
            continue
        tone = PRINTED.get(style.color.name, "") if style.color else "faint" if style.dim else ""
        if tone:
            own = Style.parse(styles[tone]) + Style(bold=style.bold)
            text.spans[number] = Span(span.start, span.end, own)
    return text


def styles_of(app: App[object]) -> dict[str, str]:
    """Styles by tone and effort, for the theme that is chosen."""
    return {"strong": "bold", **(DARK if app.current_theme.dark else LIGHT)}


# --- Filled curves -------------------------------------------------------------------------------

EIGHTHS = " \u2581\u2582\u2583\u2584\u2585\u2586\u2587\u2588"
FULL, LINE, CURSOR, LANDMARK = "\u2588", "\u2502", "\u2503", "\u25bc"


def filled(values: FloatArray, height: int, low: float, high: float) -> list[str]:
    """The rows of a filled curve from the top, a column for each value.

    Examples
    --------
    >>> filled(np.array([0.0, 1.0, 2.0]), 2, 0.0, 2.0)[1][1:] == FULL * 2
    True
    """
    reach = max(high - low, 1e-12)
    eighths = np.rint(8 * height * (values - low) / reach).astype(int).clip(1, 8 * height)
    rows = [(eighths - 8 * row).clip(0, 8) for row in reversed(range(height))]
    return ["".join(EIGHTHS[part] for part in row) for row in rows]


def coloured(
    row: str, styles: Sequence[str], cursor: int | None = None, cursor_style: str = ""
) -> Text:
    """A row of a filled curve, each column in its style, with a cursor through it."""
    text = Text(row)
    start = 0
    for end in range(1, len(row) + 1):
        if end == len(row) or styles[end] != styles[start]:
            text.stylize(styles[start], start, end)
            start = end
    if cursor is None:
        return text
    within = f"{cursor_style} on {styles[cursor]}" if row[cursor] == FULL else cursor_style
    return Text.assemble(text[:cursor], (CURSOR, f"bold {within}"), text[cursor + 1 :])


def names_above(marks: Sequence[tuple[int, str]], columns: int, most: int) -> list[str]:
    """Lines with names of places above their columns, those that run into each other lower.

    Examples
    --------
    >>> [line.rstrip() for line in names_above([(0, "A"), (2, "B")], 12, 2)]
    ['\u25bc A', '  \u25bc B']
    """
    lines = [" " * columns for _ in range(most)]
    for at, name in marks:
        words = f"{LANDMARK} {name}"
        start = max(min(at, columns - len(words)), 0)
        if start < at:
            words = f"{name} {LANDMARK}"
            start = max(at + 1 - len(words), 0)
        end = start + len(words) + 1
        for number, line in enumerate(lines):
            if not line[max(start - 1, 0) : end].strip():
                lines[number] = f"{line[:start]}{words}{line[start + len(words) :]}"[:columns]
                break
    return [line for line in lines if line.strip()]


def scale_below(length: float, unit: str, columns: int) -> str:
    """The line below a chart: round distances from 0 at the first column.

    Examples
    --------
    >>> scale_below(20.0, "km", 40)
    '0         5        10       15        km'
    """
    step = round_step(max(length, 1e-9))
    line = [" "] * columns
    for number in range(int(length / step + 1e-9) + 1):
        word = f"{number * step:g}"
        at = round(number * step / length * (columns - 1)) - (len(word) // 2 if number else 0)
        if at + len(word) < columns - len(unit):
            line[at : at + len(word)] = word
    line[columns - len(unit) :] = unit
    return "".join(line)


def profile(course: Course, columns: int, height: int, units: System) -> tuple[list[str], str]:
    """The heights of a course as a filled curve, and the scale below it."""
    values = to_shown(
        course.elevation_at(np.linspace(0.0, course.length, columns)), "elevation", units
    )
    unit, length = shown_unit("course_distance", units), unit_size("course_distance", units)
    rows = filled(values, height, float(values.min()), float(values.max()))
    return rows, scale_below(course.length / length, unit, columns)


def band(pieces: Sequence[tuple[int, int, str, str]], columns: int) -> list[Text]:
    """Words above the columns from one to another, in a style; too narrow ones in a line above.

    Examples
    --------
    >>> [line.plain.rstrip() for line in band([(0, 6, "260", ""), (6, 8, "310", "")], 8)]
    ['     310', ' 260']
    """
    upper, lower = [" "] * columns, Text(" " * columns)
    for start, end, word, style in pieces:
        room = end - start
        if len(word) < room:
            drawn = Text(f"{word:^{room}}", style)
            lower = Text.assemble(lower[:start], drawn, lower[end:])
        else:
            at = min(max((start + end - len(word) + 1) // 2, 0), columns - len(word))
            if not "".join(upper[max(at - 1, 0) : at + len(word) + 1]).strip():
                upper[at : at + len(word)] = word
    above = "".join(upper)
    return [*([Text(above, "bold")] if above.strip() else []), lower]


# --- Interval bars -------------------------------------------------------------------------------


def amount_bar(value: float, most: float, columns: int) -> str:
    """A line as long as an amount, by half columns, cut with an arrow beyond the most.

    Examples
    --------
    >>> amount_bar(-3.0, 4.0, 6), amount_bar(9.0, 4.0, 3)
    ('\u2501\u2501\u2501\u2501\u2578', '\u2501\u2501\u25b8')
    """
    halves = max(round(2 * columns * abs(value) / most), 1) if value and most else 0
    if halves > 2 * columns:
        return f"{BAR * (columns - 1)}\u25b8"
    return BAR * (halves // 2) + TO * (halves % 2)


LEAST_BAR = 4
"""Columns below which bars of amounts say nothing; our choice."""

BAR, FROM, TO, CROSSED = "\u2501", "\u257a", "\u2578", "\u253f"
PROVED, OPEN, UNKNOWN = "\u25cf", "\u25cb", "\u00d7"


def reach_of(rows: Sequence[tuple[float | None, float, float | None]]) -> tuple[float, float]:
    """The ends of one axis for all intervals, zero within it; the longest are cut.

    One bar that is many times as long as the others would make dots of them.
    """
    ends = [one for row in rows for one in row if one is not None]
    low, high = min(0.0, *ends), max(0.0, *ends)
    room = 3.0 * max(abs(value) for _, value, _ in rows) if rows else 1.0
    low, high = max(low, -room), min(high, room)
    return (low, high) if high > low else (-1.0, 1.0)


def interval_bar(
    row: tuple[float | None, float, float | None], reach: tuple[float, float], columns: int
) -> str:
    """A value with its interval on an axis, zero as a line: proved is filled, open a ring.

    Examples
    --------
    >>> interval_bar((1.0, 2.0, 3.0), (-1.0, 3.0), 9)
    '  \u2502 \u257a\u2501\u25cf\u2501\u2578'
    """
    low, value, high = row

    def place(one: float) -> int:
        share = (one - reach[0]) / (reach[1] - reach[0])
        return round(min(max(share, 0.0), 1.0) * (columns - 1))

    cells = [" "] * columns
    cells[place(0.0)] = LINE
    sign = UNKNOWN
    if low is not None and high is not None:
        first, last = place(low), place(high)
        cells[first : last + 1] = BAR * (last - first + 1)
        if first <= place(0.0) <= last:
            cells[place(0.0)] = CROSSED
        if first != place(0.0):
            cells[first] = FROM if low >= reach[0] else "\u25c2"
        if last != place(0.0):
            cells[last] = TO if high <= reach[1] else "\u25b8"
        sign = PROVED if low > 0.0 or high < 0.0 else OPEN
    cells[place(value)] = sign
    return "".join(cells)
