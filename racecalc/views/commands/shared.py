"""How the commands read what they are given, and deliver what they found."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from functools import partial, wraps
from pathlib import Path
from typing import Any, TypeVar

import click
from click.core import ParameterSource

from racecalc.answers.fields import plain
from racecalc.answers.sheet import Depth, Sheet
from racecalc.answers.squad import SquadAnswer, Together, squad_sheet
from racecalc.decisions.riding import load_measured
from racecalc.domain.option import Option, misfit, refuse_mixed_currencies
from racecalc.domain.race import Race
from racecalc.errors import InputError, Notice, RacecalcError
from racecalc.files.race_values import known_name
from racecalc.quantities.kinds import Kind
from racecalc.quantities.measured import QuantityError
from racecalc.quantities.money import Money, read_money
from racecalc.quantities.plain_text import json_text
from racecalc.quantities.reading import read
from racecalc.quantities.showing import System
from racecalc.views.commands.flags import JSON, RACE_FILE, RACE_FILES, SET, UNITS, USE
from racecalc.views.desk import current_desk, note, showing_work, tell_error

# --- From a question to its answer, wherever that is wanted --------------------------------------

DETAILS = click.option(
    "--details", "depth", flag_value=Depth.DETAILS, type=Depth, help="Show every table."
)
BASIS = click.option(
    "--basis", "depth", flag_value=Depth.BASIS, type=Depth, help="Show also what it rests on."
)

EXPLAIN = click.option(
    "--explain", is_flag=True, help="Show how the numbers arise: formulas, inputs, sources."
)

Answered = tuple[Any, Callable[..., Sheet]]
"""An answer, and what makes a sheet of it: for the commands on a race in a system of units."""


def with_depths(command: Callable[..., None]) -> Callable[..., None]:
    """Give a command the depths of its answer, and the way to it if it has none of its own."""
    return BASIS(DETAILS(command if _explains(command) else EXPLAIN(command)))


def _explains(command: Callable[..., Any]) -> bool:
    """Whether it has a flag of its own to be asked how its numbers arise."""
    return any(one.name == "explain" for one in getattr(command, "__click_params__", ()))


def _asked_how(explain: bool | str | None) -> bool:
    """Whether it is asked how the numbers arise; an empty word asks too."""
    return explain not in (False, None)


def answering(work: Callable[..., Answered]) -> Callable[..., None]:
    """Give a command the depths of its answer, and deliver what it returns; below `JSON`."""
    own = _explains(work)

    @wraps(work)
    def command(
        as_json: bool, depth: Depth | None, explain: bool | str | None, **given: Any
    ) -> None:
        with showing_work():
            answer, sheet = work(**given, **({"explain": explain} if own else {}))
        deliver(answer, partial(sheet, answer), as_json, depth, _asked_how(explain))
        end()

    return with_depths(command)


def race_command(work: Callable[..., Answered], together: Together | None = None) -> click.Command:
    """Make a command on a race, with the options that all of them take.

    One whose answers can be shown `together` takes several race files.
    """

    @click.command(work.__name__.removesuffix("_command"))
    @(RACE_FILES if together else RACE_FILE)
    @JSON
    @SET
    @USE
    @UNITS
    @answering
    @wraps(work)
    def command(
        race_file: Path | tuple[Path, ...],
        changes: tuple[str, ...],
        use: str | None,
        units: System,
        **given: Any,
    ) -> Answered:
        paths = race_file if isinstance(race_file, tuple) else (race_file,)
        found = []
        if len(paths) > 1 and _asked_how(click.get_current_context().params["explain"]):
            raise InputError("--explain", f"there are {len(paths)} races", "ask for each by itself")
        if len(paths) > 1 and given.get("outputs"):
            problem = f"there are {len(paths)} races and one file would hold the last"
            raise InputError("--output", problem, "ask for each race by itself")
        for path in paths:
            race = used_in(read_race(path, changes), use)
            say(race.notices)
            found.append(work(race, **given))
        if len(found) > 1 and together:
            squad = SquadAnswer(tuple(one for one, _ in found))
            return squad, partial(squad_sheet, together, units=units)
        [(answer, sheet)] = found
        return answer, lambda one: one.basis.with_use(sheet(one, units))

    return command


def squad_command(together: Together) -> Callable[[Callable[..., Answered]], click.Command]:
    """Make a command on a race or several."""
    return partial(race_command, together=together)


def asked_units() -> System:
    """System of units that the running command is asked for."""
    units: System = click.get_current_context().params["units"]
    return units


def read_race(race_file: Path, changes: Iterable[str] = ()) -> Race:
    """Read a race file with changes, from the desk where the command runs at one."""
    desk = current_desk()
    read_file = desk.read_race if desk and desk.read_race else load_measured
    return read_file(race_file, changes)


def used_in(race: Race, use: str | None) -> Race:
    """The race with the options in use that a flag names; None where it is not given."""
    if use is None:
        return race
    return replace(race, use=named_options(race, "--use", use) if use.strip() else ())


def deliver(
    answer: Any,
    sheet: Callable[[], Sheet],
    as_json: bool,
    depth: Depth | None = None,
    explain: bool = False,
) -> None:
    """Give an answer where it is wanted: as JSON, at the desk of a screen, or on the terminal."""
    if as_json:
        steps = {"explanation": plain([*sheet().explained()])} if explain else {}
        text = json_text(plain(answer) | steps, indent=2)
        click.echo(text)
        return
    made = sheet().explanation if explain else sheet()
    if desk := current_desk():
        desk.answers.append((answer, made))
    else:
        from racecalc.views.writers.terminal import print_sheet

        print_sheet(made, depth or Depth.ANSWER)


# --- Files that are written next to the answer ---------------------------------------------------


def writable(outputs: Sequence[Path], refuse: Callable[[Path], object]) -> tuple[Path, ...]:
    """The files that can be written; what speaks against the others is said before any work.

    Raises
    ------
    InputError
        If two are one file, or none can be written.
    """
    named = [path.resolve() for path in outputs]
    if len(set(named)) < len(named):
        raise InputError("--output", "one file is named twice", "name each once")
    found, errors = [], []
    for path in outputs:
        try:
            refuse(path)
            found.append(path)
        except InputError as error:
            errors.append(error)
    for one in errors if found else errors[:-1]:
        fail(one)
    if errors and not found:
        raise errors[-1]
    return tuple(found)


def write_each(outputs: Iterable[Path], write: Callable[[Path], object]) -> None:
    """Write files; one that fails does not stop the others."""
    for path in outputs:
        try:
            write(path)
            note(f"{path} written")
        except RacecalcError as error:
            fail(error)


def fail(error: RacecalcError) -> None:
    """Say what cannot be done, while all else is; the command ends with the status of it."""
    tell_error(error)
    click.get_current_context().meta[STATUS] = error.exit_status


def end() -> None:
    """End a command with the status of what failed on the way."""
    context = click.get_current_context()
    if STATUS in context.meta and not current_desk():
        context.exit(context.meta[STATUS])


STATUS = "racecalc.status"

# --- What is said next to the answer -------------------------------------------------------------


def say(notices: Iterable[Notice]) -> None:
    """Print notices next to the answer, on standard error."""
    for notice in notices:
        note(f"{'warning' if notice.warning else 'note'}: {notice}")


def note_idle(flags: Iterable[str], why: str) -> None:
    """Say on standard error where flags were given that do nothing here."""
    source = click.get_current_context().get_parameter_source
    given = [f"--{flag}" for flag in flags if source(flag) is ParameterSource.COMMANDLINE]
    if given:
        note(f"note: {' and '.join(given)}: {why}")


def note_idle_draws(race: Race) -> None:
    """Say on standard error where draws are asked for and there is nothing to draw."""
    if not race.doubts.stated:
        note_idle(
            ("draws", "seed"),
            f"{race.name} states no doubt, so nothing is drawn;"
            ' state one, as rider.power_doubt = "5 W"',
        )


# --- The values of flags -------------------------------------------------------------------------


Value = TypeVar("Value")
Given = TypeVar("Given")


def read_as(flag: str, given: Given, reader: Callable[[Given], Value]) -> Value:
    """Read the value of a flag, its errors naming the flag."""
    try:
        return reader(given)
    except QuantityError as error:
        raise InputError(flag, error.problem, error.remedy) from error


def read_quantity(flag: str, text: str, kind: Kind) -> float:
    """Read a quantity in SI."""
    return read_as(flag, text, partial(read, kind=kind))


def read_option(flag: str, text: str | None, kind: Kind) -> float | None:
    """Read a quantity of zero or more in SI; None where the flag is not given."""
    if text is None:
        return None
    value = read_quantity(flag, text, kind)
    if value < 0:
        raise InputError(flag, f"'{text}' is negative", "give a positive value")
    return value


def read_money_option(race: Race, flag: str, text: str | None) -> Money | None:
    """Read an amount of money, by itself in the currency of the race; None without the flag."""
    if text is None:
        return None
    return read_as(flag, text, partial(read_money, currency=currency_in(race)))


def currency_in(race: Race) -> str:
    """The one currency of a race file; empty where it has none, or several."""
    terms = race.money_terms
    amounts = [terms.per_second, terms.budget, terms.test_fee]
    amounts += [one for option in race.options for one in (option.price, option.ownership.hire)]
    found = {one.currency for one in amounts if one}
    return found.pop() if len(found) == 1 else ""


def read_budget(race: Race, text: str | None) -> Money | None:
    """Read a budget, or take that of the race file; None where neither gives one."""
    budget = read_money_option(race, "--budget", text) or race.money_terms.budget
    if budget is not None:
        refuse_mixed_currencies(race.options, {"the budget": budget})
    return budget


def read_price(race: Race, text: str | None) -> Money | None:
    """Read the price for a second, or take that of the race file; None where neither gives one."""
    flag = "--price-per-second"
    money = read_money_option(race, flag, text)
    if money is not None and not money.amount:
        raise InputError(flag, f"'{text}' is not a price for a second", "give more than zero")
    return money or race.money_terms.per_second


def single_option(race: Race, flag: str, name: str) -> Option:
    """Find an option of a race by its name, number or part; a set tested as one is none."""
    known = {option.name: option for option in race.single_options}
    return known[known_name(name, list(known), flag)]


def named_options(race: Race, flag: str, names: str) -> tuple[str, ...]:
    """Names of single options, joined by "+" in a flag; each must be known and fit the others."""
    known = [option.name for option in race.options]
    wanted = [names] if names in known else names.split(" + " if " + " in names else "+")
    options = [single_option(race, flag, name.strip()) for name in wanted]
    # What a single option needs is told where it is worked out.
    if len(options) > 1 and (problem := misfit(options)):
        raise InputError(flag, *problem)
    return tuple(option.name for option in options)
