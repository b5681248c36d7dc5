"""Every question that has a command: its wishes as fields, its answer as a page."""

import shlex
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, ClassVar

import click
from textual import on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.events import DescendantFocus
from textual.widgets import Button, Input, Label, OptionList, Static
from textual.widgets.option_list import Option as Line

from racecalc.errors import InputError
from racecalc.files.opening import typed_path
from racecalc.views.command_line import COMMANDS, command
from racecalc.views.desk import Desk
from racecalc.views.width import columns_of, paragraph
from racecalc.views.workspace.place import Page, Place
from racecalc.views.workspace.session import WorkSession

FIRST = ("basket", "decide", "breakeven", "places", "weather")
"""What is asked most after time, value and pace, which have places of their own; our choice."""

NOT_ASKED = frozenset({"advice", "set", "new", "completion", "open", "compare", "help"})
"""Commands that answer nothing about the open race, or have a place of their own."""

LEFT_OUT = frozenset({"as_json", "depth", "changes", "units", "race_file"})
"""Wishes that the screen settles itself."""

CHANGED = "! The race has changed since; Ctrl+R asks again.\n\n"


@dataclass(frozen=True)
class Asked:
    """A question that was asked."""

    words: str
    """As on the command line."""
    desk: Desk
    """Where its answer and its notices are."""
    of: str
    """The text of the race that it was asked of."""

    def before(self) -> str:
        """What is shown before the answer."""
        return "\n".join([paragraph(self.words), *self.desk.notices, ""])


class AskPlace(Place):
    """Questions with an answer of a page."""

    BINDINGS: ClassVar = [Binding("ctrl+r", "ask", "Ask", tooltip="work the answer out")]

    def __init__(self, session: WorkSession, name: str) -> None:
        super().__init__(session, name)
        self._commands = {one: command(one) for one in COMMANDS if one not in NOT_ASKED}
        self._names = [*FIRST, *(name for name in self._commands if name not in FIRST)]
        self._asked = self._names[0]
        self._wishes: dict[str, click.Parameter] = {}
        self._answered: Asked | None = None
        self._waits = False

    def compose(self) -> ComposeResult:
        """The questions, the wishes of one, and its answer."""
        with Horizontal(id="ask-body"):
            with Horizontal(id="ask-left"):
                yield OptionList(*(Line(name) for name in self._names), id="questions")
                yield VerticalScroll(id="wishes", can_focus=False)
            with Vertical(id="ask-right"):
                yield Static("", id="wish-help", markup=False)
                yield Page("answer")

    def refill(self) -> None:
        """Say of an answer whether it is still that of the race."""
        if self._waits:
            self.action_ask()
            return
        asked = self._answered
        if asked is not None:
            changed = CHANGED if asked.of != self.session.outlook_text else ""
            self.page.show(lambda: asked.desk.answers[-1], lambda: f"{changed}{asked.before()}")

    @on(OptionList.OptionHighlighted)
    async def _question(self, event: OptionList.OptionHighlighted) -> None:
        event.stop()
        self._asked = self._names[event.option_index]
        self._wishes = {
            str(one.name): one
            for one in self._commands[self._asked].params
            if one.name not in LEFT_OUT and not getattr(one, "is_eager", False)
        }
        wishes = self.query_one("#wishes", VerticalScroll)
        await wishes.remove_children()
        await wishes.mount(
            *map(_row, self._wishes.values()), Button("ask (Ctrl+R)", id="ask", compact=True)
        )
        self._say_about("")

    @on(OptionList.OptionSelected)
    @on(Input.Submitted)
    @on(Button.Pressed, "#ask")
    def _go(self, event: Any) -> None:
        event.stop()
        self.action_ask()

    @on(DescendantFocus)
    def _help(self, event: DescendantFocus) -> None:
        self._say_about(event.widget.name or "")

    def _say_about(self, wish: str) -> None:
        """Say what a wish means; what the question is where none is named."""
        one = self._wishes.get(wish)
        words = _meaning(one) if one else self._commands[self._asked].get_short_help_str(200)
        self.query_one("#wish-help", Static).update(words, layout=False)

    def action_ask(self) -> None:
        """Work the answer out on a thread."""
        session, page, name = self.session, self.page, self._asked
        self._waits = session.outlook is None
        if self._waits:
            page.show_text("working the race out first ...")
            if session.problem:
                self.refuse()
            return
        try:
            arguments = self._arguments()
        except ValueError as error:
            page.show_problem(error)
            return
        asked = Asked(
            f"$ {shlex.join(['racecalc', name, *arguments])}",
            Desk(self.desk.progress, session.reader()),
            session.outlook_text,
        )

        columns = page.columns

        def work() -> None:
            with columns_of(columns):
                _run(self._commands[name], name, arguments)

        def done(_: None) -> None:
            self._answered = asked
            self.refill()

        def failed(problem: Exception) -> None:
            page.show(lambda: paragraph(f"! {problem}"), asked.before)

        self._answered = None
        page.show(lambda: "working it out ...", asked.before)
        self.desk.begin(
            "ask", name, work, done, failed, asked.desk, lambda: page.show_text("stopped")
        )

    def refuse(self) -> None:
        """Say why a question that waits for the race has no answer yet."""
        if self._waits and self.session.problem:
            self.page.show_problem(self.session.problem)

    def _arguments(self) -> list[str]:
        """The words behind the command."""
        found: list[str] = []
        for parameter in self._commands[self._asked].params:
            if parameter.name == "race_file" and parameter.required:
                found.append(str(self.session.path))
            elif parameter.name == "units":
                found += ["--units", self.session.units]
        for name, parameter in self._wishes.items():
            typed = self.query_one(f"#wish-{name}", Input).value.strip()
            found += _as_arguments(parameter, typed, self.session.path.parent)
        return found


def _row(parameter: click.Parameter) -> Horizontal:
    shown = _default(parameter)
    field = Input(
        placeholder=shown or ("required" if parameter.required else ""),
        name=parameter.name,
        id=f"wish-{parameter.name}",
        compact=True,
        select_on_focus=False,
    )
    words = str(parameter.name).replace("_", " ")
    return Horizontal(Label(words, classes="field-name"), field, classes="wish")


def _default(parameter: click.Parameter) -> str:
    """What is taken where nothing is typed, as it would be typed."""
    default = parameter.default
    if isinstance(default, bool):
        return "yes" if default else "no"
    return str(default) if isinstance(default, str | int | float) else ""


def _meaning(parameter: click.Parameter) -> str:
    words = getattr(parameter, "help", "") or f"{parameter.human_readable_name} of the question"
    if getattr(parameter, "is_flag", False):
        words += " Write yes or no."
    if isinstance(parameter.type, click.Choice):
        words += f" One of {', '.join(parameter.type.choices)}."
    if parameter.multiple or parameter.nargs == -1:
        words += " Separate several by ;"
    return words


def _as_arguments(parameter: click.Parameter, typed: str, folder: Path) -> Iterable[str]:
    """A typed wish as it would stand on the command line; nothing where nothing was typed."""
    if not typed:
        return []
    name = max(parameter.opts, key=len)
    if getattr(parameter, "is_flag", False):
        if typed.casefold() not in ("yes", "no"):
            raise ValueError(f"{parameter.name}: write yes or no")
        wanted = typed.casefold() == "yes"
        return [name] if wanted else list(parameter.secondary_opts)
    several = parameter.multiple or parameter.nargs == -1
    values = [one.strip() for one in typed.split(";")] if several else [typed]
    if isinstance(parameter.type, click.Path):
        values = [str(typed_path(one, folder)) for one in values]
    if isinstance(parameter, click.Argument):
        return values
    return [word for value in values for word in (name, value)]


def _run(command: click.Command, name: str, arguments: list[str]) -> None:
    """Run a command as the terminal would, its refusals as errors of the input."""
    try:
        with command.make_context(name, list(arguments)) as context:
            command.invoke(context)
    except click.ClickException as error:
        raise InputError(name, error.format_message()) from error
