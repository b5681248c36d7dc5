"""How long the best set of forty options in eight slots takes, with its ladder and its proof.

Prints seconds, and how many times one solve of the course they are, so that a slow machine shows
as one.
"""

import time
from decimal import Decimal
from pathlib import Path

import numpy as np

from racecalc.decisions.basket.basket import basket_of, descended, rungs
from racecalc.decisions.basket.candidates import Slopes, candidates_of
from racecalc.decisions.basket.search import Programme
from racecalc.decisions.riding import ride
from racecalc.domain.loading import load_race
from racecalc.domain.option import Option
from tests.basket.making import SAVINGS, read_saving
from tests.builders import euros

DEMO = Path(__file__).parents[2] / "course_demo" / "race.toml"


def forty_options() -> list[Option]:
    rng = np.random.default_rng(3)
    options = []
    for number in range(40):
        acts_on = str(rng.choice(list(SAVINGS), p=[0.7, 0.2, 0.1]))
        form, mean, spread, doubt = SAVINGS[acts_on]
        options.append(
            Option(
                f"option {number}",
                slot=f"slot {number % 8}",
                price=euros(int(rng.integers(20, 600))),
                mass=float(rng.normal(0.0, 0.15)),
                saves=read_saving(form.format(rng.normal(mean, spread))),
                doubt=read_saving(doubt),
                acts_on=acts_on,
            )
        )
    return options


def test_forty_options_in_eight_slots() -> None:
    base = ride(load_race(DEMO))
    began = time.perf_counter()
    for _ in range(20):
        base.variant(base.race)
    one_solve = (time.perf_counter() - began) / 20
    options = forty_options()
    for budget in (800, 2000):
        began = time.perf_counter()
        slopes = Slopes(candidates_of(base, options))
        found = basket_of(slopes, euros(Decimal(budget)))
        programme = Programme(slopes.candidates)
        steps = rungs(slopes, [*descended(slopes, programme)])
        took = time.perf_counter() - began
        print(
            f"\n{budget} EUR: {took:.1f} s, {took / one_solve:.0f} times one solve;"
            f" {found.saved_s:.1f} s saved, gap {found.gap_s} s, {len(steps)} steps"
        )
        assert found.proved_optimal
