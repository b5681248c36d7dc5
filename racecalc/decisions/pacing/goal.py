"""The power that a wanted time needs, and how sure that is."""

from dataclasses import dataclass

from racecalc.decisions.doubt import time_band
from racecalc.decisions.needed import power_worth
from racecalc.decisions.pacing.card import Card
from racecalc.decisions.pacing.holding_on import constant_within, ideal_within
from racecalc.decisions.pacing.limits import PacingLimit, critical_of, mean_of, scaled
from racecalc.decisions.riding import Ridden
from racecalc.decisions.timing import model_error
from racecalc.decisions.verdicts import chance_faster
from racecalc.errors import InputError
from racecalc.quantities.clock import show_duration
from racecalc.quantities.power_point import HIGHEST

NEAR = 0.05
"""Seconds within which a time counts as met [s]."""

MET = 1.0
"""Seconds beyond which a time is not met after all [s]."""

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
    mean_w, critical_w : float or None
        The mean and the critical power of the limit at which the card takes as long [W], both
        raised by one factor, the work above critical power as it is; None where not held.
    stated_mean_w, stated_critical_w : float or None
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
    mean_w: float | None
    critical_w: float | None
    stated_mean_w: float | None
    stated_critical_w: float | None
    doubt_s: float
    doubt_w: float
    doubt_from: str
    chance: float


def goal_of(base: Ridden, limit: PacingLimit, wanted: float, card: Card) -> Goal:
    """Work out the power that a wanted time needs.

    Parameters
    ----------
    base : Ridden
        The race at one power.
    limit : PowerMean, CriticalPower or Both
        What is held.
    wanted : float
        Wanted time [s].
    card : Card
        Of the stated power; a card for another power is taken to give away as much.

    Returns
    -------
    Goal

    Raises
    ------
    InputError
        If no power reaches it, or the least takes less.
    """
    constant = _constant(base, wanted)
    factor = _factor(base, limit, wanted - card.given_away_s, card.ideal_time_s)
    mean, above = mean_of(limit), critical_of(limit)
    doubt, cause = _doubt(base)
    return Goal(
        time_s=wanted,
        constant_w=constant,
        mean_w=factor * mean.level if mean else None,
        critical_w=factor * above.critical if above else None,
        stated_mean_w=mean.level if mean else None,
        stated_critical_w=above.critical if above else None,
        doubt_s=doubt,
        doubt_w=doubt / abs(base.time_by_power),
        doubt_from=cause,
        chance=chance_faster(wanted - card.time_s, doubt) or 0.0,
    )


def _constant(base: Ridden, wanted: float) -> float:
    """The one power all along that takes a time [W]."""
    power = base.race.rider.power
    more = power_worth(base, wanted)
    if more is not None and power + more <= HIGHEST:
        return power + more
    fastest = base.variant(base.race.with_power(HIGHEST)).time
    if wanted > fastest:
        raise InputError(
            "--goal",
            f"{show_duration(wanted)} is slower than the least power that still rides the course"
            " takes",
            "give a shorter time",
        )
    raise InputError(
        "--goal",
        f"no power that anybody pedals takes {show_duration(wanted)} here: even"
        f" {HIGHEST:.0f} W would take {show_duration(fastest)}",
        "bends and speed limits decide; give a longer time",
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
        after = _ideal_time(base, scaled(limit, other)) - wanted
        step = after * (other - one) / (after - late) if after != late else 0.0
        one, other, late = other, max(other - step, 0.5 * other), after
    if abs(late) > MET:
        raise InputError(
            "--goal",
            f"no level of the limit was found at which a card takes {show_duration(wanted)}",
            "give a time nearer to that of the card",
        )
    return one


def _ideal_time(base: Ridden, limit: PacingLimit) -> float:
    try:
        return ideal_within(base, limit, constant_within(base, limit)).time
    except InputError as error:
        raise error.at("--goal") from error
