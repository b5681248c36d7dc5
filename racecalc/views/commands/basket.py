"""The command that fills a basket under a budget."""

from typing import TYPE_CHECKING

import click

from racecalc.errors import InputError
from racecalc.views.commands.shared import (
    print_answer,
    print_json,
    race_command,
    read_budget,
    read_option,
    single_option,
)

if TYPE_CHECKING:
    from racecalc.decisions.basket.ladder import Rung
    from racecalc.decisions.basket.shelf import Shelf
    from racecalc.domain.race import Race
    from racecalc.quantities.showing import System


@race_command
@click.option("--budget", metavar="MONEY", help='Most to spend in all, as "600 EUR".')
@click.option(
    "--races",
    type=click.IntRange(1, 1000),
    help="Races for which hired things are hired; else those of a season, or one.",
)
@click.option("--require", multiple=True, metavar="OPTION", help="Must be in it.")
@click.option(
    "--without",
    multiple=True,
    metavar="OPTION",
    help="Must not be in it; of a set tested as one, the test that must not count.",
)
@click.option(
    "--at-least",
    metavar="TIME",
    help='Make the chance of saving so much as great as possible, as "60 s".',
)
@click.option("--ladder/--no-ladder", default=True, help="Show what more money buys.")
def basket_command(
    race: "Race",
    as_json: bool,
    units: "System",
    budget: str | None,
    races: int | None,
    require: tuple[str, ...],
    without: tuple[str, ...],
    at_least: str | None,
    ladder: bool,
) -> None:
    """Which options to buy under a budget."""
    from racecalc.decisions.basket.answer import basket_of
    from racecalc.decisions.basket.ladder import ladder as ladder_of
    from racecalc.decisions.basket.shelf import numbers_of
    from racecalc.decisions.basket.slopes import Slopes
    from racecalc.quantities.kinds import TIME
    from racecalc.views.progress import climbing

    money = read_budget(race, budget)
    if money is None:
        raise InputError(
            race.name,
            "no budget is given",
            'add --budget "600 EUR", or budget under [money] in the race file',
        )
    target = read_option("--at-least", at_least, TIME)
    hired_for = races or race.purse.races_a_season or 1
    shelf = _shelf(race, hired_for, without)
    required = numbers_of(shelf, require, "--require")
    slopes = Slopes(shelf)
    found = basket_of(slopes, money, required, target, hired_for)
    steps: tuple[Rung, ...] = ()
    if ladder:
        known = [found.chosen] if target is None else []
        steps = ladder_of(slopes, required, climbing, known)
    if as_json:
        from racecalc.views.basket_json import basket_json

        return print_json(basket_json(shelf.base, found, steps))
    from racecalc.views.basket_page import basket_text

    return print_answer(basket_text(shelf.base, found, steps, units))


def _shelf(race: "Race", races: int, without: tuple[str, ...]) -> "Shelf":
    from racecalc.decisions.basket.shelf import shelf_of
    from racecalc.decisions.riding import ride
    from racecalc.views.progress import tracked

    options = race.single_options
    if not options:
        raise InputError(race.name, "has no [[option]] to choose from", "add one with a price")
    sets = {one.name for one in race.tested_sets}
    for name in without:
        if name not in sets:
            single_option(race, "--without", name)
    solved = tracked(options, "solving options")
    return shelf_of(ride(race), solved, race.tested_sets, races, without)
