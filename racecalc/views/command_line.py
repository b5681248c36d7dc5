"""The table of commands, and the start of the command line.

A command is imported when it is run, so that ``--help`` and the first screen stay quick. Answers
go to standard output, everything else to standard error; every error is a line and a status.
"""

import errno
import io
import os
import sys
from difflib import get_close_matches
from importlib import import_module
from pathlib import Path

import click

from racecalc import __version__
from racecalc.errors import InputError, RacecalcError
from racecalc.files.opening import folder_named
from racecalc.views.desk import has_screen, note, tell_error

COMMANDS = {
    "advice": ("advice", "The athlete's page: how to ride, what to buy, leave, test first."),
    "against": ("value", "Which of two options or sets is faster, and what its seconds cost."),
    "basket": ("choosing", "Which options to buy under a budget."),
    "breakeven": ("value", "What an option must save to pay off, in watts."),
    "compare": ("value", "Two race files compared: what differs, and what it does."),
    "completion": ("files", "Print the completion script of a shell, for the shell to source."),
    "convert": ("evidence", "Turn a saving into another form: watts, % of power, CdA, force."),
    "decide": ("choosing", "Buy now, or test first, and which test is worth most."),
    "help": ("help", "The manual: its topics, or one of them."),
    "measure": ("measure", "The drag area of each run of a test, from its ride recordings."),
    "new": ("files", "Make a commented race file and a course to start from."),
    "open": ("files", 'Work on a race file on the screen; "racecalc RACE" does the same.'),
    "pace": ("pacing", "How hard to ride where: targets that the rider can hold."),
    "places": ("race_day", "What the seconds mean in places of a results list."),
    "plan": ("evidence", "How many runs a test needs, in which order, and the sheet to fill in."),
    "quick": ("value", "A first answer without a file, from a few quantities."),
    "rates": ("race", "What a watt, a gram or a thousandth of CdA is worth."),
    "review": ("measure", "What was planned, what was ridden, and which input was off."),
    "set": ("files", "Write values into a race file, keeping its comments."),
    "time": ("race", "How long will it take, split by split."),
    "trial": ("evidence", "Does a test show a difference or a tie, or need more runs."),
    "value": ("value", "What each option is worth in seconds and in money."),
    "weather": ("race_day", "What race-day weather does to the time and to the best choices."),
}
"""The module of `racecalc.views.commands` that holds each command, and its line in the help."""


EXAMPLES = {
    "advice": ("race.toml", "race.toml -o page.html"),
    "against": ("race.toml Wheel Suit", 'race.toml "Wheel + Suit" "Tyres + Suit" --use ""'),
    "basket": ('race.toml --budget "600 EUR"', 'race.toml --at-least "60 s"'),
    "breakeven": ("race.toml --option Wheel", 'race.toml --mass "+850 g" --price "900 EUR"'),
    "compare": ("race.toml 'race (windy).toml'", "race.toml other.toml --json"),
    "completion": ("bash", "zsh"),
    "convert": (
        '"4.5 W at 45 km/h" --race race.toml',
        '"2 % of CdA" --cda "0.24 m^2" --to "W at 45 km/h"',
    ),
    "decide": ("race.toml", 'race.toml --price-per-second "10 EUR" --fee "25 EUR"'),
    "help": ("first-race", "json value"),
    "measure": (
        "sheet.csv race.toml -o runs.csv",
        'sheet.csv --mass "82 kg" --crr 0.004 --loss "2.5 %"',
    ),
    "new": ("mine", "races/autumn"),
    "open": ("race.toml", "race.toml --serve"),
    "pace": ("race.toml -o card.html", "race.toml --goal 58:00"),
    "places": ("race.toml results.csv", 'race.toml results.csv --me "My Name" --try Wheel'),
    "plan": (
        'Old New --difference "0.003 m^2" --repeatability "0.0016 m^2"',
        'Old New --difference "5 W" --repeatability "2 W" -o sheet.csv',
    ),
    "quick": (
        "40km 250W 0.25m2 83kg --saves 0.008m2",
        '20km 300W 0.22m2 70kg 9kg 1% --saves "5W at 45km/h" --price "300 EUR"',
    ),
    "rates": ("race.toml", "race.toml --units imperial"),
    "review": ("race.toml splits.csv", "race.toml splits.csv --card"),
    "set": ('race.toml rider.power="270 W"', 'race.toml option.2.mass="+60 g"'),
    "time": ('race.toml --split "5 km"', 'race.toml --set air.wind_speed="6 m/s"'),
    "trial": ("runs.csv", 'runs.csv --margin "1 W" --looks 2'),
    "value": ("race.toml", 'race.toml --together "Suit + Wheel" --explain Suit'),
    "weather": (
        "race.toml --forecast forecast.csv",
        'race.toml --forecast f.csv --budget "600 EUR"',
    ),
}
"""Two examples of each command, for the end of its help."""


QUESTIONS: dict[str, tuple[str, ...]] = {
    "against": ("Is {first} or {second} faster?",),
    "basket": (
        "Which set for {budget}?",
        "Which set where a second is worth {wanted}?",
        "Which set saves at least {at_least}?",
    ),
    "breakeven": (
        "From which saving does {name} pay?",
        "What must something of {mass} for {price} save?",
    ),
    "convert": ("What is a saving of {saving} as {wanted}?",),
    "decide": ("Buy now or test first, if a second is worth {wanted}?",),
    "measure": ("Which drag area had each run of {sheet_file}?",),
    "pace": ("How hard to ride where?", "Which power for the goal of {goal}?"),
    "places": ("How many places in {results_file}, for {me}?",),
    "plan": ("How many runs to find {difference} if one scatters {repeatability}, of {items}?",),
    "quick": ("How long do {words} take, without a file?",),
    "rates": ("What is a watt, a gram or a degree worth?",),
    "review": ("Which input was off in the ride {ridden_file}?",),
    "time": ("How long does it take, in splits of {split}?",),
    "trial": ("What do the runs of {runs_file} show?",),
    "value": ("What is each option worth?", "What do {together} save as one set?"),
    "weather": (
        "Start at which hour of {forecast_file}?",
        "What does the weather of other days do?",
    ),
}
"""What each command that answers about a race is asked on the screen; its parameters in braces."""


class CommandTable(click.Group):
    """The commands; a race file in the place of one is opened on the screen."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002
        """Names of the table."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        """Import a command of the table."""
        return command(cmd_name) if cmd_name in COMMANDS else None

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002
        """Write the table without importing what is in it."""
        room = formatter.width - 6 - max(map(len, COMMANDS))
        with formatter.section("Commands"):
            formatter.write_dl(
                [(name, _shortened(line, room)) for name, (_, line) in COMMANDS.items()]
            )

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Take the flags of "open" without it."""
        flags = command("open").params if args and args[0].startswith("-") else ()
        if any(args[0] in one.opts for one in flags):
            args = ["open", *args]
        return super().parse_args(ctx, args)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the command; the name of a file means opening it."""
        if args[0] not in COMMANDS and _is_race_file(args[0]):
            return "open", command("open"), args
        if args[0] not in COMMANDS and Path(args[0]).is_dir():
            raise folder_named(Path(args[0]))
        if args[0] not in COMMANDS and not args[0].startswith("-"):
            near = get_close_matches(args[0], COMMANDS, n=1)
            meant = f"did you mean '{near[0]}'? " if near else ""
            problem = f"there is no command '{args[0]}'"
            raise InputError("", problem, f"{meant}see racecalc --help")
        return super().resolve_command(ctx, args)


def command(name: str) -> click.Command:
    """Import a command of the table."""
    module = import_module(f"racecalc.views.commands.{COMMANDS[name][0]}")
    found: click.Command = getattr(module, f"{name}_command")
    examples = (f"  racecalc {name} {words}" for words in EXAMPLES[name])
    found.epilog = "\n".join(["\b", "Examples:", *examples])
    return found


def _shortened(line: str, room: int) -> str:
    if len(line) <= room:
        return line
    return f"{line[: room - 3].rsplit(' ', 1)[0]}..."


def _is_race_file(name: str) -> bool:
    return Path(name).suffix.lower() == ".toml" or Path(name).is_file()


@click.group(
    cls=CommandTable,
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
    if context.invoked_subcommand is None:
        if has_screen():
            context.invoke(command("open"))
        else:
            click.echo(context.get_help())


def run() -> int:
    """Run the command line."""
    _open_streams()
    try:
        status = racecalc.main(prog_name="racecalc", standalone_mode=False)
    except click.ClickException as error:
        tell_error(refused(error))
        return error.exit_code
    except click.Abort:
        note("stopped")
        return 130
    except SystemExit:
        # So click ends where the reader, such as head, has seen enough.
        return 0
    except Exception as error:
        said = error if isinstance(error, RacecalcError) else _unforeseen(error)
        tell_error(said)
        return said.exit_status
    return status if isinstance(status, int) else 0


def _open_streams() -> None:
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        # One that is closed would give its number to the next file that is opened.
        if getattr(sys, name) is None:
            setattr(sys, name, open(os.devnull, mode, encoding="utf-8"))  # noqa: PTH123, SIM115
        # A name in letters that the terminal lacks must not end in an error.
        elif mode == "w" and isinstance(stream := getattr(sys, name), io.TextIOWrapper):
            stream.reconfigure(errors="replace")


UNWRITTEN = dict.fromkeys((errno.ENOSPC, errno.EFBIG, errno.EDQUOT), "make room") | dict.fromkeys(
    (errno.EIO, errno.EBADF), "send it elsewhere"
)
"""What comes of writing to standard output where there is no room, or nothing to write to."""


def _unforeseen(error: Exception) -> RacecalcError:
    if isinstance(error, OSError) and error.errno in UNWRITTEN:
        problem = f"cannot be written: {error.strerror}"
        return InputError("the answer", problem, UNWRITTEN[error.errno])
    if isinstance(error, FileNotFoundError) and not Path().exists():
        return InputError("the working folder", "is no longer there", "go to another")
    failed = f"racecalc failed ({type(error).__name__}: {error})"
    return RacecalcError(f"{failed}; this is a bug in racecalc, please report it")


def refused(error: click.ClickException) -> InputError:
    """What is wrong with a command as it was typed, and where to read how it goes."""
    place, problem, meant = "", error.format_message(), ""
    if isinstance(error, click.MissingParameter) and error.param:
        problem = f"{_typed(error.param)} is missing"
    elif isinstance(error, click.BadParameter) and error.param:
        place, problem = _typed(error.param), error.message
    elif isinstance(error, click.NoSuchOption):
        place, problem = error.option_name, "there is no such flag"
        meant = "".join(f"did you mean '{one}'? " for one in (error.possibilities or ())[:1])
    elif isinstance(error, click.BadOptionUsage):
        place, problem = error.option_name, error.message.partition("' ")[2] or error.message
    problem = " ".join(problem.split()).removesuffix(".")
    if not isinstance(error, click.UsageError):
        return InputError(place, problem)
    # Where an option lacks its value, it is not said of which command.
    named = " ".join(["racecalc", *(one for one in sys.argv[1:2] if one in COMMANDS)])
    of = error.ctx.command_path if error.ctx else named
    return InputError(place, problem, f"{meant}see {of} --help")


def _typed(parameter: click.Parameter) -> str:
    """Name a parameter as it is typed."""
    if isinstance(parameter, click.Argument):
        return parameter.human_readable_name.removesuffix("...")
    return max(parameter.opts, key=len)
