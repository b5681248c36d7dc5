"""The answer to a sweep over yaw: what it is worth in this wind, and whether the road agrees."""

import math
from dataclasses import dataclass

import numpy as np

from racecalc.decisions.evidence.agreement import Agreement, agreement
from racecalc.decisions.evidence.one_rider import analyse
from racecalc.decisions.evidence.sweep import (
    Sweep,
    WeightedArea,
    YawMet,
    sharing_scatter,
    sweep_of,
    weighted,
    yaw_met,
)
from racecalc.decisions.riding import Ridden
from racecalc.decisions.verdicts import NORMAL_95
from racecalc.domain.trial import Runs
from racecalc.errors import InputError


@dataclass(frozen=True)
class Saved:
    """Drag area that an item saves against the baseline.

    Parameters
    ----------
    name : str
        The item.
    saving : float
        [m^2], more is faster.
    doubt : float or None
        Standard uncertainty whose normal 95 % interval is Student's t interval of the few
        repeats [m^2]; None where nothing tells it.
    """

    name: str
    saving: float
    doubt: float | None


@dataclass(frozen=True)
class Checked:
    """A saving by sweep and by field test at the same yaw.

    Parameters
    ----------
    name : str
        The item.
    sweep, field : Saved
        By each kind of test.
    at_yaw : float
        Mean size of the yaw of the field runs [rad]; 0 where they do not state it.
    agreement : Agreement
        Whether they agree.
    """

    name: str
    sweep: Saved
    field: Saved
    at_yaw: float
    agreement: Agreement


@dataclass(frozen=True)
class SweepAnswer:
    """What a sweep over yaw says.

    Parameters
    ----------
    source : str
        File name as the user gave it.
    sweeps : tuple of Sweep
        One for each item, the baseline first.
    race : str
        Name of the race whose yaw weights the areas; empty for none.
    areas : tuple of WeightedArea
        One for each sweep; empty without a race.
    saved : tuple of Saved
        Against the baseline, by the yaw of the race; empty without a race.
    checks : tuple of Checked
        Against field runs of the same items; empty without them.
    """

    source: str
    sweeps: tuple[Sweep, ...]
    race: str
    areas: tuple[WeightedArea, ...]
    saved: tuple[Saved, ...]
    checks: tuple[Checked, ...]


def answer_sweep(
    runs: Runs,
    baseline: str | None = None,
    ridden: Ridden | None = None,
    field: Runs | None = None,
) -> SweepAnswer:
    """Analyse a sweep over yaw.

    Parameters
    ----------
    runs : Runs
        Runs of one rider, each with its yaw.
    baseline : str, optional
        What the items are compared with; the item of the first run unless given.
    ridden : Ridden, optional
        A solved race, whose yaw weights the sweep.
    field : Runs, optional
        Runs of the same items on the road or a track, as drag areas.

    Returns
    -------
    SweepAnswer
        Drag areas in m^2.

    Raises
    ------
    InputError
        If an item is not there, or the tables have no two items in common.
    """
    runs = runs.counted()
    if len(runs.riders) > 1:
        raise InputError(
            runs.source,
            f"the sweep is of {len(runs.riders)} riders, whose drag areas cannot be compared",
            "give one rider at a time",
        )
    chosen = runs.items[0] if baseline is None else baseline
    names = (chosen, *(name for name in runs.items if name != chosen))
    sweeps = sharing_scatter([sweep_of(runs, name) for name in names])
    areas: tuple[WeightedArea, ...] = ()
    if ridden is not None:
        met = yaw_met(ridden)
        areas = tuple(weighted(sweep, met) for sweep in sweeps)
    return SweepAnswer(
        source=runs.source,
        sweeps=sweeps,
        race=ridden.race.name if ridden else "",
        areas=areas,
        saved=tuple(
            _saved(sweep, areas[0], area)
            for sweep, area in zip(sweeps[1:], areas[1:], strict=False)
        ),
        checks=_checks(sweeps, field) if field else (),
    )


def saved_in(ridden: Ridden, runs: Runs, item: str, baseline: str | None = None) -> Saved:
    """Drag area that an item of a sweep saves in the yaw of a race."""
    found = answer_sweep(runs, baseline, ridden)
    for saved in found.saved:
        if saved.name == item:
            return saved
    known = ", ".join(saved.name for saved in found.saved)
    raise InputError(
        runs.source, f"no run has the item '{item}' beside the baseline", f"known are {known}"
    )


def _saved(sweep: Sweep, base: WeightedArea, area: WeightedArea) -> Saved:
    saving = base.area - area.area
    if base.standard_error is None or area.standard_error is None:
        return Saved(sweep.item, saving, None)
    from scipy.special import stdtrit

    error = math.hypot(base.standard_error, area.standard_error)
    return Saved(sweep.item, saving, error * float(stdtrit(sweep.df, 0.975)) / NORMAL_95)


def _checks(sweeps: tuple[Sweep, ...], field: Runs) -> tuple[Checked, ...]:
    if field.measure != "cda":
        raise InputError(
            field.source,
            "to be held against a sweep, field runs must state drag areas",
            "give a column cda [m^2]",
        )
    base, *others = sweeps
    field = field.counted()
    trial = analyse(field, base.item)
    yaws = np.where(np.isfinite(field.yaw), field.yaw, 0.0)
    even = np.full(len(yaws), 1.0 / len(yaws))
    met = YawMet(yaw=yaws, weight=even, time=even)
    checks = []
    for result in trial.items:
        sweep = next((one for one in others if one.item == result.name), None)
        if sweep is None or result.difference is None or result.low_alone is None:
            continue
        doubt = (result.difference - result.low_alone) / NORMAL_95
        road = Saved(result.name, -result.difference, doubt)
        tunnel = _saved(sweep, weighted(base, met), weighted(sweep, met))
        if tunnel.doubt and doubt:
            compared = agreement(tunnel.saving, tunnel.doubt, road.saving, doubt)
            at_yaw = float(np.mean(np.abs(yaws)))
            checks.append(Checked(result.name, tunnel, road, at_yaw, compared))
    if not checks:
        raise InputError(
            field.source,
            "has no item in common with the sweep that both compare with the baseline",
            "use the same names in both tables, and repeat runs in both",
        )
    return tuple(checks)
