"""The place about options."""

from dataclasses import replace
from functools import partial
from typing import Any, ClassVar

from rich.cells import cell_len
from rich.text import Text
from textual import on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal, Vertical
from textual.events import Resize
from textual.widgets import DataTable, Static

from racecalc.answers.advice import options_line
from racecalc.answers.advice_details import do_words, group_of
from racecalc.answers.against import AgainstAnswer, against_sheet
from racecalc.answers.basis import Basis
from racecalc.answers.basket import ladder_sheet
from racecalc.answers.break_even import BreakEvenAnswer, break_even_sheet
from racecalc.answers.cells import quoted
from racecalc.answers.columns import Column, Made
from racecalc.answers.sheet import Block, Depth, Group, Line, Lines, Sheet, Table
from racecalc.answers.value import ORDERS, currency_of, gain_line, option_columns, used_sheet
from racecalc.decisions.advice.advice import Advice
from racecalc.decisions.advice.shopping import Advised
from racecalc.decisions.against import Rivals, rivals_of
from racecalc.decisions.basket.basket import Rung, ladder_of_race
from racecalc.decisions.break_even import Against, BreakEvens, break_evens
from racecalc.decisions.value import OptionValue, SwitchedOn, switched_on, values_of
from racecalc.decisions.worth import exchange
from racecalc.domain.option import Option
from racecalc.errors import RacecalcError
from racecalc.views.desk import tracked
from racecalc.views.width import columns_of
from racecalc.views.workspace.drawing import (
    in_theme,
    styles_of,
)
from racecalc.views.workspace.form import EntryChosen
from racecalc.views.workspace.option_parts import LEAST_STAIRS, bars, in_short, stairs, step_words
from racecalc.views.workspace.place import HEAD, Page, Place, fill_columns, row_key
from racecalc.views.workspace.session import IN_USE, WorkSession
from racecalc.views.workspace.work_screen import DraftChanged
from racecalc.views.writers.terminal import sheet_text

# --- The options ---------------------------------------------------------------------------------

ROOMY, LONGEST_NAME = 100, 21
"""Columns below which names of options are cut, and to how many; the page below has them whole."""

ONE_PAGE = "option page"
"""Group of the work for the page: the last that is asked for is shown."""

UNWRAPPED = 10_000
"""Columns for a text that its part of the screen wraps by itself."""


BY_ADVICE = "what to do"
"""The order of the rows at first: in groups by the advice, in each by seconds."""

LEFT_TO_THE_PAGE = (BY_ADVICE, "weight", "chance", "money per second")
"""Orders of the columns that are left out first where there is no room: the page has them."""

AFTER_NAME, AFTER_VERDICT = 2, 5
"""Where the bars and the advice are put among the columns."""

LEAST_BAR, MOST_BAR, SCROLLS = 10, 24, 2
"""Columns of the bars, and of the scroll bar with its gap."""

HEADS: dict[Group, tuple[str, str]] = {
    "do": ("do", "good"),
    "test": ("test first", "open"),
    "leave": ("leave", "faint"),
}
"""The words above each group, and their tone."""


class OptionsPlace(Place):
    """What to use, and what to buy."""

    BINDINGS: ClassVar = [
        Binding("space", "switch", "On/off", tooltip="switch the option on or off"),
        Binding("enter", "edit", "Edit", tooltip="change the option"),
        Binding("o", "order", "Order", tooltip="change the order"),
        Binding("b", "break_even", "Pays", tooltip="what the option must save to pay off"),
        Binding("v", "frontier", "Money", tooltip="what more money buys, and the frontier"),
        Binding("r", "rival", "Rival", tooltip="mark it; r on another compares the two"),
        Binding("a", "add", "Add", show=False, tooltip="add an option"),
        Binding("escape", "back", "Back", show=False),
    ]

    def __init__(self, session: WorkSession, name: str) -> None:
        super().__init__(session, name)
        self._order = BY_ADVICE
        self._row = 0
        self._orders: list[str] = []
        self._values: dict[str, OptionValue] = {}
        self._ladder: tuple[Rung, ...] | None = None
        self._together: SwitchedOn | None = None
        self._page_of: OptionValue | None = None
        self._shows_frontier = self._reads = False
        self._rivals: tuple[str, ...] = ()

    def compose(self) -> ComposeResult:
        """What is switched on, the table, and a page on one option or on money."""
        with Horizontal(id="options-body"):
            with Vertical(id="options-left"):
                yield Static("", id="used", markup=False)
                yield DataTable(id="options", cursor_type="row", cell_padding=0)
                yield Static("", id="stairs", markup=False)
            yield Page("option-page")

    @property
    def table(self) -> DataTable[Any]:
        """The options."""
        return self.query_one("#options", DataTable)

    @property
    def options(self) -> dict[str, Option]:
        """The single options of the last good answer by name, with the savings of their tests."""
        return {gain.option.name: gain.option for gain in self.session.answered.gains}

    @property
    def advice(self) -> Advice | None:
        """The advice on the race; None until it is made."""
        made = self.session.advice
        return made[0].advice if made else None

    @property
    def _advised(self) -> dict[str, Advised]:
        """What to do about each option, as far as that is known."""
        return {one.name: one for one in self.advice.shopping.advised} if self.advice else {}

    def refill(self) -> None:
        """Show what is known at once, and begin to work out the rest."""
        self._values, self._ladder, self._together, self._page_of = {}, None, None, None
        self._rivals = tuple(name for name in self._rivals if name in self.options)
        self._draw_table()
        self._value_all()
        self._solve_set()
        self._draw_page()

    # --- the table ---------------------------------------------------------------------------

    def _draw_table(self) -> None:
        rows = [self._values.get(gain.option.name, gain) for gain in self.session.answered.gains]
        name = LONGEST_NAME if self.size.width < ROOMY else 0
        marks = {**dict.fromkeys(self.session.used, "x"), **dict.fromkeys(self._rivals, "r")}
        columns, units = option_columns(marks, currency_of(rows), name), self.session.units
        advised = self._advised
        if advised:
            words = Made("advice", "", lambda row: do_words(advised[row.option.name]), left=True)
            columns.insert(AFTER_VERDICT, (BY_ADVICE, words))
        rows, heads = self._sorted(rows)

        def wide(column: Column) -> int:
            cells = [column.cell(row, units).text for row in rows]
            return max(map(cell_len, [column.title(units), *cells])) + 1

        room = (self.table.size.width or self.size.width) - SCROLLS - LEAST_BAR
        for dropped in LEFT_TO_THE_PAGE:
            if sum(wide(column) for _, column in columns) > room:
                columns = [one for one in columns if one[0] != dropped]
        left = room + LEAST_BAR - sum(wide(column) for _, column in columns)
        if rows:
            drawn = bars(rows, min(max(left, LEAST_BAR), MOST_BAR) - 1)
            columns.insert(AFTER_NAME, ("seconds", drawn))
        self._orders = [order for order, _ in columns]
        names, shown = [row.option.name for row in rows], [column for _, column in columns]
        fill_columns(self.table, shown, rows, units, names, gap=" ", heads=heads)
        self._draw_stairs()

    def _sorted(self, rows: list[OptionValue]) -> tuple[list[OptionValue], dict[str, Text]]:
        """The rows in their order, and what to write above which of them."""
        advised, styles = self._advised, styles_of(self.app)
        if self._order != BY_ADVICE or not advised:
            order = ORDERS.get(self._order, ORDERS["seconds"])
            return sorted(rows, key=order), {}
        groups = {row.option.name: group_of(advised[row.option.name]) for row in rows}
        kinds = list(HEADS)
        rows.sort(key=lambda row: (kinds.index(groups[row.option.name]), -row.saved_s))
        firsts = {groups[row.option.name]: row.option.name for row in reversed(rows)}
        heads = {
            name: Text(HEADS[group][0], f"bold {styles[HEADS[group][1]]}")
            for group, name in firsts.items()
        }
        return rows, heads

    def _draw_stairs(self) -> None:
        chart = self.query_one("#stairs", Static)
        if self.advice and chart.size.height >= LEAST_STAIRS:
            width, height = chart.content_size
            lines = stairs(self.advice, width, height, styles_of(self.app))
            chart.update(Text("\n", no_wrap=True, overflow="crop").join(lines))

    def take_advice(self, problem: RacecalcError | None = None) -> None:  # noqa: ARG002
        """Group the options by it; the table is as good without."""
        if self.advice:
            self._page_of = None
            self._draw_table()
            self._say_of_set(self._about_set())
            self._draw_page()

    def on_resize(self, _: Resize) -> None:
        """Show the columns that there is room for."""
        if self.session.outlook is not None:
            self.call_after_refresh(self._draw_table)

    def _value_all(self) -> None:
        base, wanted = self.session.answered.base, self.session.race.money_terms.per_second
        options = list(self.options.values())

        def work() -> list[OptionValue]:
            values = values_of(base, options, wanted=wanted, track=tracked)
            return [one.worked_out() for one in values]

        self.desk.begin("values", "working the options out", work, self._valued)

    def _valued(self, values: list[OptionValue]) -> None:
        self._values = {value.option.name: value for value in values}
        self._draw_table()
        if self.advice is None:
            self.desk.advise()

    def action_order(self) -> None:
        """Sort by the next order."""
        names = [BY_ADVICE, *ORDERS]
        self._order = names[(names.index(self._order) + 1) % len(names)]
        self._draw_table()
        self.notify(f"sorted by {self._order}", timeout=2)

    @on(DataTable.HeaderSelected)
    def _header(self, event: DataTable.HeaderSelected) -> None:
        event.stop()
        self._order = self._orders[event.column_index] or self._order
        self._draw_table()

    # --- what is switched on -----------------------------------------------------------------

    @property
    def chosen(self) -> str:
        """Name of the option under the cursor; empty where there is none."""
        return row_key(self.table)

    def action_switch(self) -> None:
        """Use the option under the cursor or leave it, with what then goes and comes."""
        name, used, options = self.chosen, self.session.used, self.options
        if name not in options:
            return
        known = tuple(one for one in used if one in options)
        found = exchange(replace(self.session.race, use=known), [options[name]])
        use = found.without if name in used else found.having
        self.session.draft.write(IN_USE, list(use) or None)
        self._draw_table()
        self.post_message(DraftChanged())

    def _solve_set(self) -> None:
        base, use = self.session.answered.base.bare, self.session.race.use
        options = {one.name: one for one in base.race.single_options}
        used = tuple(option for name, option in options.items() if name in use)
        self._together = None
        self._say_of_set("solving them as one ...")
        self.desk.begin(
            "set",
            "",
            lambda: switched_on(base, used, options),
            self._solved_set,
            lambda problem: self._say_of_set(f"! {problem}"),
        )

    def _solved_set(self, found: SwitchedOn | None) -> None:
        self._together = found
        self._say_of_set(self._about_set())
        if self._shows_frontier:
            self._draw_page()

    def _about_set(self) -> Text:
        """What the set in use gives; where none is in use, what is advised."""
        answer, found, advice = self.session.answered, self._together, self.advice
        with columns_of(UNWRAPPED):
            sheet = used_sheet(found, answer.refused, [gain.verdict for gain in answer.gains])
            if found is None and advice and advice.values:
                sheet = replace(sheet, headline=options_line(advice))
            said = Text.from_ansi(sheet_text(sheet, Depth.ANSWER, colour=True).rstrip())
        return in_theme(said, styles_of(self.app))

    def _say_of_set(self, words: str | Text) -> None:
        self.query_one("#used", Static).update(words)

    # --- the page ----------------------------------------------------------------------------

    @on(DataTable.RowHighlighted)
    def _rests(self, event: DataTable.RowHighlighted) -> None:
        event.stop()
        before, self._row = self._row, event.cursor_row
        if self.chosen.startswith(HEAD):
            down = event.cursor_row >= before or not event.cursor_row
            self.table.move_cursor(row=event.cursor_row + (1 if down else -1))
            return
        if not self._shows_frontier and len(self._rivals) < 2:
            self._draw_page()

    @on(DataTable.RowSelected)
    def _selected(self, event: DataTable.RowSelected) -> None:
        event.stop()
        self.action_edit()

    def action_break_even(self) -> None:
        """Give the page more room, which says from which saving on the option pays; or less."""
        reads = not self._reads or self._shows_frontier or bool(self._rivals)
        self._turn_to(reads=reads)

    def action_rival(self) -> None:
        """Mark the option under the cursor, or set it against the one that is marked."""
        name = self.chosen
        if name not in self.options:
            return
        again = name in self._rivals
        self._rivals = () if again else (*self._rivals, name) if len(self._rivals) < 2 else (name,)
        if len(self._rivals) == 1:
            self.notify("r on another option compares the two; Escape ends it", timeout=3)
        self._turn_to(self._rivals, reads=len(self._rivals) == 2)

    def action_back(self) -> None:
        """Set no options against each other, and give the table its room."""
        self._turn_to()

    def _turn_to(
        self, rivals: tuple[str, ...] = (), *, frontier: bool = False, reads: bool = False
    ) -> None:
        """Show another page, with more room for it where it is there to be read."""
        self._rivals, self._shows_frontier, self._reads = rivals, frontier, reads
        self.query_one("#options-body").set_class(reads, "-reading")
        self.refresh_bindings()
        self._draw_table()
        self._draw_page()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:  # noqa: ARG002
        """Leave Escape to the screen where it has nothing to do here."""
        return bool(self._rivals) or self._reads if action == "back" else True

    def action_frontier(self) -> None:
        """Show what more money buys."""
        self._turn_to(frontier=True, reads=True)

    def _draw_page(self) -> None:
        if self._shows_frontier:
            self._draw_frontier()
        elif len(self._rivals) == 2:
            self._draw_rivals()
        elif self.chosen in self.options:
            self._work_out_break_even()
        else:
            self._page_of = None
            self.page.show_text("No option here: a adds one.")

    def _work_out_break_even(self) -> None:
        session, answer = self.session, self.session.answered
        base, per_second = answer.base, session.race.money_terms.per_second
        gain = next(one for one in answer.gains if one.option.name == self.chosen)
        if gain is self._page_of:
            return
        self._page_of = gain
        page, gained = self.page, gain_line(gain)
        advised = self._advised.get(gain.option.name)
        first, second = gained, list[Line]()
        if advised:
            name, _, *alone = gained
            what = do_words(replace(advised, short=""))
            first = name, ": ", what, ", because ", quoted(advised.because)
            second = [("Alone ", *alone, ".")]
        page.show(lambda: Sheet(first, [Lines([*second, "working it out ..."])]))

        def done(found: BreakEvens) -> None:
            made = BreakEvenAnswer(base.time, found, Basis.of(base))
            sheet = break_even_sheet(made, session.units)
            pays = "Break-even: ", *sheet.headline[2:], "."
            blocks = [Lines([*second, pays]), *map(in_short, sheet.blocks)]
            page.show(lambda: replace(sheet, headline=first, blocks=blocks))

        against = Against(per_second)
        self.work_out(ONE_PAGE, "", lambda: break_evens(base, gain.option, against), done)

    def _draw_rivals(self) -> None:
        self._page_of = None
        base, units, page = self.session.answered.base, self.session.units, self.page
        one, other = self._rivals
        page.show_text("riding with each of them ...")

        def work() -> Rivals:
            return rivals_of(base, (one,), (other,), self.session.race.money_terms.per_second)

        def done(found: Rivals) -> None:
            made = AgainstAnswer(base.time, found, Basis.of(base))
            if self._rivals == (one, other):
                page.show(lambda: against_sheet(made, units))

        self.work_out(ONE_PAGE, "", work, done)

    def _draw_frontier(self) -> None:
        self._page_of = None
        page = self.page
        if self._ladder is not None:
            gains, units = self.session.answered.gains, self.session.units
            sheet = ladder_sheet(
                self._ladder, gains, self._cost_and_seconds(), currency_of(gains), units
            )
            page.show(lambda: replace(sheet, blocks=list(map(self._to_fit, sheet.blocks))))
            return
        page.show_text("working out what more money buys ...")
        base, options = self.session.answered.base, list(self.options.values())

        def work() -> tuple[Rung, ...]:
            labels = "solving options", "climbing the ladder"
            return ladder_of_race(base, options, *(partial(tracked, label=one) for one in labels))

        def done(found: tuple[Rung, ...]) -> None:
            self._ladder = found
            if self._shows_frontier:
                self._draw_frontier()

        def stopped() -> None:
            page.show_text("stopped; v works it out")

        self.work_out("ladder", "what money buys", work, done, stopped)

    def _to_fit(self, block: Block) -> Block:
        """The steps of money as lines where a table would be too narrow for its names."""
        if not isinstance(block, Table) or self.page.columns >= ROOMY:
            return block
        return Lines([step_words(step) for step in self._ladder or ()], block.title)

    def _cost_and_seconds(self) -> tuple[float, float] | None:
        if self._together is None or self._together.value.unpriced:
            return None
        value = self._together.value
        return float(value.cash or 0), value.saved_s

    # --- changing options --------------------------------------------------------------------

    def action_edit(self) -> None:
        """Open the option under the cursor as a form."""
        names = [entry.get("name") for entry in self.session.draft.entries("option")]
        if self.chosen in names:
            self.post_message(EntryChosen("option", names.index(self.chosen)))

    def action_add(self) -> None:
        """Add an option and open it as a form."""
        self.post_message(EntryChosen("option", None))
