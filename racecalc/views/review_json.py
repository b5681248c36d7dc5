"""``racecalc review`` as JSON."""

from dataclasses import asdict
from typing import Any

from racecalc.decisions.review.review import Explanation, Review
from racecalc.domain.race import Race
from racecalc.views.as_json import basis_json

UNITS = {"cda": "m^2", "crr": "1", "wind": "m/s", "power": "W"}
"""SI unit of the values of each input."""


def review_json(race: Race, found: Review) -> dict[str, Any]:
    """Answer of ``racecalc review``; differences and rests are positive where slower."""
    answer = asdict(found)
    answer["ridden"] = answer.pop("source")
    answer["alone"] = [_explanation_json(one) for one in found.alone]
    if found.pair:
        answer["pair"]["explanations"] = [_explanation_json(one) for one in found.pair.explanations]
    basis = basis_json(race)
    basis["warnings"] += answer.pop("notes")
    return {**answer, **basis}


def _explanation_json(one: Explanation) -> dict[str, Any]:
    return {**asdict(one), "unit": UNITS[one.quantity]}
