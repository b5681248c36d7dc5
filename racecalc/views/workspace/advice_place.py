"""What the athlete takes home: a preview, and its export."""

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding

from racecalc import __version__
from racecalc.files.race_writing import refuse_to_write, write_new_file
from racecalc.views.advice_page import advice_text
from racecalc.views.tables import columns_of
from racecalc.views.workspace.page import Page
from racecalc.views.workspace.place import Place
from racecalc.views.workspace.session import Session

if TYPE_CHECKING:
    from racecalc.decisions.bands import TimeBand
    from racecalc.decisions.pacing.card import Card
    from racecalc.decisions.set_value import SetValue

COLUMNS = 80
"""Columns of the advice as a file."""

SECTIONS = 12
"""Sections of its card at most, as of the command."""


class AdvicePlace(Place):
    """The advice as the athlete reads it."""

    BINDINGS: ClassVar = [
        Binding(
            "ctrl+e",
            "export",
            "Write to a file",
            tooltip="write the advice as a text file",
            priority=True,
        ),
    ]

    def __init__(self, session: Session, name: str) -> None:
        super().__init__(session, name)
        self._ready = False

    def compose(self) -> ComposeResult:
        """The page."""
        yield Page("advice")

    def _shows(self) -> tuple[object, ...]:
        return self.session.outlook, frozenset(self.session.used)

    def refill(self) -> None:
        """Make the advice of the last good answer and of what is switched on."""
        session, page = self.session, self.query_one(Page)
        outlook = session.answered
        used = tuple(gain.option for gain in outlook.gains if gain.option.name in session.used)

        def work() -> "tuple[SetValue | None, Card, TimeBand | None]":
            from racecalc.decisions.doubt import time_band
            from racecalc.decisions.pacing.answer import pace
            from racecalc.decisions.pacing.asking import asked_limit
            from racecalc.decisions.set_value import value_of_set

            base = outlook.base
            together = value_of_set(base, used, base.race.tested_sets) if used else None
            band = time_band(base) if base.race.doubts.stated else None
            return together, pace(base, asked_limit(base, "power-mean"), SECTIONS).card, band

        def done(found: "tuple[SetValue | None, Card, TimeBand | None]") -> None:
            made = f"Made with racecalc {__version__} on {datetime.now().astimezone():%Y-%m-%d}."
            self._ready = True
            page.show(lambda: advice_text(outlook, *found, made, session.units))

        def stopped() -> None:
            page.show_text("stopped; F9 from another place makes it anew")
            self._shown = ()

        self._ready = False
        page.show_text("making the advice ...")
        self.desk.begin(
            "advice", "making the advice", work, done, page.show_problem, stopped=stopped
        )

    def action_export(self) -> None:
        """Ask where to, and write the advice."""
        if self._ready:
            self.run_worker(self._export(), group="export", exclusive=True)
        else:
            self.notify("there is no advice yet", timeout=2)

    async def _export(self) -> None:
        def write(path: Path) -> None:
            with columns_of(COLUMNS):
                write_new_file(path, self.query_one(Page).made())

        question = "Write the advice to which text file?"
        await self.write_asking(question, "advice.txt", refuse_to_write, write)
