"""The integer program: published instances, hand-worked cases, and every condition."""

from decimal import Decimal

import numpy as np
import pytest

from racecalc.decisions.basket import search
from racecalc.decisions.basket.candidates import Candidates
from racecalc.decisions.basket.search import Programme
from racecalc.domain.option import Restrictions
from tests.basket.making import counted, seconds_of


@pytest.fixture(autouse=True, params=[0, search.LISTED], ids=["branch and cut", "listed"])
def _either_way(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(search, "LISTED", request.param)


# Burkardt J. KNAPSACK_01, data sets for the 0/1 knapsack problem: weights, profits, capacity,
# optimum and its items. P01 and P07 read; P08 from memory, its optimum worked out independently.
BURKARDT = {
    "P01": (
        [23, 31, 29, 44, 53, 38, 63, 85, 89, 82],
        [92, 57, 49, 68, 60, 43, 67, 84, 87, 72],
        165,
        309,
        "1111010000",
    ),
    "P07": (
        [70, 73, 77, 80, 82, 87, 90, 94, 98, 106, 110, 113, 115, 118, 120],
        [135, 139, 149, 150, 156, 163, 173, 184, 192, 201, 210, 214, 221, 229, 240],
        750,
        1458,
        "101010111000011",
    ),
    "P08": (
        np.fromstring(
            "382745 799601 909247 729069 467902 44328 34610 698150 823460 903959 853665 551830"
            " 610856 670702 488960 951111 323046 446298 931161 31385 496951 264724 224916 169684",
            sep=" ",
        ).tolist(),
        np.fromstring(
            "825594 1677009 1676628 1523970 943972 97426 69666 1296457 1679693 1902996 1844992"
            " 1049289 1252836 1319836 953277 2067538 675367 853655 1826027 65731 901489 577243"
            " 466257 369261",
            sep=" ",
        ).tolist(),
        6404180,
        13549094,
        None,
    ),
}


def knapsack(weights: list[float], profits: list[float]) -> Candidates:
    pairs = zip(weights, profits, strict=True)
    return counted(*((str(n), "", weight, profit) for n, (weight, profit) in enumerate(pairs)))


def best(
    candidates: Candidates, budget: object, required: tuple[int, ...] = ()
) -> frozenset[int] | None:
    programme = Programme(candidates, required)
    return programme.best(seconds_of(candidates), [programme.within(Decimal(str(budget)))])


def names(candidates: Candidates, chosen: frozenset[int] | None) -> set[str]:
    return {candidates.items[number].option.name for number in chosen or ()}


def profit(candidates: Candidates, chosen: frozenset[int] | None) -> float:
    return float(sum(candidates.items[number].worth.saved_s for number in chosen or ()))


@pytest.mark.parametrize("instance", BURKARDT)
def test_published_knapsacks(instance: str):
    weights, profits, capacity, optimum, taken = BURKARDT[instance]
    candidates = knapsack(weights, profits)
    chosen = best(candidates, capacity)
    assert profit(candidates, chosen) == optimum
    if taken:
        assert chosen == {number for number, one in enumerate(taken) if one == "1"}


# Four classes of which one item each is taken; optima of all 256 combinations, independent
# calculation by enumeration.
CLASSES = {
    "C1": [(30, 12), (38, 16), (45, 27)],
    "C2": [(20, 8), (33, 19), (36, 22)],
    "C3": [(14, 5), (25, 14), (41, 30)],
    "C4": [(9, 3), (12, 6), (28, 21)],
}


@pytest.mark.parametrize(
    ("budget", "optimum"), [(10, 23), (20, 53), (30, 73), (45, 95), (60, 111), (100, 150)]
)
def test_one_of_each_class(budget: int, optimum: int):
    candidates = counted(
        *(
            (f"{slot}{number}", slot, cost, seconds)
            for slot, items in CLASSES.items()
            for number, (seconds, cost) in enumerate(items)
        )
    )
    assert profit(candidates, best(candidates, budget)) == optimum


SHOPPER = (
    ("suit A", "suit", 310, 11.0),
    ("suit B", "suit", 140, 6.0),
    ("tyres A", "tyres", 96, 9.0),
    ("tyres B", "tyres", 58, 6.0),
    ("chain", "", 30, 3.5),
    ("overshoes", "", 45, 4.0),
    ("front wheel", "", 640, 13.0),
)
"""A shopper with 300 to spend; optimum and runner-up by hand."""


def test_the_shopper_with_three_hundred():
    candidates = counted(*SHOPPER)
    chosen = best(candidates, 300)
    assert names(candidates, chosen) == {"suit B", "tyres B", "chain", "overshoes"}
    assert candidates.cost_of(chosen or ()) == 273
    programme = Programme(candidates)
    second = programme.best(
        seconds_of(candidates), [programme.within(Decimal(300)), programme.not_again(chosen or ())]
    )
    assert names(candidates, second) == {"suit B", "tyres A", "overshoes"}
    assert (profit(candidates, chosen), profit(candidates, second)) == (19.5, 19.0)


def test_cents_count():
    candidates = counted(("one", "", 149.99, 5.0), ("other", "", 150.02, 5.0))
    assert len(best(candidates, 300) or ()) == 1
    assert len(best(candidates, "300.01") or ()) == 2


def test_needs_and_excludes():
    ties = {
        "disc": Restrictions(needs=("tubeless tyre",)),
        "scarf": Restrictions(excludes=("collar",)),
    }
    candidates = counted(
        ("disc", "", 50, 10.0),
        ("tubeless tyre", "", 50, 0.5),
        ("scarf", "", 5, 3.0),
        ("collar", "", 5, 2.0),
        **ties,
    )
    assert names(candidates, best(candidates, 60)) == {"tubeless tyre", "scarf"}
    assert names(candidates, best(candidates, 105)) == {"disc", "tubeless tyre", "scarf"}
    assert names(candidates, best(candidates, 60, required=(3,))) == {"tubeless tyre", "collar"}


def test_nothing_meets_all_conditions():
    candidates = counted(("disc", "", 50, 10.0))
    assert best(candidates, 40, required=(0,)) is None


def test_no_candidates():
    assert best(counted(), 40) == frozenset()


def test_swapped_sets_hold_something_else():
    candidates = counted(*SHOPPER)
    chosen = best(candidates, 300)
    programme = Programme(candidates)
    rows = [programme.within(Decimal(300)), *programme.swapped(chosen or ())]
    other = programme.best(seconds_of(candidates), rows)
    assert other is not None
    assert chosen is not None
    assert other - chosen
    assert chosen - other


def test_shares_reach_further_than_whole_items():
    """Dantzig's bound of P01, 309.018868, independent calculation."""
    weights, profits, capacity, _, _ = BURKARDT["P01"]
    candidates = knapsack(weights, profits)
    programme = Programme(candidates)
    reach = programme.reach(np.array(profits, dtype=float), [programme.within(Decimal(capacity))])
    assert reach == pytest.approx(309.018868, abs=1e-6)
