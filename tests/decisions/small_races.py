"""Small hilly races with random options of every kind, and what they mean worked out by hand.

`plain_race` has only things that surely help, so that nothing is left to be tested or excluded;
`mixed_race` has everything a race file may say of an option.
"""

from collections.abc import Collection, Iterator, Mapping
from dataclasses import replace
from itertools import combinations
from math import ceil

import numpy as np

from racecalc.decisions.holding import total_change
from racecalc.decisions.riding import Ridden
from racecalc.domain.option import (
    Holding,
    Life,
    MoneyTerms,
    Option,
    Ownership,
    PowerLoss,
    Restrictions,
    read_saving,
)
from racecalc.domain.race import Air, Race, Wind
from tests.builders import euros, graded_course, race, steady_start

PER_SECOND, SEASON_OF = 30, 6

# --- The races ------------------------------------------------------------------------------------


def plain_race(seed: int) -> Race:
    """A few hilly kilometres and five things that surely help, each at its own terms."""
    rng = np.random.default_rng(seed)
    made = _hills(rng, tuple(_helpful(rng, number) for number in range(5)))
    return steady_start(made)


def _hills(rng: np.random.Generator, options: tuple[Option, ...], **more: object) -> Race:
    grade = float(rng.uniform(0.01, 0.04))
    hills = graded_course((1500.0, 0.0), (1200.0, grade), (1200.0, -grade), (1500.0, 0.0))
    terms = MoneyTerms(euros(PER_SECOND), euros(int(rng.integers(150, 400))), SEASON_OF)
    power = float(rng.uniform(180, 320))
    made = race(course=hills, step=60.0, power=power, options=options, **more)
    return replace(made, money_terms=terms)


def _helpful(rng: np.random.Generator, number: int) -> Option:
    return Option(
        f"thing {number}",
        slot="suit" if number < 2 else "",
        price=euros(price := int(rng.integers(30, 300))),
        saves=read_saving(f"{rng.uniform(0.002, 0.006):.4f} m^2"),
        doubt=read_saving("0.0002 m^2"),
        ownership=_terms(rng, price),
    )


def _terms(rng: np.random.Generator, price: int) -> Ownership:
    lives = [None, Life(float(rng.integers(3, 40)), "races"), Life(2.0, "years")]
    return Ownership(
        hire=euros(int(rng.integers(5, 40))) if rng.random() < 0.4 else None,
        resale=euros(price // 3) if rng.random() < 0.5 else None,
        life=lives[int(rng.integers(3))],
        owned=bool(rng.random() < 0.1),
    )


SAVINGS = {
    "air": ("{:.4f} m^2", 0.003, 0.0025, "{:.4f} m^2", 0.0012),
    "tyres": ("{:.5f} of Crr", 0.0002, 0.0002, "{:.5f} of Crr", 0.0001),
    "drivetrain": ("{:.2f} W at 250 W", 0.8, 0.8, "{:.2f} W at 250 W", 0.7),
}
"""Forms of a saving, its mean and scatter, and its doubt at most, by what it acts on."""

WARM, BREEZE, GUST = 303.0, 4.0, 12.0
"""Air [K], wind at the rider and its gusts [m/s] of the race day."""


def mixed_race(seed: int, count: int = 7) -> Race:
    """Options that share slots, need, exclude, are free, owned, hired, claimed, forbidden, unsafe.

    Some are unwished or held in part; with luck two were tested as one, and some are in use.
    """
    rng = np.random.default_rng(seed)
    options = [_any_option(rng, number) for number in range(count)]
    options = [_tied(rng, option, options) for option in options]
    wind = Wind(speed=BREEZE, direction=float(rng.uniform(0, 6)), follows_rider=True)
    air = Air(temperature=WARM, wind=wind, gusts=GUST)
    made = _hills(rng, (*options, *_tested_as_one(rng, options)), air=air)
    used = _some_set(rng, options) if rng.random() < 0.6 else ()
    return replace(steady_start(made, density=1.16), use=used)


def _any_option(rng: np.random.Generator, number: int) -> Option:
    acts_on = str(rng.choice(list(SAVINGS), p=[0.7, 0.2, 0.1]))
    form, mean, spread, doubt, most = SAVINGS[acts_on]
    price = int(rng.integers(0, 250)) if rng.random() < 0.85 else 0
    held = acts_on == "air" and rng.random() < 0.15
    loss = PowerLoss(watts=1.0) if rng.random() < 0.5 else None
    return Option(
        f"thing {number}",
        slot=str(rng.choice(["", "", "suit", "wheel"])),
        price=None if rng.random() < 0.1 else euros(price),
        mass=round(float(rng.normal(0.0, 0.2)), 2),
        saves=read_saving(form.format(rng.normal(mean, spread))),
        doubt=read_saving(doubt.format(most * rng.uniform(0.2, 1))) if rng.random() < 0.8 else None,
        acts_on=acts_on,
        ownership=_terms(rng, price),
        holding=Holding((0.75,), power_loss=loss) if held else Holding(),
    )


def _tied(rng: np.random.Generator, option: Option, options: Collection[Option]) -> Option:
    """With what it needs or excludes, and with limits: gusts of 12 m/s and 30 degC forbid some."""
    others = [one for one in options if one is not option]
    earlier = [one.name for one in others if one.name < option.name and not _share(one, option)]

    def chance(share: float) -> bool:
        return bool(rng.random() < share)

    return replace(
        option,
        restrictions=Restrictions(
            needs=(str(rng.choice(earlier)),) if earlier and chance(0.3) else (),
            excludes=(others[int(rng.integers(len(others)))].name,) if chance(0.15) else (),
            rules=str(rng.choice(["allowed", "not checked", "forbidden"], p=[0.4, 0.5, 0.1])),
            least_gain=float(rng.uniform(0.5, 8)) if chance(0.2) else 0.0,
            catches_wind=chance(0.2),
            gust_limit=float(rng.choice([10.0, 18.0])) if chance(0.1) else None,
            heat_limit=float(rng.choice([300.0, 310.0])) if chance(0.15) else None,
        ),
    )


def _share(one: Option, other: Option) -> bool:
    return bool(one.slot) and one.slot == other.slot


def _tested_as_one(rng: np.random.Generator, options: Collection[Option]) -> tuple[Option, ...]:
    """Two of them, if that can be: better or worse than their sum, and proved or not."""
    able = [one for one in options if one.acts_on == "air" and one.holding.always]
    pairs = [pair for pair in combinations(able, 2) if fits(pair)]
    if not pairs or rng.random() < 0.3:
        return ()
    pair = pairs[int(rng.integers(len(pairs)))]
    area = sum(one.saves.amount for one in pair) * rng.uniform(0.5, 1.4)
    doubt = read_saving(f"{rng.choice([0.0008, 0.006])} m^2") if rng.random() < 0.8 else None
    names = tuple(one.name for one in pair)
    return (Option("both", saves=read_saving(f"{area:.4f} m^2"), doubt=doubt, set_of=names),)


def _some_set(rng: np.random.Generator, options: Collection[Option]) -> tuple[str, ...]:
    found = [one for one in sets_of(options) if 0 < len(one) <= 3]
    return tuple(one.name for one in found[int(rng.integers(len(found)))]) if found else ()


# --- By hand --------------------------------------------------------------------------------------


def fits(chosen: Collection[Option], have: Collection[str] | None = None) -> bool:
    """Whether options can be used together: slots, exclusions, needs, one position at a time."""
    names = {one.name for one in chosen}
    slots = [one.slot for one in chosen if one.slot]
    needed = {name for one in chosen for name in one.restrictions.needs}
    return (
        len(set(slots)) == len(slots)
        and not any(names & set(one.restrictions.excludes) for one in chosen)
        and sum(not one.holding.always for one in chosen) <= 1
        and needed <= (names if have is None else names | set(have))
    )


def sets_of(options: Collection[Option]) -> Iterator[tuple[Option, ...]]:
    """Every set that can be used together, by trying all."""
    for count in range(len(options) + 1):
        for chosen in combinations(options, count):
            if fits(chosen):
                yield chosen


def cost_by_hand(option: Option) -> tuple[float, float] | None:
    """Cost and cash by the rule as it reads, apart from the code; None where no price is known."""
    own = option.ownership
    if own.owned or (option.price is not None and not option.price.amount):
        return 0.0, 0.0
    life = float(SEASON_OF) if own.life is None else own.life.amount
    life *= SEASON_OF if own.life and own.life.unit == "years" else 1.0
    resale = float(own.resale.amount) if own.resale else 0.0
    ways = []
    if option.price is not None:
        price = float(option.price.amount)
        ways.append((SEASON_OF * max(price - resale, 0) / life, price * ceil(SEASON_OF / life)))
    if own.hire:
        ways.append((SEASON_OF * float(own.hire.amount), SEASON_OF * float(own.hire.amount)))
    return min(ways, key=lambda way: way[0]) if ways else None


def time_by_hand(bare: Ridden, chosen: Collection[Option], tests: Collection[Option]) -> float:
    """Time of the race with the values of a set written into it; tests of sets hold.

    Where a position is held in part, what tests/decisions/test_holding.py holds by itself counts.
    """
    names = {one.name for one in chosen}
    known = {one.name: one for one in chosen}
    air = {one.name: _area(one, bare) for one in chosen if one.acts_on == "air"}
    for test in tests:
        if names.issuperset(test.set_of):
            together = test.saves.amount
            air = {name: area for name, area in air.items() if name not in test.set_of}
            air[test.name] = together
    bike, rider = bare.race.bike, bare.race.rider
    lost = {kind: [one for one in known.values() if one.acts_on == kind] for kind in SAVINGS}
    power = sum(
        share * one.holding.power_loss.watts
        for one in chosen
        if one.holding.power_loss
        for share in one.holding.shares
    )
    written = replace(
        bike,
        cda=bike.cda.plus(-sum(air.values())),
        crr=bike.crr - sum(one.saves.amount for one in lost["tyres"]),
        drivetrain_loss=bike.drivetrain_loss
        - sum(one.saves.amount / one.saves.condition for one in lost["drivetrain"]),
        mass=bike.mass + sum(one.mass for one in chosen),
    )
    changed = replace(bare.race, bike=written, rider=replace(rider, power=rider.power - power))
    return bare.variant(changed).time


def _area(option: Option, bare: Ridden) -> float:
    return option.saves.amount if option.holding.always else -total_change(option, bare).cda


def with_needs(names: Collection[str], known: Mapping[str, Option]) -> set[str]:
    """Options and all that they need."""
    found = set(names)
    while more := {one for name in found for one in known[name].restrictions.needs} - found:
        found |= more
    return found
