"""What the commands share: the group, their common options, and how they read and print."""

import sys
from collections.abc import Callable, Iterable
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from racecalc import __version__
from racecalc.errors import InputError, Notice
from racecalc.views.desk import current_desk

if TYPE_CHECKING:
    from racecalc.decisions.prospects import Scatter
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
SET = click.option(
    "--set",
    "changes",
    multiple=True,
    metavar="KEY=VALUE",
    help='Try another value, as rider.power="280 W". May be repeated.',
)


class RaceGroup(click.Group):
    """The commands; a race file in the place of one is opened on the screen."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Let the flags of "open" stand without it."""
        flags = {flag for one in self.commands["open"].params for flag in one.opts}
        if args and args[0] in flags:
            args = ["open", *args]
        return super().parse_args(ctx, args)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the command; the name of a file stands for opening it."""
        if args[0] not in self.commands and _is_race_file(args[0]):
            return "open", self.commands["open"], args
        return super().resolve_command(ctx, args)


def _is_race_file(name: str) -> bool:
    return Path(name).suffix.lower() == ".toml" or Path(name).is_file()


@click.group(
    cls=RaceGroup,
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80},
)
@click.version_option(__version__, "-V", "--version", prog_name="racecalc")
@click.pass_context
def racecalc(context: click.Context) -> None:
    """Turn field-tested watts into seconds and money on your own course.

    Without a command, or with a race file alone, the terminal interface opens. Each command
    answers one question about a race file; "racecalc new FOLDER" makes one to start from.
    """
    if context.invoked_subcommand is not None:
        return
    if sys.stdin.isatty() and sys.stdout.isatty():
        context.invoke(racecalc.commands["open"])
    else:
        click.echo(context.get_help())


def race_command(answer: Callable[..., None]) -> Callable[..., None]:
    """Give a command the race file and the options that all of them take."""

    @racecalc.command(answer.__name__.removesuffix("_command"))
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
    return desk.read_race(race_file, changes) if desk else load_race(race_file, changes)


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
    tell(f"{'warning' if notice.warning else 'note'}: {notice}")


def tell(text: str) -> None:
    """Print a line beside the answer, on standard error."""
    desk = current_desk()
    if desk:
        desk.notice(text)
    else:
        click.echo(text, err=True)


def print_answer(text: str) -> None:
    """Print an answer in words."""
    desk = current_desk()
    if desk:
        desk.answer(text)
    else:
        click.echo(text.rstrip())


def print_json(answer: dict[str, Any]) -> None:
    """Print an answer for scripts."""
    from racecalc.views.as_json import dumps

    print_answer(dumps(answer))


def note_idle(flags: Iterable[str], why: str) -> None:
    """Say on standard error where flags were given that do nothing here."""
    from click.core import ParameterSource

    source = click.get_current_context().get_parameter_source
    given = [f"--{flag}" for flag in flags if source(flag) is ParameterSource.COMMANDLINE]
    if given:
        tell(f"note: {' and '.join(given)}: {why}")


def read_as(flag: str, text: str, reader: Callable[[str], Any]) -> Any:
    """Read the value of a flag, its errors naming the flag."""
    from racecalc.quantities.reading import QuantityError

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
    """Read a budget, or take that of the race file; None where neither gives one.

    Raises
    ------
    InputError
        If a price stands in another currency.
    """
    from racecalc.decisions.costs import refuse_mixed_currencies

    budget = read_money_option("--budget", text) or race.purse.budget
    if budget is not None:
        refuse_mixed_currencies(race.options, {"the budget": budget})
    return budget


def read_price(race: "Race", text: str | None) -> Any:
    """Read the price for a second, or take that of the race file; None where neither gives one."""
    flag = "--price-per-second"
    money = read_money_option(flag, text)
    if money is not None and not money.amount:
        raise InputError(flag, f"'{text}' is no price for a second", "give more than zero")
    return money or race.purse.per_second


def read_scatter(flag: str, text: str) -> "Scatter":
    """Read how far a run or a test is off, as a saving in any form or in seconds."""
    from racecalc.decisions.prospects import Scatter
    from racecalc.domain.saving import is_kind, read_saving
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
        for other in option.ties.excludes:
            if other in names:
                raise InputError(
                    flag, f"'{option.name}' cannot be used beside '{other}'", "name one of them"
                )
        for other in option.ties.needs:
            if other not in names:
                raise InputError(flag, f"'{option.name}' needs '{other}'", "name both")
    held = [option.name for option in options if not option.holding.always]
    if len(held) > 1:
        problem = f"'{held[0]}' and '{held[1]}' are positions that cannot be held at once"
        raise InputError(flag, problem, "name one of them")
