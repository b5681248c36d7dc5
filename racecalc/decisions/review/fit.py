"""Which value of an input would make a race ridden again meet the clock.

Gauss-Newton: the race is solved again with an input a little up and down for the slopes of the
split times, and again after each step, so that the answer is that of the full equation of motion
and not of its slopes alone. All splits count alike.

References
----------
Nocedal J, Wright SJ. Numerical Optimization. 2nd ed. 2006, section 10.3 (cited from memory); the
standard uncertainties are those of linear least squares at the solution.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.review.replay import Replay
from racecalc.errors import InputError

PROBE = 0.01
"""Share by which an input is moved to either side for a slope."""

REACH = (-0.9, 1.5)
"""How far an input may be moved, as a share; beyond stands nothing that anybody rides."""

WIND_REACH = (-4.0, 4.0)
"""The same for a wind, which may be light where it is stated or blow from the other side."""

MOST_STEPS = 40
MOST_HALVINGS = 8
LONGEST_STEP = 0.5
CONVERGED = 1e-7


@dataclass(frozen=True)
class Fit:
    """Inputs moved so that the split times meet the clock as well as they can.

    Parameters
    ----------
    names : tuple of str, length p
        Which inputs.
    share : FloatArray, shape (p,)
        How far each was moved, as a share of what is stated.
    rest : FloatArray, shape (n,)
        Time of each split that is left: ridden less ridden again [s].
    slopes : FloatArray, shape (n, p)
        Change of the time of each split by each share there [s].
    clock_s : float
        Standard deviation of a split's time from reading the clock alone [s].
    """

    names: tuple[str, ...]
    share: FloatArray
    rest: FloatArray
    slopes: FloatArray
    clock_s: float

    @property
    def square_sum(self) -> float:
        """Sum of the squares of what is left [s^2]."""
        return float(self.rest @ self.rest)

    @property
    def left_s(self) -> float:
        """Root mean square of what is left of a split [s]."""
        return rms(self.rest)

    @property
    def doubt(self) -> FloatArray | None:
        """Standard uncertainty of each share, shape (p,); None where no scatter can be seen.

        From the scatter of what is left, which is never taken for less than reading the clock.
        """
        free = len(self.rest) - len(self.names)
        if free < 1 or self._rank < len(self.names):
            return None
        variance = max(self.square_sum / free, self.clock_s**2)
        return np.sqrt(variance * np.diag(np.linalg.inv(self.slopes.T @ self.slopes)))

    @property
    def correlation(self) -> float:
        """Of the errors of two inputs, -1 to 1: minus the cosine between their slopes."""
        one, other = self.slopes.T
        return -float(one @ other) / math.sqrt(float(one @ one) * float(other @ other))

    @property
    def _rank(self) -> int:
        return int(np.linalg.matrix_rank(self.slopes))


def rms(values: FloatArray) -> float:
    """Root mean square."""
    return math.sqrt(float(np.mean(values**2)))


def slopes_at(replay: Replay, names: Sequence[str], share: Sequence[float]) -> FloatArray:
    """Change of the split times by the share of each input, shape (n, p) [s]."""
    here = dict(zip(names, share, strict=True))
    columns = [
        (
            replay.times({**here, name: here[name] + PROBE})
            - replay.times({**here, name: here[name] - PROBE})
        )
        / (2.0 * PROBE)
        for name in names
    ]
    return np.stack(columns, axis=1)


def fit(replay: Replay, ridden: FloatArray, names: Sequence[str], clock_s: float) -> Fit:
    """Move inputs until the race ridden again meets the clock as well as it can.

    Parameters
    ----------
    replay : Replay
        How it is ridden again.
    ridden : FloatArray, shape (n,)
        Time on each split by the clock [s].
    names : sequence of str, length p
        Inputs to move, as in `Shift`; they start from what is stated.
    clock_s : float
        Standard deviation of a split's time from reading the clock [s].

    Returns
    -------
    Fit
        At its least sum of squares, or at the edge of what may be moved.
    """
    reach = np.array([WIND_REACH if name == "wind" else REACH for name in names])
    share = np.zeros(len(names))
    rest = ridden - replay.times()
    slopes = slopes_at(replay, names, share.tolist())
    for _ in range(MOST_STEPS):
        step: FloatArray = np.asarray(np.linalg.lstsq(slopes, rest)[0])
        if float(np.max(np.abs(step))) < CONVERGED:
            break
        found = _shorter(replay, ridden, names, (share, step, reach), float(rest @ rest))
        if found is None:
            break
        share, rest, slopes = found
    return Fit(tuple(names), share, rest, slopes, clock_s)


def _shorter(
    replay: Replay,
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
