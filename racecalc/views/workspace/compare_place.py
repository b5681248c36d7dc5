"""Two versions of the race side by side."""

from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.app import ComposeResult
from textual.containers import Horizontal
from textual.content import Content
from textual.widgets import Label, Select

from racecalc.files.draft import Draft
from racecalc.views.compare_page import InputChange, compare_text, input_changes
from racecalc.views.workspace.page import Page
from racecalc.views.workspace.place import Place
from racecalc.views.workspace.session import AS_SAVED, NOW, Session, Version, worked_out

if TYPE_CHECKING:
    from racecalc.decisions.comparison import Comparison


class ComparePlace(Place):
    """The race now, as saved, and the what-ifs that were kept."""

    BINDINGS: ClassVar = []

    def __init__(self, session: Session, name: str) -> None:
        super().__init__(session, name)
        self._versions: dict[str, Version] = {}

    def compose(self) -> ComposeResult:
        """Which two above, what differs below."""
        with Horizontal(id="compare-wishes"):
            yield Label("compare")
            yield Select(
                ((AS_SAVED, AS_SAVED),),
                value=AS_SAVED,
                allow_blank=False,
                compact=True,
                id="before",
            )
            yield Label("with")
            yield Select(((NOW, NOW),), value=NOW, allow_blank=False, compact=True, id="after")
        yield Page("comparison")

    def take_focus(self) -> None:
        """Begin with the page."""
        self.query_one("#comparison").focus()

    def _shows(self) -> tuple[object, ...]:
        return self.session.outlook, self.session.versions()

    def refill(self) -> None:
        """Offer the versions there are, and compare the two that are chosen."""
        found = {version.name: version for version in self.session.versions()}
        for name in ("before", "after"):
            select = self.query_one(f"#{name}", Select)
            held = str(select.value)
            if list(found) != list(self._versions):
                with select.prevent(Select.Changed):
                    select.set_options((Content(one), one) for one in found)
                    select.value = held if held in found else NOW
        self._versions = found
        self._compare()

    @on(Select.Changed)
    def _chosen(self, event: Select.Changed) -> None:
        event.stop()
        if self._versions:
            self._compare()

    def _compare(self) -> None:
        before, after = (
            self._versions[str(self.query_one(f"#{name}", Select).value)]
            for name in ("before", "after")
        )
        names = (before.name, after.name)
        page, units = self.query_one(Page), self.session.units

        def work() -> "tuple[Comparison, list[InputChange]]":
            from racecalc.decisions.comparison import compared

            inputs = input_changes(before.text, Draft(after.path, after.text))
            first = worked_out(before)
            second = first if before == after else worked_out(after)
            return compared(first, second), inputs

        def done(answer: "tuple[Comparison, list[InputChange]]") -> None:
            found, inputs = answer
            page.show(lambda: compare_text(names, inputs, found, units))

        self.desk.begin("compare", "", work, done, page.show_problem)
