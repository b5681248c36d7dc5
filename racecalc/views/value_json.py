"""``racecalc value`` as JSON."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

from racecalc.decisions.explain import ExplainedStep
from racecalc.decisions.riding import Ridden
from racecalc.decisions.season import SeasonValue
from racecalc.decisions.set_value import SetValue
from racecalc.decisions.value import OptionValue
from racecalc.views.as_json import band_json, basis_json, chain_json, price_json

NESTED = (
    "option",
    "change",
    "price",
    "wanted",
    "margin_s",
    "cost",
    "race_price",
    "ceiling",
    "holding",
    "band",
)
"""Fields of `OptionValue` that are not plain values, or not of use to a script."""


def value_json(
    base: Ridden,
    values: Sequence[OptionValue],
    joint: Sequence[SetValue],
    season: Sequence[SeasonValue],
    chains: Mapping[str, Sequence[ExplainedStep]],
) -> dict[str, Any]:
    """Answer of ``racecalc value``."""
    explained = {name: chain_json(steps) for name, steps in chains.items()}
    return {
        "baseline_time_s": base.time,
        "options": [_option_json(value) for value in values],
        "sets": [_set_json(one) for one in joint],
        "season": [asdict(one) for one in season],
        **({"explanation": explained} if explained else {}),
        **basis_json(base.race),
    }


def _option_json(value: OptionValue) -> dict[str, Any]:
    option = value.option
    simple = {
        name: getattr(value, name) for name in value.__dataclass_fields__ if name not in NESTED
    }
    if value.band:
        simple["band"] = band_json(value.band)
    return {
        "name": option.name,
        "slot": option.slot,
        **simple,
        **price_json(value.price),
        "cost_of_use": asdict(value.cost),
        "price_per_second_of_a_race": asdict(value.race_price),
        "price_ceiling": asdict(value.ceiling) if value.ceiling else None,
        "holding": asdict(value.holding) if value.holding else None,
        "least_gain_w": option.ties.least_gain or None,
        "rules": option.ties.rules,
        "saves": option.saves.words if option.saves else None,
        "doubt": option.doubt.words if option.doubt else None,
        "cda_change_m2": value.change.cda,
        "crr_change": value.change.crr,
        "drivetrain_loss_change": value.change.drivetrain_loss,
        "mass_change_kg": value.change.mass,
        "power_change_w": value.change.power,
        "comfort": option.comfort,
        "note": option.note,
    }


def _set_json(joint: SetValue) -> dict[str, Any]:
    answer = {name: getattr(joint, name) for name in joint.__dataclass_fields__}
    return {**answer, "names": list(joint.names), **price_json(joint.price)}
