"""The fields of a race file, read and explained as they are typed."""

from collections.abc import Mapping
from textwrap import wrap
from typing import Any, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.events import MouseDown
from textual.message import Message
from textual.widget import Widget
from textual.widgets import Input, OptionList, Static

from racecalc.errors import InputError, Notice, RacecalcError
from racecalc.files.draft import Draft, Spot
from racecalc.files.race_keys import LISTS, RACE_KEYS, accepted, key_facts
from racecalc.files.race_values import example, read_checked
from racecalc.files.race_writing import as_typed, from_typed
from racecalc.quantities.plain_text import one_line
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

LEAST_WORDS = 12
"""Columns below which words below a field are not broken."""


def field_of(widget: Widget) -> "KeyField | None":
    """The field that a widget is, or is part of; None where it is part of none."""
    return next((one for one in (widget, *widget.ancestors) if isinstance(one, KeyField)), None)


NAME, WIDE_NAME = 20, 24
"""Columns of the names before the values, and where there is room."""

NARROW, ROOMY = 34, 46
"""Columns of a row below which names are cut, and from which on there is room."""


class KeyField(Widget, can_focus=True):
    """A key of the race file as a row, which holds an input only while it has the focus."""

    def __init__(self, spot: Spot, value: object) -> None:
        super().__init__()
        self.spot = spot
        self.key = RACE_KEYS[spot.table][spot.key]
        self.typed = as_typed(value)
        """What stands in the field."""
        self.touched = False
        self.problem: InputError | None = None
        self.words = ""
        """What is said below the field."""
        self._misfit: RacecalcError | None = None
        self._notice = self._was = ""
        self._input: Input | None = None
        self.look_at()

    def on_mount(self) -> None:
        """Say at once what is wrong with the value of the file."""
        self._draw()

    def on_resize(self) -> None:
        """Wrap what is said below the field, and begin the value where the others do."""
        if self._input:
            self._input.styles.margin = (0, 0, 0, self._before)
        self._draw()

    @property
    def _otherwise(self) -> str:
        return f"{self.key.default}, assumed" if self.key.default else ""

    @property
    def _before(self) -> int:
        """Columns before the value."""
        width = self.size.width
        if width and width < NARROW:
            return width // 2
        return max(NAME if width < ROOMY else WIDE_NAME, len(key_label(self.spot.key)) + 1)

    @property
    def _wrong(self) -> RacecalcError | None:
        return self.problem or self._misfit

    def render(self) -> Content:
        """The name, the value, and below what is to be said about it."""
        name = f"{one_line(key_label(self.spot.key), self._before - 1):<{self._before}}"
        value = "bold underline" if self._wrong else "bold"
        shown = (self.typed, value) if self.typed else (self._otherwise, "$text-muted")
        below = "bold $text-error" if self._wrong else "$text-muted"
        lines = [Content.styled(f"  {line}", below) for line in self._below()]
        return Content("\n").join([Content.assemble(name, shown), *lines])

    def _below(self) -> list[str]:
        return wrap(self.words, max(self.size.width - 2, LEAST_WORDS)) if self.words else []

    def _draw(self) -> None:
        wrong = self._wrong
        self.words = _words(wrong) if wrong else "; ".join(filter(None, (self._was, self._notice)))
        height = 1 + len(self._below())
        if self.styles.height is None or self.styles.height.value != height:
            self.styles.height = height
        if self._input:
            self._input.set_class(wrong is not None, "-refused")
        self.refresh()

    # --- typing ------------------------------------------------------------------------------

    def focus_input(self) -> None:
        """Put the focus where one types."""
        (self._input or self).focus()

    def on_focus(self) -> None:
        """Take an input in, which then has the focus."""
        self._input = Input(self.typed, self._otherwise, compact=True)
        self._input.styles.margin = (0, 0, 0, self._before)
        self._input.set_class(self._wrong is not None, "-refused")
        self.can_focus = False
        self.mount(self._input)
        self.screen.set_focus(self._input)

    def on_mouse_down(self, event: MouseDown) -> None:
        """Put the cursor of the new input where the mouse is."""
        if self._input:
            at = min(max(event.x - self._before, 0), len(self.typed))
            self._input.call_later(setattr, self._input, "cursor_position", at)

    def on_input_blurred(self, event: Input.Blurred) -> None:
        """Do without the input again, unless it is only the terminal that was left."""
        event.stop()
        if event.input.has_focus or not self.app.app_focus:
            return
        self._take(event.input.value, event.time)
        event.input.remove()
        if event.input is self._input:
            self._input = None
            self.can_focus = True

    def on_input_changed(self, event: Input.Changed) -> None:
        """Take what was typed."""
        event.stop()
        if event.input is self._input:
            self._take(event.value, event.time)

    def put(self, text: str) -> None:
        """Let a text stand in the field as if it were typed."""
        if self._input:
            self._input.value = text
        else:
            self._take(text, Message().time)

    def refill(self, value: object) -> None:
        """Show the value of the draft, as after a step back; one that is typed right now stays."""
        text = as_typed(value)
        if as_typed(from_typed(self.key, self.typed)) != text:
            self.put(text)

    def _take(self, text: str, typed_at: float) -> None:
        """Look at what is typed, and say that it is there where it will do."""
        if text == self.typed:
            return
        self.typed, self.touched = text, True
        self.look_at()
        if self.problem:
            # Half a value is no mistake yet: it is called one when no further key comes.
            self.set_timer(PATIENCE, self._draw)
            self.refresh()
            return
        self._draw()
        # A field is empty for a moment when a value is typed instead of another.
        self.post_message(Typed(typed_at, 0.0 if text.strip() else PATIENCE))

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
        if (self._was, self._misfit) != (words, None):
            self._was, self._misfit = words, None
            self._draw()

    def refuse(self, problem: RacecalcError) -> None:
        """Show that the value does not go with the rest of the file."""
        self._misfit = problem
        self._draw()


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


class More(Static, can_focus=True):
    """A row that shows the fields of a table that are not in use."""

    BINDINGS: ClassVar = [Binding("enter,space", "press", "Show", show=False)]

    class Pressed(Message):
        """The others are wanted."""

        def __init__(self, row: "More") -> None:
            super().__init__()
            self.row = row

    def action_press(self) -> None:
        """Ask for them."""
        self.post_message(self.Pressed(self))

    on_click = action_press


class FieldGroup(Vertical):
    """The fields of one table, those in use first and the others behind a row."""

    def __init__(self, table: str, number: int, values: Mapping[str, Any], title: str = "") -> None:
        super().__init__(classes="-titled" if title else "")
        self.table, self.number, self.border_title = table, number, title
        self._values = dict(values)

    def compose(self) -> ComposeResult:
        """The fields in use, and a row for the rest."""
        used = self._used()
        for key in used:
            yield self._field(key)
        rest = len(RACE_KEYS[self.table]) - len(used)
        if rest:
            yield More(f"{rest} more of {self.table.split('.')[-1]}")

    @on(More.Pressed)
    def _all(self, event: More.Pressed) -> None:
        """Show all fields, in the place of the row."""
        event.stop()
        shown = {field.spot.key for field in self.query(KeyField)}
        added = [self._field(key) for key in RACE_KEYS[self.table] if key not in shown]
        self.mount(*added, before=event.row)
        event.row.remove()
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


class ListGroup(OptionList):
    """The tables of one list, a row each, and a row to add one."""

    DEFAULT_CLASSES: ClassVar[str] = "-titled"

    def __init__(self, table: str, title: str, entries: list[Mapping[str, Any]]) -> None:
        self._entries = entries
        super().__init__(*_entry_rows(table, entries), markup=False)
        self.table, self.border_title = table, title

    def show(self, entries: list[Mapping[str, Any]]) -> None:
        """Show the rows anew if they changed."""
        if entries != self._entries:
            held, self._entries = self.highlighted, entries
            self.clear_options().add_options(_entry_rows(self.table, entries))
            self.highlighted = held if held is None else min(held, len(entries))

    def on_focus(self) -> None:
        """Begin with the first row."""
        self.highlighted = self.highlighted or 0

    @on(OptionList.OptionSelected)
    def _chose(self, event: OptionList.OptionSelected) -> None:
        """Say which row was chosen."""
        event.stop()
        new = event.option_index == len(self._entries)
        self.post_message(EntryChosen(self.table, None if new else event.option_index))

    def action_cursor_down(self) -> None:
        """Go to the next row, and from the last one to what follows."""
        if self.highlighted == len(self._entries):
            self.app.action_focus_next()
        else:
            super().action_cursor_down()

    def action_cursor_up(self) -> None:
        """Go to the row before, and from the first one to what is above."""
        if not self.highlighted:
            self.app.action_focus_previous()
        else:
            super().action_cursor_up()


def _entry_rows(table: str, entries: list[Mapping[str, Any]]) -> list[str]:
    return [*(_entry_words(table, entry) for entry in entries), "add one"]


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
