"""The places of the workspace, in the order of their keys."""

from racecalc.views.workspace.advice_place import AdvicePlace
from racecalc.views.workspace.ask_place import AskPlace
from racecalc.views.workspace.compare_place import ComparePlace
from racecalc.views.workspace.course_place import CoursePlace
from racecalc.views.workspace.evidence_place import EvidencePlace
from racecalc.views.workspace.options_place import OptionsPlace
from racecalc.views.workspace.pacing_place import PacingPlace
from racecalc.views.workspace.place import Place
from racecalc.views.workspace.race_place import RacePlace

PLACES: tuple[type[Place], ...] = (
    RacePlace,
    CoursePlace,
    OptionsPlace,
    EvidencePlace,
    PacingPlace,
    ComparePlace,
    AskPlace,
    AdvicePlace,
)
