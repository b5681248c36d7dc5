"""All about a race at first sight, and two versions of it compared."""

from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Annotated

from racecalc.decisions.assumed import Tried, tried_instead
from racecalc.decisions.riding import Ridden
from racecalc.decisions.timing import PowerShares, Rate, Timing, rates, timing
from racecalc.decisions.value import OptionValue
from racecalc.decisions.worth import Worth, ride_in_use, worth_of
from racecalc.domain.race import Race
from racecalc.errors import InputError
from racecalc.written import SPREAD, As, written

# --- A race at first sight -----------------------------------------------------------------------


@dataclass(frozen=True)
class Failed:
    """An option that cannot be worked out."""

    name: str
    """The option."""
    problem: Annotated[str, As(because="")]
    """Why."""


@dataclass(frozen=True, eq=False)
class Outlook:
    """A race at first sight."""

    base: Ridden
    """The race without any option, solved."""
    timing: Timing
    """How long it takes, and where the watts go."""
    rates: tuple[Rate, ...]
    """What one more unit of each quantity is worth."""
    gains: tuple[OptionValue, ...]
    """What each single option gains, the greatest gain first."""
    refused: tuple[Failed, ...]
    """Options that cannot be worked out."""
    tried: tuple[Tried, ...]
    """What the assumptions mean in seconds."""


def outlook_of(race: Race) -> Outlook:
    """Work out a race at first sight."""
    base = ride_in_use(race)
    worths, refused = workable(base)
    gains = (OptionValue(worth.base, worth) for worth in worths)
    best_first = tuple(sorted(gains, key=lambda gain: -gain.saved_s))
    return Outlook(base, timing(base), rates(base), best_first, refused, tried_instead(base))


def workable(base: Ridden) -> tuple[tuple[Worth, ...], tuple[Failed, ...]]:
    """The single options of a race tried, and those that cannot be worked out."""
    found, refused = [], []
    for option in base.race.single_options:
        try:
            found.append(worth_of(base, option))
        except InputError as error:
            refused.append(Failed(option.name, str(error)))
    return tuple(found), tuple(refused)


# --- Two versions of a race ----------------------------------------------------------------------


@dataclass(frozen=True)
class NumberPair:
    """One number in two versions."""

    before: float | None
    after: float | None
    """In the first version and in the second; None where it lacks it."""

    @written
    def change(self) -> float | None:
        """The second less the first; None where one of them is missing."""
        if self.before is None or self.after is None:
            return None
        return self.after - self.before


@dataclass(frozen=True)
class RatePair:
    """A rate in two versions."""

    rate: Annotated[Rate, As(quantity="quantity", unit="unit")]
    """That of the second version."""
    before: float | None
    after: float | None
    """Seconds saved by one unit more in the first version and in the second; None where it lacks
    the quantity.
    """


@dataclass(frozen=True)
class OptionPair:
    """An option in two versions."""

    name: str
    """The option."""
    saved: Annotated[NumberPair, SPREAD]
    """What it saves [s]."""


@dataclass(frozen=True)
class Comparison:
    """Two versions of a race; the figures have the names of the fields of `Timing`."""

    time_s: NumberPair
    """Finish time [s]."""
    mean_speed_m_s: NumberPair
    mean_power_w: NumberPair
    """Means over time [m/s], [W]."""
    air_density_kg_m3: NumberPair
    """Mean over time [kg/m^3]."""
    wind_at_rider_m_s: NumberPair
    """Mean over time of the wind at the rider [m/s]."""
    distance_m: NumberPair
    ascent_m: NumberPair
    """Length and total rise [m]."""
    shares: Mapping[str, NumberPair]
    """Mean power by what it is spent on [W], under the names of the fields of `PowerShares`."""
    rates: tuple[RatePair, ...]
    """What one more unit is worth."""
    options: tuple[OptionPair, ...]
    """What each option saves, the greatest saving of the second version first."""


FIGURES = tuple(one.name for one in fields(Comparison) if one.type is NumberPair)
SHARES = tuple(one.name for one in fields(PowerShares) if one.name != "pedalled_w")


def compared(before: Outlook, after: Outlook) -> Comparison:
    """Compare two versions of a race, whatever they have in common."""
    timings = before.timing, after.timing
    earlier = {rate.quantity: rate.seconds_per_unit for rate in before.rates}
    return Comparison(
        **{name: NumberPair(*(getattr(one, name) for one in timings)) for name in FIGURES},
        shares={
            name: NumberPair(*(getattr(one.shares, name) for one in timings)) for name in SHARES
        },
        rates=tuple(
            RatePair(rate, earlier.get(rate.quantity), rate.seconds_per_unit)
            for rate in after.rates
        ),
        options=_options(before, after),
    )


def _options(before: Outlook, after: Outlook) -> tuple[OptionPair, ...]:
    earlier, later = (
        {gain.option.name: gain.saved_s for gain in outlook.gains} for outlook in (before, after)
    )
    return tuple(
        OptionPair(name, NumberPair(earlier.get(name), later.get(name)))
        for name in {**later, **earlier}
    )
