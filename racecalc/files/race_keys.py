"""Every key of the race file: meaning, range, default with its source, where to find its value.

`possible` bounds are refused when broken; outside `plausible` the user is warned. Where no source
is named the ranges are common practice.
"""

import re
from dataclasses import dataclass
from pathlib import Path
from typing import Literal, cast

from racecalc.quantities.kinds import KINDS, Kind

KeyForm = Literal[
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
    """One key of a race file."""

    form: Kind | KeyForm
    """Kind of quantity, or another form of value."""
    meaning: str
    """What it is, in one line."""
    where: str
    """Where a person finds its value; common practice, no source."""
    possible: str = ""
    plausible: str = ""
    """Lowest and highest value with their units, as "0 W to 50 W"; empty for no limits."""
    words: tuple[str, ...] = ()
    """Words accepted instead of (or, with the form "word", as) the value."""
    default: str = ""
    """Value where the key is absent, as it would be written; empty for none."""
    source: str = ""
    """Where the default comes from."""
    example: str = ""
    """Value to suggest; the example of the kind where empty."""
    needed: str = ""
    """What cannot be without it; empty for nothing."""


def _read_keys(text: str) -> dict[str, dict[str, Key]]:
    """The tables of race_keys.txt, which says how it is written."""
    kinds = {kind.name: kind for kind in KINDS}
    tables: dict[str, dict[str, Key]] = {}
    for line in re.sub(r"\n +", " ", text).splitlines():
        if line.startswith("["):
            keys = tables[line.strip("[]")] = {}
        elif line and not line.startswith("#"):
            name, form, meaning, where, *labelled = line.split(" | ")
            facts: dict[str, str] = dict(fact.split(": ", 1) for fact in labelled)
            words = tuple(filter(None, facts.pop("words", "").split(", ")))
            keys[name] = Key(
                kinds.get(form) or cast(KeyForm, form), meaning, where, words=words, **facts
            )
    return tables


RACE_KEYS = _read_keys(Path(__file__).with_name("race_keys.txt").read_text(encoding="utf-8"))
"""The keys of each table, by name."""

LISTS = frozenset({"option", "course.section", "course.landmark"})
"""Tables that may stand several times."""
