"""From race files to advice as pages: one, or a squad at once."""

import re
from collections import Counter, deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import BrokenExecutor, Executor, Future
from contextlib import AbstractContextManager
from dataclasses import dataclass, field, replace
from datetime import date
from itertools import chain, count
from pathlib import Path
from typing import Literal, get_args

from racecalc.answers.advice import AdviceAnswer, advice_sheet, headline
from racecalc.answers.advice_details import Provenance, repeating
from racecalc.answers.advice_squad import RaceAdvice, in_a_row
from racecalc.answers.basis import Basis
from racecalc.answers.basket import BasketAnswer
from racecalc.answers.cells import Cell
from racecalc.answers.decide import DecideAnswer
from racecalc.answers.pace import PaceAnswer
from racecalc.answers.sheet import Block, Curves, Depth, Line, Lines, Sheet, Table
from racecalc.answers.time import TimeAnswer
from racecalc.answers.value import ValueAnswer
from racecalc.decisions.advice.advice import NOTHING_ASKED, Advice, AdviceRequest, advise
from racecalc.decisions.riding import load_measured
from racecalc.domain.race import Race
from racecalc.errors import InputError, RacecalcError
from racecalc.files.opening import decoded, read_bytes
from racecalc.files.race_file import RaceInput, inputs_of, sources_of
from racecalc.quantities.clock import today
from racecalc.quantities.showing import System
from racecalc.views.commands.shared import read_money_option, read_price
from racecalc.views.width import columns_of
from racecalc.views.writers.markdown import markdown_of
from racecalc.views.writers.page import Paper, html_of, pdf_of
from racecalc.views.writers.terminal import sheet_text

# --- A sheet without the folders of the machine that it was made on ------------------------------

FILE = r"(?=[^/\\\n]+\.(?:toml|csv|gpx|fit|tcx)\b)"
"""What must follow, so that no words with a slash in them, as km/h, are taken for a folder."""


def without_folder(sheet: Sheet, folder: Path) -> Sheet:
    """Leave out the folder of the race file where a sentence names a file in it."""

    def part(one: str | Cell) -> str | Cell:
        if isinstance(one, Cell) and one.tone == "quoted":
            return replace(one, text=_shortened(one.text, folder))
        return one

    def line(parts: Line) -> Line:
        return parts if isinstance(parts, str) else tuple(map(part, parts))

    def block(one: Block) -> Block:
        if isinstance(one, Lines):
            return replace(one, lines=[line(parts) for parts in one.lines])
        if isinstance(one, Table) and (reasons := one.reasons) is not None:
            return replace(one, reasons=lambda row: line(reasons(row)))
        return replace(one, alt=line(one.alt)) if isinstance(one, Curves) else one

    return replace(sheet, headline=line(sheet.headline), blocks=list(map(block, sheet.blocks)))


def _shortened(words: str, folder: Path) -> str:
    """Words without a folder before the name of a file."""
    either = "|".join(re.escape(one) for one in {str(folder), folder.as_posix()})
    told = rf"(?<![\w/\\])(?:{either})[/\\]{FILE}"
    return re.sub(told, "", words) if folder.name else words


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
    request: AdviceRequest = NOTHING_ASKED
    """What is asked next to the race file, apart from money."""
    repeatability: tuple[str, ...] = ()
    """The scatters of the request as they were given."""
    form: PageForm = "html"
    """What it is written as."""
    paper: Paper | None = None
    """What a PDF is for; by the units unless given."""
    budget: str | None = None
    wanted: str | None = None
    fee: str | None = None
    """Most to spend, price of a second and of a test session, as typed: by itself an amount is in
    the currency of each race.
    """
    made_on: date = field(default_factory=today)
    """Day that the page names."""

    def asked_about(self, race: Race) -> AdviceRequest:
        """What is asked about a race."""
        return replace(
            self.request,
            budget=read_money_option(race, "--budget", self.budget),
            per_second=read_price(race, self.wanted) if self.wanted else None,
            session_fee=read_money_option(race, "--fee", self.fee),
        )


AS_IT_IS = PageRequest()


def form_of(path: Path) -> PageForm:
    """What a page is written as, by the ending of its file."""
    for form in get_args(PageForm):
        if path.suffix.lower() == f".{form}":
            return form  # type: ignore[no-any-return]
    raise InputError(
        "--output", f"'{path}' is not a kind of page", "end it with .html, .pdf, .md or .txt"
    )


def advice_on(
    race_file: Path, asked: PageRequest = AS_IT_IS, text: str | None = None
) -> tuple[AdviceAnswer, Sheet]:
    """Work out the advice on a race, and what its page says."""
    content = read_bytes(race_file) if text is None else text.encode()
    text = decoded(content, race_file)
    race = load_measured(race_file, asked.changes, text)
    advice = advise(race, asked.asked_about(race))
    inputs = inputs_of(text, race_file.name, asked.changes)
    changes = *asked.changes, *_lowered(advice)
    provenance = Provenance(
        tuple(_without_path(one, race_file.parent) for one in inputs),
        sources_of(race_file, content, inputs),
        repeating(advice, race_file.name, changes, asked.repeatability),
        asked.made_on,
    )
    answer = _answer(advice, provenance)
    sheet = answer.basis.with_use(advice_sheet(answer, asked.units))
    return answer, without_folder(sheet, race_file.parent)


def _without_path(one: RaceInput, folder: Path) -> RaceInput:
    return replace(one, value=_shortened(one.value, folder)) if isinstance(one.value, str) else one


def _answer(advice: Advice, provenance: Provenance) -> AdviceAnswer:
    base, even = advice.base, advice.plan.even
    shopping, timed = advice.shopping, advice.timing
    basis, planned = Basis.of(base), Basis.of(even, advice.timing.warnings)
    values = ValueAnswer(base.time, tuple(advice.values), (), (), basis)
    basket, decision = shopping.basket, advice.decision
    return AdviceAnswer(
        headline="".join(map(str, headline(advice))),
        advice=advice,
        time=TimeAnswer(even, timed, planned, advice.band),
        pace=PaceAnswer(advice.pacing, Basis.of(even)) if advice.pacing else None,
        value=values if advice.values else None,
        basket=BasketAnswer(base.time, basket, shopping.steps, basis) if basket else None,
        decide=DecideAnswer(decision, (), basis) if decision else None,
        basis=basis,
        provenance=provenance,
    )


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
        return sheet_text(sheet, Depth.BASIS).encode()


def page_of(race_file: Path, asked: PageRequest = AS_IT_IS) -> tuple[bytes, RaceAdvice]:
    """Make the page of a race, and its row on the last page of a squad."""
    answer, sheet = advice_on(race_file, asked)
    return written(sheet, asked.form, asked.units, asked.paper), in_a_row(answer.advice)


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
    row: RaceAdvice | None = None
    """The same on the last page of a squad."""
    problem: str = ""
    """Why not; empty for a page."""
    ours: bool = False
    """Whether the fault is ours and not that of the file."""
    lost: bool = False
    """Whether its executor broke before or while it was made, so that nothing is said of it."""


def squad(
    races: Iterable[Path],
    asked: PageRequest = AS_IT_IS,
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
        return PageOutcome(race_file, *page_of(race_file, asked))
    except RacecalcError as error:
        # A word on another file, as a course, does not say whose it is.
        told = str(error) if race_file.name in str(error) else f"{race_file}: {error}"
        ours = error.exit_status == RacecalcError.exit_status
        return PageOutcome(race_file, None, problem=told, ours=ours)
    except Exception as error:
        return PageOutcome(race_file, None, problem=_fault(race_file, error), ours=True)


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
        told = _fault(race_file, error)
        return PageOutcome(race_file, None, problem=told, ours=True, lost=lost)


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
        numbered = chain([name], (f"{name}-{number}" for number in count(2)))
        chosen = next(one for one in numbered if one.casefold() not in taken)
        taken.add(chosen.casefold())
        found.append(f"{chosen}.{ending}")
    return found
