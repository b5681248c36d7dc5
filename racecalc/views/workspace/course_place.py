"""The course: what happens where, and where a watt counts."""

from typing import ClassVar

from rich.text import Text
from textual import on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal, Vertical
from textual.events import Click, Resize
from textual.message import Message
from textual.widgets import DataTable, Static

from racecalc.decisions.along import Along, Stretch
from racecalc.errors import InputError
from racecalc.quantities.showing import unit_size
from racecalc.views.along_page import (
    CURVES,
    charts_text,
    marked_text,
    point_text,
    stretch_headings,
    stretch_row,
)
from racecalc.views.chart import TICKS
from racecalc.views.tables import columns_of
from racecalc.views.workspace.messages import DraftChanged
from racecalc.views.workspace.place import Place
from racecalc.views.workspace.session import Session
from racecalc.views.workspace.table_filling import fill

FINE, COARSE = 1, 10
"""Columns by which the cursor moves."""

MARGIN = TICKS + 1
"""Columns to the left of the curves."""


class CourseCharts(Static, can_focus=True):
    """Charts of the course with a cursor that the arrow keys and the mouse move."""

    BINDINGS: ClassVar = [
        Binding("left", f"move(-{FINE})", "Back", show=False),
        Binding("right", f"move({FINE})", "On", show=False),
        Binding("shift+left", f"move(-{COARSE})", "Far back", show=False),
        Binding("shift+right", f"move({COARSE})", "Far on", show=False),
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
        return max(self.size.width - MARGIN - 2, 2)


class CoursePlace(Place):
    """Profile, speed, power and wind along the course."""

    BINDINGS: ClassVar = [
        Binding("c", "curve", "Next curve", tooltip="bring another curve below the profile"),
        Binding("m", "mark", "Mark", tooltip="mark the cursor; again to take the mark away"),
        Binding("l", "landmark", "Landmark", tooltip="add a landmark at the cursor"),
    ]

    def __init__(self, session: Session, name: str) -> None:
        super().__init__(session, name)
        self._along: Along | None = None
        self._stretches: tuple[Stretch, ...] = ()
        self._chosen: tuple[float, float] | None = None
        self._curves = tuple(CURVES)
        self._cursor_m = 0.0
        self._mark_m: float | None = None

    def compose(self) -> ComposeResult:
        """Charts, what stands at the cursor, and the stretches."""
        with Vertical(id="course-body"):
            with Vertical(id="course-left"):
                yield CourseCharts("", id="charts", markup=False)
                yield Static("", id="point", markup=False)
            with Horizontal(id="course-right"):
                yield DataTable(id="stretches", cursor_type="row", zebra_stripes=False)

    def refill(self) -> None:
        """Show the ride of the last good answer; the cursor stays where it was."""
        self._along = Along(self.session.answered.base)
        self._cursor_m = min(self._cursor_m, self._along.length_m)
        if self._mark_m is not None and self._mark_m > self._along.length_m:
            self._mark_m = None
        self._stretches = self._along.stretches(unit_size("course_distance", self.session.units))
        units = self.session.units
        rows = [stretch_row(stretch, units) for stretch in self._stretches]
        fill(self.query_one(DataTable), stretch_headings(units), rows)
        self._draw()

    def take_focus(self) -> None:
        """Begin with the cursor on the charts."""
        self.query_one(CourseCharts).focus()

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
        with columns_of(charts.size.width):
            drawn = charts_text(
                self._along,
                self._curves,
                charts.size.height,
                self.session.units,
                self._cursor_m,
                self._chosen,
            )
        charts.update(Text(drawn.rstrip("\n"), no_wrap=True, overflow="crop"))
        words = point_text(self._along.point(self._cursor_m), self.session.units)
        self.query_one("#point", Static).update(f"{words}\n{self._marked_words()}".rstrip())

    def _marked_words(self) -> str:
        if self._along is None or self._mark_m is None:
            return ""
        ends = sorted((self._mark_m, self._cursor_m))
        if ends[1] - ends[0] < 1.0:
            return "marked; move the cursor to see what lies between"
        return marked_text(self._along.stretch("", *ends), self.session.units)

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
            self.notify(str(error), severity="error", markup=False)
            return
        self.post_message(DraftChanged())
        self.notify(f"landmark added at {at}; name it under Race", timeout=4, markup=False)
