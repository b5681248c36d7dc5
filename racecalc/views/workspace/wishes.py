"""The parameters of a command as wishes of a question: words, lists, and what else holds."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

import click

from racecalc.errors import InputError
from racecalc.files.draft import Draft, Spot
from racecalc.files.opening import typed_path
from racecalc.files.race_keys import RACE_KEYS
from racecalc.files.race_writing import as_typed

LEFT_OUT = frozenset({"as_json", "depth", "changes", "units", "race_file", "race_path"})
"""Parameters that the screen settles itself."""

OF_RACE = re.compile(r"by default (\w+)(?: under \[(\w+)\])?")
"""How the help of a flag says which key of the race file holds without it."""

ONE_OPTION, A_SET = "OPTION", '"A + B"'
SEVERAL_OPTIONS = frozenset({"A", "B", A_SET})
"""What stands for the name of an option in the help of a command, and for several of them."""

RECORDS = frozenset({".csv", ".fit", ".gpx", ".tcx"})


@dataclass(frozen=True)
class Wish:
    """A parameter of a question."""

    parameter: click.Parameter
    label: str
    """What it is called on the screen."""
    otherwise: str
    """What holds where nothing is typed; empty for nothing."""
    choices: tuple[str, ...]
    """What it may be, as far as that is a list."""
    joined: str
    """What stands between several of them; empty where there is but one."""

    @property
    def meaning(self) -> str:
        """What it is, and how it is written."""
        words = getattr(self.parameter, "help", "") or f"{self.label} of the question."
        several = f" Separate several by{self.joined.rstrip()}." if self.joined == "; " else ""
        return f"{words}{several}{' Down: a list.' if self.choices else ''}"

    def arguments(self, typed: str, folder: Path) -> Iterable[str]:
        """A typed wish as it would stand on the command line; nothing where nothing was typed."""
        parameter = self.parameter
        if not typed:
            return []
        name = max(parameter.opts, key=len)
        if getattr(parameter, "is_flag", False):
            if typed.casefold() not in ("yes", "no"):
                raise InputError(self.label, f"'{typed}' is neither", "write yes or no")
            return [name] if typed.casefold() == "yes" else list(parameter.secondary_opts)
        several = parameter.multiple or parameter.nargs == -1
        values = [one.strip() for one in typed.split(";")] if several else [typed]
        if isinstance(parameter.type, click.Path):
            values = [str(typed_path(one, folder)) for one in values]
        if isinstance(parameter, click.Argument):
            return values
        return [word for value in values for word in (name, value)]


def wishes_of(command: click.Command, draft: Draft) -> dict[str, Wish]:
    """The wishes of a command by the names of its parameters."""
    return {
        str(one.name): _wish(one, draft)
        for one in command.params
        if one.name not in LEFT_OUT and not getattr(one, "is_eager", False)
    }


def _wish(parameter: click.Parameter, draft: Draft) -> Wish:
    several = parameter.multiple or parameter.nargs == -1
    joined = "; " if several else " + " if parameter.metavar in SEVERAL_OPTIONS else ""
    return Wish(
        parameter,
        label_of(parameter),
        _otherwise(parameter, draft),
        _choices(parameter, draft),
        joined,
    )


def label_of(parameter: click.Parameter) -> str:
    """What a parameter is called on the screen."""
    if isinstance(parameter, click.Argument):
        return str(parameter.name).removesuffix("_file").replace("_", " ")
    return max(parameter.opts, key=len).lstrip("-").replace("-", " ")


def _otherwise(parameter: click.Parameter, draft: Draft) -> str:
    default = parameter.default
    if getattr(parameter, "is_flag", False):
        return "yes" if default is True else "no"
    if isinstance(default, str | int | float) and default != "":
        return str(default)
    if parameter.name == "use":
        return as_typed(draft.value(Spot("race", "use")))
    found = OF_RACE.search(getattr(parameter, "help", None) or "")
    if not found:
        return ""
    table = found[2] or next((one for one in RACE_KEYS if found[1] in RACE_KEYS[one]), "")
    return as_typed(draft.value(Spot(table, found[1]))) if table else ""


def _choices(parameter: click.Parameter, draft: Draft) -> tuple[str, ...]:
    if getattr(parameter, "is_flag", False):
        return ("yes", "no")
    if isinstance(parameter.type, click.Choice):
        return tuple(map(str, parameter.type.choices))
    if parameter.metavar == ONE_OPTION or parameter.metavar in SEVERAL_OPTIONS:
        entries = draft.entries("option")
        return tuple(str(one["name"]) for one in entries if "name" in one and "set_of" not in one)
    if isinstance(parameter.type, click.Path):
        wanted = {".toml"} if "RACE" in (parameter.metavar or "") else RECORDS
        beside = sorted(draft.path.parent.glob("*"))
        return tuple(one.name for one in beside if one.suffix.lower() in wanted)
    return ()


def first_choice(wish: Wish, slots: Mapping[str, Wish]) -> str:
    """What a wish in a sentence is at first: an option, or the file that is called like it."""
    metavar = wish.parameter.metavar
    if metavar == ONE_OPTION or metavar in SEVERAL_OPTIONS:
        if wish.parameter.multiple and metavar == A_SET:
            return " + ".join(wish.choices[:2])
        before = [one for one in slots.values() if one.parameter.metavar in SEVERAL_OPTIONS]
        at = before.index(wish) if wish in before else 0
        return wish.choices[at] if at < len(wish.choices) else ""
    if isinstance(wish.parameter.type, click.Path):
        return next((one for one in wish.choices if wish.label in one.casefold()), "")
    return ""


def in_words_of_the_screen(problem: Exception, command: click.Command) -> str:
    """An error with the names of wishes instead of flags."""
    if isinstance(problem, click.MissingParameter) and problem.param:
        return f"{label_of(problem.param)}: fill it in"
    if isinstance(problem, click.BadParameter) and problem.param:
        words = f"{label_of(problem.param)}: {problem.message}"
    else:
        is_usage = isinstance(problem, click.ClickException)
        words = problem.format_message() if is_usage else str(problem)  # type: ignore[attr-defined]
    flags = {flag: label_of(one) for one in command.params for flag in one.opts if "--" in flag}
    for flag in sorted(flags, key=len, reverse=True):
        words = words.replace(flag, flags[flag])
    return words
