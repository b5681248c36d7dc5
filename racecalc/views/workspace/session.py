"""What is worked on: the draft, its last good answer, and what that is compared with."""

import re
from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import dataclass, field
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING

from racecalc.decisions.comparison import Outlook, outlook_of
from racecalc.decisions.riding import load_measured
from racecalc.domain.race import Race
from racecalc.errors import InputError, RacecalcError
from racecalc.files.draft import Draft, Spot
from racecalc.files.opening import read_text
from racecalc.files.race_writing import as_typed, replace_file
from racecalc.files.recovery import Recovery
from racecalc.quantities.showing import System

if TYPE_CHECKING:
    from racecalc.answers.advice import AdviceAnswer
    from racecalc.answers.sheet import Sheet

AS_SAVED = "the saved file"
AS_YOU_ARE = "as you are"
NOW = "now"

IN_USE = Spot("race", "use")
"""The key of a race file that says what is in use."""


@dataclass(frozen=True)
class Version:
    """A race as it is now, as it was saved, or a what-if that was kept."""

    name: str
    """What it is called on the screen."""
    path: Path
    """Race file that its course and tests are looked for from."""
    text: str
    """The whole race file."""


@dataclass
class WorkSession:
    """One race file at work; knows nothing of screens."""

    draft: Draft
    """The file being edited."""
    recovery: Recovery
    """Keeps what is unsaved of it."""
    units: System = "metric"
    """System of units of the answers."""
    outlook: Outlook | None = None
    """Last good answer; None before the first."""
    changed_files: int = 0
    """How often other programs changed files that the race file names."""
    asked_of: tuple[str, int] = ("", 0)
    """What the last good answer rests on, the text and that count: the same gives the same."""
    reference: Version = field(init=False)
    """What the answer is compared with."""
    reference_outlook: Outlook | None = None
    """Its answer."""
    advised: "tuple[Outlook, AdviceAnswer, Sheet] | None" = None
    """The last advice with its page, and the answer that it is on."""
    problem: RacecalcError | None = None
    """Why the draft has no answer; None where it has."""

    def __post_init__(self) -> None:
        self.compare_with_saved()

    @property
    def path(self) -> Path:
        """Where the race file lies."""
        return self.draft.path

    @property
    def race(self) -> Race:
        """The race of the last good answer."""
        return self.answered.base.race

    @property
    def used(self) -> tuple[str, ...]:
        """Names of the options that the draft has in use."""
        names = self.draft.value(IN_USE)
        return tuple(map(str, names)) if isinstance(names, list) else ()

    @property
    def outlook_text(self) -> str:
        """The text that the last good answer is about."""
        return self.asked_of[0]

    def read_files_anew(self) -> None:
        """Let no answer stay that rests on files as they were."""
        self.changed_files += 1
        self.reference_outlook = None

    @property
    def advice(self) -> "tuple[AdviceAnswer, Sheet] | None":
        """The advice on the last good answer with its page; None until it is made."""
        return self.advised[1:] if self.advised and self.advised[0] is self.outlook else None

    @property
    def answered(self) -> Outlook:
        """The last good answer."""
        if self.outlook is None:
            raise self.problem or InputError(self.path.name, "is not worked out yet")
        return self.outlook

    def reader(self) -> Callable[[Path, Iterable[str]], Race]:
        """What reads race files for a command: the open one as the draft has it now."""
        path, text = self.path, self.outlook_text

        def read(wanted: Path, changes: Iterable[str]) -> Race:
            return load_measured(wanted, changes, text if wanted == path else None)

        return read

    def compare_with_saved(self) -> None:
        """Compare with the file as it is on disk."""
        self.compare_with(Version(AS_SAVED, self.path, self.draft.saved))

    def compare_with(self, version: Version) -> None:
        """Compare with another version; its answer is worked out with the next one."""
        self.reference, self.reference_outlook = version, None

    def versions(self) -> tuple[Version, ...]:
        """The race now, as saved, as you are, and the what-ifs that were kept beside the file."""
        return (
            Version(NOW, self.path, self.draft.text),
            Version(AS_SAVED, self.path, self.draft.saved),
            *self._bare(),
            *filter(None, map(_kept_version, self.kept_paths())),
        )

    def _bare(self) -> Iterable[Version]:
        """The race without what is in use, where something is."""
        if self.used:
            bare = Draft(self.path, self.draft.text)
            bare.write(IN_USE, None)
            yield Version(AS_YOU_ARE, self.path, bare.text)

    def kept_paths(self) -> tuple[Path, ...]:
        """Race files in which what-ifs of this race were kept."""
        stem = self.path.stem.partition(" (")[0]
        kept = re.compile(rf"{re.escape(stem)} \(.*\)", re.DOTALL)
        beside = set(self.path.parent.glob("*.toml")) - {self.path}
        return tuple(sorted(path for path in beside if kept.fullmatch(path.stem)))

    def keep_version(self, path: Path) -> None:
        """Keep the draft as it is now in a file of its own, beside the race file."""
        replace_file(path, self.draft.text)

    def keep_unsaved(self) -> None:
        """Keep what is unsaved for the next start, or drop what was kept where nothing is."""
        if self.draft.unsaved:
            self.recovery.keep(self.draft.text, self.draft.saved)
        else:
            self.recovery.drop()

    def save(self, path: Path | None = None) -> None:
        """Save the draft, to another file if one is named."""
        before, comparing = self.path, self.reference.name == AS_SAVED
        self.draft.save(path)
        # A copy that stays says the same as the file, and is not offered then.
        with suppress(InputError):
            self.recovery.drop()
        if self.path != before:
            self.recovery.release()
            self.recovery = Recovery(self.path)
        if comparing:
            self.compare_with_saved()

    # --- what another program did to the file ------------------------------------------------

    def text_by_others(self) -> str | None:
        """What stands in the file if another program wrote it; None where it did not."""
        if not self.path.exists():
            return None
        text = read_text(self.path)
        return None if text == self.draft.saved else text

    def told_apart(self, theirs: str) -> list[str]:
        """What the file says otherwise than the draft, a line each."""
        found = self.draft.differences(theirs)
        return [
            f"{one.words}: {as_typed(one.before) or 'nothing'} in the file,"
            f" {as_typed(one.after) or 'nothing'} here"
            for one in found
        ]

    def take_theirs(self, theirs: str, *, keep_mine: bool) -> None:
        """Go on with what another program wrote; what was here is one step back.

        It can be kept as a what-if too, and is compared with then.
        """
        mine, comparing = self.draft.text, self.reference.name == AS_SAVED
        path = self._path_for_mine() if keep_mine else None
        if path:
            self.keep_version(path)
        self.draft.reload(theirs)
        if path:
            self.compare_with(Version(kept_name(path), path, mine))
        elif comparing:
            self.compare_with_saved()

    def keep_mine(self, theirs: str) -> None:
        """Go on with the draft; the file as another program wrote it is what is saved."""
        self.draft.saved = theirs
        if self.reference.name == AS_SAVED:
            self.compare_with_saved()

    def _path_for_mine(self) -> Path:
        names = ("mine" if number == 1 else f"mine {number}" for number in count(1))
        paths = (what_if_path(self.path, name) for name in names)
        return next(path for path in paths if not path.exists())

    def saved_values(self) -> dict[Spot, object]:
        """What the file on disk says where the draft says something else; None for nothing."""
        differing = self.draft.differences(self.draft.saved)
        return {one.spot: one.before for one in differing if one.spot}


def what_if_path(path: Path, name: str) -> Path:
    """Where a what-if of a race file is kept under a name."""
    wanted = " ".join(name.split())
    if not wanted or any(sign in wanted for sign in '/\\:*?"<>|()') or len(wanted) > 60:
        raise InputError(
            "name", f"'{name}' is not a name for a file", "use up to 60 letters, such as windy"
        )
    stem = path.stem.partition(" (")[0]
    kept = path.with_name(f"{stem} ({wanted}){path.suffix}")
    if wanted in (NOW, AS_SAVED, AS_YOU_ARE) or kept == path:
        raise InputError("name", f"'{wanted}' is taken by the race itself", "choose another")
    return kept


def _kept_version(path: Path) -> Version | None:
    """What was kept in a file; None where that cannot be read any more."""
    try:
        return Version(kept_name(path), path, read_text(path))
    except InputError:
        return None


def kept_name(path: Path) -> str:
    """The name under which a what-if was kept in a file."""
    return path.stem.partition(" (")[2].removesuffix(")")


def worked_out(version: Version) -> Outlook:
    """Work out a version; slow, so on a thread."""
    return outlook_of(load_measured(version.path, text=version.text))
