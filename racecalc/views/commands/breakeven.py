"""The command that says from which saving on something pays."""

from typing import TYPE_CHECKING

import click

from racecalc.errors import InputError
from racecalc.views.commands.shared import (
    print_answer,
    print_json,
    race_command,
    read_as,
    read_money_option,
    read_price,
    single_option,
)

if TYPE_CHECKING:
    from racecalc.domain.option import Option
    from racecalc.domain.position import Holding
    from racecalc.domain.race import Race
    from racecalc.quantities.showing import System


@race_command
@click.option("--option", "name", metavar="OPTION", help="An option of the race file.")
@click.option("--mass", metavar="MASS", help='Or something else: its weight, as "+850 g" ...')
@click.option("--price", metavar="MONEY", help="... and its price.")
@click.option(
    "--price-per-second", "wanted", metavar="MONEY", help="What a second is worth to you."
)
@click.option("--against", multiple=True, metavar="OPTION", help="Must be as good as that one.")
@click.option("--beside", multiple=True, metavar="OPTION", help="Must make up for that one's loss.")
@click.option("--holds", multiple=True, metavar="SHARE", help='Held for so long, as "70 %".')
def breakeven_command(
    race: "Race",
    as_json: bool,
    units: "System",
    name: str | None,
    mass: str | None,
    price: str | None,
    wanted: str | None,
    against: tuple[str, ...],
    beside: tuple[str, ...],
    holds: tuple[str, ...],
) -> None:
    """From which saving on it pays, in watts."""
    from racecalc.decisions.break_even import Against, break_evens
    from racecalc.decisions.costs import refuse_mixed_currencies
    from racecalc.decisions.riding import ride

    option = _asked_about(race, name, mass, price)
    for flag, names in (("--against", against), ("--beside", beside)):
        if option.name in names:
            raise InputError(flag, f"'{option.name}' is what is asked about", "name another")
    per_second = read_price(race, wanted)
    refuse_mixed_currencies([*race.options, option], {"the price per second": per_second})
    found = Against(
        per_second,
        tuple(single_option(race, "--against", one) for one in against),
        tuple(single_option(race, "--beside", one) for one in beside),
        tuple(_holding(option, one) for one in holds),
    )
    base = ride(race)
    answer = break_evens(base, option, found)
    if as_json:
        from racecalc.views.break_even_page import break_even_json

        return print_json(break_even_json(base, answer))
    from racecalc.views.break_even_page import break_even_text

    return print_answer(break_even_text(base, answer, units))


def _asked_about(race: "Race", name: str | None, mass: str | None, price: str | None) -> "Option":
    from racecalc.domain.option import Option
    from racecalc.quantities.kinds import MASS
    from racecalc.quantities.reading import read

    if name is not None:
        for flag, given in (("--mass", mass), ("--price", price)):
            if given is not None:
                raise InputError(flag, "is stated at the option already", "leave one of them out")
        return single_option(race, "--option", name)
    if mass is None and price is None:
        raise InputError(
            "breakeven", "nothing is asked about", 'add --option NAME or --mass "+850 g"'
        )
    weight = 0.0 if mass is None else read_as("--mass", mass, lambda words: read(words, MASS))
    return Option("Something", mass=weight, price=read_money_option("--price", price))


def _holding(option: "Option", text: str) -> "Holding":
    from dataclasses import replace

    from racecalc.quantities.kinds import RATIO
    from racecalc.quantities.reading import read

    share = read_as("--holds", text, lambda words: read(words, RATIO))
    if not 0 < share <= 1:
        raise InputError("--holds", f"'{text}' is no share of the time", 'give for example "70 %"')
    if option.acts_on != "air":
        raise InputError("--holds", f"{option.name} is no position", "leave it out")
    return replace(option.holding, shares=(share,))
