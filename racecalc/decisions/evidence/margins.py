"""The difference that does not matter, in the unit of the test."""

import numpy as np

from racecalc.domain.trial import Runs
from racecalc.errors import InputError

WATTS = 1.0
"""Watts at the test speed that are too few to matter; common practice, no source."""


def margin_of(runs: Runs, stated: float | None) -> tuple[float | None, str]:
    """Margin of a test and where it comes from.

    Parameters
    ----------
    runs : Runs
        The test.
    stated : float or None
        What the user asked for, in the unit of the measure.

    Returns
    -------
    margin : float or None
        In the unit of the measure: as stated, or 1 W at the mean speed of the test, which is
        1 W / (1/2 rho v^3) of drag area or 1 W / v of drag force; None where speed or density
        are not known.
    because : str
        In a sentence.

    Raises
    ------
    InputError
        If the stated margin is not above zero.
    """
    if stated is not None:
        if not (np.isfinite(stated) and stated > 0):
            raise InputError("margin", f"{stated:g} is not above zero", "give it above 0")
        return stated, "as stated"
    if runs.measure == "power":
        return WATTS, f"{WATTS:g} W, because none is stated"
    by_watt = per_watt(runs)
    if by_watt is None:
        missing = "speed or density" if runs.measure == "cda" else "speed"
        return None, (
            f"none is stated, and without {missing} of every run {WATTS:g} W cannot be turned into"
            f" {runs.unit}; no tie is offered without --margin"
        )
    at = f"{3.6 * float(np.mean(runs.speed)):.1f} km/h"
    return WATTS * by_watt, f"{WATTS:g} W at the {at} of the test, because none is stated"


def per_watt(runs: Runs) -> float | None:
    """What one watt at the mean speed of a test is in the unit of its measure.

    1 / (1/2 rho v^3) of drag area, 1 / v of drag force; None where speed or density of a run is
    not stated.
    """
    if runs.measure == "power":
        return 1.0
    speed = float(np.mean(runs.speed))
    by_watt = 1.0 / speed
    if runs.measure == "cda":
        by_watt /= 0.5 * float(np.mean(runs.density)) * speed**2
    return by_watt if np.isfinite(by_watt) else None
