"""The commands that choose: which options to buy, and what to test first."""

from functools import partial
from typing import Any

import click

from racecalc.answers.basis import Basis
from racecalc.answers.basket import BasketAnswer, basket_sheet
from racecalc.answers.decide import DecideAnswer, decide_sheet
from racecalc.decisions.basket.basket import basket_of
from racecalc.decisions.basket.basket import ladder as ladder_of
from racecalc.decisions.basket.candidates import Candidates, Slopes, candidates_of, numbers_of
from racecalc.decisions.deciding import decide
from racecalc.decisions.information import PricedQuestion, Scatter
from racecalc.decisions.worth import ride_in_use
from racecalc.domain.option import is_kind, read_saving, refuse_mixed_currencies
from racecalc.domain.race import Race
from racecalc.errors import InputError
from racecalc.quantities.kinds import TIME
from racecalc.views.commands.flags import (
    default_option,
    draw_options,
    price_option,
    repeatability_option,
)
from racecalc.views.commands.shared import (
    Answered,
    race_command,
    read_as,
    read_budget,
    read_money_option,
    read_option,
    read_price,
    read_quantity,
    single_option,
)
from racecalc.views.desk import tracked

# --- The command that fills a basket under a budget -----------------------------------------------


@race_command
@click.option(
    "--budget",
    metavar="MONEY",
    help='Most cash to spend in total, as "600 EUR"; by default budget under [money].',
)
@price_option(
    "What a second in each race counted is worth to you; by default per_second under [money]."
)
@click.option(
    "--most-seconds",
    "most_seconds",
    is_flag=True,
    help="Seek the most seconds within the budget, whatever a second is worth.",
)
@click.option(
    "--races",
    type=click.IntRange(1, 1000),
    help="Races for which costs are counted; by default races_a_season, or one.",
)
@click.option("--require", multiple=True, metavar="OPTION", help="Option that must be in the set.")
@click.option(
    "--without",
    multiple=True,
    metavar="OPTION",
    help="Option that must not be in the set; the name of a tested set leaves its test out.",
)
@click.option(
    "--at-least",
    metavar="TIME",
    help='Seek the best chance of saving at least so much, as "60 s", at the least cost.',
)
@click.option("--ladder/--no-ladder", default=True, help="Show what more money buys.")
def basket_command(
    race: Race,
    budget: str | None,
    wanted: str | None,
    most_seconds: bool,
    races: int | None,
    require: tuple[str, ...],
    without: tuple[str, ...],
    at_least: str | None,
    ladder: bool,
) -> Answered:
    """Which options to buy under a budget."""
    money, per_second = read_budget(race, budget), read_price(race, wanted)
    refuse_mixed_currencies(race.options, {"the price per second": per_second})
    if most_seconds and at_least:
        raise InputError("--most-seconds and --at-least", "seek different sets", "give one of them")
    if money is None and (per_second is None or most_seconds):
        raise InputError(
            race.name,
            "no budget is given",
            'add --budget "600 EUR", or budget under [money] in the race file',
        )
    target = read_option("--at-least", at_least, TIME)
    candidates = _candidates(race, races, without)
    asked = [single_option(race, "--require", name).name for name in require]
    required = numbers_of(candidates, asked, "--require")
    slopes = Slopes(candidates)
    found = basket_of(slopes, money, required, target, None if most_seconds else per_second)
    chosen = found.numbers if target is None else None
    climbing = partial(tracked, label="climbing the ladder")
    steps = ladder_of(slopes, required, climbing, chosen) if ladder else ()
    return BasketAnswer(candidates.now.time, found, steps, Basis.of(candidates.now)), basket_sheet


def _candidates(race: Race, races: int | None, without: tuple[str, ...]) -> Candidates:
    if not race.single_options:
        raise InputError(
            race.name, "the race file has no [[option]] to choose from", "add one with a price"
        )
    sets = {one.name for one in race.tested_sets}
    without = tuple(
        name if name in sets else single_option(race, "--without", name).name for name in without
    )
    base = ride_in_use(race)
    options = tracked(base.race.single_options, "solving options")
    return candidates_of(base, options, race.tested_sets, races, without)


# --- The command that answers whether to buy now or to test first ---------------------------------


@race_command
@price_option('What a second is worth to you, as "5 EUR"; by default per_second under [money].')
@click.option(
    "--budget",
    metavar="MONEY",
    help="Most cash to spend on what is bought now; by default budget under [money].",
)
@click.option(
    "--fee",
    metavar="MONEY",
    help='What a test session costs, as "40 EUR"; by default test_fee under [money].',
)
@click.option(
    "--fee-per-pair",
    "pair_fee",
    metavar="MONEY",
    help="What a pair of runs costs on top: one run of the item and one of the baseline.",
)
@repeatability_option(
    'Scatter of one run, as "0.003 m^2", "3 W at 45 km/h" or "5 s" on this course. May be'
    " repeated for other losses."
)
@click.option(
    "--test-doubt",
    multiple=True,
    metavar="AMOUNT",
    help="Doubt (one standard uncertainty) of a whole test instead.",
)
@default_option(
    "--most-pairs",
    "most_pairs",
    type=click.IntRange(1, 200),
    default=12,
    help="Most pairs of runs of an item.",
)
@draw_options
def decide_command(race: Race, **asked: Any) -> Answered:
    """Buy now, or test first, and which test is worth most."""
    question, base = _question(race, **asked), ride_in_use(race)
    options = base.race.options
    found = decide(base, options, question, lambda cases: tracked(cases, "weighing tests"))
    return DecideAnswer(found, options, Basis.of(base)), decide_sheet


def _question(
    race: Race,
    wanted: str | None,
    budget: str | None,
    fee: str | None,
    pair_fee: str | None,
    repeatability: tuple[str, ...],
    test_doubt: tuple[str, ...],
    **numbers: int,
) -> PricedQuestion:
    per_second = read_price(race, wanted)
    if per_second is None:
        raise InputError(
            "--price-per-second",
            "what a second is worth to you is not stated, and the advice depends on it",
            'give it, as --price-per-second "5 EUR", or per_second under [money] in the race file',
        )
    if repeatability and test_doubt:
        raise InputError(
            "--repeatability and --test-doubt", "both state the doubt of a test", "give one of them"
        )
    if pair_fee and test_doubt:
        raise InputError(
            "--fee-per-pair",
            "with --test-doubt the number of runs is unknown",
            "put the whole cost into --fee, or give --repeatability instead",
        )
    session_fee = read_money_option(race, "--fee", fee)
    return PricedQuestion(
        per_second=per_second,
        fee=race.money_terms.test_fee if session_fee is None else session_fee,
        pair_fee=read_money_option(race, "--fee-per-pair", pair_fee),
        scatters=(
            *(read_scatter("--repeatability", text) for text in repeatability),
            *(read_scatter("--test-doubt", text) for text in test_doubt),
        ),
        budget=read_budget(race, budget),
        whole_test=bool(test_doubt),
        **numbers,
    )


def read_scatter(flag: str, text: str) -> Scatter:
    """Read how far a run or a test is off, as a saving in any form or in seconds."""
    if is_kind(text, TIME):
        found = Scatter(None, read_quantity(flag, text, TIME), text)
        size = found.seconds
    else:
        saving = read_as(flag, text, read_saving)
        found, size = Scatter(saving, 0.0, saving.words), saving.amount
    if not size > 0:
        raise InputError(flag, f"'{text}' is not above zero", "give it above 0")
    return found
