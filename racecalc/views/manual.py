"""The manual: written topics, and topics made from the tables and answers of the package."""

from collections.abc import Iterator
from functools import cache
from importlib.resources import files
from typing import Any

from racecalc.answers.advice import AdviceAnswer
from racecalc.answers.against import AgainstAnswer
from racecalc.answers.basket import BasketAnswer
from racecalc.answers.break_even import BreakEvenAnswer
from racecalc.answers.compare import CompareAnswer
from racecalc.answers.decide import DecideAnswer
from racecalc.answers.fields import schema
from racecalc.answers.pace import PaceAnswer
from racecalc.answers.plan import ConvertAnswer
from racecalc.answers.quick import QuickAnswer
from racecalc.answers.race_day import PlacesAnswer, WeatherAnswer
from racecalc.answers.review import ReviewAnswer
from racecalc.answers.time import RatesAnswer, TimeAnswer
from racecalc.answers.value import ValueAnswer
from racecalc.decisions.evidence.planning import PlannedTest
from racecalc.decisions.evidence.trial import OneRider
from racecalc.decisions.measuring.measured import TestDay
from racecalc.errors import InputError
from racecalc.files.race_keys import LISTS, RACE_KEYS, key_facts
from racecalc.files.race_values import nearest

WRITTEN = (
    "first-race",
    "screen",
    "course",
    "testing",
    "recordings",
    "verdicts",
    "money",
    "pacing",
    "race-day",
    "after",
    "units",
    "python",
    "limits",
)
"""The written topics, in the order in which they are read."""

MADE = {
    "keys": "Every key of the race file",
    "json": "What each command prints with --json",
}
"""Topics that are made from the package itself."""

ANSWERS: dict[str, Any] = {
    "advice": AdviceAnswer,
    "against": AgainstAnswer,
    "basket": BasketAnswer,
    "breakeven": BreakEvenAnswer,
    "compare": CompareAnswer,
    "convert": ConvertAnswer,
    "decide": DecideAnswer,
    "measure": TestDay,
    "pace": PaceAnswer,
    "places": PlacesAnswer,
    "plan": PlannedTest,
    "quick": QuickAnswer,
    "rates": RatesAnswer,
    "review": ReviewAnswer,
    "time": TimeAnswer,
    "trial": OneRider,
    "value": ValueAnswer,
    "weather": WeatherAnswer,
}
"""What each command answers."""


SQUADS = ("pace", "time", "value")
"""The commands that take several race files."""


def titles() -> dict[str, str]:
    """What each topic is about."""
    written = {name: _text(name).partition("\n")[0].removeprefix("# ") for name in WRITTEN}
    return {**written, **MADE}


def topic(name: str, command: str = "") -> str:
    """A topic as Markdown; "json" is about one command.

    Raises
    ------
    InputError
        If there is no such topic or command.
    """
    if name == "keys":
        return "\n".join(_keys())
    if name == "json":
        return "\n".join(_json(command))
    if name not in WRITTEN:
        raise InputError("help", f"there is no topic '{name}'", nearest(name, list(titles())))
    return _text(name)


@cache
def _text(name: str) -> str:
    return files("racecalc").joinpath("manual", f"{name}.md").read_text("utf-8")


def _keys() -> Iterator[str]:
    yield "# Every key of the race file"
    for table, keys in RACE_KEYS.items():
        yield f"\n## {f'[[{table}]], any number of them' if table in LISTS else f'[{table}]'}\n"
        for key, about in keys.items():
            yield f"- **{key}**: {about.meaning}. {' '.join(key_facts(about))}"


def _json(command: str) -> Iterator[str]:
    if not command:
        yield f"# {MADE['json']}\n"
        yield from (f"- `racecalc help json {name}`" for name in ANSWERS)
        return
    if command not in ANSWERS:
        problem = f"there is no answer of '{command}'"
        raise InputError("help json", problem, nearest(command, list(ANSWERS)))
    yield f"# racecalc {command} --json\n"
    yield "SI units; what is not known is null. With --explain there is `explanation` too, a list"
    yield "of steps: `what`, `result`, `formula`, `inputs`, `source`.\n"
    if command in SQUADS:
        yield "Of several race files: an object with the list `races`, each such an answer.\n"
    yield from _entries(schema(ANSWERS[command]), "")


def _entries(described: dict[str, Any], indent: str) -> Iterator[str]:
    for key, about in described.get("properties", {}).items():
        facts = [about["type"], about.get("unit", ""), "or null" if about.get("nullable") else ""]
        facts += ["left out where there is none"] if about.get("optional") else []
        words = about.get("description", "")
        yield f"{indent}- **{key}** ({', '.join(filter(None, facts))}): {words}"
        inner = about.get("items", about.get("additionalProperties", about))
        yield from _entries(inner if isinstance(inner, dict) else {}, f"{indent}  ")
