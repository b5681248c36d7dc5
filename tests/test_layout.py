"""Imports go one way: from text to advice. Reads every import statement of the package."""

import ast
from functools import cache
from pathlib import Path

import pytest

import racecalc

PACKAGE = Path(racecalc.__file__).parent
ROWS = ("quantities", "files", "domain", "physics", "motion", "decisions", "answers", "views")
ROWLESS = {"errors", "written", "arrays", "stopping", "__version__"}
MODULES = sorted(PACKAGE.rglob("*.py"))


@cache
def imports(path: Path) -> frozenset[str]:
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            assert node.level == 0, f"{path}: write imports in full"
            found |= {f"{node.module}.{alias.name}" for alias in node.names}
    return frozenset(found)


def test_a_module_imports_only_from_its_row_and_above() -> None:
    for path in MODULES:
        row = path.relative_to(PACKAGE).parts[0]
        if row not in ROWS:
            continue
        for name in imports(path):
            if name.startswith("racecalc."):
                other = name.split(".")[1]
                assert other in ROWLESS or ROWS.index(other) <= ROWS.index(row), f"{path}: {name}"


@pytest.mark.parametrize(
    ("library", "allowed"),
    [
        ("pint", "quantities"),
        ("click", "views"),
        ("rich", "views"),
        ("plotext", "views"),
        ("textual", "views"),
        ("fitdecode", "files"),
        ("tomlkit", "files"),
        ("jinja2", "views"),
        ("matplotlib", "views"),
        ("tomllib", "files"),
    ],
)
def test_a_library_stays_in_its_row(library: str, allowed: str) -> None:
    rows = {
        path.relative_to(PACKAGE).parts[0]
        for path in MODULES
        if any(name.split(".")[0] == library for name in imports(path))
    }
    assert rows <= {allowed}


def test_no_cycles() -> None:
    """Within a row too: drop modules that import nothing of ours until none is left."""
    names = {
        ".".join(("racecalc", *path.relative_to(PACKAGE).with_suffix("").parts)): path
        for path in MODULES
    }
    needs = {
        name: {
            other
            for other in names
            if other != name
            and any(used == other or used.startswith(f"{other}.") for used in imports(path))
        }
        for name, path in names.items()
    }
    while ready := {name for name, others in needs.items() if not others & set(needs)}:
        needs = {name: others for name, others in needs.items() if name not in ready}
    assert not needs, f"these import each other: {sorted(needs)}"


def test_charts_of_the_page_alone_are_drawn_with_matplotlib() -> None:
    drawing = {
        str(path.relative_to(PACKAGE))
        for path in MODULES
        if any(name.split(".")[0] == "matplotlib" for name in imports(path))
    }
    assert drawing == {str(Path("views", "writers", name)) for name in ("charts.py",)}
