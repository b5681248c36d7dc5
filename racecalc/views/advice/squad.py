"""The pages of many races at once, on any executor."""

from collections import Counter, deque
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import Executor, Future
from dataclasses import dataclass
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
    """

    race_file: Path
    page: bytes | None
    problem: str = ""
    ours: bool = False


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
        In the order of the races; a bad file spoils none of the others.

    Examples
    --------
    >>> [made.problem for made in squad([Path("none.toml")])]
    ['none.toml: there is no such file']
    """
    if executor is None:
        for race_file in races:
            yield make(race_file, asked)
        return
    waiting: deque[tuple[Path, Future[Made]]] = deque()
    rest = iter(races)
    try:
        for race_file in rest:
            waiting.append((race_file, executor.submit(make, race_file, asked)))
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
        return Made(race_file, None, str(error), error.exit_status == RacecalcError.exit_status)


def _result(race_file: Path, future: "Future[Made]") -> Made:
    try:
        return future.result()
    except Exception as error:
        return Made(race_file, None, f"{race_file}: {type(error).__name__}: {error}", ours=True)


def page_names(races: Sequence[Path], ending: str) -> list[str]:
    """Name the page of each race after its file, and where two files share a name by folder too.

    Examples
    --------
    >>> page_names([Path("a/race.toml"), Path("b/race.toml"), Path("c/other.toml")], "html")
    ['a-race.html', 'b-race.html', 'other.html']
    """
    stems = Counter(race.stem for race in races)
    names = [
        race.stem if stems[race.stem] == 1 else f"{race.resolve().parent.name}-{race.stem}"
        for race in races
    ]
    seen: Counter[str] = Counter()
    found = []
    for name in names:
        seen[name] += 1
        found.append(f"{name}.{ending}" if seen[name] == 1 else f"{name}-{seen[name]}.{ending}")
    return found
