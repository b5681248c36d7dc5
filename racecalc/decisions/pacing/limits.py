"""What a rider can hold: means, critical power, caps, and how a ride keeps to them."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from racecalc.arrays import FloatArray
from racecalc.decisions.pacing.critical_power import (
    CriticalFit,
    contradictions,
    demand,
    fit_critical,
    reserve_along,
    reserve_slopes,
)
from racecalc.decisions.pacing.plans import PacingPlan
from racecalc.decisions.riding import Ridden
from racecalc.domain.course import grade_of
from racecalc.domain.pacing import Level, LimitKind, LimitWish, Stretch
from racecalc.domain.race import Race, Rider
from racecalc.errors import InputError
from racecalc.motion.optimum import raised
from racecalc.quantities.clock import show_duration

# --- Limits as stated, and the room that a ride leaves -------------------------------------------

FOURTH = 4.0
"""Order of the mean unless another is asked for; common practice, after the growth of lactate with
about the fourth power of the effort; no source."""

MOST_ORDER = 10.0
"""Highest order that may be asked for; our choice."""

ABOVE = 1.005
"""The most that is pushed over a level that is only tried and does not lie below the rider's own
most; our choice."""

ROUNDING = 1e-9
"""Share of a limit by which a ride may break it."""


@dataclass(frozen=True)
class PowerMean:
    """A mean of the power over time, of any order."""

    level: float
    """Highest mean [W]."""
    order: float = FOURTH
    """1 for the plain mean, 4 for the 4th-power mean."""
    fade: float = 0.0
    """Share of `level` that is lost in an hour."""

    def levels(self, plan: PacingPlan) -> FloatArray:
        """What can be held on each step, fading with the time since the start [W], shape (k,)."""
        if not self.fade:
            return np.full(len(plan.power), max(self.level, 1.0))
        middle = 0.5 * (plan.elapsed[:-1] + plan.elapsed[1:])
        return np.maximum(self.level * (1.0 - self.fade * middle / 3600.0), 1.0)

    def held(self, plan: PacingPlan) -> float:
        """The mean of a plan, in watts at the start [W]."""
        share = raised(plan.pedalled / self.levels(plan), self.order)
        return float(self.level * np.average(share, weights=plan.step_time) ** (1.0 / self.order))

    def room(self, plan: PacingPlan) -> FloatArray:
        """Share of the level that the mean leaves, shape (1,)."""
        return np.array([1.0 - self.held(plan) / self.level])

    def slopes(self, plan: PacingPlan) -> FloatArray:
        """Derivative of the room by the power of every step [1/W], shape (1, k)."""
        levels, n = self.levels(plan), self.order
        share = raised(plan.pedalled / levels, n)
        mean = float(np.average(share, weights=plan.step_time))
        own = n * share / np.maximum(plan.pedalled, 1e-6) * plan.step_time
        # A step that takes longer moves all that follows to where less can be held.
        falls = np.where(levels > 1.0, self.fade * self.level / 3600.0, 0.0)
        fading = n * share * plan.step_time * falls / levels
        later = np.cumsum(fading[::-1])[::-1] - 0.5 * fading
        change = plan.by_power(share - mean + later, own) / plan.time
        # Where nothing is pedalled at all, more of it is free.
        by_mean = mean ** (1.0 / n - 1.0) / n if mean else 0.0
        return np.array([-by_mean * change])

    @property
    def name(self) -> str:
        """What it is called."""
        return mean_name(self.order)

    def words(self) -> str:
        """The limit in plain words."""
        fading = f", less {100 * self.fade:.1f} % per hour" if self.fade else ""
        return f"{self.name} of at most {self.level:.0f} W{fading}"


def mean_name(order: float) -> str:
    """What a mean is called: mean, 4th-power mean, 2.5th-power mean."""
    nth = {2.0: "nd", 3.0: "rd"}.get(order, "th")
    return "mean" if order == 1 else f"{order:g}{nth}-power mean"


@dataclass(frozen=True)
class CriticalPower:
    """Critical power with work above it, which is never used up along the way."""

    critical: float
    """Critical power [W]."""
    work: float
    """Work above it [J]."""
    refill: float = 1.0
    """Factor on the speed at which the reserve comes back below critical power; 0 for none."""
    checks: tuple[float, ...] = ()
    """Where the reserve is looked at in addition to every node [m]; the ends of sections."""

    def reserve(self, plan: PacingPlan) -> FloatArray:
        """Work above critical power left at every node [J], shape (k + 1,)."""
        return reserve_along(plan.pedalled, plan.step_time, self.critical, self.work, self.refill)

    def _lowest(self, plan: PacingPlan, reserve: FloatArray) -> NDArray[np.intp]:
        """The node of least reserve between any two checks, the last of those that have it."""
        edges = np.searchsorted(plan.nodes, self.checks)
        edges = np.unique(np.concatenate(([0], edges, [len(reserve) - 1])))
        left = np.round(reserve[1:] / self.work, 7)
        least = np.minimum.reduceat(left, edges[:-1])
        lowest = np.flatnonzero(left == np.repeat(least, np.diff(edges)))
        return lowest[np.searchsorted(lowest, edges[1:]) - 1] + 1

    def room(self, plan: PacingPlan) -> FloatArray:
        """Least share of the reserve in each stretch between checks, shape (stretches,)."""
        reserve = self.reserve(plan)
        return reserve[self._lowest(plan, reserve)] / self.work

    def slopes(self, plan: PacingPlan, below: float = np.inf) -> FloatArray:
        """Derivative of the room by the power of every step [1/W], shape (stretches, k).

        Rows are left at 0 where there is as much room as `below`, or more.
        """
        reserve = self.reserve(plan)
        nodes = self._lowest(plan, reserve)
        found = np.zeros((len(nodes), len(reserve) - 1))
        close = reserve[nodes] < below * self.work
        own, weights = reserve_slopes(
            *(plan.pedalled, plan.step_time, self.critical, self.work), nodes[close], self.refill
        )
        found[close] = plan.by_power(weights, own) / self.work
        return found

    def words(self) -> str:
        """The limit in plain words."""
        return f"critical power {self.critical:.0f} W with {self.work / 1000:.1f} kJ above it"


CLIMB = 200.0
"""Length over which a grade is taken for a cap [m]; our choice: a shorter rise is ridden out."""


@dataclass(frozen=True)
class Cap:
    """The most that is pushed on a part of the course."""

    power: float
    """Highest power there [W]."""
    where: str
    """The part, in words."""
    start: float = 0.0
    end: float = np.inf
    """Where it begins and ends [m]."""
    grade: float = -np.inf
    """Least rise over run of the `CLIMB` before, around or after, for a part that is steep."""

    def covers(self, base: Ridden) -> NDArray[np.bool_]:
        """Whether each step lies in that part, shape (k,)."""
        nodes = base.solution.ride.nodes
        inside = (nodes[1:] > self.start + 1e-6) & (nodes[:-1] < self.end - 1e-6)
        if self.grade == -np.inf:
            return inside
        begins = base.solution.ride.middle - CLIMB * np.array([[0.0], [0.5], [1.0]])
        ends = np.clip([begins, begins + CLIMB], 0.0, nodes[-1])
        rise = np.diff(base.race.course.elevation_at(ends.ravel()).reshape(ends.shape), axis=0)[0]
        steepest = np.max(grade_of(rise / np.diff(ends, axis=0)[0]), axis=0)
        return np.asarray(inside & (steepest >= self.grade))

    def words(self) -> str:
        """The cap in plain words."""
        return f"{self.where} at most {self.power:.0f} W"


@dataclass(frozen=True)
class LimitKept:
    """One limit, and what a ride comes to."""

    limit: str
    """In words."""
    at_most_w: float
    """Highest mean, critical power, or highest power of a part [W]."""
    comes_to_w: float | None
    """The mean, or the highest target on that part [W]; None for critical power."""
    least_reserve_j: float | None
    """Least work above critical power that is left along the way [J]; None for others."""
    held: bool
    """Whether the ride keeps within it."""


@dataclass(frozen=True)
class Limits:
    """Several limits at once, at least a mean or a critical power."""

    means: tuple[PowerMean, ...] = ()
    """Of different orders, the highest first."""
    above: CriticalPower | None = None
    """What is never used up."""
    caps: tuple[Cap, ...] = ()
    """Parts on which less is pushed."""
    least: float = 0.0
    most: float = np.inf
    """Least power while pedalling, and the most that is pushed where no cap says less [W]."""

    @property
    def _parts(self) -> tuple[PowerMean | CriticalPower, ...]:
        return (*self.means, self.above) if self.above else self.means

    @property
    def mean(self) -> PowerMean | None:
        """The first of the means."""
        return next(iter(self.means), None)

    @property
    def order(self) -> float:
        """Order of the first mean, of `FOURTH` without one."""
        return self.mean.order if self.mean else FOURTH

    def effort(self, plan: PacingPlan) -> float:
        """What a plan comes to: the first mean [W]; without one the least reserve [J]."""
        if self.mean:
            return self.mean.held(plan)
        return float(np.min(self.above.reserve(plan))) if self.above else 0.0

    def room(self, plan: PacingPlan) -> FloatArray:
        """Room of the means, then of the reserve, shape (means + stretches,)."""
        return np.concatenate([part.room(plan) for part in self._parts])

    def slopes(self, plan: PacingPlan, below: float = np.inf) -> FloatArray:
        """Derivative of each by the power of every step [1/W], shape (means + stretches, k)."""
        rows = [mean.slopes(plan) for mean in self.means]
        return np.concatenate(rows + ([self.above.slopes(plan, below)] if self.above else []))

    def hold(self, plan: PacingPlan) -> bool:
        """Whether a plan keeps within them, but for rounding; caps are not looked at."""
        return bool(np.all(self.room(plan) >= -ROUNDING))

    def rank(self, plan: PacingPlan) -> tuple[bool, float]:
        """What orders plans: the quickest first, but those that break a limit last."""
        return not self.hold(plan), plan.time

    def most_broken(self, plan: PacingPlan) -> bool:
        """Whether more is planned somewhere than the most that is pushed."""
        return bool(np.max(plan.power) > self.most + 1e-6)

    def highest(self, base: Ridden) -> FloatArray:
        """The most that may be pushed on each step [W], shape (k,)."""
        highest = np.full(len(base.solution.ride.middle), float(self.most))
        for cap in self.caps:
            highest = np.where(cap.covers(base), np.minimum(highest, cap.power), highest)
        return highest

    def words(self) -> str:
        """The limits in plain words."""
        *others, last = [one.words() for one in (*self._parts, *self.caps)]
        return f"{', '.join(others)}, and {last}" if others else last

    def each_kept(self, plan: PacingPlan) -> tuple[LimitKept, ...]:
        """The limits one by one, held against a ride; the most that is pushed only if broken."""
        found = []
        for mean in self.means:
            held = bool(mean.room(plan)[0] >= -ROUNDING)
            found.append(LimitKept(mean.words(), mean.level, mean.held(plan), None, held))
        if above := self.above:
            least = float(np.min(above.reserve(plan)))
            held = least >= -ROUNDING * above.work
            found.append(LimitKept(above.words(), above.critical, None, least, held))
        for cap in self.caps:
            most = float(np.max(plan.power, where=cap.covers(plan.ridden), initial=0.0))
            found.append(LimitKept(cap.words(), cap.power, most, None, most < cap.power + 1e-6))
        if self.most_broken(plan):
            words, pushed = f"pedal_most {self.most:.0f} W", float(np.max(plan.power))
            found.append(LimitKept(words, self.most, pushed, None, held=False))
        return tuple(found)

    def at_means_of(self, plan: PacingPlan) -> "Limits":
        """The same with its means at what a plan comes to."""
        means = tuple(replace(one, level=one.held(plan)) for one in self.means)
        return replace(self, means=means)

    def at_level(self, level: float) -> "Limits":
        """The same with its first mean at another level [W]."""
        means = tuple(replace(one, level=level) for one in self.means[:1])
        return replace(self, means=(*means, *self.means[1:]))

    def checked(self, places: FloatArray) -> "Limits":
        """The same, the reserve looked at between places [m]."""
        above = self.above and replace(self.above, checks=tuple(places.tolist()))
        return replace(self, above=above)

    def scaled(self, factor: float) -> "Limits":
        """What a rider could hold who is so many times as strong; work above and caps stay.

        So does the most that is pushed, unless that would leave a stronger rider nothing to choose.
        """
        above = self.above and replace(self.above, critical=factor * self.above.critical)
        means = tuple(replace(one, level=factor * one.level) for one in self.means)
        level = max((mean.level for mean in means), default=above.critical if above else 0.0)
        most = max(self.most, ABOVE * level) if factor > 1.0 else self.most
        return replace(self, means=means, above=above, most=most)


# --- From a race file and a question to the limit that is held, and what speaks against it -------

MOST_OVER = 1.5
"""Most power that is pushed, over the race power, where the race file does not say; our choice."""

FAR_BELOW = 0.05
"""Share by which a race power may lie below critical power in a race of about an hour."""

ABOUT_AN_HOUR = (2400.0, 4500.0)
"""[s] A rider can hold about critical power for some 30 to 60 minutes; common practice."""


@dataclass(frozen=True)
class HeldLimit:
    """The limit that is held."""

    limit: Limits
    """With the least and the most power of the race file."""
    fit: CriticalFit | None = None
    """Where critical power comes from, if it was fitted to power points."""
    warnings: tuple[str, ...] = ()
    """What makes it doubtful."""
    assumed: tuple[str, ...] = ()
    """What had to be assumed."""
    demand: str | None = None
    """What the race power throughout takes of the work above critical power; None without one."""


def asked_limit(
    base: Ridden,
    kinds: LimitKind | Sequence[LimitWish] = (),
    order: float = FOURTH,
    caps: Sequence[Stretch] = (),
    place: str = "",
) -> HeldLimit:
    """Take the limits from the race file.

    Parameters
    ----------
    base : Ridden
        The race.
    kinds : str or sequence of LimitWish
        What is limited; as the race file says, or the power mean, where nothing is.
    order : float
        Order of the power mean.
    caps : sequence of Stretch
        Parts on which less may be pushed; those of the race file where there are none.
    place : str
        Where the limits come from, for messages; the race file unless given.

    Raises
    ------
    InputError
        If the race file lacks what a limit needs, or leaves no power.
    """
    rider = base.race.rider
    _refuse_all_faded(base)
    most = rider.most_power or MOST_OVER * rider.power
    assumed = () if rider.most_power else (f"pedal_most {most:.0f} W (1.5 times the race power)",)
    critical, work, fit = _critical(rider)
    warnings = fit.warnings if fit else ()
    above, taken = None, None
    if critical is not None and work is not None:
        warnings += contradictions(rider.power, base.time, critical, work)
        warnings += _too_high(rider, base.time, critical)
        above = CriticalPower(critical, work)
        taken = demand(rider.power, base.time, critical, work)
    wishes = (LimitWish(kinds),) if isinstance(kinds, str) else kinds or rider.pacing_limits
    means = _means(base, wishes or (LimitWish("power-mean"),), order, place or "pacing_limits")
    if not means:
        if above is None:
            raise no_critical_power(base.race)
        warnings += tuple(_critical_alone(base))
    found = tuple(_cap(base, one, place) for one in caps or rider.pacing_caps)
    limits = Limits(means, above, found, rider.least_power, most)
    return HeldLimit(limits, fit, warnings, assumed, taken)


def _refuse_all_faded(base: Ridden) -> None:
    fade = base.race.rider.power_fade
    if fade * base.time >= 3600.0:
        raise InputError(
            f"{base.race.name}, rider.power_fade",
            f"a loss of {100 * fade:.0f} % per hour leaves no power before the finish after"
            f" {show_duration(base.time)}",
            "give less",
        )


def _means(
    base: Ridden, wishes: Sequence[LimitWish], order: float, place: str
) -> tuple[PowerMean, ...]:
    """The means, the highest first."""
    rider = base.race.rider
    found = {
        one.kind: watts_of(base, one.level, place) if one.level else rider.power for one in wishes
    }
    if "critical-power" in found and _critical(rider)[0] is None:
        raise no_critical_power(base.race)
    orders: dict[LimitKind, float] = {"power-mean": order, "mean": 1.0}
    return tuple(
        PowerMean(found[kind], one, rider.power_fade)
        for kind, one in orders.items()
        if kind in found
    )


def watts_of(base: Ridden, level: Level, place: str) -> float:
    """A stated power or share of critical power, more than the least power [W]."""
    rider = base.race.rider
    watts = level.at(_critical(rider)[0])
    if watts is None:
        raise no_critical_power(base.race)
    if watts <= rider.least_power:
        remedy = f"give more than the least power, {rider.least_power:.0f} W"
        raise InputError(place, f"{watts:.0f} W leave nothing to choose", remedy)
    return watts


def _cap(base: Ridden, part: Stretch, place: str) -> Cap:
    place = place or "pacing_caps"
    length = base.race.course.length
    if part.start >= length:
        remedy = f"the course is {length / 1000:.2f} km long"
        raise InputError(place, f"{part.where} is no part of the course", remedy)
    return Cap(watts_of(base, part.level, place), part.where, part.start, part.end, part.grade)


def no_critical_power(race: Race) -> InputError:
    """What is said where a critical power is needed and none is stated."""
    return InputError(
        race.name,
        "the race file states no critical power",
        "add critical_power and work_above_critical, or power_points, under [rider]",
    )


def _critical_alone(base: Ridden) -> Iterator[str]:
    if base.time > ABOUT_AN_HOUR[0]:
        yield (
            "hardly anyone holds critical power for more than 30 to 60 minutes (common practice),"
            f" and this takes {show_duration(base.time)}: limit the mean too"
        )
    if base.race.rider.power_fade:
        yield "power_fade is ignored: the critical-power model has no fading"


def _critical(rider: Rider) -> tuple[float | None, float | None, CriticalFit | None]:
    if not rider.power_points:
        return rider.critical_power, rider.work_above_critical, None
    fit = _fitted(rider.power_points)
    return fit.critical, fit.work, fit


@lru_cache(maxsize=8)
def _fitted(points: tuple[tuple[float, float], ...]) -> CriticalFit:
    return fit_critical(points)


def _too_high(rider: Rider, time: float, critical: float) -> tuple[str, ...]:
    short = rider.power < (1.0 - FAR_BELOW) * critical
    if not short or not ABOUT_AN_HOUR[0] <= time <= ABOUT_AN_HOUR[1]:
        return ()
    return (
        f"critical power {critical:.0f} W is {100 * (critical / rider.power - 1):.0f} % above the"
        f" race power of {rider.power:.0f} W, although a rider can hold it for about this long: one"
        " of them is probably wrong",
    )
