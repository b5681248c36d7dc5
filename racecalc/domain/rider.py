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
    power_points : tuple of (float, float)
        Durations [s] and the powers held all-out for them [W], from which critical power and
        the work above it can be fitted.
    power_fade : float
        Share of what can be held that is lost an hour in long races.
    least_power : float
        Least power while pedalling [W].
    most_power : float, optional
        Most power the rider is willing to push [W].

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
    power_points: tuple[tuple[float, float], ...] = ()
    power_fade: float = 0.0
    least_power: float = 0.0
    most_power: float | None = None

    def __post_init__(self) -> None:
        if not self.mass > 0:
            raise ValueError("mass must be positive")
        if not self.power >= 0:
            raise ValueError("power must not be negative")
        if not 0 <= self.fluid_used < self.mass:
            raise ValueError("fluid_used must be less than the rider's mass")
        if not all(time > 0 and power > 0 for time, power in self.power_points):
            raise ValueError("power_points must be positive")
        if not 0 <= self.power_fade < 1:
            raise ValueError("power_fade must be a share below 1")
        if not self.least_power >= 0:
            raise ValueError("least_power must not be negative")
        if self.most_power is not None and not self.most_power > self.least_power:
            raise ValueError("most_power must be above least_power")
