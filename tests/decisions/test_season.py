"""An option over the rounds of a season, against a closed form of a flat road."""

from dataclasses import replace

import numpy as np
import pytest

from racecalc.decisions.riding import Ridden, ride
from racecalc.decisions.value import season_values
from racecalc.domain.option import Option, Ownership, read_saving
from tests.builders import euros, flat_course, race, steady_start

ROUNDS = (40_000.0, 80_000.0)
POWER, DENSITY, AREA = 250.0, 1.2, 0.25
SUIT = Option(
    "suit", price=euros(190), saves=read_saving("0.01 m^2"), doubt=read_saving("0.002 m^2")
)
START = 0.01
"""Share of the seconds that the start takes, at the speed without the suit."""


@pytest.fixture(scope="module")
def rounds() -> list[Ridden]:
    """Nothing but the air resists: P = 1/2 rho A v^3."""
    bike = {"crr": 1e-9, "bearing_drag": 0.0, "bearing_drag_slope": 0.0, "drivetrain_loss": 0.0}
    return [
        ride(
            steady_start(race(name=f"{length:g} m", course=flat_course(length), step=500.0, **bike))
        )
        for length in ROUNDS
    ]


def seconds(length: float, area: float) -> float:
    return length * float(np.cbrt(0.5 * DENSITY * area / POWER))


def test_savings_and_doubts_of_all_rounds_add_up(rounds: list[Ridden]) -> None:
    """The suit is off by the same area in each round, so the doubts are added and not squared.

    By the closed form dT = T dA / (3 A) at the area with the suit.
    """
    (found,) = season_values(rounds, [SUIT])
    saved = [seconds(length, AREA) - seconds(length, AREA - 0.01) for length in ROUNDS]
    doubts = [seconds(length, AREA - 0.01) / (3 * (AREA - 0.01)) * 0.002 for length in ROUNDS]
    assert found.rounds == ("40000 m", "80000 m")
    assert found.saved_s == pytest.approx(saved, rel=START)
    assert found.total_s == pytest.approx(sum(saved), rel=START)
    assert found.doubt_s == pytest.approx(sum(doubts), rel=START)
    assert found.total_s_low == pytest.approx(sum(saved) - 1.959964 * sum(doubts), rel=START)
    assert found.total_s_high == pytest.approx(sum(saved) + 1.959964 * sum(doubts), rel=START)
    assert (found.least, found.most) == (1, 2)
    assert found.price_per_second == pytest.approx(190 / sum(saved), rel=START)


def test_what_is_not_known_of_a_season(rounds: list[Ridden]) -> None:
    """Without a doubt, without a price, owned, and without a gain."""
    claim, unpriced, owned, slower = season_values(
        rounds,
        [
            replace(SUIT, doubt=None),
            replace(SUIT, price=None),
            replace(SUIT, ownership=Ownership(owned=True)),
            replace(SUIT, saves=read_saving("-0.01 m^2")),
        ],
    )
    assert (claim.doubt_s, claim.total_s_low, claim.total_s_high) == (None, None, None)
    assert (unpriced.to_pay, unpriced.price_per_second) == (None, None)
    assert (owned.to_pay, owned.price_per_second) == (0.0, 0.0)
    assert (slower.to_pay, slower.price_per_second) == (190.0, None)
    assert slower.total_s < 0
    assert (slower.least, slower.most) == (2, 1)
