"""The best power of each section within limits, exact and in whole steps."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from racecalc.arrays import FloatArray
from racecalc.decisions.pacing.limits import Limits
from racecalc.decisions.pacing.plans import PacingPlan, Sections, ridden_at
from racecalc.decisions.riding import Ridden
from racecalc.errors import InputError, SolverError
from racecalc.motion.solver import TOLERANCE

LEAST = 1.0
"""Least power that is tried [W]: as good as coasting, and it stops no rider."""

FULL = 0.5
"""Share of the work above critical power from which on a reserve is not looked at closely."""


@dataclass(frozen=True)
class RiddenSections:
    """Sections ridden at one power each, and what limits them."""

    base: Ridden
    sections: Sections
    limit: Limits
    levels: FloatArray
    """Power of each section [W]."""
    plan: PacingPlan
    """The ride at these powers."""
    tolerance: float = TOLERANCE
    """That of its speeds, as for `solve`."""

    def at(self, levels: FloatArray, patient: bool = True) -> "RiddenSections":
        """The same at other powers."""
        spread = self.sections.spread(levels)
        plan = ridden_at(self.base, spread, self.plan, None, self.tolerance, patient)
        return replace(self, levels=levels, plan=plan)

    def merged(self) -> "RiddenSections":
        """The same, neighbours of the same power being one."""
        first = np.append(True, np.diff(self.levels) != 0)
        sections = Sections(np.append(self.sections.edges[:-1][first], self.sections.edges[-1]))
        limit = self.limit.checked(sections.ends(self.plan.nodes))
        return replace(self, sections=sections, levels=self.levels[first], limit=limit)

    @property
    def lowest(self) -> float:
        """Least power that is tried [W]."""
        return max(self.limit.least, LEAST)

    @cached_property
    def highest(self) -> FloatArray:
        """The most that may be pushed in each section [W]."""
        return np.minimum.reduceat(self.limit.highest(self.base), self.sections.edges[:-1])

    @cached_property
    def room(self) -> FloatArray:
        """What the limits leave."""
        return self.limit.room(self.plan)

    @property
    def missing(self) -> float:
        """By how much all limits are broken."""
        return float(np.sum(np.maximum(-self.room, 0.0)))

    @cached_property
    def slope(self) -> FloatArray:
        """Derivative of the time by the power of each section [s/W]."""
        return self.sections.total(self.plan.time_by_power)

    @cached_property
    def room_slopes(self) -> FloatArray:
        """Derivative of the room by the power of each section [1/W]."""
        return self.sections.total(self.limit.slopes(self.plan, FULL))

    @cached_property
    def prices(self) -> FloatArray:
        """What a unit of each room would save [s]."""
        return _step(self, np.diag(_steady_bend(self)))[1]

    def slopes_below(self, sections: NDArray[np.intp]) -> FloatArray:
        """Slopes of the room by less power in sections that are at critical power."""
        if not len(sections) or not self.limit.above:
            return self.room_slopes[:, sections]
        above = replace(self.limit.above, critical=self.limit.above.critical + 2.0 * AT)
        lower = replace(self.limit, above=above).slopes(self.plan, FULL)
        return self.sections.total(lower)[:, sections]


def sections_at(
    base: Ridden,
    sections: Sections,
    limit: Limits,
    levels: FloatArray,
    near: PacingPlan | None = None,
    tolerance: float = TOLERANCE,
) -> RiddenSections:
    """Ride sections at given powers, kept within the least and the most; `near` is a ride alike."""
    blank = RiddenSections(base, sections, limit, levels, near or PacingPlan(base), tolerance)
    return blank.at(np.clip(levels, blank.lowest, blank.highest))


# --- Exact ---------------------------------------------------------------------------------------

CLOSE = 1e-7
"""Share of the time that a further step promises to save, at which the search ends."""

MOST_STEPS = 40

AT = 1e-3
"""Nearness to critical power that counts as at it [W]."""

FALL, SMALL = 0.3, 15.0
"""Share of its power to which a section may fall in one step, and the power [W] from which on it
may fall to the least at once; our choice: on a climb the least power all but stops the rider."""

ROUGHLY = 3e-4
"""Tolerance of speeds on few nodes; Newton's method squares it, which leaves some microseconds."""

LOWERED = 1e-7 * 2.0 ** np.arange(20)
"""Shares by which the best powers are lowered until the limit is held; a search ends next to it."""


def best_levels(
    base: Ridden,
    sections: Sections,
    limit: Limits,
    start: FloatArray,
    near: PacingPlan | None = None,
    tolerance: float = TOLERANCE,
) -> RiddenSections:
    """Find the power of each section that takes least time within a limit.

    Sequential quadratic programming with exact first derivatives. Second derivatives begin with
    those of sections ridden at a steady speed; the rest is learned (BFGS, damped).

    References
    ----------
    Nocedal J, Wright SJ. Numerical Optimization, 2nd ed. 2006, chapters 16 and 18 (from memory).
    """
    here = sections_at(base, sections, limit, start, near, tolerance)
    bend, price = np.diag(_steady_bend(here)), 0.0
    for _ in range(MOST_STEPS):
        step, prices, promised = _step(here, bend)
        price = max(price, 1.5 * float(np.max(prices)))
        promised += price * here.missing
        if promised < CLOSE * here.plan.time:
            break
        there = _downhill(here, step, price, promised)
        if there is None:
            break
        bend, before, here = _learned(bend, here, there, prices), here, there
        if _cost(before, price) - _cost(here, price) < 0.1 * CLOSE * here.plan.time:
            break
    return _held(here)


def best_roughly(
    coarse: tuple[Ridden, Sections], limit: Limits, start: FloatArray
) -> RiddenSections:
    """As `best_levels` on the fewer nodes of `coarser`."""
    return best_levels(*coarse, limit, start, tolerance=ROUGHLY)


def _step(here: RiddenSections, bend: FloatArray) -> tuple[FloatArray, FloatArray, float]:
    """A step of the search, what room is worth, and the seconds that it promises.

    At critical power the reserve has a kink: a section steps as far as that, and from there with
    the slopes of either side, less power being a variable of its own.
    """
    far = np.where(here.levels < SMALL, here.lowest, FALL * here.levels)
    low = np.minimum(np.maximum(far, here.lowest) - here.levels, 0.0)
    high = here.highest - here.levels
    ways, rows, less = np.eye(len(low)), here.room_slopes, np.zeros(0, dtype=np.intp)
    if above := here.limit.above:
        off = above.critical - here.levels
        less = np.flatnonzero(np.abs(off) < AT)
        low = np.where(off < -AT, np.maximum(low, off), low)
        high = np.where(off > AT, np.minimum(high, off), high)
        high, low = np.append(high, -low[less]), np.append(low, np.zeros(len(less)))
        low[less] = 0.0
        ways = np.column_stack((ways, -ways[:, less]))
        rows = np.column_stack((rows, -here.slopes_below(less)))
    found, prices = quadratic_step(
        ways.T @ bend @ ways, here.slope @ ways, rows, here.room, low, high
    )
    step = ways @ found
    step = np.where(np.abs(step - off) < AT, off, step) if above else step
    return step, prices, -float(here.slope @ step)


def _steady_bend(here: RiddenSections) -> FloatArray:
    """Second derivative of time and effort by the power of each section at a steady speed [s/W^2].

    With a speed of ``P^a`` and a mean of order ``n`` it is ``n - a`` times the slope over ``P``.
    """
    time = here.sections.total(here.plan.step_time)
    falling = np.maximum(-here.slope, 1e-3 * np.max(-here.slope))
    exponent = np.clip(falling * here.levels / time, 0.2, 0.9)
    order = max((mean.order for mean in here.limit.means), default=1.0)
    return (order - exponent) * falling / here.levels


def _downhill(
    here: RiddenSections, step: FloatArray, price: float, promised: float
) -> RiddenSections | None:
    """As much of a step as makes time and what is missing less; None where nothing does."""
    share, cost = 1.0, _cost(here, price)
    for _ in range(12):
        try:
            there = here.at(here.levels + share * step, patient=False)
        except (InputError, SolverError):
            # The rider is stopped, or nearly.
            share *= 0.3
            continue
        if _cost(there, price) <= cost - 1e-4 * share * promised:
            return there
        share *= 0.5
    return None


def _cost(here: RiddenSections, price: float) -> float:
    return here.plan.time + price * here.missing


def _learned(
    bend: FloatArray, here: RiddenSections, there: RiddenSections, prices: FloatArray
) -> FloatArray:
    """The second derivatives after a step (BFGS, damped by Powell)."""
    step = there.levels - here.levels
    turned = there.slope - here.slope - prices @ (there.room_slopes - here.room_slopes)
    known = bend @ step
    size = float(step @ known)
    along = float(step @ turned)
    if along < 0.2 * size:
        share = 0.8 * size / (size - along)
        turned = share * turned + (1.0 - share) * known
        along = float(step @ turned)
    return bend - np.outer(known, known) / size + np.outer(turned, turned) / along


HOPELESS = 1e9
"""Price of room, over the slope of the time, at which none is to be had; our choice."""


def quadratic_step(
    bend: FloatArray,
    slope: FloatArray,
    rows: FloatArray,
    room: FloatArray,
    low: FloatArray,
    high: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Least ``slope d + d bend d / 2`` with ``room + rows d >= 0`` and ``low <= d <= high``.

    A primal-dual interior point with Mehrotra's correction. Found are ``d`` and what a unit of each
    room would save. Where no ``d`` gives the room its price grows without end, and the search stops
    at a ``d`` within the bounds.
    """
    count, steepest = len(slope), float(np.max(np.abs(slope)))
    if steepest == 0.0:
        # As where a speed limit holds all along: no power is worth more than another.
        return np.clip(np.zeros(count), low, high), np.zeros(len(rows))
    size = np.max(np.abs(rows), axis=1)
    size = np.where(size > 0.0, size, 1.0)
    sides = np.vstack((rows / size[:, None], np.eye(count), -np.eye(count)))
    least = np.concatenate((-room / size, low, -high))
    step, left = np.zeros(count), np.maximum(-least, 1.0)
    cost = np.full(len(least), steepest)
    for _ in range(50):
        off = bend @ step + slope - cost @ sides
        short = sides @ step - least - left
        gap = float(left @ cost) / len(least)
        done = max(gap, 1e-3 * np.max(np.abs(short)) * np.max(cost)) < 1e-9 * steepest
        if done or np.max(cost) > HOPELESS * steepest:
            break
        system = bend + (sides.T * (cost / left)) @ sides
        system[np.diag_indices(count)] *= 1.0 + 1e-12
        inverse = np.linalg.inv(system)
        aim = np.zeros(len(least))
        for last in (False, True):
            pull = (aim - left * cost) / left - cost / left * short
            turn = inverse @ (pull @ sides - off)
            by_left = sides @ turn + short
            by_cost = (aim - left * cost - cost * by_left) / left
            both, change = np.append(left, cost), np.append(by_left, by_cost)
            falling = change < 0
            share = float(np.min(-both[falling] / change[falling], initial=1.0))
            if not last:
                after = (left + share * by_left) @ (cost + share * by_cost) / len(least)
                aim = gap * (after / gap) ** 3 - by_left * by_cost
        if not np.all(np.isfinite(change)):
            break
        share = min(1.0, 0.995 * share)
        step, left, cost = step + share * turn, left + share * by_left, cost + share * by_cost
    return np.clip(step, low, high), cost[: len(rows)] / size


def _held(here: RiddenSections) -> RiddenSections:
    """Powers lowered by as little as makes them hold the limit for sure."""
    lower = here
    for share in LOWERED:
        if np.all(lower.room >= 0.0):
            break
        lower = here.at(np.maximum(here.levels * (1.0 - share), here.lowest))
    return lower


# --- In whole steps ------------------------------------------------------------------------------

STEPS, MOST_LOST = (5.0, 2.0, 1.0), 0.3
"""Sizes of the steps of a target [W], and the share of what is gained over constant power that they
may lose before finer ones are tried; our choice: finer ones than 5 W hardly anybody can hold."""

NEAR, RIDDEN = 5e-3, 30
"""Seconds within which cards of whole steps are told apart by riding them, and the most of them."""

ROUGH = (2e-5, 5e-4)
"""Errors of the room of a mean and of a reserve where effects are added up [share]."""

SPARED = (-1.0, 1.0, 4.0, 16.0, 64.0)
"""So many of these errors must a card leave to be ridden; more where none held the limit."""

FAILED = 6
"""So many cards in a row that break a limit, none having held it, call for more to spare."""

LISTED = 1000
"""Most cards that are compared by their effects, the most promising ones; our choice."""


def rounded_levels(
    base: Ridden,
    sections: Sections,
    rough: RiddenSections,
    even: float,
    near: PacingPlan | None = None,
) -> RiddenSections:
    """Round the powers of sections to whole steps, within the limit.

    Steps of 5 W; finer ones where these lose too much of what is gained over constant power, whose
    time is `even` [s]. `rough` are the best powers, ridden on few nodes (`coarser`).
    """
    exact = sections_at(base, sections, rough.limit, rough.levels, near)
    if np.any(exact.levels != rough.levels):
        rough = rough.at(np.clip(exact.levels, rough.lowest, rough.highest))
    found = []
    for step in STEPS:
        found.append(_rounded(exact, rough, step))
        broken, time = by_rank(found[-1])
        if not broken and time <= exact.plan.time + MOST_LOST * max(even - exact.plan.time, 0.0):
            break
    return min(found, key=by_rank)


def by_rank(one: RiddenSections) -> tuple[bool, float]:
    """What orders rides of sections, as `Limits.rank`."""
    return one.limit.rank(one.plan)


def _rounded(exact: RiddenSections, rough: RiddenSections, step: float) -> RiddenSections:
    """The best powers in steps of one size, of the whole steps around each.

    What a step in one section changes is found by riding it; changes of several are taken to add
    up, and the most promising cards are ridden.
    """
    choices = [
        _whole_steps(exact.lowest, most, level, step)
        for level, most in zip(exact.levels, exact.highest, strict=True)
    ]
    effects = [_effects(rough, at, tried) for at, tried in enumerate(choices)]
    for spare in SPARED:
        best = None
        failed = 0
        for gain, picked in _promising(exact, rough.prices, effects, spare):
            if best and gain < exact.plan.time - best.plan.time - NEAR:
                break
            there = exact.at(np.array([one[at] for one, at in zip(choices, picked, strict=True)]))
            if best and there.plan.time >= best.plan.time:
                continue
            if np.all(there.room >= 0.0):
                best = there
            elif best is None and (failed := failed + 1) >= FAILED:
                break
        if best:
            return best
    return _lowered(exact.at(np.array([one[0] for one in choices])), step)


def _whole_steps(least: float, most: float, level: float, step: float) -> FloatArray:
    """Whole steps near a power, two to either side, within the least and the most power."""
    near = step * (np.floor(level / step) + np.arange(-2.0, 4.0))
    return np.unique(np.clip(near, least, most))


def _effects(exact: RiddenSections, section: int, tried: FloatArray) -> FloatArray:
    """Seconds gained and room won by each power of one section, shape (1 + rooms, powers).

    The first and the last are ridden; between, each side of the exact power is a parabola with the
    slope there, or a line with a bend at critical power, where the reserve has one.
    """
    level = exact.levels[section]
    slopes = np.append(-exact.slope[section], exact.room_slopes[:, section])[:, None]
    found = slopes * (tried - level)
    means = 1 + len(exact.limit.means)
    for end, side in ((tried[0], tried < level), (tried[-1], tried > level)):
        if not np.any(side):
            continue
        levels = exact.levels.copy()
        levels[section] = end
        there, whole = exact.at(levels), end - level
        change = np.append(exact.plan.time - there.plan.time, there.room - exact.room)[:, None]
        share = (tried[side] - level) / whole
        beyond = change - slopes * whole
        found[:, side] += beyond * share**2
        above = exact.limit.above
        if above and (end < above.critical <= level or level < above.critical < end):
            kink = (above.critical - level) / whole
            late = np.clip((share - kink) / (1.0 - kink), 0.0, None)
            found[means:, side] += beyond[means:] * (late - share**2)
    return np.asarray(found)


def _promising(
    exact: RiddenSections, prices: FloatArray, effects: list[FloatArray], spare: float
) -> Iterator[tuple[float, NDArray[np.intp]]]:
    """Cards that should hold the limit, the quickest first: seconds gained, and the picks of each.

    They grow by a section at a time, and those go on that lose least, room being worth its price.
    """
    rough = np.repeat(ROUGH, [len(exact.limit.means), len(exact.room) - len(exact.limit.means)])
    worst = exact.room + sum(np.min(effect[1:], axis=1) for effect in effects)
    tight = np.append(True, worst < spare * rough)
    prices, least = prices[tight[1:]], (spare * rough)[tight[1:], None]
    picked = np.zeros((1, 0), dtype=np.intp)
    total = np.append(0.0, exact.room)[tight, None]
    parts = [one[tight] for one in effects]
    won, lost = (_ahead([by(one[1:], axis=1) for one in parts]) for by in (np.max, np.min))
    for effect, most, need in zip(parts, won, lost, strict=True):
        choices = effect.shape[1]
        total = (total[:, :, None] + effect[:, None, :]).reshape(len(total), -1)
        picked = np.column_stack(
            (np.repeat(picked, choices, axis=0), np.tile(np.arange(choices), len(picked)))
        )
        kept = np.flatnonzero(np.all(total[1:] + most >= least, axis=0))
        if len(kept) > LISTED:
            # Room that nothing ahead can use is worth nothing.
            value = total[0, kept] + prices @ np.minimum(total[1:, kept] - least, -need)
            kept = kept[np.argpartition(-value, LISTED)[:LISTED]]
        total, picked = total[:, kept], picked[kept]
    held = np.flatnonzero(np.all(total[1:] >= least, axis=0))
    for at in held[np.argsort(-total[0, held], kind="stable")][:RIDDEN]:
        yield float(total[0, at]), picked[at]


def _ahead(effects: list[FloatArray]) -> list[FloatArray]:
    """What all sections after each may add at most, as columns."""
    sums = np.cumsum(effects[::-1], axis=0)[::-1]
    return [one[:, None] for one in (*sums[1:], np.zeros_like(sums[0]))]


def _lowered(here: RiddenSections, step: float) -> RiddenSections:
    """Whole steps less, where it costs least, until the limit is held."""
    lowest = max(here.limit.least, step)
    for _ in range(10 * len(here.levels)):
        if np.all(here.room >= 0.0) or np.all(here.levels <= lowest):
            break
        relief = np.min(here.room_slopes, axis=0) / here.slope
        dearest = int(np.argmax(np.where(here.levels > lowest, relief, -np.inf)))
        lower = here.levels.copy()
        lower[dearest] = max(lower[dearest] - step, lowest)
        here = here.at(lower)
    return here
