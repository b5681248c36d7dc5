"""Every key of the race file: meaning, range, default with its source, where to find its value.

`possible` bounds are refused when broken; outside `plausible` the user is warned. Where no source
is named the ranges are common practice.
"""

import re
from dataclasses import dataclass
from pathlib import Path

from racecalc.quantities.kinds import KINDS, Kind


@dataclass(frozen=True)
class Key:
    """One key of a race file."""

    form: Kind | str
    """Kind of quantity, or the name of another form of value, as `race_values` reads them."""
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
    instead: str = ""
    """What the value may well be where the default is taken; empty for a default without source."""
    example: str = ""
    """Value to suggest; the example of the kind where empty."""
    step: str = ""
    """By how much it goes up or down at a key; that of the kind where empty."""
    needed: str = ""
    """What cannot be without it; empty for nothing."""
    also: tuple[str, ...] = ()
    """What people call it, to say what to write."""


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
            words, also = (
                tuple(filter(None, facts.pop(label, "").split(", "))) for label in ("words", "also")
            )
            keys[name] = Key(kinds.get(form, form), meaning, where, words=words, also=also, **facts)
    return tables


RACE_KEYS = _read_keys(Path(__file__).with_name("race_keys.txt").read_text(encoding="utf-8"))
"""The keys of each table, by name."""

LISTS = frozenset({"option", "course.section", "course.landmark"})
"""Tables that may stand several times."""


def short_name(path: str) -> str:
    """A key without its table, unless another table has one of that name: "rider mass"."""
    table, _, key = path.partition(".")
    among = [name for name, keys in RACE_KEYS.items() if name not in LISTS and key in keys]
    return f"{table} {key}" if len(among) > 1 else key


# --- What a key is, in words ---------------------------------------------------------------------

FORMS = {
    "text": "any text",
    "flag": "true or false",
    "count": "a whole number",
    "money": 'an amount with its currency, as "240 EUR"',
    "direction": 'degrees clockwise from north or a point of the compass: "250 deg", "WSW"',
    "drag area": "m^2, cm^2, ft^2; or { yaw = [...], area = [...] }",
    "word": "one of the words",
    "names": 'a list, as ["One", "Another"]',
    "shares": 'a share, as "80 %", or a list of shares',
    "power points": 'a list, as ["3 min 385 W", "12 min 318 W"]',
}


def accepted(about: Key) -> str:
    """What may be written as the value of a key."""
    words = f" or {', '.join(about.words)}" if about.words else ""
    if about.form == "texts":
        return f"a list, as {about.example}"
    if not isinstance(about.form, Kind):
        return words.removeprefix(" or ") if about.form == "word" else FORMS[about.form] + words
    units = about.form.choices()
    bare = " or a plain number" if about.form.bare else ""
    return (f"{', '.join(units)}{bare}" if units else "a plain number") + words


def key_facts(about: Key) -> tuple[str, ...]:
    """All about a key, a sentence each."""
    source = f" ({about.source})" if about.source else ""
    otherwise = f"{about.default} is taken{source}" if about.default else "nothing is assumed"
    facts = (
        f"Write {accepted(about)}.",
        about.plausible and f"Plausible is {about.plausible}; beyond it you are asked or warned.",
        about.possible and f"Possible is {about.possible}; anything else is refused.",
        f"Left out, {otherwise}." if not about.needed else f"Needed by {about.needed}.",
        f"Where to find it: {about.where}.",
    )
    return tuple(filter(None, facts))
