"""``racecalc advice`` as JSON: what is advised, and the answers of the commands behind it."""

from typing import Any

from racecalc.decisions.advice.answer import Advice
from racecalc.views.advice.sheet import Sheet, spoken
from racecalc.views.as_json import basis_json, time_json
from racecalc.views.basket_json import basket_json
from racecalc.views.decide_json import decide_json
from racecalc.views.pace_json import pace_json
from racecalc.views.value_json import value_json


def advice_json(advice: Advice, sheet: Sheet) -> dict[str, Any]:
    """Answer of ``racecalc advice``; a part that there is no answer to is null."""
    base, shopping = advice.base, advice.shopping
    return {
        "headline": spoken(sheet.headline),
        "power_w": advice.race.rider.power,
        "stated_power_w": advice.stated_power_w or advice.race.rider.power,
        "doubtful": list(advice.doubtful),
        "advised": [
            {"name": one.name, "do": one.do, "because": one.because} for one in shopping.advised
        ],
        "held_back": list(shopping.held_back),
        "not_worked_out": [{"name": one.name, "because": one.problem} for one in advice.refused],
        "cautions": [{"about": one.about, "words": one.words} for one in advice.cautions],
        "time": time_json(advice.race, advice.timing, (), advice.band),
        "pace": pace_json(base, advice.pacing, None) if advice.pacing else None,
        "value": value_json(base, advice.values, (), (), {}) if advice.values else None,
        "basket": basket_json(base, shopping.basket, shopping.steps) if shopping.basket else None,
        "decide": decide_json(base, advice.decision) if advice.decision else None,
        **basis_json(advice.race),
    }
