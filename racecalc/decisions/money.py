"""What options cost to buy, hire and use, and for each second."""

import math
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Literal, TypeVar

from racecalc.decisions.riding import Ridden
from racecalc.domain.option import Life, MoneyTerms, Option
from racecalc.quantities.money import Money

# --- What using an option costs ------------------------------------------------------------------

T = TypeVar("T")

Way = Literal["bought", "hired", "owned", "free", ""]
"""How something is paid for; empty where that is not known."""

PAID: tuple[Way, ...] = ("bought", "hired")
"""Ways that cost money."""


@dataclass(frozen=True)
class CostOfUse:
    """What an option costs, in whole units of its currency; None where something is not known."""

    currency: str
    """Of all amounts; empty where no price is known."""
    races_counted: int
    """Races for which `cost` and `cash` are counted: the races of a season, or one."""
    races_stated: bool
    """Whether these are stated."""
    cost: float | None
    """What it costs for the races counted: that share of its price less resale that its life makes
    of them, or their hire if that is less; 0 for what is owned or free.
    """
    cash: Decimal | None
    """What is paid for it first: the price of as many of it as the races counted wear out, or
    their hire, as `by` says.
    """
    price: Decimal | None
    """Its purchase price, or the hire for the races counted, as `by` says; 0 for what is owned."""
    by: Way
    """"owned", "free", "bought" or "hired", whichever costs least; empty where it is not known."""
    races: float | None
    """Races that it serves."""
    bought_per_race: float | None
    """Price less resale, spread over these races."""
    hire_per_race: float | None
    """Fee per race."""
    per_race: float | None
    """The one of the two that `by` says; 0 for what is owned."""
    per_season: float | None
    """`per_race` times the races of a season."""
    buys_from_race: int | None
    """Number of races from which buying costs no more than hiring; None where it never does within
    its life, or one of the two is not known.
    """
    lacking: str
    """What would have to be stated to know more; empty for nothing. Without its life, or the races
    of a season, the whole price less resale falls on the races counted.
    """

    @property
    def paid(self) -> bool:
        """Whether it costs money."""
        return self.by in PAID


def cost_of_use(
    option: Option, money_terms: MoneyTerms, length: float, time: float, races: int | None = None
) -> CostOfUse:
    """Say what an option costs for the races counted.

    Every answer about money counts with this cost, as what a second is worth to the athlete is
    that of a second in each of these races: those stated, else those of a season. A life in
    kilometres or hours is taken as races of this length [m] and time [s].
    """
    season, hire = money_terms.races_a_season, option.ownership.hire
    counted, stated = races or season or 1, bool(races or season)
    priced, net = option.price or hire, _net_price(option)
    serves, lacking = _races(option.ownership.life, season or races, length, time)
    life = serves if serves is not None and stated else float(counted)
    offers = _offers(option, counted)
    costs = {by: float(amount) for by, amount in offers.items()}
    if net is not None and "bought" in costs:
        costs["bought"] = counted * net / life
    by: Way = min(costs, key=lambda way: costs[way], default="")
    pieces = max(1, math.ceil(counted / life - ROUNDING)) if by == "bought" else 1
    bought = None if net is None or serves is None else net / serves
    fee = float(hire.amount) if hire else None
    per_race = {"bought": bought, "hired": fee, "": None}.get(by, 0.0)
    return CostOfUse(
        currency=priced.currency if priced else "",
        races_counted=counted,
        races_stated=stated,
        cost=costs.get(by),
        cash=offers[by] * pieces if by else None,
        price=offers.get(by),
        by=by,
        races=serves,
        bought_per_race=bought,
        hire_per_race=fee,
        per_race=per_race,
        per_season=None if per_race is None or season is None else per_race * season,
        buys_from_race=_crossover(net, fee, serves),
        lacking=(lacking or ("" if stated else "races_a_season")) if net else "",
    )


def cost_on(base: Ridden, option: Option, races: int | None = None) -> CostOfUse:
    """What an option costs for the races counted, each like the one ridden."""
    race = base.race
    return cost_of_use(option, race.money_terms, race.course.length, base.time, races)


def cost_with(
    base: Ridden, option: Option, brings: Collection[str], races: int | None = None
) -> CostOfUse:
    """What an option costs with what comes with it; its life and its fees are its own."""
    own = cost_on(base, option, races)
    others = (one for one in base.race.single_options if one.name in brings)
    uses = (own, *(cost_on(base, one, races) for one in others))
    prices = _all_known(one.price for one in uses)
    paid = next((one for one in uses if one.paid), own)
    return replace(
        own,
        currency=own.currency or paid.currency,
        cost=cost_of_all(uses),
        cash=cash_for_all(uses),
        price=None if prices is None else sum(prices, Decimal(0)),
        by="" if prices is None else paid.by,
    )


def to_pay_with(base: Ridden, option: Option, brings: Collection[str]) -> float | None:
    """Prices of an option and what comes with it, 0 for what is owned; None where one has none."""
    others = (one for one in base.race.single_options if one.name in brings)
    prices = _all_known(one.to_pay for one in (option, *others))
    return None if prices is None else math.fsum(prices)


def cost_of_all(uses: Sequence[CostOfUse]) -> float | None:
    """What several options cost for the races counted; None where one states no price."""
    costs = _all_known(one.cost for one in uses)
    return None if costs is None else math.fsum(costs)


def cash_for_all(uses: Sequence[CostOfUse]) -> Decimal | None:
    """What is paid first for several options; None where one states no price."""
    paid = _all_known(one.cash for one in uses)
    return None if paid is None else sum(paid, Decimal(0))


def _all_known(values: Iterable[T | None]) -> list[T] | None:
    """The values; None where one is not known."""
    found = list(values)
    known = [one for one in found if one is not None]
    return known if len(known) == len(found) else None


ROUNDING = 1e-9
"""Share of a race, or of a fee, that must not make one more."""


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


def _offers(option: Option, races: int) -> dict[Way, Decimal]:
    """The ways to have an option, and what is paid in each for one of it, or for so many races."""
    price, hire = option.price, option.ownership.hire
    if option.ownership.owned:
        return {"owned": Decimal(0)}
    if price is not None and not price.amount:
        return {"free": Decimal(0)}
    bought: dict[Way, Decimal] = {"bought": price.amount} if price else {}
    return {**bought, **({"hired": hire.amount * races} if hire else {})}


def price_alone(option: Option, races: int) -> Decimal:
    """What an option costs where neither life nor resale counts: its price, or its hire if less."""
    return min(_offers(option, races).values())


def _crossover(net: float | None, hire: float | None, races: float | None) -> int | None:
    if net is None or not hire:
        return None
    first = max(1, math.ceil(net / hire - ROUNDING))
    return None if races is not None and first > races else first


def seconds_to_pay(use: CostOfUse, per_second: Money) -> float | None:
    """Seconds in each of the races counted that are worth what something costs [s]."""
    if use.cost is None:
        return None
    if not use.paid:
        return 0.0
    return Money(Decimal(repr(use.cost)), use.currency).over(per_second)


def amount_of(money: Money | None) -> Decimal | None:
    """The amount, where there is one."""
    return None if money is None else money.amount


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
    """Most that an option may cost for the races counted, in whole units, zero or more."""

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
