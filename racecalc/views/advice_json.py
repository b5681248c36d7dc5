"""``racecalc advice`` as JSON: what is advised, and the answers of the commands behind it."""

from typing import Any

from racecalc.answers.basis import Basis
from racecalc.answers.basket import BasketAnswer
from racecalc.answers.decide import DecideAnswer
from racecalc.answers.fields import plain
from racecalc.answers.pace import PaceAnswer
from racecalc.answers.time import TimeAnswer
from racecalc.answers.value import ValueAnswer
from racecalc.decisions.advice.advice import Advice
from racecalc.views.advice.sheet import Sheet, spoken
from racecalc.views.as_json import basis_json


def advice_json(advice: Advice, sheet: Sheet) -> dict[str, Any]:
    """Answer of ``racecalc advice``; a part that there is no answer to is null."""
    base, shopping, timed = advice.base, advice.shopping, advice.timing
    basis = Basis.of(advice.race)
    time = TimeAnswer(base, timed, Basis.of(advice.race, timed.warnings), advice.band)
    values = ValueAnswer(base.time, tuple(advice.values), (), (), basis, {})
    basket = shopping.basket and BasketAnswer(base.time, shopping.basket, shopping.steps, basis)
    decide = advice.decision and DecideAnswer(advice.decision, (), basis)
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
        "time": plain(time),
        "pace": plain(PaceAnswer(advice.pacing, None, basis)) if advice.pacing else None,
        "value": plain(values) if advice.values else None,
        "basket": plain(basket),
        "decide": plain(decide),
        **basis_json(advice.race),
    }
