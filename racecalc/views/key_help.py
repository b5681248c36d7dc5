"""What a key of a race file is, in words for the screen."""

from racecalc.files.finding import WHERE_TO_FIND
from racecalc.files.key import Key
from racecalc.files.race_keys import RACE_KEYS
from racecalc.quantities.kinds import Kind
from racecalc.views.tables import paragraph

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


def label(key: str) -> str:
    """The name of a key as it stands before its field."""
    return key.replace("_", " ")


def key_line(table: str, key: str) -> str:
    """Meaning, units, plausible range, default and where to find it, in as few words as it goes.

    Examples
    --------
    >>> key_line("rider", "power").splitlines()[0]
    'power held over the race'
    """
    about = RACE_KEYS[table][key]
    accepted = f"write {_accepted(about)}"
    plausible = f"plausible {' to '.join(about.plausible)}" if about.plausible else ""
    default = f"else {about.default}" if about.default else ""
    facts = "; ".join(one for one in (accepted, plausible, default) if one)
    return f"{about.meaning}\n{facts}\nfind it: {WHERE_TO_FIND[table][key]}"


def key_page(table: str, key: str) -> str:
    """The same as a page, with what is possible and where the default comes from."""
    about = RACE_KEYS[table][key]
    lines = [
        f"{table}.{key}: {about.meaning}.",
        f"Write {_accepted(about)}.",
        f"Plausible is {' to '.join(about.plausible)}; outside you are asked whether it is meant."
        if about.plausible
        else "",
        f"Possible is {' to '.join(about.possible)}; anything else is refused."
        if about.possible
        else "",
        _default_words(about),
        f"Where to find it: {WHERE_TO_FIND[table][key]}.",
    ]
    return "\n".join(paragraph(line) for line in lines if line)


def _default_words(about: Key) -> str:
    if not about.default:
        return "Left empty, nothing is assumed."
    source = f" ({about.source})" if about.source else ""
    return f"Left empty, {about.default} is taken{source}."


def _accepted(about: Key) -> str:
    words = f" or {', '.join(about.words)}" if about.words else ""
    if not isinstance(about.form, Kind):
        return words.removeprefix(" or ") if about.form == "word" else FORMS[about.form] + words
    units = about.form.choices()
    bare = " or a plain number" if about.form.bare else ""
    return (f"{', '.join(units)}{bare}" if units else "a plain number") + words
