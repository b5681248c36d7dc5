"""The screen goes to places, fields, options and questions, and gives back what is shown there."""

from collections.abc import Iterator, Mapping
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from textual import on, work
from textual.binding import Binding
from textual.widgets import ContentSwitcher, DataTable, Input, OptionList, Tabs

from racecalc.answers.sheet import Lines, Sheet
from racecalc.decisions.comparison import Outlook
from racecalc.errors import InputError, RacecalcError
from racecalc.files.draft import Spot
from racecalc.files.race_keys import LISTS, RACE_KEYS
from racecalc.files.race_values import stepped
from racecalc.files.race_writing import from_typed, refuse_to_write, write_new_file
from racecalc.views.command_line import QUESTIONS
from racecalc.views.workspace.entry_screen import EntryScreen, opened_field
from racecalc.views.workspace.finder import Finder, Finding, findings_at
from racecalc.views.workspace.form import KeyField, RaceForm, field_of
from racecalc.views.workspace.place import Page, Place
from racecalc.views.workspace.places import FIRST, WAYS
from racecalc.views.workspace.session import WorkSession
from racecalc.views.workspace.work_screen import WorkScreen

if TYPE_CHECKING:
    from racecalc.answers.advice import AdviceAnswer


class GoingScreen(WorkScreen):
    """A screen of places, that goes to whatever is asked for."""

    def __init__(self, session: WorkSession) -> None:
        super().__init__()
        self.session = session
        self._advising: Outlook | None = None

    def take_typed(self) -> None:
        """Write into the draft what was typed and will do."""
        raise NotImplementedError

    def show_draft(self) -> None:
        """Show the draft in every field, and work it out."""
        raise NotImplementedError

    def action_undo(self) -> None:
        """Take the last change back."""
        raise NotImplementedError

    def action_save(self) -> object:
        """Save the race file."""
        raise NotImplementedError

    def advise(self) -> None:
        """Make the advice on the last good answer for every place that shows some of it."""
        session, outlook = self.session, self.session.answered
        if self._advising is outlook:
            return
        self._advising = outlook
        path, text, units = session.path, session.outlook_text, session.units

        def make() -> "tuple[AdviceAnswer, Sheet]":
            # What writes pages is loaded on the thread, as it takes its time.
            from racecalc.views.advice import PageRequest, advice_on

            return advice_on(path, PageRequest(units=units), text)

        def done(found: "tuple[AdviceAnswer, Sheet]") -> None:
            session.advised = (outlook, *found)
            ended()

        def ended(problem: RacecalcError | None = None) -> None:
            self._advising = None
            for place in self.query(Place) if outlook is session.outlook else ():
                place.take_advice(problem)

        self.begin("advice", "making the advice", make, done, ended, stopped=ended)

    # --- places ------------------------------------------------------------------------------

    @property
    def front(self) -> Place:
        """The place that is looked at."""
        switcher = self.query_one(ContentSwitcher)
        return switcher.query_one(f"#{switcher.current}", Place)

    async def action_place(self, name: str) -> None:
        """Bring a place to the front, made if it is not there yet."""
        switcher, wanted = self.query_one(ContentSwitcher), f"place-{name.lower()}"
        if not switcher.query(f"#{wanted}"):
            way = next(one for one in WAYS if name == one.name)
            await switcher.mount(way.load()(self.session, name))
        if switcher.current != wanted:
            switcher.current = wanted
            self.query_one(Tabs).active = f"tab-{name.lower()}"
            self.front.look()
            self.front.take_focus()

    @on(Tabs.TabActivated)
    async def _tab(self, event: Tabs.TabActivated) -> None:
        name = str(event.tab.id).removeprefix("tab-")
        await self.action_place(next(one.name for one in WAYS if one.name.lower() == name))

    def rest(self) -> None:
        """Leave the field, for where the keys of the place work."""
        self.front.rest()

    @property
    def form(self) -> RaceForm:
        """The form of the race file, which is there from the start."""
        return self.query_one(RaceForm)

    # --- going to what is found, and what is done there ---------------------------------------

    def action_find(self) -> None:
        """Find anything by its words, and go there."""
        self.take_typed()
        self.app.push_screen(Finder(partial(findings_at, self)), self._found)

    def _found(self, chosen: Finding | None) -> None:
        if chosen:
            self.call_later(self._go, chosen)

    async def _go(self, chosen: Finding) -> None:
        entry = self.app.screen
        if isinstance(entry, EntryScreen) and not entry.left():
            return
        async with self.app.on_the_way():  # type: ignore[attr-defined]
            await chosen.go()

    async def go_to_field(self, spot: Spot, value: str | None = None) -> None:
        """Open a field, with a value put into it if one is given."""
        if value is not None:
            self._write_at(spot, from_typed(RACE_KEYS[spot.table][spot.key], value))
        if spot.table in LISTS:
            entry = EntryScreen(self.session, spot.table, spot.number, self)
            await self.app.push_screen(entry)
            form = entry.fields
        else:
            await self.action_place(FIRST)
            form = self.form
        field = await opened_field(form, spot, self.session.draft)
        field.focus_input()
        self._bring_into_view(field)

    def _bring_into_view(self, field: KeyField, tries: int = 50) -> None:
        """Scroll to a field as soon as the place that was just come to is laid out."""
        if field.region.height or not tries:
            field.scroll_visible(animate=False)
        else:
            self.set_timer(0.02, partial(self._bring_into_view, field, tries - 1))

    async def go_to_option(self, name: str) -> None:
        """Go to an option in the table of them."""
        await self.action_place("Options")
        table = self.front.query_one(DataTable)
        if name in [key.value for key in table.rows]:
            table.move_cursor(row=table.get_row_index(name))

    async def go_to_place(self, name: str, part: str = "", value: str = "") -> None:
        """Go to a place, and in it to a field, with a value if one is given."""
        await self.action_place(name)
        if part:
            field = self.front.query_one(f"#{part}")
            if isinstance(field, Input) and value:
                field.value = value
            field.focus()

    async def ask(self, command: str, sentence: str, given: Mapping[str, str]) -> None:
        """Ask a question, some of its wishes given."""
        await self.action_place("Ask")
        await self.front.turn_to(command, sentence, given)  # type: ignore[attr-defined]

    async def ask_about(self, name: str, what: str) -> None:
        """Go to the answer of a question about an option."""
        if what == "test":
            await self.action_place("Evidence")
            listed = self.front.query_one(OptionList)
            lines = [str(one.prompt) for one in listed.options]
            at = [number for number, line in enumerate(lines) if line.endswith(f" {name}")]
            listed.highlighted = at[0] if at else listed.highlighted
            return
        entries = self.session.draft.entries("option")
        saves = next((one.get("saves", "") for one in entries if one.get("name") == name), "")
        given = {
            "breakeven": {"name": name},
            "plan": {"items": f"Baseline; {name}", "difference": str(saves)},
            "decide": {},
            "against": {"first": name, "second": ""},
        }
        await self.ask(what, QUESTIONS[what][0], given[what])

    async def act(self, action: str) -> None:
        """Do what is done at a key, in the place that has it."""
        name, _, way = action.partition("@")
        if way:
            await self.action_place(way)
        await self.front.run_action(name) if way else await self.run_action(name)

    def keys_here(self) -> Iterator[tuple[str, str, str]]:
        """Name, meaning and action of what keys do in the places that were seen."""
        for place in self.query(Place):
            for one in place.BINDINGS:
                if isinstance(one, Binding) and one.show and not one.action.startswith("screen."):
                    meaning = f"{place.name}, {one.key}: {one.tooltip or one.description}"
                    yield one.description, meaning, f"{one.action}@{place.name}"

    def action_step(self, steps: int) -> None:
        """Let the value that has the focus go up or down."""
        self.step(field_of(self.focused) if self.focused else None, steps)

    def step(self, field: KeyField | None, steps: int) -> None:
        """Let the value of a field go up or down by so many steps."""
        if field is None:
            self.notify("no value has the focus", timeout=2)
            return
        self.take_typed()
        try:
            value = stepped(field.key, field.typed, steps)
        except InputError as error:
            self.say_problem(error)
            return
        self._write_at(field.spot, from_typed(field.key, value))

    def _write_at(self, spot: Spot, value: object) -> None:
        try:
            self.session.draft.write(spot, value)
        except InputError as error:
            self.say_problem(error)
            return
        self.show_draft()

    # --- what is shown, elsewhere --------------------------------------------------------------

    def action_copy_text(self) -> None:
        """Copy what is marked, else the table that has the focus, else the page."""
        marked = self.get_selected_text()
        table = self.focused if isinstance(self.focused, DataTable) else None
        if marked:
            what, text = "what is marked", marked
        elif table:
            what, text = "the table", "\n".join(_rows(table, "\t"))
        else:
            what, text = "the page", self._text_here()
        self.app.copy_to_clipboard(text)
        self.notify(f"{what} copied", timeout=2)

    def _text_here(self) -> str:
        page = next(iter(self.front.query(Page)), None)
        return page.text if page else "\n".join(self._table_here())

    def _table_here(self) -> list[str]:
        table = next(iter(self.front.query(DataTable)), None)
        return _rows(table, "  ") if table else []

    @work(exclusive=True, group="export")
    async def action_write(self) -> None:
        """Write what the place makes, or its page, to a file by the ending of its name."""
        if hasattr(self.front, "action_export"):
            self.front.action_export()
            return
        if not self.front.ready:
            self.notify("there is nothing to write yet", timeout=2)
            return
        # What writes pages is loaded with the first page that is written.
        from racecalc.views.advice import form_of, written

        page, units = next(iter(self.front.query(Page)), None), self.session.units
        sheet = page.sheet if page else Sheet(self.front.name or "", [Lines(self._table_here())])

        def check(path: Path) -> None:
            form_of(path)
            refuse_to_write(path)

        def write(path: Path) -> None:
            write_new_file(path, written(sheet, form_of(path), units))

        question = "Write this page to which file? (.html, .pdf, .md, .txt)"
        suggested = f"{self.session.path.stem}_{(self.front.name or '').lower()}.html"
        await self.front.write_asking(question, suggested, check, write)


def _rows(table: DataTable[object], between: str) -> list[str]:
    """The heading and the rows of a table as text."""
    heading = [str(column.label) for column in table.columns.values()]
    rows = [map(str, table.get_row_at(number)) for number in range(table.row_count)]
    return [
        between.join(cell.strip() if between == "\t" else cell for cell in row)
        for row in (heading, *rows)
    ]
