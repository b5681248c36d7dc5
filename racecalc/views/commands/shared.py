"""What the commands share: their common options, and how they read and print."""

import json
from collections.abc import Callable, Iterable
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from racecalc.answers.sheet import Depth
from racecalc.errors import InputError, Notice
from racecalc.views.desk import current_desk

if TYPE_CHECKING:
    from racecalc.answers.sheet import Sheet
    from racecalc.decisions.information import Scatter
    from racecalc.domain.option import Option
    from racecalc.domain.race import Race

RACE_FILE = click.argument("race_file", metavar="RACE", type=click.Path(path_type=Path))
UNITS = click.option(
    "--units",
    type=click.Choice(["metric", "imperial"]),
    default="metric",
    show_default=True,
    help="Units of the answer.",
)

JSON = click.option("--json", "as_json", is_flag=True, help="Print JSON in SI units.")
DETAILS = click.option(
    "--details", "depth", flag_value=Depth.DETAILS, type=Depth, help="Show every table."
)
BASIS = click.option(
    "--basis", "depth", flag_value=Depth.BASIS, type=Depth, help="Show what it rests on too."
)
SET = click.option(
    "--set",
    "changes",
    multiple=True,
    metavar="KEY=VALUE",
    help='Try another value, as rider.power="280 W". May be repeated.',
)


def race_command(answer: Callable[..., None]) -> Callable[..., None]:
    """Give a command the race file and the options that all of them take."""

    @click.command(answer.__name__.removesuffix("_command"))
    @RACE_FILE
    @JSON
    @SET
    @UNITS
    @wraps(answer)
    def command(race_file: Path, changes: tuple[str, ...], **given: Any) -> None:
        race = read_race(race_file, changes)
        for notice in race.notices:
            say(notice)
        answer(race=race, **given)

    return command


def read_race(race_file: Path, changes: Iterable[str]) -> "Race":
    """Read a race file with changes, from the desk where the command runs at one."""
    from racecalc.domain.loading import load_race

    desk = current_desk()
    read = desk.read_race if desk and desk.read_race else load_race
    return read(race_file, changes)


def draw_options(answer: Callable[..., None]) -> Callable[..., None]:
    """Give a command the options of a Monte Carlo."""
    seeded = click.option(
        "--seed",
        type=click.IntRange(0),
        default=1,
        show_default=True,
        help="Seed of the random draws.",
    )
    counted = click.option(
        "--draws",
        type=click.IntRange(200, 1_000_000),
        default=20_000,
        show_default=True,
        help="Number of random draws.",
    )
    return seeded(counted(answer))


def say(notice: Notice) -> None:
    """Print a notice beside the answer, on standard error."""
    note(f"{'warning' if notice.warning else 'note'}: {notice}")


def note(text: str) -> None:
    """Print a line beside the answer, on standard error."""
    desk = current_desk()
    if desk:
        desk.notices.append(text)
    else:
        click.echo(text, err=True)


def print_answer(text: str) -> None:
    """Print an answer in words."""
    desk = current_desk()
    if desk:
        desk.answers.append(text)
    else:
        click.echo(text.rstrip())


def print_json(answer: Any) -> None:
    """Print an answer for scripts."""
    from racecalc.answers.fields import plain

    print_answer(json.dumps(plain(answer), indent=2, ensure_ascii=False, allow_nan=False))


def with_depths(command: Callable[..., None]) -> Callable[..., None]:
    """Give a command the depths of its answer."""
    return BASIS(DETAILS(command))


def deliver(
    answer: Any, sheet: "Callable[[], Sheet]", as_json: bool, depth: Depth | None = None
) -> None:
    """Give an answer where it is wanted: as JSON, at the desk of a screen, or on the terminal.

    `sheet` makes of it what a person reads, as far as a depth: the answer alone if None.
    """
    desk = current_desk()
    if as_json:
        print_json(answer)
    elif desk:
        desk.answers.append(sheet())
    else:
        from racecalc.views.writers.terminal import print_sheet

        print_sheet(sheet(), depth or Depth.ANSWER)


def note_idle(flags: Iterable[str], why: str) -> None:
    """Say on standard error where flags were given that do nothing here."""
    from click.core import ParameterSource

    source = click.get_current_context().get_parameter_source
    given = [f"--{flag}" for flag in flags if source(flag) is ParameterSource.COMMANDLINE]
    if given:
        note(f"note: {' and '.join(given)}: {why}")


def note_idle_draws(race: "Race") -> None:
    """Say on standard error where draws are asked for and there is nothing to draw."""
    if not race.doubts.stated:
        note_idle(
            ("draws", "seed"),
            f"{race.name} states no doubt, so nothing is drawn;"
            ' state one, as rider.power_doubt = "5 W"',
        )


def read_as(flag: str, text: str, reader: Callable[[str], Any]) -> Any:
    """Read the value of a flag, its errors naming the flag."""
    from racecalc.quantities.measured import QuantityError

    try:
        return reader(text)
    except QuantityError as error:
        raise InputError(flag, error.problem, error.remedy) from error


def read_option(flag: str, text: str | None, kind: Any) -> float | None:
    """Read a quantity of zero or more in SI; None where the flag is not given."""
    from racecalc.quantities.reading import read

    if text is None:
        return None
    value: float = read_as(flag, text, lambda words: read(words, kind))
    if value < 0:
        raise InputError(flag, f"'{text}' is negative", "give a positive value")
    return value


def refuse_named_twice(outputs: Iterable[Path]) -> None:
    """Refuse outputs of which two are one file."""
    named = [path.resolve() for path in outputs]
    if len(set(named)) < len(named):
        raise InputError("--output", "names one file twice", "name each once")


def read_money_option(flag: str, text: str | None) -> Any:
    """Read an amount of money; None where the flag is not given."""
    from racecalc.quantities.money import read_money

    return None if text is None else read_as(flag, text, read_money)


def read_budget(race: "Race", text: str | None) -> Any:
    """Read a budget, or take that of the race file; None where neither gives one."""
    from racecalc.decisions.money import refuse_mixed_currencies

    budget = read_money_option("--budget", text) or race.money_terms.budget
    if budget is not None:
        refuse_mixed_currencies(race.options, {"the budget": budget})
    return budget


def read_price(race: "Race", text: str | None) -> Any:
    """Read the price for a second, or take that of the race file; None where neither gives one."""
    flag = "--price-per-second"
    money = read_money_option(flag, text)
    if money is not None and not money.amount:
        raise InputError(flag, f"'{text}' is no price for a second", "give more than zero")
    return money or race.money_terms.per_second


def read_scatter(flag: str, text: str) -> "Scatter":
    """Read how far a run or a test is off, as a saving in any form or in seconds."""
    from racecalc.decisions.information import Scatter
    from racecalc.domain.option import is_kind, read_saving
    from racecalc.quantities.kinds import TIME
    from racecalc.quantities.reading import read

    if is_kind(text, TIME):
        found = Scatter(None, read_as(flag, text, lambda words: read(words, TIME)), text)
        size = found.seconds
    else:
        saving = read_as(flag, text, read_saving)
        found, size = Scatter(saving, 0.0, saving.words), saving.amount
    if not size > 0:
        raise InputError(flag, f"'{text}' is not above zero", "give it above 0")
    return found


def single_option(race: "Race", flag: str, name: str) -> "Option":
    """Find an option of a race by its name; a set tested as one is none."""
    from racecalc.files.race_values import nearest

    known = {option.name: option for option in race.single_options}
    if name not in known:
        raise InputError(flag, f"there is no option '{name}'", nearest(name, list(known)))
    return known[name]


def named_options(race: "Race", flag: str, names: str) -> tuple[str, ...]:
    """Names of single options, joined by " + " in a flag; each must be known and fit the others."""
    alone = names in [option.name for option in race.options]
    wanted = [names] if alone else [name.strip() for name in names.split(" + ")]
    known = {name: single_option(race, flag, name) for name in wanted}
    for name in wanted:
        if wanted.count(name) > 1:
            raise InputError(flag, f"'{name}' is named twice", "name each option once")
    slots = [known[name].slot for name in wanted if known[name].slot]
    for slot in slots:
        if slots.count(slot) > 1:
            raise InputError(flag, f"two options of the slot '{slot}'", "name one of each slot")
    if len(wanted) > 1:
        _refuse_misfits(flag, [known[name] for name in wanted])
    return tuple(wanted)


def _refuse_misfits(flag: str, options: "list[Option]") -> None:
    """Options of one set must be usable together by what the race file says of them."""
    names = {option.name for option in options}
    for option in options:
        for other in option.restrictions.excludes:
            if other in names:
                raise InputError(
                    flag, f"'{option.name}' cannot be used beside '{other}'", "name one of them"
                )
        for other in option.restrictions.needs:
            if other not in names:
                raise InputError(flag, f"'{option.name}' needs '{other}'", "name both")
    held = [option.name for option in options if not option.holding.always]
    if len(held) > 1:
        problem = f"'{held[0]}' and '{held[1]}' are positions that cannot be held at once"
        raise InputError(flag, problem, "name one of them")
