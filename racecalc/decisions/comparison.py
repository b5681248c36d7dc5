"""All about a race at first sight, and two races next to each other."""

from dataclasses import dataclass

from racecalc.decisions.rates import Rate, rates
from racecalc.decisions.riding import Ridden, ride
from racecalc.decisions.timing import Timing, timing
from racecalc.decisions.value import OptionValue
from racecalc.decisions.worth import worth_of
from racecalc.domain.race import Race
from racecalc.errors import InputError

# --- A race at a glance --------------------------------------------------------------------------


@dataclass(frozen=True)
class Refused:
    """An option that cannot be worked out."""

    name: str
    """The option."""
    problem: str
    """Why."""


@dataclass(frozen=True, eq=False)
class Outlook:
    """A race at a glance."""

    base: Ridden
    """The race without any option, solved."""
    timing: Timing
    """How long it takes, and where the watts go."""
    rates: tuple[Rate, ...]
    """What one more unit of each quantity is worth."""
    gains: tuple[OptionValue, ...]
    """What each single option gains, the greatest gain first."""
    refused: tuple[Refused, ...]
    """Options that cannot be worked out."""


def outlook_of(race: Race) -> Outlook:
    """Work out a race at a glance."""
    base = ride(race)
    gains, refused = [], []
    for option in race.single_options:
        try:
            gains.append(OptionValue(base, worth_of(base, option)))
        except InputError as error:
            refused.append(Refused(option.name, str(error)))
    return Outlook(
        base=base,
        timing=timing(base),
        rates=rates(base),
        gains=tuple(sorted(gains, key=lambda gain: -gain.saved_s)),
        refused=tuple(refused),
    )


# --- Two versions of a race beside each other ----------------------------------------------------


@dataclass(frozen=True)
class Pair:
    """One number in two versions; None where a version lacks it."""

    name: str
    """What it is."""
    before: float | None
    after: float | None
    """In SI."""

    @property
    def change(self) -> float | None:
        """After less before; None where one of them is missing."""
        if self.before is None or self.after is None:
            return None
        return self.after - self.before


@dataclass(frozen=True)
class RatePair:
    """A rate in two versions; None where a version lacks it."""

    rate: Rate
    before: float | None
    after: float | None


@dataclass(frozen=True)
class Comparison:
    """Two versions of a race."""

    time: Pair
    """Finish time [s]."""
    figures: tuple[Pair, ...]
    """Mean speed [m/s], power [W], air density [kg/m^3], wind at the rider [m/s], and length and
    rise [m], under the names of the fields of `Timing`.
    """
    shares: tuple[Pair, ...]
    """Mean power by what it is spent on [W], under the names of the fields of `PowerShares`."""
    rates: tuple[RatePair, ...]
    """What one more unit is worth [s]."""
    gains: tuple[Pair, ...]
    """What each option saves [s], the greatest gain of the second version first."""


FIGURES = (
    "mean_speed_m_s",
    "mean_power_w",
    "air_density_kg_m3",
    "wind_at_rider_m_s",
    "distance_m",
    "ascent_m",
)
SHARES = (
    "air_w",
    "rolling_w",
    "drivetrain_w",
    "bearings_w",
    "climbing_w",
    "speed_gained_w",
    "braking_w",
)


def compared(before: Outlook, after: Outlook) -> Comparison:
    """Put two versions of a race beside each other, whatever they have in common."""
    timings = before.timing, after.timing
    return Comparison(
        time=Pair("time_s", before.base.time, after.base.time),
        figures=tuple(_pair(name, *timings) for name in FIGURES),
        shares=tuple(_pair(name, *(timing.shares for timing in timings)) for name in SHARES),
        rates=_rates(before, after),
        gains=_gains(before, after),
    )


def _pair(name: str, before: object, after: object) -> Pair:
    return Pair(name, getattr(before, name), getattr(after, name))


def _rates(before: Outlook, after: Outlook) -> tuple[RatePair, ...]:
    earlier = {rate.quantity: rate.seconds_per_unit for rate in before.rates}
    return tuple(
        RatePair(rate, earlier.get(rate.quantity), rate.seconds_per_unit) for rate in after.rates
    )


def _gains(before: Outlook, after: Outlook) -> tuple[Pair, ...]:
    earlier, later = (
        {gain.option.name: gain.saved_s for gain in outlook.gains} for outlook in (before, after)
    )
    return tuple(Pair(name, earlier.get(name), later.get(name)) for name in {**later, **earlier})
