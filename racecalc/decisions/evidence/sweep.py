"""From drag areas by yaw to one drag area on a course.

Each step of the ride counts with the seconds that a little more drag area costs there, the exact
derivative of the solver. The mean so weighted is the constant drag area that gives the same time,
to first order. On the demo course with two tables of 0 to 20 degrees, one falling and one rising
with yaw, it missed the time of the table by 0.03 and 0.18 s, weights by the work against the air by
3.1 and 0.8 s, and by minutes alone by 9.5 and 16.8 s.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Annotated, Literal

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.evidence.chances import t_point
from racecalc.decisions.evidence.least_squares import ROUND_OFF
from racecalc.decisions.evidence.trial import analyse
from racecalc.decisions.riding import Ridden
from racecalc.decisions.verdicts import NORMAL_95, interval_of
from racecalc.domain.race import DragArea
from racecalc.domain.trial import SAME_YAW, Runs
from racecalc.errors import InputError
from racecalc.written import HIDDEN, As, written

# --- A drag area measured yaw by yaw, weighted by the yaw that a ride meets ----------------------


@dataclass(frozen=True)
class YawPoint:
    """Drag area at one yaw."""

    yaw: float
    """Yaw [rad]."""
    area: float
    """Mean drag area [m^2]."""
    runs: int
    """Number of runs; 0 where it is taken from the other side."""
    measured_at: float
    """Yaw at which it was measured [rad]: of the other sign where it is taken from there."""


@dataclass(frozen=True)
class Sweep:
    """An item measured at several yaws."""

    name: str
    """The item."""
    points: Annotated[tuple[YawPoint, ...], HIDDEN]
    """By yaw. Where only one side was measured at any yaw, all yaws are positive and count for both
    sides; where both sides were measured, a yaw that misses its other side lends it its value.
    """
    folded: Annotated[bool, HIDDEN]
    """Whether left and right are taken alike throughout."""
    scatter: Annotated[float | None, HIDDEN]
    """Standard deviation of a single run about the mean of its yaw [m^2]; None without repeats."""
    df: Annotated[int, HIDDEN]
    """Degrees of freedom of the scatter."""

    @written
    def yaw_deg(self) -> list[float]:
        """Yaws [deg]."""
        return [math.degrees(one.yaw) for one in self.points]

    @written
    def mean(self) -> list[float]:
        """Mean drag area at each yaw [m^2]."""
        return [one.area for one in self.points]

    @written
    def standard_error(self) -> list[float | None]:
        """Of each mean, from the scatter of all repeats [m^2]; None without repeats."""
        if self.scatter is None:
            return [None for _ in self.points]
        runs = {one.yaw: one.runs for one in self.points}
        return [self.scatter / math.sqrt(runs[one.measured_at]) for one in self.points]

    @property
    def intervals(self) -> list[tuple[float, float] | None]:
        """The 95 % interval of each mean, by Student's t [m^2]; None without repeats."""
        quantile = t_point(self.df, 0.975) if self.df else 0.0
        pairs = zip(self.mean, self.standard_error, strict=True)
        return [None if error is None else interval_of(at, error, quantile) for at, error in pairs]

    @written
    def runs(self) -> list[int]:
        """Number of runs at each yaw; 0 where the mean is taken from the other side."""
        return [one.runs for one in self.points]

    @property
    def drag_area(self) -> DragArea:
        """The table as the solver takes it."""
        return DragArea(tuple(self.mean), tuple(one.yaw for one in self.points))


@dataclass(frozen=True)
class YawMet:
    """The yaw along a ride; arrays have one value a step."""

    yaw: FloatArray
    """[rad], positive from the right; beyond a right angle the air comes from behind."""
    weight: FloatArray
    """What each step counts, adding up to 1."""
    time: FloatArray
    """Time on each step [s]."""


@dataclass(frozen=True)
class WeightedArea:
    """One drag area instead of a sweep."""

    name: str
    """The item."""
    area: Annotated[float, As(mean="")]
    """Weighted mean [m^2]."""
    standard_error: float | None
    """[m^2]; None without repeats."""
    outside: Annotated[float, As(share_of_time_outside="")]
    """Share of the time at yaws beyond the sweep, where its end value is used."""
    lowest_yaw: Annotated[float, HIDDEN]
    highest_yaw: Annotated[float, HIDDEN]
    """Reach of the sweep [rad]."""


def sweep_of(runs: Runs, item: str) -> Sweep:
    """Mean drag area and its standard error at each yaw."""
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
    if scatter is not None and scatter <= ROUND_OFF * float(np.max(np.abs(areas))):
        scatter = 0.0
    measured = [
        YawPoint(one * SAME_YAW, float(group.mean()), len(group), one * SAME_YAW)
        for one, group in groups.items()
    ]
    lent = [
        YawPoint(-one.yaw, one.area, 0, one.yaw)
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
    return tuple(replace(sweep, scatter=scatter or None, df=df) for sweep in sweeps)


def _rows(runs: Runs, item: str) -> list[int]:
    rows = [row for row, name in enumerate(runs.item) if name == item]
    if not rows:
        known = ", ".join(runs.items)
        raise InputError(runs.source, f"there are no runs of '{item}'", f"known: {known}")
    if np.ptp(runs.yaw[rows]) < SAME_YAW:
        raise InputError(runs.source, f"'{item}' was measured at one yaw", "a sweep needs two")
    return rows


def _areas(runs: Runs) -> FloatArray:
    """Drag areas of the runs [m^2]."""
    if runs.measure == "cda":
        return runs.value
    for row in np.flatnonzero(~(np.isfinite(runs.speed) & np.isfinite(runs.density))):
        problem = f"drag in {runs.unit} is no drag area without speed and air density"
        place = f"{runs.source}, line {runs.line[row]}"
        raise InputError(place, problem, "add the columns speed and density")
    along = runs.speed if runs.measure == "power" else 1.0
    return np.asarray(runs.value / (0.5 * runs.density * runs.speed**2 * along))


def yaw_met(ridden: Ridden) -> YawMet:
    """The yaw of the apparent wind along a ride, and how much each step counts."""
    solution = ridden.solution
    worth = np.maximum(ridden.derivatives.cda, 0.0)
    if not np.any(worth):
        raise InputError(ridden.race.name, "its speed limits leave nothing to the air", "lift them")
    return YawMet(yaw=solution.yaw, weight=worth / worth.sum(), time=solution.step_time)


def weighted(sweep: Sweep, met: YawMet) -> WeightedArea:
    """One drag area for the yaws that are met."""
    table = sweep.drag_area
    origin = [one.measured_at for one in sweep.points]
    parts: dict[float, float] = dict.fromkeys(origin, 0.0)
    for number, measured_at in enumerate(origin):
        # The table is linear in its areas: what one of them counts is the growth by one more.
        raised = np.ones(len(origin))
        raised[number] = 2.0
        share, _ = DragArea(tuple(raised), table.yaw).at(met.yaw)
        parts[measured_at] += float(np.sum(met.weight * (share - 1.0)))
    errors = dict(zip(origin, sweep.standard_error, strict=True))
    known = [parts[yaw] * error for yaw, error in errors.items() if error is not None]
    area, _ = table.at(met.yaw)
    return WeightedArea(
        name=sweep.name,
        area=float(np.sum(met.weight * area)),
        standard_error=float(np.hypot.reduce(known)) if known else None,
        outside=float(np.average(~table.covers(met.yaw), weights=met.time)),
        lowest_yaw=-table.yaw[-1] if sweep.folded else table.yaw[0],
        highest_yaw=table.yaw[-1],
    )


# --- Whether two kinds of evidence agree within their doubt --------------------------------------

QUESTIONABLE = 2.0
UNACCEPTABLE = 3.0
"""Zeta scores from which results are questionable and unacceptable; ISO 13528:2022, from
memory."""


@dataclass(frozen=True)
class Agreement:
    """Comparison of two values of one thing."""

    difference: float
    """First less second, in their unit."""
    standard_error: float
    """Of the difference, the two being independent."""
    zeta: float
    """Difference over its standard error; twice the E_n number for expanded uncertainties of twice
    the standard ones.
    """
    verdict: Literal["agree", "questionable", "disagree"]
    """Below 2, from 2 and from 3 standard errors."""
    words: str
    """What that means, in a sentence."""


def agreement(a: float, se_a: float, b: float, se_b: float) -> Agreement:
    """Compare two independent results of one quantity, such as field and wind tunnel.

    Both must be meant for the same yaw, air and speed: weight a sweep by the yaw of the other
    test first (`weighted`). That two results agree is weak evidence where their standard
    uncertainties are large, so the words say which difference would have been noticed.

    References
    ----------
    ISO 13528:2022, Statistical methods for use in proficiency testing: zeta scores and E_n
    numbers (from memory).

    Examples
    --------
    >>> agreement(5.2, 0.8, 4.1, 0.6).verdict
    'agree'
    """
    error = math.hypot(se_a, se_b)
    zeta = (a - b) / error
    if abs(zeta) < QUESTIONABLE:
        seen = f"{QUESTIONABLE * error:.2g}"
        words = f"they agree within their doubt; differences below {seen} would not be noticed"
        return Agreement(a - b, error, zeta, "agree", words)
    apart = f"they lie {abs(a - b):.2g} apart, {abs(zeta):.1f} standard errors"
    if abs(zeta) < UNACCEPTABLE:
        words = f"{apart}: look for a cause before using both"
        return Agreement(a - b, error, zeta, "questionable", words)
    words = (
        f"{apart}: one of them is wrong, its doubt is too small, or they measured other things;"
        " do not average them"
    )
    return Agreement(a - b, error, zeta, "disagree", words)


# --- The answer to a sweep over yaw --------------------------------------------------------------


@dataclass(frozen=True)
class Saved:
    """Drag area that an item saves against the baseline."""

    name: str
    """The item."""
    saving: float
    """[m^2], more is faster."""
    doubt: float | None
    """Standard uncertainty whose normal 95 % interval is Student's t interval of the few repeats
    [m^2]; None where nothing tells it.
    """


@dataclass(frozen=True)
class Checked:
    """A saving by sweep and by field test at the same yaw."""

    name: str
    """The item."""
    sweep: Saved
    field: Saved
    """By each kind of test."""
    at_yaw: float
    """Mean size of the yaw of the field runs [rad]; 0 where they do not state it."""
    agreement: Agreement
    """Whether they agree."""


@dataclass(frozen=True)
class SweepAnswer:
    """What a sweep over yaw says."""

    source: str
    """File name as the user gave it."""
    items: tuple[Sweep, ...]
    """The baseline first."""
    race: str | None
    """Name of the race whose yaw weights the areas."""
    weighted: tuple[WeightedArea, ...]
    """One drag area for each item by the yaw of the race, the baseline first; empty without a race.
    """
    saved: tuple[Saved, ...]
    """Against the baseline, by the yaw of the race; empty without a race."""
    checks: tuple[Checked, ...]
    """Against field runs of the same items; empty without them."""
    unit: str = "m^2"
    """SI unit of all drag areas."""


def answer_sweep(
    runs: Runs, baseline: str | None = None, ridden: Ridden | None = None, field: Runs | None = None
) -> SweepAnswer:
    """Analyse a sweep over yaw."""
    runs = runs.counted()
    if len(runs.riders) > 1:
        raise InputError(
            runs.source,
            f"the sweep is of {len(runs.riders)} riders, whose drag areas cannot be compared",
            "give one rider at a time",
        )
    chosen = runs.items[0] if baseline is None else baseline
    names = (chosen, *(name for name in runs.items if name != chosen))
    sweeps = sharing_scatter([sweep_of(runs, name) for name in names])
    met = ridden and yaw_met(ridden)
    areas = tuple(weighted(sweep, met) for sweep in sweeps) if met else ()
    later = zip(sweeps[1:], areas[1:], strict=False)
    return SweepAnswer(
        source=runs.source,
        items=sweeps,
        race=ridden.race.name if ridden else None,
        weighted=areas,
        saved=tuple(_saved(sweep, areas[0], area) for sweep, area in later),
        checks=_checks(sweeps, field) if field else (),
    )


def _saved(sweep: Sweep, base: WeightedArea, area: WeightedArea) -> Saved:
    saving = base.area - area.area
    if base.standard_error is None or area.standard_error is None:
        return Saved(sweep.name, saving, None)
    error = math.hypot(base.standard_error, area.standard_error)
    return Saved(sweep.name, saving, error * t_point(sweep.df, 0.975) / NORMAL_95)


def _checks(sweeps: tuple[Sweep, ...], field: Runs) -> tuple[Checked, ...]:
    if field.measure != "cda":
        raise InputError(
            field.source,
            "to be compared with a sweep, field runs must state drag areas",
            "give a column cda [m^2]",
        )
    base, *others = sweeps
    field = field.counted()
    trial = analyse(field, base.name)
    yaws = np.where(np.isfinite(field.yaw), field.yaw, 0.0)
    even = np.full(len(yaws), 1.0 / len(yaws))
    met = YawMet(yaw=yaws, weight=even, time=even)
    checks = []
    for result in trial.items:
        sweep = next((one for one in others if one.name == result.name), None)
        if sweep is None or result.difference is None or result.low_alone is None:
            continue
        doubt = (result.difference - result.low_alone) / NORMAL_95
        road = Saved(result.name, -result.difference, doubt)
        tunnel = _saved(sweep, weighted(base, met), weighted(sweep, met))
        if tunnel.doubt and doubt:
            compared = agreement(tunnel.saving, tunnel.doubt, road.saving, doubt)
            at_yaw = float(np.mean(np.abs(yaws)))
            checks.append(Checked(result.name, tunnel, road, at_yaw, compared))
    if not checks:
        raise InputError(
            field.source,
            "there is no item in common with the sweep that both compare with the baseline",
            "use the same names in both tables, and repeat runs in both",
        )
    return tuple(checks)
