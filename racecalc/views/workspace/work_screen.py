"""A screen that has long work done on threads, shows how far it is, and can stop it."""

from collections.abc import Callable
from typing import Any, TypeVar

from textual import on
from textual.message import Message
from textual.screen import Screen
from textual.widget import Widget
from textual.widgets import Static
from textual.worker import Worker, WorkerState, get_current_worker

from racecalc.errors import Cancelled, RacecalcError, cancelled_when
from racecalc.views.desk import Desk, at_desk

# --- What the parts of the screen tell each other ------------------------------------------------


class Typed(Message):
    """Something was typed into a field that its key accepts."""

    def __init__(self, typed_at: float, patience: float = 0.0) -> None:
        super().__init__()
        self.typed_at, self.patience = typed_at, patience


class DraftChanged(Message):
    """The draft changed otherwise than by typing, as by a table added or a step back."""


class Finished(Message):
    """A long work came to its end."""

    def __init__(
        self, take: Callable[[Any], None], result: object, dropped: Callable[[], bool]
    ) -> None:
        super().__init__()
        self.take, self.result, self.dropped = take, result, dropped


class Progressed(Message):
    """Some of a long work is done."""

    WIDTH = 20

    def __init__(self, what: str, done: int, of: int) -> None:
        super().__init__()
        self.what, self.done, self.of = what, done, of

    def can_replace(self, message: Message) -> bool:
        """Let a newer one take the place of one that still waits."""
        return isinstance(message, Progressed)

    @property
    def bar(self) -> str:
        """Progress as characters that need no colour."""
        filled = self.WIDTH * self.done // max(self.of, 1)
        return f"[{'#' * filled}{'.' * (self.WIDTH - filled)}]"


def seconds_since(moment: float) -> float:
    """Seconds since a moment by the clock of messages, which differs between systems."""
    return Message().time - moment


# --- A screen that has long work done on threads, shows how far it is, and can stop it -----------

Result = TypeVar("Result")

LINE = "going-on"
"""Name of the line that shows how far long work is."""


class WorkScreen(Screen[None]):
    """A screen with a line named `LINE` on what is being worked out."""

    def __init__(self) -> None:
        super().__init__()
        self._labels: dict[str, str] = {}
        self._stopped: dict[str, Callable[[], None]] = {}

    def begin(
        self,
        group: str,
        label: str,
        work_it_out: Callable[[], Result],
        done: Callable[[Result], None],
        failed: Callable[[RacecalcError], None] | None = None,
        desk: Desk | None = None,
        stopped: Callable[[], None] = lambda: None,
    ) -> None:
        """Begin work on a thread; work of the same group that still goes on is dropped."""
        self._labels[group], self._stopped[group] = label, stopped

        def job() -> None:
            worker = get_current_worker()

            def unwanted() -> bool:
                return worker.is_cancelled

            at = desk or Desk(self.progress)
            try:
                with cancelled_when(unwanted), at_desk(at):
                    result = work_it_out()
            except Cancelled:
                return
            except RacecalcError as error:
                self.post_message(Finished(failed or self.say_problem, error, unwanted))
                return
            self.post_message(Finished(done, result, unwanted))

        self.run_worker(
            job, name=group, group=group, thread=True, exclusive=True, exit_on_error=False
        )

    def advise(self) -> None:
        """Make the advice on the last good answer for every place that shows some of it."""
        raise NotImplementedError

    def progress(self, what: str, done: int, of: int) -> None:
        """Show how far some work is; may be called from its thread."""
        self.post_message(Progressed(what, done, of))

    @on(Finished)
    def _finished(self, event: Finished) -> None:
        event.stop()
        if self._is_up and not event.dropped():
            event.take(event.result)

    @on(Progressed)
    def _progressed(self, event: Progressed) -> None:
        event.stop()
        if self._is_up and self._at_work():
            self._draw_work(f"{event.what} {event.bar} {event.done} of {event.of}")

    @on(Worker.StateChanged)
    def _worker(self, event: Worker.StateChanged) -> None:
        if event.state is WorkerState.ERROR and event.worker.error:
            fault = event.worker.error
            self.notify(
                f"racecalc failed ({type(fault).__name__}: {fault}); please report it with the"
                " race file",
                severity="error",
                timeout=20,
                markup=False,
            )
        at_work = self._at_work()
        if event.state is WorkerState.ERROR and self._is_up:
            self._stopped[event.worker.group]()
        if self._is_up:
            self._draw_work(self._labels[at_work[-1].group] if at_work else "")

    @property
    def _is_up(self) -> bool:
        """Whether there is a screen to draw on: what ends last may find it taken down already."""
        return self.query_one_optional(f"#{LINE}") is not None

    def _at_work(self) -> list[Worker[Any]]:
        return [
            worker
            for worker in self.workers
            if worker.state is WorkerState.RUNNING and self._labels.get(worker.group)
        ]

    def _draw_work(self, words: str) -> None:
        line = self.query_one(f"#{LINE}", Static)
        if words:
            line.update(f"{words}   Esc stops it", layout=False)
        show_or_hide(line, shown=bool(words))

    def action_stop(self) -> None:
        """Stop the long work that goes on, or leave the field."""
        at_work = self._at_work()
        for worker in at_work:
            worker.cancel()
            self._stopped[worker.group]()
        if at_work:
            self.notify("stopped", timeout=2)
        else:
            self.rest()

    def rest(self) -> None:
        """Leave the field that has the focus."""
        self.set_focus(None)

    def say_problem(self, problem: RacecalcError) -> None:
        """Tell what went wrong, in passing."""
        self.notify(str(problem), severity="error", timeout=12, markup=False)


class OwnTextScreen(Screen[str | None]):
    """A screen with a text of its own that may be unsaved."""

    def keep_unsaved(self) -> None:
        """Keep what is unsaved for the next start."""
        raise NotImplementedError

    async def may_leave(self) -> bool:
        """Whether it may be left: saved, saved now, or not to be saved."""
        raise NotImplementedError


def show_or_hide(widget: Widget, *, shown: bool) -> None:
    """Show a widget or not, and lay the screen out anew only where that changes."""
    if widget.display != shown:
        widget.display = shown
