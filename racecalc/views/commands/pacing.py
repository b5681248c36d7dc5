"""The command that makes pacing targets."""

from collections.abc import Iterable
from functools import partial
from math import isfinite
from pathlib import Path

import click
import numpy as np

from racecalc.answers.basis import Basis
from racecalc.answers.pace import PaceAnswer, pace_sheet, paces_together
from racecalc.decisions.pacing.card import MOST_SECTIONS, SECTIONS, other_winds, pace
from racecalc.decisions.pacing.limits import FOURTH, MOST_ORDER, HeldLimit, asked_limit, watts_of
from racecalc.decisions.pacing.own_plan import OwnPlan, own_plan, stated_plan
from racecalc.decisions.riding import Ridden
from racecalc.decisions.worth import ride_in_use
from racecalc.domain.pacing import Level, read_caps, read_limits
from racecalc.domain.race import Race
from racecalc.errors import InputError
from racecalc.files.table_kinds import PlanTable, read_plan
from racecalc.quantities.kinds import TIME
from racecalc.views.cards import PRINTED, SIZES, Size, card_writer, write_card
from racecalc.views.commands.flags import FILE, default_option, outputs_option
from racecalc.views.commands.shared import (
    Answered,
    asked_units,
    read_as,
    read_option,
    read_race,
    squad_command,
    used_in,
    writable,
    write_each,
)
from racecalc.views.desk import note, tracked


@squad_command(paces_together)
@click.option(
    "--limit",
    "limits",
    multiple=True,
    metavar="KIND [POWER]",
    help="What the card may not exceed: power-mean or mean, at the race power or another, with"
    " critical power where it is stated; or critical-power alone. May be repeated, as in"
    ' --limit "mean 75 %" --limit power-mean; % is of critical power. Otherwise as'
    " rider.pacing_limits says, or power-mean.",
)
@click.option(
    "--cap",
    "caps",
    multiple=True,
    metavar="WHERE POWER",
    help='Highest target on a part: "climbs 300 W", "grade 5 % 320 W" (or steeper), "17 km to 20 km'
    ' 280 W", "everywhere 105 %" (of critical power). May be repeated.',
)
@default_option(
    "--order",
    type=click.FloatRange(1.0, MOST_ORDER),
    default=FOURTH,
    help="Order of the power mean.",
)
@click.option(
    "--sections",
    type=click.IntRange(1, MOST_SECTIONS),
    help=f"Most sections of the card; by default {SECTIONS}, or as many as fit on a card that is"
    " printed.",
)
@click.option("--goal", metavar="TIME", help='Make the card for this time, as "58:30".')
@click.option(
    "--plan",
    "own",
    metavar="FILE",
    type=FILE,
    help="A plan of your own, a CSV table with the columns 'to [km]' and 'power [W]' (or [%] of"
    " critical power), as -o card.csv writes: ridden, held against the limits, and set next to the"
    " quickest ride as hard.",
)
@click.option(
    "--or",
    "others",
    multiple=True,
    metavar="KEY=VALUE",
    help='A second card for another weather, as air.wind_from="80 deg". May be repeated.',
)
@outputs_option("Write the card: .html or .pdf to print, .csv, or .gpx to follow. May be repeated.")
@default_option(
    "--size",
    type=click.Choice([*(one.name for one in SIZES), "all"]),
    default="all",
    help="Card to print: 45 x 100 mm (stem), 60 x 128 mm (top tube), or A6 (pocket).",
)
@click.option("--chart/--no-chart", default=True, help="Draw the targets and where a watt counts.")
def pace_command(
    race: Race,
    limits: tuple[str, ...],
    caps: tuple[str, ...],
    order: float,
    sections: int | None,
    goal: str | None,
    own: Path | None,
    others: tuple[str, ...],
    outputs: tuple[Path, ...],
    size: str,
    chart: bool,
) -> Answered:
    """How hard to ride where: targets that the rider can hold."""
    if not isfinite(order):
        raise InputError("--order", "is no number", "give one from 1 to 10, such as 4")
    wanted = read_option("--goal", goal, TIME)
    if own and wanted is not None:
        raise InputError(
            "--plan", "a plan has its own time, and --goal asks for another", "give one"
        )
    table = read_plan(own) if own and _only_race("--plan") else None
    outputs = writable(outputs, lambda path: card_writer(path, race))
    second = _changed(others)
    sizes = tuple(one for one in SIZES if size in (one.name, "all"))
    if sections is None:
        sections = _fitting(race, sizes if _printed(outputs) else ())
    base = ride_in_use(race)
    asked = _asked(base, limits, caps, order)
    plan = _planned(base, asked, table) if table else None
    if plan is None and wanted is None:
        plan = stated_plan(base, asked.limit)
    winds = () if plan else tracked(other_winds(base.race), "riding in other winds")
    found = pace(base, asked, sections, winds, wanted)
    other = None
    if second:
        other_base = ride_in_use(second)
        other = pace(other_base, _asked(other_base, limits, caps, order), sections, (), wanted).card
    if plan and outputs:
        note("note: the file holds the card of your limits, not your plan")
    write_each(outputs, lambda path: write_card(path, found.card, race, asked_units(), sizes))
    return PaceAnswer(found, Basis.of(base), other, others, plan), partial(pace_sheet, chart=chart)


def _planned(base: Ridden, asked: HeldLimit, table: PlanTable) -> OwnPlan:
    """The plan of --plan, ridden."""
    levels = [Level(*((None, one) if table.of_critical else (one, None))) for one in table.power]
    place = f"--plan {table.source}"
    watts = np.array([watts_of(base, one, place) for one in levels])
    return own_plan(base, asked.limit, place, table.to, watts)


def _asked(base: Ridden, limits: tuple[str, ...], caps: tuple[str, ...], order: float) -> HeldLimit:
    """The limits of the flags, or of the race file."""
    kinds, parts = read_as("--limit", limits, read_limits), read_as("--cap", caps, read_caps)
    place = "--limit" if kinds else "--cap" if parts else ""
    return asked_limit(base, kinds, order, parts, place)


def _only_race(flag: str) -> Path:
    """The race file, where there is one alone."""
    paths: tuple[Path, ...] = click.get_current_context().params["race_file"]
    if len(paths) > 1:
        raise InputError(flag, f"there are {len(paths)} races", "ask for each race by itself")
    return paths[0]


def _printed(outputs: Iterable[Path]) -> bool:
    return any(path.suffix.lower() in PRINTED for path in outputs)


def _fitting(race: Race, sizes: Iterable[Size]) -> int:
    """Sections that fit on every card that is printed."""
    return min([SECTIONS, *(one.fits(len(race.landmarks)) for one in sizes)])


def _changed(others: tuple[str, ...]) -> Race | None:
    """The race file with further changes, as for another weather."""
    if not others:
        return None
    path = _only_race("--or")
    given = click.get_current_context().params
    try:
        changed = read_race(path, (*given["changes"], *others))
        return used_in(changed, given["use"])
    except InputError as error:
        raise error.at("--or") from error
