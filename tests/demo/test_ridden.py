"""The ridden splits of the demo: made by their script, and their truth found in them."""

from pathlib import Path

import pytest

from tests.answered import answered
from tests.demo.make_ridden import AREA, RIDDEN, WIND, ridden_splits


def test_the_file_comes_out_of_the_script():
    assert Path(RIDDEN).read_text("utf-8") == ridden_splits()


def test_the_truth_is_found():
    found = answered("review", "race.toml", "ridden.csv").answer.found
    assert found.wrong == ("air resistance (CdA)", "wind")
    assert found.pair is not None
    assert found.pair.apart
    area, wind = found.pair.explanations
    # Within 2 %, the trade's own tolerance (common practice); the file states 0.236 and 5.5.
    assert area.value == pytest.approx(AREA, rel=0.02)
    assert wind.value == pytest.approx(WIND, rel=0.02)
    assert area.doubt is not None
    assert abs(area.value - AREA) < 3 * area.doubt
