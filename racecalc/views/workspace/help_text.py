"""What the keys do: the help of a place, and the line of keys at the foot of the screen."""

from typing import Any

from textual.binding import Binding
from textual.screen import Screen
from textual.widget import Widget
from textual.widgets import Static

from racecalc.views.width import columns_of
from racecalc.views.workspace.form import field_of, key_page
from racecalc.views.workspace.place import Place
from racecalc.views.workspace.places import WAYS

# --- Help for what has the focus -----------------------------------------------------------------

COLUMNS = 66
EDGES = 10
"""Columns that the dialog around a help text takes, at most."""

KEYS = """\
Keys everywhere
  F2 to F9         the places; so do Alt+2 to Alt+9
  Tab, Shift+Tab   next part, previous part
  Ctrl+S           save            Ctrl+Z, Ctrl+Y   undo, redo
  Ctrl+F           find anything by its words: wind, suit, 30 deg
  Ctrl+Up, +Down   a value one step up or down, with Shift ten
                   (Alt with Up or Down does the same)
  Ctrl+O, Ctrl+N   open, new       Ctrl+C           copy table or page
  Ctrl+E           write the page to a file: .html, .pdf, .md, .txt
  Ctrl+T           keep as what-if Ctrl+G           compare with now
  Escape           stop long work, or leave a field
  F1, then m       the manual
  Ctrl+Q           leave racecalc
In a browser, which keeps some keys for itself: Alt+1 help,
Alt+K keep as what-if, Alt with N, Q, R or F as Ctrl with it.

All numbers are available without this screen:
"racecalc --help" lists the commands, and Ask shows the
command line of every answer.
"""


def help_text(place: Place, focused: Widget | None, columns: int = COLUMNS) -> str:
    """Help for a place and what in it has the focus."""
    field = field_of(focused) if focused else None
    with columns_of(columns):
        about = f"{key_page(field.spot.table, field.spot.key)}\n" if field else ""
    shown = [one for one in place.BINDINGS if isinstance(one, Binding) and one.show]
    own = "\n".join(f"  {one.key:<16} {one.tooltip or one.description}" for one in shown)
    meaning = next(way.meaning for way in WAYS if way.name == place.name)
    keys = f"Keys here\n{own}\n\n" if own else ""
    return f"{about}{place.name}: {meaning}\n\n{keys}{KEYS}"


# --- The line of keys ----------------------------------------------------------------------------


class KeyLine(Static):
    """The keys that do something here; one text, as a widget for each takes long to lay out."""

    def on_mount(self) -> None:
        """Follow what has the focus."""
        self.screen.bindings_updated_signal.subscribe(self, self._show)

    def _show(self, screen: Screen[Any]) -> None:
        shown = [one.binding for one in screen.active_bindings.values() if one.binding.show]
        first = {one.action: one for one in reversed(shown)}
        words = " ".join(map(self._words, reversed(first.values())))
        if screen is self.screen and words != self.content:
            self.update(words, layout=False)

    def _words(self, one: Binding) -> str:
        key = self.app.get_key_display(one)
        pressed = f"[@click=press('{one.key}')]{one.description}[/]"
        return f"[bold $footer-key-foreground]{key}[/] {pressed}"

    def action_press(self, key: str) -> None:
        """Do what the key does whose words were clicked."""
        self.app.simulate_key(key)
