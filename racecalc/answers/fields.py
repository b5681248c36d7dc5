"""Answers as plain data, and the description of it, from the dataclasses that hold them.

Keys are the names of the fields and of the properties marked `written`, SI units the endings of
these names, meanings the docstrings below the fields. What differs is said at the field, by `As`.
"""

import ast
import inspect
import math
import sys
from collections.abc import Iterator, Mapping
from dataclasses import Field, fields, is_dataclass
from decimal import Decimal
from functools import cache
from typing import Any, get_args, get_origin, get_type_hints

import numpy as np

from racecalc.written import SPREAD, WHERE_ANY, As, written, written_once


def plain(value: Any) -> Any:
    """An answer as dicts, lists and numbers; what is not finite is None, for JSON has no word."""
    if isinstance(value, float | Decimal):
        return float(value) if math.isfinite(value) else None
    if is_dataclass(value):
        return dict(_pairs(value))
    if isinstance(value, Mapping):
        return {str(key): plain(one) for key, one in value.items()}
    if isinstance(value, list | tuple | np.ndarray):
        return [plain(one) for one in value]
    return value.item() if isinstance(value, np.generic) else value


def _pairs(answer: Any) -> Iterator[tuple[str, Any]]:
    for field in fields(answer):
        value, how = getattr(answer, field.name), _how(field)
        if how is SPREAD:
            yield from (plain(value) or {}).items()
        elif how is not WHERE_ANY or value:
            for key, path in _paths(field).items():
                yield key, plain(_below(value, path))
    for name in _properties(type(answer)):  # type: ignore[arg-type]
        yield name, plain(getattr(answer, name))


@cache
def _properties(kind: Any) -> dict[str, written | written_once]:
    """The properties that are written, in the order of the class."""
    return {
        name: one
        for base in reversed(kind.__mro__)
        for name, one in vars(base).items()
        if isinstance(one, written | written_once)
    }


def _how(field: "Field[Any]") -> As | None:
    marks = getattr(field.type, "__metadata__", ())
    return next((mark for mark in marks if isinstance(mark, As)), None)


def _paths(field: "Field[Any]") -> dict[str, str]:
    how = _how(field)
    return {field.name: ""} if how is None or how is WHERE_ANY else how.paths


def _below(value: Any, path: str) -> Any:
    for step in filter(None, path.split(".")):
        value = None if value is None else getattr(value, step)
    return value


def key_of(row: Any, path: str) -> str:
    """The path in the JSON of what an attribute path leads to; empty where it is not written.

    Examples
    --------
    >>> from decimal import Decimal
    >>> from racecalc.quantities.money import Money
    >>> price = Money(Decimal(3), "EUR")
    >>> key_of(price, "amount"), key_of(price, "nothing")
    ('amount', '')
    """
    name, _, rest = path.partition(".")
    keys = _keys_of(type(row), name) if is_dataclass(row) else None
    if keys is None:
        return key_of(getattr(row, name), rest) if is_dataclass(row) else ""
    exact = next((key for key, under in keys.items() if under == rest), "")
    whole = next((key for key, under in keys.items() if not under), "")
    if exact or not whole:
        return exact
    below = key_of(getattr(row, name), rest)
    return below and f"{whole}/{below}"


def _keys_of(kind: Any, name: str) -> dict[str, str] | None:
    """The keys that an attribute is written with; None where its own are written instead."""
    if name in _properties(kind):
        return {name: ""}
    field = next((one for one in fields(kind) if one.name == name), None)
    if field is None:
        return {}
    return None if _how(field) is SPREAD else _paths(field)


# --- the description ---------------------------------------------------------------------------

UNITS = {
    "kg_m3": "kg/m^3",
    "m_s": "m/s",
    "deg": "deg",
    "kg": "kg",
    "m2": "m^2",
    "pa": "Pa",
    "k": "K",
    "s": "s",
    "w": "W",
    "m": "m",
}
"""SI units by the endings of keys, longer ones first."""


def schema(kind: Any, within: tuple[Any, ...] = ()) -> dict[str, Any]:
    """JSON Schema of an answer, with the meaning of each key and its unit."""
    if get_origin(kind) is not None and hasattr(kind, "__metadata__"):
        kind = get_args(kind)[0]
    parts = [one for one in get_args(kind) if one is not type(None)]
    if is_dataclass(kind):
        if kind in within:
            return {"type": "object", "title": "as the object that holds it"}
        return {"type": "object", "properties": dict(_described(kind, (*within, kind)))}
    if get_origin(kind) in (tuple, list, np.ndarray):
        of = float if get_origin(kind) is np.ndarray else parts[0]
        return {"type": "array", "items": schema(of, within)}
    if isinstance(get_origin(kind), type) and issubclass(get_origin(kind), Mapping):
        return {"type": "object", "additionalProperties": schema(parts[1], within)}
    if parts and not all(isinstance(one, str) for one in parts):
        null = type(None) in get_args(kind)
        return {**schema(parts[0], within), **({"nullable": True} if null else {})}
    names = {float: "number", int: "integer", bool: "boolean", Decimal: "number"}
    found = {"type": names.get(kind, "array" if kind is np.ndarray else "string")}
    return {**found, "enum": parts} if parts else found


def _described(kind: Any, within: tuple[Any, ...]) -> Iterator[tuple[str, Any]]:
    hints, meant = get_type_hints(kind), meanings(kind)
    for field in fields(kind):
        hint = hints[field.name]
        if _how(field) is SPREAD:
            yield from _described(_class_of(hint), within)
            continue
        paths = _paths(field)
        for key, path in paths.items():
            owner, name, found, null = kind, field.name, hint, False
            for step in filter(None, path.split(".")):
                owner, null = _class_of(found), null or type(None) in get_args(found)
                name, found = step, get_type_hints(owner).get(step, Any)
            words = meant.get(field.name, "")
            if path:
                # A key or two say the field itself, more of them its parts.
                part = meanings(owner).get(name, "")
                words = part if part and len(paths) > 2 else f"{words} {part}".strip()
            more = {"nullable": True} if null else {}
            more |= {"optional": True} if _how(field) is WHERE_ANY else {}
            yield key, _entry(key, found, words, within) | more
    for name, one in _properties(kind).items():
        make = one.fget if isinstance(one, written) else one.func
        yield name, _entry(name, get_type_hints(make).get("return", Any), meant[name], within)


def _entry(key: str, kind: Any, words: str, within: tuple[Any, ...]) -> dict[str, Any]:
    unit = next((UNITS[end] for end in UNITS if key.endswith(f"_{end}")), None)
    return {**schema(kind, within), "description": words, **({"unit": unit} if unit else {})}


def _class_of(hint: Any) -> Any:
    return next((one for one in get_args(hint) if is_dataclass(one)), hint)


@cache
def meanings(kind: Any) -> dict[str, str]:
    """What each field and property means, by the docstrings below fields and in properties.

    Fields in a row without a docstring of their own share that of the next one.
    """
    found: dict[str, str] = {}
    for base in reversed(kind.__mro__):
        if is_dataclass(base):
            found |= dict(_field_words(base))  # type: ignore[arg-type]
        for name, one in vars(base).items():
            if isinstance(one, property | written_once):
                found[name] = " ".join((inspect.getdoc(one) or "").split())
    return found


@cache
def _classes(module: str) -> dict[str, ast.ClassDef]:
    """The classes of a module as they are written."""
    tree = ast.parse(inspect.getsource(sys.modules[module]))
    return {one.name: one for one in tree.body if isinstance(one, ast.ClassDef)}


def _field_words(kind: type) -> Iterator[tuple[str, str]]:
    waiting: list[str] = []
    for part in _classes(kind.__module__)[kind.__name__].body:
        if isinstance(part, ast.AnnAssign) and isinstance(part.target, ast.Name):
            waiting.append(part.target.id)
        elif isinstance(part, ast.Expr) and isinstance(part.value, ast.Constant):
            words = " ".join(str(part.value.value).split())
            yield from ((name, words) for name in waiting)
            waiting = []
