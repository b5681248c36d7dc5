"""What several tests of pacing make."""

from collections.abc import Iterable

import numpy as np

from racecalc.decisions.pacing.card import Pacing, pace
from racecalc.decisions.pacing.limits import CriticalPower, HeldLimit, Limits, PowerMean
from racecalc.decisions.riding import Ridden
from racecalc.domain.race import Race


def power_mean(
    level: float, order: float = 4.0, least: float = 0.0, most: float = np.inf, fade: float = 0.0
) -> Limits:
    """One mean alone."""
    return Limits((PowerMean(level, order, fade),), least=least, most=most)


def critical(
    power: float, work: float, least: float = 0.0, most: float = np.inf, refill: float = 1.0
) -> Limits:
    """Critical power alone."""
    return Limits(above=CriticalPower(power, work, refill), least=least, most=most)


def card_within(
    base: Ridden,
    limit: Limits,
    most: int,
    others: Iterable[tuple[str, Race]] = (),
    wanted: float | None = None,
) -> Pacing:
    """A card of so many sections at most within a limit, no race file behind it."""
    return pace(base, HeldLimit(limit), most, others, wanted)
