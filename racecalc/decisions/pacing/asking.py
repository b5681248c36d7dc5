"""From a race file and a question to the limit that is held, and what speaks against it."""

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from racecalc.decisions.pacing.critical_fit import CriticalFit, fit_critical
from racecalc.decisions.pacing.limits import FOURTH, Both, CriticalPower, PacingLimit, PowerMean
from racecalc.decisions.pacing.reserve import contradictions, demand
from racecalc.decisions.riding import Ridden
from racecalc.domain.race import Race
from racecalc.domain.rider import Rider
from racecalc.errors import InputError
from racecalc.quantities.clock import show_duration

LimitKind = Literal["mean", "power-mean", "critical-power"]

MOST_OVER = 1.5
"""Most power that is pushed, over the race power, where the race file does not say; our choice."""

FAR_BELOW = 0.05
"""Share by which a race power may lie below critical power in a race of about an hour."""

ABOUT_AN_HOUR = (2400.0, 4500.0)
"""[s] A rider can hold about critical power for some 30 to 60 minutes; common practice."""


@dataclass(frozen=True)
class Asked:
    """The limit that is held.

    Parameters
    ----------
    limit : PowerMean, CriticalPower or Both
        With the least and the most power of the race file.
    fit : CriticalFit or None
        Where critical power comes from, if it was fitted to power points.
    warnings : tuple of str
        What makes it doubtful.
    assumed : tuple of str
        What had to be assumed.
    demand : str
        What the race power all along takes of the work above critical power; empty without one.
    """

    limit: PacingLimit
    fit: CriticalFit | None
    warnings: tuple[str, ...]
    assumed: tuple[str, ...]
    demand: str = ""


def asked_limit(base: Ridden, kind: LimitKind, order: float = FOURTH) -> Asked:
    """Take the limit from the race file.

    Parameters
    ----------
    base : Ridden
        The race at one power, whose time tells how long it must be held.
    kind : {"mean", "power-mean", "critical-power"}
        Which limit; a stated critical power is held beside a mean too.
    order : float
        Of a power mean.

    Returns
    -------
    Asked

    Raises
    ------
    InputError
        If the race file states no critical power, or one that cannot be, or a power that fades
        to nothing before the finish.
    """
    rider = base.race.rider
    if rider.power_fade * base.time >= 3600.0:
        raise InputError(
            f"{base.race.name}, rider.power_fade",
            f"{100 * rider.power_fade:.0f} % an hour leave no power before the finish after"
            f" {show_duration(base.time)}",
            "give less",
        )
    most = rider.most_power or MOST_OVER * rider.power
    assumed = () if rider.most_power else (f"pedal_most {most:.0f} W (1.5 times the race power)",)
    critical, work, fit = _critical(rider)
    warnings = fit.warnings if fit else ()
    above, taken = None, ""
    if critical is not None and work is not None:
        warnings += contradictions(rider.power, base.time, critical, work)
        warnings += _too_high(rider, base.time, critical)
        above = CriticalPower(critical, work, rider.least_power, most)
        taken = demand(rider.power, base.time, critical, work)
    if kind == "critical-power":
        if above is None:
            raise InputError(
                base.race.name,
                "states no critical power",
                "add critical_power and work_above_critical, or power_points, under [rider]",
            )
        if base.time > ABOUT_AN_HOUR[0]:
            warnings += (
                "hardly anyone holds critical power for more than 30 to 60 minutes (common"
                f" practice), and this takes {show_duration(base.time)}: hold a mean too",
            )
        if rider.power_fade:
            warnings += ("power_fade is not in it: the model of critical power knows no fading",)
        return Asked(above, fit, warnings, assumed, taken)
    held = 1.0 if kind == "mean" else order
    mean = PowerMean(rider.power, held, rider.least_power, most, rider.power_fade)
    return Asked(Both(mean, above) if above else mean, fit, warnings, assumed, taken)


def _critical(rider: Rider) -> tuple[float | None, float | None, CriticalFit | None]:
    if not rider.power_points:
        return rider.critical_power, rider.work_above_critical, None
    fit = fit_critical(rider.power_points)
    return fit.critical, fit.work, fit


def _too_high(rider: Rider, time: float, critical: float) -> tuple[str, ...]:
    short = rider.power < (1.0 - FAR_BELOW) * critical
    if not short or not ABOUT_AN_HOUR[0] <= time <= ABOUT_AN_HOUR[1]:
        return ()
    return (
        f"critical power of {critical:.0f} W lies {100 * (critical / rider.power - 1):.0f} % above"
        f" the race power of {rider.power:.0f} W, though about so long it can be held: one of them"
        " is off",
    )


def other_winds(race: Race) -> tuple[tuple[str, Race], ...]:
    """The race in winds other than the stated one; calm air has none to turn or drop."""
    wind = race.air.wind
    if not wind.speed:
        return ()

    def blown(words: str, speed: float, turn: float) -> tuple[str, Race]:
        changed = replace(
            wind, speed=speed * wind.speed, direction=wind.direction + np.radians(turn)
        )
        return words, replace(race, air=replace(race.air, wind=changed))

    return (
        blown("no wind", 0.0, 0.0),
        blown("half as much wind", 0.5, 0.0),
        blown("half as much again", 1.5, 0.0),
        blown("wind turned 45 deg to the right", 1.0, 45.0),
        blown("wind turned 45 deg to the left", 1.0, -45.0),
        blown("wind from the other side", 1.0, 180.0),
    )
