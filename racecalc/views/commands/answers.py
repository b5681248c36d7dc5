"""Every command that answers something; importing it makes the group know them."""

from racecalc.views.commands import (
    advice,
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
    "advice",
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
