"""How each kind of published value is worked out with the public functions of racecalc.

The published models of the ride hold the steady speed of every stretch: no kinetic energy passes
from one to the next. Such values are compared with stretches that are solved one by one, each
begun at the speed it settles to (`steady_time`), so that the equation of motion has nothing to
accelerate. Kinds whose name begins with "solved" take the course as one, kinetic energy and all,
with every stretch many times as long: what is carried from one stretch to the next does not grow
with length, and so loses its weight.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy.optimize import brentq

from racecalc.decisions.riding import Ridden, power_worth, ride
from racecalc.decisions.savings import change_of
from racecalc.decisions.timing import rates, timing
from racecalc.decisions.value import OptionValue, value_of
from racecalc.domain.loading import SURFACE_ROUGHNESS
from racecalc.domain.option import Option, read_saving
from racecalc.domain.race import Air, Bike, Race, Wind
from racecalc.files.race_keys import RACE_KEYS
from racecalc.motion.ride import flat_calm_speed
from racecalc.motion.setting import ride_of
from racecalc.physics.air import (
    density_along,
    height_factor,
    local_pressure,
    moist_air_density,
    pressure_at,
    rider_wind_speed,
    saturation_vapour_pressure,
    station_pressure,
    temperature_at,
    yaw_angle,
)
from racecalc.physics.forces import (
    DRY_AIR_GAS_CONSTANT,
    LAPSE_RATE,
    STANDARD_TEMPERATURE,
    air_drag,
    bearing_drag,
)
from racecalc.quantities import kinds
from racecalc.quantities.reading import read
from tests.builders import bike, graded_course, race

STANDARD_PRESSURE = 101325.0
"""Sea-level pressure of the standard atmosphere [Pa]; ISO 2533:1975."""

Inputs = dict[str, Any]

KIND_OF = {
    "mass": kinds.MASS,
    "bike_mass": kinds.MASS,
    "power": kinds.POWER,
    "cda": kinds.AREA,
    "spoke_drag": kinds.AREA,
    "crr": kinds.RATIO,
    "loss": kinds.RATIO,
    "density": kinds.DENSITY,
    "bearing_drag": kinds.FORCE,
    "bearing_drag_slope": RACE_KEYS["bike"]["bearing_drag_slope"].form,
    "distance": kinds.LENGTH,
    "height": kinds.LENGTH,
    "from_height": kinds.LENGTH,
    "to_height": kinds.LENGTH,
    "roughness": kinds.LENGTH,
    "altitude": kinds.LENGTH,
    "temperature": kinds.TEMPERATURE,
    "pressure": kinds.PRESSURE,
    "sea_level_pressure": kinds.PRESSURE,
    "humidity": kinds.RATIO,
    "speed": kinds.SPEED,
    "own_speed": kinds.SPEED,
    "wind": kinds.SPEED,
    "cross_wind": kinds.SPEED,
    "head_wind": kinds.SPEED,
    "grade": kinds.GRADE,
    "time": kinds.TIME,
    "saving": kinds.TIME,
    "fitted_saving": kinds.TIME,
    "standard_saving": kinds.TIME,
    "fitted_power": kinds.POWER,
    "fitted_time": kinds.TIME,
}
"""Kind of quantity by the name of the input."""

SETTLING_LENGTH = 20_000.0
"""Every speed has settled to rounding after so far [m]: the run-in lengths are below 500 m."""

EARTH_RADIUS = 6_356_766.0
"""Radius in the geopotential height of the standard atmosphere [m]; U.S. Standard Atmosphere
1976, read in a secondary page."""


@dataclass(frozen=True)
class Stretch:
    """A part of a course: length [m], grade, head wind [m/s], and the power on it [W]."""

    length: float
    grade: float
    head_wind: float
    power: float | None


def si(inputs: Inputs, name: str, unless_given: float | None = None) -> float:
    """An input in SI."""
    if name not in inputs and unless_given is not None:
        return unless_given
    return read(inputs[name], KIND_OF[name])


# Air


def vapour_pressure(inputs: Inputs) -> float:
    """Saturation vapour pressure [Pa]."""
    return float(saturation_vapour_pressure(np.asarray(si(inputs, "temperature"))))


def density(inputs: Inputs) -> float:
    """Density of moist air [kg/m^3]."""
    state = (np.asarray(si(inputs, "temperature")), np.asarray(si(inputs, "pressure")))
    return float(moist_air_density(*state, si(inputs, "humidity")))


def compressibility(inputs: Inputs) -> float:
    """Compressibility factor of dry air, from the density: Z = p Ma / (rho R T)."""
    ideal = 3.483740e-3 * si(inputs, "pressure") / si(inputs, "temperature")
    return ideal / density({**inputs, "humidity": "0 %"})


def lightening_by_humidity(inputs: Inputs) -> float:
    """Share by which saturated air is lighter than dry air."""
    return 1.0 - density({**inputs, "humidity": "100 %"}) / density({**inputs, "humidity": "0 %"})


def standard_density(altitude: float) -> float:
    """Density of the standard atmosphere [kg/m^3] below 11 km, by the ideal gas of ISO 2533."""
    temperature = STANDARD_TEMPERATURE - LAPSE_RATE * altitude
    return station_pressure(STANDARD_PRESSURE, altitude) / (DRY_AIR_GAS_CONSTANT * temperature)


def geopotential(inputs: Inputs) -> float:
    """Geopotential height [m]; geometric heights are turned into it."""
    height = si(inputs, "height")
    if inputs["height_is"] == "geopotential":
        return height
    assert inputs["height_is"] == "geometric"
    return EARTH_RADIUS * height / (EARTH_RADIUS + height)


def standard_atmosphere_pressure(inputs: Inputs) -> float:
    """Pressure of the standard atmosphere [Pa]."""
    height = np.asarray(geopotential(inputs))
    return float(pressure_at(height, 0.0, STANDARD_PRESSURE, STANDARD_TEMPERATURE))


def standard_atmosphere_temperature(inputs: Inputs) -> float:
    """Temperature of the standard atmosphere [K]."""
    return float(temperature_at(np.asarray(geopotential(inputs)), 0.0, STANDARD_TEMPERATURE))


def standard_atmosphere_density(inputs: Inputs) -> float:
    """Density of the standard atmosphere [kg/m^3]."""
    return standard_density(geopotential(inputs))


def thinning_by_height(inputs: Inputs) -> float:
    """Share by which the standard atmosphere is thinner than at sea level."""
    return 1.0 - standard_atmosphere_density(inputs) / standard_density(0.0)


def pressure_at_station(inputs: Inputs) -> float:
    """Station pressure from the pressure reduced to sea level [Pa]."""
    return station_pressure(si(inputs, "sea_level_pressure"), si(inputs, "altitude"))


# Wind and forces


def wind_factor(inputs: Inputs) -> float:
    """Wind at the rider over wind at the height of the forecast, by terrain."""
    return rider_wind_speed(
        Wind(speed=1.0, height=si(inputs, "from_height"), terrain=inputs["terrain"])
    )


def wind_factor_between(inputs: Inputs) -> float:
    """Wind at one height over wind at another."""
    return height_factor(
        si(inputs, "from_height"), si(inputs, "to_height"), si(inputs, "roughness")
    )


def power_law_exponent(inputs: Inputs) -> float:
    """Exponent of the power law of wind with height."""
    top = si(inputs, "from_height")
    factor = height_factor(top, 0.5 * top, si(inputs, "roughness"), "power")
    return float(np.log(factor) / np.log(0.5))


def yaw(inputs: Inputs) -> float:
    """Yaw in a pure cross wind [rad]."""
    along, across = np.asarray(si(inputs, "speed")), np.asarray(si(inputs, "cross_wind"))
    return float(yaw_angle(along, np.zeros(()), across))


def bearing_power(inputs: Inputs) -> float:
    """Power that the wheel bearings take [W]."""
    speed = si(inputs, "speed")
    force, _ = bearing_drag(speed, si(inputs, "bearing_drag"), si(inputs, "bearing_drag_slope"))
    return float(force * speed)


def air_power(inputs: Inputs) -> float:
    """Power against still air [W]."""
    speed = si(inputs, "speed")
    cda = bike(cda=si(inputs, "cda")).cda
    force, _ = air_drag(speed, 0.0, 0.0, si(inputs, "density"), cda, 0.0)
    return float(force * speed)


# Rides


def race_of(inputs: Inputs) -> Race:
    """The race that the inputs describe, on a flat road of their distance."""
    bike_mass = si(inputs, "bike_mass", 9.0)
    return race(
        power=si(inputs, "power"),
        rider_mass=si(inputs, "mass") - bike_mass,
        mass=bike_mass,
        cda=si(inputs, "cda"),
        crr=si(inputs, "crr"),
        drivetrain_loss=si(inputs, "loss"),
        spoke_drag=si(inputs, "spoke_drag", 0.0),
        bearing_drag=si(inputs, "bearing_drag", 0.091),
        bearing_drag_slope=si(inputs, "bearing_drag_slope", 0.0087),
        power_at=inputs.get("power_at", "cranks"),
        air=air_of(inputs),
        step=100.0,
        course=graded_course((si(inputs, "distance", SETTLING_LENGTH), 0.0)),
    )


def air_of(inputs: Inputs) -> Air:
    """Air of one density, or weather."""
    if "density" in inputs:
        return Air(density=si(inputs, "density"))
    at_sea_level = "sea_level_pressure" in inputs
    return Air(
        temperature=si(inputs, "temperature"),
        pressure=si(inputs, "sea_level_pressure" if at_sea_level else "pressure"),
        pressure_at_sea_level=at_sea_level,
        altitude=si(inputs, "altitude"),
        humidity=si(inputs, "humidity"),
    )


def stretches_of(inputs: Inputs) -> list[Stretch]:
    """The stretches of the course; a flat one of the whole distance where none are given."""
    listed = inputs.get("stretches", [{"distance": inputs.get("distance", "1 km")}])
    return [
        Stretch(
            si(one, "distance"),
            si(one, "grade", 0.0),
            si(one, "head_wind", 0.0),
            si(one, "power") if "power" in one else None,
        )
        for one in listed
    ]


def on_stretch(built: Race, stretch: Stretch, length: float) -> Race:
    """The race on a road of the grade, in the wind and at the power of a stretch."""
    wind = Wind(
        speed=abs(stretch.head_wind),
        direction=0.0 if stretch.head_wind >= 0 else np.pi,
        follows_rider=True,
    )
    level = built.air.altitude
    course = graded_course((length, stretch.grade))
    course = replace(course, elevation=course.elevation + level)
    moved = replace(built, air=replace(built.air, wind=wind), course=course)
    return moved if stretch.power is None else moved.with_power(stretch.power)


def steady_time(built: Race, stretch: Stretch) -> float:
    """Time over a stretch at the speed that it settles to [s]."""
    settled = ride(on_stretch(built, stretch, SETTLING_LENGTH)).solution.speed[-1]
    steady = replace(built, bike=replace(built.bike, start_speed=float(settled)))
    return ride(on_stretch(steady, stretch, stretch.length)).time


def time_of(inputs: Inputs) -> float:
    """Time over all stretches, each at its own steady speed [s]."""
    built = race_of(inputs)
    return sum(steady_time(built, stretch) for stretch in stretches_of(inputs))


def speed_of(inputs: Inputs) -> float:
    """Mean speed over all stretches [m/s]."""
    return sum(stretch.length for stretch in stretches_of(inputs)) / time_of(inputs)


def saving_of(inputs: Inputs) -> float:
    """Time saved by what stands under `with`, everything solved again [s]."""
    return time_of(inputs) - time_of({**inputs, **inputs["with"]})


def interaction_of(inputs: Inputs) -> float:
    """Time saved by all changes together less the sum of what each saves alone [s]."""
    together: Inputs = {}
    alone = 0.0
    for change in inputs["changes"]:
        together |= change
        alone += saving_of({**inputs, "with": change})
    return saving_of({**inputs, "with": together}) - alone


def saving_per_kilometre(inputs: Inputs) -> float:
    """Seconds a kilometre saved by what stands under `with`."""
    return saving_of({**inputs, "distance": "1 km"})


def mean_power(inputs: Inputs) -> float:
    """Mean over time of the power on the stretches [W]."""
    built, stretches = race_of(inputs), stretches_of(inputs)
    times = [steady_time(built, stretch) for stretch in stretches]
    powers = [stretch.power or built.rider.power for stretch in stretches]
    return float(np.average(powers, weights=times))


def saving_of_plan(inputs: Inputs) -> float:
    """Time that a power on each stretch saves against constant power [s]."""
    constant = [{**one, "power": inputs["power"]} for one in inputs["stretches"]]
    return time_of({**inputs, "stretches": constant}) - time_of(inputs)


def saving_at_equal_mean_power(inputs: Inputs) -> float:
    """The same, with the power of the last stretch lowered until the time mean is kept [s]."""
    return saving_of_plan(_with_last_power(inputs, _power_that_keeps_mean(inputs)))


def _power_that_keeps_mean(inputs: Inputs) -> float:
    wanted = si(inputs, "power")
    return float(
        brentq(
            lambda power: mean_power(_with_last_power(inputs, power)) - wanted,
            20.0,
            wanted,
            xtol=1e-6,
        )
    )


def _with_last_power(inputs: Inputs, power: float) -> Inputs:
    *first, last = inputs["stretches"]
    return {**inputs, "stretches": [*first, {**last, "power": f"{power!r} W"}]}


MANY_TIMES = 20
"""A fixed start speed, and what a turn or a crest carries over, lose their weight in a course so
many times as long: 1 % of the effect of a change on 10 miles, the share of the run-in in the
course, becomes 0.05 %."""


def rate_of(inputs: Inputs) -> float:
    """Seconds per unit, per `MANY_TIMES`-th part of a long course, from the exact derivatives."""
    ridden = _long_ride(inputs)
    (found,) = [one for one in rates(ridden) if one.quantity == inputs["quantity"]]
    return found.seconds_per_unit / MANY_TIMES


def _long_ride(inputs: Inputs) -> Ridden:
    built = race_of(inputs)
    length = MANY_TIMES * si(inputs, "distance")
    return ride(begun_steady(replace(built, course=graded_course((length, 0.0)))))


def begun_steady(built: Race) -> Race:
    """The race begun at the speed that its power holds on a flat, calm road."""
    in_air = float(density_along(built.air, np.asarray(built.course.elevation[0])))
    speed = flat_calm_speed(built.bike, built.total_mass, built.rider.power, in_air)
    return replace(built, bike=replace(built.bike, start_speed=speed))


def power_to_give_up(inputs: Inputs) -> float:
    """Watts that the change under `with` may cost before it loses time, on a long course [W]."""
    ridden = _long_ride(inputs)
    changed = ridden.variant(replace(ridden.race, bike=_bike_with_start(inputs, ridden)))
    found = power_worth(changed, ridden.time)
    assert found is not None
    return -found


def _bike_with_start(inputs: Inputs, ridden: Ridden) -> Bike:
    changed = race_of({**inputs, **inputs["with"]}).bike
    return replace(changed, start_speed=ridden.race.bike.start_speed)


def area_for_saving(inputs: Inputs) -> float:
    """Drag area to take away for a wanted saving [m^2]."""
    wanted, area = si(inputs, "saving"), si(inputs, "cda")

    def excess(less: float) -> float:
        return saving_of({**inputs, "with": {"cda": f"{area - less!r} m^2"}}) - wanted

    return float(brentq(excess, 1e-6, 0.5 * area, xtol=1e-9))


def station_density(inputs: Inputs) -> float:
    """Density at the place of the race [kg/m^3]."""
    return float(density_along(air_of(inputs), np.asarray(si(inputs, "altitude"))))


def pressure_of_place(inputs: Inputs) -> float:
    """Pressure at the place of the race [Pa]."""
    return local_pressure(air_of(inputs))


def share_of_air(inputs: Inputs) -> float:
    """Share of the power at the road that the air takes at a speed on the flat."""
    built, wanted = race_of(inputs), si(inputs, "speed")

    def excess(power: float) -> float:
        return ride(begun_steady(built.with_power(power))).solution.speed[-1] - wanted

    power = float(brentq(excess, 50.0, 1000.0))
    shares = timing(ride(begun_steady(built.with_power(power)))).shares
    return shares.air_w / (shares.pedalled_w - shares.drivetrain_w)


def share_of_power_for_one_percent(inputs: Inputs) -> float:
    """Power at the cranks that 1 % of drag area is worth, over the power, at the same speed."""
    built = race_of(inputs)
    shares = timing(ride(begun_steady(built))).shares
    return 0.01 * shares.air_w / (shares.pedalled_w - shares.drivetrain_w)


def rolling_on_surface(inputs: Inputs) -> float:
    """Crr on a surface of tyres that have the middle of the range on smooth asphalt."""
    course = graded_course((1000.0, 0.0), roughness=SURFACE_ROUGHNESS[inputs["surface"]])
    return float(ride_of(race(crr=si(inputs, "crr"), course=course)).crr[0])


# Claims


def option_of(inputs: Inputs) -> Option:
    """The option whose saving the inputs state in words."""
    return Option(
        name="made up",
        saves=read_saving(inputs["claim"]) if "claim" in inputs else None,
        mass=read(inputs.get("option_mass", "0 kg"), kinds.MASS),
        test_density=read(inputs.get("test_density", "1.20 kg/m^3"), kinds.DENSITY),
    )


def claimed_area(inputs: Inputs) -> float:
    """Drag area that a claim takes away [m^2]."""
    option = option_of(inputs)
    assert option.saves is not None
    built = race_of(inputs) if "power" in inputs else race()
    return -change_of(option.saves, option, built).cda


def claimed_watts(inputs: Inputs) -> float:
    """Watts at the wheel of a claim at another speed, in the air of the race or the test [W]."""
    speed = si(inputs, "own_speed") if "own_speed" in inputs else speed_of(inputs)
    in_air = inputs.get("density") or inputs.get("test_density") or "1.20 kg/m^3"
    area = bike(cda=claimed_area(inputs)).cda
    force, _ = air_drag(speed, 0.0, 0.0, read(in_air, kinds.DENSITY), area, 0.0)
    return float(force * speed)


def claimed_seconds(inputs: Inputs) -> float:
    """Seconds that a claim is worth, per `MANY_TIMES`-th part of a long course [s]."""
    return value_of(_long_ride(inputs), option_of(inputs)).saved_s / MANY_TIMES


def same_saving_in_watts(inputs: Inputs) -> float:
    """Watts at the speed that the power of a claimed share of power gives [W]."""
    built = race_of(inputs)
    option = option_of(inputs)
    assert option.saves is not None
    speed = flat_calm_speed(
        built.bike, built.total_mass, option.saves.condition, option.test_density
    )
    return claimed_watts({**inputs, "own_speed": f"{speed!r} m/s"})


# Whole courses, kinetic energy and all


def whole_race(inputs: Inputs, times: int) -> Race:
    """The race over all stretches in one course, each stretch so many times as long."""
    stretches = stretches_of(inputs)
    course = graded_course(*((times * one.length, one.grade) for one in stretches))
    strongest = max(abs(one.head_wind) for one in stretches)
    course = replace(
        course,
        bearing=np.array([0.0 if one.head_wind >= 0 else np.pi for one in stretches]),
        shelter=np.array([abs(one.head_wind) / (strongest or 1.0) for one in stretches]),
    )
    built = race_of(inputs)
    air = replace(built.air, wind=Wind(speed=strongest))
    return begun_steady(replace(built, air=air, course=course, step=25.0))


def solved_time(inputs: Inputs) -> float:
    """Time over the whole course, from one that is `MANY_TIMES` as long [s]."""
    return ride(whole_race(inputs, MANY_TIMES)).time / MANY_TIMES


def solved_wind_loss(inputs: Inputs) -> float:
    """Time that the wind costs over the whole course [s]."""
    calm = [{**one, "head_wind": "0 m/s"} for one in inputs["stretches"]]
    return solved_time(inputs) - solved_time({**inputs, "stretches": calm})


def time_with_kinetic_energy(inputs: Inputs) -> float:
    """Time over the course as it is [s]."""
    return ride(as_it_is(inputs)).time


def mass_loss_with_kinetic_energy(inputs: Inputs) -> float:
    """Time that the mass of an option costs on the course as it is [s]."""
    return -value_of(ride(as_it_is(inputs)), option_of(inputs)).mass_s


def as_it_is(inputs: Inputs) -> Race:
    """The race over all stretches in one course, in steps of 10 m."""
    return replace(whole_race(inputs, 1), step=10.0)


def solved_standing_start(inputs: Inputs) -> float:
    """Time lost by starting from rest [s]."""
    built = as_it_is(inputs)
    standing = replace(built, bike=replace(built.bike, start_speed=0.0))
    return ride(standing).time - ride(built).time


def solved_break_even_watts(inputs: Inputs) -> float:
    """Watts at its test that make up for the mass of an option [W]."""
    found = solved_value(inputs).break_even_w
    assert found is not None
    return found


def solved_break_even_area(inputs: Inputs) -> float:
    """Drag area that makes up for the mass of an option [m^2]."""
    watt = change_of(read_saving("1 W at 45 km/h"), option_of(inputs), race_of(inputs))
    return -watt.cda * solved_break_even_watts(inputs)


def solved_mass_loss(inputs: Inputs) -> float:
    """Time that the mass of an option costs [s]."""
    return -solved_value(inputs).mass_s / MANY_TIMES


def solved_value(inputs: Inputs) -> OptionValue:
    """What the option is worth on a course `MANY_TIMES` as long."""
    return value_of(ride(whole_race(inputs, MANY_TIMES)), option_of(inputs))


# Published tables, with what they do not state fitted on one rider and tried on the others


def saving_of_position(inputs: Inputs) -> float:
    """Saving of a position against the hoods [s], fitted on one rider and tried on another.

    The drag area on the hoods is fitted so that the known position saves `standard_saving` for the
    rider of `fitted_power`, that of the position so that it saves `fitted_saving`.
    """
    hoods = _area_for_time(
        inputs, _time_at(inputs, si(inputs, "cda")) + si(inputs, "standard_saving")
    )
    on_hoods = _time_at(inputs, hoods)
    position = _area_for_time(inputs, on_hoods - si(inputs, "fitted_saving"))
    theirs = {**inputs, "cda": f"{hoods!r} m^2"}
    return saving_of({**theirs, "with": {"cda": f"{position!r} m^2"}})


def _time_at(inputs: Inputs, area: float) -> float:
    fitted = {**inputs, "cda": f"{area!r} m^2", "power": inputs["fitted_power"]}
    return time_of(fitted)


def _area_for_time(inputs: Inputs, time: float) -> float:
    return float(brentq(lambda area: _time_at(inputs, area) - time, 0.1, 0.6, xtol=1e-8))


def saving_of_part(inputs: Inputs) -> float:
    """Saving of a part [s] whose drag area is fitted on the rider of `fitted_power`."""
    known = si(inputs, "cda")
    fitted = _area_for_time(inputs, _time_at(inputs, known) - si(inputs, "fitted_saving"))
    return saving_of({**inputs, "with": {"cda": f"{fitted!r} m^2"}})


def speed_by_fitted_rolling(inputs: Inputs) -> float:
    """Speed [m/s] with the rolling resistance fitted to one known speed and power."""
    fitted_speed = si(inputs, "own_speed")

    def at(power: str, crr: float) -> float:
        return speed_of({**inputs, "power": power, "crr": repr(crr)})

    crr = float(
        brentq(lambda crr: at(inputs["fitted_power"], crr) - fitted_speed, 1e-4, 0.02, xtol=1e-10)
    )
    return at(inputs["power"], crr)


CALCULATIONS: dict[str, Callable[[Inputs], float]] = {
    "vapour pressure": vapour_pressure,
    "density": density,
    "compressibility of dry air": compressibility,
    "lightening by humidity": lightening_by_humidity,
    "standard pressure": standard_atmosphere_pressure,
    "standard temperature": standard_atmosphere_temperature,
    "standard density": standard_atmosphere_density,
    "thinning by height": thinning_by_height,
    "station pressure": pressure_at_station,
    "wind factor": wind_factor,
    "wind factor between heights": wind_factor_between,
    "power law exponent": power_law_exponent,
    "yaw": yaw,
    "bearing power": bearing_power,
    "air power": air_power,
    "time": time_of,
    "speed": speed_of,
    "saving": saving_of,
    "interaction": interaction_of,
    "saving per kilometre": saving_per_kilometre,
    "mean power": mean_power,
    "saving of plan": saving_of_plan,
    "saving of plan at equal mean power": saving_at_equal_mean_power,
    "power that keeps mean": _power_that_keeps_mean,
    "rate": rate_of,
    "power to give up": power_to_give_up,
    "area for saving": area_for_saving,
    "density of place": station_density,
    "pressure of place": pressure_of_place,
    "share of air": share_of_air,
    "share of power for 1 % of drag area": share_of_power_for_one_percent,
    "rolling on surface": rolling_on_surface,
    "claimed area": claimed_area,
    "claimed watts": claimed_watts,
    "claimed seconds": claimed_seconds,
    "same saving in watts": same_saving_in_watts,
    "solved time": solved_time,
    "time with kinetic energy": time_with_kinetic_energy,
    "mass loss with kinetic energy": mass_loss_with_kinetic_energy,
    "solved wind loss": solved_wind_loss,
    "solved standing start": solved_standing_start,
    "solved break-even watts": solved_break_even_watts,
    "solved break-even area": solved_break_even_area,
    "solved mass loss": solved_mass_loss,
    "saving of position": saving_of_position,
    "saving of part": saving_of_part,
    "speed by fitted rolling": speed_by_fitted_rolling,
}

FROM_SI = {
    "": 1.0,
    "1": 1.0,
    "%": 100.0,
    "s": 1.0,
    "W": 1.0,
    "K": 1.0,
    "Pa": 1.0,
    "hPa": 0.01,
    "kg/m^3": 1.0,
    "m^2": 1.0,
    "km/h": 3.6,
    "km in 1 h": 3.6,
    "deg": float(np.degrees(1.0)),
    "s/W": 1.0,
    "s per unit": 1.0,
    "s/km": 1.0,
}
"""What a value in SI is multiplied by."""


def calculated(kind: str, inputs: Inputs, unit: str) -> float:
    """The value of a case in its unit."""
    return CALCULATIONS[kind](inputs) * FROM_SI[unit]
