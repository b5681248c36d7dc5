"""What may be spent, and what a set is worth after its price."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal

from racecalc.domain.option import Option
from racecalc.quantities.money import Money

TOSS_UP = 1.1
"""Price of a second over what one is worth up to which nobody can call it too dear; our choice."""


@dataclass(frozen=True)
class Spending:
    """What may be spent.

    Parameters
    ----------
    per_second : Money or None
        Most that a second is worth to the athlete.
    budget : Money or None
        Most to spend in all.
    races : int
        Races for which hired things are hired.
    """

    per_second: Money | None
    budget: Money | None
    races: int

    @property
    def stated(self) -> bool:
        """Whether anything says what may be bought."""
        return self.per_second is not None or self.budget is not None

    def worth(self, saved_s: float, cost: Decimal) -> float:
        """What a set is worth after its price; its seconds where no price of a second is stated."""
        if self.per_second is None:
            return saved_s
        return float(self.per_second.amount) * saved_s - float(cost)

    def pays(self, seconds: float, cost: Decimal, within: float = 1.0) -> bool:
        """Whether seconds are worth so many times their price; yes where nobody says."""
        worth = self.per_second
        return worth is None or float(cost) <= within * float(worth.amount) * seconds

    def allows(self, cost: Decimal) -> bool:
        """Whether a set may cost so much; nothing, where nothing says what it may."""
        if not self.stated:
            return not cost
        return self.budget is None or cost <= self.budget.amount

    def currency(self, options: Iterable[Option]) -> str:
        """Currency of all prices; "EUR" where there are none."""
        amounts = (self.budget, self.per_second, *_prices(options))
        return next((amount.currency for amount in amounts if amount), "EUR")


def _prices(options: Iterable[Option]) -> Iterator[Money | None]:
    for option in options:
        yield option.price
        yield option.upkeep.hire
