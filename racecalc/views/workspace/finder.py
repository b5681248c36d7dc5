"""Find anything by its words: fields, values, options, places, questions and actions."""

import re
from collections.abc import Awaitable, Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any, ClassVar, Protocol

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.content import Content
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option as Line

from racecalc.errors import InputError
from racecalc.files.draft import Draft, Spot
from racecalc.files.race_keys import LISTS, RACE_KEYS, Key
from racecalc.files.race_values import read_checked
from racecalc.files.race_writing import as_typed, from_typed
from racecalc.quantities.kinds import AREA, Kind
from racecalc.views.command_line import COMMANDS, QUESTIONS
from racecalc.views.workspace.dialogs import Dialog
from racecalc.views.workspace.places import ACTIONS, WAYS
from racecalc.views.workspace.session import WorkSession

# --- What can be found ---------------------------------------------------------------------------


@dataclass(frozen=True)
class Finding:
    """Something that can be gone to."""

    name: str
    """What it is called; words at its beginning count most."""
    about: str
    """What it means, or what stands there now."""
    go: Callable[[], Awaitable[Any]]
    """Goes there."""
    rank: int = 0
    """What is found by the same words comes in the order of this, the lowest first."""
    also: str = ""
    """Other words that find it, which are not shown."""


MOST_FOUND = 30
"""Lines that are listed; our choice."""


def found(query: str, findings: Iterable[Finding]) -> list[Finding]:
    """Those in which every word of a query is a part of some word, the nearest first."""
    words = query.casefold().split()
    scored = [(_score(words, one), at, one) for at, one in enumerate(findings)]
    best = sorted((score, at, one) for score, at, one in scored if score is not None)
    return [one for _, _, one in best[:MOST_FOUND]]


def _score(words: Sequence[str], one: Finding) -> tuple[int, int] | None:
    name, about = f" {one.name.casefold()}", f" {one.about} {one.also}".casefold()
    worst = 0
    for word in words:
        # At the beginning of the name, of a word of it, anywhere in it, in what it means.
        begins = name.startswith(f" {word}")
        places = (begins, f" {word}" in name, word in name, f" {word}" in about, word in about)
        if True not in places:
            return None
        worst = max(worst, places.index(True))
    return worst, one.rank


# --- A value among the words ---------------------------------------------------------------------

_VALUE = re.compile(r"(.*?)(?:^|\s)([+-]?\d[\d.,:]*)\s*(\S*)$", re.DOTALL)


@dataclass(frozen=True)
class Wanted:
    """Words that name something, and the value that it is to have."""

    words: str
    number: str
    unit: str
    """As far as it is typed."""


def wanted_of(query: str) -> Wanted | None:
    """What a query wants changed; None where it holds no number.

    Examples
    --------
    >>> wanted_of("wind 6 m/s"), wanted_of("30deg"), wanted_of("suit")
    (Wanted(words='wind', number='6', unit='m/s'), Wanted(words='', number='30', unit='deg'), None)
    """
    parts = _VALUE.fullmatch(query.strip())
    return Wanted(parts[1].strip(), parts[2], parts[3]) if parts else None


def value_for(key: Key, wanted: Wanted, now: str, currencies: Sequence[str] = ()) -> str | None:
    """The value that is wanted, with its unit written out; None where it is none of this key."""
    kind = AREA if key.form == "drag area" else key.form
    stands = now or key.default
    if isinstance(kind, Kind):
        units, bare = kind.choices(), kind.bare
    else:
        known = {"money": list(currencies), "direction": ["deg"], "count": []}
        if key.form not in known:
            return None
        units, bare = known[key.form], key.form == "count"
    own = stands.partition(" ")[2]
    alike = [one for one in (own, *units) if one.casefold().startswith(wanted.unit.casefold())]
    if wanted.unit and not alike:
        return None
    unit = alike[0] if alike else ""
    value = f"{wanted.number} {unit}".strip()
    if not (unit or bare):
        return None
    try:
        read_checked(key, from_typed(key, value), "", [])
    except InputError:
        return None
    return value


MONEY_KEY = RACE_KEYS["money"]["budget"]


def fields_of(draft: Draft) -> Iterator[tuple[Spot, str, str]]:
    """Every field there could be, those in use first: its spot, its name and its value."""
    for in_use in (True, False):
        for table, keys in RACE_KEYS.items():
            entries = draft.entries(table)
            count = len(entries) if table in LISTS else 1
            for number in range(count):
                values = entries[number] if number < len(entries) else {}
                for key in keys:
                    spot = Spot(table, key, number)
                    if (key in values) == in_use and (in_use or table not in LISTS):
                        words = key.replace("_", " ")
                        owner = draft.words(spot).removesuffix(words).rstrip(", ")
                        yield spot, f"{words} ({owner})", as_typed(values.get(key))


# --- Everything that can be found at a race file -------------------------------------------------

IN_USE, PLACES, ASKED, ACTED, UNUSED = range(5)
"""The order of what is found by the same words."""


class Goes(Protocol):
    """The screen of the race file, which goes to what is found."""

    session: WorkSession

    async def go_to_field(self, spot: Spot, value: str | None = None) -> None:
        """Open a field, with a value put into it if one is given."""

    async def go_to_option(self, name: str) -> None:
        """Go to an option in the table of them."""

    async def go_to_place(self, name: str, part: str = "", value: str = "") -> None:
        """Go to a place, and in it to a field, with a value if one is given."""

    async def ask(self, command: str, sentence: str, given: Mapping[str, str]) -> None:
        """Ask a question, some of its wishes given."""

    async def act(self, action: str) -> None:
        """Do what is done at a key."""

    def keys_here(self) -> Iterator[tuple[str, str, str]]:
        """Name, meaning and action of what keys do in the places that were seen."""


def findings_at(desk: Goes, query: str) -> list[Finding]:
    """What a query may mean at a race file."""
    wanted = wanted_of(query)
    values = found(wanted.words, _values(desk, wanted)) if wanted else []
    if not query.strip():
        return list(_ways(desk))
    return [*values, *found(query, (*_ways(desk), *_fields(desk)))][:MOST_FOUND]


def _values(desk: Goes, wanted: Wanted) -> Iterator[Finding]:
    draft = desk.session.draft
    currencies = _currencies(draft.text)
    amount = value_for(MONEY_KEY, wanted, "", currencies)
    for command, sentences in QUESTIONS.items():
        if amount and "{budget}" in sentences[0]:
            go = partial(desk.ask, command, sentences[0], {"budget": amount})
            yield Finding(sentences[0].replace("{budget}", amount), "", go, IN_USE)
    for way in WAYS:
        for words, part in way.parts:
            if part == "goal" and ":" in wanted.number:
                go = partial(desk.go_to_place, way.name, part, wanted.number)
                yield Finding(f"{words} {wanted.number}", way.meaning, go, IN_USE)
    for spot, name, now in fields_of(draft):
        key = RACE_KEYS[spot.table][spot.key]
        value = value_for(key, wanted, now, currencies)
        if value:
            at_home = now and now.endswith(value.partition(" ")[2])
            about = f"now {now}" if now else key.meaning
            go = partial(desk.go_to_field, spot, value)
            yield Finding(f"{name}: {value}", about, go, IN_USE if at_home else UNUSED)


def _currencies(text: str) -> list[str]:
    return list(dict.fromkeys(re.findall(r"\d ([A-Z]{3})\b", text))) or ["EUR"]


def _ways(desk: Goes) -> Iterator[Finding]:
    """Everything but the fields."""
    draft = desk.session.draft
    for number, way in enumerate(WAYS, 2):
        yield Finding(
            way.name, f"F{number}: {way.meaning}", partial(desk.go_to_place, way.name), PLACES
        )
        for words, part in way.parts:
            go = partial(desk.go_to_place, way.name, part)
            yield Finding(words, f"F{number} {way.name}", go, PLACES)
    for entry in draft.entries("option"):
        name = str(entry.get("name", ""))
        about = ", ".join(str(entry[key]) for key in ("price", "saves") if key in entry)
        yield Finding(name, f"option {about}".strip(), partial(desk.go_to_option, name), PLACES)
    for command, sentences in QUESTIONS.items():
        for sentence in sentences:
            words = sentence.replace("{", "[").replace("}", "]").replace("_", " ")
            about = f"{command}: {COMMANDS[command][1]}"
            yield Finding(words, about, partial(desk.ask, command, sentence, {}), ASKED)
    for name, about, action in (*ACTIONS, *desk.keys_here()):
        yield Finding(name, about, partial(desk.act, action), ACTED)


def _fields(desk: Goes) -> Iterator[Finding]:
    for spot, name, now in fields_of(desk.session.draft):
        listed = spot.table in LISTS
        key = RACE_KEYS[spot.table][spot.key]
        about = "  ".join(filter(None, (now, key.meaning)))
        rank = IN_USE if now and not listed else UNUSED
        yield Finding(name, about, partial(desk.go_to_field, spot), rank, " ".join(key.also))


# --- The finder ----------------------------------------------------------------------------------

KEYS = "Enter: go there   Up, Down: choose   Esc: back"


class Finder(Dialog[Finding | None]):
    """A line to type words into, and what they find.

    Parameters
    ----------
    findings : callable
        Gives what the words of a query may mean.
    """

    BINDINGS: ClassVar = [
        Binding("down", "cursor(1)", show=False),
        Binding("up", "cursor(-1)", show=False),
        Binding("pagedown", "cursor(8)", show=False),
        Binding("pageup", "cursor(-8)", show=False),
    ]
    CLASSES_OF_BOX = "dialog -tall -finder"

    def __init__(self, findings: Callable[[str], list[Finding]]) -> None:
        super().__init__("Find anything", None)
        self._findings = findings
        self._found: list[Finding] = []

    def answers(self) -> ComposeResult:
        """The line, what is found, and the keys."""
        yield Input(placeholder="a field, value, option, place, question or action", compact=True)
        yield OptionList(id="found", markup=False)
        yield Static(KEYS, classes="dialog-keys")

    def on_mount(self) -> None:
        """Show what there is before a word is typed."""
        self.query_one("#found").can_focus = False
        self._look("")

    @on(Input.Changed)
    def _typed(self, event: Input.Changed) -> None:
        event.stop()
        self._look(event.value)

    def _look(self, query: str) -> None:
        self._query = query
        self._found = self._findings(query)
        listed = self.query_one("#found", OptionList)
        listed.clear_options()
        listed.add_options(Line(_line(one)) for one in self._found)
        listed.highlighted = 0 if self._found else None

    def action_cursor(self, by: int) -> None:
        """Choose another."""
        listed = self.query_one("#found", OptionList)
        if self._found:
            at = (listed.highlighted or 0) + by
            listed.highlighted = min(max(at, 0), len(self._found) - 1)

    @on(Input.Submitted)
    def _go(self, event: Input.Submitted) -> None:
        event.stop()
        if event.value != self._query:
            # Typed faster than it was shown: Enter means what the words find now.
            self._look(event.value)
        at = self.query_one("#found", OptionList).highlighted
        if at is not None:
            self.dismiss(self._found[at])

    @on(OptionList.OptionSelected)
    def _clicked(self, event: OptionList.OptionSelected) -> None:
        event.stop()
        self.dismiss(self._found[event.option_index])


def _line(one: Finding) -> Content:
    return Content.assemble((one.name, "bold"), f"  {one.about}" if one.about else "")
