"""The speed at which power and resistance balance."""

from racecalc.domain.bike import Bike
from racecalc.physics.forces import air_drag, bearing_drag, rolling_drag

MOST_ITERATIONS = 100


def flat_calm_speed(bike: Bike, total_mass: float, power: float, density: float) -> float:
    """Steady speed on a flat road without wind.

    The power at the road is a convex function of speed there, so Newton's method from above
    falls to the root without fail.

    Parameters
    ----------
    bike : Bike
        Drag area, rolling resistance and losses.
    total_mass : float
        Rider, bike and all they carry [kg].
    power : float
        Power where the bike's power meter stands [W], positive.
    density : float
        Air density [kg/m^3].

    Returns
    -------
    float
        Speed [m/s].
    """
    road_power = power * bike.efficiency
    lowest_drag = min(bike.cda.at_zero_yaw, bike.cda.at_zero_yaw + bike.spoke_drag)
    speed = (2.0 * road_power / (density * lowest_drag)) ** (1.0 / 3.0)
    for _ in range(MOST_ITERATIONS):
        force, slope = flat_calm_force(bike, total_mass, speed, density)
        change = (speed * force - road_power) / (force + speed * slope)
        speed -= change
        if abs(change) < 1e-13 * speed:
            break
    return float(speed)


def flat_calm_force(
    bike: Bike, total_mass: float, speed: float, density: float
) -> tuple[float, float]:
    """Resistance at a steady speed [m/s] on a flat road without wind.

    Returns
    -------
    force, slope : float
        [N] and its derivative with respect to speed [N s/m]; other arguments as for
        `flat_calm_speed`.
    """
    rolling, _ = rolling_drag(bike.crr, total_mass, 0.0)
    air, air_slope = air_drag(speed, 0.0, 0.0, density, bike.cda, bike.spoke_drag)
    bearings, growth = bearing_drag(speed, bike.bearing_drag, bike.bearing_drag_slope)
    return float(air + rolling + bearings), float(air_slope + growth)
