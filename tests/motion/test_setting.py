"""A version of a race on the nodes of another is the same as one that is set up anew."""

from dataclasses import fields, replace

import numpy as np
import pytest

from racecalc.domain.race import Air, Change, Race
from racecalc.motion.setting import ride_again, ride_of, ride_on
from tests.builders import bike, out_and_back, profile_course, race, windy_air


def base() -> Race:
    course = out_and_back(4000.0, roughness=1.3, shelter=0.7, max_speed=12.0)
    return race(course=course, bike=bike(crr=0.004), air=windy_air(3.0, 40.0))


@pytest.mark.parametrize(
    "other",
    [
        base().with_power(271.0),
        base().changed(Change(cda=-0.01, crr=0.0007, mass=0.9, drivetrain_loss=-0.01)),
        replace(base(), bike=bike(start_speed=3.0, wheel_inertia=0.2, cda=0.31)),
        replace(base(), rider=replace(base().rider, mass=82.0, fluid_used=1.2)),
        replace(base(), air=windy_air(5.0, 200.0, density=1.1)),
        replace(base(), limits=replace(base().limits, max_speed=9.0)),
    ],
    ids=["power", "option", "bike", "rider", "air", "limits"],
)
def test_again_is_as_anew(other: Race) -> None:
    first = base()
    other = replace(other, course=first.course)
    ride = ride_of(first)
    again, anew = ride_again(ride, first, other), ride_on(other, ride.nodes)
    for one in fields(again):
        values = getattr(again, one.name), getattr(anew, one.name)
        if one.name == "cda":
            assert values[0] == values[1]
        else:
            np.testing.assert_allclose(*values, rtol=1e-14, err_msg=one.name)


def test_the_air_of_a_step_is_that_of_its_middle() -> None:
    """Dry air of the standard atmosphere over one long step from 0 to 2000 m and one on to 3000 m.

    ISO 2533, table of densities (from memory): 1.1117 kg/m^3 at 1000 m and 0.9569 at 2500 m; the
    real gas is denser by up to 5e-4.
    """
    climb = profile_course([0.0, 40_000.0, 60_000.0], [0.0, 2000.0, 3000.0])
    ride = ride_on(race(course=climb, air=Air()), climb.distance)
    np.testing.assert_allclose(ride.density, [1.1117, 0.9569], rtol=6e-4)
