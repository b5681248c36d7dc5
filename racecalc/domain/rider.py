"""The rider."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Rider:
    """The rider and what they can hold.

    Parameters
    ----------
    mass : float
        Body mass [kg].
    power : float
        Power held over the race [W], where the bike's power meter stands.
    fluid_used : float
        Mass drunk or shed evenly over the course [kg].
    critical_power : float, optional
        Critical power [W], for pacing.
    work_above_critical : float, optional
        Work above critical power [J], for pacing.

    Raises
    ------
    ValueError
        If a value is impossible.
    """

    mass: float
    power: float
    fluid_used: float = 0.0
    critical_power: float | None = None
    work_above_critical: float | None = None

    def __post_init__(self) -> None:
        if not self.mass > 0:
            raise ValueError("mass must be positive")
        if not self.power >= 0:
            raise ValueError("power must not be negative")
        if not 0 <= self.fluid_used < self.mass:
            raise ValueError("fluid_used must be less than the rider's mass")
