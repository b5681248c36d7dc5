"""The places of the workspace, in the order of their keys; each is loaded when it is first seen."""

from dataclasses import dataclass
from importlib import import_module

from racecalc.views.workspace.place import Place


@dataclass(frozen=True)
class Way:
    """The way to a place."""

    name: str
    meaning: str
    """What it is called, and what it is for."""
    module: str
    """Module of this folder that has its class."""
    parts: tuple[tuple[str, str], ...] = ()
    """What is set on it: in words, and the name of the field."""

    def load(self) -> type[Place]:
        """Import the class of the place."""
        module = import_module(f"racecalc.views.workspace.{self.module}")
        found: type[Place] = getattr(module, f"{self.name}Place")
        return found


WAYS = (
    Way("Race", "change a number and see what follows", "race_places"),
    Way("Course", "what happens where, and where a watt counts", "race_places"),
    Way("Options", "what each option gives, and several together", "option_places"),
    Way(
        "Evidence",
        "the runs behind an option, how sure they are, and how many more it takes",
        "evidence_place",
    ),
    Way(
        "Pacing",
        "how hard to ride where, and what the limit, the sections and the wind do to it",
        "pacing_places",
        (
            ("goal time", "goal"),
            ("limit of the card", "limit"),
            ("order of the mean", "order"),
            ("sections of the card", "sections"),
        ),
    ),
    Way(
        "Compare",
        "two versions side by side: the race now, as saved, and kept what-ifs",
        "compare_place",
        (("version to compare", "before"), ("version to compare with", "after")),
    ),
    Way("Ask", "every other question, as in the commands", "ask_place"),
    Way("Advice", "the athlete's page, and its export", "pacing_places"),
)

FIRST = WAYS[0].name

ACTIONS: tuple[tuple[str, str, str], ...] = (
    ("Save", "write the race file", "save"),
    ("Save as", "write another race file and continue with it", "app.save_as"),
    ("Open", "open another race file", "app.open_race"),
    ("New", "write a commented race file to start from", "app.new_race"),
    ("Write the page", "to a file: .html, .pdf, .md or .txt (the card: .csv, .gpx)", "write"),
    ("Copy", "the table that has the focus, or the page", "copy_text"),
    ("Undo", "undo the last change", "undo"),
    ("Redo", "redo what was undone", "redo"),
    ("Keep what-if", "keep the race as it is now under a name", "keep"),
    ("Compare with now", "compare with this state; again: with the saved file", "hold"),
    ("Text", "the race file as text, to be edited on the screen", "text"),
    ("Editor", "save, and open the race file in VISUAL or EDITOR", "editor"),
    ("Theme", "other colours", "app.change_theme"),
    ("Help", "explain what has the focus", "help"),
    ("Leave", "leave racecalc", "app.leave"),
)
"""Name, meaning and action of each."""
