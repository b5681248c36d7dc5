"""The evidence behind each option: runs, intervals, verdict, and how many more runs it takes."""

from typing import Any, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.containers import Horizontal
from textual.widgets import OptionList
from textual.widgets.option_list import Option as Line

from racecalc.views.evidence_page import evidence_text
from racecalc.views.workspace.page import Page
from racecalc.views.workspace.place import Place
from racecalc.views.workspace.session import Session


class EvidencePlace(Place):
    """What is known, and from what."""

    BINDINGS: ClassVar = []

    def __init__(self, session: Session, name: str) -> None:
        super().__init__(session, name)
        self._names: list[str] = []

    def compose(self) -> ComposeResult:
        """The options to the left, what is known of one to the right."""
        with Horizontal(id="evidence-body"):
            yield OptionList(id="evidence-options", markup=False)
            yield Page("evidence-page")

    def take_focus(self) -> None:
        """Begin with the options."""
        self.query_one(OptionList).focus()

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
        listed.clear_options()
        listed.add_options(
            Line(f"{'runs ' if known[name].trial else 'claim'} {name}") for name in names
        )
        if names:
            listed.highlighted = min(held, len(names) - 1)
        else:
            self.query_one(Page).show_text("The race file has no option that can be worked out.")

    @on(OptionList.OptionHighlighted)
    def _chosen(self, event: OptionList.OptionHighlighted) -> None:
        event.stop()
        name = self._names[event.option_index]
        answer = self.session.answered
        gain = next(one for one in answer.gains if one.option.name == name)
        option = next(one for one in self.session.race.single_options if one.name == name)

        def work() -> Any:
            from racecalc.decisions.evidence.for_option import test_behind

            return test_behind(option, answer.base)

        def done(found: Any) -> None:
            self.query_one(Page).show(lambda: evidence_text(gain, found))

        self.desk.begin("evidence", "", work, done, self.query_one(Page).show_problem)
