"""The screen of one race file: its places, its draft, its keys."""

import asyncio
import gc
from collections.abc import Callable
from functools import partial
from itertools import count
from pathlib import Path
from typing import Any, ClassVar

from textual import on, work
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal
from textual.events import DescendantBlur
from textual.widgets import (
    ContentSwitcher,
    Static,
    Tab,
    Tabs,
)

from racecalc.answers.cells import several
from racecalc.answers.compare import time_against
from racecalc.decisions.comparison import compared
from racecalc.errors import InputError, RacecalcError
from racecalc.files.race_writing import as_typed
from racecalc.quantities.clock import show_duration
from racecalc.views.workspace.dialogs import STEPPING, TextDialog, TextScreen, may_replace
from racecalc.views.workspace.entry_screen import EntryScreen
from racecalc.views.workspace.file_watch import QUIET, FileWatch
from racecalc.views.workspace.form import EntryChosen, KeyField
from racecalc.views.workspace.going_screen import GoingScreen
from racecalc.views.workspace.help_text import COLUMNS, EDGES, KeyLine, help_text
from racecalc.views.workspace.place import LEAST_COLUMNS, Place
from racecalc.views.workspace.places import FIRST, WAYS
from racecalc.views.workspace.session import (
    NOW,
    Version,
    WorkSession,
    what_if_path,
    worked_out,
)
from racecalc.views.workspace.work_screen import (
    LINE,
    DraftChanged,
    Typed,
    seconds_since,
    show_or_hide,
)

# --- The screen of one race file -----------------------------------------------------------------

PAUSE = 0.15
"""Seconds without a key after which a draft is worked out; common practice, no source."""

KEEPING = 0.5
"""Seconds between looks whether there is something unsaved to keep beside the file."""

NEW_ENTRIES: dict[str, dict[str, object]] = {
    "option": {"name": "New option"},
    "course.section": {"from": "0 km", "to": "1 km"},
    "course.landmark": {"at": "1 km", "name": "New landmark"},
}
"""What a table that is added to a list says at first."""


class DeskScreen(GoingScreen):
    """One race file, looked at from one place at a time."""

    # To the library these are no class variables.
    HORIZONTAL_BREAKPOINTS = [(0, "-narrow"), (110, "-wide")]  # noqa: RUF012
    VERTICAL_BREAKPOINTS = [(0, "-tiny"), (16, "-low"), (34, "-high")]  # noqa: RUF012

    BINDINGS: ClassVar = [
        Binding("f1,alt+1", "help", "Help"),
        Binding("ctrl+s", "save", "Save"),
        Binding("ctrl+z", "undo", "Undo"),
        Binding("ctrl+y", "redo", "Redo", show=False),
        Binding("ctrl+t,alt+k", "keep", "Keep what-if", show=False),
        Binding("ctrl+g", "hold", "Compare with now", show=False),
        Binding("ctrl+f,ctrl+p,alt+f", "find", "Find", priority=True),
        Binding("ctrl+e", "write", "Write the page", show=False, priority=True),
        *STEPPING,
        Binding("escape", "stop", "Stop work", show=False),
        *(
            Binding(f"f{number},alt+{number}", f"place('{way.name}')", way.name, show=False)
            for number, way in enumerate(WAYS, 2)
        ),
    ]

    def __init__(self, session: WorkSession) -> None:
        super().__init__(session)
        self._kept, self._unkept = session.draft.saved, False
        self._watch = FileWatch(self, session)

    def compose(self) -> ComposeResult:
        """A line on what is open, the places, what is going on, and the keys."""
        with Horizontal(id="title"):
            yield Static("", id="title-file", markup=False)
            yield Static("", id="title-time", markup=False)
        yield Tabs(
            *(
                Tab(f"F{number} {way.name}", id=f"tab-{way.name.lower()}")
                for number, way in enumerate(WAYS, 2)
            ),
            id="places",
        )
        yield ContentSwitcher(id="front")
        yield Static("", id="trouble", markup=False)
        yield Static("", id=LINE, markup=False)
        yield KeyLine("", id="keys")

    async def on_mount(self) -> None:
        """Show the first place at once and begin to work it out."""
        self.query_one(Tabs).can_focus = False
        await self.action_place(FIRST)
        self._draw_title()
        # What solving imports would hold up the first sight of the screen.
        self.call_after_refresh(self.solve)
        self.set_interval(KEEPING, self._look_after_file)

    def on_unmount(self) -> None:
        """Let the next that opens the file have its recovery copy."""
        self.session.recovery.release()

    def on_resize(self) -> None:
        """Say in the title what there is room for."""
        self._draw_title()

    # --- from typing to numbers --------------------------------------------------------------

    @on(Typed)
    def _something_typed(self, event: Typed) -> None:
        event.stop()
        self.solve_soon(max(PAUSE, event.patience) - seconds_since(event.typed_at))

    @on(DescendantBlur)
    def _left_field(self, _: DescendantBlur) -> None:
        self.session.draft.end_step()

    def fields(self) -> list[KeyField]:
        """Those of the form, and of a table that is open on its own."""
        return [field for form in (self.form, *self._entries()) for field in form.query(KeyField)]

    def take_typed(self) -> None:
        """Write into the draft what was typed and will do; called whenever the draft matters."""
        draft = self.session.draft
        for field in self.fields():
            if not field.touched:
                continue
            value = field.look_at()
            if field.problem:
                continue
            field.touched = False
            if as_typed(value) == as_typed(draft.value(field.spot)):
                continue
            try:
                draft.write(field.spot, value)
            except InputError as error:
                self.say_problem(error)

    @on(EntryChosen)
    def _entry(self, event: EntryChosen) -> None:
        event.stop()
        self.take_typed()
        try:
            number = self._added(event.table) if event.number is None else event.number
        except InputError as error:
            self.say_problem(error)
            return
        self.app.push_screen(EntryScreen(self.session, event.table, number, self))

    def _added(self, table: str) -> int:
        """The number of a new table of a list, named as none of the others is."""
        draft, values = self.session.draft, NEW_ENTRIES[table]
        taken = {entry.get("name") for entry in draft.entries(table)}
        name = values.get("name")
        if name in taken:
            others = (f"{name} {number}" for number in count(2))
            values = {**values, "name": next(one for one in others if one not in taken)}
        return draft.add(table, values)

    @on(DraftChanged)
    def _changed(self, event: DraftChanged) -> None:
        event.stop()
        self._refill()
        self.solve_soon()

    def show_draft(self) -> None:
        """Show the draft in every field, and work it out."""
        self._refill()
        self.solve()

    def _refill(self) -> None:
        """Show the draft in every field and row."""
        self.form.refill(self.session.draft)
        for entry in self._entries():
            entry.refill()

    @work(exclusive=True, group="pause")
    async def solve_soon(self, pause: float = PAUSE) -> None:
        """Work the draft out once no key came for so many seconds."""
        await asyncio.sleep(pause)
        # The screen may have gone meanwhile, and its parts before it.
        if self.query(Place):
            self.solve()

    def solve(self) -> None:
        """Work the draft out, and what it is compared with if that is not known."""
        self.take_typed()
        self._draw_title()
        session = self.session
        if self._watch.differing():
            session.read_files_anew()
        now = Version(NOW, session.path, session.draft.text)
        reference, known = session.reference, session.reference_outlook is not None
        same = (reference.path, reference.text) == (now.path, now.text)

        def both() -> tuple[Any, ...]:
            with self._watch.reading():
                after = worked_out(now)
            if same:
                return after, reference, after
            if known:
                return after, None, None
            try:
                before = worked_out(reference)
            except RacecalcError:
                # A file that could not be ridden as it was opened is nothing to compare with.
                before = None
            return after, reference, before

        self.begin("solving", "", both, lambda found: self._solved(now, *found), self._unsolved)

    def _solved(self, now: Version, after: Any, reference: Version | None, before: Any) -> None:
        session = self.session
        if now.text != session.draft.text:
            return
        if session.outlook is None:
            # What was loaded by now stays: looking through it for rubbish would stall the keys.
            self.set_timer(PAUSE, gc.freeze)
        session.problem = None
        rests_on = now.text, session.changed_files
        if session.outlook is None or session.asked_of != rests_on:
            # The same has the same answer, and no place need work anything out anew.
            session.outlook, session.asked_of = after, rests_on
        if reference is session.reference:
            session.reference_outlook = session.outlook if before is after else before
        self._draw_title()
        for part in (*self.query(Place), *self._entries()):
            part.outdate()

    def _unsolved(self, problem: RacecalcError) -> None:
        self.session.problem = problem
        self._draw_title()
        for part in (*self.query(Place), *self._entries()):
            part.refuse()

    def _entries(self) -> list[EntryScreen]:
        return [one for one in self.app.screen_stack if isinstance(one, EntryScreen)]

    def _draw_title(self) -> None:
        session = self.session
        mark = " *unsaved*" if session.draft.unsaved else ""
        # Laying the whole screen out anew would take longer than solving.
        name, line = f"{session.path.name}{mark}", self.query_one("#title-file", Static)
        line.update(name, layout=name != line.content)
        room = self.size.width - len(session.path.name) - len(mark) - 2
        self.query_one("#title-time", Static).update(_time_words(session, room), layout=False)
        trouble = self.query_one("#trouble", Static)
        show_or_hide(trouble, shown=session.problem is not None)
        if session.problem:
            stays = ", the numbers are the last valid ones" if session.outlook else ""
            trouble.update(f"! Not worked out{stays}: {session.problem}")

    def action_undo(self) -> None:
        """Take the last change back."""
        self.take_typed()
        draft = self.session.draft
        refused = [field for field in self.fields() if field.problem]
        for field in refused:
            field.refill(draft.value(field.spot))
        if not refused:
            self._step(draft.undo if draft.can_undo else None, "nothing to undo")

    def action_redo(self) -> None:
        """Make the change again that was taken back."""
        self.take_typed()
        draft = self.session.draft
        self._step(draft.redo if draft.can_redo else None, "nothing to redo")

    def _step(self, step: Callable[[], None] | None, otherwise: str) -> None:
        if step is None:
            self.notify(otherwise, timeout=2)
            return
        step()
        self._refill()
        self.solve_soon()

    # --- saving, and versions of the file -----------------------------------------------------

    def _look_after_file(self) -> None:
        self.keep_unsaved()
        typed = seconds_since(self.app.last_key_at) < QUIET  # type: ignore[attr-defined]
        if self._watch.look(at_rest=not typed and self.app.screen is self):
            self._ask_of_others()
        if written := self._watch.written():
            names = " and ".join(written)
            self.notify(f"{names} changed on disk: worked out anew", timeout=8, markup=False)
            self.solve()

    @work
    async def _ask_of_others(self) -> None:
        # Mine is kept by saving where the file cannot be read any more.
        if await self._watch.settled("later") == "mine" and self.session.draft.changed_on_disk():
            self._write()

    def keep_unsaved(self) -> None:
        """Keep what is unsaved beside the file, if it changed since it was kept last."""
        text = self.session.draft.text
        if text == self._kept:
            return
        try:
            self.session.keep_unsaved()
        except InputError as error:
            if not self._unkept:
                said = f"unsaved changes cannot be kept: {error}"
                self.notify(said, severity="warning", markup=False)
            self._unkept = True
        else:
            self._kept, self._unkept = text, False

    @work
    async def action_save(self) -> None:
        """Save, unless a field says something that will not do."""
        await self.save_asking()

    def refused(self) -> list[KeyField]:
        """Take what was typed; the fields whose content will not do."""
        self.take_typed()
        return [field for field in self.fields() if field.problem]

    async def all_taken(self) -> bool:
        """Take what was typed; whether all of it will do, else the focus goes where it does not."""
        wrong = self.refused()
        if not wrong:
            return True
        if wrong[0].screen is self:
            await self.action_place(FIRST)
        wrong[0].focus_input()
        self.notify(f"{wrong[0].spot}: fix or clear it first", severity="warning")
        return False

    async def save_asking(self, path: Path | None = None) -> bool:
        """Save, to another file if one is named; whether it is done.

        Asks first where the file on disk is no longer the one that was read.
        """
        if not await self.all_taken():
            return False
        draft = self.session.draft
        own = path is None or path.resolve() == draft.path.resolve()
        if own and draft.changed_on_disk() and await self._watch.settled("stay") != "mine":
            return False
        return self._write(path)

    def _write(self, path: Path | None = None) -> bool:
        draft = self.session.draft
        try:
            self.session.save(path)
        except InputError as error:
            self.say_problem(error)
            return False
        self._kept = draft.text
        self._watch.take_for_known()
        self.notify(f"{draft.path.name} saved", timeout=2, markup=False)
        self.solve()
        return True

    @work
    async def action_text(self) -> None:
        """Show the race file as text."""
        if await self.all_taken() and not await self._watch.show_text():
            # Leaving the text drops the copy of the draft.
            self._kept = self.session.draft.saved

    @work
    async def action_editor(self) -> None:
        """Save, let the user's own editor change the file, and read it again."""
        if not self.session.draft.unsaved or await self.save_asking():
            self._watch.edit()

    @work
    async def action_keep(self) -> None:
        """Keep the race as it is now as a what-if under a name, beside the file."""
        if not await self.all_taken():
            return
        session = self.session
        name = await self.app.push_screen_wait(
            TextDialog(
                "Keep this what-if under which name?", check=partial(what_if_path, session.path)
            )
        )
        if name is None:
            return
        path = what_if_path(session.path, name)
        if path.exists() and not await may_replace(self.app, path):
            return
        try:
            session.keep_version(path)
        except InputError as error:
            self.say_problem(error)
            return
        self.notify(f"kept as {path.name}; compare it under F7 Compare", markup=False)
        for place in self.query(Place):
            place.outdate()

    def action_hold(self) -> None:
        """Compare with the race as it is now, from here on; again to compare with the file."""
        session = self.session
        now = Version("what was held", session.path, session.draft.text)
        if session.reference.text == now.text:
            session.compare_with_saved()
        else:
            session.compare_with(now)
        self.notify(f"compared with {session.reference.name}", timeout=3)
        self.solve()

    # --- help --------------------------------------------------------------------------------

    def action_help(self) -> None:
        """Explain the field or the place that has the focus."""
        columns = min(COLUMNS, max(self.size.width - EDGES, LEAST_COLUMNS))
        self.app.push_screen(TextScreen(help_text(self.front, self.focused, columns)))


def _time_words(session: WorkSession, room: int) -> str:
    """The time, with what is in use and against what it is compared, as far as there is room."""
    if session.outlook is None:
        return ""
    base = session.outlook.base
    time, against = show_duration(base.time), ""
    if session.reference_outlook not in (None, session.outlook):
        found = compared(session.reference_outlook, session.outlook)
        against = f", {time_against(found.time_s)} {session.reference.name}"
    if not base.race.use:
        return f"{time}{against}"
    names = ["".join(map(str, several(base.race.use, most))) for most in (len(base.race.use), 2)]
    bare = f"as you are {show_duration(base.bare.time)} > with"
    said = [f"{bare} {name} {time}" for name in (*names, f"{len(base.race.use)} in use")]
    wanted = [f"{said[0]}{against}", f"{said[1]}{against}", *said]
    return next((words for words in wanted if len(words) <= room), said[-1])
