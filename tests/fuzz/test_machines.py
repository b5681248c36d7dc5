"""Steps in any order: a draft with undo, and two programs at work on one race file."""

import shutil
import tempfile
import tomllib
from copy import deepcopy
from pathlib import Path
from threading import Thread
from typing import Any

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from racecalc.errors import InputError
from racecalc.files.draft import Draft, Spot
from racecalc.files.race_writing import write_changes

TEXT = """\
# The league on the shore
[rider]
mass = "67 kg"      # before breakfast
power = "262 W"

[bike]
mass = "9 kg"
cda = "0.25 m^2"
crr = "0.004"

[course]
distance = "5 km"
step = "50 m"

# after all
[[option]]
name = "Cap"   # mine
saves = "1 W at 40 km/h"
"""
COMMENTS = [line for line in TEXT.splitlines() if line.startswith("#")]

SPOTS = st.sampled_from(
    [
        *(Spot("rider", "power"), Spot("rider", "mass"), Spot("bike", "crr")),
        *(Spot("air", "wind_speed"), Spot("race", "name"), Spot("option", "slot")),
    ]
)
VALUES = st.none() | st.sampled_from(["1 W", "2 W", 0.004, True]) | st.text(max_size=8)

Content = dict[str, Any]


def changed(content: Content, spot: Spot, value: object) -> Content:
    """What a text should say after a value was written or taken out."""
    after = deepcopy(content)
    if spot.table == "option":
        table = after["option"][spot.number]
    elif value is None:
        table = after.get(spot.table, {})
    else:
        table = after.setdefault(spot.table, {})
    table.pop(spot.key, None)
    if value is not None:
        table[spot.key] = value
    return after


def without_empty(content: Content) -> Content:
    """An empty table says nothing."""
    return {name: one for name, one in content.items() if one}


class DraftMachine(RuleBasedStateMachine):
    """A draft against a list of its own of what every step said."""

    @initialize()
    def begin(self) -> None:
        self.folder = Path(tempfile.mkdtemp())
        self.file = self.folder / "race.toml"
        self.file.write_bytes(TEXT.encode())
        self.draft = Draft.opened(self.file)
        self.texts, self.now, self.last = [TEXT], 0, None

    def teardown(self) -> None:
        shutil.rmtree(self.folder, ignore_errors=True)

    @property
    def content(self) -> Content:
        return tomllib.loads(self.draft.text)

    def stepped(self, about: Spot | None) -> None:
        """Keep the step in our list: a spot that is typed on at is one step."""
        if self.draft.text == self.texts[self.now]:
            return
        ahead = self.now + 1 < len(self.texts)
        joins = about is not None and about == self.last and not ahead
        self.texts = self.texts[: self.now if joins else self.now + 1]
        if not self.texts or self.texts[-1] != self.draft.text:
            self.texts.append(self.draft.text)
        self.now, self.last = len(self.texts) - 1, about

    @rule(spot=SPOTS, value=VALUES)
    def write(self, spot: Spot, value: object) -> None:
        if spot.table == "option" and not self.content.get("option"):
            return
        before = self.content
        self.draft.write(spot, value)
        expected = changed(before, spot, value)
        assert without_empty(self.content) == without_empty(expected)
        self.stepped(spot)

    @rule(name=st.text(max_size=6))
    def add(self, name: str) -> None:
        before = self.content.get("option", [])
        number = self.draft.add("option", {"name": name})
        assert number == len(before)
        assert self.content["option"] == [*before, {"name": name}]
        self.stepped(None)

    @precondition(lambda self: self.content.get("option"))
    @rule(data=st.data())
    def remove(self, data: st.DataObject) -> None:
        before = self.content["option"]
        number = data.draw(st.integers(0, len(before) - 1))
        self.draft.remove("option", number)
        assert self.content.get("option", []) == before[:number] + before[number + 1 :]
        self.stepped(None)

    @rule()
    def undo(self) -> None:
        self.draft.undo()
        self.now, self.last = max(self.now - 1, 0), None

    @rule()
    def redo(self) -> None:
        self.draft.redo()
        self.now, self.last = min(self.now + 1, len(self.texts) - 1), None

    @rule()
    def end_step(self) -> None:
        self.draft.end_step()
        self.last = None

    @rule()
    def save(self) -> None:
        self.draft.save()
        self.last = None
        assert self.file.read_bytes().decode() == self.draft.text
        assert not self.draft.unsaved
        assert [one.name for one in self.folder.iterdir()] == ["race.toml"]

    @rule(power=st.integers(1, 400))
    def another_program_writes(self, power: int) -> None:
        text = TEXT.replace("262 W", f"{power} W")
        self.file.write_bytes(text.encode())
        assert self.draft.changed_on_disk() == (text != self.draft.saved)
        self.draft.reload(text)
        self.stepped(None)

    @invariant()
    def it_is_where_our_list_is(self) -> None:
        if not hasattr(self, "draft"):
            return
        assert self.draft.text == self.texts[self.now]
        assert self.draft.can_undo == (self.now > 0)
        assert self.draft.can_redo == (self.now + 1 < len(self.texts))
        assert self.draft.unsaved == (self.draft.text != self.file.read_bytes().decode())
        assert COMMENTS[0] in self.draft.text


KEYS = {
    "rider.power": st.integers(100, 400).map("{} W".format),
    "rider.mass": st.integers(40, 99).map("{} kg".format),
    "bike.mass": st.integers(5, 20).map("{} kg".format),
    "air.temperature": st.integers(0, 40).map("{} degC".format),
}
CHANGES = st.fixed_dictionaries({}, optional=KEYS)


class TwoWriters(RuleBasedStateMachine):
    """A screen and other programs that write one file: nothing that was said to be written goes."""

    @initialize()
    def begin(self) -> None:
        self.folder = Path(tempfile.mkdtemp())
        self.file = self.folder / "race.toml"
        self.file.write_text(TEXT, "utf-8")
        self.draft = Draft.opened(self.file)
        self.written: dict[str, str] = {}

    def teardown(self) -> None:
        shutil.rmtree(self.folder, ignore_errors=True)

    def on_disk(self, key: str) -> object:
        table, name = key.split(".")
        return tomllib.loads(self.file.read_text("utf-8")).get(table, {}).get(name)

    @rule(one=CHANGES, other=CHANGES)
    def at_once(self, one: dict[str, str], other: dict[str, str]) -> None:
        """Two programs set values at the same moment; where both name a key, either may be last."""
        both = [[f"{key}={value}" for key, value in some.items()] for some in (one, other)]
        at_work = [Thread(target=write_changes, args=(self.file, some)) for some in both if some]
        for thread in at_work:
            thread.start()
        for thread in at_work:
            thread.join()
        for key in one.keys() | other.keys():
            assert self.on_disk(key) in {one.get(key), other.get(key)}
            self.written[key] = str(self.on_disk(key))

    @rule(changes=CHANGES)
    def refused(self, changes: dict[str, str]) -> None:
        """One bad value, and none is written."""
        before = self.file.read_bytes()
        with pytest.raises(InputError):
            write_changes(
                self.file, [*(f"{k}={v}" for k, v in changes.items()), "bike.cda=5 lamps"]
            )
        assert self.file.read_bytes() == before

    @rule(power=KEYS["rider.power"])
    def the_screen_saves(self, power: str) -> None:
        """It looks first, takes over what is new, and writes its own value into that."""
        if self.draft.changed_on_disk():
            self.draft.reload(self.file.read_text("utf-8"))
        self.draft.write(Spot("rider", "power"), power)
        self.draft.save()
        self.written["rider.power"] = power

    @invariant()
    def all_is_there(self) -> None:
        if hasattr(self, "file"):
            assert {key: self.on_disk(key) for key in self.written} == self.written
            assert [one.name for one in self.folder.iterdir()] == ["race.toml"]


MACHINES = pytest.mark.parametrize("machine", [DraftMachine, TwoWriters])


def go(machine: type[RuleBasedStateMachine], times: int, steps: int) -> None:
    how = settings(
        max_examples=times,
        stateful_step_count=steps,
        derandomize=times <= 10,
        deadline=None,
        suppress_health_check=list(HealthCheck),
    )
    run_state_machine_as_test(machine, settings=how)


@MACHINES
def test_few_steps(machine: type[RuleBasedStateMachine]) -> None:
    go(machine, 4, 12)


@pytest.mark.slow
@MACHINES
def test_many_steps(machine: type[RuleBasedStateMachine]) -> None:
    go(machine, 200, 60)
