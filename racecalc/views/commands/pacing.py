"""The commands about how to ride: a pacing card, and a ride against its plan."""

from math import isfinite
from pathlib import Path
from typing import cast

import click

from racecalc.answers.basis import Basis
from racecalc.answers.pace import PaceAnswer, pace_sheet
from racecalc.answers.review import ReviewAnswer, review_sheet
from racecalc.answers.sheet import Depth
from racecalc.arrays import FloatArray
from racecalc.decisions.pacing.card import goal_of, pace
from racecalc.decisions.pacing.limits import HeldLimit, LimitKind, asked_limit, other_winds
from racecalc.decisions.review.review import review
from racecalc.decisions.riding import Ridden, ride
from racecalc.domain.race import Race
from racecalc.errors import InputError
from racecalc.files.table_kinds import read_ridden
from racecalc.quantities.kinds import TIME
from racecalc.quantities.showing import System
from racecalc.views.cards import card_writer, write_card
from racecalc.views.commands.shared import (
    deliver,
    note,
    race_command,
    read_option,
    read_race,
    refuse_named_twice,
    with_depths,
)
from racecalc.views.desk import tracked

# --- The command that makes pacing targets --------------------------------------------------------

MOST_SECTIONS = 12
"""Sections of a card unless others are asked for; our choice."""


@race_command
@with_depths
@click.option(
    "--limit",
    "kind",
    type=click.Choice(["power-mean", "mean", "critical-power"]),
    default="power-mean",
    show_default=True,
    help="What is held: a power mean or the plain mean of the race power, each with critical power"
    " where it is stated; or critical power with the work above it alone.",
)
@click.option(
    "--order",
    type=click.FloatRange(1.0, 10.0),
    default=4.0,
    show_default=True,
    help="Order of the power mean.",
)
@click.option(
    "--sections",
    type=click.IntRange(1, 60),
    default=MOST_SECTIONS,
    show_default=True,
    help="Sections of the card at most.",
)
@click.option("--goal", metavar="TIME", help='A time to reach, as "58:30": the power it takes.')
@click.option(
    "--or",
    "others",
    multiple=True,
    metavar="KEY=VALUE",
    help='A second card for another weather, as air.wind_from="80 deg". May be repeated.',
)
@click.option(
    "-o",
    "--output",
    "outputs",
    multiple=True,
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Write the card: .html to print, .csv, or .gpx with waypoints. May be repeated.",
)
@click.option("--chart/--no-chart", default=True, help="Draw the targets and where a watt counts.")
def pace_command(
    race: Race,
    as_json: bool,
    units: System,
    depth: Depth | None,
    kind: str,
    order: float,
    sections: int,
    goal: str | None,
    others: tuple[str, ...],
    outputs: tuple[Path, ...],
    chart: bool,
) -> None:
    """How hard to ride where: targets that the rider can hold."""
    if not isfinite(order):
        raise InputError("--order", "is no number", "give one from 1 to 10, such as 4")
    wanted = read_option("--goal", goal, TIME)
    _checked(outputs, race)
    second = _changed(others)

    def asked_of(base: Ridden) -> HeldLimit:
        return asked_limit(base, cast(LimitKind, kind), order)

    base = ride(race)
    asked = asked_of(base)
    found = pace(base, asked, sections, tracked(other_winds(race), "riding in other winds"))
    aim = goal_of(base, asked.limit, wanted, found.card) if wanted is not None else None
    other = None
    if second:
        other_base = ride(second)
        other = pace(other_base, asked_of(other_base), sections).card
    for path in outputs:
        write_card(path, found.card, race, units)
        note(f"{path} written")
    answer = PaceAnswer(found, aim, Basis.of(race), other, others)
    deliver(answer, lambda: pace_sheet(answer, units, chart=chart), as_json, depth)


def _changed(others: tuple[str, ...]) -> Race | None:
    """The race file with further changes, as for another weather."""
    if not others:
        return None
    given = click.get_current_context().params
    try:
        return read_race(given["race_file"], (*given["changes"], *others))
    except InputError as error:
        raise error.at("--or") from error


def _checked(outputs: tuple[Path, ...], race: Race) -> None:
    """Say what speaks against writing the files before the long work."""
    refuse_named_twice(outputs)
    for path in outputs:
        card_writer(path, race)


# --- The command that holds a ride against its plan -----------------------------------------------


@race_command
@with_depths
@click.argument("ridden_file", metavar="RIDDEN", type=click.Path(path_type=Path))
@click.option(
    "--card",
    is_flag=True,
    help="Hold it against the card of racecalc pace, made as pace makes it without flags, instead"
    " of the race power all along.",
)
def review_command(
    race: Race,
    as_json: bool,
    units: System,
    depth: Depth | None,
    ridden_file: Path,
    card: bool,
) -> None:
    """What was planned, what was ridden, and which input was off."""
    table = read_ridden(ridden_file)
    base = ride(race)
    found = review(base, table, _card_power(base) if card else None)
    answer = ReviewAnswer.of(race, found)
    deliver(answer, lambda: review_sheet(answer, units), as_json, depth)


def _card_power(base: Ridden) -> FloatArray:
    """Power of the card on every step, where the power meter stands [W]."""
    return pace(base, asked_limit(base, "power-mean"), MOST_SECTIONS).ridden.power
