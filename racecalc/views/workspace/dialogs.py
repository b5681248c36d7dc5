"""Small screens that ask one thing and give back the answer."""

from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import ClassVar, TypeVar

from textual import on
from textual.app import App, ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.content import Content
from textual.events import Key
from textual.screen import ModalScreen
from textual.widget import Widget
from textual.widgets import Button, DirectoryTree, Input, Markdown, OptionList, Static
from textual.widgets.option_list import Option

from racecalc.errors import InputError
from racecalc.files.opening import typed_path

WALKING = (
    Binding("down", "app.focus_next", show=False),
    Binding("up", "app.focus_previous", show=False),
)
"""Keys that go from field to field."""

STEPPING = tuple(
    Binding(f"ctrl+{shift}{key},alt+{shift}{key}", f"step({steps})", show=False)
    for shift, size in (("", 1), ("shift+", 10))
    for key, steps in (("up", size), ("down", -size))
)
"""Keys that let a value go up and down."""

Answer = TypeVar("Answer")


class Dialog(ModalScreen[Answer]):
    """Asks one thing; Escape gives back what stands for no answer."""

    # To the library these are no class variables.
    HORIZONTAL_BREAKPOINTS = [(0, "-slim"), (60, "-broad")]  # noqa: RUF012
    BINDINGS: ClassVar = [Binding("escape", "leave", "Cancel")]
    BOX: ClassVar[type[Widget]] = Vertical
    CLASSES_OF_BOX = "dialog"

    def __init__(self, question: str, otherwise: Answer) -> None:
        super().__init__()
        self._question, self._otherwise = question, otherwise

    def compose(self) -> ComposeResult:
        """The question above its answers."""
        with self.BOX(classes=self.CLASSES_OF_BOX):
            yield Static(self._question, markup=False)
            yield from self.answers()

    def answers(self) -> ComposeResult:
        """What can be answered."""
        raise NotImplementedError

    def say_problem(self, problem: object) -> None:
        """Say below the field what is wrong with what is typed."""
        self.query_one(".dialog-word", Static).update(f"! {problem}")

    def action_leave(self) -> None:
        """Give back what Escape means."""
        self.dismiss(self._otherwise)


class ChoiceDialog(Dialog[str]):
    """A question with a few answers."""

    BINDINGS: ClassVar = [
        *WALKING,
        Binding("left", "app.focus_previous", show=False),
        Binding("right", "app.focus_next", show=False),
    ]

    def __init__(self, question: str, answers: Sequence[tuple[str, str]], otherwise: str) -> None:
        super().__init__(question, otherwise)
        self._answers = answers

    def answers(self) -> ComposeResult:
        """A button for each, its letter underlined."""
        room = sum(len(words) + ROUND_ANSWER for _, words in self._answers)
        with Horizontal(classes="answers -stacked" if room > ROOM else "answers"):
            for letter, (name, words) in zip(self._letters, self._answers, strict=True):
                at = words.casefold().index(letter)
                label = Content(words).stylize("underline", at, at + 1)
                yield Button(label, name=name, compact=True)

    @property
    def _letters(self) -> list[str]:
        """A letter for each answer: the first of its words that no other has taken."""
        letters: list[str] = []
        for _, words in self._answers:
            letters.append(next(one for one in words.casefold() if one not in letters))
        return letters

    def on_key(self, event: Key) -> None:
        """Give the answer of a letter back."""
        if event.character in self._letters:
            event.stop()
            self.dismiss(self._answers[self._letters.index(event.character)][0])

    def on_button_pressed(self, event: Button.Pressed) -> None:
        """Give the answer back."""
        self.dismiss(event.button.name or self._otherwise)


async def may_replace(app: App[None], path: Path) -> bool:
    """Ask whether a file that is there may be replaced; for a worker."""
    answers = (("stay", "Cancel"), ("over", "Replace"))
    asked = ChoiceDialog(f"{path.name} exists already.", answers, "stay")
    return await app.push_screen_wait(asked) == "over"


class TextDialog(Dialog[str | None]):
    """A question that is answered by typing; None where it is left."""

    def __init__(
        self, question: str, value: str = "", check: Callable[[str], object] = str
    ) -> None:
        super().__init__(question, None)
        self._value, self._check = value, check

    def answers(self) -> ComposeResult:
        """The field and what is wrong with its content."""
        yield Input(self._value, compact=True)
        yield Static("", classes="dialog-word", markup=False)
        yield Static("Enter: OK   Esc: cancel", classes="dialog-keys")

    @on(Input.Submitted)
    def _answer(self, event: Input.Submitted) -> None:
        event.stop()
        try:
            self._check(event.value)
        except InputError as error:
            self.say_problem(error)
        else:
            self.dismiss(event.value)


class ListDialog(Dialog[str | None]):
    """Choose one of a list, by the arrows or by its first letters; None where it is left."""

    def __init__(self, question: str, choices: Sequence[str]) -> None:
        super().__init__(question, None)
        self._choices = choices

    def answers(self) -> ComposeResult:
        """The list."""
        yield OptionList(*self._choices, markup=False)
        yield Static("Enter: take it   Esc: cancel", classes="dialog-keys")

    def on_key(self, event: Key) -> None:
        """Go to the next that begins with a letter."""
        listed = self.query_one(OptionList)
        at = (listed.highlighted or 0) + 1
        letter = (event.character or " ").casefold()
        for number in (*range(at, len(self._choices)), *range(at)):
            if self._choices[number].casefold().startswith(letter):
                listed.highlighted = number
                event.stop()
                return

    @on(OptionList.OptionSelected)
    def _chosen(self, event: OptionList.OptionSelected) -> None:
        event.stop()
        self.dismiss(self._choices[event.option_index])


async def asked_path(
    app: App[None],
    question: str,
    suggested: str,
    folder: Path,
    check: Callable[[Path], object] = Path,
) -> Path | None:
    """Ask for a path, from a folder on; None where it is left; for a worker."""

    def path_of(typed: str) -> Path:
        path = typed_path(typed, folder)
        check(path)
        return path

    typed = await app.push_screen_wait(TextDialog(question, suggested, path_of))
    return None if typed is None else typed_path(typed, folder)


class FileDialog(Dialog[Path | None]):
    """Choose a race file: by its path, among recent ones, or by looking round; None to leave."""

    CLASSES_OF_BOX = "dialog -tall"

    def __init__(self, folder: Path, recent: Sequence[Path]) -> None:
        super().__init__("Open a race file: its path, a recent one, or browse below", None)
        self._folder, self._recent = folder, recent

    def answers(self) -> ComposeResult:
        """A field, the recent files and the folders."""
        yield Input(placeholder="path of a race file", compact=True)
        yield Static("", classes="dialog-word", markup=False)
        if self._recent:
            yield OptionList(*(short(path) for path in self._recent), markup=False)
        yield RaceFiles(self._folder)
        yield Static("Tab: next part   Enter: open   Esc: cancel", classes="dialog-keys")

    @on(Input.Submitted)
    def _typed(self, event: Input.Submitted) -> None:
        event.stop()
        try:
            path = typed_path(event.value, Path.cwd())
        except InputError as error:
            self.say_problem(error)
            return
        if path.is_dir():
            self.query_one(RaceFiles).path = path
        elif path.is_file():
            self.dismiss(path)
        else:
            self.say_problem(f"there is no file '{event.value}'")

    @on(OptionList.OptionSelected)
    def _recent_one(self, event: OptionList.OptionSelected) -> None:
        self.dismiss(self._recent[event.option_index])

    @on(DirectoryTree.FileSelected)
    def _found(self, event: DirectoryTree.FileSelected) -> None:
        self.dismiss(event.path)


class RaceFiles(DirectoryTree):
    """Folders, and the race files in them."""

    ICON_NODE = ICON_NODE_EXPANDED = ICON_FILE = ""

    def filter_paths(self, paths: Iterable[Path]) -> Iterable[Path]:
        """Keep folders and TOML files that are not hidden."""
        return [
            path
            for path in paths
            if not path.name.startswith(".") and (path.is_dir() or path.suffix == ".toml")
        ]


ROOM = 60
"""Columns that a path, or the answers next to each other, may take."""

ROUND_ANSWER = 6
"""Columns that a button takes around its words."""


def short(path: Path) -> str:
    """A path with the home folder as "~", its end kept where there is no room for all of it."""
    home = Path.home()
    whole = f"~/{path.relative_to(home)}" if path.is_relative_to(home) else str(path)
    return whole if len(whole) <= ROOM else f"\u2026{whole[1 - ROOM :]}"


class TextScreen(Dialog[None]):
    """A text to read, such as help, scrolled if need be; the manual is one key away."""

    BINDINGS: ClassVar = [Binding("f1,q", "leave", "Back"), Binding("m", "manual", "Manual")]
    BOX = VerticalScroll
    CLASSES_OF_BOX = "dialog -tall"

    def __init__(self, text: str) -> None:
        super().__init__(text, None)

    def answers(self) -> ComposeResult:
        """The ways on and back."""
        yield Static("m: the manual   Esc: back", classes="dialog-keys")

    def action_manual(self) -> None:
        """Show the manual in front of it."""
        self.app.push_screen(ManualScreen())


class ManualScreen(Dialog[None]):
    """The topics of the manual, and the one under the cursor."""

    BINDINGS: ClassVar = [Binding("f1,q", "leave", "Back")]
    CLASSES_OF_BOX = "dialog -manual"

    def __init__(self) -> None:
        super().__init__("The manual", None)

    def answers(self) -> ComposeResult:
        """The topics on the left, the text on the right."""
        # Loaded with the first look into it: the manual describes every answer.
        from racecalc.views.manual import titles

        with Horizontal():
            yield OptionList(*(Option(words, id=name) for name, words in titles().items()))
            with VerticalScroll():
                yield Markdown("", open_links=False)
        yield Static("Up, Down: topic   Tab: read   Esc: back", classes="dialog-keys")

    @on(OptionList.OptionHighlighted)
    async def _topic(self, event: OptionList.OptionHighlighted) -> None:
        from racecalc.views.manual import topic

        await self.query_one(Markdown).update(topic(str(event.option_id)))
        self.query_one(VerticalScroll).scroll_home(animate=False)
