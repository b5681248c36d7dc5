"""The places about riding: pacing, and the page to take home."""

from dataclasses import replace
from math import isfinite
from typing import ClassVar, cast

from rich.text import Text
from textual import on, work
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal
from textual.events import Resize
from textual.timer import Timer
from textual.widgets import Input, Label, Select, Static

from racecalc.answers.basis import Basis
from racecalc.answers.pace import PaceAnswer, effort_of, efforts, pace_sheet
from racecalc.answers.sheet import Sheet, Table
from racecalc.decisions.pacing.card import (
    MOST_SECTIONS,
    SECTIONS,
    Pacing,
    in_other_weathers,
    other_winds,
    pace,
)
from racecalc.decisions.pacing.limits import FOURTH, MOST_ORDER, asked_limit
from racecalc.decisions.pacing.own_plan import stated_plan
from racecalc.domain.pacing import LimitKind
from racecalc.errors import InputError, RacecalcError
from racecalc.quantities.clock import show_duration
from racecalc.quantities.kinds import TIME
from racecalc.views.cards import card_writer, write_card
from racecalc.views.commands.shared import read_quantity
from racecalc.views.desk import tracked
from racecalc.views.workspace.drawing import (
    band,
    coloured,
    names_above,
    profile,
    styles_of,
)
from racecalc.views.workspace.place import Page, Place
from racecalc.views.workspace.session import WorkSession
from racecalc.views.workspace.work_screen import show_or_hide

# --- The pacing card in the making ---------------------------------------------------------------

LIMITS = (
    ("as stated", "stated"),
    ("power mean", "power-mean"),
    ("plain mean", "mean"),
    ("critical power", "critical-power"),
)
WISHES = (("order", f"{FOURTH:g}", ""), ("sections", f"{SECTIONS}", ""), ("goal", "", "none"))
"""Name of each, what it is at first, and what its empty field says."""
PAUSE = 0.4

LEAST_CHART, LEAST_LINES, ROOMY = 30, 16, 12
"""Columns of a chart and lines of the place from which on it is drawn, and lines of it from which
on names may take two.
"""

EFFORTS = {"push": "bold reverse", "hold": "bold", "ease": "dim"}
"""How the watts of an effort are written."""


def _legend(hard: float, easy: float) -> Text:
    return Text.assemble(
        (" push ", EFFORTS["push"]), f" above {hard:.0f} W   ", ("hold", EFFORTS["hold"]),
        " between   ", ("ease", EFFORTS["ease"]), f" under {easy:.0f} W",
    )  # fmt: skip


def targets_first(sheet: Sheet) -> Sheet:
    """The sheet with its targets right below the headline, which need not name the race here."""
    table = next(one for one in sheet.blocks if isinstance(one, Table))
    blocks = [table, *(one for one in sheet.blocks if one is not table)]
    return replace(sheet, headline=tuple(sheet.headline)[1:], blocks=blocks)


def writing_binding(action: str, what: str, where: str) -> Binding:
    """The key that writes what a place made, in the fields of the place too."""
    meaning = f"write {what}{where}"
    return Binding("ctrl+e", action, f"Write {what}", tooltip=meaning, priority=True)


class PacingChart(Static):
    """The profile with the watts of the card."""

    def on_resize(self, _: Resize) -> None:
        """Have it drawn as wide as there is room."""
        self.query_ancestor(PacingPlace).draw()


class PacingPlace(Place):
    """How hard to ride where."""

    FOCUS = "Page"
    BINDINGS: ClassVar = [writing_binding("export", "the card", " to a file")]

    def __init__(self, session: WorkSession, name: str) -> None:
        super().__init__(session, name)
        self._answer: PaceAnswer | None = None
        self._made_for: tuple[object, ...] = ()
        self._timer: Timer | None = None

    def compose(self) -> ComposeResult:
        """What is held above, the card below."""
        with Horizontal(id="pacing-wishes"):
            yield Label("limit")
            yield Select(LIMITS, value="stated", allow_blank=False, compact=True, id="limit")
            for name, first, none in WISHES:
                yield Label(name)
                yield Input(first, none, id=name, compact=True, select_on_focus=False)
        yield PacingChart("", id="pacing-chart", markup=False)
        yield Page("card")

    def refill(self) -> None:
        """Make the card of the last good answer."""
        self._make()

    @on(Select.Changed)
    @on(Input.Changed)
    def _wished(self, event: Select.Changed | Input.Changed) -> None:
        event.stop()
        if self._timer:
            self._timer.stop()
        self._timer = self.set_timer(PAUSE, self._make)

    def _make(self) -> None:
        session = self.session
        if session.outlook is None:
            return
        page, base = self.page, session.answered.base
        try:
            wishes = self._wishes()
        except InputError as error:
            self._answer, self._made_for = None, ()
            page.show_problem(error)
            return
        if self._made_for and self._made_for[0] is base and self._made_for[1] == wishes:
            return
        self._answer, self._made_for = None, (base, wishes)
        kind, order, sections, goal = wishes
        page.show_text("making the card ...")
        self.draw()

        def make() -> PaceAnswer:
            asked = asked_limit(base, kind or (), order)
            plan = None if goal else stated_plan(base, asked.limit)
            found = pace(base, asked, sections, wanted=goal)
            return PaceAnswer(found, Basis.of(base), plan=plan)

        def blown() -> PaceAnswer:
            answer = cast(PaceAnswer, self._answer)
            winds = tracked(other_winds(base.race), "riding in other winds")
            tried = tuple(in_other_weathers(base, answer.found, winds))
            return replace(answer, found=replace(answer.found, what_ifs=tried))

        def done(answer: PaceAnswer) -> None:
            self._show(answer)
            # Other winds take longer than the card.
            self.desk.begin("pacing", "riding in other winds", blown, self._show)

        def stopped() -> None:
            page.show_text("stopped; change a setting to make the card")

        self.work_out("pacing", "making the card", make, done, stopped)

    def _show(self, answer: PaceAnswer) -> None:
        self._answer, units = answer, self.session.units
        self.page.show(lambda: targets_first(answer.basis.with_use(pace_sheet(answer, units))))
        self.draw()

    def on_resize(self, _: Resize) -> None:
        """Show the chart where there is room."""
        self.draw()

    def draw(self) -> None:
        """Draw the chart in the room there is for it."""
        chart = self.query_one(PacingChart)
        shown = self._answer is not None and self.size.height >= LEAST_LINES
        show_or_hide(chart, shown=shown)
        if self._answer is not None and chart.size.width >= LEAST_CHART:
            lines = self._drawn(self._answer.found, chart.size.width, chart.size.height)
            chart.update(Text("\n", no_wrap=True, overflow="crop").join(lines))

    def _drawn(self, found: Pacing, columns: int, height: int) -> list[Text]:
        """Landmarks, watts as a band, the profile in the colours of the effort, and the scale."""
        course, units = found.ridden.ridden.race.course, self.session.units
        styles = styles_of(self.app)
        step = course.length / columns
        pieces, tints = [], [styles["hold"]] * columns
        for target in found.card.targets:
            start, end = round(target.from_m / step), round(target.to_m / step)
            effort = effort_of(target, found.card)
            tints[start:end] = [styles[effort]] * (end - start)
            pieces.append((start, end, f"{target.power_w:.0f}", EFFORTS[effort]))
        marks = [
            (round(one.at_m / step), f"{one.name} {show_duration(one.elapsed_s)}")
            for one in found.card.passages
        ]
        above = [Text(line) for line in names_above(marks, columns, 1 if height < ROOMY else 2)]
        above += band(pieces, columns)
        legend = [_legend(*efforts(found.card))] if height > ROOMY else []
        room = max(height - len(above) - 1 - len(legend), 1)
        heights, below = profile(course, columns, room, units)
        rows = [coloured(row, tints) for row in heights]
        return [*above, *rows, Text(below, styles["faint"]), *legend]

    def _wishes(self) -> tuple[LimitKind | None, float, int, float | None]:
        chosen = self.query_one("#limit", Select).value
        kind = None if chosen == "stated" else cast(LimitKind, chosen)
        order, sections, goal = (
            self.query_one(f"#{name}", Input).value.strip() for name, *_ in WISHES
        )
        try:
            number = float(order.replace(",", "."))
        except ValueError:
            number = float("nan")
        if not isfinite(number) or not 1.0 <= number <= MOST_ORDER:
            remedy = f"write 1 to {MOST_ORDER:g}, as {FOURTH:g}"
            raise InputError("order", f"'{order}' is not an order of a mean", remedy)
        if not sections.isdecimal() or not 1 <= int(sections) <= MOST_SECTIONS:
            remedy = f"write 1 to {MOST_SECTIONS}"
            raise InputError("sections", f"'{sections}' is not possible", remedy)
        return kind, number, int(sections), read_quantity("goal", goal, TIME) if goal else None

    @work(exclusive=True, group="export")
    async def action_export(self) -> None:
        """Ask where to, and write the card."""
        if self._answer is None:
            self.notify("there is no card yet", timeout=2)
            return
        found = self._answer.found
        card, race = found.card, found.ridden.ridden.race
        which = "the card of your limits, not your plan," if self._answer.plan else "the card"
        await self.write_asking(
            f"Write {which} to which file? .html or .pdf to print, .csv, or .gpx with waypoints",
            "card.html",
            lambda path: card_writer(path, race),
            lambda path: write_card(path, card, race, self.session.units),
        )


# --- What the athlete takes home -----------------------------------------------------------------


class AdvicePlace(Place):
    """The advice as the athlete reads it."""

    BINDINGS: ClassVar = [writing_binding("screen.write", "the page", ": .html, .pdf, .md or .txt")]

    def compose(self) -> ComposeResult:
        """The page."""
        yield Page("advice")

    @property
    def ready(self) -> bool:
        """Whether there is an advice to be written."""
        return self.session.advice is not None

    def refill(self) -> None:
        """Show the advice, or have it made."""
        if self.session.advice:
            self.take_advice()
        else:
            self.page.show_text("making the advice ...")
            self.desk.advise()

    def take_advice(self, problem: RacecalcError | None = None) -> None:
        """Show the page, or why there is none."""
        made = self.session.advice
        if made:
            self.page.show(lambda: made[1])
        elif problem:
            self.page.show_problem(problem)
        else:
            self.page.show_text("stopped; F9 from another place makes it again")
            self._shown = ()
