"""Every action by name, for the list of all actions."""

from racecalc.views.workspace.places import WAYS

ACTIONS: tuple[tuple[str, str, str], ...] = (
    ("Save", "write the race file", "save"),
    ("Save as", "write another race file and go on with that", "app.save_as"),
    ("Open", "open another race file", "app.open_race"),
    ("New", "write a commented race file to start from", "app.new_race"),
    ("Take back", "undo the last change", "undo"),
    ("Make again", "redo what was taken back", "redo"),
    ("Keep what-if", "keep the race as it is now under a name", "keep"),
    ("Compare with now", "compare from here on; again to compare with the file", "hold"),
    ("Help", "explain what has the focus", "help"),
    ("Leave", "leave racecalc", "app.leave"),
    *((way.name, way.meaning, f"place('{way.name}')") for way in WAYS),
)
"""Name, meaning and action of each."""
