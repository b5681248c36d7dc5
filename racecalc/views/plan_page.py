"""``racecalc plan`` as text and JSON."""

from string import ascii_uppercase as LETTERS  # noqa: N812 - a constant
from typing import Any

from racecalc.decisions.evidence.judging import shown
from racecalc.decisions.evidence.planning import Plan
from racecalc.domain.trial import SI_UNIT, Measure
from racecalc.views.tables import bullets, paragraph


def plan_text(planned: Plan, measure: Measure) -> str:
    """How many runs, in which order, and what they can tell."""
    names = [label(number) for number in range(len(planned.items))]
    return (
        paragraph(_headline(planned, measure))
        + "\n"
        + paragraph(
            f"They see the wanted difference with a chance of {_percent(planned.chance_seen)};"
            f" the smallest difference seen 8 times in 10 is"
            f" {shown(planned.detectable, measure)}. {_tie(planned)}"
        )
        + "\n"
        + paragraph(
            f"Judge it with {_flags(planned, measure)}; without them the difference is seen with a"
            f" chance of {_percent(planned.chance_seen_alone)}."
        )
        + bullets(
            "Order, balanced against drift",
            [
                ", ".join(
                    f"{letter} {item}" for letter, item in zip(names, planned.items, strict=True)
                ),
                *(
                    f"session {number}: {_letters(session, planned.items)}"
                    for number, session in enumerate(planned.sessions, 1)
                ),
            ],
        )
        + bullets("Mind", planned.notes)
    )


def _headline(planned: Plan, measure: Measure) -> str:
    items = len(planned.items)
    runs = f"{planned.runs} runs of each of {items} items, {planned.runs * items} in all"
    if planned.runs_to_see is not None:
        return runs
    return (
        f"No test of up to {planned.most_runs} runs of each item sees"
        f" {planned.difference:.3g} {SI_UNIT[measure]} 8 times in 10. The order below has {runs}."
    )


def _tie(planned: Plan) -> str:
    if planned.chance_tied is None:
        return "No margin is given, so they prove no tie; state one with --margin."
    return (
        "Where there is no difference they prove a tie with a chance of"
        f" {_percent(planned.chance_tied)}."
    )


def _flags(planned: Plan, measure: Measure) -> str:
    """What `trial` must be told for the chances to hold."""
    known = planned.repeatability
    return f"--repeatability '{known.sd:.6g} {SI_UNIT[measure]}' --repeatability-df {known.df:.6g}"


def label(number: int) -> str:
    """Letters of an item by its number from 0, as the columns of a spreadsheet.

    Examples
    --------
    >>> label(0), label(25), label(26), label(52), label(702)
    ('A', 'Z', 'AA', 'BA', 'AAA')
    """
    rest, last = divmod(number, len(LETTERS))
    return (label(rest - 1) if rest else "") + LETTERS[last]


def _letters(session: tuple[str, ...], items: tuple[str, ...]) -> str:
    """The order in letters, in groups of a round each."""
    names = [label(items.index(item)) for item in session]
    one_letter = len(items) <= len(LETTERS)
    within, between = ("", " ") if one_letter else (" ", ", ")
    return between.join(
        within.join(names[start : start + len(items)]) for start in range(0, len(names), len(items))
    )


def _percent(chance: float) -> str:
    return f"{100 * chance:.0f} %"


def plan_json(planned: Plan, measure: Measure) -> dict[str, Any]:
    """Answer of ``racecalc plan``."""
    return {
        "items": list(planned.items),
        "unit": SI_UNIT[measure],
        "runs_per_item": planned.runs,
        "runs_to_see": planned.runs_to_see,
        "runs_to_tie": planned.runs_to_tie,
        "most_runs": planned.most_runs,
        "difference": planned.difference,
        "repeatability": planned.repeatability.sd,
        "repeatability_df": planned.repeatability.df,
        "detectable": planned.detectable,
        "chance_seen": planned.chance_seen,
        "chance_seen_without_repeatability": planned.chance_seen_alone,
        "chance_tied": planned.chance_tied,
        "sessions": [list(session) for session in planned.sessions],
        "sheet": [list(row) for row in planned.sheet],
        "notes": list(planned.notes),
    }
