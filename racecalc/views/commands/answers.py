"""Every command that answers something; importing it makes the group know them."""

from racecalc.views.commands import (
    basket,
    breakeven,
    compare,
    decide,
    evidence,
    pace,
    places,
    race,
    review,
    weather,
)
from racecalc.views.commands.shared import racecalc

__all__ = [
    "basket",
    "breakeven",
    "compare",
    "decide",
    "evidence",
    "pace",
    "places",
    "race",
    "racecalc",
    "review",
    "weather",
]
