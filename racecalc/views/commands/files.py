"""The commands that make, change and open race files."""

import ipaddress
import shlex
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from racecalc.errors import InputError
from racecalc.views.commands.flags import FILE, RACE_FILE, UNITS, default_option
from racecalc.views.desk import has_screen, note, server_of, showing_work
from racecalc.views.width import for_errors

if TYPE_CHECKING:
    from racecalc.quantities.showing import System

LOOPBACK = "localhost"
PORT = 8000


@click.command("open")
@click.argument("race_file", metavar="[RACE]", required=False, type=FILE)
@UNITS
@click.option("--serve", is_flag=True, help="Show it in a browser instead, on this machine.")
@default_option(
    "--host",
    default=LOOPBACK,
    help="Address to serve at; who has its key can read and write your files.",
)
@default_option("--port", type=click.IntRange(1, 65535), default=PORT)
def open_command(
    race_file: Path | None, units: "System", serve: bool, host: str, port: int
) -> None:
    """Work on a race file on the screen; "racecalc RACE" does the same."""
    if race_file is not None:
        from racecalc.files.opening import read_text

        read_text(race_file)
    if serve:
        return _serve(race_file, units, host, port)
    if not has_screen():
        remedy = f"try racecalc time {race_file or 'RACE'}"
        raise InputError("the screen", "needs a terminal", remedy)
    from racecalc.views.workspace.app import Workspace

    workspace = Workspace(race_file, units)
    workspace.run()
    click.get_current_context().exit(workspace.return_code or 0)
    return None


def _serve(race_file: Path | None, units: str, host: str, port: int) -> None:
    words = [sys.executable, "-m", "racecalc", "open", "--units", units]
    if race_file is not None:
        words.append(str(race_file.resolve()))
    title = f"{race_file.name} - racecalc" if race_file else "racecalc"
    try:
        server = server_of(shlex.join(words), host, port, title)
    except ImportError as error:
        raise InputError(
            "--serve", "needs the library textual-serve", "pip install 'racecalc[serve]'"
        ) from error
    if not _is_loopback(host):
        note(
            f"warning: whoever has the address with its key can read and write race files as you,"
            f" from every machine that reaches {host}:{port}"
        )
    try:
        server.serve()
    except OSError as error:
        problem = f"cannot serve there ({error.strerror or error})"
        raise InputError(f"{host}:{port}", problem, "name another with --host or --port") from error


def _is_loopback(host: str) -> bool:
    if host == LOOPBACK:
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


@click.command("set")
@RACE_FILE
@click.argument("changes", nargs=-1, required=True, metavar="KEY=VALUE...")
def set_command(race_file: Path, changes: tuple[str, ...]) -> None:
    """Write values into a race file, keeping its comments."""
    from racecalc.files.race_writing import write_changes

    write_changes(race_file, changes)
    values = f"{len(changes)} value{'s' if len(changes) > 1 else ''}"
    click.echo(for_errors(f"{race_file}: {values} written"))


@click.command("new")
@click.argument("folder", type=FILE)
@click.option("--course", metavar="FILE", type=FILE, help="Your own: .gpx, .fit, .tcx or .csv.")
def new_command(folder: Path, course: Path | None) -> None:
    """Make a commented race file and a course to start from."""
    from racecalc.files.race_writing import write_starting_files

    with showing_work():
        paths = write_starting_files(folder, course)
    for path in paths:
        click.echo(path)
    note(f"now try: racecalc time {folder / 'race.toml'}")


@click.command("completion")
@click.argument("shell", type=click.Choice(["bash", "zsh", "fish"]))
def completion_command(shell: str) -> None:
    """Print the completion script of a shell, for the shell to source."""
    from click.shell_completion import get_completion_class

    script = get_completion_class(shell)
    if script is not None:
        root = click.get_current_context().find_root().command
        click.echo(script(root, {}, "racecalc", "_RACECALC_COMPLETE").source())
