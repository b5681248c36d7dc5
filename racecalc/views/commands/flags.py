"""Options that several commands take; the first screen reads some, so that nothing slow is here."""

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import click

Decorator = Callable[[Any], Any]

default_option = partial(click.option, show_default=True)
"""An option whose help names its default."""

FILE = click.Path(path_type=Path)
RACE_FILE = click.argument("race_file", metavar="RACE", type=FILE)
RACE_FILES = click.argument("race_file", metavar="RACE...", type=FILE, nargs=-1, required=True)
JSON = click.option("--json", "as_json", is_flag=True, help="Print JSON in SI units.")
UNITS = default_option(
    "--units",
    type=click.Choice(["metric", "imperial"]),
    default="metric",
    help="Units of the answer.",
)
SET = click.option(
    "--set",
    "changes",
    multiple=True,
    metavar="KEY=VALUE",
    help='Try another value, as rider.power="280 W". May be repeated.',
)
USE = click.option(
    "--use",
    metavar='"A + B"',
    help='Options in use, instead of what the race file says; "" for none.',
)
DRAWS = default_option(
    "--draws", type=click.IntRange(200, 1_000_000), default=20_000, help="Number of random draws."
)


def seed_option(meaning: str) -> Decorator:
    """Seed of what a command draws."""
    return default_option("--seed", type=click.IntRange(0), default=1, help=meaning)


def draw_options(command: Callable[..., Any]) -> Any:
    """Give a command the options of a Monte Carlo."""
    return seed_option("Seed of the random draws.")(DRAWS(command))


def price_option(meaning: str) -> Decorator:
    """What a second is worth."""
    return click.option("--price-per-second", "wanted", metavar="MONEY", help=meaning)


def repeatability_option(meaning: str) -> Decorator:
    """Scatter of a run, for each of the losses."""
    return click.option("--repeatability", multiple=True, metavar="AMOUNT", help=meaning)


def outputs_option(meaning: str) -> Decorator:
    """Files to write an answer to."""
    return click.option(
        "-o", "--output", "outputs", multiple=True, metavar="FILE", type=FILE, help=meaning
    )
