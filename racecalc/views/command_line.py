"""The commands: each reads its arguments, asks one question and prints the answer.

Answers go to standard output, everything else to standard error. What is slow to import is
imported inside the command that needs it, so that ``--help`` stays quick.
"""

import io
import sys
from collections.abc import Callable
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from racecalc import __version__
from racecalc.errors import InputError, Notice, RacecalcError

if TYPE_CHECKING:
    from racecalc.domain.race import Race
    from racecalc.quantities.showing import System

RACE_FILE = click.argument("race_file", metavar="RACE", type=click.Path(path_type=Path))


def run() -> int:
    """Run the command line.

    Returns
    -------
    int
        0 for an answer, 2 for input that will not do, 1 for a failure of ours.
    """
    for stream in (sys.stdout, sys.stderr):
        # A name in letters that the terminal lacks must not end in an error.
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
    try:
        status = racecalc.main(standalone_mode=False)
    except click.ClickException as error:
        error.show()
        return error.exit_code
    except click.Abort:
        click.echo("stopped", err=True)
        return 130
    except RacecalcError as error:
        click.echo(f"error: {error}", err=True)
        return error.exit_status
    except BrokenPipeError:
        return _closed_pipe()
    except Exception as error:
        click.echo(f"error: racecalc failed ({type(error).__name__}: {error})", err=True)
        click.echo("this is a fault of racecalc, please report it with the race file", err=True)
        return 1
    return status if isinstance(status, int) else 0


def _closed_pipe() -> int:
    """Leave quietly when the reader, such as ``head``, has seen enough."""
    sys.stderr.close()
    return 0


@click.group(
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80},
)
@click.version_option(__version__, "-V", "--version", prog_name="racecalc")
@click.pass_context
def racecalc(context: click.Context) -> None:
    """Turn field-tested watts into seconds and money on your own course.

    Each command answers one question about a race file; "racecalc new FOLDER" makes one to
    start from.
    """
    if context.invoked_subcommand is None:
        click.echo(context.get_help())


def race_command(answer: Callable[..., None]) -> Callable[..., None]:
    """Give a command the race file and the options that all of them take."""

    @racecalc.command(answer.__name__.removesuffix("_command"))
    @RACE_FILE
    @click.option("--json", "as_json", is_flag=True, help="Print JSON in SI units.")
    @click.option(
        "--set",
        "changes",
        multiple=True,
        metavar="KEY=VALUE",
        help='Try another value, as rider.power="280 W". May be repeated.',
    )
    @click.option(
        "--units",
        type=click.Choice(["metric", "imperial"]),
        default="metric",
        show_default=True,
        help="Units of the answer.",
    )
    @wraps(answer)
    def command(race_file: Path, changes: tuple[str, ...], **given: Any) -> None:
        from racecalc.domain.loading import load_race

        race = load_race(race_file, changes)
        for notice in race.notices:
            _say(notice)
        answer(race=race, **given)

    return command


def _say(notice: Notice) -> None:
    click.echo(f"{'warning' if notice.warning else 'note'}: {notice}", err=True)


def _print(text: str, lines: dict[str, Any] | None = None) -> None:
    if lines is None:
        click.echo(text.rstrip())
    else:
        from racecalc.views.as_json import dumps

        click.echo(dumps(lines))


@race_command
@click.option("--split", metavar="LENGTH", help='Length of a split, as "5 km".')
@click.option("--chart/--no-chart", default=True, help="Draw elevation and speed.")
@click.option("--explain", is_flag=True, help="Show each step with formula and source.")
def time_command(
    race: "Race", as_json: bool, units: "System", split: str | None, chart: bool, explain: bool
) -> None:
    """How long will it take, split by split."""
    from racecalc.decisions.explain import explain_time
    from racecalc.decisions.riding import ride
    from racecalc.decisions.timing import round_split, timing
    from racecalc.quantities.kinds import LENGTH
    from racecalc.quantities.showing import unit_size

    ridden = ride(race)
    length = _option_value("--split", split, LENGTH)
    if length is not None and not 0.001 * race.course.length <= length:
        raise InputError("--split", f"'{split}' makes over 1000 splits", "give a longer length")
    unit = unit_size("course_distance", units)
    timed = timing(ridden, length or round_split(race.course.length, unit))
    steps = explain_time(ridden, timed) if explain else ()
    if as_json:
        from racecalc.views.as_json import time_json

        return _print("", time_json(race, timed, steps))
    from racecalc.views.chains import chain_text
    from racecalc.views.time_page import time_text

    chain = chain_text(steps, "the time") if explain else ""
    return _print(time_text(ridden, timed, units, chart) + chain)


@race_command
def rates_command(race: "Race", as_json: bool, units: "System") -> None:
    """What a watt, a gram or a thousandth of CdA is worth."""
    from racecalc.decisions.rates import rates
    from racecalc.decisions.riding import ride

    ridden = ride(race)
    found = rates(ridden)
    if as_json:
        from racecalc.views.as_json import rates_json

        return _print("", rates_json(ridden, found))
    from racecalc.views.rates_page import rates_text

    return _print(rates_text(ridden, found, units))


@race_command
@click.option(
    "--margin",
    metavar="POWER",
    default="1 W",
    show_default=True,
    help="Watts at the test that are too few to matter.",
)
@click.option(
    "--price-per-second",
    "wanted",
    metavar="MONEY",
    help='Most you would pay for a second, as "20 EUR".',
)
@click.option(
    "--together",
    multiple=True,
    metavar='"A + B"',
    help="Solve these options as one set. May be repeated to compare sets.",
)
@click.option("--explain", metavar="OPTION", help="Show how the numbers of one option arise.")
def value_command(
    race: "Race",
    as_json: bool,
    units: "System",
    margin: str,
    wanted: str | None,
    together: tuple[str, ...],
    explain: str | None,
) -> None:
    """What each option is worth in seconds and in money."""
    from racecalc.decisions.explain import explain_value
    from racecalc.decisions.riding import ride
    from racecalc.decisions.value import refuse_mixed_currencies, value_of, value_of_set
    from racecalc.quantities.kinds import POWER
    from racecalc.views.progress import tracked

    if not race.options:
        raise InputError(race.name, "has no [[option]] to value", "add one with name and saves")
    sets = [_named_options(race, "--together", names) for names in together]
    explained = _named_options(race, "--explain", explain) if explain else ()
    margin_w = _option_value("--margin", margin, POWER) or 0.0
    price = _money("--price-per-second", wanted)
    refuse_mixed_currencies(race.options, price)
    base = ride(race)
    values = [
        value_of(base, option, margin_w, price)
        for option in tracked(race.options, "solving options")
    ]
    joint = [value_of_set(base, options) for options in sets]
    chains = {
        value.option.name: explain_value(base, value)
        for value in values
        if value.option in explained
    }
    if as_json:
        from racecalc.views.as_json import value_json

        return _print("", value_json(base, values, joint, chains))
    from racecalc.views.chains import chain_text
    from racecalc.views.value_page import value_text

    text = value_text(base, values, joint, units)
    return _print(text + "".join(chain_text(steps, name) for name, steps in chains.items()))


def _option_value(flag: str, text: str | None, kind: Any) -> float | None:
    from racecalc.quantities.reading import QuantityError, read

    if text is None:
        return None
    try:
        value = read(text, kind)
    except QuantityError as error:
        raise InputError(flag, error.problem, error.remedy) from error
    if value < 0:
        raise InputError(flag, f"'{text}' is negative", "give a positive value")
    return value


def _money(flag: str, text: str | None) -> Any:
    from racecalc.quantities.money import read_money
    from racecalc.quantities.reading import QuantityError

    if text is None:
        return None
    try:
        money = read_money(text)
    except QuantityError as error:
        raise InputError(flag, error.problem, error.remedy) from error
    if not money.amount:
        raise InputError(flag, f"'{text}' is no price for a second", "give more than zero")
    return money


def _named_options(race: "Race", flag: str, names: str) -> tuple[Any, ...]:
    from racecalc.files.race_values import nearest

    known = {option.name: option for option in race.options}
    wanted = [names] if names in known else [name.strip() for name in names.split(" + ")]
    for name in wanted:
        if name not in known:
            raise InputError(flag, f"there is no option '{name}'", nearest(name, list(known)))
    for name in wanted:
        if wanted.count(name) > 1:
            raise InputError(flag, f"'{name}' is named twice", "name each option once")
    slots = [known[name].slot for name in wanted if known[name].slot]
    for slot in slots:
        if slots.count(slot) > 1:
            raise InputError(flag, f"two options of the slot '{slot}'", "name one of each slot")
    return tuple(known[name] for name in wanted)


@racecalc.command("set")
@RACE_FILE
@click.argument("changes", nargs=-1, required=True, metavar="KEY=VALUE...")
def set_command(race_file: Path, changes: tuple[str, ...]) -> None:
    """Write values into a race file, keeping its comments."""
    from racecalc.files.race_writing import write_changes

    write_changes(race_file, changes)
    click.echo(f"{race_file}: {len(changes)} value{'s' if len(changes) > 1 else ''} written")


@racecalc.command("new")
@click.argument("folder", type=click.Path(path_type=Path))
def new_command(folder: Path) -> None:
    """Make a commented race file and a course to start from."""
    from racecalc.files.starting import write_starting_files

    for path in write_starting_files(folder):
        click.echo(path)
    click.echo(f"now try: racecalc time {folder / 'race.toml'}", err=True)


@racecalc.command("completion")
@click.argument("shell", type=click.Choice(["bash", "zsh", "fish"]))
def completion_command(shell: str) -> None:
    """Print the completion script of a shell, to be sourced by it."""
    from click.shell_completion import get_completion_class

    script = get_completion_class(shell)
    if script is not None:
        click.echo(script(racecalc, {}, "racecalc", "_RACECALC_COMPLETE").source())
