"""What becomes of a race file that other programs write while it is open."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Protocol

from textual.app import App

from racecalc.errors import InputError, RacecalcError
from racecalc.files.opening import Stamp, noting_files, read_text, stamp_of
from racecalc.files.recovery import Recovery
from racecalc.views.workspace.dialogs import ChoiceDialog
from racecalc.views.workspace.session import WorkSession

QUIET = 1.0
"""Seconds without a key after which a question may come up by itself; our choice."""

OF_OTHERS = (
    ("theirs", "Reload it"),
    ("mine", "Keep mine"),
    ("both", "Both: mine as a what-if"),
)
"""What can be done where another program changed the file."""

OF_BROKEN = (("text", "Mend its text"), ("mine", "Save over it"))
"""The same where the file cannot be read any more."""

LATER = {"later": "Later", "stay": "Do not save"}
"""And what else, when it is noticed and when one saves."""

MOST_TOLD = 6
"""Differences that a question tells; our choice."""


class WatchedDesk(Protocol):
    """The screen of the open file."""

    @property
    def app(self) -> App[Any]:
        """Shows the questions."""

    def take_typed(self) -> None:
        """Write into the draft what was typed."""

    def show_draft(self) -> None:
        """Show the draft in every field, and work it out."""

    def say_problem(self, problem: RacecalcError) -> None:
        """Tell what went wrong, in passing."""


def listed(differences: list[str]) -> str:
    """The first of them, and how many more there are."""
    more = len(differences) - MOST_TOLD
    rest = [f"and {more} more"] if more > 0 else []
    return "\n".join([*differences[:MOST_TOLD], *rest]) or "no value differs, only its comments"


class FileWatch:
    """Tells what another program did to the open file, and does what the user wants of it."""

    def __init__(self, desk: "WatchedDesk", session: WorkSession) -> None:
        self._desk, self._session = desk, session
        self._read: dict[Path, Stamp] = {}
        self._differing: dict[Path, Stamp] = {}
        self.take_for_known()

    # --- the files that the race file names ----------------------------------------------------

    @contextmanager
    def reading(self) -> Iterator[None]:
        """Watch the files that are read inside, and no others; for the thread that reads."""
        self._read = {}
        with noting_files(self._read):
            yield

    def differing(self) -> dict[Path, Stamp]:
        """Files that are no longer as they were when they were read, with what they are now."""
        # A copy: the thread may read on.
        now = {path: (was, stamp_of(path)) for path, was in tuple(self._read.items())}
        return {path: stamp for path, (was, stamp) in now.items() if stamp != was}

    def written(self) -> list[str]:
        """Names of those that another program has written, and does no more."""
        before, self._differing = self._differing, self.differing()
        settled = self._differing == before
        return [path.name for path in before] if settled else []

    # --- the race file itself ------------------------------------------------------------------

    def take_for_known(self) -> None:
        """Ask no more about the file as it is now."""
        self._known = self._last = stamp_of(self._session.path)

    def look(self, *, at_rest: bool) -> bool:
        """Whether there is something to ask: another program wrote, and no key is typed."""
        path, stamp = self._session.path, stamp_of(self._session.path)
        if stamp == self._known:
            return False
        if stamp != self._last or not at_rest:
            # It may still be written.
            self._last = stamp
            return False
        self._known = stamp
        if stamp is None:
            self._desk.app.notify(f"{path.name} is gone; Ctrl+S writes it again", timeout=12)
        return stamp is not None and self._session.draft.changed_on_disk()

    async def settled(self, otherwise: str) -> str:
        """Ask what is to count, and do that; the answer, `otherwise` for none."""
        session, name = self._session, self._session.path.name
        self._desk.take_typed()
        changed, last = f"{name} was changed by another program:", (otherwise, LATER[otherwise])
        try:
            theirs = session.text_by_others()
            told = [] if theirs is None else session.told_apart(theirs)
        except InputError as error:
            answer = await self._asked(f"{changed} {error}", (*OF_BROKEN, last))
            if answer == "text":
                await self.mend()
            return answer
        if theirs is None:
            return "mine"
        if theirs == session.draft.text:
            answer = "mine"
        else:
            answer = await self._asked(f"{changed}\n{listed(told)}", (*OF_OTHERS, last))
        if answer == "mine":
            session.keep_mine(theirs)
            self._desk.show_draft()
        elif answer != otherwise:
            self._take(theirs, keep_mine=answer == "both")
        return answer

    async def _asked(self, question: str, answers: tuple[tuple[str, str], ...]) -> str:
        asked = ChoiceDialog(question, answers, answers[-1][0])
        return await self._desk.app.push_screen_wait(asked)

    def _take(self, theirs: str, *, keep_mine: bool = False) -> None:
        try:
            self._session.take_theirs(theirs, keep_mine=keep_mine)
        except InputError as error:
            self._desk.say_problem(error)
            return
        self.take_for_known()
        self._desk.show_draft()

    def read_again(self) -> None:
        """Go on with what is in the file now; what was here is one step back."""
        try:
            theirs = self._session.text_by_others()
        except InputError as error:
            self._desk.say_problem(error)
            return
        if theirs is not None:
            self._take(theirs)

    async def mend(self) -> None:
        """Show the file as text, and go on with it once it is mended; the draft waits."""
        path = self._session.path
        try:
            theirs = read_text(path)
        except InputError as error:
            self._desk.say_problem(error)
            return
        recovery = Recovery(path)
        if await self._mended(theirs, theirs, recovery):
            self.read_again()
        recovery.release()

    async def show_text(self) -> bool:
        """Show the draft as text; whether the file was written there."""
        session = self._session
        if not await self._mended(session.draft.saved, session.draft.text, session.recovery):
            return False
        self.read_again()
        return True

    async def _mended(self, saved: str, text: str, recovery: Recovery) -> bool:
        """Show a text to be mended; whether it was written."""
        from racecalc.views.workspace.text_screen import RaceTextScreen

        screen = RaceTextScreen(self._session.path, saved, text, recovery)
        return await self._desk.app.push_screen_wait(screen) is not None

    def edit(self) -> None:
        """Let the user's own editor change the file, and read it again."""
        from racecalc.views.workspace.text_screen import run_editor

        try:
            run_editor(self._desk.app, self._session.path)
        except InputError as error:
            self._desk.say_problem(error)
        self.read_again()
