"""What is worked on: the draft, its last good answer, and what that is compared with."""

import re
from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from racecalc.decisions.comparison import Outlook, outlook_of
from racecalc.decisions.riding import load_measured
from racecalc.domain.race import Race
from racecalc.errors import InputError, RacecalcError
from racecalc.files.draft import Draft, KeptCopy, Spot, drop_copy, keep_copy, kept_copy
from racecalc.files.opening import read_text
from racecalc.files.race_writing import replace_file
from racecalc.quantities.showing import System

AS_SAVED = "the saved file"
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
    units: System = "metric"
    """System of units of the answers."""
    outlook: Outlook | None = None
    """Last good answer; None before the first."""
    outlook_text: str = ""
    """The text that it answers."""
    reference: Version = field(init=False)
    """What the answer is compared with."""
    reference_outlook: Outlook | None = None
    """Its answer."""
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
        """The race now, as saved, and the what-ifs that were kept beside the file."""
        return (
            Version(NOW, self.path, self.draft.text),
            Version(AS_SAVED, self.path, self.draft.saved),
            *filter(None, map(_kept_version, self.kept_paths())),
        )

    def kept_paths(self) -> tuple[Path, ...]:
        """Race files in which what-ifs of this race were kept."""
        stem = self.path.stem.partition(" (")[0]
        kept = re.compile(rf"{re.escape(stem)} \(.*\)", re.DOTALL)
        beside = set(self.path.parent.glob("*.toml")) - {self.path}
        return tuple(sorted(path for path in beside if kept.fullmatch(path.stem)))

    def path_to_keep(self, name: str) -> Path:
        """Where a what-if of that name is kept."""
        wanted = " ".join(name.split())
        if not wanted or any(sign in wanted for sign in '/\\:*?"<>|()') or len(wanted) > 60:
            raise InputError(
                "name", f"'{name}' is not a name for a file", "use up to 60 letters, such as windy"
            )
        stem = self.path.stem.partition(" (")[0]
        path = self.path.with_name(f"{stem} ({wanted}){self.path.suffix}")
        if wanted in (NOW, AS_SAVED) or path == self.path:
            raise InputError("name", f"'{wanted}' is taken by the race itself", "choose another")
        return path

    def keep_version(self, path: Path) -> None:
        """Keep the draft as it is now in a file of its own, beside the race file."""
        replace_file(path, self.draft.text)

    def keep_unsaved(self) -> None:
        """Keep what is unsaved for the next start, or drop what was kept where nothing is."""
        if self.draft.unsaved:
            keep_copy(self.path, self.draft.text, self.draft.saved)
        else:
            drop_copy(self.path)

    def save(self, path: Path | None = None) -> None:
        """Save the draft, to another file if one is named."""
        before, comparing = self.path, self.reference.name == AS_SAVED
        self.draft.save(path)
        for old in (before, self.path):
            # A copy that stays says the same as the file, and is not offered then.
            with suppress(InputError):
                drop_copy(old)
        if comparing:
            self.compare_with_saved()

    def saved_values(self) -> dict[Spot, object]:
        """What the file on disk says where the draft says something else; None for nothing."""
        differing = self.draft.differences(self.draft.saved)
        return {one.spot: one.before for one in differing if one.spot}


def open_session(path: Path, units: System) -> tuple[WorkSession, KeptCopy | None]:
    """Open a race file, and what was left unsaved of it last time."""
    draft = Draft.opened(path)
    return WorkSession(draft, units), kept_copy(path, draft.saved)


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
