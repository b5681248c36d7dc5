"""Every way to state a saving in drag, turned into every other.

The hub of all of them is ``k = 1/2 rho dCdA`` [N s^2/m^2]: a power is ``k v^3``, a force ``k
v^2``, a share of power ``k v^3 / P``. Only where an area or a time comes in does the density of
the air matter. Watts are counted at the wheel, as in a race file. Nothing is assumed: what a
conversion needs and nobody stated is asked for.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from racecalc.decisions.reference import Conditions, NotStatedError, Reference, needed, rolling_bike
from racecalc.domain.bike import Bike, DragArea
from racecalc.domain.stated_drag import DragForm, StatedDrag, read_drag
from racecalc.errors import InputError
from racecalc.motion.steady import flat_calm_force, flat_calm_speed

EVERY_FORM = ("W", "% of power", "m^2", "% of CdA", "N", "gram-force", "lbf", "s/km", "s/40 km")
"""The forms listed where none is asked for."""

TRIED = Conditions(cda=0.25, power=250.0, speed=10.0, mass=80.0, crr=0.004, loss=0.02, density=1.2)
"""Values that stand in for what is not stated while its names are gathered; invented, and in no
answer."""

WHOLE = 1.0 + 1e-9
"""A share above which more is saved than there is, with room for rounding."""


@dataclass(frozen=True)
class Conversion:
    """A change of drag in another form.

    Parameters
    ----------
    value : float
        Number of units.
    low, high : float
        The same for the lowest and highest amount that is written with the same digits.
    unit : str
        As it was asked for, as in "% of power".
    at_speed_m_s, at_power_w : float or None
        What it refers to.
    """

    value: float
    low: float
    high: float
    unit: str
    at_speed_m_s: float | None
    at_power_w: float | None


@dataclass(frozen=True)
class Lacking:
    """A form that cannot be worked out yet.

    Parameters
    ----------
    unit : str
        The form.
    needs : str
        What to state for it.
    names : tuple of str
        The same as fields of `Conditions`.
    """

    unit: str
    needs: str
    names: tuple[str, ...]


def convert(stated: StatedDrag, wanted: StatedDrag, known: Conditions) -> Conversion:
    """Turn a change of drag into another form.

    Parameters
    ----------
    stated : StatedDrag
        What is known.
    wanted : StatedDrag
        One unit of the form that is asked for, as "1 W at 45 km/h".
    known : Conditions
        Rider, bike and air.

    Returns
    -------
    Conversion
        How many of these units it is. Watts and forces without a condition of their own refer
        to the rider's speed, and where that is not known to the speed of the statement.

    Raises
    ------
    NotStatedError
        If conditions are missing; it names the flags of all of them.
    InputError
        If more is saved than there is.
    """
    if stated.form in ("share of power", "share of area"):
        _refuse_more_than_whole(stated.amount, "power" if "power" in stated.form else "CdA")
    try:
        found = _converted(stated, wanted, known)
    except NotStatedError as first:
        raise _all_lacking(first, stated, wanted, known) from first
    for whole in ("CdA", "power"):
        try:
            share = _converted(stated, read_drag(f"100 % of {whole}"), known).value
        except NotStatedError:
            continue
        _refuse_more_than_whole(share, whole)
    return found


def _refuse_more_than_whole(share: float, whole: str) -> None:
    if share > WHOLE:
        raise InputError(
            "",
            f"saves {100 * share:.0f} % of {whole}, more than there is",
            "check amount and conditions",
        )


def _all_lacking(
    first: NotStatedError, stated: StatedDrag, wanted: StatedDrag, known: Conditions
) -> NotStatedError:
    """Gather every condition that is missing, with values that stand in for those found so far."""
    # Nothing saved is possible under any conditions, so that only missing ones are refused.
    nothing = replace(stated, amount=0.0)
    filled, names, for_speed = known, dict[str, None](), first.for_speed
    error: NotStatedError | None = first
    while error is not None and not names.keys() >= set(error.names):
        names |= dict.fromkeys(error.names)
        for_speed = for_speed or error.for_speed
        filled = replace(filled, **{name: _tried(name, stated) for name in error.names})
        error = _lacking(nothing, wanted, filled)
    for name in tuple(names):
        without = replace(filled, **{name: None})
        if _lacking(nothing, wanted, without) is None:
            del names[name]
            filled = without
    return NotStatedError(tuple(names), for_speed)


def _tried(name: str, stated: StatedDrag) -> Any:
    value = getattr(TRIED, name)
    return stated.power or value if name == "power" else value


def _lacking(stated: StatedDrag, wanted: StatedDrag, known: Conditions) -> NotStatedError | None:
    try:
        _converted(stated, wanted, known)
    except NotStatedError as error:
        return error
    return None


def _converted(stated: StatedDrag, wanted: StatedDrag, known: Conditions) -> Conversion:
    source = _reference(stated, known)
    target = _target(wanted, source, known)

    def units(amount: float) -> float:
        return _in_form(wanted.form, replace(stated, amount=amount), source, target) / wanted.amount

    low, high = sorted(units(amount) for amount in stated.range)
    has_condition = wanted.form not in ("area", "share of area")
    return Conversion(
        value=units(stated.amount),
        low=low,
        high=high,
        unit=wanted.words.removeprefix("1 ").partition(" at ")[0],
        at_speed_m_s=target.speed_or_none() if has_condition else None,
        at_power_w=target.power if has_condition else None,
    )


def convert_to_all(stated: StatedDrag, known: Conditions) -> tuple[Conversion | Lacking, ...]:
    """Turn a change of drag into every form; where a condition is missing, say which.

    Raises
    ------
    InputError
        If nothing at all can be worked out, or if more is saved than there is.
    """
    found: list[Conversion | Lacking] = []
    for form in EVERY_FORM:
        try:
            found.append(convert(stated, read_drag(f"1 {form}"), known))
        except NotStatedError as error:
            found.append(Lacking(form, error.remedy, error.names))
    lacking = [one for one in found if isinstance(one, Lacking)]
    if len(lacking) == len(found):
        raise InputError("", "no other form can be worked out from this alone", _least(lacking))
    return tuple(found)


def by_need(lacking: Sequence[Lacking]) -> dict[str, tuple[str, ...]]:
    """Forms by what they need, those that need the same together."""
    needs = dict.fromkeys(one.needs for one in lacking)
    return {need: tuple(one.unit for one in lacking if one.needs == need) for need in needs}


def _least(lacking: Sequence[Lacking]) -> str:
    """What to state for a first form; forms that need the same and more are left out."""
    least = [
        one for one in lacking if not any(set(other.names) < set(one.names) for other in lacking)
    ]
    needs = by_need(least)
    if len(needs) == 1:
        return next(iter(needs))
    return "; ".join(f"for {', '.join(units)} {need}" for need, units in needs.items())


def _reference(stated: StatedDrag, known: Conditions) -> Reference:
    if stated.speed is not None:
        return Reference(stated.speed, known.power if stated.speed == known.speed else None, known)
    if stated.power is not None:
        return Reference(None, stated.power, known)
    return Reference(known.speed, known.power, known)


def _target(wanted: StatedDrag, source: Reference, known: Conditions) -> Reference:
    own = _reference(wanted, known)
    if wanted.speed is not None or wanted.power is not None:
        if wanted.form == "share of power" and own.power is None:
            return replace(own, power=known.power)
        return own
    at_own_speed = wanted.form in ("power", "force")
    if (own.speed, own.power) == (None, None):
        of_rider = source.power is not None
        return source if at_own_speed or of_rider else own
    if at_own_speed and not source.is_that_of(own) and own.speed_or_none() is None:
        return source
    return own


def _in_form(form: DragForm, stated: StatedDrag, source: Reference, target: Reference) -> float:
    """Amount in SI of another form."""
    by_power = ("power", "share of power")
    if stated.form in by_power and form in by_power and source.is_that_of(target):
        # The same speed on both sides, so nobody needs to know it.
        return _watts(stated, source) / (target.at_power() if form == "share of power" else 1.0)
    by_area = ("area", "share of area")
    if stated.form in by_area and form in by_area:
        return stated.amount * _whole(stated.form, source) / _whole(form, source)
    return _FROM_FACTOR[form](_factor(stated, source), target)


def _watts(stated: StatedDrag, at: Reference) -> float:
    return stated.amount * (at.at_power() if stated.form == "share of power" else 1.0)


def _factor(stated: StatedDrag, at: Reference) -> float:
    """The hub: half the density times the drag area saved [N s^2/m^2]."""
    if stated.form in ("power", "share of power"):
        return _watts(stated, at) / at.at_speed() ** 3
    if stated.form == "force":
        return stated.amount / at.at_speed() ** 2
    if stated.form == "pace":
        return _factor_by_pace(stated.amount, at)
    (density,) = needed(at.known, ("density",))
    return 0.5 * density * stated.amount * _whole(stated.form, at)


def _whole(form: DragForm, at: Reference) -> float:
    """What an amount of area is counted in [m^2]."""
    return needed(at.known, ("cda",))[0] if form == "share of area" else 1.0


def _area(factor: float, at: Reference) -> float:
    return 2.0 * factor / needed(at.known, ("density",))[0]


def _share_of_power(factor: float, at: Reference) -> float:
    power = at.at_power()
    return factor * at.at_speed() ** 3 / power


def _share_of_area(factor: float, at: Reference) -> float:
    density, cda = needed(at.known, ("density", "cda"))
    return 2.0 * factor / (density * cda)


def _pace(factor: float, at: Reference) -> float:
    """Seconds a metre that less drag saves at the same power on a flat, calm road."""
    bike, mass, density, power = _rider(at)
    left = bike.cda.at_zero_yaw - 2.0 * factor / density
    if not left > 0:
        raise InputError("", "more drag is saved than there is", "check amount and conditions")
    lighter = replace(bike, cda=DragArea((left,)))
    return 1.0 / at.at_speed() - 1.0 / flat_calm_speed(lighter, mass, power, density)


_FROM_FACTOR: dict[DragForm, Callable[[float, Reference], float]] = {
    "power": lambda factor, at: factor * at.at_speed() ** 3,
    "share of power": _share_of_power,
    "force": lambda factor, at: factor * at.at_speed() ** 2,
    "area": _area,
    "share of area": _share_of_area,
    "pace": _pace,
}


def _factor_by_pace(pace: float, at: Reference) -> float:
    """The hub for the drag that must go to save so many seconds a metre at the same power."""
    bike, mass, density, power = _rider(at)
    slowness = 1.0 / at.at_speed() - pace
    if not slowness > 0:
        raise InputError("", "more time is saved than it takes", "check amount and conditions")
    force, _ = flat_calm_force(bike, mass, 1.0 / slowness, density)
    return (force - power * slowness) * slowness**2


def _rider(at: Reference) -> tuple[Bike, float, float, float]:
    """Bike, mass, density and power at the road of the rider at a speed."""
    _, _, mass, density = needed(at.known, ("cda", "crr", "mass", "density"))
    bike, speed = rolling_bike(at.known), at.at_speed()
    return bike, mass, density, flat_calm_force(bike, mass, speed, density)[0] * speed
