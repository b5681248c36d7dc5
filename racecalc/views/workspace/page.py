"""A part of the screen that shows an answer, wrapped anew with its width, deeper at a key."""

from collections.abc import Callable
from typing import ClassVar

from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.events import Resize
from textual.widgets import Static

from racecalc.answers.sheet import Depth, Sheet
from racecalc.views.tables import columns_of, paragraph
from racecalc.views.writers.terminal import sheet_text

LEAST_COLUMNS = 24

KEYS = {Depth.DETAILS: "d (every table)", Depth.BASIS: "d again (what it rests on)"}


class Page(VerticalScroll, can_focus=True):
    """A sheet or a text made for the columns there are; d tells more of a sheet."""

    BINDINGS: ClassVar = [
        Binding("pageup", "page_up", "Page up", show=False),
        Binding("pagedown", "page_down", "Page down", show=False),
        Binding("d", "deeper", "Details", tooltip="tell more of the answer, or less again"),
    ]

    def __init__(self, id: str) -> None:  # noqa: A002 - textual's own name
        super().__init__(id=id)
        self._make: Callable[[], Sheet | str] = str
        self._before: Callable[[], str] = str
        self._depth = Depth.ANSWER
        self._drawn_for = 0
        self._shape = (0, 0)

    def compose(self) -> ComposeResult:
        """One text."""
        yield Static("", id=f"{self.id}-text")

    def show(self, make: Callable[[], Sheet | str], before: Callable[[], str] = str) -> None:
        """Show a sheet or a text; `make` is called now and whenever the width changes."""
        self._make, self._before = make, before
        self._draw()

    def show_text(self, text: str) -> None:
        """Show a text as it is."""
        self.show(lambda: text)

    def show_problem(self, problem: Exception) -> None:
        """Show why there is no answer."""
        self.show(lambda: paragraph(f"! {problem}"))

    def action_deeper(self) -> None:
        """Tell one depth more, and after all of it the answer alone again."""
        self._depth = Depth((self._depth + 1) % len(Depth))
        self._draw()

    @property
    def text(self) -> str:
        """What is shown now."""
        return self._written().plain

    def _written(self) -> Text:
        with columns_of(self.columns):
            before, made = Text(self._before()), self._make()
            if isinstance(made, str):
                return before.append(made)
            told = sheet_text(made, self._depth, colour=True, ways=KEYS)
            return before.append_text(Text.from_ansi(told))

    @property
    def columns(self) -> int:
        """Columns to fill; one is left for the scroll bar."""
        return max(self.size.width - 1, LEAST_COLUMNS)

    def on_resize(self, _: Resize) -> None:
        """Wrap anew where the width changed."""
        if self.columns != self._drawn_for:
            self._draw()

    def _draw(self) -> None:
        if self.size.width:
            self._drawn_for = self.columns
            text = self._written()
            shape = (text.plain.count("\n"), max(map(len, text.plain.split("\n"))))
            # Numbers that change in place need no new layout, which takes as long as solving.
            text.no_wrap, text.overflow = True, "crop"
            self.query_one(Static).update(text, layout=shape != self._shape)
            self._shape = shape
