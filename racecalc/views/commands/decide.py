"""The command that answers whether to buy now or to test first."""

from typing import TYPE_CHECKING

import click

from racecalc.errors import InputError
from racecalc.views.commands.shared import (
    draw_options,
    print_answer,
    print_json,
    race_command,
    read_money_option,
    read_price,
    read_scatter,
)

if TYPE_CHECKING:
    from racecalc.decisions.prospects import Question
    from racecalc.domain.race import Race
    from racecalc.quantities.showing import System


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

    from racecalc.decisions.riding import ride
    from racecalc.decisions.testing_first import decide
    from racecalc.views.progress import tracked

    question = replace(
        _question(race, wanted, fee, pair_fee, repeatability, test_doubt),
        most_pairs=most_pairs,
        draws=draws,
        seed=seed,
    )
    base = ride(race)
    found = decide(base, race.options, question, lambda cases: tracked(cases, "weighing tests"))
    if as_json:
        from racecalc.views.decide_json import decide_json

        return print_json(decide_json(base, found))
    from racecalc.views.decide_page import decide_text

    return print_answer(decide_text(base, found, units))


def _question(
    race: "Race",
    wanted: str | None,
    fee: str | None,
    pair_fee: str | None,
    repeatability: tuple[str, ...],
    test_doubt: tuple[str, ...],
) -> "Question":
    from racecalc.decisions.prospects import Question

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
