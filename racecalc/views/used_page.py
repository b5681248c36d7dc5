"""The options that are switched on, as one set."""

from collections.abc import Sequence

from racecalc.decisions.last_spent import LastSpent
from racecalc.decisions.set_value import SetValue
from racecalc.views.tables import amount_text, paragraph, signed


def used_text(
    found: SetValue | None, last: LastSpent | None, conflicts: Sequence[str], missing: int
) -> str:
    """What the set saves together, what it costs, and what the dearest part of it buys.

    Parameters
    ----------
    found : SetValue or None
        The set as one; None where nothing is switched on.
    last : LastSpent or None
        The part that costs most for each second.
    conflicts : sequence of str
        What keeps the options from being used together.
    missing : int
        Options of the set without a price.
    """
    if found is None:
        return paragraph("Space switches an option on: the set is then solved as one.")
    give = (
        "how sure is not known, as one states no doubt"
        if found.doubt_s is None
        else f"+- {found.doubt_s:.1f}, one standard uncertainty"
    )
    tested = f"; tested as one: {', '.join(found.tested)}" if found.tested else ""
    price = str(found.price) if found.price else f"price of {missing} not stated"
    text = paragraph(
        f"Switched on: {' + '.join(found.names)}: {signed(found.saved_s)} s ({give})"
        f" for {price}; alone they would add up to {signed(found.sum_of_single_s)} s{tested}."
    )
    return text + _last_text(last) + "".join(paragraph(f"! {one}") for one in conflicts)


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
