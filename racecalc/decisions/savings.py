"""A stated saving as a change of the bike, and as any other form.

The hub of all forms is ``k = 1/2 rho dCdA`` [N s^2/m^2]: a power is ``k v^3``, a force ``k v^2``, a
share of power ``k v^3 / P``.
Only where an area or a time comes in does the density of the air matter: a statement with a speed
or power of its own holds in the air of its test, what is said of the rider in theirs. Watts are
counted at the wheel, as in a race file. What a conversion needs and nobody stated is asked for.

A saving in watts holds at the speed of its test only, so it is first turned into the change of drag
area, rolling resistance or drivetrain loss that makes it; the race is then solved with that change.
Watts of a test are never added to the watts of a race.
"""

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace

import numpy as np

from racecalc.domain.option import (
    TEST_DENSITY,
    DragForm,
    Option,
    Saving,
    StatedDrag,
    areas_by_speed,
    read_drag,
)
from racecalc.domain.race import Bike, Change, DragArea, Race
from racecalc.errors import InputError
from racecalc.files.race_values import bike_default
from racecalc.motion.ride import flat_calm_force, flat_calm_speed
from racecalc.physics.air import density_along
from racecalc.physics.forces import GRAVITY
from racecalc.quantities.plain_text import listed

# --- From a stated saving to what it changes on the bike, and back to watts at its test ----------


def change_of(saving: Saving, option: Option, race: Race) -> Change:
    """What a saving changes on the bike of this race, without the mass of the option."""
    if option.acts_on == "air":
        return Change(cda=-_area_saved(saving, option, race))
    if option.acts_on == "tyres":
        return Change(crr=-_crr_saved(saving, option, race))
    of_power = saving.form == "share of power"
    return Change(drivetrain_loss=-(saving.amount / (1.0 if of_power else saving.condition)))


def _area_saved(saving: Saving, option: Option, race: Race) -> float:
    if saving.form == "area":
        return saving.amount
    if saving.form == "share of area":
        return saving.amount * race.bike.cda.at_zero_yaw
    speed = test_speed(saving, option, race)
    pressure = 0.5 * option.test_density * speed**2
    if saving.form == "force":
        return saving.amount / pressure
    return _watts_at_wheel(saving, option, race) / (pressure * speed)


def _crr_saved(saving: Saving, option: Option, race: Race) -> float:
    if saving.form == "crr":
        return saving.amount
    weight = race.total_mass * GRAVITY
    if saving.form == "force":
        return saving.amount / weight
    return _watts_at_wheel(saving, option, race) / (weight * test_speed(saving, option, race))


def _watts_at_wheel(saving: Saving, option: Option, race: Race) -> float:
    watts = saving.amount * (saving.condition if saving.form == "share of power" else 1.0)
    return watts * (1.0 - race.bike.drivetrain_loss) if option.test_power_at == "cranks" else watts


def test_speed(saving: Saving, option: Option, race: Race) -> float:
    """Speed that a saving refers to [m/s]; 0 where its form needs none.

    A share of power refers to the speed that the power gives this rider on a flat road without
    wind, in the air of the test.
    """
    if saving.form in ("power at speed", "force"):
        return saving.condition
    if saving.form == "share of power":
        return flat_calm_speed(race.bike, race.total_mass, saving.condition, option.test_density)
    return 0.0


def watt_at_test(option: Option, race: Race, usual_speed: float) -> tuple[Change, float, float]:
    """What one watt saved at the test of an option changes on the bike."""
    stated = option.saves
    if option.acts_on == "drivetrain":
        power = stated.condition if stated and stated.condition else race.rider.power
        watt = Saving("power at power", 1.0, power, "1 W")
        return change_of(watt, option, race), 0.0, power
    speed = (test_speed(stated, option, race) if stated else 0.0) or usual_speed
    watt = Saving("power at speed", 1.0, speed, "1 W")
    return change_of(watt, option, race), speed, 0.0


def assumptions_of(option: Option, race: Race) -> tuple[str, ...]:
    """What had to be assumed to turn the stated saving into a change of the bike."""
    saving = option.saves
    if saving is None:
        return ()
    found = []
    by_watts = saving.form in ("power at speed", "share of power")
    by_density = (by_watts or saving.form == "force") and option.acts_on == "air"
    if by_density and not option.test_density_given:
        found.append(f"tested in air of {option.test_density:.2f} kg/m^3")
    if option.acts_on != "drivetrain" and by_watts:
        loss = f"{100 * race.bike.drivetrain_loss:.1f} %"
        found.append(
            f"watts counted at the cranks, {loss} of them lost on the way to the wheel"
            if option.test_power_at == "cranks"
            else f"watts counted at the wheel (read at the cranks they would be {loss} less)"
        )
    if saving.form == "share of power" and option.acts_on != "drivetrain":
        speed = 3.6 * test_speed(saving, option, race)
        found.append(
            f"{saving.condition:.0f} W taken as this rider's {speed:.1f} km/h on a flat, calm road"
        )
    if option.acts_on == "tyres" and by_watts:
        found.append("tested under this rider's weight, both tyres together")
    return tuple(found)


# --- What a statement of drag refers to ----------------------------------------------------------

NAMES = {
    "cda": "the drag area",
    "crr": "the rolling resistance",
    "mass": "the mass",
    "loss": "the drivetrain loss",
    "density": "the air density",
    "speed": "the speed it refers to",
    "power": "the power that percentages refer to",
}
"""Conditions in plain words; each has a flag of its name."""


class NotStatedError(InputError):
    """Fields of `Conditions` that a conversion needs and nobody stated.

    Those of `for_speed` would together do instead of "speed".
    """

    def __init__(self, names: tuple[str, ...], for_speed: tuple[str, ...] = ()) -> None:
        self.names, self.for_speed = names, for_speed
        flags = [f"--{name}" for name in names]
        if "speed" in names:
            others = [f"--{name}" for name in for_speed if name not in names]
            flags[names.index("speed")] += f" (or for it {listed(others)})" if others else ""
        problem = f"not stated: {', '.join(NAMES[name] for name in names)}"
        super().__init__("", problem, f"give {listed(flags)}, or --race")


@dataclass(frozen=True)
class Conditions:
    """What is known of rider, bike and air; None for what is not."""

    cda: float | None = None
    power: float | None = None
    speed: float | None = None
    """Drag area [m^2], power of the rider [W] and speed at that power [m/s]."""
    mass: float | None = None
    crr: float | None = None
    loss: float | None = None
    """Rider, bike and all they carry [kg], rolling resistance, share of the power lost on the way
    to the wheel."""
    density: float | None = None
    claim_density: float | None = None
    """Of the air, and of that in which something was stated at a speed or power of its own, None
    for the same [kg/m^3]."""
    bike: Bike | None = None
    """Further losses of the bike; common bearings where it is not given."""

    @property
    def of_claim(self) -> "Conditions":
        """The same in the air of the claim."""
        air = self.claim_density
        return self if air in (None, self.density) else replace(self, density=air)


def conditions_of(race: Race) -> Conditions:
    """What a race says: its rider and bike, and its air at the mean height of the course."""
    height = np.mean(race.course.elevation, keepdims=True)
    return Conditions(
        cda=race.bike.cda.at_zero_yaw,
        power=race.rider.power,
        mass=race.total_mass,
        crr=race.bike.crr,
        loss=1.0 - race.bike.efficiency,
        density=float(density_along(race.air, height)[0]),
        bike=race.bike,
    )


@dataclass(frozen=True)
class Reference:
    """Speed [m/s] and power [W] that a statement refers to, and what is known beside."""

    speed: float | None
    power: float | None
    known: Conditions

    def is_that_of(self, other: "Reference") -> bool:
        """Whether two statements surely refer to one speed in one air."""
        if self.known.density != other.known.density:
            return False
        if self.speed is not None and other.speed is not None:
            return self.speed == other.speed
        return self.power is not None and self.power == other.power

    def at_speed(self) -> float:
        """Speed as stated, or as this power gives it on a flat, calm road [m/s]."""
        if self.speed is not None:
            return self.speed
        of_rider = self.known.power in (None, self.power)
        if self.power is not None and self.known.speed is not None and of_rider:
            return self.known.speed
        lacking = lacking_of(self.known, FOR_SPEED)
        if self.power is None:
            raise NotStatedError(("speed",), ("power", *lacking))
        if lacking:
            raise NotStatedError(("speed",), lacking) if of_rider else NotStatedError(lacking)
        _, _, mass, density, loss = needed(self.known, FOR_SPEED)
        return flat_calm_speed(rolling_bike(self.known), mass, self.power * (1.0 - loss), density)

    def speed_or_none(self) -> float | None:
        """The same; None where something for it is not known."""
        with suppress(NotStatedError):
            return self.at_speed()
        return None


FOR_SPEED = ("cda", "crr", "mass", "density", "loss")
"""What a speed from a power needs."""


def rolling_bike(known: Conditions) -> Bike:
    """The bike behind its drivetrain: powers are those at the road."""
    cda, crr = needed(known, ("cda", "crr"))
    return replace(known.bike or _usual_bike(), cda=DragArea((cda,)), crr=crr, power_at="hub")


def _usual_bike() -> Bike:
    """Bearings as a race file takes them for granted; turning wheels counted in CdA."""
    return Bike(
        mass=1.0,
        cda=DragArea((1.0,)),
        crr=1.0,
        drivetrain_loss=0.0,
        spoke_drag=0.0,
        bearing_drag=bike_default("bearing_drag"),
        bearing_drag_slope=bike_default("bearing_drag_slope"),
        wheel_inertia=0.0,
        wheel_radius=1.0,
        power_at="hub",
        start_speed=0.0,
    )


def lacking_of(known: Conditions, names: tuple[str, ...]) -> tuple[str, ...]:
    """Those conditions that are not known."""
    return tuple(name for name in names if getattr(known, name) is None)


def needed(known: Conditions, names: tuple[str, ...]) -> tuple[float, ...]:
    """Conditions by name."""
    lacking = lacking_of(known, names)
    if lacking:
        raise NotStatedError(lacking)
    return tuple(getattr(known, name) for name in names)


# --- Every way to state a saving in drag, turned into every other --------------------------------

EVERY_FORM = ("W", "% of power", "m^2", "% of CdA", "N", "gram-force", "lbf", "s/km", "s/40 km")
"""The forms listed where none is asked for."""

TRIED = Conditions(cda=0.25, power=250.0, speed=10.0, mass=80.0, crr=0.004, loss=0.02, density=1.2)
"""Values that stand in for what is not stated while its names are gathered; invented, and in no
answer."""

WHOLE = 1.0 + 1e-9
"""A share above which more is saved than there is, with room for rounding."""


@dataclass(frozen=True)
class Conversion:
    """A change of drag in another form."""

    value: float
    """Number of units."""
    low: float
    high: float
    """The same for the lowest and highest amount that is written with the same digits."""
    unit: str
    """As it was asked for, as in "% of power"."""
    at_speed_m_s: float | None
    at_power_w: float | None
    """What it refers to."""


@dataclass(frozen=True)
class Lacking:
    """A form that cannot be worked out yet."""

    unit: str
    """The form."""
    needs: str
    """What to state for it."""
    names: tuple[str, ...]
    """The same as fields of `Conditions`."""


def convert(stated: StatedDrag, wanted: StatedDrag, known: Conditions) -> Conversion:
    """How many units of another form, as of "1 W at 45 km/h", a change of drag is.

    Watts and forces without a condition of their own refer to the rider's speed, and where that is
    not known to the speed of the statement.

    Raises `NotStatedError` if conditions are missing; it names the flags of all of them, or
    `InputError` if more is saved than there is.
    """
    if stated.form in ("share of power", "share of area"):
        _refuse_more_than_whole(stated.amount, "power" if "power" in stated.form else "CdA")
    try:
        found = _converted(stated, wanted, known)
    except NotStatedError as first:
        raise _all_lacking(first, stated, wanted, known) from first
    for whole in ("CdA", "power"):
        with suppress(NotStatedError):
            share = _converted(stated, read_drag(f"100 % of {whole}"), known).value
            _refuse_more_than_whole(share, whole)
    return found


def _refuse_more_than_whole(share: float, whole: str) -> None:
    if share > WHOLE:
        problem = f"saves {100 * share:.0f} % of {whole}, more than there is"
        raise InputError("", problem, "check amount and conditions")


def _all_lacking(
    first: NotStatedError, stated: StatedDrag, wanted: StatedDrag, known: Conditions
) -> NotStatedError:
    """Gather every condition that is missing, with values that stand in for those found so far."""
    # Nothing saved is possible under any conditions, so that only missing ones are refused.
    nothing, tried = replace(stated, amount=0.0), replace(TRIED, power=stated.power or TRIED.power)
    filled, names, for_speed = known, dict[str, None](), first.for_speed
    error: NotStatedError | None = first
    while error is not None and not names.keys() >= set(error.names):
        names |= dict.fromkeys(error.names)
        for_speed = for_speed or error.for_speed
        filled = replace(filled, **{name: getattr(tried, name) for name in error.names})
        error = _lacking(nothing, wanted, filled)
    for name in tuple(names):
        without = replace(filled, **{name: None})
        if _lacking(nothing, wanted, without) is None:
            del names[name]
            filled = without
    return NotStatedError(tuple(names), for_speed)


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
    """Turn a change of drag into every form; where a condition is missing, say which."""
    found: list[Conversion | Lacking] = []
    for form in EVERY_FORM:
        try:
            found.append(convert(stated, read_drag(f"1 {form}"), known))
        except NotStatedError as error:
            found.append(Lacking(form, error.remedy, error.names))
    lacking = [one for one in found if isinstance(one, Lacking)]
    if len(lacking) == len(found):
        problem = "no other form can be worked out from this alone"
        if stated.form == "power" and stated.speed is None:
            air = known.of_claim.density or TEST_DENSITY
            problem = f"{problem}; {areas_by_speed(stated.amount, air)}"
        raise InputError("", problem, _least(lacking))
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
        power = known.power if stated.speed == known.speed else None
        return Reference(stated.speed, power, known.of_claim)
    if stated.power is not None:
        return Reference(None, stated.power, known.of_claim)
    return Reference(known.speed, known.power, known)


def taken_at(stated: StatedDrag, known: Conditions) -> Reference | None:
    """What a statement is taken to refer to that names no speed; None where it needs none."""
    if stated.speed is not None or stated.form in BY_AREA:
        return None
    return _reference(stated, known)


def _target(wanted: StatedDrag, source: Reference, known: Conditions) -> Reference:
    own = _reference(wanted, known)
    if wanted.speed is not None or wanted.power is not None:
        if wanted.form == "share of power" and own.power is None:
            return replace(own, power=known.power)
        return own
    at_own_speed = wanted.form in ("power", "force")
    if (own.speed, own.power) == (None, None):
        return source if at_own_speed or source.power is not None else own
    if at_own_speed and not source.is_that_of(own) and own.speed_or_none() is None:
        return source
    return own


def _in_form(form: DragForm, stated: StatedDrag, source: Reference, target: Reference) -> float:
    """Amount in SI of another form."""
    for alike in (BY_POWER, BY_AREA):
        # At the same speed on both sides nobody needs to know it; an area has none.
        if {stated.form, form} <= alike and (alike is BY_AREA or source.is_that_of(target)):
            return stated.amount * _whole(stated.form, source) / _whole(form, target)
    # The hub: half the density times the drag area saved [N s^2/m^2].
    if stated.form == "pace":
        factor = _factor_by_pace(stated.amount, source)
    else:
        factor = stated.amount / _per_factor(stated.form, source)
    before, after = source.known.density, target.known.density
    if before and after:
        factor *= after / before
    return _pace(factor, target) if form == "pace" else factor * _per_factor(form, target)


BY_POWER, BY_AREA = {"power", "share of power"}, {"area", "share of area"}


def _per_factor(form: DragForm, at: Reference) -> float:
    """Amount of a form for each unit of the hub, to which all but a pace are proportional."""
    if form in BY_AREA:
        (density,) = needed(at.known, ("density",))
        return 2.0 / (density * _whole(form, at))
    whole = _whole(form, at)
    return at.at_speed() ** (2 if form == "force" else 3) / whole


def _whole(form: DragForm, at: Reference) -> float:
    """What a share is of [W] or [m^2]; 1 for what is no share."""
    if form == "share of power":
        if at.power is None:
            raise NotStatedError(("power",))
        return at.power
    return needed(at.known, ("cda",))[0] if form == "share of area" else 1.0


def _pace(factor: float, at: Reference) -> float:
    """Seconds a metre that less drag saves at the same power on a flat, calm road."""
    bike, mass, density, power = _rider(at)
    left = bike.cda.at_zero_yaw - 2.0 * factor / density
    if not left > 0:
        raise InputError("", "more drag is saved than there is", "check amount and conditions")
    lighter = replace(bike, cda=DragArea((left,)))
    return 1.0 / at.at_speed() - 1.0 / flat_calm_speed(lighter, mass, power, density)


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
