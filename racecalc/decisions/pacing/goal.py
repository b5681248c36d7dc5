"""The power that a wanted time needs, and how sure that is."""

from dataclasses import dataclass

from racecalc.decisions.doubt import time_band
from racecalc.decisions.needed import power_worth
from racecalc.decisions.pacing.holding_on import ideal_within
from racecalc.decisions.pacing.limits import PacingLimit, critical_of, mean_of, scaled
from racecalc.decisions.riding import Ridden
from racecalc.decisions.timing import model_error
from racecalc.decisions.verdicts import chance_faster
from racecalc.errors import InputError
from racecalc.quantities.clock import show_duration

MOST_POWER = 2500.0
"""Power that nobody pedals [W]; common knowledge, no source."""

NEAR = 0.05
"""Seconds within which a time counts as met [s]."""

TRIES = 12


@dataclass(frozen=True)
class Goal:
    """What a wanted time takes.

    Parameters
    ----------
    time_s : float
        The time that is wanted [s].
    constant_w : float
        One power all along that takes as long [W].
    paced_w : float
        Level of the limit at which the card takes as long: its mean, or critical power [W].
    stated_w : float
        The same of the race file [W].
    doubt_s, doubt_w : float
        Standard uncertainty of the time at a given power [s], and what that is in power [W].
    doubt_from : str
        What the doubt comes from.
    chance : float
        Chance that the card, ridden as it stands, takes no longer than wanted.
    """

    time_s: float
    constant_w: float
    paced_w: float
    stated_w: float
    doubt_s: float
    doubt_w: float
    doubt_from: str
    chance: float


def goal_of(base: Ridden, limit: PacingLimit, wanted: float, card_s: float, ideal_s: float) -> Goal:
    """Work out the power that a wanted time needs.

    Parameters
    ----------
    base : Ridden
        The race at one power.
    limit : PowerMean, CriticalPower or Both
        What is held.
    wanted : float
        Wanted time [s].
    card_s, ideal_s : float
        Times of the card and of the ideal at the stated power [s]; a card for another power is
        taken to give away as much.

    Returns
    -------
    Goal

    Raises
    ------
    InputError
        If no power reaches it.
    """
    constant = power_worth(base, wanted)
    power = base.race.rider.power
    if constant is None or power + constant > MOST_POWER:
        fastest = base.variant(base.race.with_power(MOST_POWER)).time
        raise InputError(
            "--goal",
            f"no power that anybody pedals takes {show_duration(wanted)} here: even"
            f" {MOST_POWER:.0f} W would take {show_duration(fastest)}",
            "bends and speed limits decide; give a longer time",
        )
    factor = _factor(base, limit, wanted - (card_s - ideal_s), ideal_s)
    mean, above = mean_of(limit), critical_of(limit)
    level = mean.level if mean else above.critical if above else power
    doubt, cause = _doubt(base)
    return Goal(
        time_s=wanted,
        constant_w=power + constant,
        paced_w=factor * level,
        stated_w=level,
        doubt_s=doubt,
        doubt_w=doubt / abs(base.time_by_power),
        doubt_from=cause,
        chance=chance_faster(wanted - card_s, doubt) or 0.0,
    )


def _doubt(base: Ridden) -> tuple[float, str]:
    if not base.race.doubts.stated:
        return model_error(base), "the error of the model alone; your doubts are not stated"
    band = time_band(base)
    causes = ", ".join(cause.words for cause in band.causes)
    return band.spread.standard_deviation_s, causes


def _factor(base: Ridden, limit: PacingLimit, wanted: float, now: float) -> float:
    """Factor on what the rider can hold at which the ideal takes the wanted time (secant)."""
    # The time falls with about the third root of the power.
    one, other = 1.0, (now / wanted) ** 3
    late = now - wanted
    for _ in range(TRIES):
        if abs(late) < NEAR or one == other:
            break
        after = ideal_within(base, scaled(limit, other)).time - wanted
        step = after * (other - one) / (after - late) if after != late else 0.0
        one, other, late = other, other - step, after
    return one
