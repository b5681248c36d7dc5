"""The application: opens, makes and leaves race files, and remembers them."""

from collections.abc import Iterable
from pathlib import Path
from typing import ClassVar

from textual import work
from textual.app import App, SystemCommand
from textual.binding import Binding
from textual.screen import Screen

from racecalc.errors import InputError
from racecalc.files.draft import Draft
from racecalc.files.memory import recent_files, remember_file, remember_word, remembered_word
from racecalc.files.recovery import Kept, drop_copy
from racecalc.files.starting import write_starting_files
from racecalc.quantities.showing import System
from racecalc.views.workspace.actions import ACTIONS
from racecalc.views.workspace.desk_screen import DeskScreen
from racecalc.views.workspace.dialogs import Choice, FileChoice, Question, may_replace
from racecalc.views.workspace.session import Session, open_session
from racecalc.views.workspace.start_screen import StartScreen


class Workspace(App[None]):
    """racecalc on the screen.

    Parameters
    ----------
    path : Path or None
        Race file to open; None for a choice of them.
    units : {"metric", "imperial"}
        System of units of the answers.
    """

    TITLE = "racecalc"
    CSS_PATH = "styles.tcss"
    ENABLE_COMMAND_PALETTE = True
    BINDINGS: ClassVar = [
        Binding("ctrl+o", "open_race", "Open", show=False),
        Binding("ctrl+n", "new_race", "New", show=False),
        Binding("ctrl+q", "leave", "Leave", show=False, priority=True),
    ]

    def __init__(self, path: Path | None = None, units: System = "metric") -> None:
        super().__init__()
        self._path, self.units = path, units

    def on_mount(self) -> None:
        """Open the file, or offer those that were open before."""
        theme = remembered_word("theme")
        if theme in self.available_themes:
            self.theme = theme
        self.theme_changed_signal.subscribe(self, lambda one: remember_word("theme", one.name))
        if self._path is None:
            self.push_screen(StartScreen(recent_files()))
        else:
            self.open_race(self._path)

    @property
    def desk_screen(self) -> DeskScreen | None:
        """The screen of the open race file; None where none is open."""
        return next((one for one in self.screen_stack if isinstance(one, DeskScreen)), None)

    @work
    async def open_race(self, path: Path) -> None:
        """Open a race file instead of the one that is open."""
        if not await self._may_leave():
            return
        try:
            session, kept = open_session(path, self.units)
        except InputError as error:
            if self.desk_screen is None and not isinstance(self.screen, StartScreen):
                self.push_screen(StartScreen(recent_files(), str(error)))
            else:
                self.notify(str(error), severity="error", timeout=15, markup=False)
            return
        if kept and await self._recover(path, kept):
            session = Session(Draft(path, session.draft.saved, kept.text), self.units)
        elif kept:
            drop_copy(path)
        remember_file(path)
        while len(self.screen_stack) > 1:
            self.pop_screen()
        self.push_screen(DeskScreen(session))

    async def _recover(self, path: Path, kept: Kept) -> bool:
        changed = (
            "\nThe file itself was changed since by something else." if kept.file_changed else ""
        )
        question = (
            f"{path.name} was left with unsaved changes on {kept.at:%d %B at %H:%M}. Another"
            f" racecalc that still has it open would look the same.{changed}"
        )
        answers = (("take", "Go on with them"), ("drop", "Drop them"))
        return await self.push_screen_wait(Choice(question, answers, "take")) == "take"

    @work
    async def action_open_race(self) -> None:
        """Choose a race file and open it."""
        desk = self.desk_screen
        folder = desk.session.path.parent if desk else Path.cwd()
        path = await self.push_screen_wait(FileChoice(folder, recent_files()))
        if path is not None:
            self.open_race(path)

    @work
    async def action_new_race(self) -> None:
        """Write a commented race file and a course into a folder, and open it."""
        folder = await self.push_screen_wait(
            Question("New race: in which folder? It is made if it is not there.", "my_race")
        )
        if folder is None:
            return
        try:
            path, *_ = write_starting_files(Path(folder.strip()).expanduser())
        except InputError as error:
            self.notify(str(error), severity="error", timeout=12, markup=False)
        else:
            self.open_race(path)

    @work
    async def action_save_as(self) -> None:
        """Save the draft to another race file and go on with that."""
        desk = self.desk_screen
        if desk is None:
            return
        path = desk.session.path
        name = await self.push_screen_wait(Question("Save as which file?", str(path)))
        if name is None:
            return
        target = Path(name.strip()).expanduser()
        if target.suffix != ".toml":
            target = target.with_name(f"{target.name}.toml")
        other = target.exists() and target.resolve() != path.resolve()
        if other and not await may_replace(self, target):
            return
        if await desk.save_asking(target):
            remember_file(target)

    @work
    async def action_leave(self) -> None:
        """Leave racecalc, asking about what is unsaved."""
        if isinstance(self.screen, Choice):
            return
        if await self._may_leave():
            self.exit()

    async def _may_leave(self) -> bool:
        """Whether the open file may be left: it is saved, saved now, or not to be saved."""
        desk = self.desk_screen
        if desk is None:
            return True
        desk.take_typed()
        if not desk.session.draft.unsaved:
            return True
        question = f"{desk.session.path.name} has unsaved changes."
        answers = (("save", "Save"), ("drop", "Do not save"), ("stay", "Stay"))
        answer = await self.push_screen_wait(Choice(question, answers, "stay"))
        if answer == "save":
            return await desk.save_asking()
        if answer == "drop":
            drop_copy(desk.session.path)
        return answer == "drop"

    def get_system_commands(self, screen: Screen[object]) -> Iterable[SystemCommand]:
        """All actions by name, then those of the library."""
        desk = self.desk_screen
        for name, meaning, action in ACTIONS:
            if desk is not None or action.startswith("app."):
                yield SystemCommand(name, meaning, lambda action=action: self._run(action))
        for command in super().get_system_commands(screen):
            if command.title != "Quit":
                yield command

    async def _run(self, action: str) -> None:
        await self.run_action(action, self.desk_screen or self)
