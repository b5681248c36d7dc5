"""The answers of a Monte Carlo over all doubts: bands, causes and how good the surrogate was."""

from dataclasses import dataclass
from typing import Annotated

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.written import SPREAD


@dataclass(frozen=True)
class SurrogateError:
    """How far the surrogate lay from full solves at randomly chosen draws.

    Parameters
    ----------
    largest, rms : float
        Largest and root-mean-square difference [s].
    solves : int
        Number of draws that were solved in full.
    """

    largest: float
    rms: float
    solves: int


@dataclass(frozen=True)
class Cause:
    """One input and its part in the doubt of an answer.

    Parameters
    ----------
    name : str
        Field of `racecalc.domain.doubts.Doubts`, "model" or "own" (the option's own saving).
    words : str
        The same in plain words.
    share : float
        Part of the variance that would go if this input were known to be its best estimate.
        Near-linear answers have shares that add up to 1.
    """

    name: str
    words: str
    share: float


@dataclass(frozen=True)
class Spread:
    """Quantiles of draws [s].

    Parameters
    ----------
    median_s, standard_deviation_s : float
        Of all draws.
    low_80_s, high_80_s, low_90_s, high_90_s, low_95_s, high_95_s : float
        Intervals that leave out as many draws below as above.
    """

    median_s: float
    standard_deviation_s: float
    low_80_s: float
    high_80_s: float
    low_90_s: float
    high_90_s: float
    low_95_s: float
    high_95_s: float

    @classmethod
    def of(cls, draws: FloatArray) -> "Spread":
        """Quantiles of draws [s], shape (n,)."""
        shares = (0.5, 0.1, 0.9, 0.05, 0.95, 0.025, 0.975)
        median, *ends = (float(one) for one in np.quantile(draws, shares))
        return cls(median, float(np.std(draws)), *ends)


@dataclass(frozen=True)
class TimeBand:
    """How sure a finish time is, all doubts together.

    Parameters
    ----------
    time_s : float
        Time at the best estimates [s].
    spread : Spread
        Of the time.
    causes : tuple of Cause
        Largest first.
    surrogate_error_s : SurrogateError
        Check against full solves.
    draws, seed : int
        Number of draws, and the seed that repeats them.
    """

    time_s: float
    spread: Annotated[Spread, SPREAD]
    causes: tuple[Cause, ...]
    surrogate_error_s: SurrogateError
    draws: int
    seed: int


@dataclass(frozen=True)
class SavingBand:
    """How sure a saving is: the same draws ridden with and without the option.

    Parameters
    ----------
    name : str
        The option.
    saved_s : float
        Saving at the best estimates [s].
    own_doubt_stated : bool
        Whether the doubt of the saving itself is known. Where it is not, `spread` holds the
        common doubts alone and is no interval for the saving.
    spread : Spread
        Of the saving.
    chance_faster : float
        From the share of the draws in which it saves time.
    causes : tuple of Cause
        Largest first.
    surrogate_error_s : SurrogateError
        Check against full solves of the saving.
    draws, seed : int
        Number of draws, and the seed that repeats them.
    """

    name: str
    saved_s: float
    own_doubt_stated: bool
    spread: Annotated[Spread, SPREAD]
    chance_faster: float
    causes: tuple[Cause, ...]
    surrogate_error_s: SurrogateError
    draws: int
    seed: int
