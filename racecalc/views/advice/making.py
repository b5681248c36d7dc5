"""From race files to pages: one, or a squad at once."""

import re
import shlex
from collections import Counter, deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import BrokenExecutor, Executor, Future
from contextlib import AbstractContextManager
from dataclasses import dataclass, field, replace
from datetime import date
from itertools import count
from pathlib import Path
from typing import Literal, get_args

from racecalc.decisions.advice.advice import NO_WISH, SECTIONS, Advice, Wish, advise
from racecalc.domain.loading import load_race
from racecalc.errors import InputError, RacecalcError
from racecalc.files.inputs import inputs_of, sources_of
from racecalc.files.opening import decoded, read_bytes
from racecalc.quantities.clock import today
from racecalc.quantities.showing import System
from racecalc.views.advice.basis_part import Basis
from racecalc.views.advice.html import Paper, html_of
from racecalc.views.advice.markdown import markdown_of
from racecalc.views.advice.pdf import pdf_of
from racecalc.views.advice.sheet import (
    Block,
    Grid,
    Items,
    Line,
    Paragraph,
    Part,
    Section,
    Sheet,
    Words,
)
from racecalc.views.advice.text import text_of
from racecalc.views.advice.whole import sheet_of
from racecalc.views.tables import columns_of

# --- The commands that give the numbers of a page again ------------------------------------------


@dataclass(frozen=True)
class Origin:
    """Where the race came from, and what was asked beside it."""

    file: str
    """Name of the race file, without its folder."""
    changes: tuple[str, ...] = ()
    """As ``--set`` takes them."""
    repeatability: tuple[str, ...] = ()
    """As ``decide`` takes it."""


def repeating(advice: Advice, origin: Origin) -> dict[str, str]:
    """A command for each part of the page, by its name; the page tells its numbers by them."""
    # A name that begins like a flag would be taken for one.
    file = f"./{origin.file}" if origin.file.startswith("-") else origin.file
    given = [file, *_flags("--set", origin.changes)]
    return {
        name: shlex.join(["racecalc", name, *given, *rest])
        for name, rest in _wished(advice, origin)
    }


def _flags(flag: str, values: Iterable[str]) -> list[str]:
    return [word for value in values for word in (flag, value)]


def _wished(advice: Advice, origin: Origin) -> list[tuple[str, list[str]]]:
    wish, basket = advice.wish, advice.shopping.basket
    drawing = ["--draws", str(wish.draws), "--seed", str(wish.seed)]
    drawn = drawing if advice.race.doubts.stated else []
    worth = _flags("--price-per-second", _told(wish.per_second))
    found = [("time", drawn)]
    if advice.pacing is not None:
        found.append(("pace", ["--sections", str(SECTIONS)]))
    if advice.values:
        found.append(("value", [*worth, *drawn]))
    if basket is not None:
        budget = ["--budget", str(basket.budget), "--races", str(basket.races_hired)]
        required = _flags("--require", advice.shopping.required)
        without = _flags("--without", advice.shopping.held_back)
        found.append(("basket", [*budget, *required, *without]))
    if advice.decision is not None:
        asked = _flags("--repeatability", origin.repeatability)
        fee = _flags("--fee", _told(wish.session_fee))
        found.append(("decide", [*worth, *fee, *asked, *drawing]))
    return found


def _told(money: object) -> list[str]:
    return [] if money is None else [str(money)]


# --- A page without the folders of the machine that it was made on -------------------------------

FILE = r"(?=[^/\\\n]+\.(?:toml|csv|gpx|fit|tcx)\b)"
"""What must follow, so that no words with a stroke in them, as km/h, are taken for a folder."""


def without_folder(sheet: Sheet, folder: Path) -> Sheet:
    """Leave out the folder of the race file where a sentence names a file in it."""
    if not folder.name:
        return sheet
    either = "|".join(re.escape(one) for one in {str(folder), folder.as_posix()})
    told = re.compile(rf"(?<![\w/\\])(?:{either})[/\\]{FILE}")

    def part(one: Part) -> Part:
        return replace(one, text=told.sub("", one.text)) if isinstance(one, Words) else one

    def line(parts: Line) -> Line:
        return tuple(map(part, parts))

    def block(one: Block) -> Block:
        if isinstance(one, Paragraph):
            return replace(one, line=line(one.line))
        if isinstance(one, Items):
            return replace(one, lines=tuple(map(line, one.lines)))
        if isinstance(one, Grid):
            return replace(one, rows=tuple(tuple(map(line, row)) for row in one.rows))
        return replace(one, alt=line(one.alt), caption=line(one.caption))

    def section(one: Section) -> Section:
        return replace(one, blocks=tuple(map(block, one.blocks)))

    front, rest = tuple(map(section, sheet.front)), tuple(map(section, sheet.rest))
    return replace(sheet, headline=line(sheet.headline), front=front, rest=rest)


# --- From a race file to a page, in any of the forms that a page is written in -------------------

PageForm = Literal["html", "md", "pdf", "txt"]

COLUMNS = 80
"""Columns of a page as a text file."""


@dataclass(frozen=True)
class PageRequest:
    """What a page is to be, in a form that can be sent to another process."""

    changes: tuple[str, ...] = ()
    """Values to try, as ``--set`` takes them."""
    units: System = "metric"
    """System of units."""
    wish: Wish = NO_WISH
    """What is asked beside the race file."""
    repeatability: tuple[str, ...] = ()
    """The scatters of the wish as they were given."""
    form: PageForm = "html"
    """What it is written as."""
    paper: Paper | None = None
    """What a PDF is for; by the units unless given."""
    made_on: date = field(default_factory=today)
    """Day that the page names."""


NOTHING_ASKED = PageRequest()


def form_of(path: Path) -> PageForm:
    """What a page is written as, by the ending of its file."""
    for form in get_args(PageForm):
        if path.suffix.lower() == f".{form}":
            return form  # type: ignore[no-any-return]
    raise InputError(
        "--output", f"'{path}' is no kind of page", "end it with .html, .pdf, .md or .txt"
    )


def advice_on(race_file: Path, asked: PageRequest, text: str | None = None) -> tuple[Advice, Sheet]:
    """Work out the advice on a race, and what its page says."""
    content = read_bytes(race_file) if text is None else text.encode()
    text = decoded(content, race_file)
    advice = advise(load_race(race_file, asked.changes, text), asked.wish)
    inputs = inputs_of(text, race_file.name, asked.changes)
    origin = Origin(race_file.name, (*asked.changes, *_lowered(advice)), asked.repeatability)
    basis = Basis(
        inputs=inputs,
        sources=sources_of(race_file, content, inputs),
        commands=repeating(advice, origin),
        made_on=asked.made_on,
    )
    sheet = sheet_of(advice, basis, asked.units)
    return advice, without_folder(sheet, race_file.parent)


def _lowered(advice: Advice) -> tuple[str, ...]:
    """The change of the power for which an advice holds, where the stated one cannot be held."""
    if advice.stated_power_w is None:
        return ()
    return (f'rider.power="{advice.race.rider.power:.0f} W"',)


def written(sheet: Sheet, form: PageForm, units: System, paper: Paper | None = None) -> bytes:
    """Write a page."""
    if form == "pdf":
        return pdf_of(html_of(sheet, paper or ("A4" if units == "metric" else "letter")))
    if form == "html":
        return html_of(sheet, paper).encode()
    if form == "md":
        return markdown_of(sheet).encode()
    with columns_of(COLUMNS):
        return text_of(sheet).encode()


def page_of(race_file: Path, asked: PageRequest = NOTHING_ASKED) -> bytes:
    """Make the page of a race."""
    _, sheet = advice_on(race_file, asked)
    return written(sheet, asked.form, asked.units, asked.paper)


# --- The pages of many races at once, on any executor --------------------------------------------

AHEAD = 16
"""Races that are handed over before the first of them is done: enough to keep some workers busy,
and few enough that finished pages do not pile up."""


@dataclass(frozen=True)
class PageOutcome:
    """What became of a race."""

    race_file: Path
    """The race file."""
    page: bytes | None
    """Content of its page; None where none could be made."""
    problem: str = ""
    """Why not; empty for a page."""
    ours: bool = False
    """Whether the fault is ours and not that of the file."""
    lost: bool = False
    """Whether its executor broke before or while it was made, so that nothing is said of it."""


def squad(
    races: Iterable[Path],
    asked: PageRequest = NOTHING_ASKED,
    *,
    executor: Executor | None = None,
    ahead: int = AHEAD,
) -> Iterator[PageOutcome]:
    """Make the page of every race of a squad.

    Examples
    --------
    >>> [(made.race_file.name, made.page) for made in squad([Path("none.toml")])]
    [('none.toml', None)]
    """
    if executor is None:
        for race_file in races:
            yield make(race_file, asked)
        return
    waiting: deque[tuple[Path, Future[PageOutcome]]] = deque()
    try:
        for race_file in races:
            waiting.append((race_file, _handed_over(race_file, asked, executor)))
            if len(waiting) >= ahead:
                yield _result(*waiting.popleft())
        while waiting:
            yield _result(*waiting.popleft())
    finally:
        for _, future in waiting:
            future.cancel()


def make(race_file: Path, asked: PageRequest) -> PageOutcome:
    """Make one page; whatever is wrong comes back as words, which every executor can carry."""
    try:
        return PageOutcome(race_file, page_of(race_file, asked))
    except RacecalcError as error:
        # A word on another file, as a course, does not say whose it is.
        told = str(error) if race_file.name in str(error) else f"{race_file}: {error}"
        return PageOutcome(race_file, None, told, error.exit_status == RacecalcError.exit_status)
    except Exception as error:
        return PageOutcome(race_file, None, _fault(race_file, error), ours=True)


def squad_in_pools(
    races: Sequence[Path],
    asked: PageRequest,
    pool: Callable[[int], AbstractContextManager[Executor]],
    jobs: int,
) -> Iterator[PageOutcome]:
    """Make the pages in a pool, and what is lost with one alone in a new one."""
    if min(jobs, len(races)) < 2:
        yield from squad(races, asked)
        return
    with pool(min(jobs, len(races))) as executor:
        for made in squad(races, asked, executor=executor, ahead=max(AHEAD, 2 * jobs)):
            if not made.lost:
                yield made
                continue
            with pool(1) as alone:
                (again,) = squad([made.race_file], asked, executor=alone)
            yield again


def _handed_over(race_file: Path, asked: PageRequest, executor: Executor) -> "Future[PageOutcome]":
    try:
        return executor.submit(make, race_file, asked)
    except BrokenExecutor as error:
        broken: Future[PageOutcome] = Future()
        broken.set_exception(error)
        return broken


def _result(race_file: Path, future: "Future[PageOutcome]") -> PageOutcome:
    try:
        return future.result()
    except Exception as error:
        lost = isinstance(error, BrokenExecutor)
        return PageOutcome(race_file, None, _fault(race_file, error), ours=True, lost=lost)


def _fault(race_file: Path, error: Exception) -> str:
    return f"{race_file}: {type(error).__name__}: {error}"


def page_names(races: Sequence[Path], ending: str) -> list[str]:
    """Name the page of each race after its file, and where two files share a name by folder too.

    Examples
    --------
    >>> page_names([Path("a/race.toml"), Path("b/race.toml"), Path("c/other.toml")], "html")
    ['a-race.html', 'b-race.html', 'other.html']
    """
    stems = Counter(race.stem.casefold() for race in races)
    taken: set[str] = set()
    found = []
    for race in races:
        alone = stems[race.stem.casefold()] == 1
        name = race.stem if alone else f"{race.resolve().parent.name}-{race.stem}"
        unused = (one for one in _numbered(name) if one.casefold() not in taken)
        chosen = next(unused)
        taken.add(chosen.casefold())
        found.append(f"{chosen}.{ending}")
    return found


def _numbered(name: str) -> Iterator[str]:
    yield name
    yield from (f"{name}-{number}" for number in count(2))
