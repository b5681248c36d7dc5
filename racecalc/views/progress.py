"""A progress bar that appears only where work takes over a second."""

import sys
import time
from collections.abc import Iterator, Sequence
from typing import TypeVar

import click

Item = TypeVar("Item")
PATIENCE = 1.0


def tracked(items: Sequence[Item], label: str) -> Iterator[Item]:
    """Yield the items; after a second of work show on standard error how far it is.

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
