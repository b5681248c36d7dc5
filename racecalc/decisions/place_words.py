"""What places and their chances rest on, in sentences."""

from collections.abc import Mapping

from racecalc.decisions.riding import Ridden
from racecalc.decisions.rivalry import Field, Own
from racecalc.decisions.timing import MODEL_ERROR
from racecalc.quantities.clock import show_duration

NO_REASONS: Mapping[str, str] = {}

ALIKE = 0.1
"""Share by which the race file may be off the list before it looks like another course; our
choice."""


def slips(predicted: float, own: Own, field: Field) -> tuple[str, ...]:
    """What looks as if the list and the race file were not of one course.

    Parameters
    ----------
    predicted : float
        Time of the race file [s].
    own : Own
        The athlete.
    field : Field
        The rivals.

    Returns
    -------
    tuple of str
        Sentences.
    """
    low, high = (own.time, own.time) if own.listed_as else (field.times[0], field.times[-1])
    if low * (1 - ALIKE) <= predicted <= high * (1 + ALIKE):
        return ()
    listed = show_duration(low) if low == high else f"{show_duration(low)} to {show_duration(high)}"
    whose = "your time in the list is" if own.listed_as else "the times in the list are"
    return (
        f"The race file predicts {show_duration(predicted)}, but {whose} {listed}: is it the same"
        " course?",
    )


def cautions(
    base: Ridden,
    own: Own,
    field: Field,
    forbidden: tuple[str, ...] = (),
    unwished: Mapping[str, str] = NO_REASONS,
    *,
    untested_sets: bool = False,
) -> tuple[str, ...]:
    """What the places and chances rest on, and what is not in them.

    Parameters
    ----------
    base : Ridden
        The race without any option.
    own : Own
        The athlete.
    field : Field
        The rivals.
    forbidden : tuple of str
        Options that the rules forbid.
    unwished : Mapping of str to str
        Options that are not offered to close a gap, each with the reason.
    untested_sets : bool
        Whether sets were tried of which only the parts were tested.

    Returns
    -------
    tuple of str
        Sentences.
    """
    named = ", ".join(dict.fromkeys(forbidden))
    return (
        _about_own(base, own),
        _about_rivals(field),
        "No rival changes bike, clothes or effort because you do, and nobody drafts, is held up in"
        " traffic or has a mechanical: places are worked out as in a race against the clock.",
        *([f"By the race file the rules forbid: {named}."] if named else []),
        *(f"{name} is not offered to close a gap: {why}." for name, why in unwished.items()),
        *(
            ["Parts of a set may disturb each other's air; only a test of the whole set shows it."]
            if untested_sets
            else []
        ),
    )


def _about_own(base: Ridden, own: Own) -> str:
    predicted = show_duration(base.time)
    if own.listed_as:
        return (
            f"Your time of that day is taken as it was, {show_duration(own.time, 1)}, and the"
            " chances hold the doubt of the savings alone, as normal: not how good or bad your"
            " next day will be. Seconds saved and watts are worked out on the course and in the"
            f" weather of the race file, where you need {predicted}, not on that day's."
        )
    stated = ", ".join(own.doubt_from)
    return (
        f"Your time is the {predicted} predicted for the race file, as normal with a standard"
        f" uncertainty of {own.doubt:.0f} s: "
        + (f"your doubt of {stated}, and " if stated else "")
        + f"the {MODEL_ERROR} W by which the model errs."
        + ("" if stated else " Your doubt of power, CdA and weather is not stated, so not in it.")
        + " The list is of another day with other weather:"
        f" 1 % in everybody else's time is {0.01 * base.time:.0f} s here."
    )


def _about_rivals(field: Field) -> str:
    if field.spread == 0:
        return (
            "The rivals keep the times of that day. On another day form and wind give each of them"
            ' another time: state how much with --rivals, as "6 s".'
        )
    return (
        "Each rival's time is taken as normal about that of the list, with a standard deviation of"
        f" {field.spread:g} s, independent of the others: wind or rain that slows all alike is not"
        " in it."
    )
