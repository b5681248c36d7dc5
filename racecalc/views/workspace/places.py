"""The places of the workspace, in the order of their keys; each is loaded when it is first seen."""

from collections.abc import Callable
from dataclasses import dataclass

from racecalc.views.workspace.place import Place
from racecalc.views.workspace.race_places import RacePlace


@dataclass(frozen=True)
class Way:
    """The way to a place."""

    name: str
    meaning: str
    """What it is called, and what it is for."""
    load: Callable[[], type[Place]]
    """Gives its class."""


def _course() -> type[Place]:
    from racecalc.views.workspace.race_places import CoursePlace

    return CoursePlace


def _options() -> type[Place]:
    from racecalc.views.workspace.option_places import OptionsPlace

    return OptionsPlace


def _evidence() -> type[Place]:
    from racecalc.views.workspace.option_places import EvidencePlace

    return EvidencePlace


def _pacing() -> type[Place]:
    from racecalc.views.workspace.pacing_places import PacingPlace

    return PacingPlace


def _compare() -> type[Place]:
    from racecalc.views.workspace.race_places import ComparePlace

    return ComparePlace


def _ask() -> type[Place]:
    from racecalc.views.workspace.ask_place import AskPlace

    return AskPlace


def _advice() -> type[Place]:
    from racecalc.views.workspace.pacing_places import AdvicePlace

    return AdvicePlace


WAYS = (
    Way("Race", "change a number and see what follows", lambda: RacePlace),
    Way("Course", "what happens where, and where a watt counts", _course),
    Way("Options", "what each option gives, and what several give together", _options),
    Way(
        "Evidence",
        "the runs behind an option, how sure they are, and how many more it takes",
        _evidence,
    ),
    Way(
        "Pacing",
        "how hard to ride where, and what the limit, the sections and the wind do to it",
        _pacing,
    ),
    Way(
        "Compare",
        "two versions side by side: the race now, as saved, and what-ifs that were kept",
        _compare,
    ),
    Way("Ask", "every other question, the same as the commands", _ask),
    Way("Advice", "what the athlete takes home, and its export", _advice),
)

FIRST = WAYS[0].name
