"""Help for what has the focus: the field, the place, the keys."""

from textual.binding import Binding
from textual.widget import Widget

from racecalc.views.key_help import key_page
from racecalc.views.tables import columns_of
from racecalc.views.workspace.field import field_of
from racecalc.views.workspace.place import Place
from racecalc.views.workspace.places import WAYS

COLUMNS = 66

KEYS = """\
Keys everywhere
  F2 to F9         the places (the digits do too, outside a field)
  Tab, Shift+Tab   next part, part before
  Ctrl+S           save            Ctrl+Z, Ctrl+Y   take back, make again
  Ctrl+O, Ctrl+N   open, new       Ctrl+P           all actions by name
  Ctrl+T           keep as what-if Ctrl+G           compare with now
  Escape           stop long work, or leave a field
  Ctrl+Q           leave racecalc

All numbers can be had without this screen: "racecalc --help" lists the
commands, and Ask shows the command line of every answer.
"""


def help_text(place: Place, focused: Widget | None) -> str:
    """Help for a place and what in it has the focus."""
    field = field_of(focused) if focused else None
    with columns_of(COLUMNS):
        about = f"{key_page(field.spot.table, field.spot.key)}\n" if field else ""
    shown = [one for one in place.BINDINGS if isinstance(one, Binding) and one.show]
    own = "\n".join(f"  {one.key:<16} {one.tooltip or one.description}" for one in shown)
    meaning = next(way.meaning for way in WAYS if way.name == place.name)
    keys = f"Keys here\n{own}\n\n" if own else ""
    return f"{about}{place.name}: {meaning}\n\n{keys}{KEYS}"
