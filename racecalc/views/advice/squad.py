"""The pages of many races at once, on any executor."""

from collections import Counter, deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import BrokenExecutor, Executor, Future
from contextlib import AbstractContextManager
from dataclasses import dataclass
from itertools import count
from pathlib import Path

from racecalc.errors import RacecalcError
from racecalc.views.advice.making import NOTHING_ASKED, Asked, page_of

AHEAD = 16
"""Races that are handed over before the first of them is done: enough to keep some workers busy,
and few enough that finished pages do not pile up."""


@dataclass(frozen=True)
class Made:
    """What became of a race.

    Parameters
    ----------
    race_file : Path
        The race file.
    page : bytes or None
        Content of its page; None where none could be made.
    problem : str
        Why not; empty for a page.
    ours : bool
        Whether the fault is ours and not that of the file.
    lost : bool
        Whether its executor broke before or while it was made, so that nothing is said of it.
    """

    race_file: Path
    page: bytes | None
    problem: str = ""
    ours: bool = False
    lost: bool = False


def squad(
    races: Iterable[Path],
    asked: Asked = NOTHING_ASKED,
    *,
    executor: Executor | None = None,
    ahead: int = AHEAD,
) -> Iterator[Made]:
    """Make the page of every race of a squad.

    Parameters
    ----------
    races : iterable of Path
        Race files, where the workers of the executor can read them.
    asked : Asked
        What all pages are to be.
    executor : concurrent.futures.Executor, optional
        Where they are made: a pool of processes, or that of a cluster; here, one by one, unless
        given. It is not shut down.
    ahead : int
        Races that are handed over at most before the first of them is done.

    Yields
    ------
    Made
        In the order of the races; a bad file spoils none of the others, unless it breaks the
        executor itself: then all that it had not done are lost.

    Examples
    --------
    >>> [(made.race_file.name, made.page) for made in squad([Path("none.toml")])]
    [('none.toml', None)]
    """
    if executor is None:
        for race_file in races:
            yield make(race_file, asked)
        return
    waiting: deque[tuple[Path, Future[Made]]] = deque()
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


def make(race_file: Path, asked: Asked) -> Made:
    """Make one page; whatever is wrong comes back as words, which every executor can carry."""
    try:
        return Made(race_file, page_of(race_file, asked))
    except RacecalcError as error:
        # A word on another file, as a course, does not say whose it is.
        told = str(error) if race_file.name in str(error) else f"{race_file}: {error}"
        return Made(race_file, None, told, error.exit_status == RacecalcError.exit_status)
    except Exception as error:
        return Made(race_file, None, _fault(race_file, error), ours=True)


def squad_in_pools(
    races: Sequence[Path],
    asked: Asked,
    pool: Callable[[int], AbstractContextManager[Executor]],
    jobs: int,
) -> Iterator[Made]:
    """Make the pages in a pool, and what is lost with one alone in a new one.

    Parameters
    ----------
    races : sequence of Path
        Race files.
    asked : Asked
        What all pages are to be.
    pool : callable
        Gives an executor with so many workers; none is asked for where one race is made at a time.
    jobs : int
        How many pages are made at a time.

    Yields
    ------
    Made
        In the order of the races; none of them is lost.
    """
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


def _handed_over(race_file: Path, asked: Asked, executor: Executor) -> "Future[Made]":
    try:
        return executor.submit(make, race_file, asked)
    except BrokenExecutor as error:
        broken: Future[Made] = Future()
        broken.set_exception(error)
        return broken


def _result(race_file: Path, future: "Future[Made]") -> Made:
    try:
        return future.result()
    except Exception as error:
        lost = isinstance(error, BrokenExecutor)
        return Made(race_file, None, _fault(race_file, error), ours=True, lost=lost)


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
