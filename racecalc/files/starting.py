"""A commented race file and a course to start from."""

from importlib.resources import files
from pathlib import Path

from racecalc.errors import InputError
from racecalc.files.race_writing import replace_file

NAMES = ("race.toml", "course.csv")


def write_starting_files(folder: Path) -> tuple[Path, ...]:
    """Write the starting files into a folder, which is made if it is not there.

    Parameters
    ----------
    folder : Path
        Where to put them.

    Returns
    -------
    tuple of Path
        What was written.

    Raises
    ------
    InputError
        If one of the files is there already, or the folder cannot be made; nothing is written.
    """
    paths = tuple(folder / name for name in NAMES)
    for path in paths:
        if path.exists():
            raise InputError(str(path), "is there already", "name another folder")
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(
            str(folder), f"cannot be made: {error.strerror}", "name another"
        ) from error
    templates = files("racecalc.files") / "templates"
    for path in paths:
        replace_file(path, (templates / path.name).read_text(encoding="utf-8"))
    return paths
