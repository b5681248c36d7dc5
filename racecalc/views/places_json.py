"""``racecalc places`` as JSON."""

from dataclasses import asdict
from typing import Any

from racecalc.decisions.places import Places, Standing
from racecalc.domain.race import Race
from racecalc.views.as_json import basis_json


def places_json(race: Race, found: Places) -> dict[str, Any]:
    """Answer of ``racecalc places``; a list of chances holds every place, however unlikely."""
    first, *others = (_standing_json(one) for one in found.standings)
    basis = basis_json(race)
    basis["warnings"] += found.notes
    return {
        "results": found.source,
        "category": found.category or None,
        "me": found.own.listed_as or None,
        "of": found.of,
        "unplaced": found.unplaced,
        "own_time_s": found.own.time,
        "own_time_doubt_s": found.own.doubt,
        "predicted_time_s": found.predicted_time_s,
        "rivals_spread_s": found.rivals_spread_s,
        "podium": found.goals.podium,
        "target_s": found.goals.target,
        "without": first,
        "options": others,
        "gaps": [asdict(gap) for gap in found.gaps],
        "cautions": found.cautions,
        **basis,
    }


def _standing_json(standing: Standing) -> dict[str, Any]:
    chances = standing.chances
    return {
        "name": standing.tried.name,
        "saved_s": standing.tried.saved_s,
        "doubt_s": standing.tried.doubt_s,
        "forbidden": standing.tried.forbidden,
        "time_s": standing.time_s,
        "place": standing.place,
        "gained": standing.gained,
        "shared_with": standing.shared_with,
        "expected_place": chances.expected_place if chances else None,
        "chance_place_or_better": chances.chance_place_or_better if chances else None,
        "chance_podium": chances.chance_podium if chances else None,
        "chance_target": chances.chance_target if chances else None,
        "chance_of_place": (
            [
                {"place": place, "chance": chance}
                for place, chance in enumerate(chances.chance_of_place, start=1)
            ]
            if chances
            else None
        ),
    }
