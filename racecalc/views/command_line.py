"""Start of the command line: runs a command and turns every error into a line and a status.

Answers go to standard output, everything else to standard error. What is slow to import is
imported inside the command that needs it, so that ``--help`` stays quick.
"""

import io
import sys

import click

from racecalc.errors import RacecalcError
from racecalc.views.commands import answers, opening
from racecalc.views.commands.shared import racecalc

__all__ = ["answers", "opening", "run"]


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
        status = racecalc.main(prog_name="racecalc", standalone_mode=False)
    except click.ClickException as error:
        click.echo(f"error: {_refusal(error)}", err=True)
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


def _refusal(error: click.ClickException) -> str:
    """What is wrong with a command as it was typed, in one line, and where to read how it goes."""
    problem = error.format_message()
    if isinstance(error, click.MissingParameter) and error.param:
        problem = f"{_typed(error.param)}: it is missing"
    elif isinstance(error, click.BadParameter) and error.param:
        problem = f"{_typed(error.param)}: {error.message}"
    problem = " ".join(problem.split()).removesuffix(".")
    if not isinstance(error, click.UsageError):
        return problem
    # Where an option lacks its value, it is not said of which command.
    named = " ".join(["racecalc", *(one for one in sys.argv[1:2] if one in racecalc.commands)])
    return f"{problem}; see {error.ctx.command_path if error.ctx else named} --help"


def _typed(parameter: click.Parameter) -> str:
    """Name a parameter as it is typed."""
    if isinstance(parameter, click.Argument):
        return parameter.human_readable_name
    return max(parameter.opts, key=len)


def _closed_pipe() -> int:
    """Leave quietly when the reader, such as ``head``, has seen enough."""
    sys.stderr.close()
    return 0
