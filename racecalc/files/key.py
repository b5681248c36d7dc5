"""What a key of a race file is: its meaning, what it accepts, and what is plausible."""

from dataclasses import dataclass
from typing import Literal

from racecalc.quantities.kinds import Kind

Form = Literal[
    "text",
    "flag",
    "count",
    "money",
    "direction",
    "drag area",
    "word",
    "names",
    "shares",
    "power points",
]


@dataclass(frozen=True)
class Key:
    """One key of a race file.

    Parameters
    ----------
    form : Kind or str
        Kind of quantity, or another form of value.
    meaning : str
        What it is, in one line.
    possible, plausible : tuple of str, optional
        Lowest and highest value, with units.
    words : tuple of str
        Words accepted instead of (or, with the form "word", as) the value.
    default : str
        Value where the key is absent, as it would be written; empty for none.
    source : str
        Where the default comes from.
    example : str
        Value to suggest; the example of the kind where empty.
    """

    form: Kind | Form
    meaning: str
    possible: tuple[str, str] | None = None
    plausible: tuple[str, str] | None = None
    words: tuple[str, ...] = ()
    default: str = ""
    source: str = ""
    example: str = ""
