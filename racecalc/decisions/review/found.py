"""What an after-race review says."""

from dataclasses import dataclass

INPUTS = {
    "cda": "air resistance (CdA)",
    "crr": "rolling resistance (Crr)",
    "wind": "wind",
    "power": "power",
}
"""What may have been wrong, by its key, in words."""


@dataclass(frozen=True)
class ReviewedSplit:
    """One split, as planned and as ridden.

    Parameters
    ----------
    from_m, to_m : float
        Where it begins and ends [m].
    planned_s, ridden_s : float
        Time on it by the plan and by the clock [s].
    difference_s, difference_so_far_s : float
        Ridden less planned, on it and from the start to its end [s]; positive is slower.
    planned_w : float
        Mean power of the plan, as a meter would show it [W].
    ridden_w : float or None
        Mean power ridden [W]; None where none was given.
    power_s : float or None
        What the ridden power explains of the difference [s]; None where none was given.
    rest_s, rest_so_far_s : float
        What is left of the difference then [s].
    """

    from_m: float
    to_m: float
    planned_s: float
    ridden_s: float
    difference_s: float
    difference_so_far_s: float
    planned_w: float
    ridden_w: float | None
    power_s: float | None
    rest_s: float
    rest_so_far_s: float


@dataclass(frozen=True)
class Explanation:
    """One input moved until the race ridden again meets the clock best, all others as stated.

    Parameters
    ----------
    quantity : {"cda", "crr", "wind", "power"}
        Which input.
    stated, value : float
        In the race file or plan, and where it explains the rest best: drag area at zero yaw
        [m^2], rolling-resistance coefficient, wind where the race file states it (negative from
        the other side) [m/s], or mean power of the plan [W].
    doubt : float or None
        Standard uncertainty of the value, from the scatter of the splits; None where too few
        show any.
    model_doubt : float
        What the standard error of the model, the same on every split, means in it.
    left_s : float
        What is left of a split, root mean square [s].
    explained : float
        Share of the rest that it explains, in squares of seconds; 0 to 1.
    believable : bool
        Whether it did not have to be moved further than can be believed.
    """

    quantity: str
    stated: float
    value: float
    doubt: float | None
    model_doubt: float
    left_s: float
    explained: float
    believable: bool


@dataclass(frozen=True)
class Pair:
    """Two inputs moved together.

    Parameters
    ----------
    explanations : tuple of Explanation, length 2
        What each comes to; share and rest are those of both together.
    correlation : float
        Of their errors, -1 to 1.
    apart : bool
        Whether the splits tell the two apart.
    """

    explanations: tuple[Explanation, Explanation]
    correlation: float
    apart: bool


@dataclass(frozen=True)
class Refined:
    """A value of the race file that the splits support.

    Parameters
    ----------
    key : str
        Of the race file.
    value : float
        In SI.
    text : str
        As it stands in a race file.
    stated : float
        What stands there now, in SI.
    doubt : float
        Standard uncertainty, the scatter of the splits and the error of the model together.
    """

    key: str
    value: float
    text: str
    stated: float
    doubt: float


@dataclass(frozen=True)
class Review:
    """A race after it was ridden.

    Parameters
    ----------
    source : str
        File of the splits as the user gave it.
    plan : str
        What was planned, in words.
    to_m, distance_m : float
        End of the last split, and length of the course [m].
    planned_s, ridden_s, difference_s : float
        To the end of the last split [s].
    power_s : float or None
        What the ridden power explains of the difference [s].
    rest_s : float
        What is left [s].
    resolution_s : float
        Step that the clock was read to [s].
    model_error_s : float
        What the standard error of the model means over all splits [s].
    splits : tuple of ReviewedSplit
        From the start.
    alone : tuple of Explanation
        Every input alone.
    pair : Pair or None
        Drag area and wind together; None where there is no wind, or too few splits.
    finding : str
        What the splits say of the rest, as in `racecalc.decisions.review.blame.Finding`.
    wrong : tuple of str
        Who was wrong, in the words of `INPUTS`; empty where nobody was or the splits cannot tell.
    refined : tuple of Refined
        Values that the splits support.
    headline : str
        All of it in a sentence or three.
    reasons : tuple of str
        Why this is said.
    next_race : tuple of str
        What it means for the next race.
    notes : tuple of str
        What to look at first.
    cautions : tuple of str
        What is in it and what is not.
    """

    source: str
    plan: str
    to_m: float
    distance_m: float
    planned_s: float
    ridden_s: float
    difference_s: float
    power_s: float | None
    rest_s: float
    resolution_s: float
    model_error_s: float
    splits: tuple[ReviewedSplit, ...]
    alone: tuple[Explanation, ...]
    pair: Pair | None
    finding: str
    wrong: tuple[str, ...]
    refined: tuple[Refined, ...]
    headline: str = ""
    reasons: tuple[str, ...] = ()
    next_race: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
