"""The commands that give the numbers of a page again."""

import shlex
from collections.abc import Iterable
from dataclasses import dataclass

from racecalc.decisions.advice.answer import SECTIONS, Advice


@dataclass(frozen=True)
class Origin:
    """Where the race came from, and what was asked beside it.

    Parameters
    ----------
    file : str
        Name of the race file, without its folder.
    changes : tuple of str
        As ``--set`` takes them.
    repeatability : tuple of str
        As ``decide`` takes it.
    """

    file: str
    changes: tuple[str, ...] = ()
    repeatability: tuple[str, ...] = ()


def repeating(advice: Advice, origin: Origin) -> dict[str, str]:
    """A command for each part of the page, by its name; the page tells its numbers by them."""
    # A name that begins like a flag would be taken for one.
    file = f"./{origin.file}" if origin.file.startswith("-") else origin.file
    given = [file, *_flags("--set", origin.changes)]
    return {
        name: shlex.join(["racecalc", name, *given, *rest])
        for name, rest in _wished(advice, origin)
    }


def _flags(flag: str, values: Iterable[str]) -> list[str]:
    return [word for value in values for word in (flag, value)]


def _wished(advice: Advice, origin: Origin) -> list[tuple[str, list[str]]]:
    wish, basket = advice.wish, advice.shopping.basket
    drawing = ["--draws", str(wish.draws), "--seed", str(wish.seed)]
    drawn = drawing if advice.race.doubts.stated else []
    worth = _flags("--price-per-second", _told(wish.per_second))
    found = [("time", drawn)]
    if advice.pacing is not None:
        found.append(("pace", ["--sections", str(SECTIONS)]))
    if advice.values:
        found.append(("value", [*worth, *drawn]))
    if basket is not None:
        budget = ["--budget", str(basket.budget), "--races", str(basket.races)]
        required = _flags("--require", advice.shopping.required)
        without = _flags("--without", advice.shopping.held_back)
        found.append(("basket", [*budget, *required, *without]))
    if advice.decision is not None:
        asked = _flags("--repeatability", origin.repeatability)
        fee = _flags("--fee", _told(wish.session_fee))
        found.append(("decide", [*worth, *fee, *asked, *drawing]))
    return found


def _told(money: object) -> list[str]:
    return [] if money is None else [str(money)]
