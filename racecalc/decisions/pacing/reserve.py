"""The work above critical power that a rider has left, along a ride and at its nodes.

The differential form of Skiba PF, Fulford J, Clarke DC, Vanhatalo A, Jones AM. Eur J Appl Physiol
2015;115:703-713 (form from memory): above critical power the reserve W falls by what is done above
it, dW/dt = -(P - CP); below, it comes back the slower the fuller it is, dW/dt = (1 - W/W')(CP - P).
Both are solved exactly over a step of constant power.

How fast it comes back is not sure: half took 232 s in the leg extensions of that study, and a
second recovery is slower than the first (Chorley A, Bott RP, Marwood S, Lamb KL. Eur J Appl Physiol
2022;122:677-689, pages from memory). `refill` scales the speed of recovery, so that a band can be
shown from none at all (0) to that of the formula (1).
"""

import math
from dataclasses import dataclass

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.motion.solver import solve_lower
from racecalc.quantities.clock import show_duration


@dataclass(frozen=True)
class ReserveSlopes:
    """Change of the reserve at chosen nodes for a unit change on one step.

    Parameters
    ----------
    power : FloatArray, shape (nodes, k)
        By the power of each step [J/W].
    step_time : FloatArray, shape (nodes, k)
        By the duration of each step [J/s].
    """

    power: FloatArray
    step_time: FloatArray


def reserve_along(
    power: FloatArray, step_time: FloatArray, critical: float, work: float, refill: float = 1.0
) -> FloatArray:
    """Work above critical power that is left at every node, from a full reserve.

    Parameters
    ----------
    power : FloatArray, shape (k,)
        Power on each step [W], constant within it.
    step_time : FloatArray, shape (k,)
        Duration of each step [s].
    critical : float
        Critical power [W].
    work : float
        Work above critical power of a rested rider [J], above 0.
    refill : float
        Factor on the speed of recovery; 0 for none.

    Returns
    -------
    FloatArray, shape (k + 1,)
        [J]; the first is `work`. Below 0 the plan asks for more than there is.

    Raises
    ------
    ValueError
        If `work` is not positive or `refill` is negative.

    References
    ----------
    Skiba et al. 2015, see the head of the module.

    Examples
    --------
    100 s at 100 W above, then 200 s, the time constant W'/(CP - P), at 100 W below:

    >>> reserve_along(np.array([350.0, 150.0]), np.array([100.0, 200.0]), 250.0, 20e3)
    array([20000.  , 10000.  , 16321.2])
    """
    kept, spent = _chain(power, step_time, critical, work, refill)
    return work - _missing(kept, spent)


def reserve_slopes(
    power: FloatArray,
    step_time: FloatArray,
    critical: float,
    work: float,
    nodes: list[int],
    refill: float = 1.0,
) -> ReserveSlopes:
    """Derivatives of the reserve at chosen nodes by the power and the duration of every step.

    Each node takes one solution of the transposed chain. At exactly critical power, where the
    reserve has a kink, the slope is that of more power.

    Parameters
    ----------
    power, step_time, critical, work, refill
        As in `reserve_along`.
    nodes : list of int
        Numbers of the nodes, 0 to k.

    Returns
    -------
    ReserveSlopes
        Exact, to rounding.

    Raises
    ------
    ValueError
        As in `reserve_along`.
    """
    kept, spent = _chain(power, step_time, critical, work, refill)
    missing = _missing(kept, spent)[:-1]
    above = power >= critical
    recovered = kept * missing * refill / work
    by_power = np.where(above, step_time, recovered * step_time)
    by_time = np.where(above, power - critical, recovered * (power - critical))
    weights = np.empty((len(nodes), len(power)))
    for row, node in enumerate(nodes):
        wanted = np.zeros(len(power) + 1)
        wanted[node] = 1.0
        weights[row] = _solve(kept, wanted, transposed=True)[1:]
    return ReserveSlopes(-weights * by_power, -weights * by_time)


def _chain(
    power: FloatArray, step_time: FloatArray, critical: float, work: float, refill: float
) -> tuple[FloatArray, FloatArray]:
    """Share of what is missing that stays so over each step, and what the step adds to it [J].

    Counted as missing from W', a step below critical power multiplies and one above it adds.
    """
    if not work > 0:
        raise ValueError("work above critical power must be positive")
    if not refill >= 0:
        raise ValueError("refill must not be negative")
    above = power - critical
    kept = np.exp(refill * np.minimum(above, 0.0) * step_time / work)
    return kept, np.maximum(above, 0.0) * step_time


def _missing(kept: FloatArray, spent: FloatArray) -> FloatArray:
    """What is missing at every node [J]: m[i + 1] = kept[i] m[i] + spent[i], from nothing."""
    return _solve(kept, np.concatenate([[0.0], spent]))


def _solve(kept: FloatArray, right_side: FloatArray, transposed: bool = False) -> FloatArray:
    return solve_lower(np.ones(len(kept) + 1), -kept, right_side, transposed)


def time_to_exhaustion(power: FloatArray, critical: float, work: float) -> FloatArray:
    """How long a constant power can be held: W'/(P - CP).

    Parameters
    ----------
    power : FloatArray
        Constant power [W], any shape.
    critical : float
        Critical power [W].
    work : float
        Work above critical power [J].

    Returns
    -------
    FloatArray
        [s], shape of `power`; infinite at or below critical power, where the model knows no end
        (a rider does; the model is useful within about 2 to 30 min, Skiba PF, Clarke DC. IJSPP
        2021;16:1561-1572).

    References
    ----------
    Monod H, Scherrer J. Ergonomics 1965;8:329-338 (form from memory).

    Examples
    --------
    >>> time_to_exhaustion(np.array([282.0, 302.0]), 282.0, 17e3)
    array([ inf, 850.])
    """
    above = np.asarray(power, dtype=float) - critical
    safe = np.where(above > 0, above, 1.0)
    return np.where(above > 0, work / safe, np.inf)


def highest_power_for(time: FloatArray, critical: float, work: float) -> FloatArray:
    """Highest constant power that can be held for a time: CP + W'/t.

    Parameters
    ----------
    time : FloatArray
        Duration [s], above 0, any shape.
    critical : float
        Critical power [W].
    work : float
        Work above critical power [J].

    Returns
    -------
    FloatArray
        [W], shape of `time`.

    References
    ----------
    Monod H, Scherrer J. Ergonomics 1965;8:329-338 (form from memory).

    Examples
    --------
    >>> highest_power_for(np.array([850.0]), 282.0, 17e3)
    array([302.])
    """
    return np.asarray(critical + work / np.asarray(time, dtype=float))


def demand(power: float, time: float, critical: float, work: float) -> str:
    """Say what a constant power takes of the reserve, as in "300 W for 14:36 takes ...".

    Parameters
    ----------
    power : float
        Power held [W].
    time : float
        For how long [s].
    critical, work : float
        Critical power [W] and work above it [J].

    Returns
    -------
    str
        A clause without a full stop.

    Examples
    --------
    >>> demand(300.0, 875.8, 282.0, 17e3)
    '300 W for 14:36 takes 15.8 kJ of the 17 kJ above 282 W'
    """
    held = f"{power:.4g} W for {show_duration(time)}"
    if power <= critical:
        return f"{held} takes none of the {_kj(work)} above {critical:.4g} W"
    taken = (power - critical) * time
    return f"{held} takes {_kj(taken)} of the {_kj(work)} above {critical:.4g} W"


def contradictions(race_power: float, time: float, critical: float, work: float) -> tuple[str, ...]:
    """Say where a race power, its predicted time, critical power and reserve do not go together.

    A power above critical power empties the reserve after W'/(P - CP); a race that takes longer
    cannot be ridden at it, if all the numbers are right.

    Parameters
    ----------
    race_power : float
        Power to be held over the race [W].
    time : float
        Predicted time at it [s].
    critical, work : float
        Critical power [W] and work above it [J].

    Returns
    -------
    tuple of str
        One sentence each; empty where nothing contradicts.
    """
    lasts = float(time_to_exhaustion(np.asarray(race_power), critical, work))
    if time <= lasts:
        return ()
    most = float(highest_power_for(np.asarray(time), critical, work))
    return (
        f"{demand(race_power, time, critical, work)}: impossible by its own numbers. They let"
        f" {race_power:.4g} W be held for {show_duration(math.floor(lasts))}, or"
        f" {math.floor(most * 10) / 10:.1f} W for {show_duration(time)}; lower the power, or check"
        " the critical power and the work above it.",
    )


def _kj(work: float) -> str:
    return f"{round(work / 1000, 1):g} kJ"
