"""Candidates for the tests of baskets: made up without a course, or of random options on one."""

from dataclasses import replace
from decimal import Decimal
from itertools import combinations

import numpy as np

from racecalc.decisions.basket.candidates import Candidates, Item, Slopes, candidates_of, vector
from racecalc.decisions.basket.search import SPENT
from racecalc.decisions.money import cost_on
from racecalc.decisions.riding import Ridden, ride
from racecalc.decisions.worth import Exchange, Worth
from racecalc.domain.option import Option, Ownership, Restrictions, read_saving
from racecalc.domain.race import Change
from tests.builders import euros, graded_course, race, steady_start


def counted(*items: tuple[str, str, float, float], **ties: Restrictions) -> Candidates:
    """Candidates of (name, slot, cost, seconds), of which nothing is ever ridden."""
    base = ride(race())
    options = [
        Option(name, slot, euros(cost), restrictions=ties.get(name, Restrictions()))
        for name, slot, cost, _ in items
    ]
    worths = [
        Worth(
            option=option,
            exchange=Exchange((), (option.name,)),
            base=base,
            change=Change(),
            rest=Change(),
            changed=base,
            saved_s=seconds,
            doubt_s=1.0,
        )
        for option, (_, _, _, seconds) in zip(options, items, strict=True)
    ]
    stocked = tuple(Item(one, one, cost_on(base, one.option)) for one in worths)
    return Candidates(base, stocked, (), ())


def seconds_of(candidates: Candidates) -> np.ndarray:
    return np.array([item.worth.saved_s for item in candidates.items])


SAVINGS = {
    "air": ("{:.5f} m^2", 0.0035, 0.003, "0.0012 m^2"),
    "tyres": ("{:.6f} of Crr", 0.0003, 0.0004, "0.0001 of Crr"),
    "drivetrain": ("{:.3f} W at 250 W", 1.5, 1.5, "0.7 W at 250 W"),
}


def short_race() -> Ridden:
    """Six hilly kilometres from a standing start: few steps, and every loss matters."""
    hills = graded_course((1500.0, 0.0), (1500.0, 0.03), (1500.0, -0.02), (1500.0, 0.0))
    return ride(steady_start(race(course=hills, step=60.0)))


def random_options(rng: np.random.Generator, count: int) -> list[Option]:
    """Options with slots, prices, hire, weights, needs and exclusions, some of them bad buys."""
    options = [_random_option(rng, number) for number in range(count)]
    for number, option in enumerate(options):
        if rng.random() < 0.15 and number:
            other = options[int(rng.integers(number))]
            if other.slot != option.slot or not other.slot:
                options[number] = replace(option, restrictions=Restrictions(needs=(other.name,)))
        elif rng.random() < 0.15:
            other = options[int(rng.integers(count))]
            if other is not option:
                options[number] = replace(option, restrictions=Restrictions(excludes=(other.name,)))
    return options


def _random_option(rng: np.random.Generator, number: int) -> Option:
    acts_on = str(rng.choice(list(SAVINGS), p=[0.6, 0.25, 0.15]))
    form, mean, spread, doubt = SAVINGS[acts_on]
    return Option(
        name=f"option {number}",
        slot=str(rng.choice(["", "suit", "wheel", "tyres", "chain"])),
        price=euros(int(rng.integers(0, 300))),
        mass=float(rng.normal(0.0, 0.3)),
        saves=read_saving(form.format(rng.normal(mean, spread))),
        doubt=read_saving(doubt),
        acts_on=acts_on,
        ownership=Ownership(
            hire=euros(int(rng.integers(5, 60))) if rng.random() < 0.2 else None,
            owned=bool(rng.random() < 0.1),
        ),
    )


def random_set_test(rng: np.random.Generator, options: list[Option]) -> list[Option]:
    """With luck, a test of two options of different slots as one."""
    if len(options) < 3 or rng.random() < 0.5:
        return []
    one, other = (options[number] for number in rng.choice(len(options), 2, replace=False))
    if one.slot == other.slot and one.slot:
        return []
    saving = read_saving(f"{rng.normal(0.005, 0.003):.5f} m^2")
    return [Option("both", saves=saving, doubt=saving, set_of=(one.name, other.name))]


def random_problem(seed: int, most: int) -> tuple[Slopes, Decimal]:
    rng = np.random.default_rng(seed)
    options = random_options(rng, int(rng.integers(2, most + 1)))
    candidates = candidates_of(short_race(), options, random_set_test(rng, options))
    total = sum((item.cash for item in candidates.items), Decimal(0))
    return Slopes(candidates), Decimal(int(float(total) * rng.uniform(0.1, 0.9)))


def overlapping_problem(seed: int) -> tuple[Slopes, Decimal]:
    """Options of which pairs were tested as one, far from the sum of their parts."""
    rng = np.random.default_rng(seed)
    options = random_options(rng, 7)
    able = [one for one in options if one.acts_on == "air"]
    pairs = [(one, other) for one, other in combinations(able, 2) if _fit(one, other)]
    tests = {}
    for number in rng.permutation(len(pairs))[:2].tolist():
        area = sum(one.saves.amount for one in pairs[number]) * rng.uniform(0.3, 1.6)
        names = tuple(one.name for one in pairs[number])
        saves, doubt = read_saving(f"{area:.5f} m^2"), read_saving("0.001 m^2")
        tests[names] = Option(f"both {number}", saves=saves, doubt=doubt, set_of=names)
    there = replace(short_race().race, options=(*options, *tests.values()))
    candidates = candidates_of(ride(there), options, tuple(tests.values()))
    total = sum((item.cash for item in candidates.items), Decimal(0))
    return Slopes(candidates), Decimal(int(float(total) * rng.uniform(0.2, 0.9)))


def _fit(one: Option, other: Option) -> bool:
    ties = {*one.restrictions.excludes, *other.restrictions.excludes}
    alike = bool(one.slot) and one.slot == other.slot
    return not alike and ties.isdisjoint({one.name, other.name})


def allowed_sets(candidates: Candidates, budget: Decimal) -> list[frozenset[int]]:
    """Every set that meets all conditions, by trying all: written apart from the programme."""
    found = []
    for size in range(len(candidates.items) + 1):
        for numbers in combinations(range(len(candidates.items)), size):
            chosen = [candidates.items[number].option for number in numbers]
            names = {option.name for option in chosen}
            slots = [option.slot for option in chosen if option.slot]
            left = vector(candidates.change_of(numbers)) >= -SPENT * candidates.whole
            if (
                np.all(left)
                and sum((candidates.items[number].cash for number in numbers), Decimal(0)) <= budget
                and len(set(slots)) == len(slots)
                and all(set(option.restrictions.needs) <= names for option in chosen)
                and not any(set(option.restrictions.excludes) & names for option in chosen)
            ):
                found.append(frozenset(numbers))
    return found
