"""The chain behind a number: each step with its formula, inputs and source."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING

import numpy as np

from racecalc.decisions.riding import Ridden
from racecalc.decisions.savings import test_speed
from racecalc.decisions.timing import MODEL_ERROR, Timing
from racecalc.domain.race import RIDER_HEIGHT, ROUGHNESS_LENGTH
from racecalc.physics.air import local_humidity, local_pressure, rider_wind_speed
from racecalc.quantities.clock import show_duration

if TYPE_CHECKING:
    from racecalc.decisions.value import OptionValue

CIPM = "CIPM-2007 (Picard et al. 2008, Metrologia 45:149)"
MARTIN = "Martin et al. 1998, J Appl Biomech 14:276"
FIRST_ORDER, DRAWN = "first order, JCGM 100:2008", "JCGM 101:2008"


@dataclass(frozen=True)
class ExplainedStep:
    """One step of a chain."""

    what: str
    """What was worked out."""
    result: str
    """Value with unit."""
    formula: str
    """How."""
    inputs: str
    """From which values."""
    source: str = ""
    """Where the formula comes from."""

    @property
    def words(self) -> str:
        """All of it in a sentence."""
        told = " = ".join(filter(None, (self.result, self.formula)))
        source = f" ({self.source})" if self.source else ""
        return f"{self.what}: {'; '.join(filter(None, (told, self.inputs)))}{source}"


def explain_ride(ridden: Ridden) -> ExplainedStep:
    """How a race is ridden, in one step."""
    rider, bike, mass = ridden.race.rider, ridden.race.bike, ridden.race.total_mass
    return ExplainedStep(
        "time",
        show_duration(ridden.time),
        "sum of dx / v; 1/2 M (v1^2 - v0^2) = dx (P / v - F), F = 1/2 rho CdA va^2 + Crr m g cos +"
        " m g sin + bearings",
        f"P {rider.power:.0f} W, CdA {bike.cda.at_zero_yaw:.4g} m^2, Crr {bike.crr:.4g},"
        f" m {mass:.1f} kg, {len(ridden.solution.step_time)} steps",
        MARTIN,
    )


@cache
def _told() -> dict[str, list[list[str]]]:
    """The steps of explained.txt, which says how it is written."""
    text = files("racecalc.answers").joinpath("explained.txt").read_text("utf-8")
    found: dict[str, list[list[str]]] = {}
    for line in re.sub(r"\n +", " ", text).splitlines():
        if line.startswith("["):
            steps = found[line.strip("[]")] = []
        elif line and not line.startswith("#"):
            steps.append([part.strip() for part in line.split(" | ")])
    return found


def explained(
    sheet: str, ride: ExplainedStep | None = None, /, **values: object
) -> Iterator[ExplainedStep]:
    """The steps told of a sheet, below the one of its ride, with its values in them."""
    if ride:
        yield ride
    for what, result, *more in _told()[sheet]:
        parts = [part.format(**values) for part in (what, result, *more)]
        yield ExplainedStep(*parts, *[""] * (4 - len(parts)))


def within_words(low: float | None, high: float | None) -> str:
    """A 95 % interval of seconds."""
    known = low is not None and high is not None
    return f"{low:+.1f} to {high:+.1f} s" if known else "none, a doubt is not stated"


def explain_time(ridden: Ridden, timed: Timing) -> tuple[ExplainedStep, ...]:
    """The chain from the race file to the finish time."""
    race, solution = ridden.race, ridden.solution
    bike = race.bike
    return (
        *explain_air(ridden, timed),
        ExplainedStep(
            "power at the road",
            f"{race.rider.power * bike.efficiency:.1f} W",
            "P (1 - loss)" if bike.power_at == "cranks" else "P, measured behind the chain",
            f"P {race.rider.power:.1f} W at the {bike.power_at},"
            f" loss {100 * bike.drivetrain_loss:.2f} %",
            MARTIN,
        ),
        ExplainedStep(
            "resistance",
            f"{timed.shares.air_w:.1f} W air, {timed.shares.rolling_w:.1f} W rolling,"
            f" {timed.shares.bearings_w:.1f} W bearings (means over time)",
            "1/2 rho (CdA + spokes) va^2 + Crr m g cos + m g sin + bearings",
            f"CdA {bike.cda.at_zero_yaw:.4f} m^2, spokes {bike.spoke_drag:.4f} m^2,"
            f" Crr {bike.crr:.5f}, m {race.total_mass:.1f} kg",
            MARTIN,
        ),
        ExplainedStep(
            "speed at every node",
            f"{np.min(solution.speed[1:]) * 3.6:.1f} to {np.max(solution.speed) * 3.6:.1f} km/h",
            "1/2 M (v1^2 - v0^2) = dx (P / v - F(v))",
            f"{len(solution.step_time)} steps, {timed.ascent_m:.0f} m of rise,"
            f" start at {bike.start_speed * 3.6:.1f} km/h",
            "equation of motion; Newton's method on all steps at once",
        ),
        ExplainedStep(
            "time",
            f"{timed.time_s:.1f} s, model error about {timed.model_error_s:.0f} s",
            "sum of dx / v",
            f"standard error of the model {MODEL_ERROR} W x {-ridden.time_by_power:.2f} s/W",
            MARTIN,
        ),
    )


def explain_air(ridden: Ridden, timed: Timing) -> tuple[ExplainedStep, ...]:
    """The chain from the weather to the air at the rider."""
    return (*_explain_density(ridden, timed), *_explain_wind(ridden))


def _explain_density(ridden: Ridden, timed: Timing) -> Iterator[ExplainedStep]:
    air = ridden.race.air
    if air.density is not None:
        density = f"{air.density:.4f} kg/m^3"
        yield ExplainedStep("air density", density, "as given", "", "race file")
        return
    pressure = f"{local_pressure(air) / 100:.1f} hPa"
    if air.pressure_at_sea_level:
        yield ExplainedStep(
            "station pressure",
            pressure,
            "p0 (1 - 0.0065 h / 288.15)^5.2559",
            f"p0 {air.pressure / 100:.1f} hPa, h {air.altitude:.0f} m",
            "ISO 2533:1975",
        )
    yield ExplainedStep(
        "air density",
        f"{timed.air_density_kg_m3:.4f} kg/m^3 (mean over time)",
        "moist-air density, with -6.5 K/km and the pressure to match along the course",
        f"{air.temperature - 273.15:.1f} degC, {pressure} at {air.altitude:.0f} m,"
        f" humidity {100 * local_humidity(air):.0f} %",
        f"{CIPM}; ISO 2533:1975",
    )


def _explain_wind(ridden: Ridden) -> Iterator[ExplainedStep]:
    wind = ridden.race.air.wind
    if wind.speed == 0:
        return
    at_rider = wind.height == RIDER_HEIGHT
    roughness = ROUGHNESS_LENGTH[wind.terrain]
    law = "ln(1/z0) / ln(h/z0)" if wind.law == "log" else "(1/h)^(1/ln(h/z0))"
    yield ExplainedStep(
        "wind at the rider",
        f"{rider_wind_speed(wind):.2f} m/s in the open",
        "as given" if at_rider else f"w {law}",
        f"w {wind.speed:.1f} m/s"
        + ("" if at_rider else f" at h {wind.height:.0f} m, z0 {roughness} m ({wind.terrain})"),
        "race file" if at_rider else "Troen and Petersen 1989, European Wind Atlas",
    )


def explain_value(value: "OptionValue") -> tuple[ExplainedStep, ...]:
    """The chain from a stated saving to seconds and money."""
    option, change = value.option, value.change
    return (
        *_explain_saving(value),
        ExplainedStep(
            "seconds saved",
            f"{value.saved_s:+.2f} s",
            "T(without) - T(with), both ridden on the same nodes",
            f"T(without) {value.base.time:.1f} s, mass {1000 * change.mass:+.0f} g",
        ),
        ExplainedStep(
            "its parts",
            f"air {value.aero_s:+.2f} s, rolling {value.rolling_s:+.2f} s,"
            f" drivetrain {value.drivetrain_s:+.2f} s, mass {value.mass_s:+.2f} s"
            + (f", power {value.power_s:+.2f} s" if value.power_s else ""),
            "mean over all orders in which the parts could be added",
            "",
            "Shapley 1953",
        ),
        ExplainedStep(
            "95 % interval",
            within_words(value.saved_s_low, value.saved_s_high),
            "saving -+ 1.96 u |dT/dq|"
            if value.band is None
            else "2.5 % and 97.5 % quantiles, both ridden with the same draws",
            f"u {option.doubt.words}" if option.doubt else option.unproved,
            FIRST_ORDER if value.band is None else DRAWN,
        ),
        ExplainedStep("verdict", f"{value.verdict}, {value.because}", "", ""),
        *_explain_cost(value),
    )


def _explain_cost(value: "OptionValue") -> Iterator[ExplainedStep]:
    cost, ownership = value.cost_of_use, value.option.ownership
    counted = cost.races_counted
    whole = cost.races is None or not cost.races_stated
    life = "no life counted" if whole else f"a life of {cost.races:.1f} races"
    paid = {
        "bought": f"price {value.price}, resale {ownership.resale or 'none'}, {life}",
        "hired": f"hire {ownership.hire}",
    }
    if cost.cost is not None and cost.by in paid:
        yield ExplainedStep(
            f"cost of {counted} race{'s' if counted > 1 else ''}",
            f"{cost.cost:.2f} {cost.currency}, {cost.by}",
            f"{counted} (price - resale) / life, or {counted} times the hire if that is less;"
            " price - resale where no life is counted",
            paid[cost.by],
            "",
        )


def _explain_saving(value: "OptionValue") -> Iterator[ExplainedStep]:
    option, change = value.option, value.worth.own
    if option.saves is None:
        return
    if value.holding:
        yield _explain_holding(value)
        return
    changed = {
        "air": f"CdA {change.cda:+.5f} m^2",
        "tyres": f"Crr {change.crr:+.6f}",
        "drivetrain": f"drivetrain loss {100 * change.drivetrain_loss:+.2f} %",
    }[option.acts_on]
    as_stated = option.saves.form in ("area", "share of area", "crr")
    formula, source = ("as stated", "") if as_stated else (FORMULAS[option.acts_on], MARTIN)
    inputs = f"stated: {option.saves.words}"
    if value.assumptions:
        inputs += f"; assumed: {'; '.join(value.assumptions)}"
    if option.saves.form == "share of power":
        speed = test_speed(option.saves, option, value.base.race)
        inputs += f"; v {3.6 * speed:.2f} km/h"
    yield ExplainedStep("what the saving changes", changed, formula, inputs, source)


def _explain_holding(value: "OptionValue") -> ExplainedStep:
    holding, change = value.option.holding, value.worth.own
    shares = ", ".join(f"{100 * share:.0f} %" for share in holding.shares)
    otherwise = holding.otherwise.words if holding.otherwise else "nothing"
    loss = holding.power_loss.words if holding.power_loss else "none"
    saves = value.option.saves.words if value.option.saves else "nothing"
    return ExplainedStep(
        "what holding it in part changes",
        f"CdA {change.cda:+.5f} m^2 throughout, power {change.power:+.1f} W",
        "v = s v(held) + (1 - s) v(not held) on every step; the constant CdA that takes as long",
        f"held {shares} of the time, from start to finish; saves {saves} while held,"
        f" {otherwise} otherwise; loss of power while held {loss}",
        "mean speed over time",
    )


FORMULAS = {
    "air": "dCdA = W / (1/2 rho v^3), or F / (1/2 rho v^2), at the test's own rho and v",
    "tyres": "dCrr = W / (m g v), at the test's own v",
    "drivetrain": "change of loss = W saved / W put in",
}
