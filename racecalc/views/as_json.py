"""Answers as JSON: documented keys, SI units in the key names, nothing rounded."""

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

from racecalc.decisions.bands import SavingBand, TimeBand
from racecalc.decisions.conversion import Conversion, Lacking
from racecalc.decisions.explain import ExplainedStep
from racecalc.decisions.rates import Rate
from racecalc.decisions.riding import Ridden
from racecalc.decisions.timing import Timing
from racecalc.decisions.value import OptionValue, SetValue
from racecalc.domain.course import CourseReport
from racecalc.domain.race import Race
from racecalc.quantities.money import Money


def dumps(answer: dict[str, Any]) -> str:
    """Text of an answer; what is not finite becomes null, as JSON has no word for it."""
    return json.dumps(_finite(answer), indent=2, ensure_ascii=False, allow_nan=False)


def _finite(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _finite(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [_finite(one) for one in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


def convert_json(words: str, found: Sequence[Conversion | Lacking]) -> dict[str, Any]:
    """Answer of ``racecalc convert``."""
    return {
        "stated": words,
        "conversions": [asdict(one) for one in found if isinstance(one, Conversion)],
        "lacking": [asdict(one) for one in found if isinstance(one, Lacking)],
    }


def basis_json(race: Race) -> dict[str, Any]:
    """Say what every answer on a race rests on."""
    return {
        "race": race.name,
        "course": _report_json(race.course.report),
        "warnings": [str(notice) for notice in race.notices if notice.warning],
        "assumptions": [str(assumption) for assumption in race.assumptions],
    }


def _report_json(report: CourseReport) -> dict[str, Any]:
    return {
        "source": report.source,
        "points_read": report.points_read,
        "points_kept": report.points_kept,
        "dropped": report.dropped,
        "gaps": [{"from_m": start, "length_m": length} for start, length in report.gaps],
        "paused_time_s": report.paused_time,
        "ascent_before_m": report.ascent_before,
        "ascent_after_m": report.ascent_after,
        "noise_m": report.noise,
        "noise_given": report.noise_given,
        "notes": list(report.notes),
    }


def _chain_json(steps: Sequence[ExplainedStep]) -> list[dict[str, str]]:
    return [asdict(step) for step in steps]


def time_json(
    race: Race, timed: Timing, steps: Sequence[ExplainedStep], band: TimeBand | None = None
) -> dict[str, Any]:
    """Answer of ``racecalc time``; with the band where doubts are stated."""
    answer = asdict(timed)
    if band:
        answer["band"] = _band_json(band)
    more_warnings = answer.pop("warnings")
    basis = basis_json(race)
    basis["warnings"] += more_warnings
    explained = {"explanation": _chain_json(steps)} if steps else {}
    return {**answer, **explained, **basis}


def _band_json(band: TimeBand | SavingBand) -> dict[str, Any]:
    found = asdict(band)
    return {**found.pop("spread"), **found}


def rates_json(ridden: Ridden, found: Sequence[Rate]) -> dict[str, Any]:
    """Answer of ``racecalc rates``."""
    return {
        "time_s": ridden.time,
        "rates": [asdict(rate) for rate in found],
        **basis_json(ridden.race),
    }


def value_json(
    base: Ridden,
    values: Sequence[OptionValue],
    joint: Sequence[SetValue],
    chains: Mapping[str, Sequence[ExplainedStep]],
) -> dict[str, Any]:
    """Answer of ``racecalc value``."""
    explained = {name: _chain_json(steps) for name, steps in chains.items()}
    return {
        "baseline_time_s": base.time,
        "options": [_option_json(value) for value in values],
        "sets": [_set_json(one) for one in joint],
        **({"explanation": explained} if explained else {}),
        **basis_json(base.race),
    }


def _option_json(value: OptionValue) -> dict[str, Any]:
    option = value.option
    simple = {
        name: getattr(value, name)
        for name in value.__dataclass_fields__
        if name not in ("option", "change", "price", "margin_s", "band")
    }
    if value.band:
        simple["band"] = _band_json(value.band)
    return {
        "name": option.name,
        "slot": option.slot,
        **simple,
        **_price_json(value.price),
        "saves": option.saves.words if option.saves else None,
        "doubt": option.doubt.words if option.doubt else None,
        "cda_change_m2": value.change.cda,
        "crr_change": value.change.crr,
        "drivetrain_loss_change": value.change.drivetrain_loss,
        "mass_change_kg": value.change.mass,
        "note": option.note,
    }


def _set_json(joint: SetValue) -> dict[str, Any]:
    answer = {name: getattr(joint, name) for name in joint.__dataclass_fields__}
    return {**answer, "names": list(joint.names), **_price_json(joint.price)}


def _price_json(price: Money | None) -> dict[str, Any]:
    return {
        "price": float(price.amount) if price else None,
        "currency": price.currency if price else None,
    }
