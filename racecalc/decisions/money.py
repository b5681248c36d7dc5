"""What options cost to buy, hire and use, and for each second."""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from racecalc.domain.option import Life, MoneyTerms, Option
from racecalc.errors import InputError
from racecalc.quantities.money import Money

# --- What using an option costs ------------------------------------------------------------------

NO_OTHERS: Mapping[str, Money | None] = {}


@dataclass(frozen=True)
class CostOfUse:
    """What an option costs, in whole units of its currency; None where something is not known."""

    currency: str
    """Of all amounts; empty where no price is known."""
    races: float | None
    """Races that it serves."""
    bought_per_race: float | None
    """Price less resale, spread over these races."""
    hire_per_race: float | None
    """Fee per race."""
    per_race: float | None
    """The cheaper of the two; 0 for what is owned."""
    by: str
    """"owned", "free", "bought" or "hired", for `per_race`; empty where it is not known."""
    per_season: float | None
    """`per_race` times the races of a season."""
    buys_from_race: int | None
    """Number of races from which buying costs no more than hiring; None where it never does within
    its life, or one of the two is not known.
    """
    lacking: str
    """What would have to be stated to know more; empty for nothing."""


def cost_of_use(option: Option, money_terms: MoneyTerms, length: float, time: float) -> CostOfUse:
    """Spread what an option costs over the races it serves.

    Parameters
    ----------
    option : Option
        With price, hire, resale and life as far as they are known.
    money_terms : MoneyTerms
        Gives the races of a season.
    length, time : float
        Of this race [m, s]; a life in kilometres or hours is taken as races like this one.

    Returns
    -------
    CostOfUse
        Amounts in the currency of its price or fee.
    """
    ownership = option.ownership
    priced = option.price or ownership.hire
    races, lacking = _races(ownership.life, money_terms.races_a_season, length, time)
    net = _net_price(option)
    bought = None if net is None or races is None else net / races
    hire = float(ownership.hire.amount) if ownership.hire else None
    by, per_race = _cheaper(option, bought, hire)
    season = money_terms.races_a_season
    return CostOfUse(
        currency=priced.currency if priced else "",
        races=races,
        bought_per_race=bought,
        hire_per_race=hire,
        per_race=per_race,
        by=by,
        per_season=None if per_race is None or season is None else per_race * season,
        buys_from_race=_crossover(net, hire, races),
        lacking=lacking if net else "",
    )


def _races(
    life: Life | None, a_season: int | None, length: float, time: float
) -> tuple[float | None, str]:
    if life is None:
        return None, "its life"
    if life.unit == "years":
        if a_season is None:
            return None, "races_a_season"
        return life.amount * a_season, ""
    return life.amount / {"races": 1.0, "m": length, "s": time}[life.unit], ""


def _net_price(option: Option) -> float | None:
    """Price less what is got back; what is owned has been paid for."""
    if option.price is None:
        return None
    resale = option.ownership.resale
    return max(float(option.price.amount - (resale.amount if resale else 0)), 0.0)


def _cheaper(option: Option, bought: float | None, hire: float | None) -> tuple[str, float | None]:
    if option.ownership.owned or (option.price is not None and not option.price.amount):
        return "owned" if option.ownership.owned else "free", 0.0
    ways = [(cost, by) for cost, by in ((bought, "bought"), (hire, "hired")) if cost is not None]
    if not ways:
        return "", None
    cost, by = min(ways)
    return by, cost


def _crossover(net: float | None, hire: float | None, races: float | None) -> int | None:
    if net is None or not hire:
        return None
    # A share of a cent must not make one race more.
    first = max(1, math.ceil(net / hire - 1e-9))
    return None if races is not None and first > races else first


def refuse_mixed_currencies(
    options: Iterable[Option], others: Mapping[str, Money | None] = NO_OTHERS
) -> None:
    """Make sure that prices can be compared: no rate of exchange is ever assumed."""
    known: dict[str, str] = {}
    named = list(others.items())
    for option in options:
        stated = option.price, option.ownership.hire, option.ownership.resale
        named += [(f"option {option.name}", money) for money in stated]
    for name, money in named:
        if money:
            known.setdefault(money.currency, name)
    if len(known) > 1:
        (one, first), (other, second) = list(known.items())[:2]
        problem = f"one is in {one}, the other in {other}"
        remedy = "give every price in one currency, at a rate of your own"
        raise InputError(f"{first} and {second}", problem, remedy)


# --- Money over seconds, and seconds over money, with the interval of the saving carried ---------


@dataclass(frozen=True)
class PricePerSecond:
    """Money over seconds saved, in whole units of the currency; None where there is no answer."""

    low: float | None = None
    at: float | None = None
    high: float | None = None
    """At the high end of the saving, its best estimate and its low end; never negative or infinite:
    None where the saving there is nothing.
    """

    @classmethod
    def of(
        cls, amount: float | None, saved: float, low: float | None, high: float | None
    ) -> "PricePerSecond":
        """An amount over a saving and the ends of its interval [s]."""
        if amount is None or saved <= 0:
            return cls()
        worst = amount / low if low and low > 0 else None
        return cls(amount / high if high else None, amount / saved, worst)


@dataclass(frozen=True)
class PriceCeiling:
    """Most that an option may cost, in whole units of the currency, zero or more."""

    low: float | None
    """At the ends of the interval of the saving; None where it is not known."""
    at: float
    """At the best estimate."""
    high: float | None
    """At the ends of the interval of the saving; None where it is not known."""
    currency: str
    """Its code."""

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
