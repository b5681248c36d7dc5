"""The command that puts two race files beside each other."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from racecalc.views.commands.shared import (
    JSON,
    RACE_FILE,
    UNITS,
    print_answer,
    print_json,
    racecalc,
    read_race,
    say,
)

if TYPE_CHECKING:
    from racecalc.quantities.showing import System


@racecalc.command("compare")
@RACE_FILE
@click.argument("other_file", metavar="OTHER", type=click.Path(path_type=Path))
@JSON
@UNITS
def compare_command(race_file: Path, other_file: Path, as_json: bool, units: "System") -> None:
    """Two race files beside each other: what differs, and what it does."""
    from racecalc.decisions.comparison import compared
    from racecalc.decisions.outlook import outlook_of
    from racecalc.files.draft import Draft
    from racecalc.files.opening import read_text
    from racecalc.views.compare_page import compare_json, compare_text, input_changes

    races = [read_race(path, ()) for path in (race_file, other_file)]
    for race in races:
        for notice in race.notices:
            say(notice)
    found = compared(*(outlook_of(race) for race in races))
    inputs = input_changes(read_text(race_file), Draft.opened(other_file))
    names = (race_file.stem, other_file.stem)
    if as_json:
        return print_json(compare_json(names, inputs, found))
    return print_answer(compare_text(names, inputs, found, units))
