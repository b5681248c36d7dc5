"""The command that makes pacing targets."""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, cast

import click

from racecalc.errors import InputError
from racecalc.views.commands.shared import print_answer, print_json, race_command, read_option

if TYPE_CHECKING:
    from datetime import date

    from racecalc.decisions.pacing.asking import LimitKind
    from racecalc.decisions.pacing.card import Card
    from racecalc.domain.race import Race
    from racecalc.quantities.showing import System


@race_command
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
    default=12,
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
    race: "Race",
    as_json: bool,
    units: "System",
    kind: str,
    order: float,
    sections: int,
    goal: str | None,
    others: tuple[str, ...],
    outputs: tuple[Path, ...],
    chart: bool,
) -> None:
    """How hard to ride where: targets that the rider can hold."""
    from racecalc.decisions.pacing.answer import pace
    from racecalc.decisions.pacing.asking import asked_limit, other_winds
    from racecalc.decisions.pacing.goal import goal_of
    from racecalc.decisions.riding import ride
    from racecalc.quantities.kinds import TIME
    from racecalc.views.progress import tracked

    wanted = read_option("--goal", goal, TIME)
    writers = [(path, _writer(path)) for path in outputs]
    base = ride(race)
    asked = asked_limit(base, cast("LimitKind", kind), order)
    winds = tracked(other_winds(race), "riding in other winds")
    found = pace(base, asked, sections, winds)
    aim = None
    if wanted is not None:
        aim = goal_of(base, asked.limit, wanted, found.card.time_s, found.card.ideal_time_s)
    for path, write in writers:
        _write(path, write(found.card, race, units))
    if as_json:
        from racecalc.views.pace_json import pace_json

        return print_json(pace_json(base, found, aim))
    from racecalc.views.pace_page import pace_text

    text = pace_text(base, found, aim, asked.assumed, units, chart)
    return print_answer(text + (_second_card(others, kind, order, sections, units)))


def _second_card(
    others: tuple[str, ...], kind: str, order: float, sections: int, units: "System"
) -> str:
    """The card for the race file with further changes, as for another weather."""
    if not others:
        return ""
    from racecalc.decisions.pacing.answer import pace
    from racecalc.decisions.pacing.asking import asked_limit
    from racecalc.decisions.riding import ride
    from racecalc.domain.loading import load_race
    from racecalc.quantities.clock import show_duration
    from racecalc.views.card_page import card_table

    given = click.get_current_context().params
    race = load_race(given["race_file"], (*given["changes"], *others))
    base = ride(race)
    found = pace(base, asked_limit(base, cast("LimitKind", kind), order), sections)
    return f"\nThe card for {', '.join(others)}: {show_duration(found.card.time_s)}\n" + card_table(
        found.card, units
    )


Writer = Callable[["Card", "Race", "System"], str]


def _writer(path: Path) -> Writer:
    """What writes a file of this kind."""
    from racecalc.views.card_csv import card_csv
    from racecalc.views.card_html import card_html
    from racecalc.views.card_waypoints import card_gpx

    kinds: dict[str, Writer] = {
        ".csv": lambda card, _, __: card_csv(card),
        ".gpx": lambda card, race, units: card_gpx(card, race.course, units),
        ".html": lambda card, _, units: card_html(card, units, _today()),
    }
    suffix = path.suffix.lower()
    if suffix not in kinds:
        raise InputError(
            "--output", f"'{path}' is no kind of card", "end it with .html, .csv or .gpx"
        )
    return kinds[suffix]


def _today() -> "date":
    from datetime import UTC, datetime

    return datetime.now(UTC).astimezone().date()


def _write(path: Path, text: str) -> None:
    from racecalc.files.race_writing import write_new_file

    write_new_file(path, text)
    click.echo(f"{path} written", err=True)
