"""The folder in which what is drawn is asked about."""

from pathlib import Path

import pytest

from tests.fuzz.outcome import with_demo


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return with_demo(tmp_path_factory.mktemp("fuzz"))
