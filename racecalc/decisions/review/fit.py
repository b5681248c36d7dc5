"""The ride solved again, its inputs moved until it meets the clock, and which of them was off.

First the rest is held against what is known: the clock was read in steps, and the model errs. Only
what goes beyond is put down to inputs. A set of inputs will do if adding all the others gains no
more than chance would, all at once (the F test of adequate subsets) and each by itself; an input is
named only where it alone, or one pair alone, will do, and where its errors do not go along with
those of another.

The value of an input is found by Gauss-Newton: the race is solved again with the input a little up
and down, and again after each step, so that the answer is that of the full equation of motion. All
splits count alike.

References
----------
.. [1] Aitkin MA. Simultaneous inference and the choice of variable subsets in multiple regression.
   Technometrics 1974;16:221-227 (cited from memory); here each test is taken by itself.
.. [2] Nocedal J, Wright SJ. Numerical Optimization. 2nd ed. 2006, section 10.3 (cited from memory);
   the standard uncertainties are those of linear least squares at the solution.
"""

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal, Protocol

import numpy as np
from numpy.typing import NDArray

from racecalc.arrays import FloatArray
from racecalc.decisions.doubt import moved_air
from racecalc.decisions.evidence.chances import chi_squared_exceeded, f_chance
from racecalc.decisions.pacing.plans import COASTING, PacingPlan, ridden_at
from racecalc.decisions.riding import Ridden
from racecalc.decisions.timing import Split, cut_at
from racecalc.domain.race import Change
from racecalc.errors import InputError
from racecalc.motion.setting import ride_again

# --- A race ridden again on the computer, split by split, with its inputs moved ------------------

MOST_ROUNDS = 30
"""Rounds in which the power of the splits is met; a handful does."""

MOST_TIMES = 2.0
"""Greatest mean of a split times this is the most that is ridden where nothing limits; our
choice."""

MET = 1e-3
"""Change of a power below which it is met [W]."""

LEAST_FREE = 0.1
"""Share of a split's time, free of speed ceilings, below which power says nothing about it."""

Shift = Mapping[str, float]
"""How far inputs are moved: "cda", "crr", "mass", "wind" and "power" as a share of what is stated,
"watts" in W on top; inputs not named stay."""


class Ridable(Protocol):
    """What is ridden again: one race, or several."""

    def times(self, by: Shift | None = None) -> FloatArray:
        """Time on each split with inputs moved [s]."""


@dataclass(frozen=True)
class Replay:
    """How a race is ridden again."""

    base: Ridden
    """The race as its file states it, at one power."""
    limits: FloatArray
    """Start and the end of each split [m]; shape (n + 1,)."""
    planned: FloatArray
    """Power of the plan on every step, at the power meter [W]; shape (k,)."""
    measured: FloatArray | None = None
    """Mean power ridden on each split [W]; without it the plan's power is ridden; shape (n,)."""

    @cached_property
    def planned_ride(self) -> PacingPlan:
        """The race ridden as planned."""
        return ridden_at(self.base, self.planned)

    @cached_property
    def plan(self) -> tuple[Split, ...]:
        """The splits of the plan."""
        return cut_at(self.planned_ride.ridden, self.limits)

    def again(self) -> tuple[Split, ...]:
        """The splits with the power that was ridden."""
        return cut_at(self._ridden({}).ridden, self.limits)

    def _ridden(self, by: Shift) -> PacingPlan:
        share, watts = 1.0 + by.get("power", 0.0), by.get("watts", 0.0)
        moved = self._moved(by)
        if self.measured is None:
            return ridden_at(moved, self.planned * share + watts)
        return self._met(moved, self.measured * share + watts, self._levels)[1]

    def times(self, by: Shift | None = None) -> FloatArray:
        """Time on each split with inputs moved [s], shape (n,)."""
        key = frozenset((name, one) for name, one in (by or {}).items() if one)
        if key not in self._timed:
            plan = self._ridden(dict(key))
            self._timed[key] = np.diff(np.interp(self.limits, plan.nodes, plan.elapsed))
        return self._timed[key]

    @cached_property
    def _timed(self) -> dict[frozenset[tuple[str, float]], FloatArray]:
        """Times worked out so far: every search begins where nothing is moved."""
        return {}

    def _moved(self, by: Shift) -> Ridden:
        """The race moved, on the same nodes; its solution is that of the base, as a guess."""
        race, solution = self.base.race, self.base.solution
        area = race.bike.cda.at_zero_yaw
        change = Change(cda=area * by.get("cda", 0.0), crr=race.bike.crr * by.get("crr", 0.0))
        moved = race.changed(change) if change != Change() else race
        if by.get("mass"):
            more = race.total_mass * by["mass"]
            moved = replace(moved, rider=replace(race.rider, mass=race.rider.mass + more))
        if by.get("wind"):
            wind = {"wind_along": race.air.wind.speed * by["wind"]}
            moved = replace(moved, air=moved_air(race.air, wind))
        ride = ride_again(solution.ride, race, moved)
        return Ridden(moved, replace(solution, ride=ride))

    @cached_property
    def _levels(self) -> FloatArray:
        """Power to ride where no ceiling decides, nothing moved [W], shape (n,)."""
        if self.measured is None:
            raise TypeError("nothing was measured")
        middle = 0.5 * (self.limits[:-1] + self.limits[1:])
        planned = np.interp(middle, self.base.solution.ride.middle, self.planned)
        return self._met(self.base, self.measured, planned)[0]

    @cached_property
    def _split(self) -> NDArray[np.int_]:
        """Split that each step lies in, n beyond the last, shape (k,)."""
        return np.asarray(np.searchsorted(self.limits, self.base.solution.ride.middle) - 1)

    def _met(
        self, moved: Ridden, wanted: FloatArray, start: FloatArray
    ) -> tuple[FloatArray, PacingPlan]:
        """Ride so that the mean power of each split is the one wanted.

        A power meter shows less where the rider brakes or rolls, so what is ridden elsewhere lies
        above the mean of the split. Where a ceiling decides nearly all along, nothing is done, and
        what would take more than can be believed is left unmet.
        """
        most = max(MOST_TIMES * float(np.max(wanted)), COASTING)
        level = np.clip(start, COASTING, most)
        plan = ridden_at(moved, self._on_steps(level))
        for _ in range(MOST_ROUNDS):
            spent = self._by_split(plan, np.ones_like(plan.step_time))
            mean = self._by_split(plan, plan.pedalled) / spent
            free = self._free(plan, spent)
            answers = free > LEAST_FREE
            change = np.where(answers, (wanted - mean) / np.where(answers, free, 1.0), 0.0)
            better = np.clip(level + change, COASTING, most)
            if np.max(np.abs(better - level)) < MET:
                break
            level = better
            plan = ridden_at(moved, self._on_steps(level), plan)
        return level, plan

    def _on_steps(self, level: FloatArray) -> FloatArray:
        """Powers of splits on every step; what lies beyond the last split is ridden as planned."""
        inside = self._split < len(level)
        return np.where(inside, level[np.where(inside, self._split, 0)], self.planned)

    def _by_split(self, plan: PacingPlan, per_second: FloatArray) -> FloatArray:
        """What adds up over each split, of what each step has in a second, shape (n,)."""
        grown = np.concatenate(([0.0], np.cumsum(per_second * plan.step_time)))
        return np.diff(np.interp(self.limits, plan.nodes, grown))

    def _free(self, plan: PacingPlan, spent: FloatArray) -> FloatArray:
        """Share of each split's time in which no ceiling decides; 0 where it has no step."""
        count = len(self.limits) - 1
        free = self._by_split(plan, 1.0 - plan.ridden.solution.at_ceiling)
        steps = np.bincount(self._split, minlength=count + 1)[:count]
        return np.where(steps > 0, free / spent, 0.0)


# --- Which value of an input would make a race ridden again meet the clock -----------------------

PROBE = 0.01
"""Share by which an input is moved to either side for a slope."""

REACH = (-0.9, 1.5)
"""How far an input may be moved, as a share; beyond is nothing that anybody rides."""

WIND_REACH = (-4.0, 4.0)
"""The same for a wind, which may be light where it is stated or blow from the other side."""

MASS_REACH = (-0.5, 1.0)
"""The same for a mass, of which the rider is most."""

MOST_STEPS = 40
MOST_HALVINGS = 8
LONGEST_STEP = 0.5
CONVERGED = 1e-7


@dataclass(frozen=True)
class InputFit:
    """Inputs moved so that the split times meet the clock as well as they can."""

    names: tuple[str, ...]
    share: FloatArray
    """Which inputs, and how far each was moved, as a share of what is stated; shape (p,)."""
    rest: FloatArray
    """Time of each split that is left: ridden less ridden again [s]; shape (n,)."""
    slopes: FloatArray
    """Change of the time of each split by each share there [s]; shape (n, p)."""
    clock_s: float
    """Standard deviation of a split's time from reading the clock alone [s]."""

    @property
    def square_sum(self) -> float:
        """Sum of the squares of what is left [s^2]."""
        return float(self.rest @ self.rest)

    @property
    def left_s(self) -> float:
        """Root mean square of what is left of a split [s]."""
        return math.sqrt(float(np.mean(self.rest**2)))

    @property
    def doubt(self) -> FloatArray | None:
        """Standard uncertainty of each share, shape (p,); None where no scatter can be seen.

        From the scatter of what is left, which is never taken for less than reading the clock.
        """
        free = len(self.rest) - len(self.names)
        if free < 1 or int(np.linalg.matrix_rank(self.slopes)) < len(self.names):
            return None
        variance = max(self.square_sum / free, self.clock_s**2)
        # The square of the slopes may be singular where they themselves are not yet.
        inverse = np.linalg.inv(np.linalg.qr(self.slopes, mode="r"))
        return np.asarray(np.sqrt(variance * np.sum(inverse**2, axis=1)))

    @property
    def untold(self) -> tuple[str, ...]:
        """Inputs of which the splits tell nothing there, as a wind exactly across near none."""
        return tuple(
            name for name, one in zip(self.names, felt(self.slopes), strict=True) if not one
        )

    @property
    def correlation(self) -> float | None:
        """Of the errors of two inputs: minus the cosine of their slopes; None where one is 0."""
        one, other = self.slopes.T
        if self.untold:
            return None
        return -float(one @ other) / math.sqrt(float(one @ one) * float(other @ other))


LEAST_EFFECT = 1e-3
"""Time that all of an input must be worth over the splits for them to tell anything of it [s]."""


def felt(slopes: FloatArray) -> NDArray[np.bool_]:
    """Which inputs the splits tell of at all, by their slopes of shape (n, p); shape (p,)."""
    return np.asarray(np.abs(slopes).sum(axis=0) > LEAST_EFFECT)


def slopes_at(replay: Ridable, names: Sequence[str], share: Sequence[float]) -> FloatArray:
    """Change of the split times by the share of each input, shape (n, p) [s]."""
    here = dict(zip(names, share, strict=True))
    columns = []
    for name in names:
        up, down = (replay.times({**here, name: here[name] + by}) for by in (PROBE, -PROBE))
        columns.append((up - down) / (2.0 * PROBE))
    return np.stack(columns, axis=1)


def fit(
    replay: Ridable,
    ridden: FloatArray,
    names: Sequence[str],
    clock_s: float,
    start: Shift | None = None,
) -> InputFit:
    """Move inputs, as stated or from a start, until the race meets the clock as well as it can."""
    start = start or {}
    reach = np.array([_reach(name) for name in names])
    share = np.array([start.get(name, 0.0) for name in names])
    rest = ridden - replay.times(start)
    slopes = slopes_at(replay, names, share.tolist())
    for _ in range(MOST_STEPS):
        step: FloatArray = np.asarray(np.linalg.lstsq(slopes, rest, rcond=None)[0])
        if float(np.max(np.abs(step))) < CONVERGED:
            break
        found = _shorter(replay, ridden, names, (share, step, reach), float(rest @ rest))
        if found is None:
            break
        share, rest, slopes = found
    return InputFit(tuple(names), share, rest, slopes, clock_s)


def _reach(name: str) -> tuple[float, float]:
    return {"wind": WIND_REACH, "mass": MASS_REACH}.get(name.partition(" ")[0], REACH)


def _shorter(
    replay: Ridable,
    ridden: FloatArray,
    names: Sequence[str],
    way: tuple[FloatArray, FloatArray, FloatArray],
    square_sum: float,
) -> tuple[FloatArray, FloatArray, FloatArray] | None:
    """Share, rest and slopes after a step, halved until it gains; None where none does."""
    share, step, reach = way
    step = step * min(1.0, LONGEST_STEP / float(np.max(np.abs(step))))
    for halving in range(MOST_HALVINGS):
        tried = np.clip(share + step * 0.5**halving, *reach.T)
        try:
            rest = ridden - replay.times(dict(zip(names, tried.tolist(), strict=True)))
            if float(rest @ rest) < square_sum:
                return tried, rest, slopes_at(replay, names, tried.tolist())
        except InputError:
            # So much of it would bring the rider to a stop.
            continue
    return None


# --- Which input was off --------------------------------------------------------------------------

LEVEL = 0.95
"""Chance with which what is true passes each test."""

APART = 0.95
"""Correlation of the errors of two inputs above which splits do not tell them apart; common
practice, no source."""

SPARE = 2
"""Splits that must be there beyond the inputs tried, so that their scatter can be seen; our
choice."""

BELIEVABLE = {
    "cda": (-0.3, 0.3),
    "crr": (-0.5, 1.0),
    "mass": (-0.1, 0.1),
    "wind": (-2.0, 2.0),
    "power": (-0.2, 0.2),
}
"""Share by which each input may be off before it is no longer believed; our choice."""

ROUND_OFF = 1e-4
"""Share of the greatest singular value below which slopes count as one direction."""

Finding = Literal[
    "nothing", "named", "no power", "too few", "no pattern", "several", "together", "none fits"
]
"""What the splits say of the rest: it is within what is known; inputs are named; no power was
measured, and one that changes from split to split passes for anything; there are too few splits; it
scatters without a pattern of any input; several inputs would do; the one that does goes along with
others; or neither one nor two inputs will do."""


@dataclass(frozen=True)
class Blame:
    """Which input was off, as far as the splits can tell."""

    finding: Finding
    """One of `Finding`."""
    named: tuple[str, ...] = ()
    """Inputs that were wrong; empty unless the finding is "named"."""
    rivals: tuple[tuple[str, ...], ...] = ()
    """Inputs or pairs between which the splits cannot tell."""
    needed: int = 0
    """Splits that it takes, where there are too few."""


@dataclass(frozen=True)
class KnownError:
    """What is known to be off without anybody being wrong."""

    resolution_s: float
    """Step that the clock was read to [s]."""
    model_s: FloatArray
    """What the standard error of the model means on each split [s]; shape (n,)."""

    @property
    def clock_s(self) -> float:
        """Standard deviation of a split's time: both its ends are rounded, evenly [s]."""
        return self.resolution_s / float(np.sqrt(6.0))

    def explains(self, rest: FloatArray) -> bool:
        """Whether a rest [s] is no more than what is known can make.

        Nobody knows how much of the error of the model is the same on all splits and how much
        changes from split to split; it is enough if either explains the rest (chi-squared).
        """
        return self.misfit(rest) <= chance_bound(len(rest))

    def misfit(self, rest: FloatArray) -> float:
        """Sum of squares of a rest [s] in units of what is known, by what explains it better."""
        count = len(rest)
        # Split times share the readings between them.
        neighbours = np.eye(count, k=1) + np.eye(count, k=-1)
        reading = self.resolution_s**2 / 12.0 * (2.0 * np.eye(count) - neighbours)
        shared = reading + np.outer(self.model_s, self.model_s)
        apart = np.diag(self.clock_s**2 + self.model_s**2)
        return min(float(rest @ np.linalg.solve(one, rest)) for one in (shared, apart))


def chance_bound(count: int) -> float:
    """Misfit of so many splits that chance seldom exceeds (chi-squared)."""
    return float(chi_squared_exceeded(count, 1.0 - LEVEL))


Names = tuple[str, ...]


def blame(
    known: KnownError, rest: FloatArray, fits: Mapping[Names, InputFit], whole: InputFit
) -> Blame:
    """Say which input was off."""
    if known.explains(rest):
        return Blame("nothing")
    if "power" in whole.names:
        return Blame("no power")
    needed = len(whole.names) + SPARE
    if len(rest) < needed:
        return Blame("too few", needed=needed)
    by_size = ({who: one for who, one in fits.items() if len(who) == size} for size in (1, 2))

    def alike(named: Names) -> Iterable[str]:
        pairs = (pair for pair, one in fits.items() if len(pair) == 2 and not separable(one))
        return dict.fromkeys(name for pair in pairs if {*pair} & {*named} for name in pair)

    return fewest_that_do(rest, whole, by_size, alike)


def fewest_that_do(
    rest: FloatArray,
    whole: InputFit,
    by_size: Iterable[Mapping[Names, InputFit]],
    alike: Callable[[Names], Iterable[str]],
) -> Blame:
    """The fewest inputs that will do, if one set of them does and no errors go along with its."""
    bar = Bar(whole)
    if bar.passes(float(rest @ rest), 0):
        return Blame("no pattern")
    for fits in by_size:
        enough = [who for who, one in fits.items() if believable(one) and bar.leaves_nothing(one)]
        if len(enough) > 1:
            return Blame("several", rivals=tuple(enough))
        for named in enough:
            rivals = tuple((name,) for name in alike(named))
            return Blame("together", rivals=rivals) if rivals else Blame("named", named=named)
    return Blame("none fits")


def separable(pair: InputFit) -> bool:
    """Whether the errors of two inputs are not strongly correlated."""
    correlation = pair.correlation
    return correlation is not None and abs(correlation) <= APART


def believable(one: InputFit) -> bool:
    """Whether the splits tell of every input, and none had to be moved further than is believed."""
    if one.untold:
        return False
    low, high = np.array([BELIEVABLE[name.partition(" ")[0]] for name in one.names]).T
    return bool(np.all((low <= one.share) & (one.share <= high)))


class Bar:
    """What all inputs together leave, and how much more chance allows to fewer of them."""

    def __init__(self, whole: InputFit) -> None:
        within = _directions(whole.slopes[:, felt(whole.slopes)])
        self._whole = whole
        self._rank = within.shape[1]
        self._square_sum = _unexplained(whole.rest, within)

    def passes(self, square_sum: float, inputs: int) -> bool:
        """Whether so many inputs leave no more than chance allows to all others [s^2]."""
        return self._by_chance(square_sum, self._square_sum, inputs, self._rank)

    def leaves_nothing(self, one: InputFit) -> bool:
        """Whether neither all other inputs at once nor one of them gain more than chance."""
        count = len(one.names)
        if not self.passes(one.square_sum, count):
            return False
        for name, slope in zip(self._whole.names, self._whole.slopes.T, strict=True):
            with_it = np.column_stack((one.slopes, slope))
            if name in one.names or np.linalg.matrix_rank(with_it, ROUND_OFF) == count:
                continue
            more = _unexplained(one.rest, np.linalg.qr(with_it)[0])
            if not self._by_chance(one.square_sum, more, count, count + 1):
                return False
        return True

    def _by_chance(self, fewer: float, more: float, inputs: int, of: int) -> bool:
        """F test of the sums of squares that fewer and more inputs leave [s^2]."""
        if of <= inputs:
            return True
        free = len(self._whole.rest) - of
        variance = max(more / free, self._whole.clock_s**2)
        gained = (fewer - more) / (of - inputs)
        return f_chance(gained, of - inputs, variance, free) >= 1.0 - LEVEL


def _directions(slopes: FloatArray) -> FloatArray:
    """Orthonormal directions that slopes, none of them zero, span; shape (n, rank)."""
    if not slopes.size:
        return slopes
    left, size, _ = np.linalg.svd(slopes / np.linalg.norm(slopes, axis=0), full_matrices=False)
    return np.asarray(left[:, size > ROUND_OFF * size[0]])


def _unexplained(rest: FloatArray, directions: FloatArray) -> float:
    """Sum of squares that is left after orthonormal directions [s^2]."""
    left = rest - directions @ (directions.T @ rest)
    return float(left @ left)
