"""A screen that keeps, saves and names versions of the race file it is about."""

from pathlib import Path

from textual import work

from racecalc.errors import InputError
from racecalc.files.typed import as_typed
from racecalc.views.workspace.dialogs import Choice, Question, may_replace
from racecalc.views.workspace.field import Field
from racecalc.views.workspace.form import RaceForm
from racecalc.views.workspace.places import FIRST
from racecalc.views.workspace.session import Session, Version
from racecalc.views.workspace.work_screen import WorkScreen


class SavingScreen(WorkScreen):
    """A screen of one race file.

    Parameters
    ----------
    session : Session
        What is worked on.
    """

    def __init__(self, session: Session) -> None:
        super().__init__()
        self.session = session
        self._kept: str | None = None

    @property
    def form(self) -> RaceForm:
        """The form of the race file, which is there from the start."""
        return self.query_one(RaceForm)

    async def show_place(self, name: str) -> None:
        """Bring a place to the front."""
        raise NotImplementedError

    def fields(self) -> list[Field]:
        """Every field in which something may have been typed."""
        return list(self.form.query(Field))

    def take_typed(self) -> None:
        """Write into the draft what was typed and will do; called whenever the draft matters."""
        draft = self.session.draft
        for field in self.fields():
            if not field.touched:
                continue
            value = field.look_at()
            if field.problem:
                continue
            field.touched = False
            if as_typed(value) == as_typed(draft.value(field.spot)):
                continue
            try:
                draft.write(field.spot, value)
            except InputError as error:
                self.say_problem(error)

    def solve(self) -> None:
        """Work the draft out."""
        raise NotImplementedError

    def versions_changed(self) -> None:
        """Show that there is another version to compare with."""
        raise NotImplementedError

    def keep_unsaved(self) -> None:
        """Keep what is unsaved beside the file, if it changed since it was kept last."""
        text = self.session.draft.text
        if text == self._kept:
            return
        try:
            self.session.keep_unsaved()
        except InputError as error:
            self.notify(
                f"unsaved changes cannot be kept: {error}", severity="warning", markup=False
            )
        else:
            self._kept = text

    @work
    async def action_save(self) -> None:
        """Save, unless a field says something that will not do."""
        await self.save_asking()

    async def all_taken(self) -> bool:
        """Take what was typed; whether all of it will do, else the focus goes where it does not."""
        self.take_typed()
        wrong = [field for field in self.fields() if field.problem]
        if not wrong:
            return True
        if wrong[0].screen is self:
            await self.show_place(FIRST)
        wrong[0].focus_input()
        self.notify(f"{wrong[0].spot}: mend or empty it first", severity="warning")
        return False

    async def save_asking(self, path: Path | None = None) -> bool:
        """Save, to another file if one is named; whether it is done.

        Asks first where the file on disk is no longer the one that was read.
        """
        if not await self.all_taken():
            return False
        draft = self.session.draft
        own = path is None or path.resolve() == draft.path.resolve()
        if own and draft.changed_on_disk():
            question = f"{draft.path.name} was changed by something else since you opened it."
            answers = (("stay", "Do not save"), ("over", "Save over it"))
            if await self.app.push_screen_wait(Choice(question, answers, "stay")) != "over":
                return False
        try:
            self.session.save(path)
        except InputError as error:
            self.say_problem(error)
            return False
        self._kept = draft.text
        self.notify(f"{draft.path.name} saved", timeout=2, markup=False)
        self.solve()
        return True

    @work
    async def action_keep(self) -> None:
        """Keep the race as it is now as a what-if under a name, beside the file."""
        if not await self.all_taken():
            return
        session = self.session
        name = await self.app.push_screen_wait(
            Question("Keep this what-if under which name?", check=session.path_to_keep)
        )
        if name is None:
            return
        path = session.path_to_keep(name)
        if path.exists() and not await may_replace(self.app, path):
            return
        try:
            session.keep_version(path)
        except InputError as error:
            self.say_problem(error)
            return
        self.notify(f"kept as {path.name}; put it beside another under Compare", markup=False)
        self.versions_changed()

    def action_hold(self) -> None:
        """Compare with the race as it is now, from here on; again to compare with the file."""
        session = self.session
        now = Version("what was held", session.path, session.draft.text)
        if session.reference.text == now.text:
            session.compare_with_saved()
        else:
            session.compare_with(now)
        self.notify(f"compared with {session.reference.name}", timeout=3)
        self.solve()
