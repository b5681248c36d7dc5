"""The errors of racecalc and the exit status each one carries.

::

    RacecalcError                   1  a failure of ours
    ├── InputError (ValueError)     2  a file, key or flag: where, what stands there, what would do
    └── SolverError                 1  no solution found, though one should exist
"""

from dataclasses import dataclass


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


class SolverError(RacecalcError):
    """The equation of motion could not be solved although a solution should exist."""


@dataclass(frozen=True)
class Notice:
    """Something the user should know although the calculation goes on.

    Parameters
    ----------
    place : str
        File and line, key or course kilometre; may be empty.
    text : str
        One sentence.
    warning : bool
        True where the result may mislead, False for a plain note.
    """

    place: str
    text: str
    warning: bool = True

    def __str__(self) -> str:
        return f"{self.place}: {self.text}" if self.place else self.text
