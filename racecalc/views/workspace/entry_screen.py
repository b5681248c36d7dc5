"""One table of a list, such as an option, as a form of its own."""

from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical, VerticalScroll
from textual.events import DescendantFocus
from textual.screen import ModalScreen, Screen
from textual.widgets import Input, Static

from racecalc.errors import InputError
from racecalc.views.gain_words import gain_words
from racecalc.views.key_help import key_line
from racecalc.views.workspace.field import Field
from racecalc.views.workspace.form import TITLES, FieldGroup, mark_saved, refill
from racecalc.views.workspace.messages import DraftChanged, Withdrawn, Written
from racecalc.views.workspace.session import Session


class EntryScreen(ModalScreen[None]):
    """The fields of one table of a list; what is typed goes to the draft at once.

    Parameters
    ----------
    session : Session
        What is worked on.
    table : str
        Key of `RACE_KEYS`.
    number : int
        Number among the tables of that name.
    desk : Screen
        Takes what is typed.
    """

    BINDINGS: ClassVar = [
        Binding("escape", "leave", "Back"),
        Binding("ctrl+z", "undo", "Undo"),
        Binding("f8", "remove", "Remove it"),
        Binding("down", "app.focus_next", show=False),
        Binding("up", "app.focus_previous", show=False),
    ]

    def __init__(self, session: Session, table: str, number: int, desk: Screen[None]) -> None:
        super().__init__()
        self.session, self.table, self.number, self._desk = session, table, number, desk

    def compose(self) -> ComposeResult:
        """What it gains now, the fields, and help on the one that has the focus."""
        entry = self.session.draft.entries(self.table)[self.number]
        with Vertical(classes="dialog -tall"):
            yield Static("", id="entry-gain", markup=False)
            with VerticalScroll(id="entry-fields", can_focus=False):
                yield FieldGroup(self.table, self.number, entry)
            yield Static("", id="entry-help", markup=False)
            yield Static("Esc: back   F8: remove it   Ctrl+Z: undo", classes="dialog-keys")

    def on_mount(self) -> None:
        """Begin with the first field, and with what is known of it now."""
        fields = self.query(Input)
        if fields:
            fields.first().focus()
        self.outdate()

    @property
    def fields(self) -> VerticalScroll:
        """The form."""
        return self.query_one("#entry-fields", VerticalScroll)

    def outdate(self) -> None:
        """Show what the last good answer says of it."""
        mark_saved(self.fields, self.session.saved_values())
        self.query_one("#entry-gain", Static).update(self._gain())

    def refuse(self) -> None:
        """Show at the field, or above, why there is no answer."""
        problem = self.session.problem
        self.query_one("#entry-gain", Static).update(f"! {problem}")
        named = problem.place if isinstance(problem, InputError) else ""
        for field in self.fields.query(Field):
            if problem and named.endswith(f"{self.table}.{field.spot.key}"):
                field.refuse(problem)

    def _gain(self) -> str:
        name = self.session.draft.entries(self.table)[self.number].get("name", "")
        if self.table != "option" or self.session.outlook is None:
            return TITLES[self.table]
        gains = {gain.option.name: gain for gain in self.session.outlook.gains}
        return gain_words(gains[name]) if name in gains else f"{name or 'it'}: not worked out yet"

    @on(Written)
    def _written(self, event: Written) -> None:
        event.stop()
        self._desk.post_message(Written(event.spot, event.value, event.typed_at))

    @on(Withdrawn)
    def _withdrawn(self, event: Withdrawn) -> None:
        event.stop()
        self._desk.post_message(Withdrawn(event.spot))

    @on(DescendantFocus)
    def _help(self, event: DescendantFocus) -> None:
        field = next((one for one in event.widget.ancestors if isinstance(one, Field)), None)
        words = key_line(field.spot.table, field.spot.key) if field else ""
        self.query_one("#entry-help", Static).update(words)

    @on(Input.Submitted)
    def _next(self, event: Input.Submitted) -> None:
        event.stop()
        self.app.action_focus_next()

    def action_undo(self) -> None:
        """Take the last change back; leave where that takes the table away."""
        self.session.draft.undo()
        if self.number >= len(self.session.draft.entries(self.table)):
            self.action_leave()
            return
        refill(self.fields, self.session.draft)
        self._desk.post_message(DraftChanged())

    def action_remove(self) -> None:
        """Take the table out of the race file; that can be undone."""
        self.session.draft.remove(self.table, self.number)
        self.notify("removed; Ctrl+Z brings it back", timeout=4)
        self.action_leave()

    def action_leave(self) -> None:
        """Go back."""
        self._desk.post_message(DraftChanged())
        self.dismiss(None)
