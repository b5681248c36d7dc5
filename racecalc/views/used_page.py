"""The options that are switched on, as one set."""

from collections.abc import Sequence

from racecalc.decisions.comparison import Refused
from racecalc.decisions.switched_on import LastSpent, SwitchedOn
from racecalc.quantities.clock import show_duration
from racecalc.quantities.money import amount_text
from racecalc.views.tables import paragraph, signed


def used_text(found: SwitchedOn | None, refused: Sequence[Refused] = ()) -> str:
    """What the set saves together, what it costs, and what the dearest part of it buys."""
    return _set_text(found) + "".join(
        paragraph(f"! Not worked out: {one.name}: {one.problem}") for one in refused
    )


def _set_text(found: SwitchedOn | None) -> str:
    if found is None:
        return paragraph("Space switches an option on: the set is then solved as one.")
    value = found.value
    give = (
        "how sure is not known, as one states no doubt"
        if found.low_s is None or found.high_s is None
        else f"{signed(found.low_s)} to {signed(found.high_s)} in 95 of 100 cases"
    )
    tested = f"; tested as one: {', '.join(value.tested)}" if value.tested else ""
    text = paragraph(
        f"Switched on: {' + '.join(value.names)}: {signed(value.saved_s)} s ({give}), so"
        f" {show_duration(found.time_s, 1)},"
        f" {_cost(found)}; alone they would add up to {signed(value.sum_of_single_s)} s{tested}."
    )
    return text + _last_text(found.last) + "".join(paragraph(f"! {one}") for one in found.conflicts)


def _cost(found: SwitchedOn) -> str:
    if found.unpriced:
        return f"what it costs not known, without a price of {' and '.join(found.unpriced)}"
    return f"for {found.value.price}" if found.value.price else "with nothing to pay"


def _last_text(last: LastSpent | None) -> str:
    if last is None:
        return ""
    if last.per_second is None:
        return paragraph(
            f"The last money: {last.name} ({last.price}) adds {signed(last.saved_s)} s to this set,"
            " so it buys nothing."
        )
    each = amount_text(last.per_second, last.price.currency)
    return paragraph(
        f"The last money: {last.name} adds {signed(last.saved_s)} s to this set for {last.price},"
        f" {each} a second."
    )
