"""What is shown before a race file is open."""

from pathlib import Path
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.content import Content
from textual.screen import Screen
from textual.widgets import Button, Footer, Static

from racecalc.views.workspace.dialogs import short

WELCOME = """\
racecalc turns field-tested watts into seconds and money on your own course.

Everything rests on a race file: rider, bike, air, course, and the options you could buy or test. \
Open one, or let racecalc write a commented one to start from.
"""


class StartScreen(Screen[None]):
    """Recent race files, and how to open or make one.

    Parameters
    ----------
    recent : tuple of Path
        Files that were opened before.
    problem : str
        Why the file that was wanted is not open; empty for none.
    """

    BINDINGS: ClassVar = [
        Binding("down", "app.focus_next", show=False),
        Binding("up", "app.focus_previous", show=False),
    ]

    def __init__(self, recent: tuple[Path, ...], problem: str = "") -> None:
        super().__init__()
        self._recent, self._problem = recent, problem

    def compose(self) -> ComposeResult:
        """A word of welcome, then what can be opened."""
        with Vertical(id="start"):
            yield Static(WELCOME, markup=False)
            if self._problem:
                yield Static(f"! {self._problem}", markup=False)
            for number, path in enumerate(self._recent):
                yield Button(Content(short(path)), name=str(number), compact=True)
            yield Button("Open another race file", name="open", compact=True)
            yield Button("Make a new one from the template", name="new", compact=True)
        yield Footer(compact=True)

    def on_button_pressed(self, event: Button.Pressed) -> None:
        """Open what was chosen."""
        event.stop()
        name = event.button.name or ""
        if name.isdecimal():
            self.app.call_later(self.app.open_race, self._recent[int(name)])  # type: ignore[attr-defined]
        else:
            self.app.call_later(getattr(self.app, f"action_{name}_race"))
