"""Every question that has a command: a sentence with its wishes, its answer as a page."""

import re
import shlex
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, ClassVar

import click
from rich.text import Text
from textual import on, work
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.content import Content
from textual.events import DescendantBlur, DescendantFocus
from textual.widgets import Button, Input, Label, OptionList, Static
from textual.widgets.option_list import Option as Line

from racecalc.errors import InputError
from racecalc.views.command_line import QUESTIONS, command
from racecalc.views.desk import Desk
from racecalc.views.width import columns_of, paragraph
from racecalc.views.workspace.dialogs import ListDialog
from racecalc.views.workspace.drawing import styles_of
from racecalc.views.workspace.place import Page, Place
from racecalc.views.workspace.session import WorkSession
from racecalc.views.workspace.wishes import Wish, first_choice, in_words_of_the_screen, wishes_of

GROUPS = {
    "what to buy": ("basket", "decide", "breakeven", "value", "against"),
    "on race day": ("weather", "places"),
    "riding": ("pace", "time", "rates", "review", "quick"),
    "testing": ("trial", "plan", "measure", "convert"),
}
"""Commands by what they are asked about, what is asked most first; our choice."""

CHANGED = "! The race has changed since; Ctrl+R asks again.\n\n"

MOST_PAST = 30
"""Answers that are kept to be looked at again; our choice."""


@dataclass(frozen=True)
class Question:
    """A sentence that asks what a command answers."""

    command: str
    sentence: str
    """With the names of parameters in braces."""

    @property
    def slots(self) -> list[str]:
        """The names of the parameters in it."""
        return re.findall(r"{(\w+)}", self.sentence)


def questions() -> Iterator[Question]:
    """All of them, group by group."""
    for names in GROUPS.values():
        for name in names:
            yield from (Question(name, sentence) for sentence in QUESTIONS[name])


def _id_of(question: Question) -> str:
    """By which the list knows it."""
    return f"ask-{[*questions()].index(question)}"


def _with_slots(sentence: str) -> Content:
    """A sentence with what holds in it set off."""
    parts = re.split(r"(\[[^]]*\])", sentence)
    return Content.assemble(
        *((part, "bold $text-accent" if part[:1] == "[" else "") for part in parts)
    )


@dataclass(frozen=True)
class Asked:
    """A question that was asked."""

    sentence: str
    """With its wishes in it."""
    words: str
    """As on the command line."""
    desk: Desk
    """Where its answer and its notices are."""
    of: tuple[str, int]
    """What the race rested on."""

    def before(self, faint: str) -> Text:
        """What is shown before the answer."""
        words = Text(paragraph(self.words), faint)
        return Text("\n").join(
            [Text(self.sentence, "bold"), words, *map(Text, self.desk.notices), Text()]
        )


class AskPlace(Place):
    """Questions with an answer of a page."""

    BINDINGS: ClassVar = [
        Binding("ctrl+r,alt+r", "ask", "Ask", tooltip="work the answer out"),
        Binding("down", "choose", "List", show=False),
        Binding("up", "app.focus_previous", show=False),
    ]

    def __init__(self, session: WorkSession, name: str) -> None:
        super().__init__(session, name)
        self._questions = list(questions())
        self._question = self._questions[0]
        self._wishes: dict[str, Wish] = {}
        self._typed: dict[str, dict[str, str]] = {}
        self._answered: Asked | None = None
        self._past: list[Asked] = []
        self._waits = False

    def compose(self) -> ComposeResult:
        """The questions, the wishes of one, and its answer."""
        with Horizontal(id="ask-body"):
            yield OptionList(id="questions", markup=False)
            with Vertical(id="ask-right"):
                yield Static("", id="wish-help", markup=False)
                yield VerticalScroll(id="wishes", can_focus=False)
                yield Page("answer")

    async def on_mount(self) -> None:
        """List the questions, and show the first."""
        self._list()
        await self._show(self._question)

    def _list(self) -> None:
        """Show the questions with what holds in them, and what was asked before."""
        listed = self.query_one("#questions", OptionList)
        at = listed.highlighted_option
        lines: list[Line] = []
        for group, names in GROUPS.items():
            lines.append(Line(Content.styled(group, "bold"), disabled=True))
            lines += [
                Line(_with_slots(self._in_words(one)), id=_id_of(one))
                for one in self._questions
                if one.command in names
            ]
        past = [Line(one.sentence, id=f"past-{at}") for at, one in enumerate(self._past)]
        if past:
            lines += [Line(Content.styled("asked before", "bold"), disabled=True), *past]
        with self.prevent(OptionList.OptionHighlighted):
            listed.clear_options()
            listed.add_options(lines)
            self._highlight(at.id if at and at.id else _id_of(self._question))

    def _highlight(self, name: str) -> None:
        listed = self.query_one("#questions", OptionList)
        listed.highlighted = listed.get_option_index(name)

    def _in_words(self, question: Question) -> str:
        wishes = wishes_of(command(question.command), self.session.draft)
        sentence = question.sentence
        for name in question.slots:
            value = self._value(question, name, wishes) or wishes[name].otherwise
            sentence = sentence.replace(f"{{{name}}}", f"[{value or wishes[name].label}]")
        return sentence

    def _value(self, question: Question, name: str, wishes: Mapping[str, Wish]) -> str:
        """What is typed, else what a wish in the sentence is at first."""
        typed = self._typed.get(question.command, {})
        if name in typed or name not in question.slots:
            return typed.get(name, "")
        slots = {one: wishes[one] for one in question.slots}
        return "" if wishes[name].otherwise else first_choice(wishes[name], slots)

    def refill(self) -> None:
        """Say of an answer whether it is still that of the race."""
        if not self._wishes:
            # The race is worked out before the place is made; it shows the first question then.
            return
        self._list()
        if self._waits:
            self.action_ask()
            return
        asked = self._answered
        if asked is not None:
            changed = CHANGED if asked.of != self.session.asked_of else ""
            self.page.show(
                lambda: asked.desk.answers[-1][1],
                lambda: Text(changed).append_text(self._before(asked)),
            )

    def _before(self, asked: Asked) -> Text:
        return asked.before(styles_of(self.app)["faint"])

    # --- one question ------------------------------------------------------------------------

    @on(OptionList.OptionHighlighted)
    async def _highlighted(self, event: OptionList.OptionHighlighted) -> None:
        event.stop()
        name = event.option_id or ""
        if name.startswith("past-"):
            self._answered = self._past[int(name.removeprefix("past-"))]
            self.refill()
        else:
            await self._show(next(one for one in self._questions if _id_of(one) == name))

    async def _show(self, question: Question) -> None:
        """Show the wishes of a question: those in its sentence, the others behind a button."""
        self._question = question
        self._wishes = wishes_of(command(question.command), self.session.draft)
        rest = len(self._wishes) - len(question.slots)
        wishes = self.query_one("#wishes", VerticalScroll)
        await wishes.remove_children()
        buttons = [Button("Ask (Ctrl+R)", id="ask", compact=True)]
        if rest:
            buttons.append(Button(f"{rest} more settings", id="more", compact=True))
        await wishes.mount(*map(self._row, question.slots), Horizontal(*buttons, id="wish-buttons"))
        self._say_about("")

    def _row(self, name: str) -> Horizontal:
        wish = self._wishes[name]
        needed = "needed" if wish.parameter.required else ""
        line = Input(
            self._value(self._question, name, self._wishes),
            placeholder=wish.otherwise or needed,
            name=name,
            id=f"wish-{name}",
            compact=True,
        )
        return Horizontal(Label(wish.label, classes="field-name"), line, classes="wish")

    @on(Button.Pressed, "#more")
    async def _more(self, event: Button.Pressed) -> None:
        event.stop()
        rest = [name for name in self._wishes if name not in self._question.slots]
        rows = [self._row(name) for name in rest]
        await self.query_one("#wishes").mount(*rows, before="#wish-buttons")
        await event.button.remove()
        rows[0].query_one(Input).focus()

    async def turn_to(self, name: str, sentence: str, given: Mapping[str, str]) -> None:
        """Show a question with some of its wishes, and ask it if all in its sentence are known."""
        question = Question(name, sentence)
        self._typed.setdefault(name, {}).update(given)
        with self.prevent(OptionList.OptionHighlighted):
            self._highlight(_id_of(question))
        await self._show(question)
        self._list()
        self._go_on()

    @on(OptionList.OptionSelected)
    def _chosen(self, event: OptionList.OptionSelected) -> None:
        event.stop()
        if not (event.option_id or "").startswith("past-"):
            self._go_on()

    def _go_on(self) -> None:
        """Ask, or go to what is not known yet."""
        for name in self._question.slots:
            line = self.query_one(f"#wish-{name}", Input)
            if not line.value and not self._wishes[name].otherwise:
                line.focus()
                return
        self.action_ask()

    @on(Input.Changed)
    def _wished(self, event: Input.Changed) -> None:
        event.stop()
        typed = self._typed.setdefault(self._question.command, {})
        if event.value != typed.get(str(event.input.name), ""):
            typed[str(event.input.name)] = event.value
            listed = self.query_one("#questions", OptionList)
            words = _with_slots(self._in_words(self._question))
            listed.replace_option_prompt(_id_of(self._question), words)

    @on(Input.Submitted)
    @on(Button.Pressed, "#ask")
    def _go(self, event: Any) -> None:
        event.stop()
        self.action_ask()

    @on(DescendantBlur)
    def on_resize(self) -> None:
        """Keep the question in view where the list is shorter now."""
        listed = self.query_one("#questions", OptionList)
        self.call_after_refresh(listed.scroll_to_highlight)

    @on(DescendantFocus)
    def _help(self, event: DescendantFocus) -> None:
        self._say_about(event.widget.name or "")

    def _say_about(self, name: str) -> None:
        """Say what a wish means; what the question is where none is named."""
        wish = self._wishes.get(name)
        words = wish.meaning if wish else command(self._question.command).get_short_help_str(200)
        self.query_one("#wish-help", Static).update(words, layout=False)

    @work
    async def action_choose(self) -> None:
        """Choose the wish that has the focus from a list, or go to the next."""
        line = self.app.focused
        wish = self._wishes.get(line.name or "") if isinstance(line, Input) else None
        if not isinstance(line, Input) or wish is None or not wish.choices:
            self.app.action_focus_next()
            return
        chosen = await self.app.push_screen_wait(ListDialog(wish.label, wish.choices))
        if chosen is not None:
            before = f"{line.value}{wish.joined}" if wish.joined and line.value else ""
            line.value = f"{before}{chosen}"

    # --- its answer --------------------------------------------------------------------------

    def action_ask(self) -> None:
        """Work the answer out on a thread."""
        session, page, name = self.session, self.page, self._question.command
        self._waits = session.outlook is None
        if self._waits:
            page.show_text("working the race out first ...")
            if session.problem:
                self.refuse()
            return
        try:
            arguments = self._arguments()
        except InputError as error:
            page.show_problem(error)
            return
        asked = Asked(
            self._in_words(self._question),
            f"$ {shlex.join(['racecalc', name, *arguments])}",
            Desk(self.desk.progress, session.reader()),
            session.asked_of,
        )
        columns, wanted = page.columns, command(name)

        def work_out() -> None:
            with columns_of(columns):
                _run(wanted, name, arguments)

        def done(_: None) -> None:
            self._answered = asked
            self._past = [asked, *self._past][:MOST_PAST]
            self.refill()

        def failed(problem: Exception) -> None:
            words = in_words_of_the_screen(problem, wanted)
            page.show(lambda: paragraph(f"! {words}"), lambda: self._before(asked))

        if self.query_one("#questions").has_focus:
            # There is more room for the answer then.
            page.focus()
        self._answered = None
        page.show(lambda: "working it out ...", lambda: self._before(asked))
        self.desk.begin(
            "ask", name, work_out, done, failed, asked.desk, lambda: page.show_text("stopped")
        )

    def refuse(self) -> None:
        """Say why a question that waits for the race has no answer yet."""
        if self._waits and self.session.problem:
            self.page.show_problem(self.session.problem)

    def _arguments(self) -> list[str]:
        """The words behind the command."""
        found: list[str] = []
        for parameter in command(self._question.command).params:
            if parameter.name == "race_file" and parameter.required:
                found.append(str(self.session.path))
            elif parameter.name == "units" and self.session.units != parameter.default:
                found += ["--units", self.session.units]
        for name, wish in self._wishes.items():
            typed = self._value(self._question, name, self._wishes).strip()
            found += wish.arguments(typed, self.session.path.parent)
        asks_race = any(one.name == "race_path" for one in command(self._question.command).params)
        return [*found, str(self.session.path)] if found and asks_race else found


def _run(wanted: click.Command, name: str, arguments: list[str]) -> None:
    """Run a command as the terminal would, its refusals as errors of the input."""
    try:
        with wanted.make_context(name, list(arguments)) as context:
            wanted.invoke(context)
    except click.ClickException as error:
        raise InputError("", in_words_of_the_screen(error, wanted)) from error
