"""Critical power: the work above it that is left along a ride, and the fit to all-out efforts.

The differential form of Skiba PF, Fulford J, Clarke DC, Vanhatalo A, Jones AM. Eur J Appl Physiol
2015;115:703-713 (form from memory): above critical power the reserve W falls by what is done above
it, dW/dt = -(P - CP); below, it comes back the slower the fuller it is, dW/dt = (1 - W/W')(CP - P).
Both are solved exactly over a step of constant power. A constant power lasts W'/(P - CP): Monod H,
Scherrer J. Ergonomics 1965;8:329-338 (form from memory).

How fast it comes back is not sure: half took 232 s in the leg extensions of that study, and a
second recovery is slower than the first (Chorley A, Bott RP, Marwood S, Lamb KL. Eur J Appl Physiol
2022;122:677-689, pages from memory). `refill` scales the speed of recovery, so that a band can be
shown from none at all (0) to that of the formula (1).
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from racecalc.arrays import FloatArray
from racecalc.decisions.evidence.least_squares import Design, fit
from racecalc.errors import InputError
from racecalc.motion.solver import solve_unit
from racecalc.quantities.clock import show_duration

# --- The work above critical power that a rider has left, along a ride and at its nodes ----------


def reserve_along(
    power: FloatArray, step_time: FloatArray, critical: float, work: float, refill: float = 1.0
) -> FloatArray:
    """Work above critical power that is left at every node, from a full reserve.

    Parameters
    ----------
    power, step_time : FloatArray, shape (k,)
        Power [W] and duration [s] of each step.
    critical, work : float
        Critical power [W], and the work above it of a rested rider [J], above 0.
    refill : float
        Factor on the speed of recovery; 0 for none.

    Returns
    -------
    FloatArray, shape (k + 1,)
        [J]; below 0 the plan asks for more than there is.

    Examples
    --------
    100 s at 100 W above, then 200 s, the time constant W'/(CP - P), at 100 W below:

    >>> reserve_along(np.array([350.0, 150.0]), np.array([100.0, 200.0]), 250.0, 20e3)
    array([20000.  , 10000.  , 16321.2])
    """
    fading, spent = _chain(power, step_time, critical, work, refill)
    return work - _missing(np.exp(fading), spent)


def reserve_slopes(
    power: FloatArray,
    step_time: FloatArray,
    critical: float,
    work: float,
    nodes: NDArray[np.intp],
    refill: float = 1.0,
) -> tuple[FloatArray, FloatArray]:
    """Derivatives of the reserve at chosen nodes by the power and the duration of every step.

    What a step takes fades on the way to a node with what comes back in between. At exactly
    critical power, where the reserve has a kink, the slope is that of more power.
    """
    fading, spent = _chain(power, step_time, critical, work, refill)
    kept = np.exp(fading)
    missing = _missing(kept, spent)[:-1]
    above = power >= critical
    recovered = kept * missing * refill / work
    by_power = np.where(above, step_time, recovered * step_time)
    by_time = np.where(above, power - critical, recovered * (power - critical))
    faded, at = np.concatenate(([0.0], np.cumsum(fading))), nodes[:, None]
    before = np.arange(1, len(faded)) <= at
    weights = np.exp(np.where(before, faded[at] - faded[1:], -np.inf))
    return -weights * by_power, -weights * by_time


def _chain(
    power: FloatArray, step_time: FloatArray, critical: float, work: float, refill: float
) -> tuple[FloatArray, FloatArray]:
    """Logarithm of the share of what is missing that stays so over each step, and what it adds [J].

    Counted as missing from W', a step below critical power multiplies and one above it adds.
    """
    if not work > 0:
        raise ValueError("work above critical power must be positive")
    if not refill >= 0:
        raise ValueError("refill must not be negative")
    above = power - critical
    fading = refill * np.minimum(above, 0.0) * step_time / work
    return fading, np.maximum(above, 0.0) * step_time


def _missing(kept: FloatArray, spent: FloatArray) -> FloatArray:
    """What is missing at every node [J]: m[i + 1] = kept[i] m[i] + spent[i], from nothing."""
    return solve_unit(-kept, np.concatenate([[0.0], spent]))


def highest_power_for(time: float, critical: float, work: float) -> float:
    """Highest constant power that can be held for a time [s]: CP + W'/t [W]."""
    return critical + work / time


def demand(power: float, time: float, critical: float, work: float) -> str:
    """Say what a constant power takes of the reserve, as in "300 W for 14:36 takes ...".

    Examples
    --------
    >>> demand(300.0, 875.8, 282.0, 17e3)
    '300 W for 14:36 uses 15.8 kJ of the 17 kJ above 282 W'
    """
    held = f"{power:.4g} W for {show_duration(time)}"
    if power <= critical:
        return f"{held} uses none of the {_kj(work)} above {critical:.4g} W"
    taken = (power - critical) * time
    return f"{held} uses {_kj(taken)} of the {_kj(work)} above {critical:.4g} W"


def contradictions(race_power: float, time: float, critical: float, work: float) -> tuple[str, ...]:
    """Say where a race power, its predicted time, critical power and reserve do not go together.

    A power above critical power empties the reserve after W'/(P - CP); a race that takes longer
    cannot be ridden at it, if all the numbers are right.
    """
    above = race_power - critical
    if above * time <= work:
        return ()
    most = highest_power_for(time, critical, work)
    return (
        f"{demand(race_power, time, critical, work)}: not possible with these numbers,"
        f" which allow {race_power:.4g} W for {show_duration(math.floor(work / above))} or"
        f" {math.floor(most * 10) / 10:.1f} W for {show_duration(time)}. Lower the power, or check"
        " critical power and the work above it.",
    )


def _kj(work: float) -> str:
    return f"{round(work / 1000, 1):g} kJ"


# --- Critical power and the work above it, from powers held to exhaustion ------------------------

Interval = tuple[float, float] | None

LimitForm = Literal["work against time", "power against inverse time"]

PLACE = "rider.power_points"
"""Where the points stand, for messages."""

USEFUL = (120.0, 1800.0)
"""Durations within which the model is useful [s]: Skiba PF, Clarke DC. IJSPP 2021;16:1561-1572."""

USUAL_WORK = (5e3, 40e3)
"""Work above critical power of most riders [J]; common practice, no source."""


@dataclass(frozen=True)
class CriticalFit:
    """The two-parameter model fitted to powers held to exhaustion."""

    critical: float
    """Critical power CP [W]."""
    work: float
    """Work above critical power W' [J]."""
    critical_error: float | None
    work_error: float | None
    """Their standard errors [W] and [J]; None where two points leave nothing to judge by."""
    correlation: float
    """Correlation of the two errors, -1 to 1: negative, for a line tilts about its middle."""
    df: int
    """Degrees of freedom, points less two."""
    critical_interval: Interval
    work_interval: Interval
    """95 % intervals by Student's t [W] and [J]."""
    points: tuple[tuple[float, float], ...]
    """What was fitted, by duration: [s] and [W]."""
    residuals: tuple[float, ...]
    """Power held less that of the model for the same duration [W], in the order of `points`."""
    form: LimitForm
    """Which straight line was fitted."""
    warnings: tuple[str, ...]
    """One sentence each."""


def fit_critical(
    points: Sequence[tuple[float, float]], form: LimitForm = "work against time", place: str = PLACE
) -> CriticalFit:
    """Fit critical power and the work above it to powers held to exhaustion, t = W'/(P - CP).

    The model is a straight line in two ways, which weigh scattered points differently: work done
    against time, P t = W' + CP t, and power against 1/t. Where a power is held until it fails, the
    error is that of the time and grows with it: a share r of the time too long is W' r too much
    work above critical power at every duration, as plain least squares of work against time asks
    for, while against 1/t the shortest point rules. (That the time is on the other axis too draws
    the slope up by some 0.1 W for 5 % and points from 2 to 30 min.) Where durations were set and
    powers measured, power against 1/t is the better one.

    Parameters
    ----------
    points : sequence of (float, float)
        Durations [s] and powers [W], at least two of different duration, all above 0.
    form : str
        Which line is fitted.
    place : str
        Where the points stand, for messages.

    Raises
    ------
    InputError
        If the points cannot give a line, or its critical power or work is not above 0.

    Examples
    --------
    >>> held = fit_critical([(180.0, 370.0), (720.0, 300.0), (1500.0, 287.0)])
    >>> f"{held.critical:.1f} W, {held.work / 1000:.2f} kJ"
    '275.6 W, 17.19 kJ'
    """
    ordered = tuple(sorted(points))
    _refuse_impossible(ordered, place)
    time, power = np.array(ordered).T
    if form == "work against time":
        work, critical, correlation, df = _line(time, power * time)
    else:
        critical, work, correlation, df = _line(1.0 / time, power)
    _refuse_result(critical[0], work[0], place)
    intervals = _interval(*critical, df), _interval(*work, df)
    return CriticalFit(
        *(critical[0], work[0], critical[1], work[1]),
        correlation,
        df,
        *intervals,
        points=ordered,
        residuals=tuple((power - critical[0] - work[0] / time).tolist()),
        form=form,
        warnings=(*_warnings(ordered, work[0]), *_unsure(*intervals)),
    )


ONE_DURATION = 1e-6
"""Share by which durations must differ to be two: closer ones leave nothing but round-off."""

Sure = tuple[float, float | None]
"""A value and its standard error; None where nothing is left to judge by."""


def _line(x: FloatArray, y: FloatArray) -> tuple[Sure, Sure, float, int]:
    """Straight line by least squares: one item in one session whose drift is the slope.

    Its level and slope, the correlation of their errors, and the degrees of freedom.
    """
    count = len(x)
    one = np.zeros(count, dtype=np.intp)
    fitted = fit(Design(one, one, x, np.array([True])), y)
    slope, factor = float(fitted.slope[0]), float(fitted.slope_factor[0])
    middle = float(x.mean())
    level_factor = math.hypot(1.0 / math.sqrt(count), middle * factor)
    spread = None if fitted.variance is None else math.sqrt(fitted.variance)
    level_error, slope_error = (
        None if spread is None else spread * one for one in (level_factor, factor)
    )
    level = float(y.mean()) - slope * middle
    return (level, level_error), (slope, slope_error), -middle * factor / level_factor, fitted.df


def _interval(value: float, error: float | None, df: int) -> Interval:
    from scipy.special import stdtrit

    if error is None:
        return None
    half = float(stdtrit(df, 0.975)) * error
    return value - half, value + half


def _refuse_impossible(points: tuple[tuple[float, float], ...], place: str) -> None:
    for time, power in points:
        if not (0 < time < math.inf and 0 < power < math.inf):
            problem = f"{power:g} W for {time:g} s is not possible"
            raise InputError(place, problem, "give both above 0")
    times = [time for time, _ in points]
    if not times or max(times) - min(times) <= ONE_DURATION * max(times):
        raise InputError(
            place,
            "powers over one duration alone cannot separate critical power from the work above it",
            "add one held much longer or shorter, such as 3 and 12 min",
        )


def _refuse_result(critical: float, work: float, place: str) -> None:
    if not work > 0:
        raise InputError(
            place,
            f"the points give {work / 1000:.1f} kJ above a critical power of {critical:.0f} W, but"
            " power must fall the longer it is held",
            "check the durations and powers, and leave out rides that were not all-out",
        )
    if not critical > 0:
        raise InputError(
            place,
            f"the points give a critical power of {critical:.0f} W",
            "check the durations and powers: more work must be done in a longer time",
        )


def _unsure(critical: Interval, work: Interval) -> Iterator[str]:
    names = ("critical power", "the work above it")
    for name, interval in zip(names, (critical, work), strict=True):
        if interval is not None and interval[0] <= 0:
            yield (
                f"The points scatter so much that {name} may be zero; add more points that were"
                " all-out."
            )


def _warnings(points: tuple[tuple[float, float], ...], work: float) -> Iterator[str]:
    if len(points) < 3:
        yield (
            "Two points always fit a line exactly, so the doubt of critical power and of the work"
            " above it is unknown; add a third point."
        )
    for time, power in points:
        if not USEFUL[0] <= time <= USEFUL[1]:
            yield (
                f"{power:.4g} W for {show_duration(time)} is outside the 2 to 30 min for which"
                " the model is useful (Skiba and Clarke 2021)."
            )
    for time, power in points:
        other, later = max(((held, long) for long, held in points if long > time), default=(0, 0))
        if other >= power:
            yield (
                f"{other:.4g} W for {show_duration(later)} is not less than {power:.4g} W for"
                f" {show_duration(time)}: the shorter one was not all-out, or one of them is wrong."
            )
    if not USUAL_WORK[0] <= work <= USUAL_WORK[1]:
        yield (
            f"{work / 1000:.1f} kJ above critical power is unusual, 5 to 40 kJ is plausible;"
            " check that every point was all-out."
        )
