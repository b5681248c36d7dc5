"""The commands that ride a race: its time, its rates, and two races compared."""

from pathlib import Path

import click

from racecalc.answers.basis import Basis
from racecalc.answers.compare import CompareAnswer, compare_sheet
from racecalc.answers.rates import RatesAnswer, rates_sheet
from racecalc.answers.sheet import Depth
from racecalc.answers.time import TimeAnswer, time_sheet
from racecalc.decisions.comparison import outlook_of
from racecalc.decisions.doubt import time_band
from racecalc.decisions.explain import explain_time
from racecalc.decisions.rates import rates
from racecalc.decisions.riding import ride
from racecalc.decisions.timing import round_split, timing
from racecalc.domain.race import Race
from racecalc.errors import InputError
from racecalc.files.draft import Draft
from racecalc.files.opening import read_text
from racecalc.quantities.kinds import LENGTH
from racecalc.quantities.showing import System, unit_size
from racecalc.views.commands.shared import (
    JSON,
    RACE_FILE,
    UNITS,
    deliver,
    draw_options,
    note_idle_draws,
    race_command,
    read_option,
    read_race,
    say,
    with_depths,
)

# --- The commands on a race file ------------------------------------------------------------------


@race_command
@with_depths
@click.option("--split", metavar="LENGTH", help='Length of a split, as "5 km".')
@click.option("--chart/--no-chart", default=True, help="Draw elevation and speed.")
@click.option("--explain", is_flag=True, help="Show each step with formula and source.")
@draw_options
def time_command(
    race: "Race",
    as_json: bool,
    units: "System",
    depth: "Depth | None",
    split: str | None,
    chart: bool,
    explain: bool,
    **drawing: int,
) -> None:
    """How long will it take, split by split."""
    ridden = ride(race)
    length = read_option("--split", split, LENGTH)
    if length is not None and not 0.001 * race.course.length <= length:
        raise InputError("--split", f"'{split}' makes over 1000 splits", "give a longer length")
    unit = unit_size("course_distance", units)
    timed = timing(ridden, length or round_split(race.course.length, unit))
    note_idle_draws(race)
    band = time_band(ridden, **drawing) if race.doubts.stated else None
    steps = explain_time(ridden, timed) if explain else ()
    answer = TimeAnswer(ridden, timed, Basis.of(race, timed.warnings), band, tuple(steps))
    deliver(answer, lambda: time_sheet(answer, units, chart=chart), as_json, depth)


@race_command
@with_depths
def rates_command(race: "Race", as_json: bool, units: "System", depth: "Depth | None") -> None:
    """What a watt, a gram or a thousandth of CdA is worth."""
    ridden = ride(race)
    answer = RatesAnswer(ridden.time, rates(ridden), Basis.of(race))
    deliver(answer, lambda: rates_sheet(answer, units), as_json, depth)


# --- The command on two race files ----------------------------------------------------------------


@click.command("compare")
@RACE_FILE
@click.argument("other_file", metavar="OTHER", type=click.Path(path_type=Path))
@JSON
@UNITS
@with_depths
def compare_command(
    race_file: Path, other_file: Path, as_json: bool, units: "System", depth: "Depth | None"
) -> None:
    """Two race files compared: what differs, and what it does."""
    first, second = (read_race(path, ()) for path in (race_file, other_file))
    for race in (first, second):
        for notice in race.notices:
            say(notice)
    answer = CompareAnswer.of(
        (race_file.stem, other_file.stem),
        read_text(race_file),
        Draft.opened(other_file),
        (outlook_of(first), outlook_of(second)),
    )
    deliver(answer, lambda: compare_sheet(answer, units), as_json, depth)
