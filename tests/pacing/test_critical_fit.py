"""The fit of critical power: exact points, other implementations, coverage, what is refused."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import binom, linregress
from scipy.stats import t as student

from racecalc.decisions.pacing import limits
from racecalc.decisions.pacing.critical_power import CriticalFit, LimitForm, fit_critical
from racecalc.decisions.riding import ride
from racecalc.domain.pacing import Level, LimitWish, Stretch
from racecalc.errors import InputError
from tests.builders import flat_course, race

FORMS: tuple[LimitForm, ...] = ("work against time", "power against inverse time")
TIMES = np.array([150.0, 240.0, 420.0, 720.0, 1200.0, 1740.0])
NOISY = tuple(
    zip(TIMES.tolist(), (265.0 + 18e3 / TIMES + [3.0, -4, 2, 1, -3, 2]).tolist(), strict=True)
)


def points(critical: float, work: float, *times: float) -> list[tuple[float, float]]:
    return [(time, critical + work / time) for time in times]


@pytest.mark.parametrize("form", FORMS)
def test_exact_points_are_recovered(form: LimitForm) -> None:
    found = fit_critical(points(282.0, 17e3, 1500.0, 180.0, 720.0, 400.0), form)
    assert found.critical == pytest.approx(282.0, rel=1e-12)
    assert found.work == pytest.approx(17e3, rel=1e-10)
    assert (found.critical_error, found.work_error) == (0.0, 0.0)
    assert found.critical_interval == pytest.approx((282.0, 282.0))
    assert found.residuals == pytest.approx([0.0] * 4, abs=1e-9)
    assert [time for time, _ in found.points] == [180.0, 400.0, 720.0, 1500.0]
    assert (found.df, found.warnings, found.form) == (2, (), form)


def sides(found: CriticalFit, form: LimitForm) -> tuple[np.ndarray, np.ndarray, tuple[object, ...]]:
    """Axes of the line, and slope, level and their errors as `found` has them."""
    time, power = np.array(NOISY).T
    critical, work = (found.critical, found.critical_error), (found.work, found.work_error)
    if form == "work against time":
        return time, time * power, (*critical, *work)
    return 1.0 / time, power, (*work, *critical)


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.xdist_group("statsmodels")
def test_agrees_with_other_regressions(form: LimitForm) -> None:
    import statsmodels.api as sm

    found = fit_critical(NOISY, form)
    x, y, ours = sides(found, form)
    one = linregress(x, y)
    theirs = (one.slope, one.stderr, one.intercept, one.intercept_stderr)
    assert ours == pytest.approx(theirs, rel=1e-9)
    other = sm.OLS(y, sm.add_constant(x)).fit()
    assert ours == pytest.approx(
        (other.params[1], other.bse[1], other.params[0], other.bse[0]), rel=1e-9
    )
    covariance = other.cov_params()
    assert found.correlation == pytest.approx(
        covariance[0, 1] / (other.bse[0] * other.bse[1]), rel=1e-9
    )
    intervals = (found.work_interval, found.critical_interval)
    for ours_95, theirs_95 in zip(
        intervals if form == FORMS[0] else intervals[::-1], other.conf_int(0.05), strict=True
    ):
        assert ours_95 == pytest.approx(theirs_95, rel=1e-9)
    assert found.df == other.df_resid == 4


@pytest.mark.parametrize("form", FORMS)
def test_residuals_are_watts(form: LimitForm) -> None:
    found = fit_critical(NOISY, form)
    for (time, power), residual in zip(found.points, found.residuals, strict=True):
        assert residual == pytest.approx(power - found.critical - found.work / time)


def test_repeats_are_used() -> None:
    repeated = fit_critical([(180.0, 370.0), (180.0, 374.0), (900.0, 300.0)])
    assert repeated.df == 1
    assert repeated.residuals == pytest.approx((-2.0, 2.0, 0.0), abs=1e-9)
    assert repeated.warnings == ()


def test_two_points_tell_no_doubt() -> None:
    found = fit_critical(points(282.0, 17e3, 180.0, 900.0))
    assert (found.critical, found.work) == (pytest.approx(282.0), pytest.approx(17e3))
    assert (found.critical_error, found.work_error) == (None, None)
    assert (found.critical_interval, found.work_interval) == (None, None)
    assert found.df == 0
    (said,) = found.warnings
    assert "the doubt of critical power" in said


def test_scatter_that_tells_no_work() -> None:
    """Three points, one of them soft: the 95 % interval of the work reaches below none."""
    found = fit_critical([(180.0, 350.0), (240.0, 352.0), (900.0, 290.0)])
    assert found.work_interval is not None
    assert found.work_interval[0] < 0.0
    soft, unsure = found.warnings
    assert "352 W for 4:00 is not less than 350 W for 3:00" in soft
    assert "the work above it may be zero" in unsure


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (points(282.0, 17e3, 60.0, 300.0, 900.0), "565.3 W for 1:00 is outside the 2 to 30 min"),
        (points(282.0, 17e3, 300.0, 900.0, 3600.0), "286.7 W for 1:00:00 is outside"),
        (points(282.0, 4e3, 180.0, 300.0, 900.0), "4.0 kJ above critical power is unusual"),
        (points(282.0, 50e3, 180.0, 300.0, 900.0), "50.0 kJ above critical power is unusual"),
        (
            [(180.0, 350.0), (180.0, 380.0), (240.0, 352.0), (900.0, 290.0)],
            "352 W for 4:00 is not less than 350 W for 3:00",
        ),
    ],
)
def test_warnings(given: list[tuple[float, float]], said: str) -> None:
    (one,) = fit_critical(given).warnings
    assert said in one


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ([], "powers over one duration"),
        ([(180.0, 350.0)], "powers over one duration"),
        ([(180.0, 350.0), (180.0, 340.0)], "powers over one duration"),
        ([(180.0, 300.0), (900.0, 320.0)], "power must fall the longer it is held"),
        ([(180.0, 300.0), (900.0, 300.0)], "power must fall the longer it is held"),
        ([(180.0, 400.0), (900.0, 60.0)], "the points give a critical power of -25 W"),
        ([(0.0, 400.0), (900.0, 60.0)], "400 W for 0 s is not possible"),
        ([(180.0, -1.0), (900.0, 60.0)], "-1 W for 180 s is not possible"),
    ],
)
@pytest.mark.parametrize("form", FORMS)
def test_impossible_points(given: list[tuple[float, float]], said: str, form: LimitForm) -> None:
    with pytest.raises(InputError) as error:
        fit_critical(given, form, place="race.toml, line 5, rider.power_points")
    assert str(error.value).startswith("race.toml, line 5, rider.power_points: ")
    assert said in str(error.value)
    assert error.value.remedy


RIDERS = 400


def test_intervals_cover_what_they_promise() -> None:
    """Riders whose times to exhaustion scatter by 5 % at set powers: 95 % within the interval.

    The bounds leave 1 in 1000 to chance on either side, by the binomial law.
    """
    draw = np.random.default_rng(20)
    low, high = binom.ppf([0.001, 0.999], RIDERS, 0.95)
    hits = np.zeros(2)
    for _ in range(RIDERS):
        critical, work = draw.uniform(200.0, 330.0), draw.uniform(10e3, 25e3)
        lasts = TIMES * (1.0 + 0.05 * draw.standard_normal(len(TIMES)))
        found = fit_critical(list(zip(lasts, critical + work / TIMES, strict=True)))
        assert found.critical_interval is not None
        assert found.work_interval is not None
        hits += [
            found.critical_interval[0] <= critical <= found.critical_interval[1],
            found.work_interval[0] <= work <= found.work_interval[1],
        ]
    assert np.all((low <= hits) & (hits <= high)), hits


def test_the_line_of_work_scatters_less_where_times_are_what_errs() -> None:
    draw = np.random.default_rng(21)
    off = {form: [] for form in FORMS}
    for _ in range(300):
        lasts = TIMES * (1.0 + 0.05 * draw.standard_normal(len(TIMES)))
        held = list(zip(lasts, 282.0 + 17e3 / TIMES, strict=True))
        for form in FORMS:
            off[form].append(fit_critical(held, form).critical - 282.0)
    by_work, by_power = (np.sqrt(np.mean(np.square(off[form]))) for form in FORMS)
    assert by_work < by_power


def test_quantile_is_that_of_student() -> None:
    found = fit_critical(NOISY)
    assert found.critical_interval is not None
    assert found.critical_error is not None
    half = 0.5 * (found.critical_interval[1] - found.critical_interval[0])
    assert half / found.critical_error == pytest.approx(student.ppf(0.975, 4), rel=1e-9)


def test_points_are_fitted_once_for_all_shares(monkeypatch: pytest.MonkeyPatch):
    """Three shares of critical power, and the limit itself."""
    counted: list[object] = []
    fitting = limits.fit_critical
    monkeypatch.setattr(limits, "fit_critical", lambda points: counted.append(1) or fitting(points))
    course = race(course=flat_course(3000.0), step=100.0)
    held_for = ((181.0, 371.0), (719.0, 301.0), (1499.0, 287.0))
    base = ride(replace(course, rider=replace(course.rider, power_points=held_for)))
    share = Level(None, 0.95)
    wishes = (LimitWish("power-mean", share), LimitWish("mean", share))
    held = limits.asked_limit(base, wishes, caps=(Stretch("everywhere", share),)).limit
    assert held.above is not None
    assert held.means[0].level == np.floor(0.95 * held.above.critical)
    assert len(counted) == 1
