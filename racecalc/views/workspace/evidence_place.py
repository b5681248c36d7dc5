"""The place about what options rest on: claims, runs, and the recordings of test days."""

from dataclasses import replace
from pathlib import Path
from typing import Any, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal
from textual.widgets import DataTable, OptionList
from textual.widgets.option_list import Option as Line

from racecalc.answers.basis import Basis
from racecalc.answers.measure import screen_columns
from racecalc.answers.trial import evidence_sheet, with_other_runs
from racecalc.decisions.evidence.for_option import test_behind
from racecalc.decisions.measuring.measure import day_of_sheet
from racecalc.decisions.measuring.measured import TestDay, runs_of
from racecalc.decisions.value import OptionValue, value_of
from racecalc.domain.loading import load_race
from racecalc.domain.option import Option
from racecalc.errors import InputError
from racecalc.files.race_writing import write_cells
from racecalc.views.workspace.place import Page, Place, fill_columns, row_key
from racecalc.views.workspace.session import WorkSession
from racecalc.views.workspace.work_screen import DraftChanged

LEFT_OUT = "left out on the screen"
"""Reason written into the sheet."""


class EvidencePlace(Place):
    """What is known, and from what."""

    BINDINGS: ClassVar = [
        Binding("m", "runs", "Runs", tooltip="the runs of its test day; again: the options"),
        Binding("space", "leave_out", "Counts", tooltip="leave the run out, or let it count"),
        Binding("w", "write", "Write", tooltip="write into the sheet which runs are left out"),
    ]

    def __init__(self, session: WorkSession, name: str) -> None:
        super().__init__(session, name)
        self._names: list[str] = []
        self._option: Option | None = None
        self._day: TestDay | None = None
        self._excluded: dict[int, str] = {}

    def compose(self) -> ComposeResult:
        """The options or the runs behind one of them, and what is known of it."""
        with Horizontal(id="evidence-body"):
            yield OptionList(id="evidence-options", markup=False)
            yield DataTable(id="evidence-runs", cursor_type="row", cell_padding=0)
            yield Page("evidence-page")

    def on_mount(self) -> None:
        """Begin with the options."""
        self._turn_to(None)

    def refill(self) -> None:
        """Show the options of the last good answer, those with runs first."""
        gains = self.session.answered.gains
        known = {option.name: option for option in self.session.race.single_options}
        names = sorted(
            (gain.option.name for gain in gains), key=lambda name: known[name].trial is None
        )
        listed = self.query_one(OptionList)
        held = listed.highlighted or 0
        self._names = names
        self._turn_to(None)
        listed.clear_options()
        listed.add_options(
            Line(f"{'runs ' if known[name].trial else 'claim'} {name}") for name in names
        )
        if names:
            listed.highlighted = min(held, len(names) - 1)
        else:
            self.page.show_text("The race file has no option that can be worked out.")

    @on(OptionList.OptionHighlighted)
    def _chosen(self, event: OptionList.OptionHighlighted) -> None:
        event.stop()
        name = self._names[event.option_index]
        self._option = next(one for one in self.session.race.single_options if one.name == name)
        self.refresh_bindings()
        self._show_evidence(self._option)

    def _show_evidence(self, option: Option) -> None:
        answer, gain = self.session.answered, self._gain_of(option)
        basis = Basis.of(answer.base)

        def done(found: Any) -> None:
            self.page.show(lambda: basis.with_use(evidence_sheet(gain, found)))

        self.work_out("evidence", "", lambda: test_behind(option, answer.base), done)

    def _gain_of(self, option: Option) -> OptionValue:
        return next(one for one in self.session.answered.gains if one.option.name == option.name)

    # --- the runs of a test day --------------------------------------------------------------

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:  # noqa: ARG002
        """Offer runs only where there are recordings, and their keys only where they are shown."""
        if action == "runs":
            return self._option is not None and self._option.trial_sheet is not None
        return self._day is not None if action in ("leave_out", "write") else True

    @property
    def runs(self) -> DataTable[Any]:
        """The runs of the test day."""
        return self.query_one("#evidence-runs", DataTable)

    def action_runs(self) -> None:
        """Show the runs of the test day behind the option, or the options again."""
        option = self._option
        if self._day is not None and option is not None:
            self._turn_to(None)
            self._show_evidence(option)
            return
        if option is None or option.trial_sheet is None:
            return
        sheet, path = option.trial_sheet, self.session.path
        self.work_out(
            "evidence", "measuring", lambda: day_of_sheet(sheet, load_race(path)), self._turn_to
        )

    def _turn_to(self, day: TestDay | None) -> None:
        """Show the runs of a day, or the options."""
        self._day = day
        self._excluded = {run.line: run.excluded for run in day.runs} if day else {}
        options, runs = self.query_one(OptionList), self.runs
        focused = options.has_focus or runs.has_focus
        options.display, runs.display = day is None, day is not None
        self.refresh_bindings()
        if day is not None:
            self._draw_runs(day)
        if focused:
            (options if day is None else runs).focus()

    def _draw_runs(self, day: TestDay) -> None:
        columns = screen_columns(lambda run: self._excluded[run.line])
        keys = [str(run.line) for run in day.runs]
        fill_columns(self.runs, columns, day.runs, self.session.units, keys, gap=" ")

    def action_leave_out(self) -> None:
        """Leave the run under the cursor out or let it count, and show what that does."""
        day, key = self._day, row_key(self.runs)
        if day is None or not key:
            return
        run = next(one for one in day.runs if str(one.line) == key)
        if all(lap.left_out for lap in run.laps):
            self.notify(f"no lap of it can count: {run.laps[0].left_out}", markup=False)
            return
        self._excluded[run.line] = "" if self._excluded[run.line] else LEFT_OUT
        if run.excluded and self._excluded[run.line]:
            self._excluded[run.line] = run.excluded
        self._draw_runs(day)
        self._try_runs(day)

    def _try_runs(self, day: TestDay) -> None:
        """Work the verdict and the seconds out without the runs that are left out now."""
        option = self._option
        if option is None:
            return
        saved, base = self._gain_of(option), self.session.answered.base
        runs = runs_of(day)
        excluded = tuple(self._excluded[line] for line in runs.line)
        tried = replace(option, trial=replace(runs, excluded=excluded))
        out = ", ".join(run.order for run in day.runs if self._excluded[run.line])
        words = f"Left out now: {f'run {out}' if out else 'no run'}."
        if self._changed(day):
            words += f" Not yet in {Path(day.source).name}: w writes it there."

        def done(found: tuple[OptionValue, Any]) -> None:
            self.page.show(lambda: with_other_runs(saved, *found, words))

        self.work_out(
            "evidence", "", lambda: (value_of(base, tried), test_behind(tried, base)), done
        )

    def _changed(self, day: TestDay) -> dict[int, str]:
        """What the sheet has to say otherwise, by its lines."""
        return {
            run.line: self._excluded[run.line]
            for run in day.runs
            if self._excluded[run.line] != run.excluded
        }

    def action_write(self) -> None:
        """Write into the sheet which runs are left out, and work all out anew."""
        day, option = self._day, self._option
        if day is None or option is None or option.trial_sheet is None:
            return
        changed = self._changed(day)
        if not changed:
            self.notify("the sheet says so already")
            return
        try:
            write_cells(option.trial_sheet, "excluded", changed)
        except InputError as error:
            self.desk.say_problem(error)
            return
        self.notify(f"{option.trial_sheet.name} written", markup=False)
        self.post_message(DraftChanged())
