"""Columns of zeros, repeats alike to the last digit and one duration twice: no division by zero."""

import math
from pathlib import Path

import numpy as np
import pytest

from racecalc.decisions.evidence.sweep import answer_sweep
from racecalc.decisions.evidence.trial import answer
from racecalc.decisions.pacing.critical_power import fit_critical
from racecalc.decisions.review.fit import InputFit, KnownError, believable, blame, separable
from racecalc.domain.trial import load_runs
from racecalc.errors import InputError
from tests.answered import Answered, answered

ACROSS = "--set", "air.wind_from=120 deg", "--set", "course.step=100 m"
"""The flat round runs straight towards 30 deg, so this wind is at a right angle."""

HEAD = "to [km],elapsed [h:m:s],power [W]\n"
SPLITS = (4, 8, 12, 16, 20)


def reviewed(folder: Path, clock: str) -> Answered:
    rows = "".join(f"{to},{time},276\n" for to, time in zip(SPLITS, clock.split(), strict=True))
    ridden = folder / "ridden.csv"
    ridden.write_text(HEAD + rows, encoding="utf-8")
    return answered("review", "flat_round.toml", str(ridden), *ACROSS)


@pytest.mark.filterwarnings("error::RuntimeWarning")
@pytest.mark.parametrize(
    "clock", ["6:20 12:30 18:50 25:00 31:20", "5:40 11:18 17:02 22:40 28:20"], ids=["slow", "fast"]
)
def test_a_wind_exactly_across(tmp_path: Path, clock: str) -> None:
    """Its square counts: without any of it a little more or less is the same."""
    told = reviewed(tmp_path, clock)
    assert "Wind cannot be told from these splits" in " ".join(told.text().split())
    assert told.json["untold"] == ["wind"]
    assert "wind" not in told.json["wrong"]
    # A pair explains no less than the better of the two.
    found = told.json
    alone = {one["quantity"]: one["left_s"] for one in found["alone"]}
    for one in found["pair"]["explanations"]:
        assert one["left_s"] <= alone[one["quantity"]] + 1e-9


REST = np.array([3.0, -1.0, 2.0, 0.5, -2.0])
ZERO = np.zeros(5)
UP = np.array([10.0, 11.0, 9.0, 10.0, 12.0])


def fitted(*columns: np.ndarray, names: tuple[str, ...] = ("cda", "wind")) -> InputFit:
    share = np.zeros(len(columns))
    return InputFit(names, share, REST, np.stack(columns, axis=1), 0.1)


def test_a_column_of_zeros() -> None:
    pair = fitted(UP, ZERO)
    assert (pair.untold, pair.correlation, pair.doubt) == (("wind",), None, None)
    assert not separable(pair)
    assert not believable(pair)
    whole = fitted(UP, np.array([1.0, -2.0, 1.0, 2.0, -1.0]), ZERO, names=("cda", "crr", "wind"))
    fits = {("wind",): fitted(ZERO, names=("wind",)), ("cda", "wind"): pair}
    found = blame(KnownError(0.1, np.full(5, 0.01)), REST, fits, whole)
    assert found.finding == "no pattern"
    nothing = fitted(ZERO, ZERO)
    assert blame(KnownError(0.1, np.full(5, 0.01)), REST, {}, nothing).finding == "no pattern"


def test_the_doubt_of_nearly_equal_columns_by_hand() -> None:
    """Two columns u and u + e v with u.u = v.v = 1 and u.v = 0: the inverse has (1 + e^2) / e^2 and
    1 / e^2 on its diagonal, even where the square of the columns is singular in this arithmetic."""
    u, v, small = np.eye(5)[0], np.eye(5)[1], 1e-9
    one = InputFit(
        ("cda", "crr"),
        np.zeros(2),
        np.array([0.0, 0.0, 3.0, 0.0, 0.0]),
        np.stack((u, u + small * v), axis=1),
        0.1,
    )
    # Three splits are spare: the variance is 9 / 3.
    assert one.doubt == pytest.approx(math.sqrt(3.0) / small * np.ones(2), rel=1e-6)


RIDERS = """item,rider,session,order,power [W],speed [km/h]
A,R1,s1,1,230.6,42
B,R1,s1,2,225.5,42
A,R2,s2,1,243.3,42
B,R2,s2,2,238.2,42
A,R3,s3,1,200.1,42
B,R3,s3,2,195.0,42
"""


def test_riders_alike_to_the_last_digit_prove_nothing(tmp_path: Path) -> None:
    """230.6 - 225.5 and 243.3 - 238.2 differ by round-off only."""
    assert 230.6 - 225.5 != 243.3 - 238.2
    path = tmp_path / "riders.csv"
    path.write_text(RIDERS, encoding="utf-8")
    (found,) = answer(load_runs(path)).items
    assert found.pooled.prediction is None
    assert found.verdict == "undecided"


SWEEP = """item,session,order,yaw [deg],power [W],speed [km/h],density [kg/m^3]
A,t,1,0,300.1,45,1.185
A,t,2,5,301.3,45,1.185
A,t,3,10,303.3,45,1.185
A,t,4,0,300.1,45.0000000000001,1.185
B,t,5,0,297.7,45,1.185
B,t,6,5,298,45,1.185
B,t,7,10,299,45,1.185
B,t,8,0,297.7,45,1.185
"""


def test_round_off_of_repeats_is_no_scatter_of_a_sweep(tmp_path: Path) -> None:
    path = tmp_path / "sweep.csv"
    path.write_text(SWEEP, encoding="utf-8")
    assert [sweep.scatter for sweep in answer_sweep(load_runs(path)).items] == [None, None]


@pytest.mark.parametrize("form", ["work against time", "power against inverse time"])
@pytest.mark.filterwarnings("error::RuntimeWarning")
def test_one_duration_twice_is_no_line(form: str) -> None:
    with pytest.raises(InputError, match="one duration alone"):
        fit_critical([(1e16, 385.0), (1e16 + 2.0, 384.0)], form)
