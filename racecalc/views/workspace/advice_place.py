"""What the athlete takes home: a preview, and its export."""

from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding

from racecalc.files.race_writing import refuse_to_write, write_new_file
from racecalc.views.workspace.page import Page
from racecalc.views.workspace.place import Place
from racecalc.views.workspace.session import Session

if TYPE_CHECKING:
    from racecalc.views.advice.sheet import Sheet


class AdvicePlace(Place):
    """The advice as the athlete reads it."""

    BINDINGS: ClassVar = [
        Binding(
            "ctrl+e",
            "export",
            "Write the page",
            tooltip="write the page: .html, .pdf, .md or .txt",
            priority=True,
        ),
    ]

    def __init__(self, session: Session, name: str) -> None:
        super().__init__(session, name)
        self._sheet: Sheet | None = None

    def compose(self) -> ComposeResult:
        """The page."""
        yield Page("advice")

    def refill(self) -> None:
        """Make the advice on the race of the last good answer."""
        session, page = self.session, self.query_one(Page)
        path, text, units = session.path, session.outlook_text, session.units

        def work() -> "Sheet":
            from racecalc.views.advice.making import Asked, advice_on

            return advice_on(path, Asked(units=units), text)[1]

        def done(sheet: "Sheet") -> None:
            from racecalc.views.advice.text import text_of

            self._sheet = sheet
            page.show(lambda: text_of(sheet))

        def stopped() -> None:
            page.show_text("stopped; F9 from another place makes it anew")
            self._shown = ()

        self._sheet = None
        page.show_text("making the advice ...")
        self.desk.begin(
            "advice", "making the advice", work, done, page.show_problem, stopped=stopped
        )

    def action_export(self) -> None:
        """Ask where to, and write the page."""
        if self._sheet is not None:
            self.run_worker(self._export(self._sheet), group="export", exclusive=True)
        else:
            self.notify("there is no advice yet", timeout=2)

    async def _export(self, sheet: "Sheet") -> None:
        from racecalc.views.advice.making import form_of, written

        def check(path: Path) -> None:
            form_of(path)
            refuse_to_write(path)

        def write(path: Path) -> None:
            write_new_file(path, written(sheet, form_of(path), self.session.units))

        question = "Write the page to which file? (.html, .pdf, .md, .txt)"
        suggested = f"{self.session.path.stem}.html"
        await self.write_asking(question, suggested, check, write)
