"""The race file as a form, and what it means beside it."""

from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal
from textual.events import DescendantFocus
from textual.widgets import Static

from racecalc.views.glance_page import glance_text
from racecalc.views.key_help import key_line
from racecalc.views.workspace.field import field_of
from racecalc.views.workspace.form import RaceForm, field_at_fault, mark_saved
from racecalc.views.workspace.page import Page
from racecalc.views.workspace.place import Place

if TYPE_CHECKING:
    from racecalc.decisions.bands import TimeBand
    from racecalc.decisions.riding import Ridden


HINT = """\
Tab and the arrows go to the fields: change a value, and the numbers follow.
F1 explains what has the focus; F2 to F9 and the digits go to the other places."""


class RacePlace(Place):
    """Change a number, and see what follows."""

    BINDINGS: ClassVar = [
        Binding("ctrl+t", "screen.keep", "Keep what-if", tooltip="keep this what-if by name"),
        Binding("ctrl+g", "screen.hold", "Hold", tooltip="compare with the race as it is now"),
    ]

    def compose(self) -> ComposeResult:
        """The form to the left, what it means to the right, help below."""
        with Horizontal():
            yield RaceForm(self.session.draft)
            yield Page("glance")
        yield Static("", id="key-help", markup=False)

    def on_mount(self) -> None:
        """The form is filled from the start; the numbers come later."""
        self.query_one(Page).show_text("working it out ...")

    @property
    def form(self) -> RaceForm:
        """The form."""
        return self.query_one(RaceForm)

    def refill(self) -> None:
        """Show the last good answer and what the saved file says otherwise."""
        session = self.session
        mark_saved(self.form, session.saved_values())
        self._draw(None)
        base = session.answered.base
        if base.race.doubts.stated:
            self.desk.begin("band", "drawing doubts", lambda: _band(base), self._draw)

    def _draw(self, band: "TimeBand | None") -> None:
        session = self.session
        outlook, before = session.answered, session.reference_outlook
        called, units = session.reference.name, session.units
        self.query_one(Page).show(lambda: glance_text(outlook, before, called, units, band))

    def refuse(self) -> None:
        """Show at the field, if one is at fault, why there is no answer."""
        problem = self.session.problem
        if self.session.outlook is None:
            self.query_one(Page).show_text("No numbers yet: mend what is named below.")
        field = field_at_fault(self.form, problem) if problem else None
        if field and problem:
            field.refuse(problem)

    def _shows(self) -> tuple[object, ...]:
        session = self.session
        return session.outlook, session.reference_outlook, session.draft.saved

    def take_focus(self) -> None:
        """Begin where no key changes anything: a letter would replace the first value."""
        self.query_one(Page).focus()

    @on(DescendantFocus)
    def _help(self, event: DescendantFocus) -> None:
        field = field_of(event.widget)
        words = key_line(field.spot.table, field.spot.key) if field else HINT
        self.query_one("#key-help", Static).update(words)


def _band(base: "Ridden") -> "TimeBand":
    from racecalc.decisions.doubt import time_band

    return time_band(base)
