"""How sure the inputs of a race are."""

import math
from dataclasses import dataclass, fields


@dataclass(frozen=True)
class Doubts:
    """One standard uncertainty of each input, independent of each other; 0 for none stated.

    Parameters
    ----------
    power : float
        Power, meter and what will be held together [W].
    cda : float
        Drag area, the same at every yaw [m^2].
    crr : float
        Rolling-resistance coefficient.
    mass : float
        Rider and bike together [kg].
    drivetrain_loss : float
        Share of the crank power that is lost; without effect where power is measured at the hub.
    wind_speed : float
        Mean wind at the height it is stated for [m/s].
    wind_from : float
        Direction the wind comes from [rad].
    temperature : float
        Air temperature [K].
    pressure : float
        Pressure as stated [Pa].
    density : float
        Air density where it is given itself [kg/m^3].

    Raises
    ------
    ValueError
        If a doubt is negative or not finite.
    """

    power: float = 0.0
    cda: float = 0.0
    crr: float = 0.0
    mass: float = 0.0
    drivetrain_loss: float = 0.0
    wind_speed: float = 0.0
    wind_from: float = 0.0
    temperature: float = 0.0
    pressure: float = 0.0
    density: float = 0.0

    def __post_init__(self) -> None:
        for name, value in self.stated.items():
            if not (value > 0 and math.isfinite(value)):
                raise ValueError(f"the doubt of {name} must be finite and not negative")

    @property
    def stated(self) -> dict[str, float]:
        """The doubts that are not zero, by name."""
        every = {one.name: getattr(self, one.name) for one in fields(self)}
        return {name: value for name, value in every.items() if value != 0}


NO_DOUBTS = Doubts()
"""Nothing is stated."""
