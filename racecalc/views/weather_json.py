"""``racecalc weather`` as JSON: documented keys, SI units in the key names, nothing rounded."""

import math
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from racecalc.decisions.doubt import Spread
from racecalc.decisions.riding import Ridden
from racecalc.decisions.weather import Day, RaceDay, SlotOverDays, Start
from racecalc.decisions.weather_options import BasketOnDays
from racecalc.views.as_json import basis_json


def weather_json(
    base: Ridden, found: RaceDay, baskets: Sequence[BasketOnDays], seed: int
) -> dict[str, Any]:
    """Answer of ``racecalc weather``."""
    return {
        "stated_time_s": found.stated_s,
        "days": found.days,
        "seed": seed if found.share_error is not None else None,
        "time": _spread_json(found.spread),
        "fastest": {"time_s": found.fastest.time_s, **_day_json(found.fastest.day)},
        "slowest": {"time_s": found.slowest.time_s, **_day_json(found.slowest.day)},
        "starts": [_start_json(start) for start in found.starts],
        "options": [asdict(option) for option in found.options],
        "slots": [_slot_json(slot) for slot in found.slots],
        "baskets": [_basket_json(one) for one in baskets],
        "watt_s": found.watt_s,
        "share_error": found.share_error,
        "cautions": list(found.cautions),
        **basis_json(base.race),
    }


def _basket_json(one: BasketOnDays) -> dict[str, Any]:
    return {
        "chosen": list(one.names),
        "price": one.price,
        "share_best": one.share_best,
        "mean_regret_s": one.mean_regret_s,
        "worst_regret_s": one.worst_regret_s,
        "worst_day": _day_json(one.worst_day),
        "best_as_stated": one.stated,
    }


def _spread_json(spread: Spread | None) -> dict[str, Any] | None:
    return asdict(spread) if spread else None


def _day_json(day: Day) -> dict[str, Any]:
    """Direction is counted from north or, where the wind follows the rider, from ahead."""
    air, wind = day.air, day.air.wind
    known = air.density is None
    pressure = "sea_level_pressure_pa" if air.pressure_at_sea_level else "pressure_pa"
    return {
        "day": day.name,
        "wind_speed_m_s": wind.speed,
        "wind_from_deg": math.degrees(wind.direction) % 360.0,
        "wind_follows_rider": wind.follows_rider,
        "wind_height_m": wind.height,
        "wind_at_rider_m_s": day.wind_at_rider,
        "gust_at_rider_m_s": day.gust,
        "temperature_k": air.temperature if known else None,
        pressure: air.pressure if known else None,
        "air_density_kg_m3": air.density,
    }


def _start_json(start: Start) -> dict[str, Any]:
    return {
        **_day_json(start.day),
        "time_s": start.time_s,
        "against_first_s": start.later_s,
        "time": _spread_json(start.spread),
        "against_first": _spread_json(start.later),
    }


def _slot_json(slot: SlotOverDays) -> dict[str, Any]:
    return {
        "slot": slot.name,
        "choices": [
            {
                "name": choice.name,
                "share_best": choice.share_best,
                "mean_regret_s": choice.mean_regret_s,
                "worst_regret_s": choice.worst_regret_s,
                "worst_day": _day_json(choice.worst_day),
            }
            for choice in slot.choices
        ],
        "least_mean_regret": slot.least_mean,
        "least_worst_regret": slot.least_worst,
        "best_by_start": list(slot.by_start),
    }
