"""What the athlete takes home, as text: what to ride, to use and to test, and what it rests on."""

from collections.abc import Iterable

from racecalc.decisions.bands import TimeBand
from racecalc.decisions.gain import Gain
from racecalc.decisions.outlook import Outlook
from racecalc.decisions.pacing.card import Card
from racecalc.decisions.set_value import SetValue
from racecalc.quantities.clock import show_duration
from racecalc.quantities.showing import System
from racecalc.views.basis import basis_text
from racecalc.views.card_page import ADVICE, NO_SPEED_TARGETS, card_table
from racecalc.views.gain_words import gain_words
from racecalc.views.tables import bullets, paragraph, signed

EQUIPMENT = (
    "Equipment must fit, be certified for its use and stay as its maker sold it; nothing is"
    " taped, filed or altered in ways its maker forbids.",
    "The rules of the event decide what may be used: ask the organiser before you buy.",
    "A position is a matter for a qualified fitter; no second is worth pain or a crash.",
)


def advice_text(
    outlook: Outlook,
    used: SetValue | None,
    card: Card,
    band: TimeBand | None,
    versioned: str,
    units: System,
) -> str:
    """The advice on a race.

    Parameters
    ----------
    outlook : Outlook
        Time and what each option gives.
    used : SetValue or None
        The options that are switched on, solved as one.
    card : Card
        The pacing targets.
    band : TimeBand or None
        How sure the time is; None where no doubt is stated.
    versioned : str
        What it was worked out with, and when.
    units : {"metric", "imperial"}
        System of units.
    """
    race = outlook.base.race
    by_verdict: dict[str, list[Gain]] = {}
    for gain in outlook.gains:
        by_verdict.setdefault(gain.verdict, []).append(gain)
    return (
        paragraph(f"{race.name}: {_headline(outlook, card, band)}")
        + _used_text(used)
        + bullets("Faster here", map(gain_words, by_verdict.get("faster", [])))
        + bullets(
            "Not known yet: test before you pay", map(gain_words, by_verdict.get("undecided", []))
        )
        + bullets("Leave it", map(gain_words, _no_gain(by_verdict)))
        + bullets("Not worked out", (f"{one.name}: {one.problem}" for one in outlook.refused))
        + "\nHow hard to ride\n"
        + paragraph(f"Held: {card.limit}.")
        + card_table(card, units)
        + paragraph(f"{NO_SPEED_TARGETS} {ADVICE}")
        + bullets("What speaks against it", card.warnings)
        + bullets("Before you follow it", (*card.cautions, *EQUIPMENT))
        + bullets("About the inputs", (str(notice) for notice in race.notices))
        + basis_text(race, units)
        + "\n"
        + paragraph(versioned)
    )


def _headline(outlook: Outlook, card: Card, band: TimeBand | None) -> str:
    sure = (
        f"give or take {outlook.timing.model_error_s:.0f} s by the model alone"
        if band is None
        else f"at an even effort between {show_duration(band.spread.low_95_s)} and"
        f" {show_duration(band.spread.high_95_s)} in 95 of 100 cases"
    )
    return (
        f"about {show_duration(outlook.base.time)} at an even effort, about"
        f" {show_duration(card.time_s)} by the card below, without any option; {sure}."
    )


def _used_text(used: SetValue | None) -> str:
    if used is None:
        return ""
    sure = "" if used.doubt_s is None else f", give or take {used.doubt_s:.0f} s"
    price = f", for {used.price}" if used.price else ""
    return "\n" + paragraph(
        f"Together {' + '.join(used.names)}: {signed(used.saved_s)} s{sure} (one standard"
        f" uncertainty){price}."
    )


def _no_gain(by_verdict: dict[str, list[Gain]]) -> Iterable[Gain]:
    return [*by_verdict.get("tie", []), *by_verdict.get("slower", [])]
