"""A place of the screen, with the pages and tables on it."""

import asyncio
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any, ClassVar, cast

from rich.cells import cell_len
from rich.text import Text
from textual.binding import Binding
from textual.containers import Vertical
from textual.events import Resize
from textual.geometry import Size
from textual.scroll_view import ScrollView
from textual.selection import Selection
from textual.strip import Strip
from textual.widgets import DataTable

from racecalc.answers.columns import Column
from racecalc.answers.sheet import Depth, Lines, Sheet
from racecalc.errors import InputError, RacecalcError
from racecalc.quantities.showing import System
from racecalc.views.width import columns_of, paragraph
from racecalc.views.workspace.dialogs import asked_path
from racecalc.views.workspace.drawing import in_theme, styles_of
from racecalc.views.workspace.session import WorkSession
from racecalc.views.workspace.work_screen import Result, WorkScreen
from racecalc.views.writers.terminal import sheet_text

# --- A part of the screen that shows an answer, wrapped anew with its width, deeper at a key -----

LEAST_COLUMNS = 24

KEYS = {Depth.DETAILS: "d (every table)", Depth.BASIS: "d again (what it rests on)"}


class Page(ScrollView, can_focus=True):
    """A sheet or a text made for the columns there are; d tells more of a sheet."""

    BINDINGS: ClassVar = [
        Binding("pageup", "page_up", "Page up", show=False),
        Binding("pagedown", "page_down", "Page down", show=False),
        Binding("d", "deeper", "Details", tooltip="show more of the answer, or less"),
    ]

    def __init__(self, id: str) -> None:  # noqa: A002 - textual's own name
        super().__init__(id=id)
        self._make: Callable[[], Sheet | str] = str
        self._before: Callable[[], str | Text] = str
        self._depth = Depth.ANSWER
        self._drawn_for = 0
        self._lines: list[Text] = []

    def show(self, make: Callable[[], Sheet | str], before: Callable[[], str | Text] = str) -> None:
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
        """What is to be shown now."""
        return self._written().plain

    @property
    def sheet(self) -> Sheet:
        """What is shown, for the writers."""
        with columns_of(self.columns):
            made = self._make()
        if isinstance(made, str):
            headline, _, rest = made.partition("\n")
            return Sheet(headline, [Lines([rest])] if rest else [])
        return made

    @property
    def drawn(self) -> str:
        """What was drawn last."""
        return "\n".join(line.plain for line in self._lines)

    def _written(self) -> Text:
        with columns_of(self.columns):
            before, made = Text.assemble(self._before()), self._make()
            if isinstance(made, str):
                return before.append(made)
            told = sheet_text(made, self._depth, colour=True, ways=KEYS)
            return before.append_text(in_theme(Text.from_ansi(told), styles_of(self.app)))

    @property
    def columns(self) -> int:
        """Columns to fill; what the scroll bar takes is left for it."""
        bar = self.styles.scrollbar_size_vertical
        return max(self.outer_size.width - self.styles.gutter.width - bar, LEAST_COLUMNS)

    def on_mount(self) -> None:
        """Follow the colours of the theme."""
        self.app.theme_changed_signal.subscribe(self, lambda _: self._draw())

    def on_resize(self, _: Resize) -> None:
        """Wrap anew where the width changed."""
        if self.columns != self._drawn_for:
            self._draw()

    def _draw(self) -> None:
        # A page without room, as in a place that is not looked at, is drawn when it gets some.
        self._drawn_for = 0
        if self.size.width:
            self._drawn_for = self.columns
            self._lines = list(self._written().split("\n", allow_blank=True))
            # The lines are as long as they are: no layout, which takes as long as solving.
            wide = max(cell_len(line.plain) for line in self._lines)
            self.virtual_size = Size(wide, len(self._lines))
            self.refresh()

    def render_line(self, y: int) -> Strip:
        """Draw one of the lines that are in view."""
        left, top = self.scroll_offset
        number, style = y + top, self.rich_style
        if number >= len(self._lines):
            return Strip.blank(self.size.width, style)
        line = self._lines[number].copy()
        chosen = self.text_selection.get_span(number) if self.text_selection else None
        if chosen:
            start, end = chosen
            marked = self.screen.get_component_rich_style("screen--selection")
            line.stylize(marked, start, None if end == -1 else end)
        line.stylize_before(style)
        drawn = Strip(line.render(self.app.console), cell_len(line.plain))
        return drawn.crop_extend(left, left + self.size.width, style).apply_offsets(left, number)

    def get_selection(self, selection: Selection) -> tuple[str, str]:
        """The words that the mouse has marked."""
        return selection.extract(self.drawn), "\n"

    def selection_updated(self, _: Selection | None) -> None:
        """Draw what is marked."""
        self.refresh()


# --- A place of the workspace --------------------------------------------------------------------


class Place(Vertical):
    """One side of the race."""

    FOCUS: ClassVar[str] = "*"
    """Where work begins: the first of these parts that can have the focus."""

    def __init__(self, session: WorkSession, name: str) -> None:
        super().__init__(name=name, id=f"place-{name.lower()}", classes="place")
        self.session = session
        self._shown: tuple[object, ...] = ()

    @property
    def desk(self) -> WorkScreen:
        """The screen that begins long work."""
        return cast(WorkScreen, self.screen)

    @property
    def page(self) -> Page:
        """The page of the answer."""
        return self.query_one(Page)

    def work_out(
        self,
        group: str,
        label: str,
        work: Callable[[], Result],
        done: Callable[[Result], None],
        stopped: Callable[[], None] = lambda: None,
    ) -> None:
        """Begin long work for the page, which says why where it fails."""
        self.desk.begin(group, label, work, done, self.page.show_problem, stopped=stopped)

    def outdate(self) -> None:
        """Show the last good answer anew, now or when it is looked at next."""
        if self.display:
            self.look()

    def look(self) -> None:
        """Bring what is shown up to date; called whenever the place comes to the front."""
        outlook = self.session.outlook
        if outlook is not None and self._shows() != self._shown:
            self._shown = self._shows()
            self.refill()

    def _shows(self) -> tuple[object, ...]:
        """What is shown hangs on: nothing is worked out again while that stays the same."""
        return (self.session.outlook,)

    def refill(self) -> None:
        """Show the last good answer."""
        raise NotImplementedError

    def take_advice(self, problem: RacecalcError | None = None) -> None:
        """Show the advice of the session; there is none where it failed or was stopped."""

    @property
    def ready(self) -> bool:
        """Whether its page may be written to a file."""
        return True

    async def write_asking(
        self,
        question: str,
        suggested: str,
        check: Callable[[Path], object],
        write: Callable[[Path], None],
    ) -> None:
        """Ask for a file beside the race file and write it; for a worker."""
        path = await asked_path(self.app, question, suggested, self.session.path.parent, check)
        if path is None:
            return
        try:
            await asyncio.to_thread(write, path)
        except InputError as error:
            self.desk.say_problem(error)
        else:
            self.notify(f"{path} written", timeout=5, markup=False)

    def rest(self) -> None:
        """Put the focus where no letter is taken as text."""
        self.take_focus()

    def refuse(self) -> None:
        """Say that the draft has no answer; what is shown stays."""

    def take_focus(self) -> None:
        """Put the focus where work begins."""
        for widget in [one for one in self.query(self.FOCUS) if one.focusable][:1]:
            widget.focus()


HEAD = "above "
"""Before the key of a row, that of the line above it."""


# --- Tables that can be walked through, filled with the cells of the pages -----------------------


def fill_columns(
    table: DataTable[Any],
    columns: Sequence[Column],
    rows: Sequence[Any],
    units: System,
    keys: Sequence[str] = (),
    gap: str = "",
    heads: Mapping[str, Text] | None = None,
) -> None:
    """Fill a table anew, words to the left, numbers to the right; the cursor keeps its row.

    `heads` are words in the second column of a line of their own, above the rows of these keys.
    """
    held, styles = row_key(table), styles_of(table.app)
    names = list(keys) or [str(number) for number in range(len(rows))]
    table.clear(columns=True)
    shown = []
    for column in columns:
        cells = [column.cell(row, units) for row in rows]
        title = f"{'<' if column.left else ''}{column.title(units)}"
        heading, *texts = aligned(title, [cell.text for cell in cells])
        table.add_column(Text(f"{heading}{gap}"))
        tones = [styles.get(cell.tone, "") for cell in cells]
        shown.append([Text(f"{one}{gap}", tone) for one, tone in zip(texts, tones, strict=True)])
    for name, row in zip(names, zip(*shown, strict=True), strict=True):
        if heads and name in heads:
            ruled = [Text("\u2500" * len(cell.plain), styles["rule"]) for cell in row]
            word = Text.assemble(" ", heads[name], " ")
            ruled[1] = word + ruled[1][len(word) :]
            table.add_row(*ruled, key=f"{HEAD}{name}")
        table.add_row(*row, key=name)
    if held in names:
        table.move_cursor(row=table.get_row_index(held))


def row_key(table: DataTable[Any]) -> str:
    """The name of the row under the cursor; empty where there is none."""
    if not table.row_count:
        return ""
    return str(table.coordinate_to_cell_key(table.cursor_coordinate).row_key.value)


def aligned(heading: str, cells: Sequence[str]) -> list[str]:
    """A heading and its cells, filled with spaces to one width.

    Examples
    --------
    >>> aligned("W", ["5", "12"]), aligned("<who", ["A"])
    ([' W', ' 5', '12'], ['who', 'A  '])
    """
    texts = [heading.removeprefix("<"), *cells]
    wide = max(map(cell_len, texts))
    gaps = [" " * (wide - cell_len(text)) for text in texts]
    left = heading.startswith("<")
    return [text + gap if left else gap + text for text, gap in zip(texts, gaps, strict=True)]
