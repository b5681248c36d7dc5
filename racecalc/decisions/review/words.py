"""The sentences of an after-race review."""

from collections.abc import Iterable, Sequence
from statistics import median

from racecalc.decisions.review.blame import Blame
from racecalc.decisions.review.found import INPUTS, Explanation, Refined, Review
from racecalc.decisions.timing import MODEL_ERROR
from racecalc.quantities.clock import show_duration

ODD_S = 10.0
"""Seconds by which a split must stand out before it is noted; our choice."""

ODD_TIMES = 6.0
"""How many times the usual spread (median) it must stand out; our choice."""


LONG = 600.0
"""Seconds from which minutes are told; our choice."""

LIKELY = (0.5, 2.0)
"""Times over that of the plan between which no slip is suspected; our choice."""


def headline_of(found: Review, blamed: Blame, named: Sequence[Explanation]) -> str:
    """The answer in a few sentences."""
    where = "" if _finished(found) else " to the last split"
    first = (
        f"Ridden in {show_duration(found.ridden_s)}{where},"
        f" {_slower(found.difference_s)} than the plan of {show_duration(found.planned_s)}."
    )
    return " ".join((first, *_by_power(found), _verdict(found, blamed, named)))


def _by_power(found: Review) -> list[str]:
    if found.power_s is None:
        return []
    return [
        f"The ridden power makes it {_slower(found.power_s)}; what is left is"
        f" {_slower(found.rest_s)}."
    ]


def _slower(seconds: float) -> str:
    if round(abs(seconds)) == 0:
        return "0 s slower"
    size = f"{abs(seconds):.0f} s" if abs(seconds) < LONG else show_duration(abs(seconds))
    return f"{size} {'slower' if seconds > 0 else 'faster'}"


def _finished(found: Review) -> bool:
    return found.to_m >= found.distance_m


def _verdict(found: Review, blamed: Blame, named: Sequence[Explanation]) -> str:
    if blamed.finding == "nothing":
        within = "what is left is within the error of the model and the reading of the clock"
        if found.wrong:
            return f"Who was wrong: power; {within}."
        return f"Nothing was wrong beyond what is known: {within}."
    if blamed.finding == "named":
        values = " and ".join(map(_as_if, named))
        return f"Who was wrong: {_listed(found.wrong)}. It went as if {values}."
    cannot = f"cannot be told from these splits: {_why_not(blamed)}."
    if found.wrong:
        return f"Who was wrong: power; who else {cannot}"
    return f"Who was wrong {cannot}"


def _as_if(one: Explanation) -> str:
    if one.quantity == "wind":
        return f"the wind had been {_times(one)} as strong as stated"
    shown = {
        "cda": ("CdA", ".4f", " m^2"),
        "crr": ("Crr", ".5f", ""),
        "power": ("power", ".0f", " W"),
    }
    name, form, unit = shown[one.quantity]
    return f"{name} had been {one.value:{form}}{unit} instead of {one.stated:{form}}{unit}"


def _times(one: Explanation) -> str:
    return f"{one.value / one.stated:.2f} times"


def _listed(words: Iterable[str]) -> str:
    *first, last = words
    return f"{', '.join(first)} and {last}" if first else last


def _why_not(blamed: Blame) -> str:
    rivals = [" with ".join(INPUTS[name] for name in names) for names in blamed.rivals]
    if blamed.finding == "no power":
        return "without the power of each split, one that was ridden otherwise passes for anything"
    if blamed.finding == "several":
        return f"{' or '.join(rivals)} would explain what is left"
    if blamed.finding == "together":
        return f"on these splits the errors of {_listed(rivals)} go along with each other"
    return {
        "too few": f"they are too few, and it takes {blamed.needed}",
        "no pattern": "what is left scatters, and no input makes such a pattern",
        "none fits": "neither one input nor two together explain what is left",
    }[blamed.finding]


def reasons_of(found: Review, blamed: Blame, named: Sequence[Explanation]) -> tuple[str, ...]:
    """Why this is said."""
    return (
        f"Off anyway: the clock, read to {found.resolution_s:g} s, and the model, whose"
        f" standard error of {MODEL_ERROR} W means {found.model_error_s:.0f} s over all splits if"
        " it is the same on each.",
        *_told(blamed, named),
        *_pair_words(found),
    )


def _told(blamed: Blame, named: Sequence[Explanation]) -> list[str]:
    if blamed.finding != "named":
        return []
    who = _listed(INPUTS[one.quantity] for one in named)
    found = [
        f"With {who} moved, the other inputs explain no more than chance would (5 % level), and"
        f" {'no other pair' if len(named) > 1 else 'no other alone'} does as well."
    ]
    found.append("What is not named may be off as well, by less than these splits show.")
    return found + [_doubt_words(one) for one in named if one.doubt is not None]


def _doubt_words(one: Explanation) -> str:
    share = {"cda": (1.0, ".4f", " m^2"), "crr": (1.0, ".5f", ""), "power": (1.0, ".1f", " W")}
    scale, form, unit = share.get(one.quantity, (1.0 / one.stated, ".3f", " times the stated wind"))
    spread, model = (scale * part for part in (one.doubt or 0.0, one.model_doubt))
    return (
        f"{_capital(INPUTS[one.quantity])}: +- {spread:{form}}{unit} (one standard uncertainty)"
        f" by the scatter of the splits; {model:{form}}{unit} more or less would make up for the"
        " error of the model."
    )


def _pair_words(found: Review) -> list[str]:
    pair = found.pair
    if pair is None or found.finding == "nothing":
        return []
    if pair.apart and found.finding in ("no power", "too few", "no pattern"):
        return []
    if pair.apart:
        return [
            "The splits tell CdA and wind apart: the correlation of their errors is"
            f" {pair.correlation:+.2f}."
        ]
    return [
        "The splits cannot tell CdA and wind apart: the correlation of their errors is"
        f" {pair.correlation:+.2f}, so more of one and less of the other fit as well."
    ]


def _capital(words: str) -> str:
    return words[0].upper() + words[1:]


def next_race_of(found: Review, blamed: Blame) -> tuple[str, ...]:
    """What it means for the next race."""
    if blamed.finding == "nothing":
        return ("Keep the values of the race file: this race does not speak against them.",)
    if blamed.finding != "named":
        return (
            "Change nothing in the race file on the strength of this race.",
            *_what_would_tell(found, blamed),
        )
    kept = {
        "wind": "The wind was that of the day: it says nothing about the next.",
        "power": "Give the power of each split to see how much of it was ridden and what is left.",
    }
    said = [kept[name] for name in blamed.named if name in kept]
    if "cda" in blamed.named and not any(one.key == "bike.cda" for one in found.refined):
        said.append("The drag area stands in a table by yaw: no single value can be set.")
    return (*said, *(_refined_words(one) for one in found.refined))


def _refined_words(one: Refined) -> str:
    times = abs(one.value - one.stated) / one.doubt
    weak = ", which is less than two: see it again before you believe it" if times < 2.0 else ""
    return (
        f"{one.key}: one race is one run. The change is {times:.1f} standard uncertainties, the"
        f" error of the model included{weak}. Test it, or hold it against another race."
    )


def _what_would_tell(found: Review, blamed: Blame) -> list[str]:
    inputs = {name for names in blamed.rivals for name in names}
    told = []
    if found.power_s is None:
        told.append(
            "Give the power of each split; where it is known to have been held, write that in"
            " every row."
        )
    if not any(one.quantity == "wind" for one in found.alone):
        told.append(
            "State the wind of the day, as with --set air.wind_speed and air.wind_from, and ask"
            " again."
        )
    if blamed.finding == "too few":
        told.append("Give more splits, where slope or wind changes.")
    if blamed.finding in ("no pattern", "none fits"):
        told.append(
            "Look for what is not tried here: a stop, shelter, or a wind from elsewhere, which"
            " --set air.wind_from tries."
        )
    if {"cda", "wind"} <= inputs:
        told.append("Air and wind part where the course turns in the wind, as out and back.")
    if {"cda", "crr"} <= inputs:
        told.append("Air and rolling part where speeds differ much, as on climbs and flats.")
    return told


def notes_of(found: Review, unmet: Sequence[int]) -> tuple[str, ...]:
    """What to look at before believing anything."""
    odd = _odd(found)
    likely = all(LIKELY[0] < one.ridden_s / one.planned_s < LIKELY[1] for one in found.splits)
    return (
        *(
            []
            if likely
            else [
                "Plan and ride are no match on some split: were hours and minutes mixed up, or"
                " distances, or is it the file of another course?"
            ]
        ),
        *(
            ["The last split ends before the finish: only the ridden part is reviewed."]
            if not _finished(found)
            else []
        ),
        *(
            [
                f"Split {odd} stands out by itself: a stop, traffic, or a slip in clock or"
                " distance? Its seconds pull at everything below."
            ]
            if odd
            else []
        ),
        *(
            [
                "Speed limits and bends of the race file keep the ridden power from being ridden"
                f" on split {_listed(map(str, unmet))}: the rider went faster there, or less"
                " carefully."
            ]
            if unmet
            else []
        ),
    )


def _odd(found: Review) -> int:
    """The split, from 1, whose rest stands out from all others; 0 for none."""
    if len(found.splits) < 4:
        return 0
    pace = [one.rest_s / one.planned_s for one in found.splits]
    usual = median(pace)
    off = [abs(one - usual) for one in pace]
    spread = median(off)
    at = max(range(len(off)), key=lambda row: off[row] * found.splits[row].planned_s)
    far = off[at] * found.splits[at].planned_s > ODD_S and off[at] > ODD_TIMES * spread
    return at + 1 if far else 0


def cautions_of(found: Review, meter_area: float | None) -> tuple[str, ...]:
    """What is in the answer and what is not."""
    ten_metres = 10.0 * found.ridden_s / found.to_m
    return (
        "Each value is what makes the model meet the clock if all else is as stated. Traffic,"
        " shelter of other riders, a stop, gusts, a wind from elsewhere, a wet or rough road and"
        " the lines ridden all pass for it.",
        f"A split that ends 10 m (33 ft) elsewhere is {ten_metres:.1f} s off.",
        "Times of the plan are estimates and no targets: do not look for lost seconds in bends and"
        " on descents.",
        *(
            [
                "The ridden power is spread evenly over each split, but for where bends and speed"
                " limits hold the rider back. A power meter that reads 1 % high passes for"
                f" {meter_area:.4f} m^2 more CdA."
            ]
            if meter_area is not None
            else ["No power is given, so power is one of those that may have been wrong."]
        ),
        *(
            []
            if any(one.quantity == "wind" for one in found.alone)
            else ["The race file states no wind, so none was tried."]
        ),
    )
