"""Critical power and the work above it, from powers held to exhaustion."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.evidence.design import Design
from racecalc.decisions.evidence.linear_model import fit
from racecalc.errors import InputError
from racecalc.quantities.clock import show_duration

Interval = tuple[float, float] | None

Form = Literal["work against time", "power against inverse time"]

PLACE = "rider.power_points"
"""Where the points stand, for messages."""

USEFUL = (120.0, 1800.0)
"""Durations within which the model is useful [s]: Skiba PF, Clarke DC. IJSPP 2021;16:1561-1572."""

USUAL_WORK = (5e3, 40e3)
"""Work above critical power of most riders [J]; common practice, no source."""


@dataclass(frozen=True)
class CriticalFit:
    """The two-parameter model fitted to powers held to exhaustion.

    Parameters
    ----------
    critical : float
        Critical power CP [W].
    work : float
        Work above critical power W' [J].
    critical_error, work_error : float or None
        Their standard errors [W] and [J]; None where two points leave nothing to judge by.
    correlation : float
        Correlation of the two errors, -1 to 1: negative, for a line tilts about its middle.
    df : int
        Degrees of freedom, points less two.
    critical_interval, work_interval : tuple of float, or None
        95 % intervals by Student's t [W] and [J].
    points : tuple of (float, float)
        What was fitted, by duration: [s] and [W].
    residuals : tuple of float
        Power held less that of the model for the same duration [W], in the order of `points`.
    form : str
        Which straight line was fitted.
    warnings : tuple of str
        One sentence each.
    """

    critical: float
    work: float
    critical_error: float | None
    work_error: float | None
    correlation: float
    df: int
    critical_interval: Interval
    work_interval: Interval
    points: tuple[tuple[float, float], ...]
    residuals: tuple[float, ...]
    form: Form
    warnings: tuple[str, ...]


def fit_critical(
    points: Sequence[tuple[float, float]],
    form: Form = "work against time",
    place: str = PLACE,
) -> CriticalFit:
    """Fit critical power and the work above it to powers held to exhaustion.

    The model is t = W'/(P - CP) (Monod and Scherrer 1965), which can be written as two straight
    lines: the work done against time, P t = W' + CP t, and the power against 1/t,
    P = CP + W' (1/t). They agree on exact points and weigh scattered ones differently. Work
    against time is used unless asked otherwise: where a power is set and held until it fails,
    the error is that of the time, and it grows with the time. A share r of the time too long is
    (P - CP) r t = W' r too much work above critical power, the same at every duration, which is
    what plain least squares asks for; against 1/t the same error is W' r / t, and the shortest
    point rules the fit. That the time also stands on the other axis draws the slope up by about
    mean(t) W' r^2 / var(t), some 0.1 W for 5 % and points from 2 to 30 min. Where durations were
    set and powers measured, with an error alike in watts, power against 1/t is the better one.

    Parameters
    ----------
    points : sequence of (float, float)
        Durations [s] and powers [W], at least two of different duration, all above 0.
    form : str
        Which line is fitted.
    place : str
        Where the points stand, for messages.

    Returns
    -------
    CriticalFit
        With standard errors from the scatter of the points about the line.

    Raises
    ------
    InputError
        If the points cannot give a line, or its critical power or work is not above 0.

    References
    ----------
    Monod H, Scherrer J. Ergonomics 1965;8:329-338 (form from memory).

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
        line = _line(time, power * time)
        critical, work = (line.slope, line.slope_error), (line.level, line.level_error)
    else:
        line = _line(1.0 / time, power)
        critical, work = (line.level, line.level_error), (line.slope, line.slope_error)
    _refuse_result(critical[0], work[0], place)
    intervals = _interval(*critical, line.df), _interval(*work, line.df)
    return CriticalFit(
        critical=critical[0],
        work=work[0],
        critical_error=critical[1],
        work_error=work[1],
        correlation=line.correlation,
        df=line.df,
        critical_interval=intervals[0],
        work_interval=intervals[1],
        points=ordered,
        residuals=tuple((power - critical[0] - work[0] / time).tolist()),
        form=form,
        warnings=(*_warnings(ordered, work[0]), *_unsure(*intervals)),
    )


@dataclass(frozen=True)
class _Line:
    level: float
    slope: float
    level_error: float | None
    slope_error: float | None
    correlation: float
    df: int


def _line(x: FloatArray, y: FloatArray) -> _Line:
    """Straight line by least squares: one item in one session whose drift is the slope."""
    count = len(x)
    one = np.zeros(count, dtype=np.intp)
    fitted = fit(Design(one, one, x, np.array([True])), y)
    slope, factor = float(fitted.slope[0]), float(fitted.slope_factor[0])
    middle = float(x.mean())
    level_factor = math.hypot(1.0 / math.sqrt(count), middle * factor)
    spread = None if fitted.variance is None else math.sqrt(fitted.variance)
    return _Line(
        level=float(y.mean()) - slope * middle,
        slope=slope,
        level_error=None if spread is None else spread * level_factor,
        slope_error=None if spread is None else spread * factor,
        correlation=-middle * factor / level_factor,
        df=fitted.df,
    )


def _interval(value: float, error: float | None, df: int) -> Interval:
    from scipy.special import stdtrit

    if error is None:
        return None
    half = float(stdtrit(df, 0.975)) * error
    return value - half, value + half


def _refuse_impossible(points: tuple[tuple[float, float], ...], place: str) -> None:
    for time, power in points:
        if not (0 < time < math.inf and 0 < power < math.inf):
            raise InputError(
                place, f"{power:g} W for {time:g} s is no power held", "give both above 0"
            )
    if len({time for time, _ in points}) < 2:
        raise InputError(
            place,
            "powers over one duration alone cannot tell critical power from the work above it",
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
                f"The points scatter so much that {name} is not told from none; add more that were"
                " all-out."
            )


def _warnings(points: tuple[tuple[float, float], ...], work: float) -> Iterator[str]:
    if len(points) < 3:
        yield (
            "Two points always lie on a line, so nobody can say how sure critical power and the"
            " work above it are; a third point would tell."
        )
    for time, power in points:
        if not USEFUL[0] <= time <= USEFUL[1]:
            yield (
                f"{power:.4g} W for {show_duration(time)} lies outside the 2 to 30 min in which"
                " the model is useful (Skiba and Clarke 2021)."
            )
    for time, power in points:
        other, later = max(((held, long) for long, held in points if long > time), default=(0, 0))
        if other >= power:
            yield (
                f"{other:.4g} W for {show_duration(later)} is no less than {power:.4g} W for"
                f" {show_duration(time)}: the shorter one was not all-out, or one of them is wrong."
            )
    if not USUAL_WORK[0] <= work <= USUAL_WORK[1]:
        yield (
            f"{work / 1000:.1f} kJ above critical power is unusual, 5 to 40 kJ is plausible;"
            " check that every point was all-out."
        )
