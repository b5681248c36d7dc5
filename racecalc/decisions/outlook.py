"""A race at a glance: time, where the watts go, what a unit is worth, what each option gains."""

from dataclasses import dataclass

from racecalc.decisions.gain import Gain, gain_of
from racecalc.decisions.rates import Rate, rates
from racecalc.decisions.riding import Ridden, ride
from racecalc.decisions.timing import Timing, timing
from racecalc.domain.race import Race
from racecalc.errors import InputError


@dataclass(frozen=True)
class Refused:
    """An option that cannot be worked out.

    Parameters
    ----------
    name : str
        The option.
    problem : str
        Why.
    """

    name: str
    problem: str


@dataclass(frozen=True, eq=False)
class Outlook:
    """A race at a glance.

    Parameters
    ----------
    base : Ridden
        The race without any option, solved.
    timing : Timing
        How long it takes, and where the watts go.
    rates : tuple of Rate
        What one more unit of each quantity is worth.
    gains : tuple of Gain
        What each single option gains, the greatest gain first.
    refused : tuple of Refused
        Options that cannot be worked out.
    """

    base: Ridden
    timing: Timing
    rates: tuple[Rate, ...]
    gains: tuple[Gain, ...]
    refused: tuple[Refused, ...]


def outlook_of(race: Race) -> Outlook:
    """Work out a race at a glance.

    Parameters
    ----------
    race : Race
        What is ridden.

    Returns
    -------
    Outlook
        All of it; an option that cannot be worked out spoils nothing else.

    Raises
    ------
    InputError
        If the rider comes to a stop on the way.
    """
    base = ride(race)
    gains, refused = [], []
    for option in race.single_options:
        try:
            gains.append(gain_of(base, option))
        except InputError as error:
            refused.append(Refused(option.name, str(error)))
    return Outlook(
        base=base,
        timing=timing(base),
        rates=rates(base),
        gains=tuple(sorted(gains, key=lambda gain: -gain.saved_s)),
        refused=tuple(refused),
    )
