"""Values of a race file as they are typed into a field, and back."""

import tomllib

from racecalc.files.key import Key


def as_typed(value: object) -> str:
    """A value as it is shown in a field: texts without quotes, all else as TOML writes it.

    Examples
    --------
    >>> as_typed("262 W"), as_typed(0.0042), as_typed(True), as_typed(["95 %", "85 %"])
    ('262 W', '0.0042', 'true', '["95 %", "85 %"]')
    """
    if value is None:
        return ""
    if isinstance(value, str):
        return str(value)
    import tomlkit

    return tomlkit.item(value).as_string()


def from_typed(key: Key, text: str) -> object:
    """What to write into the file for a text typed into the field of a key; None for nothing.

    Parameters
    ----------
    key : Key
        Says whether a number stays a text, as in a name.
    text : str
        What was typed.

    Returns
    -------
    object
        A number, switch, list or table where the text is one in TOML and the key is not a text;
        the text without spaces about it otherwise.

    Examples
    --------
    >>> from racecalc.files.race_keys import RACE_KEYS
    >>> from_typed(RACE_KEYS["bike"]["crr"], "0.0042"), from_typed(RACE_KEYS["race"]["name"], "7")
    (0.0042, '7')
    """
    bare = text.strip()
    if not bare:
        return None
    if key.form in ("text", "word", "money"):
        return bare
    try:
        value: object = tomllib.loads(f"value = {bare}")["value"]
    except (ValueError, RecursionError):
        # What is no TOML, or more digits or brackets than Python reads, stays the text it is.
        return bare
    return value if isinstance(value, int | float | list | dict) else bare
