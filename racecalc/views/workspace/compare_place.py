"""The place about two versions of a race."""

from textual import on
from textual.app import ComposeResult
from textual.containers import Horizontal
from textual.content import Content
from textual.widgets import Label, Select

from racecalc.answers.compare import CompareAnswer, compare_sheet
from racecalc.files.draft import Draft
from racecalc.views.width import paragraph
from racecalc.views.workspace.place import Page, Place
from racecalc.views.workspace.session import (
    AS_SAVED,
    AS_YOU_ARE,
    NOW,
    Version,
    WorkSession,
    worked_out,
)

NOTHING_DIFFERS = (
    "These two say the same. Change a number under Race (F2) or switch an option on under Options"
    " (F4): what that does is shown here. Ctrl+T keeps a race under a name, to compare with."
)


class ComparePlace(Place):
    """The race now, as saved, and the what-ifs that were kept."""

    FOCUS = "Page"

    def __init__(self, session: WorkSession, name: str) -> None:
        super().__init__(session, name)
        self._versions: dict[str, Version] = {}
        self._chose = False
        """Whether the versions are those that somebody chose."""

    def compose(self) -> ComposeResult:
        """Which two above, what differs below."""
        with Horizontal(id="compare-wishes"):
            for words, name, one in (("compare", "before", AS_SAVED), ("with", "after", NOW)):
                yield Label(words)
                yield Select([(one, one)], value=one, allow_blank=False, compact=True, id=name)
        yield Page("comparison")

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
        if not self._chose:
            self._choose_what_differs()
        self._compare()

    def _choose_what_differs(self) -> None:
        """Compare the race now with the first version that is another."""
        now = self._versions[NOW].text
        wanted = (AS_SAVED, AS_YOU_ARE, *self._versions)
        others = [
            one for one in wanted if one in self._versions and self._versions[one].text != now
        ]
        select = self.query_one("#before", Select)
        with select.prevent(Select.Changed):
            select.value = next(iter(others), AS_SAVED)

    @on(Select.Changed)
    def _chosen(self, event: Select.Changed) -> None:
        event.stop()
        if self._versions:
            self._chose = True
            self._compare()

    def _compare(self) -> None:
        before, after = (
            self._versions[str(self.query_one(f"#{name}", Select).value)]
            for name in ("before", "after")
        )
        units = self.session.units
        if before.text == after.text:
            self.page.show(lambda: paragraph(NOTHING_DIFFERS))
            return

        def work() -> CompareAnswer:
            first = worked_out(before)
            second = worked_out(after)
            draft = Draft(after.path, after.text)
            return CompareAnswer.of((before.name, after.name), before.text, draft, (first, second))

        def done(answer: CompareAnswer) -> None:
            self.page.show(lambda: compare_sheet(answer, units))

        self.work_out("compare", "", work, done)
