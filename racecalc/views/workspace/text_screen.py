"""The text of a race file, with all that is wrong in it, to be mended in place."""

import asyncio
import os
import shlex
import subprocess
from pathlib import Path
from typing import Any, ClassVar

from textual import work
from textual.app import App, ComposeResult, SuspendNotSupported
from textual.binding import Binding
from textual.timer import Timer
from textual.widgets import Footer, Static, TextArea

from racecalc.decisions.riding import load_measured
from racecalc.errors import InputError, RacecalcError
from racecalc.files.draft import faults_of
from racecalc.files.opening import read_text
from racecalc.files.race_writing import replace_file
from racecalc.files.recovery import Recovery
from racecalc.views.workspace.dialogs import ChoiceDialog
from racecalc.views.workspace.work_screen import OwnTextScreen

PAUSE = 0.3
"""Seconds without a key after which the text is looked at anew; our choice."""

KEEPING = 0.5
"""Seconds between looks whether there is something unsaved to keep beside the file."""

MOST_SHOWN = 6
"""Faults that are listed at once; our choice."""

NO_FAULTS = "Nothing wrong is left: Ctrl+S saves it and opens the race."


def run_editor(app: App[Any], path: Path) -> None:
    """Let the user's own editor change a file while the screen steps aside.

    Raises
    ------
    InputError
        If no editor is named, it cannot be started, or there is no terminal to show it on.
    """
    named = os.environ.get("VISUAL") or os.environ.get("EDITOR") or ""
    if not named.strip():
        raise InputError("VISUAL and EDITOR", "neither names an editor", "set one, as EDITOR=nano")
    try:
        with app.suspend():
            status = subprocess.run([*shlex.split(named), str(path)], check=False).returncode  # noqa: S603
    except SuspendNotSupported as error:
        raise InputError(named, "cannot be shown here", "edit the text on the screen") from error
    except (OSError, ValueError) as error:
        raise InputError(named, f"cannot be started ({error})", "set VISUAL or EDITOR") from error
    if status:
        raise InputError(named, f"ended with the status {status}", "the file is read as it is now")


class RaceTextScreen(OwnTextScreen):
    """Gives back the text that is to be gone on with; None where it is left.

    Parameters
    ----------
    path : Path
        The race file.
    saved : str
        What is in it.
    text : str
        Where to begin.
    recovery : Recovery
        Keeps what is unsaved meanwhile.
    """

    BINDINGS: ClassVar = [
        Binding("ctrl+s", "save", "Save", priority=True),
        Binding("ctrl+e", "editor", "Open in the editor", priority=True),
        Binding("f8", "next_fault", "Next fault"),
        Binding("escape", "leave", "Back", priority=True),
    ]

    def __init__(self, path: Path, saved: str, text: str, recovery: Recovery) -> None:
        super().__init__()
        self.path, self._saved, self._first, self._recovery = path, saved, text, recovery
        self._faults, self._misfit = faults_of(text), list[str]()
        self._at = 0
        self._timer: Timer | None = None
        self._kept, self._unkept = saved, False

    def compose(self) -> ComposeResult:
        """What is wrong above, the text below."""
        yield Static("", id="text-faults", markup=False)
        yield TextArea(
            self._first, id="race-text", show_line_numbers=True, soft_wrap=False, compact=True
        )
        yield Footer(compact=True)

    def on_mount(self) -> None:
        """Go to the first line that is wrong."""
        self._draw()
        self.query_one(TextArea).focus()
        self._go_to_fault()
        self.set_interval(KEEPING, self.keep_unsaved)

    @property
    def text(self) -> str:
        """As it is now."""
        return self.query_one(TextArea).text

    def on_text_area_changed(self, event: TextArea.Changed) -> None:
        """Look at it anew once no further key comes."""
        event.stop()
        if self._timer:
            self._timer.stop()
        self._timer = self.set_timer(PAUSE, self._look)

    @work(exclusive=True, group="look")
    async def _look(self) -> None:
        text = self.text
        self._faults = faults_of(text)
        if not self._faults:
            self._misfit = await asyncio.to_thread(self._unloaded, text)
        self._draw()

    def _draw(self) -> None:
        lines = [str(fault) for fault in self._faults] or self._misfit
        more = len(lines) - MOST_SHOWN
        shown = [*lines[:MOST_SHOWN], *([f"and {more} more"] if more > 0 else [])]
        count = f"{len(lines)} {'fault' if len(lines) == 1 else 'faults'}"
        heading = f"{self.path.name}: {count if lines else 'as text'}"
        told = [f"! {one}" for one in shown] if lines else [NO_FAULTS]
        self.query_one("#text-faults", Static).update("\n".join([heading, *told]))

    def _unloaded(self, text: str) -> list[str]:
        """What keeps a text without faults from being a race, such as a mass that is missing."""
        try:
            load_measured(self.path, text=text)
        except RacecalcError as error:
            return [str(error)]
        return []

    def _go_to_fault(self) -> None:
        if self._faults:
            line = self._faults[self._at % len(self._faults)].line
            self.query_one(TextArea).move_cursor((max(line - 1, 0), 0), center=True)

    def action_next_fault(self) -> None:
        """Go to the next line that is wrong."""
        self._at += 1
        self._go_to_fault()

    # --- keeping and saving ------------------------------------------------------------------

    def keep_unsaved(self) -> None:
        """Keep what is unsaved for the next start."""
        if self.text in (self._saved, self._kept):
            return
        try:
            self._recovery.keep(self.text, self._saved)
        except InputError as error:
            if not self._unkept:
                said = f"unsaved changes cannot be kept: {error}"
                self.notify(said, severity="warning", markup=False)
            self._unkept = True
        else:
            self._kept, self._unkept = self.text, False

    async def save_asking(self) -> bool:
        """Write the file, asking first where another program has; whether it is done."""
        try:
            if self.path.exists() and read_text(self.path) != self._saved:
                question = f"{self.path.name} was changed by another program since you opened it."
                answers = (("stay", "Do not save"), ("over", "Save over it"))
                asked = ChoiceDialog(question, answers, "stay")
                if await self.app.push_screen_wait(asked) != "over":
                    return False
            replace_file(self.path, self.text)
            self._saved = self._kept = self.text
            self._recovery.drop()
        except InputError as error:
            self._say(error)
            return False
        return True

    @work
    async def action_save(self) -> None:
        """Write the file, and open the race if it can be read."""
        if not await self.save_asking():
            return
        if any(fault.spot is None for fault in faults_of(self.text)):
            self.notify("saved; it cannot be opened yet", timeout=4)
        else:
            self.dismiss(self.text)

    @work
    async def action_editor(self) -> None:
        """Save, and let the user's own editor change the file."""
        if self.text != self._saved and not await self.save_asking():
            return
        try:
            run_editor(self.app, self.path)
        except InputError as error:
            self._say(error)
        try:
            self._saved = read_text(self.path)
        except InputError as error:
            self._say(error)
            return
        self.query_one(TextArea).text = self._saved
        self._faults, self._at = faults_of(self._saved), 0
        self._draw()
        self._go_to_fault()

    async def may_leave(self) -> bool:
        """Whether the text may be left: it is saved, saved now, or not to be saved."""
        if self.text in (self._saved, self._first):
            return True
        question = f"{self.path.name} has unsaved changes."
        answers = (("save", "Save"), ("drop", "Do not save"), ("stay", "Stay"))
        answer = await self.app.push_screen_wait(ChoiceDialog(question, answers, "stay"))
        if answer == "save":
            return await self.save_asking()
        if answer == "drop":
            self._recovery.drop()
        return answer == "drop"

    @work
    async def action_leave(self) -> None:
        """Go back, asking about what is unsaved."""
        if await self.may_leave():
            self.dismiss(None)

    def _say(self, problem: InputError) -> None:
        self.notify(str(problem), severity="error", timeout=12, markup=False)
