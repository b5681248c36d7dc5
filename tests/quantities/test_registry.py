"""When pint is imported, and what its cache on disk may do."""

import pickle
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from racecalc.quantities import measured as registry

FOOT = 0.3048
MODULES = "kinds measured clock reading money showing"


def in_a_fresh_python(code: str) -> str:
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return done.stdout.strip()


@pytest.mark.parametrize("module", MODULES.split())
def test_import_does_not_import_pint(module: str):
    code = f"import sys, racecalc.quantities.{module}; print('pint' in sys.modules)"
    assert in_a_fresh_python(code) == "False"


def test_first_conversion_imports_pint():
    code = (
        "import sys; from racecalc.quantities import kinds, reading; "
        "reading.read('45 km/h', kinds.SPEED); print('pint' in sys.modules)"
    )
    assert in_a_fresh_python(code) == "True"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """Give a cache folder of the test's own, with the registry not yet built."""
    folder = tmp_path / "cache" / "units"
    monkeypatch.setattr(registry, "cache_folder", lambda: folder)
    registry._registry.cache_clear()
    yield folder
    registry._registry.cache_clear()


def one_foot() -> float:
    return float(registry.convert_units(np.array(1.0), "foot", "meter"))


def test_second_start_reads_the_cache_that_the_first_wrote(folder: Path):
    one_foot()
    written = {path: path.stat().st_mtime_ns for path in folder.rglob("*.pickle")}
    assert written
    registry._registry.cache_clear()
    assert one_foot() == pytest.approx(FOOT, rel=1e-15)
    assert {path: path.stat().st_mtime_ns for path in folder.rglob("*.pickle")} == written


def test_folder_that_cannot_be_made_is_harmless(folder: Path):
    folder.parent.write_text("a file where a folder should be")
    assert one_foot() == pytest.approx(FOOT, rel=1e-15)


def test_folder_without_the_right_to_write_is_harmless(
    folder: Path, monkeypatch: pytest.MonkeyPatch
):
    # Simulated, since the rights of a folder do not bind a superuser.
    def refuse(path: Path, *args: object, **options: object) -> None:
        raise PermissionError(13, "no right to write", str(path))

    monkeypatch.setattr(Path, "mkdir", refuse)
    assert one_foot() == pytest.approx(FOOT, rel=1e-15)


def test_broken_cache_is_harmless(folder: Path):
    one_foot()
    for content in (b"", b"not a pickle", pickle.dumps(42), pickle.dumps({})):
        for path in folder.rglob("*.pickle"):
            path.write_bytes(content)
        registry._registry.cache_clear()
        assert one_foot() == pytest.approx(FOOT, rel=1e-15)
