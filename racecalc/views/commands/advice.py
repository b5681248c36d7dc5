"""The command that makes the page an athlete takes home, for one race or a whole squad."""

import dataclasses
import json
import os
import signal
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from racecalc.answers.advice_squad import SquadAdvice, squad_advice_sheet
from racecalc.answers.sheet import Depth, Sheet
from racecalc.decisions.advice.advice import AdviceRequest
from racecalc.errors import InputError
from racecalc.files.race_writing import (
    folder_for,
    refuse_to_write,
    refuse_without_folder,
    replace_file,
)
from racecalc.quantities.showing import System
from racecalc.views.advice import (
    PageForm,
    PageOutcome,
    PageRequest,
    advice_on,
    form_of,
    page_names,
    squad_in_pools,
    written,
)
from racecalc.views.commands.choosing import read_scatter
from racecalc.views.commands.flags import (
    FILE,
    JSON,
    SET,
    UNITS,
    USE,
    draw_options,
    outputs_option,
    price_option,
    repeatability_option,
)
from racecalc.views.commands.shared import (
    deliver,
    end,
    say,
    with_depths,
    writable,
    write_each,
)
from racecalc.views.desk import note, showing_work
from racecalc.views.writers.page import Paper, refuse_without_printer

if TYPE_CHECKING:
    from concurrent.futures import Executor


MOST_JOBS = 61
"""Processes at most: what the pool of the standard library allows on every system."""


@click.command("advice")
@click.argument("race_files", metavar="RACE...", nargs=-1, required=True, type=FILE)
@outputs_option(
    "Write the page: .html, .pdf (a browser prints it), .md for a mail, or .txt. May be repeated."
)
@click.option(
    "--out",
    "folder",
    metavar="FOLDER",
    type=FILE,
    help="Write a page for each race into this folder.",
)
@click.option(
    "--as",
    "form",
    type=click.Choice(["html", "pdf", "md", "txt"]),
    help="Format of the pages in the folder; html by default.",
)
@click.option(
    "--jobs",
    type=click.IntRange(1, MOST_JOBS),
    help="Races worked on at a time; by default one per processor.",
)
@click.option("--replace", is_flag=True, help="Replace existing pages.")
@click.option(
    "--paper",
    type=click.Choice(["A4", "letter"]),
    help="Paper of a page; by default that of the units.",
)
@click.option(
    "--budget", metavar="MONEY", help="Most to spend in total; by default budget under [money]."
)
@price_option("What a second is worth to you; by default per_second under [money].")
@click.option(
    "--fee", metavar="MONEY", help="What a test session costs; by default test_fee under [money]."
)
@repeatability_option(
    'Scatter of one run of a test, as "0.003 m^2" or "3 W at 45 km/h". May be repeated.'
)
@JSON
@with_depths
@SET
@USE
@UNITS
@draw_options
def advice_command(
    race_files: tuple[Path, ...],
    outputs: tuple[Path, ...],
    folder: Path | None,
    form: PageForm | None,
    jobs: int | None,
    replace: bool,
    as_json: bool,
    depth: Depth | None,
    explain: bool,
    **requested: Any,
) -> None:
    """The athlete's page: how to ride, what to buy, leave, test first.

    Of several races a row each; with --out FOLDER also a page each.
    """
    asked = _asked(form or "html", **requested)
    if explain and (folder or len(race_files) > 1):
        raise InputError("--explain", "is about one race", "ask for each by itself")
    if folder is None and (form or (jobs and len(race_files) == 1)):
        raise InputError(
            "--as and --jobs", "only work with --out FOLDER", "add it, or leave them out"
        )
    if folder is not None:
        if outputs or as_json:
            raise InputError("--out", "only writes files", "leave --output and --json out")
        return _pages(race_files, folder, asked, jobs, replace=replace)
    if len(race_files) > 1:
        return _in_rows(race_files, outputs, asked, jobs, as_json, depth, replace=replace)
    fit = _writable(outputs, replace=replace)
    with showing_work():
        answer, sheet = advice_on(race_files[0], asked)
    say(answer.advice.race.notices)
    _write(sheet, fit, asked)
    if as_json or not outputs:
        deliver(answer, lambda: sheet, as_json, depth, explain)
    end()
    return None


def _asked(
    form: PageForm,
    *,
    paper: Paper | None,
    units: System,
    changes: tuple[str, ...],
    use: str | None,
    repeatability: tuple[str, ...],
    draws: int,
    seed: int,
    **money: Any,
) -> PageRequest:
    scatters = tuple(read_scatter("--repeatability", text) for text in repeatability)
    request = AdviceRequest(scatters=scatters, draws=draws, seed=seed)
    if use is not None:
        names = [name.strip() for name in use.split(" + ") if name.strip()]
        changes = (*changes, f"race.use={json.dumps(names, ensure_ascii=False)}")
    return PageRequest(changes, units, request, repeatability, form, paper, **money)


def _writable(outputs: Sequence[Path], *, replace: bool) -> tuple[Path, ...]:
    def refuse(path: Path) -> None:
        if form_of(path) == "pdf":
            refuse_without_printer()
        _refuse(path, replace=replace)

    return writable(outputs, refuse)


def _write(sheet: Sheet, outputs: Iterable[Path], asked: PageRequest) -> None:
    write_each(
        outputs,
        lambda path: replace_file(path, written(sheet, form_of(path), asked.units, asked.paper)),
    )


def _in_rows(
    race_files: Sequence[Path],
    outputs: Sequence[Path],
    asked: PageRequest,
    jobs: int | None,
    as_json: bool,
    depth: Depth | None,
    *,
    replace: bool,
) -> None:
    """The advice on several races in a row each."""
    fit = _writable(outputs, replace=replace)
    in_short = dataclasses.replace(asked, form="md")
    squad, troubles = _summed_up(squad_in_pools(race_files, in_short, _workers, _jobs(jobs)))
    sheet = squad_advice_sheet(squad, asked.units)
    _write(sheet, fit, asked)
    if as_json or not outputs:
        deliver(squad, lambda: sheet, as_json, depth)
    _end(troubles)


def _summed_up(made: Iterable[PageOutcome]) -> tuple[SquadAdvice, list[int]]:
    """The rows there are, and a status for each race without one, which is told."""
    rows, problems, troubles = [], [], []
    for one in made:
        if one.row is not None:
            rows.append(one.row)
            continue
        note(f"error: {one.problem}")
        problems.append(one.problem)
        troubles.append(1 if one.ours else InputError.exit_status)
    return SquadAdvice(tuple(rows), tuple(problems)), troubles


def _jobs(wanted: int | None) -> int:
    return wanted or min(os.cpu_count() or 1, MOST_JOBS)


def _pages(
    race_files: Sequence[Path], folder: Path, asked: PageRequest, jobs: int | None, *, replace: bool
) -> None:
    """Write a page for each race that has one, say what is wrong with the others, and sum up."""
    if asked.form == "pdf":
        refuse_without_printer()
    *paths, last = (folder / name for name in page_names([*race_files, SQUAD], asked.form))
    with folder_for(folder):
        if len(race_files) > 1:
            _refuse(last, replace=replace)
        wanted, troubles = _to_make(race_files, paths, replace=replace)
        made = squad_in_pools(list(wanted.values()), asked, _workers, _jobs(jobs))
        squad, missing = _summed_up(_kept(made, wanted, troubles))
        troubles += missing
        note(f"{len(paths) - len(troubles)} of {len(paths)} pages written")
        if len(squad.races) > 1:
            _write(squad_advice_sheet(squad, asked.units), [last], asked)
    _end(troubles)


def _end(troubles: Sequence[int]) -> None:
    if troubles:
        click.get_current_context().exit(min(troubles))
    end()


SQUAD = Path("squad")
"""What the last page of a squad is called, unless a race is called so."""


def _kept(
    made: Iterable[PageOutcome], paths: Iterable[Path], troubles: list[int]
) -> Iterator[PageOutcome]:
    """The pages as they come, each in its file as soon as it is made."""
    for path, one in zip(paths, made, strict=True):
        if one.page is not None:
            try:
                replace_file(path, one.page)
                note(f"{path} written")
            except InputError as error:
                note(f"error: {error}")
                troubles.append(error.exit_status)
        yield one


def _to_make(
    race_files: Sequence[Path], paths: Sequence[Path], *, replace: bool
) -> tuple[dict[Path, Path], list[int]]:
    """The race of each page that may be written, and the status of each that may not."""
    wanted, troubles = {}, []
    for race_file, path in zip(race_files, paths, strict=True):
        try:
            _refuse(path, replace=replace)
            wanted[path] = race_file
        except InputError as error:
            note(f"error: {error}")
            troubles.append(error.exit_status)
    return wanted, troubles


@contextmanager
def _workers(count: int) -> Iterator["Executor"]:
    """Processes to make pages in."""
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing import get_context

    executor = ProcessPoolExecutor(count, get_context("spawn"), _leave_keys_to_parent)
    try:
        yield executor
    finally:
        executor.shutdown(cancel_futures=True)


def _leave_keys_to_parent() -> None:
    """Ctrl+C ends the command, which ends its workers; they need not say so one by one."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def _refuse(path: Path, *, replace: bool) -> None:
    if replace:
        refuse_without_folder(path)
    elif path.exists():
        raise InputError(str(path), "this exists already", "name another file or add --replace")
    else:
        refuse_to_write(path)
