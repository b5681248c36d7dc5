"""The air and the wind of the day, as a forecast or a weather station states them.

References
----------
.. [1] Wieringa J. Updating the Davenport roughness classification. J Wind Eng Ind Aerodyn
   1992;41:357-368 (roughness lengths from memory).
"""

from dataclasses import dataclass
from typing import Literal

RIDER_HEIGHT = 1.0
"""Height at which a crouched rider meets the wind [m]; common practice, no source."""

REPORT_HEIGHT = 10.0
"""Height at which weather services measure wind [m]; WMO-No. 8 (from memory)."""

ROUGHNESS_LENGTH = {
    "open water": 0.0002,
    "beach": 0.005,
    "short grass": 0.01,
    "open fields": 0.03,
    "low hedges": 0.10,
    "hedges and trees": 0.25,
    "suburb": 0.40,
}
"""Terrain class to roughness length z0 [m] [1]_."""

WindLaw = Literal["log", "power"]


@dataclass(frozen=True)
class Wind:
    """Mean wind.

    Parameters
    ----------
    speed : float
        Mean wind speed at `height` [m/s].
    direction : float
        Direction it comes from [rad]: clockwise from north, or from the direction of travel.
    follows_rider : bool
        True where `direction` is counted from the direction of travel (0 is a head wind).
    height : float
        Height of the measurement [m]; `RIDER_HEIGHT` where the rider's own wind is known.
    terrain : str
        Key of `ROUGHNESS_LENGTH`.
    law : {"log", "power"}
        Profile that brings the wind down to the rider.

    Raises
    ------
    ValueError
        If a value is impossible.
    """

    speed: float = 0.0
    direction: float = 0.0
    follows_rider: bool = False
    height: float = RIDER_HEIGHT
    terrain: str = "open fields"
    law: WindLaw = "log"

    def __post_init__(self) -> None:
        if not self.speed >= 0:
            raise ValueError("wind speed must not be negative")
        if self.terrain not in ROUGHNESS_LENGTH:
            raise ValueError(f"terrain must be one of {', '.join(ROUGHNESS_LENGTH)}")
        if not self.height > 2 * ROUGHNESS_LENGTH[self.terrain]:
            raise ValueError("wind height must lie well above the roughness of the terrain")


@dataclass(frozen=True)
class Air:
    """State of the air at one altitude; the solver carries it along the course.

    Parameters
    ----------
    temperature : float
        Air temperature at `altitude` [K].
    pressure : float
        Pressure [Pa]: at `altitude` itself, or reduced to sea level if `pressure_at_sea_level`.
    altitude : float
        Height above sea level of the weather station or forecast point [m].
    humidity : float
        Relative humidity, 0 to 1; ignored where `dew_point` is given.
    dew_point : float, optional
        Dew point [K].
    pressure_at_sea_level : bool
        Whether `pressure` has been reduced to sea level.
    density : float, optional
        Density of the air everywhere [kg/m^3], instead of all the above.
    wind : Wind
        Mean wind.

    Raises
    ------
    ValueError
        If a value is impossible.
    """

    temperature: float = 288.15
    pressure: float = 101325.0
    altitude: float = 0.0
    humidity: float = 0.0
    dew_point: float | None = None
    pressure_at_sea_level: bool = False
    density: float | None = None
    wind: Wind = Wind(follows_rider=True)

    def __post_init__(self) -> None:
        if not (self.temperature > 0 and self.pressure > 0):
            raise ValueError("temperature and pressure must be positive")
        if not 0 <= self.humidity <= 1:
            raise ValueError("humidity must lie between 0 and 1")
        if self.dew_point is not None and not 0 < self.dew_point <= self.temperature:
            raise ValueError("the dew point must not lie above the temperature")
        if self.density is not None and not self.density > 0:
            raise ValueError("density must be positive")
