"""How fields of an answer are written as JSON where their name does not say it all."""

from functools import cached_property


class As:
    """Keys that a field is written with instead of its name, each with a path below the field.

    Without keys the field is not written; the path "" is the field itself.
    """

    def __init__(self, **paths: str) -> None:
        self.paths = paths


HIDDEN = As()

WHERE_ANY = As()
"""Left out while it is None or empty."""

SPREAD = As()
"""Its own fields are written next to those of the answer."""


class written(property):  # noqa: N801 - a decorator
    """A property that is a key of the JSON too, its docstring the meaning."""


class written_once(cached_property):  # type: ignore[type-arg]  # noqa: N801 - a decorator
    """The same, worked out when it is first asked for."""
