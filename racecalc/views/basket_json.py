"""``racecalc basket`` as JSON."""

from collections.abc import Sequence
from typing import Any

from racecalc.decisions.basket.basket import Basket, Other, Rung
from racecalc.decisions.basket.candidates import Item
from racecalc.decisions.riding import Ridden
from racecalc.views.as_json import basis_json, price_json


def basket_json(base: Ridden, found: Basket, steps: Sequence[Rung]) -> dict[str, Any]:
    """Answer of ``racecalc basket``; money in whole units of the currency."""
    return {
        "baseline_time_s": base.time,
        "chosen": [item.option.name for item in found.items],
        "saved_s": found.saved_s,
        "saved_s_low": found.saved_s_low,
        "saved_s_high": found.saved_s_high,
        "doubt_s": found.doubt_s,
        "sum_of_single_s": found.singles_s,
        **price_json(found.price),
        "budget": float(found.budget.amount),
        "proved_optimal": found.proved_optimal,
        "gap_s": found.gap_s,
        "target_s": found.target_s,
        "chance_of_target": found.chance_of_target,
        "sets_compared": found.sets_compared or None,
        "tests_of_sets": list(found.tests),
        "without_doubt_stated": list(found.unsure),
        "options": [_item_json(item) for item in found.items],
        "runner_up": _other_json(found.runner_up),
        "without_bare_claims": _other_json(found.doubted_only),
        "ladder": [_rung_json(step) for step in steps],
        "left_out": [{"name": name, "because": reason} for name, reason in found.left_out],
        "races_hired": found.races,
        **basis_json(base.race),
    }


def _item_json(item: Item) -> dict[str, Any]:
    return {
        "name": item.option.name,
        "slot": item.option.slot,
        "saved_alone_s": item.worth.saved_s,
        "doubt_s": item.worth.doubt_s,
        "cost": float(item.cost),
        "by": item.by,
    }


def _other_json(other: Other | None) -> dict[str, Any] | None:
    if other is None:
        return None
    return {
        "chosen": list(other.names),
        "saved_s": other.saved_s,
        **price_json(other.price),
        "chance_chosen_better": other.chance_chosen_better,
    }


def _rung_json(step: Rung) -> dict[str, Any]:
    return {
        "price": float(step.cost),
        "saved_s": step.saved_s,
        "chosen": list(step.names),
        "price_per_second_more": step.per_second_more,
    }
