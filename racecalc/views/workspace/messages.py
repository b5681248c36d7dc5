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
    typed_at : float
        When the key was pressed, by the clock of messages [s].
    """

    def __init__(self, spot: Spot, value: object, typed_at: float) -> None:
        super().__init__()
        self.spot, self.value, self.typed_at = spot, value, typed_at


class Withdrawn(Message):
    """What was typed at a spot a moment ago is not meant any more.

    Parameters
    ----------
    spot : Spot
        Where it would have gone.
    """

    def __init__(self, spot: Spot) -> None:
        super().__init__()
        self.spot = spot


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


def seconds_since(moment: float) -> float:
    """Seconds since a moment by the clock of messages, which differs between systems."""
    return Message().time - moment
