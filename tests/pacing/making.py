"""What several tests of pacing make."""

from collections.abc import Iterable

from racecalc.decisions.pacing.card import Pacing, pace
from racecalc.decisions.pacing.limits import HeldLimit, PacingLimit
from racecalc.decisions.riding import Ridden
from racecalc.domain.race import Race


def card_within(
    base: Ridden,
    limit: PacingLimit,
    most: int,
    others: Iterable[tuple[str, Race]] = (),
    wanted: float | None = None,
) -> Pacing:
    """A card of so many sections at most within a limit, no race file behind it."""
    return pace(base, HeldLimit(limit, None, (), ()), most, others, wanted)
