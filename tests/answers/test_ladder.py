"""What more money buys, as a sheet of its own."""

from decimal import Decimal

import pytest

from racecalc.answers.basket import ladder_sheet
from racecalc.answers.sheet import Curves, Depth
from racecalc.decisions.basket.basket import Rung
from racecalc.decisions.riding import ride
from racecalc.decisions.value import OptionValue, value_of
from racecalc.domain.option import Option, read_saving
from racecalc.views.writers.terminal import sheet_text
from tests.builders import euros, race

STEPS = (
    Rung(Decimal(0), Decimal(0), 0.0, 12.0, ("Low pads",), ("Low pads",), (), None, None),
    Rung(
        price=Decimal("37.5"),
        cash=Decimal("37.5"),
        cost=25.0,
        saved_s=30.0,
        names=("Low pads", "Fast chain"),
        added=("Fast chain",),
        dropped=(),
        price_more=2.08,
        cost_more=1.39,
    ),
)


@pytest.fixture(scope="module")
def dear() -> OptionValue:
    saving = read_saving("0.001 m^2")
    return value_of(ride(race()), Option("Deep wheel", "wheel", euros(400), saves=saving))


def test_steps_and_frontier(dear: OptionValue) -> None:
    sheet = ladder_sheet(STEPS, [dear], (37.5, 30.0), "EUR", "metric")
    text = sheet_text(sheet, Depth.ANSWER)
    assert "o the best sets, * one option alone, X switched on" in text
    assert "37.50    25    +30.0          1.39  + Fast chain" in text
    (curve,) = (block for block in sheet.blocks if isinstance(block, Curves))
    assert curve.points[:2] == [(0.0, 12.0, "o"), (37.5, 30.0, "o")]
    assert curve.points[2] == (400.0, dear.saved_s, "*")
    assert curve.points[3] == (37.5, 30.0, "X")
    assert (curve.along[-1], curve.curves["seconds saved"][-1]) == (400.0, 30.0)


def test_one_set_is_no_ladder() -> None:
    text = sheet_text(ladder_sheet(STEPS[:1], [], None, "EUR", "metric"), Depth.BASIS)
    assert text.strip() == "No sets with prices to compare: give the options prices."
