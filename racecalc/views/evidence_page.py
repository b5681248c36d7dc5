"""What stands behind an option: its runs, its sweep, or a bare claim."""

from racecalc.answers.option_rows import gain_line
from racecalc.answers.sheet import Depth, Sheet
from racecalc.answers.trial import trial_answer, trial_sheet
from racecalc.decisions.evidence.sweep import SweepAnswer
from racecalc.decisions.evidence.trial import TrialAnswer
from racecalc.decisions.value import OptionValue
from racecalc.views.sweep_page import sweep_text
from racecalc.views.tables import bullets, paragraph
from racecalc.views.writers.terminal import sheet_text

LOOK_AT_CLAIMS = (
    "Ask whoever states it: how many runs, over how many sessions and riders, at which speed and"
    " yaw, against what, and who paid for the test.",
    "The worth of an own test before buying stands under Ask, decide; how many runs it takes,"
    " under Ask, plan.",
)


def evidence_text(gain: OptionValue, found: TrialAnswer | SweepAnswer | None) -> str:
    """What is known of an option, and from what."""
    text = sheet_text(Sheet(gain_line(gain), []), Depth.ANSWER) + "\n"
    if found is None:
        return text + _claim_text(gain)
    if isinstance(found, SweepAnswer):
        return text + sweep_text(found)
    return text + sheet_text(trial_sheet(trial_answer(found)), Depth.BASIS)


def _claim_text(gain: OptionValue) -> str:
    option = gain.option
    if option.saves is None:
        return paragraph(f"{option.name} states no saving; only its weight counts.")
    doubt = option.doubt.words if option.doubt else "none stated"
    return (
        paragraph(f"It rests on a claim and not on runs: saves {option.saves.words}.")
        + paragraph(f"Standard uncertainty: {doubt}.")
        + bullets("Before you believe it", LOOK_AT_CLAIMS)
    )
