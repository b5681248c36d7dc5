"""Words for what riders show of an item: what kind it is, and how much is known."""

from typing import Literal

from racecalc.decisions.evidence.untested import Prediction

Character = Literal[
    "works on everyone",
    "about the same for all",
    "best for some, bad for others",
    "slows nearly everyone",
    "differs from rider to rider",
    "cannot be told yet",
]

NEARLY_ALL = 0.9
"""Chance of a gain from which an item works on everyone."""

LOSS_LIMIT = 0.05
"""Chance of losing more than the margin from which an item is bad for some."""

FEWEST_TO_TELL_APART = 4
"""Riders below which no word is given; the chances are shown all the same."""

TOO_LITTLE = "the riders are too few, or their tests too coarse, to tell riders apart"


def character_of(
    riders: int, saving: float, tau_low: float, prediction: Prediction
) -> tuple[Character, str]:
    """Word for an item, by what it does to a rider who was not tested, and why.

    Parameters
    ----------
    riders : int
        How many were tested.
    saving, tau_low : float
        Mean saving and lower end of the spread between riders, in the unit of the prediction.
    prediction : Prediction
        For an untested rider.

    Returns
    -------
    character : Character
    because : str
        In one sentence without units. The limits are this package's choice, no source.
    """
    chances = (
        f"another rider gains with a chance of {_percent(prediction.chance_faster)} and loses more "
        f"than the margin with {_percent(prediction.chance_of_loss)}"
    )
    word = _word(riders, saving, tau_low, prediction)
    if word == "cannot be told yet":
        return word, f"{chances}, but {TOO_LITTLE}"
    if word == "about the same for all":
        return word, "eight riders in ten lie within the margin of the middle one"
    return word, chances


def _word(riders: int, saving: float, tau_low: float, prediction: Prediction) -> Character:
    faster, loss = prediction.chance_faster, prediction.chance_of_loss
    if riders < FEWEST_TO_TELL_APART:
        return "cannot be told yet"
    if faster >= NEARLY_ALL and loss <= LOSS_LIMIT:
        return "works on everyone"
    if faster <= 1.0 - NEARLY_ALL:
        return "slows nearly everyone"
    if prediction.upper - prediction.lower <= 2.0 * prediction.margin:
        return "about the same for all"
    if tau_low == 0:
        return "cannot be told yet"
    good = saving > 0 and loss > LOSS_LIMIT
    return "best for some, bad for others" if good else "differs from rider to rider"


def spread_words(
    riders: int, tau: float, tau_interval: tuple[float, float], typical_error: float
) -> str:
    """What so many riders tell of the differences between riders, in one sentence.

    Parameters
    ----------
    riders : int
        Number of riders, at least two.
    tau, typical_error : float
        Spread found, and the root mean square of the standard errors, in one unit.
    tau_interval : tuple of float
        95 % interval of the spread.

    Returns
    -------
    str
        Without units: in multiples of the spread found, or of the test error.
    """
    low, high = tau_interval
    count = f"With {riders} riders tested, "
    allowed = "(95 % limit); the range for another rider allows for it."
    if low > 0 and tau > 0:
        return (
            f"{count}the true spread between riders may be {high / tau:.1f} times what was found "
            f"{allowed}"
        )
    if high > 0:
        return (
            f"{count}no spread beyond the test error is certain, yet it may be as large as "
            f"{high / typical_error:.1f} test errors {allowed}"
        )
    return f"{count}results differ even less than the stated test errors would make them."


def _percent(chance: float) -> str:
    if chance < 0.01:
        return "under 1 %"
    return "over 99 %" if chance > 0.99 else f"{100.0 * chance:.0f} %"
