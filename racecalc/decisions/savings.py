"""From a stated saving to what it changes on the bike, and back to watts at its test.

A saving in watts holds at the speed of its test only, so it is first turned into the change of
drag area, rolling resistance or drivetrain loss that makes it; the race is then solved with
that change. Watts of a test are never added to the watts of a race.
"""

from racecalc.domain.option import Option
from racecalc.domain.race import Change, Race
from racecalc.domain.saving import Saving
from racecalc.motion.steady import flat_calm_speed
from racecalc.physics.constants import GRAVITY


def change_of(saving: Saving, option: Option, race: Race) -> Change:
    """What a saving changes on the bike of this race, without the mass of the option.

    Parameters
    ----------
    saving : Saving
        The saving, or the doubt about it.
    option : Option
        What it belongs to: gives the loss it acts on and the conditions of the test.
    race : Race
        Gives the bike that percentages refer to and the mass that rolls.

    Returns
    -------
    Change
        Negative where something is saved.
    """
    if option.acts_on == "air":
        return Change(cda=-_area_saved(saving, option, race))
    if option.acts_on == "tyres":
        return Change(crr=-_crr_saved(saving, option, race))
    return Change(drivetrain_loss=-_loss_share_saved(saving))


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
    weight = race.total_mass * GRAVITY
    if saving.form == "crr":
        return saving.amount
    if saving.form == "force":
        return saving.amount / weight
    return _watts_at_wheel(saving, option, race) / (weight * test_speed(saving, option, race))


def _loss_share_saved(saving: Saving) -> float:
    if saving.form == "share of power":
        return saving.amount
    return saving.amount / saving.condition


def _watts(saving: Saving) -> float:
    if saving.form == "share of power":
        return saving.amount * saving.condition
    return saving.amount


def _watts_at_wheel(saving: Saving, option: Option, race: Race) -> float:
    watts = _watts(saving)
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
    """What one watt saved at the test of an option changes on the bike.

    Parameters
    ----------
    option : Option
        Gives the loss and the conditions of the test.
    race : Race
        Gives bike and mass.
    usual_speed : float
        Speed to state watts at where the option names none [m/s].

    Returns
    -------
    change : Change
        Of one watt saved.
    speed : float
        Speed that the watt refers to [m/s]; 0 for the drivetrain.
    power : float
        Power that it refers to [W]; 0 for air and tyres.
    """
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
    by_density = by_watts or saving.form == "force"
    if option.acts_on == "air" and by_density and not option.test_density_given:
        found.append(f"tested in air of {option.test_density:.2f} kg/m^3")
    if option.acts_on != "drivetrain" and by_watts:
        found.append(_where_counted(option, 100 * race.bike.drivetrain_loss))
    if saving.form == "share of power" and option.acts_on != "drivetrain":
        speed = 3.6 * test_speed(saving, option, race)
        found.append(
            f"{saving.condition:.0f} W taken as this rider's {speed:.1f} km/h on a flat, calm road"
        )
    if option.acts_on == "tyres" and by_watts:
        found.append("tested under this rider's weight, both tyres together")
    return tuple(found)


def _where_counted(option: Option, loss: float) -> str:
    if option.test_power_at == "cranks":
        return f"watts counted at the cranks, {loss:.1f} % of them lost on the way to the wheel"
    return f"watts counted at the wheel (read at the cranks they would be {loss:.1f} % less)"
