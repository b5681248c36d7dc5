"""What the parts of the screen tell each other."""

from collections.abc import Callable
from typing import Any

from textual.message import Message

from racecalc.files.draft import Spot


class Written(Message):
    """A value was typed that its key accepts.

    Parameters
    ----------
    spot : Spot
        Where it goes.
    value : object
        What to write there; None to take the key out.
    """

    def __init__(self, spot: Spot, value: object) -> None:
        super().__init__()
        self.spot, self.value = spot, value


class DraftChanged(Message):
    """The draft changed otherwise than by typing, as by a table added or a step back."""


class Finished(Message):
    """A long work came to its end.

    Parameters
    ----------
    take : callable
        Takes the result, on the screen.
    result : object
        What came out.
    """

    def __init__(self, take: Callable[[Any], None], result: object) -> None:
        super().__init__()
        self.take, self.result = take, result


class Progressed(Message):
    """Some of a long work is done.

    Parameters
    ----------
    what : str
        What is being done.
    done, of : int
        Parts done, and all parts.
    """

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
