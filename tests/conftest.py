"""Settings and fixtures for all tests; plain builders of races and courses are in `builders`."""

import gc
import os
from pathlib import Path

import pytest
from hypothesis import settings

# The first example of a test may import a solver; how long one takes says nothing here.
settings.register_profile("racecalc", deadline=None, max_examples=20)
settings.register_profile("thorough", deadline=None, max_examples=300)
settings.load_profile("racecalc")

# Thousands of collected tests live as long as the process: looking for garbage was a tenth of it.
gc.set_threshold(50_000, 20, 20)


def pytest_xdist_auto_num_workers() -> int:
    """One more process than there are cores: tests of the screen wait for half of their time."""
    return (os.cpu_count() or 1) + 1


DEMO = frozenset({"advice", "answers", "demo", "test_readme.py", "views"})
"""Parts of the tests that share the answers on the demo."""


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Tests that share what was worked out run in one process, the longest groups first.

    Those of the screen wait for half of their time, and share little.
    """
    order = {item: _group(item) for item in items}
    for item, (_, group) in order.items():
        if group:
            item.add_marker(pytest.mark.xdist_group(group), append=False)
    items.sort(key=lambda item: order[item][0])


def _group(item: pytest.Item) -> tuple[int, str]:
    """When a test runs, and with which others; with none where that is empty."""
    tests, *parts = item.path.relative_to(item.config.rootpath).parts
    if tests != "tests":
        return 3, ""
    if parts[0] in DEMO:
        return 0, "demo"
    if parts[0] == "workspace":
        return 1, ""
    own = item.get_closest_marker("xdist_group")
    return 2, own.args[0] if own else "/".join(parts)


@pytest.fixture
def racecalc(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path):
    """Run a command in a folder of its own, 80 columns wide: status, output, errors."""
    from racecalc.views.command_line import run

    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "80")

    def run_it(*arguments: object) -> tuple[int, str, str]:
        monkeypatch.setattr("sys.argv", ["racecalc", *map(str, arguments)])
        status = run()
        captured = capsys.readouterr()
        return status, captured.out, captured.err

    return run_it
