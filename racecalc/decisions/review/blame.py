"""Who was wrong: which inputs the splits tell from all others, and when they cannot tell.

First the rest is held against what is known: the clock was read in steps, and the model errs. Only
what goes beyond is put down to inputs. A set of inputs will do if adding all the others gains no
more than chance would, all at once (the F test of adequate subsets) and each by itself; an input
is named only where it alone, or one pair alone, will do, and where its errors do not go along with
those of another.

References
----------
.. [1] Aitkin MA. Simultaneous inference and the choice of variable subsets in multiple regression.
   Technometrics 1974;16:221-227 (cited from memory); here each test is taken by itself.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import combinations
from typing import Literal

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.review.fit import Fit

LEVEL = 0.95
"""Chance with which what is true passes each test."""

APART = 0.95
"""Correlation of the errors of two inputs above which splits do not tell them apart; common
practice, no source."""

SPARE = 2
"""Splits that must be there beyond the inputs tried, so that their scatter can be seen; our
choice."""

BELIEVABLE = {"cda": (-0.3, 0.3), "crr": (-0.5, 1.0), "wind": (-2.0, 2.0), "power": (-0.2, 0.2)}
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
    """Who was wrong, as far as the splits can tell.

    Parameters
    ----------
    finding : str
        One of `Finding`.
    named : tuple of str
        Inputs that were wrong; empty unless the finding is "named".
    rivals : tuple of tuple of str
        Inputs or pairs between which the splits cannot tell.
    needed : int
        Splits that it takes, where there are too few.
    """

    finding: Finding
    named: tuple[str, ...] = ()
    rivals: tuple[tuple[str, ...], ...] = ()
    needed: int = 0


@dataclass(frozen=True)
class Known:
    """What is known to be off without anybody being wrong.

    Parameters
    ----------
    resolution_s : float
        Step that the clock was read to [s].
    model_s : FloatArray, shape (n,)
        What the standard error of the model means on each split [s].
    """

    resolution_s: float
    model_s: FloatArray

    @property
    def clock_s(self) -> float:
        """Standard deviation of a split's time: both its ends are rounded, evenly [s]."""
        return self.resolution_s / float(np.sqrt(6.0))

    def explains(self, rest: FloatArray) -> bool:
        """Whether a rest [s] is no more than what is known can make.

        Nobody knows how much of the error of the model is the same on all splits and how much
        changes from split to split; it is enough if either explains the rest (chi-squared).
        """
        from scipy.special import chdtri

        count = len(rest)
        shared = self._reading(count) + np.outer(self.model_s, self.model_s)
        apart = np.diag(self.clock_s**2 + self.model_s**2)
        misfit = min(float(rest @ np.linalg.solve(one, rest)) for one in (shared, apart))
        return misfit <= float(chdtri(count, 1.0 - LEVEL))

    def _reading(self, count: int) -> FloatArray:
        """Covariance of split times that share the readings between them."""
        beside = np.eye(count, k=1) + np.eye(count, k=-1)
        return np.asarray(self.resolution_s**2 / 12.0 * (2.0 * np.eye(count) - beside))


def splits_needed(inputs: int) -> int:
    """How many splits it takes to tell between so many inputs."""
    return inputs + SPARE


def blame(known: Known, rest: FloatArray, fits: Mapping[tuple[str, ...], Fit], whole: Fit) -> Blame:
    """Say who was wrong.

    Parameters
    ----------
    known : Known
        What is off anyway.
    rest : FloatArray, shape (n,)
        Time of each split by the clock less that of the race ridden again [s].
    fits : Mapping of tuple of str to Fit
        Every input alone and every pair of them.
    whole : Fit
        The best of them, with the slopes of all inputs there.

    Returns
    -------
    Blame
        All but "nothing" and "named" mean that the splits cannot tell.
    """
    if known.explains(rest):
        return Blame("nothing")
    if "power" in whole.names:
        return Blame("no power")
    needed = splits_needed(len(whole.names))
    if len(rest) < needed:
        return Blame("too few", needed=needed)
    bar = _Bar(whole)
    if bar.passes(float(rest @ rest), 0):
        return Blame("no pattern")
    for size in (1, 2):
        enough = [
            names
            for names, one in fits.items()
            if len(names) == size and believable(one) and bar.leaves_nothing(one)
        ]
        if enough:
            return _of(enough, fits)
    return Blame("none fits")


def _of(enough: list[tuple[str, ...]], fits: Mapping[tuple[str, ...], Fit]) -> Blame:
    if len(enough) > 1:
        return Blame("several", rivals=tuple(enough))
    (named,) = enough
    alike = [
        name
        for pair, one in fits.items()
        if len(pair) == 2 and set(pair) & set(named) and not told_apart(one)
        for name in pair
    ]
    if alike:
        return Blame("together", rivals=tuple((name,) for name in dict.fromkeys(alike)))
    return Blame("named", named=named)


def told_apart(pair: Fit) -> bool:
    """Whether the errors of two inputs do not go along with each other."""
    return abs(pair.correlation) <= APART


def believable(one: Fit) -> bool:
    """Whether no input had to be moved further than can be believed."""
    return all(
        BELIEVABLE[name][0] <= share <= BELIEVABLE[name][1]
        for name, share in zip(one.names, one.share, strict=True)
    )


def alone_and_in_pairs(names: Iterable[str]) -> tuple[tuple[str, ...], ...]:
    """Every input alone, and every pair."""
    every = tuple(names)
    return (*((name,) for name in every), *combinations(every, 2))


class _Bar:
    """What all inputs together leave, and how much more chance allows to fewer of them."""

    def __init__(self, whole: Fit) -> None:
        length = np.linalg.norm(whole.slopes, axis=0)
        left, size, _ = np.linalg.svd(whole.slopes / length, full_matrices=False)
        within = left[:, size > ROUND_OFF * size[0]]
        self._whole = whole
        self._rank = within.shape[1]
        self._square_sum = _unexplained(whole.rest, within)

    def passes(self, square_sum: float, inputs: int) -> bool:
        """Whether so many inputs leave no more than chance allows to all others [s^2]."""
        return self._by_chance(square_sum, self._square_sum, inputs, self._rank)

    def leaves_nothing(self, one: Fit) -> bool:
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
        from scipy.special import fdtri

        if of <= inputs:
            return True
        free = len(self._whole.rest) - of
        variance = max(more / free, self._whole.clock_s**2)
        return bool((fewer - more) / ((of - inputs) * variance) <= fdtri(of - inputs, free, LEVEL))


def _unexplained(rest: FloatArray, directions: FloatArray) -> float:
    """Sum of squares that is left beside orthonormal directions [s^2]."""
    left = rest - directions @ (directions.T @ rest)
    return float(left @ left)
