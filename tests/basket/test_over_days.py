"""The best basket of each day: against trying every set on every day."""

import numpy as np
import pytest

from racecalc.decisions.basket.basket import basket_of
from racecalc.decisions.basket.candidates import Slopes, candidates_of
from racecalc.decisions.race_day import BasketOnDays, DayNumbers, baskets_over_days
from racecalc.decisions.weather import Day
from racecalc.domain.option import Option, read_saving
from racecalc.domain.race import Air
from tests.basket.making import allowed_sets, short_race
from tests.builders import euros

OPTIONS = [
    Option("deep", "wheel", euros(60), saves=read_saving("0.003 m^2")),
    Option("shallow", "wheel", euros(30), saves=read_saving("0.001 m^2")),
    Option("suit", "suit", euros(50), saves=read_saving("0.002 m^2")),
    Option("covers", "", euros(20), saves=read_saving("0.001 m^2")),
]
BOTH = Option("both", saves=read_saving("-0.002 m^2"), set_of=("suit", "covers"))
BUDGET = euros(100)


def days_of(savings: np.ndarray, usable: np.ndarray | None = None) -> DayNumbers:
    days = tuple(Day(f"day {number}", Air()) for number in range(len(savings)))
    allowed = np.ones(savings.shape, dtype=bool) if usable is None else usable
    return DayNumbers(days, np.full(len(savings), 600.0), savings, allowed)


def solved(days: DayNumbers, sets: list[Option]) -> tuple[BasketOnDays, ...]:
    candidates = candidates_of(short_race(), OPTIONS, sets)
    found = basket_of(Slopes(candidates), BUDGET)
    return baskets_over_days(candidates, found, OPTIONS, days, range(len(days.days)))


def random_days(count: int) -> DayNumbers:
    rng = np.random.default_rng(5)
    return days_of(rng.normal([5.0, 3.0, 4.0, 2.0], 2.0, size=(count, 4)))


def test_every_day_by_trying_every_set():
    days = random_days(60)
    answers = solved(days, [])
    candidates = candidates_of(short_race(), OPTIONS)
    sets = allowed_sets(candidates, BUDGET.amount)
    saved = np.array([[days.savings[day, sorted(one)].sum() for one in sets] for day in range(60)])
    for answer in answers:
        own = frozenset(candidates.number_of(name) or 0 for name in answer.chosen)
        column = sets.index(own)
        lost = saved.max(axis=1) - saved[:, column]
        assert answer.mean_regret_s == pytest.approx(lost.mean(), abs=1e-3)
        assert answer.worst_regret_s == pytest.approx(lost.max(), abs=1e-3)
        assert answer.share_best == pytest.approx(np.mean(lost < 1e-3))
    assert sum(answer.share_best for answer in answers) == pytest.approx(1.0)
    assert [answer.best_as_stated for answer in answers].count(True) == 1


def test_the_same_days_the_same_basket():
    stated = np.array([[worth.saved_s for worth in worths()]])
    (only,) = solved(days_of(np.repeat(stated, 5, axis=0)), [])
    assert only.best_as_stated
    assert (only.share_best, only.mean_regret_s, only.worst_regret_s) == (1.0, 0.0, 0.0)


def worths() -> list:
    from racecalc.decisions.worth import worth_of

    base = short_race()
    return [worth_of(base, option) for option in OPTIONS]


def test_gusts_leave_the_deep_wheel_at_home():
    savings = np.tile([9.0, 3.0, 4.0, 2.0], (4, 1))
    usable = np.ones((4, 4), dtype=bool)
    usable[3, 0] = False
    answers = {answer.chosen: answer for answer in solved(days_of(savings, usable), [])}
    deep = answers["deep", "covers"]
    assert deep.share_best == pytest.approx(0.75)
    gusty = answers["shallow", "suit", "covers"]
    assert gusty.share_best == pytest.approx(0.25)
    # On the gusty day 9 s less is ridden, and 3 + 4 s are lost.
    assert deep.worst_regret_s == pytest.approx(7.0, abs=1e-3)
    assert deep.worst_day.name == "day 3"


def test_a_tested_set_counts_on_every_day():
    """Suit and covers, which the test found slow together, lose to the deep wheel."""
    savings = np.array([[4.0, 1.0, 6.0, 5.0]])
    answers = [solved(days_of(savings), sets) for sets in ([], [BOTH])]
    untested, tested = ([one.chosen for one in some if one.share_best == 1.0] for some in answers)
    assert untested == [("shallow", "suit", "covers")]
    assert tested == [("deep", "covers")]
