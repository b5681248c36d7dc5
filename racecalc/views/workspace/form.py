"""The race file as a form: a group of fields for each table, and a row for each listed one."""

from collections.abc import Mapping
from typing import Any, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.message import Message
from textual.widgets import Button, Input, Static

from racecalc.errors import InputError, RacecalcError
from racecalc.files.draft import Draft, Spot
from racecalc.files.race_keys import LISTS, RACE_KEYS
from racecalc.files.typed import as_typed
from racecalc.views.workspace.field import Field

SINGLE = tuple(name for name in RACE_KEYS if name not in LISTS)

ALWAYS_SHOWN = {
    "rider": ("mass", "power"),
    "bike": ("mass", "cda", "crr"),
    "air": ("temperature", "wind_speed", "wind_from"),
    "course": ("file",),
}
"""Keys that have a field even where the file does not give them; our choice of what is asked."""


class EntryChosen(Message):
    """A row of a list was chosen; None where a new one is wanted."""

    def __init__(self, table: str, number: int | None) -> None:
        super().__init__()
        self.table, self.number = table, number


class FieldGroup(Vertical):
    """The fields of one table, those in use first and the others behind a button.

    Parameters
    ----------
    table : str
        Key of `RACE_KEYS`.
    number : int
        Number among the tables of that name.
    values : Mapping of str to object
        What the draft says.
    title : str
        Line above; empty for none.
    """

    DEFAULT_CLASSES: ClassVar[str] = "field-group"

    def __init__(self, table: str, number: int, values: Mapping[str, Any], title: str = "") -> None:
        super().__init__()
        self.table, self.number, self._title = table, number, title
        self._values = dict(values)

    def compose(self) -> ComposeResult:
        """A title, the fields in use, and a button for the rest."""
        if self._title:
            yield Static(self._title, classes="group-title")
        used = self._used()
        for key in used:
            yield self._field(key)
        rest = len(RACE_KEYS[self.table]) - len(used)
        if rest:
            yield Button(f"{rest} more of {self.table.split('.')[-1]}", compact=True)

    def on_button_pressed(self, event: Button.Pressed) -> None:
        """Show all fields, in the place of the button."""
        event.stop()
        shown = {field.spot.key for field in self.query(Field)}
        added = [self._field(key) for key in RACE_KEYS[self.table] if key not in shown]
        self.mount(*added, before=event.button)
        event.button.remove()
        self.call_after_refresh(added[0].focus_input)

    @on(Input.Submitted)
    def _next(self, event: Input.Submitted) -> None:
        event.stop()
        self.app.action_focus_next()

    def _field(self, key: str) -> Field:
        return Field(Spot(self.table, key, self.number), self._values.get(key))

    def _used(self) -> list[str]:
        always = ALWAYS_SHOWN.get(self.table, ())
        return [key for key in RACE_KEYS[self.table] if key in self._values or key in always]


class ListGroup(Vertical):
    """The tables of one list, a row each, and a row to add one."""

    DEFAULT_CLASSES: ClassVar[str] = "list-group"

    def __init__(self, table: str, title: str, entries: list[Mapping[str, Any]]) -> None:
        super().__init__()
        self.table, self._title = table, title
        self._entries = entries

    def compose(self) -> ComposeResult:
        """A title and the rows."""
        yield Static(self._title, classes="group-title")
        for number, entry in enumerate(self._entries):
            yield Button(Content(_entry_words(self.table, entry)), name=str(number), compact=True)
        yield Button("add one", name="new", compact=True)

    def show(self, entries: list[Mapping[str, Any]]) -> None:
        """Show the rows anew if they changed."""
        if entries != self._entries:
            self._entries = entries
            self.refresh(recompose=True)

    def on_button_pressed(self, event: Button.Pressed) -> None:
        """Say which row was chosen."""
        event.stop()
        name = event.button.name or ""
        self.post_message(EntryChosen(self.table, None if name == "new" else int(name)))


def _entry_words(table: str, entry: Mapping[str, Any]) -> str:
    if table == "course.section":
        what = entry.get("surface") or entry.get("shelter") or entry.get("max_speed") or ""
        return f"{entry.get('from', '?')} to {entry.get('to', '?')} {what}".strip()
    if table == "course.landmark":
        return f"{entry.get('at', '?')} {entry.get('name', '')}".strip()
    return str(entry.get("name", "no name yet"))


TITLES = {
    "race": "Race",
    "rider": "Rider",
    "bike": "Bike",
    "air": "Air",
    "course": "Course",
    "money": "Money",
    "course.section": "Stretches that differ",
    "course.landmark": "Landmarks",
    "option": "Options",
}


class RaceForm(VerticalScroll, can_focus=False):
    """The whole race file.

    Parameters
    ----------
    draft : Draft
        What its fields show at first.
    """

    BINDINGS: ClassVar = [
        Binding("down", "app.focus_next", "Next field", show=False),
        Binding("up", "app.focus_previous", "Field before", show=False),
    ]

    ORDER = ("rider", "bike", "air", "course", "course.section", "course.landmark", "option")
    LAST = ("money", "race")

    def __init__(self, draft: Draft) -> None:
        super().__init__(id="race-form")
        self._draft = draft

    def compose(self) -> ComposeResult:
        """A group for each table, in the order in which one thinks of a race."""
        for table in (*self.ORDER, *self.LAST):
            yield self._group(table, self._draft)

    def _group(self, table: str, draft: Draft) -> Vertical:
        entries = draft.entries(table)
        if table in LISTS:
            return ListGroup(table, TITLES[table], entries)
        return FieldGroup(table, 0, entries[0] if entries else {}, TITLES[table])

    def refill(self, draft: Draft) -> None:
        """Show the values of the draft in the fields, and its rows."""
        refill(self, draft)
        for group in self.query(ListGroup):
            group.show(draft.entries(group.table))


def refill(form: VerticalScroll, draft: Draft) -> None:
    """Show the values of the draft in the fields of a form."""
    for field in form.query(Field):
        field.refill(draft.value(field.spot))


def mark_saved(form: VerticalScroll, saved: Mapping[Spot, object]) -> None:
    """Say at each field what the file on disk has, where the draft has something else."""
    for field in form.query(Field):
        was = saved.get(field.spot)
        words = f"was {as_typed(was)}" if was is not None else "not in the file before"
        field.say_saved(words if field.spot in saved else "")


def field_at_fault(form: VerticalScroll, problem: RacecalcError) -> Field | None:
    """The field whose key an error names, if it is one of a single table."""
    named = problem.place.rpartition(" ")[2] if isinstance(problem, InputError) else ""
    for field in form.query(Field):
        if f"{field.spot.table}.{field.spot.key}" == named:
            return field
    return None
