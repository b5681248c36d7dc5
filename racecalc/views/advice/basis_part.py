"""What a page rests on: inputs, assumptions, what is not modelled, and how to repeat it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from racecalc import __version__
from racecalc.answers.basis import assumption_lines, course_lines
from racecalc.decisions.advice.advice import LIMITS, Advice
from racecalc.files.inputs import RaceInput, SourceFile
from racecalc.quantities.showing import System
from racecalc.views.advice.sheet import Grid, Items, Line, Paragraph, Section, Words


@dataclass(frozen=True)
class Basis:
    """What a page was made from."""

    inputs: tuple[RaceInput, ...]
    """Every value of the race file."""
    sources: tuple[SourceFile, ...]
    """Files, with what tells them apart."""
    commands: Mapping[str, str]
    """What gives the numbers again, by the name of the command."""
    made_on: date
    """Day that the page names."""


def basis_sections(advice: Advice, basis: Basis, units: System) -> tuple[Section, ...]:
    """Everything that another person needs to judge the page and to repeat it."""
    race = advice.race
    mind = [*advice.timing.warnings, *(str(notice) for notice in race.notices)]
    course = list(map(str, course_lines(race.course.report, units)))
    return (
        *_listed("mind", "About the inputs", mind),
        *_listed("course", "The course file", course),
        *_listed("assumed", "Assumed, because the race file does not say", _assumed(advice)),
        Section("limits", "What is not in it", (Items(tuple((one,) for one in LIMITS)),)),
        Section("inputs", "Inputs", (_inputs(basis.inputs),)),
        Section("repeat", "To repeat it", _repeat(advice, basis)),
    )


def made_line(basis: Basis) -> Line:
    """What made the page, and when."""
    return (f"Made with racecalc {__version__} on {basis.made_on:%Y-%m-%d}.",)


def _assumed(advice: Advice) -> list[str]:
    asked = advice.pacing.asked.assumed if advice.pacing else ()
    return [*assumption_lines(advice.race), *asked]


def _listed(name: str, title: str, lines: Sequence[str]) -> tuple[Section, ...]:
    if not lines:
        return ()
    return (Section(name, title, (Items(tuple((Words(line),) for line in lines)),)),)


def _inputs(inputs: Sequence[RaceInput]) -> Grid:
    tables: dict[str, list[str]] = {}
    for one in inputs:
        tables.setdefault(one.table, []).append(f"{one.key} = {one.written}")
    return Grid(
        "Inputs",
        ("<table", "<keys"),
        tuple(((Words(table),), (Words("; ".join(keys)),)) for table, keys in tables.items()),
        stacked=False,
    )


def _repeat(advice: Advice, basis: Basis) -> tuple[Paragraph | Items, ...]:
    wish = advice.wish
    files = "; ".join(
        f"{one.name} (SHA-256 {one.digest}...)" if one.digest else one.name for one in basis.sources
    )
    return (
        Paragraph(("Files: ", Words(files), ".")),
        Paragraph(
            (
                f"{wish.draws} draws with the seed {wish.seed}, where anything is drawn. Every"
                " number above is one of these commands, which --json gives unrounded:",
            )
        ),
        Items(tuple((Words(line),) for line in basis.commands.values())),
    )
