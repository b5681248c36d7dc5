"""A drag area measured yaw by yaw, weighted by the yaw that a ride meets.

Each step of the ride counts with the seconds that a little more drag area costs there, the exact
derivative of the solver. The mean so weighted is the constant drag area that gives the same
time, to first order. On the demo course with two tables of 0 to 20 degrees, one falling and one
rising with yaw, it missed the time of the table by 0.03 and 0.18 s, weights by the work against
the air by 3.1 and 0.8 s, and by minutes alone by 9.5 and 16.8 s.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.riding import Ridden
from racecalc.domain.bike import DragArea
from racecalc.domain.trial import SAME_YAW, Runs
from racecalc.errors import InputError


@dataclass(frozen=True)
class YawPoint:
    """Drag area at one yaw.

    Parameters
    ----------
    yaw : float
        Yaw [rad].
    area : float
        Mean drag area [m^2].
    standard_error : float or None
        Of the mean, from the scatter of all repeats of the sweep [m^2]; None without repeats.
    runs : int
        Number of runs; 0 where it is taken from the other side.
    measured_at : float
        Yaw at which it was measured [rad]: of the other sign where it is taken from there.
    """

    yaw: float
    area: float
    standard_error: float | None
    runs: int
    measured_at: float


@dataclass(frozen=True)
class Sweep:
    """An item measured at several yaws.

    Parameters
    ----------
    item : str
        What was measured.
    points : tuple of YawPoint
        By yaw. Where only one side was measured at any yaw, all yaws are positive and count for
        both sides; where both sides were measured, a yaw that misses its other side lends it
        its value.
    folded : bool
        Whether left and right are taken alike throughout.
    scatter : float or None
        Standard deviation of a single run about the mean of its yaw [m^2]; None without repeats.
    df : int
        Degrees of freedom of the scatter.
    """

    item: str
    points: tuple[YawPoint, ...]
    folded: bool
    scatter: float | None
    df: int

    @property
    def drag_area(self) -> DragArea:
        """The table as the solver takes it."""
        return DragArea(
            tuple(one.area for one in self.points), tuple(one.yaw for one in self.points)
        )


@dataclass(frozen=True)
class YawMet:
    """The yaw along a ride; arrays have one value a step.

    Parameters
    ----------
    yaw : FloatArray
        [rad], positive from the right; beyond a right angle the air comes from behind.
    weight : FloatArray
        What each step counts, adding up to 1.
    time : FloatArray
        Time on each step [s].
    """

    yaw: FloatArray
    weight: FloatArray
    time: FloatArray


@dataclass(frozen=True)
class WeightedArea:
    """One drag area instead of a sweep.

    Parameters
    ----------
    area : float
        Weighted mean [m^2].
    standard_error : float or None
        [m^2]; None without repeats.
    outside : float
        Share of the time at yaws beyond the sweep, where its end value is used.
    lowest_yaw, highest_yaw : float
        Reach of the sweep [rad].
    """

    area: float
    standard_error: float | None
    outside: float
    lowest_yaw: float
    highest_yaw: float


def sweep_of(runs: Runs, item: str) -> Sweep:
    """Mean drag area and its standard error at each yaw.

    Parameters
    ----------
    runs : Runs
        Runs of one rider, each with its yaw.
    item : str
        Which of them.

    Returns
    -------
    Sweep
        The table.

    Raises
    ------
    InputError
        If there is no such item, a yaw is missing, only one yaw was measured, several riders
        rode, or watts or newtons stand without speed and density.
    """
    mine = runs.kept(_rows(runs, item))
    areas = _areas(mine)
    settings = np.round(mine.yaw / SAME_YAW).astype(int)
    one_side = not (np.any(settings > 0) and np.any(settings < 0))
    if one_side:
        settings = np.abs(settings)
    groups = {int(one): areas[settings == one] for one in np.unique(settings)}
    left_over = len(areas) - len(groups)
    squares = sum(float(np.sum((group - group.mean()) ** 2)) for group in groups.values())
    scatter = float(np.sqrt(squares / left_over)) if left_over else None
    measured = [
        YawPoint(
            yaw=one * SAME_YAW,
            area=float(group.mean()),
            standard_error=None if scatter is None else scatter / float(np.sqrt(len(group))),
            runs=len(group),
            measured_at=one * SAME_YAW,
        )
        for one, group in groups.items()
    ]
    lent = [
        YawPoint(-one.yaw, one.area, one.standard_error, 0, one.yaw)
        for one, setting in zip(measured, groups, strict=True)
        if not one_side and -setting not in groups
    ]
    points = tuple(sorted(measured + lent, key=lambda one: one.yaw))
    return Sweep(item, points, one_side, scatter, left_over)


def sharing_scatter(sweeps: Sequence[Sweep]) -> tuple[Sweep, ...]:
    """The sweeps with the scatter of all of them pooled: one balance measured them all.

    Repeats that agree to the last digit tell of rounding and not of scatter; they tell none.
    """
    df = sum(sweep.df for sweep in sweeps)
    squares = sum((sweep.scatter or 0.0) ** 2 * sweep.df for sweep in sweeps)
    scatter = math.sqrt(squares / df) if df else 0.0
    return tuple(_with_scatter(sweep, scatter or None, df) for sweep in sweeps)


def _with_scatter(sweep: Sweep, scatter: float | None, df: int) -> Sweep:
    runs = {point.yaw: point.runs for point in sweep.points if point.runs}
    points = tuple(
        replace(
            point,
            standard_error=None
            if scatter is None
            else scatter / math.sqrt(runs[point.measured_at]),
        )
        for point in sweep.points
    )
    return replace(sweep, points=points, scatter=scatter, df=df)


def _rows(runs: Runs, item: str) -> list[int]:
    rows = [row for row, name in enumerate(runs.item) if name == item]
    if not rows:
        known = ", ".join(runs.items)
        raise InputError(runs.source, f"there are no runs of '{item}'", f"known are {known}")
    if len({runs.rider[row] for row in rows}) > 1:
        raise InputError(
            runs.source, f"several riders rode '{item}'", "give the sweep of one rider at a time"
        )
    yaws = runs.yaw[rows]
    if not np.all(np.isfinite(yaws)):
        missing = runs.line[rows[int(np.argmin(np.isfinite(yaws)))]]
        raise InputError(f"{runs.source}, line {missing}", "the run has no yaw", "add it")
    if np.ptp(yaws) < SAME_YAW:
        raise InputError(runs.source, f"'{item}' was measured at one yaw", "a sweep needs two")
    return rows


def _areas(runs: Runs) -> FloatArray:
    """Drag areas of the runs [m^2]."""
    if runs.measure == "cda":
        return runs.value
    known = np.isfinite(runs.speed) & np.isfinite(runs.density)
    if not np.all(known):
        raise InputError(
            f"{runs.source}, line {runs.line[int(np.argmin(known))]}",
            f"drag in {runs.unit} is no drag area without speed and air density",
            "add the columns speed and density",
        )
    along = runs.speed if runs.measure == "power" else 1.0
    return np.asarray(runs.value / (0.5 * runs.density * runs.speed**2 * along))


def yaw_met(ridden: Ridden) -> YawMet:
    """The yaw of the apparent wind along a ride, and how much each step counts.

    Parameters
    ----------
    ridden : Ridden
        A solved race.

    Returns
    -------
    YawMet
        By step.

    Raises
    ------
    InputError
        If drag does not matter anywhere, because speed limits hold the rider all the way.
    """
    solution = ridden.solution
    worth = np.maximum(ridden.derivatives.cda, 0.0)
    if not np.any(worth):
        raise InputError(ridden.race.name, "its speed limits leave nothing to the air", "lift them")
    return YawMet(
        yaw=solution.yaw,
        weight=worth / worth.sum(),
        time=solution.step_time,
    )


def weighted(sweep: Sweep, met: YawMet) -> WeightedArea:
    """One drag area for the yaws that are met.

    Parameters
    ----------
    sweep : Sweep
        What was measured.
    met : YawMet
        Where it counts.

    Returns
    -------
    WeightedArea
        With the share of the time outside the sweep.
    """
    table = sweep.drag_area
    origin = [one.measured_at for one in sweep.points]
    parts: dict[float, float] = dict.fromkeys(origin, 0.0)
    for number, measured_at in enumerate(origin):
        # The table is linear in its areas: what one of them counts is the growth by one more.
        raised = np.ones(len(origin))
        raised[number] = 2.0
        share, _ = DragArea(tuple(raised), table.yaw).at(met.yaw)
        parts[measured_at] += float(np.sum(met.weight * (share - 1.0)))
    errors = {one.measured_at: one.standard_error for one in sweep.points}
    known = [parts[yaw] * error for yaw, error in errors.items() if error is not None]
    area, _ = table.at(met.yaw)
    return WeightedArea(
        area=float(np.sum(met.weight * area)),
        standard_error=float(np.hypot.reduce(known)) if known else None,
        outside=float(np.average(~table.covers(met.yaw), weights=met.time)),
        lowest_yaw=-table.yaw[-1] if sweep.folded else table.yaw[0],
        highest_yaw=table.yaw[-1],
    )
