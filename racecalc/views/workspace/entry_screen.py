"""One table of a list, such as an option, as a form of its own."""

from collections.abc import Mapping
from typing import Any, ClassVar, Protocol

from rich.text import Text
from textual import on, work
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.events import DescendantFocus
from textual.message import Message
from textual.screen import ModalScreen
from textual.widgets import Button, Static

from racecalc.answers.value import gain_line
from racecalc.files.draft import Draft, Spot
from racecalc.views.workspace.dialogs import STEPPING, WALKING, ChoiceDialog
from racecalc.views.workspace.drawing import styles_of
from racecalc.views.workspace.form import (
    TITLES,
    FieldGroup,
    KeyField,
    field_of,
    key_line,
    mark_saved,
    refill,
    refuse_at_fault,
)
from racecalc.views.workspace.session import WorkSession
from racecalc.views.workspace.work_screen import DraftChanged, Typed
from racecalc.views.writers.terminal import text_of


class TakesTyped(Protocol):
    """The screen below, which writes what is typed into the draft."""

    def take_typed(self) -> None:
        """Write into the draft what was typed."""

    def action_undo(self) -> None:
        """Take the last change back."""

    def action_save(self) -> object:
        """Save the race file."""

    def post_message(self, message: Message) -> bool:
        """Take a message."""

    def action_find(self) -> None:
        """Find anything by its words, and go there."""

    def step(self, field: KeyField | None, steps: int) -> None:
        """Let the value of a field go up or down by so many steps."""

    async def ask_about(self, name: str, what: str) -> None:
        """Go to the answer of a question about an option."""


KEYS = "Esc: back   Ctrl+Z: undo   Ctrl+S: save   Ctrl+F: find"

ABOUT = (
    ("test", "Its test"),
    ("breakeven", "Break-even"),
    ("plan", "Plan its test"),
    ("decide", "Test first or buy"),
    ("against", "Against another"),
)
"""What can be asked about an option; all but the first are commands."""


async def opened_field(form: VerticalScroll, spot: Spot, draft: Draft) -> KeyField:
    """The field of a spot, which is made where it is not shown yet."""
    for field in form.query(KeyField):
        if field.spot == spot:
            return field
    groups = form.query(FieldGroup)
    group = next(one for one in groups if (one.table, one.number) == (spot.table, spot.number))
    field, shown = KeyField(spot, draft.value(spot)), group.query(KeyField)
    await group.mount(field, after=shown.last() if shown else None)
    return field


class EntryScreen(ModalScreen[None]):
    """The fields of one table of a list; what is typed goes to the draft at once."""

    # To the library these are no class variables.
    HORIZONTAL_BREAKPOINTS = [(0, "-slim"), (60, "-broad")]  # noqa: RUF012
    BINDINGS: ClassVar = [
        Binding("escape", "leave", "Back"),
        Binding("ctrl+s", "save", "Save"),
        Binding("ctrl+z", "undo", "Undo"),
        Binding("ctrl+r,alt+r", "about", "Ask about it"),
        Binding("ctrl+f,ctrl+p,alt+f", "find", "Find", priority=True),
        *STEPPING,
        *WALKING,
    ]

    def __init__(self, session: WorkSession, table: str, number: int, desk: TakesTyped) -> None:
        super().__init__()
        self.session, self.table, self.number, self._desk = session, table, number, desk

    def compose(self) -> ComposeResult:
        """What it gains now, the fields, and help on the one that has the focus."""
        with Vertical(classes="dialog -tall"):
            yield Static("", id="entry-gain", markup=False)
            with VerticalScroll(id="entry-fields", can_focus=False):
                yield FieldGroup(self.table, self.number, self._entry or {})
            yield Static("", id="entry-help", markup=False)
            with Horizontal(id="entry-acts"):
                if self.table == "option":
                    yield Button("Ask about it (Ctrl+R)", id="about", compact=True)
                yield Button("Remove it", id="remove", compact=True)
            yield Static(KEYS, classes="dialog-keys")

    def on_mount(self) -> None:
        """Begin with the first field, and with what is known of it now."""
        for field in self.query(KeyField)[:1]:
            field.focus_input()
        self.outdate()

    @property
    def _entry(self) -> Mapping[str, Any] | None:
        """What the draft says; None where the table is gone."""
        entries = self.session.draft.entries(self.table)
        return entries[self.number] if self.number < len(entries) else None

    @property
    def fields(self) -> VerticalScroll:
        """The form."""
        return self.query_one("#entry-fields", VerticalScroll)

    def outdate(self) -> None:
        """Show what the last good answer says of it."""
        if self._entry is None:
            self.dismiss(None)
            return
        mark_saved(self.fields, self.session.saved_values())
        self.query_one("#entry-gain", Static).update(self._gain())

    def refuse(self) -> None:
        """Show at the field, or above, why there is no answer."""
        self.query_one("#entry-gain", Static).update(f"! {self.session.problem}")
        refuse_at_fault(self.fields, self.session.problem)

    def _gain(self) -> str | Text:
        name = (self._entry or {}).get("name", "")
        if self.table != "option" or self.session.outlook is None:
            return TITLES[self.table]
        gains = {gain.option.name: gain for gain in self.session.outlook.gains}
        if name in gains:
            return text_of(gain_line(gains[name]), styles_of(self.app))
        return f"{name or 'it'}: not worked out yet"

    @on(Typed)
    def _typed(self, event: Typed) -> None:
        event.stop()
        self._desk.post_message(Typed(event.typed_at, event.patience))

    @on(DescendantFocus)
    def _help(self, event: DescendantFocus) -> None:
        field = field_of(event.widget)
        words = key_line(field.spot.table, field.spot.key) if field else ""
        self.query_one("#entry-help", Static).update(words, layout=False)

    def refill(self) -> None:
        """Show the values of the draft; go back where a step has taken the table away."""
        if self._entry is None:
            self.dismiss(None)
        else:
            refill(self.fields, self.session.draft)

    def action_step(self, steps: int) -> None:
        """Let the value that has the focus go up or down."""
        self._desk.step(field_of(self.focused) if self.focused else None, steps)

    async def action_save(self) -> None:
        """Save the race file."""
        self._desk.action_save()

    def action_undo(self) -> None:
        """Take the last change back."""
        self._desk.action_undo()

    def action_find(self) -> None:
        """Find anything; what is chosen is gone to from the screen below."""
        self._desk.action_find()

    @on(Button.Pressed, "#remove")
    def _remove(self, event: Button.Pressed) -> None:
        """Take the table out of the race file; that can be undone."""
        event.stop()
        self._desk.take_typed()
        self.session.draft.remove(self.table, self.number)
        # What stands in the fields belongs to nothing any more.
        for field in self.query(KeyField):
            field.touched = False
        self.notify("removed; Ctrl+Z brings it back", timeout=4)
        self._desk.post_message(DraftChanged())
        self.dismiss(None)

    @on(Button.Pressed, "#about")
    def _about(self, event: Button.Pressed) -> None:
        event.stop()
        self.action_about()

    @work
    async def action_about(self) -> None:
        """Ask something about the option."""
        name = str((self._entry or {}).get("name", ""))
        if self.table != "option" or not name:
            return
        asked = ChoiceDialog(f"{name}: what about it?", ABOUT, "")
        answer = await self.app.push_screen_wait(asked)
        if answer and self.left():
            # What this screen does ends with it.
            self.app.call_later(self._desk.ask_about, name, answer)

    def action_leave(self) -> None:
        """Go back, unless a field says something that will not do."""
        self.left()

    def left(self) -> bool:
        """Go back; whether nothing that is typed is in the way."""
        self._desk.take_typed()
        wrong = [field for field in self.query(KeyField) if field.problem]
        if wrong:
            wrong[0].focus_input()
            self.notify("fix or clear it first; Ctrl+Z brings back what was", severity="warning")
            return False
        self._desk.post_message(DraftChanged())
        self.dismiss(None)
        return True
