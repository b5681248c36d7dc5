"""``racecalc pace`` as JSON."""

from dataclasses import asdict
from typing import Any

from racecalc.decisions.pacing.card import Card, Goal, Pacing
from racecalc.decisions.pacing.limits import mean_of
from racecalc.decisions.riding import Ridden
from racecalc.views.as_json import basis_json


def pace_json(base: Ridden, found: Pacing, goal: Goal | None) -> dict[str, Any]:
    """Answer of ``racecalc pace``."""
    mean = mean_of(found.limit)
    return {
        **card_json(found.card),
        "astray_s": found.astray_s,
        "mean_held_w": found.effort if mean else None,
        "demand_all_along": found.asked.demand or None,
        "what_if": [asdict(one) for one in found.what_ifs],
        "goal": asdict(goal) if goal else None,
        "critical_power_fit": asdict(found.asked.fit) if found.asked.fit else None,
        "assumed": list(found.asked.assumed),
        **basis_json(base.race),
    }


def card_json(card: Card) -> dict[str, Any]:
    """A card with what it gains and gives away."""
    return {
        "time_s": card.time_s,
        "constant_power_w": card.constant_power_w,
        "constant_power_time_s": card.constant_power_time_s,
        "ideal_time_s": card.ideal_time_s,
        "ideal_sections": card.ideal_sections,
        "saved_s": card.saved_s,
        "given_away_s": card.given_away_s,
        "targets": [asdict(target) for target in card.targets],
        "landmarks": [asdict(passage) for passage in card.passages],
        "mean_power_w": card.mean_power_w,
        "power_mean_w": card.power_mean_w,
        "power_mean_order": card.power_mean_order,
        "distance_mean_w": card.distance_mean_w,
        "limit": card.limit,
        "least_reserve_j": card.reserve_left_j,
        "least_reserve_unrefilled_j": card.reserve_unrefilled_j,
        "doubtful": list(card.warnings),
        "cautions": list(card.cautions),
    }
