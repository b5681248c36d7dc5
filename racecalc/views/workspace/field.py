"""One value of the race file: its name, a field to type in, and what is wrong with it."""

from typing import ClassVar

from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.widget import Widget
from textual.widgets import Input, Label, Static

from racecalc.errors import InputError, Notice, RacecalcError
from racecalc.files.draft import Spot
from racecalc.files.race_keys import RACE_KEYS
from racecalc.files.race_values import example, read_checked
from racecalc.files.typed import as_typed, from_typed
from racecalc.views.key_help import label
from racecalc.views.workspace.messages import Typed

PATIENCE = 0.4
"""Seconds without a key after which a value that will not do is called so; our choice."""


NEEDED = {
    "rider": ("mass", "power"),
    "bike": ("mass", "cda", "crr"),
    "option": ("name",),
    "course.section": ("from", "to"),
    "course.landmark": ("at", "name"),
}
"""Keys without which no race can be ridden, or no such table read."""


def field_of(widget: Widget) -> "Field | None":
    """The field that a widget is part of; None where it is part of none."""
    return next((one for one in widget.ancestors if isinstance(one, Field)), None)


class Field(Vertical):
    """A key of the race file as a row.

    Parameters
    ----------
    spot : Spot
        Where the value stands.
    value : object
        What stands there; None for nothing.
    """

    DEFAULT_CLASSES: ClassVar[str] = "field"

    def __init__(self, spot: Spot, value: object) -> None:
        super().__init__()
        self.spot = spot
        self.key = RACE_KEYS[spot.table][spot.key]
        self.problem: InputError | None = None
        self._misfit: RacecalcError | None = None
        self._notice = self._was = ""
        self._shown = ("", False)
        self._first = as_typed(value)
        self.touched = False

    def compose(self) -> ComposeResult:
        """The name, the field, and a line below for what is to be said about it."""
        with Horizontal():
            yield Label(label(self.spot.key), classes="field-name")
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
        self.touched = True
        self.look_at()
        if self.problem:
            # Half a value is no mistake yet: it is called one when no further key comes.
            self.set_timer(PATIENCE, self._draw)
            return
        self._draw()
        # A field is empty for a moment when a value is typed instead of another.
        self.post_message(Typed(event.time, 0.0 if event.value.strip() else PATIENCE))

    def look_at(self) -> object:
        """The value that is typed now, for the draft; what is wrong with it becomes `problem`."""
        value = from_typed(self.key, self.typed)
        self._notice, self.problem = "", None
        if value is None:
            if self.spot.key in NEEDED.get(self.spot.table, ()):
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
