"""The places about a race: its time and its course."""

from collections.abc import Callable, Iterator, Sequence
from functools import partial
from typing import ClassVar

import numpy as np
from rich.text import Text
from textual import on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Grid, Horizontal, Vertical
from textual.events import Click, DescendantFocus, Resize
from textual.message import Message
from textual.widgets import DataTable, Static

from racecalc.answers.cells import Cell, Tone
from racecalc.answers.compare import outlook_sheet
from racecalc.answers.sheet import Line
from racecalc.answers.time import (
    STRETCHES,
    along_curves,
    counts_line,
    landmarks,
    point_lines,
    point_value,
    stretch_line,
)
from racecalc.arrays import FloatArray
from racecalc.decisions.doubt import TimeBand, time_band
from racecalc.decisions.timing import Along, Stretch
from racecalc.errors import InputError
from racecalc.quantities.showing import unit_size
from racecalc.views.workspace.drawing import (
    LEAST_BAR,
    amount_bar,
    coloured,
    filled,
    names_above,
    profile,
    scale_below,
    styles_of,
)
from racecalc.views.workspace.form import RaceForm, field_of, key_line, mark_saved, refuse_at_fault
from racecalc.views.workspace.place import Page, Place, fill_columns
from racecalc.views.workspace.session import WorkSession
from racecalc.views.workspace.work_screen import DraftChanged
from racecalc.views.writers.terminal import text_of

# --- The race file as a form, and what it means --------------------------------------------------

HINT = """\
Tab and the arrows go to the fields: change a value, and the numbers follow.
F1 explains what has the focus; F2 to F9 (or Alt and a digit) are the places."""


MOST_BAR, FAR = 30, 3.0
"""Columns of the longest bar, and how many times the next one is drawn in full."""

LEAST_CHART = 24
"""Columns from which on the course is drawn."""


def _bars(columns: int, values: Sequence[float], taken: int) -> Callable[[float], Cell] | None:
    """What draws amounts as lines on one scale, where there is room.

    Of gains and losses one that is far too long is cut.
    """
    room, signed = min(columns - taken, MOST_BAR), min(values, default=0.0) < 0
    if room < LEAST_BAR:
        return None
    *_, second, most = (0.0, 0.0, *sorted(map(abs, values)))
    if signed and second and most > FAR * second:
        most = second

    def bar(value: float) -> Cell:
        tone: Tone = "" if not signed else "good" if value > 0 else "bad"
        return Cell(amount_bar(value, most, room), tone)

    return bar


class RaceCourse(Static):
    """The profile of the course."""

    def on_resize(self, _: Resize) -> None:
        """Draw it as wide as there is room."""
        self.query_ancestor(RacePlace).draw_course()


class RacePlace(Place):
    """Change a number, and see what follows."""

    # Where no key changes anything: a letter would replace the first value.
    FOCUS = "Page"
    BINDINGS: ClassVar = [
        Binding("ctrl+t,alt+k", "screen.keep", "Keep what-if", tooltip="keep this what-if by name"),
        Binding("ctrl+g", "screen.hold", "Mark", tooltip="compare with the race as it is now"),
    ]

    def compose(self) -> ComposeResult:
        """The form to the left, what it means to the right, help below."""
        with Grid(id="race-body"):
            yield RaceForm(self.session.draft)
            yield Page("glance")
            yield RaceCourse("", id="race-course", markup=False)
        yield Static("", id="key-help", markup=False)

    def on_mount(self) -> None:
        """The form is filled from the start; the numbers come later."""
        self.page.show_text("working it out ...")

    def refill(self) -> None:
        """Show the last good answer and what the saved file says otherwise."""
        session = self.session
        mark_saved(self.query_one(RaceForm), session.saved_values())
        self._draw(None)
        base = session.answered.base
        if base.race.doubts.stated:
            self.desk.begin("band", "drawing doubts", lambda: time_band(base), self._draw)

    def _draw(self, band: TimeBand | None) -> None:
        session = self.session
        outlook, before = session.answered, session.reference_outlook
        called, units = session.reference.name, session.units
        self.page.show(
            lambda: outlook_sheet(
                outlook, before, called, units, band, partial(_bars, self.page.columns)
            )
        )
        self.draw_course()

    def draw_course(self) -> None:
        """Draw the profile with its landmarks in the room there is for it."""
        chart, outlook = self.query_one(RaceCourse), self.session.outlook
        columns, height = chart.content_size
        if outlook is None or columns < LEAST_CHART:
            return
        course, styles = outlook.base.race.course, styles_of(self.app)
        places = [(one.at, one.name) for one in outlook.base.race.landmarks]
        marks = [(round(at / course.length * (columns - 1)), name) for at, name in places]
        above = names_above(marks, columns, 2 if height > LEAST_NAMED else 1)
        rows, scale = profile(course, columns, max(height - len(above) - 1, 1), self.session.units)
        drawn = [coloured(row, [styles["hold"]] * columns) for row in rows]
        lines = [*(Text(line, "bold") for line in above), *drawn, Text(scale, styles["faint"])]
        chart.update(Text("\n", no_wrap=True, overflow="crop").join(lines))

    def refuse(self) -> None:
        """Show at the field, if one is at fault, why there is no answer."""
        if self.session.outlook is None:
            self.page.show_text("No numbers yet: fix what is named below.")
        refuse_at_fault(self.query_one(RaceForm), self.session.problem)

    def _shows(self) -> tuple[object, ...]:
        session = self.session
        return session.outlook, session.reference_outlook, session.draft.saved

    @on(DescendantFocus)
    def _help(self, event: DescendantFocus) -> None:
        field = field_of(event.widget)
        words = key_line(field.spot.table, field.spot.key) if field else HINT
        self.query_one("#key-help", Static).update(words, layout=False)


# --- The course ----------------------------------------------------------------------------------

FINE, COARSE = 1, 10
"""Columns by which the cursor moves."""

MARGIN, BEHIND = 15, 11
"""Columns to the left of the curves, and to their right for the values at the cursor."""

PROFILE = "elevation_m"
SHORT = {
    PROFILE: "height",
    "speed_m_s": "speed",
    "head_wind_m_s": "head wind",
    "worth_s_per_w_km": "a watt saves",
    "power_w": "power",
}
"""Names of the curves, in the order in which they are drawn."""

FINER = 8
"""Points that make up a column."""

LEAST_PROFILE, LEAST_CURVE, SPACED, LEAST_NAMED = 4, 2, 20, 9
"""Lines of the profile and of a curve below it, lines from which on they stand apart, and lines
beyond which names of landmarks may take two.
"""


def _heights(room: int, most: int) -> tuple[list[int], int]:
    """Lines of each curve that fits, the profile first, and between them."""
    apart = 1 if room >= SPACED else 0
    count = max(min(1 + (room - LEAST_PROFILE) // (LEAST_CURVE + apart), most), 1)
    each = max((room - 2 * LEAST_PROFILE) // (count + 1) - apart, LEAST_CURVE)
    return [room - (count - 1) * (each + apart), *[each] * (count - 1)], apart


def _by_column(values: FloatArray) -> FloatArray:
    return np.asarray(values.reshape(-1, FINER).mean(axis=1))


def _limits(name: str, values: FloatArray) -> tuple[float, float]:
    """Values at the foot and the top of a curve."""
    low, high = float(values.min()), float(values.max())
    return (low if name == PROFILE else min(low, 0.0)), max(high, low + 1e-9)


def _short(value: float) -> str:
    return f"{value:.0f}" if abs(value) >= 10 or not value else f"{value:.1f}"


def _named_curve(
    name: str, values: FloatArray, rows: int, faint: str
) -> Iterator[tuple[Text, bool]]:
    """What is to the left of the rows of a curve, and whether a row is the last."""
    low, high = _limits(name, values)
    for number in range(rows):
        last = number == rows - 1
        end = _short(low) if last else "" if number else _short(high)
        words = SHORT[name] if last else ""
        yield Text.assemble(words, (f"{end:>{MARGIN - 1 - len(words)}} ", faint)), last


class CourseCharts(Static, can_focus=True):
    """Charts of the course with a cursor that the arrow keys and the mouse move."""

    BINDINGS: ClassVar = [
        Binding("left", f"move(-{FINE})", "Back", show=False),
        Binding("right", f"move({FINE})", "On", show=False),
        Binding("shift+left", f"move(-{COARSE})", "Jump back", show=False),
        Binding("shift+right", f"move({COARSE})", "Jump ahead", show=False),
        Binding("home", "move(-100000)", "Start", show=False),
        Binding("end", "move(100000)", "Finish", show=False),
    ]

    class Moved(Message):
        """The cursor went by so many columns, or to one of them."""

        def __init__(self, by: int, column: int | None = None) -> None:
            super().__init__()
            self.by, self.column = by, column

    def action_move(self, by: int) -> None:
        """Move the cursor by columns."""
        self.post_message(self.Moved(by))

    def on_click(self, event: Click) -> None:
        """Move the cursor to where the mouse is."""
        self.post_message(self.Moved(0, event.x - MARGIN))

    @property
    def across(self) -> int:
        """Columns that the curves take."""
        return max(self.size.width - MARGIN - BEHIND, 2)


class CoursePlace(Place):
    """Profile, speed, power and wind along the course."""

    BINDINGS: ClassVar = [
        Binding("c", "curve", "Next curve", tooltip="show another curve below the profile"),
        Binding("m", "mark", "Mark", tooltip="mark the cursor; again to take the mark away"),
        Binding("l", "landmark", "Landmark", tooltip="add a landmark at the cursor"),
    ]

    def __init__(self, session: WorkSession, name: str) -> None:
        super().__init__(session, name)
        self._along: Along | None = None
        self._stretches: tuple[Stretch, ...] = ()
        self._chosen: tuple[float, float] | None = None
        self._curves = tuple(SHORT)
        self._cursor_m = 0.0
        self._mark_m: float | None = None

    def compose(self) -> ComposeResult:
        """Charts, what is at the cursor, and the stretches."""
        with Vertical(id="course-body"):
            with Vertical(id="course-left"):
                yield Static("", id="course-finding", markup=False)
                yield CourseCharts("", id="charts", markup=False)
                yield Static("", id="point", markup=False)
            with Horizontal(id="course-right"):
                yield DataTable(id="stretches", cursor_type="row", cell_padding=0)

    def refill(self) -> None:
        """Show the ride of the last good answer; the cursor stays where it was."""
        self._along = Along(self.session.answered.base)
        self._cursor_m = min(self._cursor_m, self._along.length_m)
        if self._mark_m is not None and self._mark_m > self._along.length_m:
            self._mark_m = None
        self._stretches = self._along.stretches(unit_size("course_distance", self.session.units))
        units = self.session.units
        fill_columns(self.query_one(DataTable), STRETCHES, self._stretches, units, gap=" ")
        self.query_one("#course-finding", Static).update(
            text_of(counts_line(self._stretches, units), styles_of(self.app))
        )
        self._draw()

    @on(CourseCharts.Moved)
    def _moved(self, event: CourseCharts.Moved) -> None:
        event.stop()
        if self._along is None:
            return
        across = self.query_one(CourseCharts).across
        step = self._along.length_m / (across - 1)
        at = event.column * step if event.column is not None else self._cursor_m + event.by * step
        self._cursor_m = min(max(at, 0.0), self._along.length_m)
        self._draw()

    @on(DataTable.RowHighlighted)
    def _chose(self, event: DataTable.RowHighlighted) -> None:
        event.stop()
        if 0 <= event.cursor_row < len(self._stretches):
            split = self._stretches[event.cursor_row].split
            self._chosen = (split.from_m, split.to_m)
            self._draw()

    def on_resize(self, _: Resize) -> None:
        """Draw as many curves as fit."""
        self.call_after_refresh(self._draw)

    def _draw(self) -> None:
        charts = self.query_one(CourseCharts)
        if self._along is None or not charts.size.height:
            return
        units = self.session.units
        charts.update(
            Text("\n", no_wrap=True, overflow="crop").join(
                self._drawn(self._along, charts.across, charts.size.height)
            )
        )
        lines = [*point_lines(self._along.point(self._cursor_m), units), *self._marked_lines()]
        said = Text("\n").join(map(text_of, lines))
        said.stylize(f"bold {styles_of(self.app)['cursor']}", 0, said.plain.find("  "))
        self.query_one("#point", Static).update(said)

    def _drawn(self, along: Along, columns: int, height: int) -> list[Text]:
        """Names of landmarks, the curves that fit below each other, and the scale."""
        units, styles = self.session.units, styles_of(self.app)
        step = along.length_m / (columns - 1)
        cursor = round(self._cursor_m / step)
        marks = [(round(at / step), name) for at, name in landmarks(along)]
        above = names_above(marks, columns, 2 if height > LEAST_NAMED else 1)
        heights, apart = _heights(height - len(above) - 1, len(self._curves))
        start, end = (round(one / step) for one in self._chosen or (0.0, along.length_m))
        tints = [styles["hold" if start <= at <= end else "ease"] for at in range(columns)]
        block = along_curves(along, self._curves[: len(heights)], units, points=FINER * columns)
        curves = {name: _by_column(values) for name, values in block.curves.items()}
        point = along.point(self._cursor_m)
        lines = [Text(f"{'':{MARGIN}}{line}", "bold") for line in above]
        for name, values, rows in zip(self._curves, curves.values(), heights, strict=False):
            said = Text(f" {point_value(point, name, units)}", f"bold {styles['good']}")
            drawn = _named_curve(name, values, rows, styles["faint"])
            pictures = filled(values, rows, *_limits(name, values))
            for (words, last), picture in zip(drawn, pictures, strict=True):
                row = coloured(picture, tints, cursor, styles["cursor"])
                lines.append(Text.assemble(words, row, said if last else ""))
            lines += [Text("")] * apart
        scale = Text(scale_below(block.along[-1], block.across, columns), styles["faint"])
        here = f" {block.along[-1] * cursor / (columns - 1):.2f} "
        begin = min(max(cursor - len(here) // 2, 0), columns - len(here))
        scale = Text.assemble(
            scale[:begin], (here, f"bold {styles['cursor']} reverse"), scale[begin + len(here) :]
        )
        return [*lines[: len(lines) - apart], Text.assemble(" " * MARGIN, scale)]

    def _marked_lines(self) -> list[Line]:
        if self._along is None or self._mark_m is None:
            return []
        ends = sorted((self._mark_m, self._cursor_m))
        if ends[1] - ends[0] < 1.0:
            return ["marked; move the cursor to see what lies between"]
        return [stretch_line(self._along.stretch("", *ends), self.session.units)]

    def action_curve(self) -> None:
        """Bring the next curve below the profile."""
        profile, *others = self._curves
        self._curves = (profile, *others[1:], others[0])
        self._draw()

    def action_mark(self) -> None:
        """Mark the cursor, or take the mark away."""
        self._mark_m = self._cursor_m if self._mark_m is None else None
        self._draw()

    def action_landmark(self) -> None:
        """Add a landmark at the cursor to the race file."""
        # Rounded down, so that a landmark at the finish does not lie beyond it.
        at = f"{self._cursor_m // 10 / 100:.2f} km"
        try:
            self.session.draft.add("course.landmark", {"at": at, "name": f"Place at {at}"})
        except InputError as error:
            self.desk.say_problem(error)
            return
        self.post_message(DraftChanged())
        self.notify(f"landmark added at {at}; name it under Race", timeout=4, markup=False)
