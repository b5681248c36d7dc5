"""The fields of a race file, read and explained as they are typed."""

from collections.abc import Mapping
from typing import Any, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.content import Content
from textual.message import Message
from textual.widget import Widget
from textual.widgets import Button, Input, Label, Static

from racecalc.errors import InputError, Notice, RacecalcError
from racecalc.files.draft import Draft, Spot
from racecalc.files.race_keys import LISTS, RACE_KEYS, accepted, key_facts
from racecalc.files.race_values import example, read_checked
from racecalc.files.race_writing import as_typed, from_typed
from racecalc.views.width import paragraph
from racecalc.views.workspace.dialogs import WALKING
from racecalc.views.workspace.work_screen import Typed

# --- What a key of a race file is, in words for the screen ---------------------------------------


def key_label(key: str) -> str:
    """The name of a key as it is shown before its field."""
    return key.replace("_", " ")


def key_line(table: str, key: str) -> str:
    """Meaning, units, plausible range, default and where to find it, in as few words as it goes.

    Examples
    --------
    >>> key_line("rider", "power").splitlines()[0]
    'power held over the race'
    """
    about = RACE_KEYS[table][key]
    plausible = f"plausible {about.plausible}" if about.plausible else ""
    default = f"else {about.default}" if about.default else ""
    facts = "; ".join(filter(None, (f"write {accepted(about)}", plausible, default)))
    return f"{about.meaning}\n{facts}\nfind it: {about.where}"


def key_page(table: str, key: str) -> str:
    """The same as a page, with what is possible and where the default comes from."""
    about = RACE_KEYS[table][key]
    lines = (f"{table}.{key}: {about.meaning}.", *key_facts(about))
    return "\n".join(map(paragraph, lines))


# --- One value of the race file ------------------------------------------------------------------

PATIENCE = 0.4
"""Seconds without a key after which a value that will not do is called so; our choice."""


def field_of(widget: Widget) -> "KeyField | None":
    """The field that a widget is part of; None where it is part of none."""
    return next((one for one in widget.ancestors if isinstance(one, KeyField)), None)


class KeyField(Vertical):
    """A key of the race file as a row."""

    DEFAULT_CLASSES: ClassVar[str] = "field"

    def __init__(self, spot: Spot, value: object) -> None:
        super().__init__()
        self.spot = spot
        self.key = RACE_KEYS[spot.table][spot.key]
        self.problem: InputError | None = None
        self._misfit: RacecalcError | None = None
        self._notice = self._was = ""
        self._shown = ("", False)
        self._seen = self._first = as_typed(value)
        self.touched = False

    def compose(self) -> ComposeResult:
        """The name, the field, and a line below for what is to be said about it."""
        with Horizontal():
            yield Label(key_label(self.spot.key), classes="field-name")
            yield Input(
                self._first,
                placeholder=f"{self.key.default}, assumed" if self.key.default else "",
                compact=True,
            )
        yield Static("", classes="field-word", markup=False)

    @property
    def typed(self) -> str:
        """What stands in the field."""
        return self.query_one(Input).value

    def focus_input(self) -> None:
        """Put the focus where one types."""
        self.query_one(Input).focus()

    def refill(self, value: object) -> None:
        """Show the value of the draft, as after a step back; one that is typed right now stays."""
        text = as_typed(value)
        if as_typed(from_typed(self.key, self.typed)) != text:
            self.query_one(Input).value = text

    def on_input_changed(self, event: Input.Changed) -> None:
        """Look at what is typed, and say that it is there where it will do."""
        event.stop()
        # A field that appears says so too, but nothing was typed then that would need an answer.
        changed, self._seen = event.value != self._seen, event.value
        self.touched = self.touched or changed
        self.look_at()
        if self.problem:
            # Half a value is no mistake yet: it is called one when no further key comes.
            self.set_timer(PATIENCE, self._draw)
            return
        self._draw()
        if changed:
            # A field is empty for a moment when a value is typed instead of another.
            self.post_message(Typed(event.time, 0.0 if event.value.strip() else PATIENCE))

    def look_at(self) -> object:
        """The value that is typed now, for the draft; what is wrong with it becomes `problem`."""
        value = from_typed(self.key, self.typed)
        self._notice, self.problem = "", None
        if value is None:
            if self.key.needed:
                self.problem = InputError("", "it is needed", f"write {example(self.key)}")
            return None
        notices: list[Notice] = []
        try:
            read_checked(self.key, value, "", notices)
        except InputError as error:
            self.problem = error
        self._notice = "; ".join(notice.text for notice in notices)
        return value

    def say_saved(self, words: str) -> None:
        """Say what the file on disk has, where the draft has something else."""
        self._was = words
        self._misfit = None
        self._draw()

    def refuse(self, problem: RacecalcError) -> None:
        """Show that the value does not go with the rest of the file."""
        self._misfit = problem
        self._draw()

    def _draw(self) -> None:
        wrong = self.problem or self._misfit
        words = _words(wrong) if wrong else "; ".join(filter(None, (self._was, self._notice)))
        shown = (words, wrong is not None)
        if shown == self._shown:
            return
        self._shown = shown
        line = self.query_one(".field-word", Static)
        line.update(words)
        line.set_class(bool(words), "-shown")
        line.set_class(wrong is not None, "-wrong")
        self.query_one(Input).set_class(wrong is not None, "-refused")


def _words(problem: RacecalcError) -> str:
    if not isinstance(problem, InputError):
        return f"! {problem}"
    return f"! {problem.problem}; {problem.remedy}" if problem.remedy else f"! {problem.problem}"


# --- The race file as a form ---------------------------------------------------------------------

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
    """The fields of one table, those in use first and the others behind a button."""

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
        shown = {field.spot.key for field in self.query(KeyField)}
        added = [self._field(key) for key in RACE_KEYS[self.table] if key not in shown]
        self.mount(*added, before=event.button)
        event.button.remove()
        self.call_after_refresh(added[0].focus_input)

    @on(Input.Submitted)
    def _next(self, event: Input.Submitted) -> None:
        event.stop()
        self.app.action_focus_next()

    def _field(self, key: str) -> KeyField:
        return KeyField(Spot(self.table, key, self.number), self._values.get(key))

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
    "rider": "Rider",
    "bike": "Bike",
    "air": "Air",
    "course": "Course",
    "course.section": "Sections",
    "course.landmark": "Landmarks",
    "option": "Options",
    "money": "Money",
    "race": "Race",
}
"""Titles of the tables, in the order in which one thinks of a race."""


class RaceForm(VerticalScroll, can_focus=False):
    """The whole race file."""

    BINDINGS: ClassVar = [*WALKING]

    def __init__(self, draft: Draft) -> None:
        super().__init__(id="race-form")
        self._draft = draft

    def compose(self) -> ComposeResult:
        """A group for each table, in the order in which one thinks of a race."""
        for table, title in TITLES.items():
            entries = self._draft.entries(table)
            if table in LISTS:
                yield ListGroup(table, title, entries)
            else:
                yield FieldGroup(table, 0, entries[0] if entries else {}, title)

    def refill(self, draft: Draft) -> None:
        """Show the values of the draft in the fields, and its rows."""
        refill(self, draft)
        for group in self.query(ListGroup):
            group.show(draft.entries(group.table))


def refill(form: VerticalScroll, draft: Draft) -> None:
    """Show the values of the draft in the fields of a form."""
    for field in form.query(KeyField):
        field.refill(draft.value(field.spot))


def mark_saved(form: VerticalScroll, saved: Mapping[Spot, object]) -> None:
    """Say at each field what the file on disk has, where the draft has something else."""
    for field in form.query(KeyField):
        was = saved.get(field.spot)
        words = f"was {as_typed(was)}" if was is not None else "new, not in the file"
        field.say_saved(words if field.spot in saved else "")


def refuse_at_fault(form: VerticalScroll, problem: RacecalcError | None) -> None:
    """Show an error at the field whose key it names, if it is one of a single table."""
    named = problem.place.rpartition(" ")[2] if isinstance(problem, InputError) else ""
    fields = {f"{one.spot.table}.{one.spot.key}": one for one in reversed(form.query(KeyField))}
    if problem and named in fields:
        fields[named].refuse(problem)
