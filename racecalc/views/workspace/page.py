"""A part of the screen that shows a page of text, wrapped anew whenever its width changes."""

from collections.abc import Callable
from typing import ClassVar

from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.events import Resize
from textual.widgets import Static

from racecalc.views.tables import columns_of, paragraph

LEAST_COLUMNS = 24


class Page(VerticalScroll, can_focus=True):
    """Text made for the columns there are; scrolled by the arrow keys once it has the focus.

    Parameters
    ----------
    id : str
        Name for queries and styles.
    """

    BINDINGS: ClassVar = [
        Binding("pageup", "page_up", "Page up", show=False),
        Binding("pagedown", "page_down", "Page down", show=False),
    ]

    def __init__(self, id: str) -> None:  # noqa: A002 - textual's own name
        super().__init__(id=id)
        self._make: Callable[[], str] = str
        self._drawn_for = 0
        self._shape = (0, 0)

    def compose(self) -> ComposeResult:
        """One text."""
        yield Static("", id=f"{self.id}-text")

    def show(self, make: Callable[[], str]) -> None:
        """Show what a function of the views writes.

        Parameters
        ----------
        make : callable
            Called now, and again whenever the width changes; fills the columns it finds.
        """
        self._make = make
        self._draw()

    def show_text(self, text: str) -> None:
        """Show a text as it is."""
        self.show(lambda: text)

    @property
    def text(self) -> str:
        """What is shown now."""
        with columns_of(self.columns):
            return self._make()

    def show_problem(self, problem: Exception) -> None:
        """Show why there is no answer."""
        self.show(lambda: paragraph(f"! {problem}"))

    def made(self) -> str:
        """The same page for the columns that the caller sets."""
        return self._make()

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
            text = self.text
            shape = (text.count("\n"), max(map(len, text.split("\n"))))
            # Numbers that change in place need no new layout, which takes as long as solving.
            self.query_one(Static).update(
                Text(text, no_wrap=True, overflow="crop"), layout=shape != self._shape
            )
            self._shape = shape
