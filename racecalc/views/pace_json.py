"""``racecalc pace`` as JSON."""

from dataclasses import asdict
from typing import Any

from racecalc.decisions.pacing.answer import Pacing
from racecalc.decisions.pacing.goal import Goal
from racecalc.decisions.pacing.limits import mean_of
from racecalc.decisions.riding import Ridden
from racecalc.views.as_json import basis_json


def pace_json(base: Ridden, found: Pacing, goal: Goal | None) -> dict[str, Any]:
    """Answer of ``racecalc pace``."""
    card = found.card
    mean = mean_of(found.limit)
    return {
        "time_s": card.time_s,
        "constant_power_time_s": card.constant_power_time_s,
        "ideal_time_s": card.ideal_time_s,
        "saved_s": card.saved_s,
        "given_away_s": card.given_away_s,
        "astray_s": found.astray_s,
        "targets": [asdict(target) for target in card.targets],
        "landmarks": [asdict(passage) for passage in card.passages],
        "mean_power_w": card.mean_power_w,
        "power_mean_w": card.power_mean_w,
        "power_mean_order": found.order,
        "distance_mean_w": card.distance_mean_w,
        "limit": card.limit,
        "mean_held_w": found.effort if mean else None,
        "least_reserve_j": found.critical_left_j,
        "least_reserve_unrefilled_j": found.reserve_unrefilled_j,
        "demand_all_along": found.demand or None,
        "what_if": [asdict(one) for one in found.what_ifs],
        "goal": asdict(goal) if goal else None,
        "critical_power_fit": asdict(found.fit) if found.fit else None,
        "doubtful": list(found.warnings),
        "cautions": list(card.cautions),
        **basis_json(base.race),
    }
