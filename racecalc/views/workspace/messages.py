"""What the parts of the screen tell each other."""

from collections.abc import Callable
from typing import Any

from textual.message import Message


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
