"""Which runs may be compared with which: air and speed, yaw, mountings, designs, loops."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, pairwise, permutations

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.evidence.chances import LEVEL, f_chance, t_point
from racecalc.decisions.evidence.days import DOUBT_LEVEL, USUAL_RATIO, DayFit
from racecalc.decisions.evidence.judging import RiderTrial, shown
from racecalc.decisions.evidence.least_squares import Design, IntArray, RunFit, fit
from racecalc.decisions.measuring.balance import Energy, Setup, steady
from racecalc.domain.trial import Runs, need
from racecalc.errors import InputError

# --- Watts of other air or another speed ---------------------------------------------------------

DRAG_SHARES = (0.70, 0.85, 0.95)
"""Least, usual and largest share of the air in the power of a rider on a level road where no bike
is stated; our choice, for some 35 to 55 km/h."""

MOST_MOVED = 1.0 / 3.0
"""Share of the margin by which what is not known may move a difference; our choice."""

CRR_OFF = 0.001
"""How far a stated rolling resistance may be off; common practice, no source."""

LEAST_DRAG = 0.5
"""Share of the air in the power below which a drag area rests on the rolling resistance stated;
our choice."""


def made_alike(runs: Runs, setup: Setup | None = None) -> Runs:
    """Runs that compare: watts as drag areas where the bike is known, else at one speed and air.

    What the bike stated or the missing one leaves open is in `leeway`; `analysed` refuses what it
    moves too far.
    """
    if runs.measure != "power":
        return runs
    stated = bool(np.any(np.isfinite(runs.density)))
    if stated:
        need(runs, "density")
    return _as_areas(runs, setup) if setup and stated else _at_one_speed(runs, stated)


def _as_areas(runs: Runs, setup: Setup) -> Runs:
    """The drag area of each run by the balance that `measure` uses."""
    balances = steady(setup, runs.value, runs.speed, runs.density)
    _refuse_little_drag(runs, balances)
    off = [CRR_OFF / setup.crr * one.rolling / one.push for one in balances]
    said = (
        f"Watts were turned into drag areas, each at its own speed and air: {setup.mass:.1f} kg,"
        f" Crr {setup.crr:.4f}, {100.0 * (1.0 - setup.efficiency):.1f} % lost on the way to the"
        " wheel."
    )
    return replace(
        runs,
        measure="cda",
        value=np.array([one.cda for one in balances]),
        leeway=np.array(off),
        efficiency=setup.efficiency,
        notes=(*runs.notes, said),
    )


def _refuse_little_drag(runs: Runs, balances: Sequence[Energy]) -> None:
    for line, left_out, one in zip(runs.line, runs.excluded, balances, strict=True):
        share = one.against_air / one.driven
        if share < LEAST_DRAG and not left_out:
            raise InputError(
                f"{runs.source}, line {line}",
                f"only {max(share, 0.0):.0%} of the power goes into the air",
                "check power, speed, mass and Crr, or test at a higher speed",
            )


def _at_one_speed(runs: Runs, stated: bool) -> Runs:
    """Watts brought to the median speed and air with the share of the air that is usual."""
    speed, density = (float(np.median(one)) for one in (runs.speed, runs.density))
    pace = runs.speed / speed
    air = pace**3 * (runs.density / density if stated else 1.0)
    if np.all(air == 1.0):
        return runs
    low, usual, high = (runs.value * (share / air + (1.0 - share) / pace) for share in DRAG_SHARES)
    in_air = f" and {density:.3f} kg/m^3" if stated else ""
    said = (
        f"Watts were brought to {3.6 * speed:.1f} km/h{in_air}, {DRAG_SHARES[1]:.0%} of them taken"
        " as drag of the air."
    )
    return replace(
        runs,
        value=usual,
        leeway=high - low,
        speed=np.full_like(runs.speed, speed),
        density=np.full_like(runs.density, density),
        notes=(*runs.notes, said),
    )


def moved_by_leeway(runs: Runs, design: Design) -> FloatArray:
    """How far what is not known of bike and air moves each difference, in the unit of the measure.

    By the fit that the differences are from, so what session and drift explain moves nothing.
    """
    if not np.any(runs.leeway):
        return np.zeros(design.items - 1)
    return np.abs(np.nan_to_num(DayFit(design, runs.leeway).at(USUAL_RATIO).difference))


def refuse_unless_alike(
    runs: Runs, names: Sequence[str], moved: FloatArray, margin: float | None
) -> None:
    """Refuse runs whose air or speed moves a difference by too much of the margin."""
    most = MOST_MOVED if runs.measure == "power" else 1.0
    if margin is None or not len(moved) or np.max(moved) <= most * margin:
        return
    worst = int(np.argmax(moved))
    off = shown(float(moved[worst]), runs.measure)
    between = f"speed or air of '{names[worst + 1]}' and '{names[0]}' differ"
    if runs.measure == "cda":
        raise InputError(
            runs.source,
            f"{between} so much that {off} of their difference would be rolling resistance if Crr"
            f" were {CRR_OFF:g} off",
            "ride both at one speed and in one air",
        )
    more = "" if np.all(np.isfinite(runs.density)) else ", and a column 'density [kg/m^3]'"
    raise InputError(
        runs.source,
        f"{between}, which leaves {off} of their difference open, more than a third of the margin"
        f" of {shown(margin, 'power')}",
        f"give --mass, --crr and --loss, or --race RACE{more}: each run then becomes a drag area",
    )


# --- Runs of one mounting ------------------------------------------------------------------------

ON_END = 3
"""Runs on end from which a table must say whether the item was mounted anew; our choice: two on end
let 10 % of tests at most give a false winner that day where mountings differ as single runs do, and
6.5 % on any day (tests/evidence)."""


def by_mounting(runs: Runs) -> Runs:
    """One run for each mounting, the mean of its runs: they share what mounting did."""
    columns = zip(runs.rider, runs.session, runs.item, runs.mounting, strict=True)
    keys = [key if key[-1] else (*key, str(row)) for row, key in enumerate(columns)]
    place = {key: number for number, key in enumerate(dict.fromkeys(keys))}
    if len(place) == len(keys):
        return runs
    of = np.array([place[key] for key in keys])
    _, first = np.unique(of, return_index=True)

    def mean(column: FloatArray) -> FloatArray:
        return np.asarray(np.bincount(of, column) / np.bincount(of))

    said = f"{len(keys)} runs of {len(place)} mountings: the mean of a mounting counts as one run."
    return replace(
        runs.kept(first.tolist()),
        order=mean(runs.order),
        value=mean(runs.value),
        speed=mean(runs.speed),
        density=mean(runs.density),
        yaw=mean(runs.yaw),
        leeway=mean(runs.leeway),
        notes=(*runs.notes, said),
    )


@dataclass(frozen=True)
class Stretches:
    """Which runs follow each other on one item without another in between."""

    of_run: IntArray
    """Number of the stretch of each run; shape (n,)."""
    item: IntArray
    length: IntArray
    """Item and number of runs of each stretch."""

    def longest(self, item: int) -> int:
        """Most runs on end of an item."""
        return int(np.max(self.length[self.item == item]))

    def single(self, item: int) -> bool:
        """Whether an item was ridden in one long stretch only."""
        own = self.length[self.item == item]
        return len(own) == 1 and int(own[0]) >= ON_END


def stretches_of(runs: Runs, design: Design) -> Stretches | None:
    """The stretches of a test; None where the table tells mountings or no stretch is long."""
    if any(runs.mounting):
        return None
    rows = np.lexsort((design.order, design.session))
    item, session = design.item[rows], design.session[rows]
    new = np.append(True, (np.diff(item) != 0) | (np.diff(session) != 0))
    of_run = np.empty(len(rows), np.intp)
    of_run[rows] = np.cumsum(new) - 1
    found = Stretches(of_run, item[new], np.bincount(of_run))
    return found if int(np.max(found.length)) >= ON_END else None


def one_value_a_stretch(runs: Runs, stretches: Stretches) -> Runs:
    """The runs as if each stretch were one mounting."""
    return replace(runs, mounting=tuple(f"stretch {number}" for number in stretches.of_run))


ONE_STRETCH = (
    "as far as the table tells, all its runs or all of the baseline are of one mounting: mount both"
    " once more, or state a column 'mounting'"
)

# --- What one should know before believing a comparison ------------------------------------------

LEAST_YAW = 1.0
"""Difference of the mean yaw [deg] that is named; our choice: drag areas change by some 0.0005 m^2
a degree, half of what a watt is at 45 km/h."""

UNEQUAL = 1.5
"""Ratio of the numbers of runs from which unequal scatter harms."""

FEW, MANY = 2, 6
"""So few runs against so many cannot show whether they scatter more."""

MUCH_MORE = 3.0
"""Ratio from which a baseline counts as ridden much more often; our choice."""

FALSE_WINNERS = {2.5: (28, 13), np.inf: (42, 21)}
"""Of 100 tests that day and on any day, by how many times as much the item of fewer runs scatters:
the most of 6 + 2, 8 + 4, 12 + 4, 12 + 2 and 41 + 3 runs at 2 and at 3 times, up to a change
from day to day as large as a run of the baseline scatters (tests/evidence)."""


NO_DENSITY = (
    "Air density is not stated: watts change with the air by about 0.3 % a degree, which would"
    " count as a difference."
)


def warnings(
    runs: Runs,
    fitted: RunFit,
    found: RiderTrial,
    moved: FloatArray,
    on_end: tuple[Stretches, RiderTrial] | None,
) -> Iterator[str]:
    """What could overturn the verdicts of a test.

    `on_end` has long stretches, and the same test with one value for each.
    """
    design, names = fitted.design, [found.baseline.name, *(one.name for one in found.items)]
    if runs.measure == "power" and not np.all(np.isfinite(runs.density)):
        yield NO_DENSITY
    yield from _crr_warning(names, found, moved)
    yield from _yaw_warning(runs, design, names)
    if on_end:
        yield _on_end_warning(names, found, *on_end)
    yield from _unequal_warning(fitted, names)
    yield from _other_days_warning(design, names, found)
    yield from _loop_warning(runs, design, names, found)


def _crr_warning(names: Sequence[str], found: RiderTrial, moved: FloatArray) -> Iterator[str]:
    worst = int(np.argmax(moved)) if len(moved) else 0
    if found.margin and len(moved) and moved[worst] > MOST_MOVED * found.margin:
        off = shown(float(moved[worst]), found.measure)
        yield (
            f"Speed or air of '{names[worst + 1]}' differ from the baseline's: if Crr is"
            f" {CRR_OFF:g} off, so is its difference by {off}."
        )


def _yaw_warning(runs: Runs, design: Design, names: Sequence[str]) -> Iterator[str]:
    if not np.all(np.isfinite(runs.yaw)) or design.items < 2:
        return
    size = np.degrees(np.abs(runs.yaw))
    differs = np.nan_to_num(DayFit(design, size).at(USUAL_RATIO).difference)
    worst = int(np.argmax(np.abs(differs)))
    if abs(differs[worst]) >= LEAST_YAW:
        side = "larger" if differs[worst] > 0 else "smaller"
        yield (
            f"The yaw of '{names[worst + 1]}' was {abs(differs[worst]):.1f} deg {side} than that of"
            f" '{names[0]}': part of their difference is wind."
        )


def _on_end_warning(
    names: Sequence[str], found: RiderTrial, stretches: Stretches, alone: RiderTrial
) -> str:
    lengths = [stretches.longest(item) for item in range(len(names))]
    worst = int(np.argmax(lengths))
    words = {one.name: one.said for one in alone.items}
    differ = [
        name for name, was in ((one.name, one.said) for one in found.items) if words[name] != was
    ]
    then = ", ".join(f"'{name}' {words[name]}" for name in differ[:3]) or "the same verdicts"
    once = any(stretches.single(item) for item in range(len(names)))
    winner = "An item has one stretch only, so it cannot win. " if once else ""
    return (
        f"'{names[worst]}' was ridden {lengths[worst]} times on end. {winner}If it was not mounted"
        " anew, up to 28 of 100 such tests give a false winner that day and 8 on any day, not 5; a"
        f" column 'mounting' tells. With one value for each stretch: {then}."
    )


def _scatter_by_item(fitted: RunFit) -> tuple[FloatArray, FloatArray]:
    """Variance of the runs of each item, and its degrees of freedom."""
    item = fitted.design.item
    freedom: FloatArray = np.bincount(item, 1.0 - fitted.leverage).astype(np.float64)
    square_sum = np.bincount(item, fitted.residual**2)
    return square_sum / np.maximum(freedom, 1e-9), freedom


def _unequal_warning(fitted: RunFit, names: Sequence[str]) -> Iterator[str]:
    """Fewer runs of what scatters more, or might."""
    counts = np.bincount(fitted.design.item)
    variance, freedom = _scatter_by_item(fitted)
    found: list[tuple[float, str]] = []
    for item in range(1, len(counts)):
        few, many = sorted((item, 0), key=lambda one: int(counts[one]))
        ratio = counts[many] / counts[few]
        if ratio < UNEQUAL:
            continue
        said = f"'{names[many]}' was ridden {counts[many]} times and '{names[few]}' {counts[few]}"
        known = min(freedom[few], freedom[many]) > 0.5 and variance[many] > 0
        chance = (
            f_chance(variance[few], freedom[few], variance[many], freedom[many]) if known else 1.0
        )
        times = float(np.sqrt(variance[few] / variance[many])) if chance < DOUBT_LEVEL else 0.0
        day, any_day = next(rates for most, rates in FALSE_WINNERS.items() if times <= most)
        rates = f"up to {day} of 100 such tests give a false winner that day, {any_day} on any day"
        if times:
            said = f"{said}, which scatters {times:.1f} times as much: {rates}, not 5."
            found.append((times * ratio, f"{said} Ride equal numbers."))
        elif (counts[few] <= FEW and counts[many] >= MANY) or (many == 0 and ratio >= MUCH_MORE):
            said = f"{said}: if that one scatters twice as much, which so few runs hardly show,"
            found.append((ratio, f"{said} {rates}, not 5. Ride equal numbers."))
    if found:
        yield max(found)[1]


def _other_days_warning(design: Design, names: Sequence[str], found: RiderTrial) -> Iterator[str]:
    """Items that were never ridden on a day of the baseline."""
    own = set(design.day[design.item == 0].tolist())
    for number, one in enumerate(found.items, 1):
        if own & set(design.day[design.item == number].tolist()):
            continue
        if one.difference is None:
            yield (
                f"'{one.name}' was ridden on other days than '{names[0]}' and is not compared:"
                " where days differ as much as single runs, a third to a half of such comparisons"
                " give a false winner."
            )
        else:
            yield (
                f"'{one.name}' was never ridden on a day of '{names[0]}': it is compared through"
                " other items, and its doubt holds that of each step."
            )


# --- Comparisons that do not close ---------------------------------------------------------------

MOST_ITEMS = 12
"""Items above which loops are not looked for: their number grows with the fourth power."""


@dataclass(frozen=True)
class Loop:
    """Comparisons from an item through others back to itself, each from days without the others."""

    items: tuple[int, ...]
    """Numbers of the items, in the order of the steps."""
    size: float
    doubt: float
    """What the steps add up to, 0 if they agree, and its standard error."""


def loops_of(design: Design, value: FloatArray, run: float, day_to_day: float) -> list[Loop]:
    """All loops of three and of four items.

    A step is the mean of the differences found on the days that hold both of its items and no other
    one of the loop, weighted by their variances. `run` and `day_to_day` are the standard deviations
    of a run and of a difference from day to day, in the unit of what was measured.

    References
    ----------
    Bucher HC et al. J Clin Epidemiol 1997;50:683-691 (from memory): direct and indirect comparison.
    """
    days = range(int(design.day.max()) + 1)
    held = [frozenset(design.item[design.day == day].tolist()) for day in days]
    if design.items > MOST_ITEMS or all(len(items) == design.items for items in held):
        return []
    fits = [_fit_of_day(design, value, day) for day in range(len(held))]

    def step(one: int, other: int, others: frozenset[int]) -> tuple[float, float] | None:
        total = weights = 0.0
        for items, fitted in zip(held, fits, strict=True):
            if {one, other} <= items and not others & items:
                difference, factor = fitted(one, other)
                weight = 1.0 / (run**2 * factor + day_to_day**2)
                total, weights = total + weight * difference, weights + weight
        return (total / weights, 1.0 / weights) if weights else None

    found = []
    for ring in _rings(design.items):
        steps = [
            step(one, other, frozenset(ring) - {one, other})
            for one, other in pairwise((*ring, ring[0]))
        ]
        if all(steps):
            size, variance = np.sum([one for one in steps if one], axis=0)
            found.append(Loop(ring, float(size), float(np.sqrt(variance))))
    return found


DayDifference = Callable[[int, int], tuple[float, float]]
"""The second item less the first on one day, and its variance for a run variance of one."""


def _rings(items: int) -> Iterator[tuple[int, ...]]:
    """Every way round three or four of the items, each once."""
    yield from combinations(range(items), 3)
    for first, *rest in combinations(range(items), 4):
        for order in permutations(rest):
            if order[0] < order[-1]:
                yield (first, *order)


def _fit_of_day(design: Design, value: FloatArray, day: int) -> DayDifference:
    rows = np.flatnonzero(design.day == day)
    items, item = np.unique(design.item[rows], return_inverse=True)
    sessions, session = np.unique(design.session[rows], return_inverse=True)
    own = Design(
        item.astype(np.intp), session.astype(np.intp), design.order[rows], design.drift[sessions]
    )
    fitted = fit(own, value[rows])

    def difference(one: int, other: int) -> tuple[float, float]:
        contrast = ((items == other) * 1.0 - (items == one))[1:]
        size = float(contrast @ np.nan_to_num(fitted.difference))
        return size, float(contrast @ fitted.inverse @ contrast)

    return difference


def _loop_warning(
    runs: Runs, design: Design, names: Sequence[str], found: RiderTrial
) -> Iterator[str]:
    """The loop that closes worst, if the doubt of its steps does not explain it."""
    run, changes = found.repeatability, found.day_to_day
    if not run or design.items < 3:
        return
    usual = float(np.sqrt(2.0 * USUAL_RATIO)) * run
    loops = loops_of(design, runs.value, run, usual if changes is None else changes)
    if not loops:
        return
    worst = max(loops, key=lambda one: abs(one.size) / one.doubt)
    df = max(found.repeatability_df, 1.0)
    if abs(worst.size) <= t_point(df, 1.0 - LEVEL / (2 * len(loops))) * worst.doubt:
        return
    way = " to ".join(f"'{names[number]}'" for number in (*worst.items, worst.items[0]))
    yield (
        f"The comparisons contradict each other: from {way} the differences add up to"
        f" {shown(worst.size, runs.measure, sign=True)} (doubt {shown(worst.doubt, runs.measure)})"
        " and not to 0, so one of them is wrong. Ride these items on one day."
    )
