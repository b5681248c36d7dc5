"""The terminal interface: opens, makes and leaves race files."""

import os
import select
import sys
import time
from collections import deque
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from functools import partial
from pathlib import Path
from threading import Thread
from typing import ClassVar

from textual import work
from textual.app import App, ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.content import Content
from textual.events import Event, Key
from textual.message import Message
from textual.screen import Screen
from textual.timer import Timer
from textual.widgets import Button, Footer, Static

from racecalc.errors import InputError
from racecalc.files.draft import (
    Draft,
    faults_of,
    recent_files,
    remember_file,
    remember_word,
    remembered_word,
)
from racecalc.files.opening import read_text
from racecalc.files.race_writing import write_new_file, write_starting_files
from racecalc.files.recovery import KeptCopy, Recovery, drop_copy
from racecalc.quantities.showing import System
from racecalc.views.workspace.desk_screen import DeskScreen
from racecalc.views.workspace.dialogs import (
    WALKING,
    ChoiceDialog,
    FileDialog,
    asked_path,
    may_replace,
    short,
)
from racecalc.views.workspace.drawing import THEMES
from racecalc.views.workspace.finder import Finder, Finding, found
from racecalc.views.workspace.places import ACTIONS
from racecalc.views.workspace.session import WorkSession, what_if_path
from racecalc.views.workspace.work_screen import OwnTextScreen

# --- What is shown before a race file is open ----------------------------------------------------

WELCOME = """\
racecalc turns field-tested watts into seconds and money on your own course.

Everything rests on a race file: rider, bike, air, course, and the options you could buy or test. \
Open one, or let racecalc write a commented one to start from.
"""


class StartScreen(Screen[None]):
    """Recent race files, and how to open or make one."""

    BINDINGS: ClassVar = [
        *WALKING,
        Binding("ctrl+o", "app.open_race", "Open"),
        Binding("ctrl+n,alt+n", "app.new_race", "New"),
        Binding("ctrl+f,ctrl+p,alt+f", "find", "Find"),
        Binding("ctrl+q,alt+q", "app.leave", "Leave"),
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
            yield Button("Open another race file", name="open_race", compact=True)
            yield Button("Make a new one from the template", name="new_race", compact=True)
        yield Footer(compact=True)

    def on_button_pressed(self, event: Button.Pressed) -> None:
        """Open what was chosen."""
        event.stop()
        self._go(event.button.name or "")

    def _go(self, name: str) -> None:
        if name.isdecimal():
            self.app.call_later(self.app.open_race, self._recent[int(name)])  # type: ignore[attr-defined]
        else:
            self.app.call_later(self.app.run_action, name)

    def action_find(self) -> None:
        """Find a recent race file or an action by its words."""
        ways = [(short(path), "open it", str(at)) for at, path in enumerate(self._recent)]
        own = [one for one in ACTIONS if one[2].startswith("app.") and one[2] != "app.save_as"]

        async def go(name: str) -> None:
            self._go(name)

        listed = [Finding(name, about, partial(go, way)) for name, about, way in (*ways, *own)]
        self.app.push_screen(Finder(lambda query: found(query, listed)), self._found)

    def _found(self, chosen: Finding | None) -> None:
        if chosen:
            self.call_later(chosen.go)


# --- A terminal that vanishes --------------------------------------------------------------------

HANGUP_STATUS = 129
"""Exit status of a program that its terminal has left; common practice, no source."""

LOOKING = 0.5
"""Seconds between looks whether the terminal is there; our choice."""


def wait_for_hangup(terminal: int) -> None:
    """Come back once nobody is at the other end of a terminal any more."""
    looking = select.poll()
    looking.register(terminal, 0)
    while not any(found & (select.POLLHUP | select.POLLNVAL) for _, found in looking.poll(0)):
        time.sleep(LOOKING)


# --- Keys in a burst -----------------------------------------------------------------------------

LONGEST_KEY = 2.0
"""Seconds after which the next key is taken, whatever became of the last; our choice."""


GOING = 0.02
"""Seconds between looks whether one has arrived; our choice."""


class KeyDone(Message):
    """Follows a key on its way, so that it arrives after all that the key did."""

    def __init__(self, number: int, rounds: int) -> None:
        super().__init__()
        self.number, self.rounds = number, rounds


# --- The application -----------------------------------------------------------------------------


class Workspace(App[None]):
    """racecalc on the screen."""

    TITLE = "racecalc"
    CSS_PATH = "styles.tcss"
    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar = [
        Binding("ctrl+o", "open_race", "Open", show=False),
        Binding("ctrl+n,alt+n", "new_race", "New", show=False),
        Binding("ctrl+q,alt+q", "leave", "Leave", show=False, priority=True),
    ]

    def __init__(self, path: Path | None = None, units: System = "metric") -> None:
        super().__init__()
        for one in THEMES:
            self.register_theme(one)
        # Known from the start: another theme later would be a second reading of all styles.
        theme = remembered_word("theme") or ""
        known = theme if theme in self.available_themes else THEMES[0].name
        self.set_reactive(Workspace.theme, known)
        self.stylesheet.set_variables(self.get_css_variables())
        # What moves by itself is work for nothing, most of all over a slow connection.
        self.animation_level = "none"
        self._path, self.units = path, units
        self._keys: deque[Key] = deque()
        self._key_number = 0
        self._key_timer: Timer | None = None
        self.last_key_at = 0.0
        self._on_the_way = 0

    async def on_event(self, event: Event) -> None:
        """Take one key after the other: each goes where those before it have led."""
        if not isinstance(event, Key) or event.is_forwarded:
            await super().on_event(event)
            return
        self._keys.append(event)
        self.last_key_at = event.time
        if self._key_timer is None:
            await self._next_key()

    async def _next_key(self) -> None:
        if self._key_timer:
            self._key_timer.stop()
            self._key_timer = None
        if not self._keys:
            return
        self._key_number += 1
        self._key_timer = self.set_timer(LONGEST_KEY, self._next_key)
        await super().on_event(self._keys.popleft())
        # The second round is behind what the key has sent, such as a field that is done.
        self._follow_key(rounds=1)

    def _follow_key(self, rounds: int) -> None:
        (self.focused or self.screen).post_message(KeyDone(self._key_number, rounds))

    async def on_key_done(self, event: KeyDone) -> None:
        """Take the next key."""
        event.stop()
        if event.number != self._key_number:
            return
        if event.rounds:
            self._follow_key(event.rounds - 1)
        elif self._on_the_way:
            self.set_timer(GOING, lambda: self._follow_key(rounds=0))
        else:
            await self._next_key()

    @asynccontextmanager
    async def on_the_way(self) -> AsyncIterator[None]:
        """Let no key be taken inside: it is meant for where one is going."""
        self._on_the_way += 1
        try:
            yield
        finally:
            self._on_the_way -= 1

    def on_mount(self) -> None:
        """Open the file, or offer those that were open before."""
        if sys.__stdin__ and sys.__stdin__.isatty() and hasattr(select, "poll"):
            watch = partial(self._end_at_hangup, sys.__stdin__.fileno())
            Thread(target=watch, name="hangup", daemon=True).start()
        self.theme_changed_signal.subscribe(self, lambda one: remember_word("theme", one.name))
        if self._path is None:
            self.push_screen(StartScreen(recent_files()))
        else:
            self.open_race(self._path)

    def _end_at_hangup(self, terminal: int) -> None:
        """Keep what is unsaved and end at once: drawing would wait for a terminal for ever."""
        wait_for_hangup(terminal)
        try:
            if self.desk_screen:
                self.desk_screen.take_typed()
                self.desk_screen.session.keep_unsaved()
            if isinstance(self.screen, OwnTextScreen):
                self.screen.keep_unsaved()
        finally:
            os._exit(HANGUP_STATUS)

    @property
    def desk_screen(self) -> DeskScreen | None:
        """The screen of the open race file; None where none is open."""
        return next((one for one in self.screen_stack if isinstance(one, DeskScreen)), None)

    @work
    async def open_race(self, path: Path) -> None:
        """Open a race file instead of the one that is open."""
        try:
            read_text(path)
            if await self._may_leave():
                await self._open(path)
        except InputError as error:
            if self.desk_screen is None and not isinstance(self.screen, StartScreen):
                self.push_screen(StartScreen(recent_files(), str(error)))
            else:
                self._say_problem(error)

    async def _open(self, path: Path) -> None:
        # Leaving may have saved this very file, or dropped what was kept of it.
        saved = read_text(path)
        if self.desk_screen:
            self.desk_screen.session.recovery.release()
        recovery = Recovery(path)
        try:
            text = await self._recovered(path, saved, recovery)
        except InputError:
            recovery.release()
            raise
        remember_file(path)
        while len(self.screen_stack) > 1:
            self.pop_screen()
        if any(fault.spot is None for one in {saved, text} for fault in faults_of(one)):
            self._mend(path, saved, text, recovery)
        else:
            self.push_screen(
                DeskScreen(WorkSession(Draft(path, saved, text), recovery, self.units))
            )

    def _mend(self, path: Path, saved: str, text: str, recovery: Recovery) -> None:
        """Show a file that cannot be opened as text; it is opened once it is mended."""

        def left(mended: str | None) -> None:
            recovery.release()
            if mended is None:
                self.push_screen(StartScreen(recent_files()))
            else:
                self.open_race(path)

        # Loaded with the first file that needs it: an editor of text takes longer than all else.
        from racecalc.views.workspace.text_screen import RaceTextScreen

        self.push_screen(RaceTextScreen(path, saved, text, recovery), left)

    async def _recovered(self, path: Path, saved: str, recovery: Recovery) -> str:
        """The text to go on with: of what was left unsaved, what the user says."""
        text, taken = saved, False
        for kept in recovery.left_behind(saved):
            answer = await self._wants(path, kept, taken)
            if answer == "take":
                text, taken = kept.text, True
                if kept.path == recovery.path:
                    continue
                recovery.keep(text, saved)
            if answer != "later" and (answer != "aside" or self._set_aside(path, kept)):
                self._drop(kept.path)
        return text

    def _drop(self, copy: Path) -> None:
        """Remove a copy of what was left unsaved."""
        try:
            drop_copy(copy)
        except InputError as error:
            self._say_problem(error)

    def _say_problem(self, problem: object) -> None:
        """Tell what went wrong, in passing."""
        self.notify(str(problem), severity="error", timeout=12, markup=False)

    async def _wants(self, path: Path, kept: KeptCopy, taken: bool) -> str:
        question = f"{path.name} was closed with unsaved changes on {kept.at:%d %B at %H:%M}."
        if taken:
            question += " These are others than those that are kept already."
        if kept.file_changed:
            question += "\nAnother program has changed the file since then."
        aside, drop = ("aside", "What-if: keep them beside it"), ("drop", "Discard them")
        answers = (aside, drop) if taken else (("take", "Keep them"), aside, drop)
        otherwise = "later" if taken else "take"
        return await self.push_screen_wait(ChoiceDialog(question, answers, otherwise))

    def _set_aside(self, path: Path, kept: KeptCopy) -> bool:
        """Keep what was left unsaved as a what-if; whether it is done."""
        try:
            target = what_if_path(path, f"unsaved {kept.at:%d %b %H.%M.%S}")
            write_new_file(target, kept.text)
        except InputError as error:
            self._say_problem(error)
            return False
        self.notify(f"kept as {target.name}; compare it under F7 Compare", markup=False)
        return True

    @work
    async def action_open_race(self) -> None:
        """Choose a race file and open it."""
        desk = self.desk_screen
        folder = desk.session.path.parent if desk else Path.cwd()
        path = await self.push_screen_wait(FileDialog(folder, recent_files()))
        if path is not None:
            self.open_race(path)

    @work
    async def action_new_race(self) -> None:
        """Write a commented race file and a course into a folder, and open it."""
        question = "New race: in which folder? It is created if needed."
        folder = await asked_path(self, question, "my_race", Path.cwd())
        if folder is None:
            return
        try:
            path, *_ = write_starting_files(folder)
        except InputError as error:
            self._say_problem(error)
        else:
            self.open_race(path)

    @work
    async def action_save_as(self) -> None:
        """Save the draft to another race file and continue with it."""
        desk = self.desk_screen
        if desk is None:
            return
        path = desk.session.path
        target = await asked_path(self, "Save as which file?", str(path), path.parent)
        if target is None:
            return
        if target.suffix != ".toml":
            target = target.with_name(f"{target.name}.toml")
        other = target.exists() and target.resolve() != path.resolve()
        if other and not await may_replace(self, target):
            return
        if not await desk.save_asking(target):
            return
        remember_file(target)
        if target.resolve().parent != path.resolve().parent:
            self.notify(
                "Its course and tests are looked for next to the new file: copy them there too.",
                severity="warning",
                timeout=12,
            )

    @work
    async def action_leave(self) -> None:
        """Leave racecalc, asking about what is unsaved."""
        at_work = any(isinstance(one, DeskScreen | OwnTextScreen) for one in self.screen_stack)
        if at_work and isinstance(self.screen, ChoiceDialog):
            return
        if await self._may_leave():
            self.exit()

    async def _may_leave(self) -> bool:
        """Whether the open file may be left: it is saved, saved now, or not to be saved."""
        desk = self.desk_screen
        if isinstance(self.screen, OwnTextScreen) and not await self.screen.may_leave():
            return False
        if desk is None:
            return True
        refused = desk.refused()
        if not refused and not desk.session.draft.unsaved:
            return True
        name = desk.session.path.name
        question = f"{name} has unsaved changes." if desk.session.draft.unsaved else ""
        for field in refused:
            words = f"{field.spot}: '{field.typed}' will not do: {field.problem}"
            question = f"{question}\n{words}".strip()
        answers = (("save", "Save"), ("drop", "Do not save"), ("stay", "Stay"))
        answer = await self.push_screen_wait(ChoiceDialog(question, answers, "stay"))
        if answer == "save":
            return await desk.save_asking()
        if answer == "drop":
            self._drop(desk.session.recovery.path)
        return answer == "drop"
