"""What an advice was made from, what is not in it, and how to repeat it."""

import shlex
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from racecalc import __version__
from racecalc.answers.basis import Basis, course_lines
from racecalc.answers.cells import quoted
from racecalc.answers.columns import Words
from racecalc.answers.sheet import Block, Depth, Line, Lines, Table
from racecalc.decisions.advice.advice import LIMITS, SECTIONS, Advice
from racecalc.files.inputs import RaceInput, SourceFile
from racecalc.quantities.showing import System


@dataclass(frozen=True)
class Origin:
    """Where the race came from, and what was asked with it."""

    file: str
    """Name of the race file, without its folder."""
    changes: tuple[str, ...] = ()
    """As ``--set`` takes them."""
    repeatability: tuple[str, ...] = ()
    """As ``decide`` takes it."""


@dataclass(frozen=True)
class Provenance:
    """What an advice was made from."""

    inputs: tuple[RaceInput, ...]
    """Every value of the race file."""
    sources: tuple[SourceFile, ...]
    """Files, with what tells them apart."""
    commands: Mapping[str, str]
    """What gives the numbers again, by the name of the command."""
    made_on: date
    """Day that is named."""


def basis_blocks(advice: Advice, basis: Basis, made: Provenance, units: System) -> Iterator[Block]:
    """Everything that another person needs to judge an advice and to repeat it."""
    mind = [*advice.timing.warnings, *map(str, advice.race.notices)]
    assumed = [*basis.by_source, *(advice.pacing.asked.assumed if advice.pacing else ())]
    for title, lines in (
        ("About the inputs", mind),
        ("The course file", map(str, course_lines(basis.course, units))),
        ("Assumed, because the race file does not say", assumed),
    ):
        yield Lines([(quoted(line),) for line in lines], title, Depth.BASIS)
    yield Lines(LIMITS, "What is not in it", Depth.BASIS)
    yield Table("Inputs", INPUTS, _tables(made.inputs), depth=Depth.BASIS)
    yield Lines([*_repeat(advice, made)], "To repeat it", Depth.BASIS)
    version = f"Made with racecalc {__version__} on {made.made_on:%Y-%m-%d}."
    yield Lines([f"{version} An estimate and no promise."], "", Depth.BASIS)


@dataclass(frozen=True)
class Inputs:
    """A table of a race file."""

    table: str
    keys: str
    """All of them, with their values."""


INPUTS = [Words("table", "table"), Words("keys", "keys")]


def _tables(inputs: Sequence[RaceInput]) -> list[Inputs]:
    tables: dict[str, list[str]] = {}
    for one in inputs:
        tables.setdefault(one.table, []).append(f"{one.key} = {one.written}")
    return [Inputs(table, "; ".join(keys)) for table, keys in tables.items()]


def _repeat(advice: Advice, made: Provenance) -> Iterator[Line]:
    files = "; ".join(
        f"{one.name} (SHA-256 {one.digest}...)" if one.digest else one.name for one in made.sources
    )
    yield "Files: ", quoted(files), "."
    yield (
        f"{advice.request.draws} draws with the seed {advice.request.seed}, where anything is"
        " drawn. Every number above is from one of these commands, which --json gives unrounded:"
    )
    yield from ((quoted(line),) for line in made.commands.values())


# --- the commands that give the numbers again ----------------------------------------------------


def repeating(advice: Advice, origin: Origin) -> dict[str, str]:
    """A command for each part of an advice, by its name; the keys of numbers begin with it."""
    # A name that begins like a flag would be taken for one.
    file = f"./{origin.file}" if origin.file.startswith("-") else origin.file
    given = [file, *_flags("--set", origin.changes)]
    return {
        name: shlex.join(["racecalc", name, *given, *rest]) for name, rest in _asked(advice, origin)
    }


def _flags(flag: str, values: Iterable[object]) -> list[str]:
    return [word for value in values if value is not None for word in (flag, str(value))]


def _asked(advice: Advice, origin: Origin) -> Iterator[tuple[str, list[str]]]:
    request, shopping, basket = advice.request, advice.shopping, advice.shopping.basket
    drawing = ["--draws", str(request.draws), "--seed", str(request.seed)]
    drawn = drawing if advice.race.doubts.stated else []
    worth = _flags("--price-per-second", [request.per_second])
    yield "time", drawn
    if advice.pacing is not None:
        yield "pace", ["--sections", str(SECTIONS)]
    if advice.values:
        yield "value", [*worth, *drawn]
    if basket is not None:
        budget = ["--budget", str(basket.budget), "--races", str(basket.races_hired)]
        required = _flags("--require", shopping.required)
        yield "basket", [*budget, *required, *_flags("--without", shopping.excluded)]
    if advice.decision is not None:
        asked = _flags("--repeatability", origin.repeatability)
        fee = _flags("--fee", [request.session_fee])
        yield "decide", [*worth, *fee, *asked, *drawing]
