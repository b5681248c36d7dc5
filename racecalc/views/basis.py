"""What an answer rests on, for the pages that are not sheets yet."""

from racecalc.answers.basis import Basis
from racecalc.domain.race import Race
from racecalc.quantities.showing import System
from racecalc.views.tables import bullets


def basis_text(race: Race, units: System) -> str:
    """What was done to the course file and what had to be assumed."""
    course, assumed, _ = Basis.of(race).blocks(units)
    return "".join(bullets(one.title, map(str, one.lines)) for one in (course, assumed))
