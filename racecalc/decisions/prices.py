"""Money over seconds, and seconds over money, with the interval of the saving carried through."""

from dataclasses import dataclass

from racecalc.quantities.money import Money


@dataclass(frozen=True)
class PricePerSecond:
    """Money over seconds saved, in whole units of the currency; None where there is no answer.

    Parameters
    ----------
    low, at, high : float or None
        At the high end of the saving, its best estimate and its low end; never negative or
        infinite: None where the saving there is nothing.
    """

    low: float | None = None
    at: float | None = None
    high: float | None = None

    @classmethod
    def of(
        cls, amount: float | None, saved: float, low: float | None, high: float | None
    ) -> "PricePerSecond":
        """An amount over a saving and the ends of its interval [s]."""
        if amount is None or saved <= 0:
            return cls()
        best = amount / high if high else None
        worst = amount / low if low and low > 0 else None
        return cls(best, amount / saved, worst)


@dataclass(frozen=True)
class PriceCeiling:
    """Most that an option may cost, in whole units of the currency, zero or more.

    Parameters
    ----------
    low, high : float or None
        At the ends of the interval of the saving; None where it is not known.
    at : float
        At the best estimate.
    currency : str
        Its code.
    """

    low: float | None
    at: float
    high: float | None
    currency: str

    @classmethod
    def of(
        cls, wanted: Money | None, saved: float, low: float | None, high: float | None
    ) -> "PriceCeiling | None":
        """Seconds times what a second is worth to the user; None where they do not say."""
        if wanted is None:
            return None
        worth = float(wanted.amount)
        ends = [None if end is None else worth * max(end, 0.0) for end in (low, high)]
        return cls(ends[0], worth * max(saved, 0.0), ends[1], wanted.currency)
