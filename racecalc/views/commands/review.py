"""The command that holds a ride against its plan."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from racecalc.views.commands.shared import print_answer, print_json, race_command

if TYPE_CHECKING:
    from racecalc.arrays import FloatArray
    from racecalc.decisions.riding import Ridden
    from racecalc.domain.race import Race
    from racecalc.quantities.showing import System


@race_command
@click.argument("ridden_file", metavar="RIDDEN", type=click.Path(path_type=Path))
@click.option(
    "--card",
    is_flag=True,
    help="Hold it against the card of racecalc pace, made as pace makes it without flags, instead"
    " of the race power all along.",
)
def review_command(
    race: "Race", as_json: bool, units: "System", ridden_file: Path, card: bool
) -> None:
    """What was planned, what was ridden, and who was wrong."""
    from racecalc.decisions.review.answer import review
    from racecalc.decisions.riding import ride
    from racecalc.files.ridden_table import read_ridden

    table = read_ridden(ridden_file)
    base = ride(race)
    found = review(base, table, _card_power(base) if card else None)
    if as_json:
        from racecalc.views.review_json import review_json

        return print_json(review_json(race, found))
    from racecalc.views.review_page import review_text

    return print_answer(review_text(race, found, units))


def _card_power(base: "Ridden") -> "FloatArray":
    """Power of the card on every step, where the power meter stands [W]."""
    from racecalc.decisions.pacing.answer import pace
    from racecalc.decisions.pacing.asking import asked_limit
    from racecalc.views.commands.pace import MOST_SECTIONS

    return pace(base, asked_limit(base, "power-mean"), MOST_SECTIONS).ridden.power
