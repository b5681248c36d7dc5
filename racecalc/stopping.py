"""Long work that can be stopped: whoever starts it says when, and the solver asks now and then."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar


class Stopped(Exception):  # noqa: N818 - it is no error: somebody wanted it
    """Work that nobody waits for any more was left undone."""


_UNWANTED: ContextVar[Callable[[], bool] | None] = ContextVar("unwanted", default=None)


@contextmanager
def stopping_when(unwanted: Callable[[], bool]) -> Iterator[None]:
    """Let all work inside end with `Stopped` as soon as it is unwanted.

    Parameters
    ----------
    unwanted : callable
        Asked before every solve, on the thread that works.
    """
    token = _UNWANTED.set(unwanted)
    try:
        yield
    finally:
        _UNWANTED.reset(token)


def go_on() -> None:
    """Go on unless the work is unwanted.

    Raises
    ------
    Stopped
        If it is.
    """
    unwanted = _UNWANTED.get()
    if unwanted is not None and unwanted():
        raise Stopped
