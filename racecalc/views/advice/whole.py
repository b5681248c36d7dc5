"""The whole page, from an advice and what it was made from."""

from racecalc.decisions.advice.advice import Advice
from racecalc.quantities.showing import System
from racecalc.views.advice.basis_part import Basis, basis_sections, made_line
from racecalc.views.advice.card_part import card_section, landmarks_section
from racecalc.views.advice.evidence_part import evidence_section
from racecalc.views.advice.front import front_sections, headline
from racecalc.views.advice.options_part import options_section
from racecalc.views.advice.sheet import SHORT, Sheet, Words


def sheet_of(advice: Advice, basis: Basis, units: System) -> Sheet:
    """Say all of an advice, in whatever form it will be written."""
    return Sheet(
        title=Words(advice.race.name, SHORT),
        headline=headline(advice, units),
        front=front_sections(advice, units),
        rest=(
            *card_section(advice, units),
            *landmarks_section(advice, units),
            *options_section(advice),
            *evidence_section(advice),
            *basis_sections(advice, basis, units),
        ),
        made=made_line(basis),
    )
