"""A pacing card as a file: which kinds there are, and what speaks against writing one."""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from racecalc.errors import InputError
from racecalc.quantities.clock import today

if TYPE_CHECKING:
    from racecalc.decisions.pacing.card import Card
    from racecalc.domain.race import Race
    from racecalc.quantities.showing import System

Writer = Callable[["Card", "Race", "System"], str]


def card_writer(path: Path, race: "Race") -> Writer:
    """What writes a card to a file; whatever speaks against it is said before any long work.

    Parameters
    ----------
    path : Path
        File that is not there yet, ending in .html, .csv or .gpx.
    race : Race
        Whose card it will be.

    Returns
    -------
    callable
        Gives the text of the file.

    Raises
    ------
    InputError
        If the ending is another, the file is there already, or the course has no positions for
        waypoints.
    """
    from racecalc.files.race_writing import refuse_to_write
    from racecalc.views.card_waypoints import refuse_without_positions

    writer = _writer(path)
    refuse_to_write(path)
    if path.suffix.lower() == ".gpx":
        refuse_without_positions(race.course)
    return writer


def write_card(path: Path, card: "Card", race: "Race", units: "System") -> None:
    """Write a card to a file that is not there yet.

    Raises
    ------
    InputError
        As `card_writer`, or if it cannot be written.
    """
    from racecalc.files.race_writing import write_new_file

    write_new_file(path, card_writer(path, race)(card, race, units))


def _writer(path: Path) -> Writer:
    from racecalc.views.card_csv import card_csv
    from racecalc.views.card_html import card_html
    from racecalc.views.card_waypoints import card_gpx

    kinds: dict[str, Writer] = {
        ".csv": lambda card, _, __: card_csv(card),
        ".gpx": lambda card, race, units: card_gpx(card, race.course, units),
        ".html": lambda card, _, units: card_html(card, units, today()),
    }
    suffix = path.suffix.lower()
    if suffix not in kinds:
        raise InputError(
            "--output", f"'{path}' is no kind of card", "end it with .html, .csv or .gpx"
        )
    return kinds[suffix]
