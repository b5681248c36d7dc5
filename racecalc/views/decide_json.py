"""``racecalc decide`` as JSON; money in the currency that stands beside it."""

from dataclasses import asdict
from typing import Any

from racecalc.decisions.deciding import Action, Decision, Edge, Edges, Proposal, Session, SlotAnswer
from racecalc.decisions.riding import Ridden
from racecalc.decisions.test_worth import Gain
from racecalc.quantities.money import Money
from racecalc.views.as_json import basis_json


def decide_json(base: Ridden, found: Decision) -> dict[str, Any]:
    """Answer of ``racecalc decide``."""
    question = found.question
    per_second = float(question.per_second.amount)
    return {
        "currency": question.per_second.currency,
        "per_second": per_second,
        "session_fee": _amount(question.session_fee),
        "fee_per_pair": _amount(question.pair_fee),
        "whole_test": question.whole_test,
        "draws": question.draws,
        "seed": question.seed,
        "next_test": _test(found.next_test, per_second),
        "session": _session(found.session, per_second),
        "slots": [_slot(one, per_second) for one in found.slots],
        "together": asdict(found.together),
        "not_judged": [asdict(one) for one in found.not_judged],
        "notes": list(found.notes),
        **basis_json(base.race),
    }


def _amount(money: Money | None) -> float:
    return float(money.amount) if money else 0.0


def _slot(one: SlotAnswer, per_second: float) -> dict[str, Any]:
    return {
        "slot": one.slot,
        "advice": _action(one.action),
        "untested": {
            **_action(one.untested),
            "worth": one.worth,
            "worth_s": one.worth / per_second,
            "saved_s": one.saved_s,
            "chance_wrong": one.chance_wrong,
        },
        "perfect_knowledge": _gain(one.perfect, per_second),
        "test": _test(one.test, per_second),
        "by_pairs": [_test(test, per_second) for test in one.by_pairs],
        "edges": _edges(one.edges),
        "options": [asdict(prospect) for prospect in one.prospects],
    }


def _action(action: Action) -> dict[str, Any]:
    return {"action": action.kind, "names": list(action.names), "words": str(action)}


def _gain(gain: Gain, per_second: float) -> dict[str, Any]:
    return {**asdict(gain), "worth_s": gain.worth / per_second}


def _test(test: Proposal | None, per_second: float) -> dict[str, Any] | None:
    if test is None:
        return None
    return {
        "slot": test.slot,
        "names": list(test.names),
        "pairs": test.pairs,
        "runs": test.runs,
        "cost": test.cost,
        **_gain(test.gain, per_second),
        "net": test.net,
        "net_s": test.net / per_second,
        "buy_from_s": test.buy_from_s,
    }


def _session(session: Session | None, per_second: float) -> dict[str, Any] | None:
    if session is None:
        return None
    return {
        "tests": [_test(test, per_second) for test in session.tests],
        "runs": session.runs,
        "worth": session.worth,
        "cost": session.cost,
        "net": session.net,
        "net_s": session.net / per_second,
    }


def _edges(edges: Edges) -> dict[str, Any]:
    return {
        "below": _edge(edges.below),
        "above": _edge(edges.above),
        "shifts": [
            {"name": one.name, "saved_s": one.saved_s, "becomes": _action(one.becomes)}
            for one in edges.shifts
        ],
        "near": edges.near,
    }


def _edge(edge: Edge | None) -> dict[str, Any] | None:
    if edge is None:
        return None
    return {"per_second": edge.per_second, "becomes": _action(edge.becomes)}
