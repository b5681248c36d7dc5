"""A place of the workspace: shows one side of the race, and works only while it is looked at."""

import asyncio
from collections.abc import Callable
from pathlib import Path
from typing import Any, Protocol, cast

from textual.containers import Vertical

from racecalc.errors import InputError, RacecalcError
from racecalc.files.opening import typed_path
from racecalc.views.desk import Desk
from racecalc.views.workspace.dialogs import Question
from racecalc.views.workspace.session import Session


class WorkBegins(Protocol):
    """Where a place has long work done."""

    def begin(
        self,
        group: str,
        label: str,
        work_it_out: Callable[[], Any],
        done: Callable[[Any], None],
        failed: Callable[[RacecalcError], None] | None = None,
        desk: Desk | None = None,
        stopped: Callable[[], None] = lambda: None,
    ) -> None:
        """Begin work on a thread."""

    def progress(self, what: str, done: int, of: int) -> None:
        """Show how far it is."""


class Place(Vertical):
    """One side of the race.

    Parameters
    ----------
    session : Session
        What is worked on.
    name : str
        What it is called.
    """

    def __init__(self, session: Session, name: str) -> None:
        super().__init__(name=name, id=f"place-{name.lower()}", classes="place")
        self.session = session
        self._shown: tuple[object, ...] = ()

    @property
    def desk(self) -> WorkBegins:
        """The screen that begins long work."""
        return cast(WorkBegins, self.screen)

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

    async def write_asking(
        self,
        question: str,
        suggested: str,
        check: Callable[[Path], object],
        write: Callable[[Path], None],
    ) -> None:
        """Ask for a file beside the race file and write it; for a worker.

        Parameters
        ----------
        question, suggested : str
            What is asked, and what stands in the field.
        check, write : callable
            Say by `InputError` what speaks against a path, and write to it, which is done on a
            thread.
        """
        folder = self.session.path.parent
        asked = Question(question, suggested, lambda name: check(typed_path(name, folder)))
        name = await self.app.push_screen_wait(asked)
        if name is None:
            return
        path = typed_path(name, folder)
        try:
            await asyncio.to_thread(write, path)
        except InputError as error:
            self.notify(str(error), severity="error", timeout=10, markup=False)
        else:
            self.notify(f"{path} written", timeout=5, markup=False)

    def rest(self) -> None:
        """Put the focus where no letter is taken as text."""
        self.take_focus()

    def refuse(self) -> None:
        """Say that the draft has no answer; what is shown stays."""

    def take_focus(self) -> None:
        """Put the focus where work begins."""
        for widget in self.query("*"):
            if widget.focusable:
                widget.focus()
                return
