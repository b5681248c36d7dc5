"""Answers as JSON: documented keys, SI units in the key names, nothing rounded."""

import json
from typing import Any

from racecalc.answers.basis import Basis
from racecalc.answers.fields import plain
from racecalc.domain.race import Race


def dumps(answer: Any) -> str:
    """Text of an answer; what is not finite becomes null, as JSON has no word for it."""
    return json.dumps(plain(answer), indent=2, ensure_ascii=False, allow_nan=False)


def basis_json(race: Race) -> dict[str, Any]:
    """What every answer on a race rests on."""
    found: dict[str, Any] = plain(Basis.of(race))
    return found
