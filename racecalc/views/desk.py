"""Where commands read races from and where their answers go, if not the terminal itself."""

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from racecalc.answers.sheet import Sheet
    from racecalc.domain.race import Race


@dataclass(frozen=True)
class Desk:
    """What stands in for the terminal while a command runs inside a screen.

    Parameters
    ----------
    read_race : callable
        Gives the race of a file with changes, unsaved edits included.
    answer, notice : callable
        Take what would go to standard output, and the text for standard error.
    progress : callable
        Takes what is being done, how many parts are, and how many there are.
    """

    read_race: "Callable[[Path, Iterable[str]], Race]"
    answer: "Callable[[Sheet | str], None]"
    notice: Callable[[str], None]
    progress: Callable[[str, int, int], None]


_DESK: ContextVar[Desk | None] = ContextVar("desk", default=None)


@contextmanager
def at_desk(desk: Desk) -> Iterator[None]:
    """Let the commands run inside use this desk; for the thread that works."""
    token = _DESK.set(desk)
    try:
        yield
    finally:
        _DESK.reset(token)


def current_desk() -> Desk | None:
    """The desk in use; None for the terminal."""
    return _DESK.get()
