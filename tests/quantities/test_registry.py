"""When pint is asked, and what is kept on disk of what it says."""

import json
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from racecalc.quantities import measured

FOOT = 0.3048
"""[m]; exact (ISO 31-1, from memory)."""


@pytest.fixture
def file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """What is kept in a place of the test's own, with nothing asked yet."""
    file = tmp_path / "cache" / "units.json"
    monkeypatch.setattr(measured, "kept_scales", lambda: file)
    measured._scales.cache_clear()
    yield file
    measured._scales.cache_clear()


def one_foot() -> float:
    measured._scales.cache_clear()
    return float(measured.convert_units(np.array(1.0), "foot", "meter"))


def test_pint_is_loaded_for_no_unit_that_is_kept():
    one_foot()
    code = (
        "import sys; from racecalc.quantities import kinds, reading;"
        " print(reading.read('45 km/h', kinds.SPEED), 'pint' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "12.5 False"


def test_every_conversion_is_that_of_pint():
    import pint

    registry = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)
    values = np.array([0.0, 1.0, -3.7, 250.3, 1e5])
    for source, target in measured.PAIRS:
        own = measured.convert_units(values, source, target)
        theirs = registry.Quantity(values, source).to(target).magnitude
        np.testing.assert_allclose(own, theirs, rtol=1e-14, err_msg=f"{source} to {target}")


def test_second_start_reads_what_the_first_wrote(file: Path, monkeypatch: pytest.MonkeyPatch):
    assert one_foot() == pytest.approx(FOOT, rel=1e-15)
    assert [one.name for one in file.parent.iterdir()] == [file.name]
    monkeypatch.setattr(measured, "_asked_of_pint", lambda: pytest.fail("pint was asked again"))
    assert one_foot() == pytest.approx(FOOT, rel=1e-15)


def test_what_cannot_be_kept_or_read_is_asked_again(file: Path, monkeypatch: pytest.MonkeyPatch):
    truth = measured._asked_of_pint()
    asked: list[int] = []
    monkeypatch.setattr(measured, "_asked_of_pint", lambda: asked.append(1) or truth)
    assert one_foot() == pytest.approx(FOOT, rel=1e-15)
    kept = json.loads(file.read_text("utf-8"))
    wrong = kept | {"scales": {pair: [0.0, 0.0] for pair in kept["scales"]}}
    words = kept | {"scales": {pair: ["one", 0.0] for pair in kept["scales"]}}
    damaged = ["", "not JSON", "42", "{}", file.read_text("utf-8")[:-9], json.dumps(words)]
    cut = json.dumps(kept | {"scales": {"foot meter": [1.0, 0.0]}})
    others = [json.dumps(wrong | one) for one in ({"pint": [1, 2]}, {"racecalc": "0.0.0"})]
    for content in (*damaged, cut, *others):
        file.write_text(content, "utf-8")
        assert one_foot() == pytest.approx(FOOT, rel=1e-15)
    assert len(asked) == 10
    # Simulated, since the rights of a folder do not bind a superuser.
    for name in ("mkdir", "write_text", "replace"):
        with monkeypatch.context() as patch:

            def refuse(path: Path, *_: object, **__: object) -> None:
                raise PermissionError(13, "no right to write", str(path))

            file.unlink(missing_ok=True)
            patch.setattr(Path, name, refuse)
            assert one_foot() == pytest.approx(FOOT, rel=1e-15)
            assert [*file.parent.iterdir()] == []
    with monkeypatch.context() as patch:
        patch.setattr(measured, "_stamp", lambda: refuse(file))
        assert one_foot() == pytest.approx(FOOT, rel=1e-15)
    file.parent.rename(file.parent.with_name("gone"))
    file.parent.write_text("a file where a folder should be")
    assert one_foot() == pytest.approx(FOOT, rel=1e-15)
