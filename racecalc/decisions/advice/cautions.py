"""What comes before any second, in the weather and with the options of a race.

The limits for gusts and heat are those of `racecalc.decisions.handling`.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from racecalc.decisions.handling import GUST_CAUTION, GUST_TOO_STRONG, JUDGED, is_hot, speed_words
from racecalc.domain.option import Option
from racecalc.domain.race import Race
from racecalc.physics.atmosphere import rider_wind_speed

COLD = 281.15
"""Air temperature below which hands and brakes suffer, 8 degC [K]; our choice."""


@dataclass(frozen=True)
class Caution:
    """Something to heed before any second.

    Parameters
    ----------
    about : str
        What it is about, in a word or two.
    words : str
        What to do, in sentences.
    """

    about: str
    words: str


ROAD = Caution(
    "Road",
    "Law, traffic, weather and surface come first. A wet road takes grip and lengthens braking."
    " Computed speeds are no targets, on descents and in bends least of all; no position that"
    " rules or handling forbid, no aero bars close to others, no drafting where it is forbidden.",
)
BODY = Caution(
    "Power",
    "Targets are for a healthy, trained rider and no medical advice; not when ill or just"
    " recovered. Stop at chest pain, breathlessness, dizziness, confusion or chills. Nothing here"
    " is a reason to lose body mass.",
)
FIT = Caution(
    "Equipment",
    "It must fit, be certified for its use and stay as its maker sold it: no taping of vents, no"
    " sanding, drilling or cutting, no loosened straps. A helmet that is damaged, altered or the"
    " wrong size is no choice at any speed; check that you see and hear the traffic.",
)
TYRES = Caution(
    "Tyres and wheels",
    "Keep pressure within the limits of tyre and rim, lower on wide and hookless rims; check wear"
    " and seating before each race, and the mass limit of light parts.",
)
POSITION = Caution(
    "Position",
    "A matter for you and a qualified fitter. Low means less sight ahead: look up. Build it up in"
    " training; stop with numb hands or feet or a sore neck.",
)
RULES = Caution(
    "Rules",
    "The rules of the event decide what may be used: ask the organiser before you pay. A gain that"
    " is not allowed is worth nothing.",
)
MONEY = Caution(
    "Money",
    "Savings are uncertain and there is no hurry: ask first about returns, deposits and warranty.",
)
TESTS = Caution(
    "Tests",
    "On a track or a quiet road, visible, within the law, with a second person as lookout; look up,"
    " and do not chase a reading.",
)


def cautions_for(race: Race, options: Sequence[Option], *, testing: bool) -> tuple[Caution, ...]:
    """What to heed in this race.

    Parameters
    ----------
    race : Race
        Its weather.
    options : sequence of Option
        What may be bought or used.
    testing : bool
        Whether a test is advised.

    Returns
    -------
    tuple of Caution
        Those of this weather first.
    """
    return (
        *_of_wind(race, options),
        *_of_temperature(race),
        ROAD,
        BODY,
        FIT,
        TYRES,
        POSITION,
        RULES,
        MONEY,
        *([TESTS] if testing else []),
    )


def _of_wind(race: Race, options: Sequence[Option]) -> Iterator[Caution]:
    wind = rider_wind_speed(race.air.wind)
    catching = [option.name for option in options if option.ties.catches_wind]
    names = " and ".join(catching) or "deep wheels and full shrouds"
    if wind >= GUST_TOO_STRONG:
        words = (
            f"The mean wind alone is {speed_words(wind)} at the rider: ride the shallower choice"
            f" and leave {names} at home ({JUDGED})."
        )
    elif catching or wind >= GUST_CAUTION:
        words = (
            f"Gusts are not in these numbers, and side wind catches {names}: take care from gusts"
            f" of {speed_words(GUST_CAUTION)} at the rider on, after lorries and in gaps of hedges;"
            f" from {speed_words(GUST_TOO_STRONG)} on ride the shallower choice, whatever the"
            f" seconds say ({JUDGED}). Practise in wind first."
        )
    else:
        return
    yield Caution("Wind", words)


def _of_temperature(race: Race) -> Iterator[Caution]:
    if is_hot(race.air):
        yield Caution(
            "Heat",
            "Above 28 degC (82 degF) power falls and more must be drunk, neither of which is in"
            " the numbers: ride softer, drink, prefer vented clothing, and leave no bottle behind"
            " for seconds.",
        )
    elif race.air.density is None and race.air.temperature < COLD:
        yield Caution(
            "Cold",
            "Below 8 degC (46 degF) hands, brakes and tyres need more care, and muscles more time.",
        )
