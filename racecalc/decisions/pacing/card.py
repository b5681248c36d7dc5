"""The card: few power targets that a rider can follow, and what stands beside them."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Target:
    """One section of the card.

    Parameters
    ----------
    from_m, to_m : float
        Where it begins and ends [m].
    power_w : float
        What to ride, where the power meter stands [W].
    speed_m_s : float
        Mean speed that is expected [m/s]; an estimate and no target.
    time_s, elapsed_s : float
        Time on it, and since the start at its end [s].
    grade : float
        Rise over run from its beginning to its end.
    head_wind_m_s : float
        Mean head wind at the rider [m/s]; negative from behind.
    seconds_per_watt : float
        Seconds saved by one watt more on the whole of it [s/W].
    ideal_w : float
        Mean over time of the ideal power on it [W].
    coasting_s : float
        Time on it at which a bend or speed limit decides and less is pedalled [s].
    """

    from_m: float
    to_m: float
    power_w: float
    speed_m_s: float
    time_s: float
    elapsed_s: float
    grade: float
    head_wind_m_s: float
    seconds_per_watt: float
    ideal_w: float
    coasting_s: float

    @property
    def pedalled(self) -> bool:
        """Whether the target decides on most of it, and not a bend or speed limit."""
        return self.coasting_s <= 0.5 * self.time_s


@dataclass(frozen=True)
class Passage:
    """A landmark, and when to pass it.

    Parameters
    ----------
    at_m : float
        Where it stands [m].
    name : str
        In the user's words.
    elapsed_s : float
        Time since the start [s].
    note : str
        The user's own words; empty for none.
    """

    at_m: float
    name: str
    elapsed_s: float
    note: str


@dataclass(frozen=True)
class Card:
    """What the rider takes along.

    Parameters
    ----------
    race : str
        Name of the race.
    targets : tuple of Target
        From start to finish.
    passages : tuple of Passage
        Landmarks in their order.
    time_s : float
        With the card [s].
    constant_power_w, constant_power_time_s : float
        One power all along that meets the same limit [W], and the time at it [s].
    ideal_time_s : float
        At the ideal power [s].
    ideal_sections : int or None
        Sections of the ideal; None where it is found at every metre.
    mean_power_w : float
        Mean over time of the power pedalled [W].
    power_mean_w, power_mean_order : float
        Power mean over time of the power pedalled [W], and its order.
    distance_mean_w : float
        Mean over distance of the power pedalled [W]: no measure of effort.
    limit : str
        What is held, in words.
    reserve_left_j, reserve_unrefilled_j : float or None
        Least work above critical power that is left along the way, as it comes back by the model
        and if nothing came back [J]; None without a critical power.
    warnings : tuple of str
        What makes the targets doubtful.
    cautions : tuple of str
        What the rider must know before following it.
    """

    race: str
    targets: tuple[Target, ...]
    passages: tuple[Passage, ...]
    time_s: float
    constant_power_w: float
    constant_power_time_s: float
    ideal_time_s: float
    ideal_sections: int | None
    mean_power_w: float
    power_mean_w: float
    power_mean_order: float
    distance_mean_w: float
    limit: str
    reserve_left_j: float | None
    reserve_unrefilled_j: float | None
    warnings: tuple[str, ...]
    cautions: tuple[str, ...]

    @property
    def saved_s(self) -> float:
        """Seconds gained over one power all along [s]."""
        return self.constant_power_time_s - self.time_s

    @property
    def given_away_s(self) -> float:
        """Seconds lost to the ideal by cutting and rounding [s]."""
        return self.time_s - self.ideal_time_s
