"""The commands that choose: which options to buy, and what to test first."""

import click

from racecalc.decisions.basket.basket import Rung, basket_of
from racecalc.decisions.basket.basket import ladder as ladder_of
from racecalc.decisions.basket.candidates import Shelf, Slopes, numbers_of, shelf_of
from racecalc.decisions.deciding import decide
from racecalc.decisions.riding import ride
from racecalc.decisions.test_worth import Question
from racecalc.domain.race import Race
from racecalc.errors import InputError
from racecalc.quantities.kinds import TIME
from racecalc.quantities.showing import System
from racecalc.views.basket_json import basket_json
from racecalc.views.basket_page import basket_text
from racecalc.views.commands.shared import (
    draw_options,
    print_answer,
    print_json,
    race_command,
    read_budget,
    read_money_option,
    read_option,
    read_price,
    read_scatter,
    single_option,
)
from racecalc.views.decide_json import decide_json
from racecalc.views.decide_page import decide_text
from racecalc.views.desk import climbing, tracked

# --- The command that fills a basket under a budget -----------------------------------------------


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
        return print_json(basket_json(shelf.base, found, steps))

    return print_answer(basket_text(shelf.base, found, steps, units))


def _shelf(race: "Race", races: int, without: tuple[str, ...]) -> "Shelf":

    options = race.single_options
    if not options:
        raise InputError(race.name, "has no [[option]] to choose from", "add one with a price")
    sets = {one.name for one in race.tested_sets}
    for name in without:
        if name not in sets:
            single_option(race, "--without", name)
    solved = tracked(options, "solving options")
    return shelf_of(ride(race), solved, race.tested_sets, races, without)


# --- The command that answers whether to buy now or to test first ---------------------------------


@race_command
@click.option(
    "--price-per-second",
    "wanted",
    metavar="MONEY",
    help='What a second is worth to you, as "5 EUR"; else [money] per_second.',
)
@click.option(
    "--fee",
    metavar="MONEY",
    help='What a test session costs, as "40 EUR"; else [money] test_fee.',
)
@click.option(
    "--fee-per-pair",
    "pair_fee",
    metavar="MONEY",
    help="What a pair of runs costs besides, one run of the item and one of the baseline.",
)
@click.option(
    "--repeatability",
    multiple=True,
    metavar="AMOUNT",
    help='Scatter of one run, as "0.003 m^2", "3 W at 45 km/h" or "5 s" on this course. May be'
    " repeated for other losses.",
)
@click.option(
    "--test-doubt",
    multiple=True,
    metavar="AMOUNT",
    help="Standard uncertainty of a whole test instead.",
)
@click.option(
    "--most-pairs",
    "most_pairs",
    type=click.IntRange(1, 200),
    default=12,
    show_default=True,
    help="Pairs of runs of an item at most.",
)
@draw_options
def decide_command(
    race: "Race",
    as_json: bool,
    units: "System",
    wanted: str | None,
    fee: str | None,
    pair_fee: str | None,
    repeatability: tuple[str, ...],
    test_doubt: tuple[str, ...],
    most_pairs: int,
    draws: int,
    seed: int,
) -> None:
    """Buy now, or test first, and which test is worth most."""
    from dataclasses import replace

    question = replace(
        _question(race, wanted, fee, pair_fee, repeatability, test_doubt),
        most_pairs=most_pairs,
        draws=draws,
        seed=seed,
    )
    base = ride(race)
    found = decide(base, race.options, question, lambda cases: tracked(cases, "weighing tests"))
    if as_json:
        return print_json(decide_json(base, found))

    return print_answer(decide_text(base, found, units))


def _question(
    race: "Race",
    wanted: str | None,
    fee: str | None,
    pair_fee: str | None,
    repeatability: tuple[str, ...],
    test_doubt: tuple[str, ...],
) -> "Question":

    per_second = read_price(race, wanted)
    if per_second is None:
        raise InputError(
            "--price-per-second",
            "nothing says what a second is worth to you, and the advice hangs on it",
            'give it, as --price-per-second "5 EUR", or per_second under [money] in the race file',
        )
    if repeatability and test_doubt:
        raise InputError(
            "--repeatability and --test-doubt", "both say how far a test is off", "give one of them"
        )
    if pair_fee and test_doubt:
        raise InputError(
            "--fee-per-pair",
            "with --test-doubt the number of runs is not known",
            "put the whole cost into --fee, or give --repeatability instead",
        )
    session_fee = read_money_option("--fee", fee)
    return Question(
        per_second=per_second,
        session_fee=race.purse.test_fee if session_fee is None else session_fee,
        pair_fee=read_money_option("--fee-per-pair", pair_fee),
        scatters=(
            *(read_scatter("--repeatability", text) for text in repeatability),
            *(read_scatter("--test-doubt", text) for text in test_doubt),
        ),
        whole_test=bool(test_doubt),
    )
