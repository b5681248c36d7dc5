"""The words for what to do about an option."""

from dataclasses import dataclass
from typing import Literal

Do = Literal[
    "buy", "hire", "use", "test", "wait", "weigh", "leave", "unpriced", "forbidden", "unsafe"
]

PAID: tuple[Do, ...] = ("buy", "hire")
USED: tuple[Do, ...] = (*PAID, "use")


@dataclass(frozen=True)
class Advised:
    """What to do about one option.

    Parameters
    ----------
    name : str
        The option.
    do : str
        One of `Do`: "use" is for what costs nothing more; "test" is to test before paying for it or
        counting on it; "wait" for the test of another one that takes its place or is needed;
        "weigh" is for what is faster where nothing says what a second may cost; "unpriced" states
        no price; "forbidden" is by the rules, and "unsafe" in this weather.
    because : str
        Why, in words that go on after a colon.
    """

    name: str
    do: Do
    because: str
