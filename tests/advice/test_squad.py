"""The pages of a squad: on any executor, in order, a bad file reported and the rest done."""

from collections.abc import Iterator
from concurrent.futures import (
    BrokenExecutor,
    Executor,
    Future,
    ProcessPoolExecutor,
    ThreadPoolExecutor,
)
from contextlib import contextmanager
from multiprocessing import get_context
from pathlib import Path

import pytest

from racecalc.views import advice as squad_module
from racecalc.views.advice import PageOutcome, PageRequest, make, page_names, squad, squad_in_pools
from tests.advice.races import SUIT, race_in, race_text

ASKED = PageRequest(form="txt")


@pytest.fixture
def races(tmp_path: Path) -> list[Path]:
    good = [race_in(tmp_path, race_text(SUIT), f"good{number}.toml") for number in range(3)]
    bad = race_in(tmp_path, "[rider]\nmas = 3\n", "bad.toml")
    return [good[0], bad, *good[1:], tmp_path / "none.toml"]


def test_one_bad_file_spoils_none_of_the_others(races: list[Path]) -> None:
    with ThreadPoolExecutor(2) as executor:
        found = list(squad(races, ASKED, executor=executor))
    assert [one.race_file for one in found] == races
    assert [one.page is not None for one in found] == [True, False, True, True, False]
    assert "did you mean" in found[1].problem
    assert "there is no such file" in found[4].problem
    assert not any(one.ours for one in found)
    assert found == list(squad(races, ASKED))


def test_processes_make_the_same_pages(races: list[Path]) -> None:
    with ProcessPoolExecutor(1, get_context("spawn")) as executor:
        there = list(squad(races[:2], ASKED, executor=executor))
    assert there == [make(race, ASKED) for race in races[:2]]


class Recording(Executor):
    """Does the work when its result is asked for, and counts what waits."""

    def __init__(self) -> None:
        self.waiting = self.most = 0
        self.cancelled = 0

    def submit(self, fn, /, *args, **kwargs):
        recording = self

        class Later(Future):
            def result(self, timeout=None):
                recording.waiting -= 1
                return fn(*args, **kwargs)

            def cancel(self):
                recording.cancelled += 1
                return True

        self.waiting += 1
        self.most = max(self.most, self.waiting)
        return Later()


def test_no_more_wait_than_were_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(squad_module, "page_of", lambda race, asked: (race.name.encode(), None))
    executor = Recording()
    races = [Path(f"{number}.toml") for number in range(200)]
    found = list(squad(races, executor=executor, ahead=8))
    assert executor.most == 8
    assert [one.page for one in found] == [race.name.encode() for race in races]


def test_who_stops_listening_stops_the_work(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(squad_module, "page_of", lambda race, asked: (b"", None))
    executor = Recording()
    pages = squad((Path(f"{number}.toml") for number in range(20)), executor=executor, ahead=4)
    next(pages)
    pages.close()
    assert executor.cancelled == 3


@pytest.mark.parametrize("pooled", [True, False])
def test_fault_of_ours_is_told_and_not_the_end(
    monkeypatch: pytest.MonkeyPatch, *, pooled: bool
) -> None:
    def fails(race: Path, _: PageRequest) -> tuple[bytes, None]:
        if race.stem == "1":
            raise ZeroDivisionError("by zero")
        return b"page", None

    monkeypatch.setattr(squad_module, "page_of", fails)
    races = [Path("0.toml"), Path("1.toml"), Path("2.toml")]
    with ThreadPoolExecutor(1) as executor:
        found = list(squad(races, executor=executor if pooled else None))
    assert [one.page for one in found] == [b"page", None, b"page"]
    assert found[1] == PageOutcome(
        Path("1.toml"), None, problem="1.toml: ZeroDivisionError: by zero", ours=True
    )


class Breaking(Executor):
    """A pool whose worker dies over one race, which breaks the pool for all others."""

    def __init__(self, deadly: str) -> None:
        self.deadly, self.broken = deadly, False

    def submit(self, fn, /, race, asked):
        if self.broken:
            raise BrokenExecutor("a worker died")
        future: Future[PageOutcome] = Future()
        if race.stem == self.deadly:
            self.broken = True
            future.set_exception(BrokenExecutor("a worker died"))
        else:
            future.set_result(fn(race, asked))
        return future


def test_race_that_kills_its_worker_costs_no_other_its_page(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(squad_module, "page_of", lambda race, asked: (b"page", None))

    @contextmanager
    def pool(count: int) -> Iterator[Executor]:
        yield Breaking("1")

    races = [Path(f"{number}.toml") for number in range(5)]
    found = list(squad_in_pools(races, ASKED, pool, 2))
    assert [one.race_file for one in found] == races
    assert [one.page for one in found] == [b"page", None, b"page", b"page", b"page"]
    assert found[1].lost
    assert "a worker died" in found[1].problem


def test_names_of_pages_are_each_their_own(tmp_path: Path) -> None:
    races = [tmp_path / "a" / "race.toml", tmp_path / "b" / "race.toml", tmp_path / "b" / "x.toml"]
    assert page_names(races, "md") == ["a-race.md", "b-race.md", "x.md"]
    assert page_names([races[0], races[0]], "md") == ["a-race.md", "a-race-2.md"]
    odd = [races[0], races[0], tmp_path / "a-race-2.toml", tmp_path / "A-RACE.toml"]
    names = page_names(odd, "md")
    assert len({name.casefold() for name in names}) == 4


def test_executor_of_a_cluster_works_as_it_is(races: list[Path]) -> None:
    distributed = pytest.importorskip("distributed")
    with (
        distributed.LocalCluster(
            n_workers=1, threads_per_worker=1, processes=False, dashboard_address=None
        ) as cluster,
        distributed.Client(cluster) as client,
    ):
        found = list(squad(races, ASKED, executor=client.get_executor()))
    assert [one.page is not None for one in found] == [True, False, True, True, False]
