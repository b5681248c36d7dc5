"""Errors that a person can mend, and the way to end long work."""

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass

# --- The errors of racecalc and the exit status each one carries ---------------------------------


class RacecalcError(Exception):
    """Base of every error that a user may see."""

    exit_status = 1


class InputError(RacecalcError, ValueError):
    """Something the user gave cannot be used.

    Parameters
    ----------
    place : str
        File and line, key, column or flag.
    problem : str
        What stands there and why it will not do.
    remedy : str
        What would do instead.
    """

    exit_status = 2

    def __init__(self, place: str, problem: str, remedy: str = "") -> None:
        self.place = place
        self.problem = problem
        self.remedy = remedy
        super().__init__(": ".join(part for part in (place, problem) if part))

    def __str__(self) -> str:
        text = ": ".join(part for part in (self.place, self.problem) if part)
        return f"{text}; {self.remedy}" if self.remedy else text

    def at(self, place: str) -> "InputError":
        """Return the same error with a more exact place before the one it has."""
        joined = ", ".join(part for part in (place, self.place) if part)
        return InputError(joined, self.problem, self.remedy)


_PLACE = re.compile(r"(?P<file>.*?)(?:, line (?P<line>[0-9]+))?(?:, (?P<key>[^,]*))?")


def parts_of(error: RacecalcError) -> dict[str, object]:
    """An error for scripts: where it is, what is there, what was expected; null for nothing."""
    found = dict.fromkeys(("file", "line", "key", "value", "expected"), None)
    if not isinstance(error, InputError):
        return found | {"text": str(error)}
    file, line, key = _where(error.place)
    value = re.match("'([^']*)'", error.problem)
    return {
        "file": file,
        "line": line,
        "key": key,
        "value": value[1] if value else None,
        "expected": error.remedy or None,
        "text": str(error),
    }


def _where(place: str) -> tuple[str | None, int | None, str | None]:
    """File, line and key of a place; a flag is a key, a statement none of them."""
    if place.startswith("--"):
        return None, None, place.removeprefix("--set ").partition("=")[0]
    found = _PLACE.fullmatch(place)
    if not found or place.startswith('"'):
        return None, None, None
    return found["file"] or None, int(found["line"]) if found["line"] else None, found["key"]


class SolverError(RacecalcError):
    """The equation of motion could not be solved although a solution should exist."""


@dataclass(frozen=True)
class Notice:
    """Something the user should know although the calculation goes on."""

    place: str
    """File and line, key or course kilometre; may be empty."""
    text: str
    """One sentence."""
    warning: bool = True
    """True where the result may mislead, False for a plain note."""

    def __str__(self) -> str:
        return f"{self.place}: {self.text}" if self.place else self.text


def require(holds: object, rule: str) -> None:
    """Refuse a record that breaks a rule: a slip of the program that makes it, not of its user."""
    if not holds:
        raise ValueError(rule)


# --- Long work that can be stopped ---------------------------------------------------------------


class Cancelled(Exception):  # noqa: N818 - it is no error: somebody wanted it
    """Work that nobody waits for any more was left undone."""


_CANCELLED: ContextVar[Callable[[], bool] | None] = ContextVar("unwanted", default=None)


@contextmanager
def cancelled_when(unwanted: Callable[[], bool]) -> Iterator[None]:
    """Let all work inside end with `Cancelled` as soon as it is unwanted."""
    token = _CANCELLED.set(unwanted)
    try:
        yield
    finally:
        _CANCELLED.reset(token)


def check_cancelled() -> None:
    """Go on unless the work is unwanted."""
    unwanted = _CANCELLED.get()
    if unwanted is not None and unwanted():
        raise Cancelled
