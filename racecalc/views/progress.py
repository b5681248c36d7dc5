"""A progress bar that appears only where work takes over a second."""

import sys
import time
from collections.abc import Iterator, Sequence
from typing import TypeVar

import click

from racecalc.stopping import go_on
from racecalc.views.desk import Desk, current_desk

Item = TypeVar("Item")
PATIENCE = 1.0


def tracked(items: Sequence[Item], label: str) -> Iterator[Item]:
    """Yield the items; after a second of work show on standard error, or desk, how far it is.

    Parameters
    ----------
    items : sequence
        What is worked through.
    label : str
        What is being done.

    Yields
    ------
    Item
        One after the other.
    """
    desk = current_desk()
    if desk:
        yield from _reported(items, label, desk)
        return
    began = time.monotonic()
    rest = iter(items)
    for done, item in enumerate(rest):
        if time.monotonic() - began > PATIENCE and sys.stderr.isatty():
            with click.progressbar(
                length=len(items), label=label, file=sys.stderr, show_pos=True
            ) as bar:
                bar.update(done)
                for later in (item, *rest):
                    yield later
                    bar.update(1)
            return
        yield item


def _reported(items: Sequence[Item], label: str, desk: Desk) -> Iterator[Item]:
    for done, item in enumerate(items):
        go_on()
        desk.progress(label, done, len(items))
        yield item
    desk.progress(label, len(items), len(items))


def solving(options: Sequence[Item]) -> Iterator[Item]:
    """Yield the options, with a progress bar."""
    return tracked(options, "solving options")


def climbing(amounts: Sequence[Item]) -> Iterator[Item]:
    """Yield the amounts of a ladder, with a progress bar."""
    return tracked(amounts, "climbing the ladder")
