"""The commands on one ride of a race: time, rates."""

from functools import partial

import click

from racecalc.answers.basis import Basis
from racecalc.answers.time import RatesAnswer, TimeAnswer, rates_sheet, time_sheet, times_together
from racecalc.decisions.assumed import tried_instead
from racecalc.decisions.doubt import time_band
from racecalc.decisions.timing import rates, round_split, timing
from racecalc.decisions.worth import ride_in_use
from racecalc.domain.race import Race
from racecalc.errors import InputError
from racecalc.quantities.kinds import LENGTH
from racecalc.quantities.showing import unit_size
from racecalc.views.commands.flags import draw_options
from racecalc.views.commands.shared import (
    Answered,
    asked_units,
    note_idle_draws,
    race_command,
    read_option,
    squad_command,
)


@squad_command(times_together)
@click.option("--split", metavar="LENGTH", help='Length of a split, as "5 km".')
@click.option("--chart/--no-chart", default=True, help="Draw elevation and speed.")
@draw_options
def time_command(race: Race, split: str | None, chart: bool, **drawing: int) -> Answered:
    """How long will it take, split by split."""
    ridden = ride_in_use(race)
    length = read_option("--split", split, LENGTH)
    if length is not None and not 0.001 * race.course.length <= length:
        raise InputError("--split", f"'{split}' makes over 1000 splits", "give a longer length")
    unit = unit_size("course_distance", asked_units())
    timed = timing(ridden, length or round_split(race.course.length, unit))
    note_idle_draws(race)
    band = time_band(ridden, **drawing) if race.doubts.stated else None
    basis = Basis.of(ridden, timed.warnings)
    answer = TimeAnswer(ridden, timed, basis, band, tried_instead(ridden))
    return answer, partial(time_sheet, chart=chart)


@race_command
def rates_command(race: Race) -> Answered:
    """What a watt, a gram or a thousandth of CdA is worth."""
    ridden = ride_in_use(race)
    return RatesAnswer(ridden.time, rates(ridden), Basis.of(ridden)), rates_sheet
