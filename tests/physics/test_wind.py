"""Wind by height, wind along and across the road, and yaw."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from racecalc.physics.air import apparent_wind, height_factor, wind_components, yaw_angle

angles = st.floats(-7.0, 7.0)
speeds = st.floats(0.0, 30.0)
heights = st.floats(1.0, 50.0)
roughnesses = st.floats(1e-4, 0.4)


class TestHeight:
    @pytest.mark.parametrize("law", ["log", "power"])
    @given(height=heights, roughness=roughnesses)
    def test_same_height(self, law, height, roughness):
        assert height_factor(height, height, roughness, law) == 1.0

    @given(heights, heights, heights, roughnesses)
    def test_logarithm_in_two_stages(self, top, middle, bottom, roughness):
        stages = height_factor(top, middle, roughness) * height_factor(middle, bottom, roughness)
        assert stages == pytest.approx(height_factor(top, bottom, roughness), rel=1e-12)

    @given(st.floats(2.0, 50.0), roughnesses)
    def test_power_law_has_the_slope_of_the_logarithm_at_its_height(self, height, roughness):
        def slope(law):
            above, below = (
                height_factor(height, height * stretch, roughness, law)
                for stretch in (1.0 + 1e-5, 1.0 - 1e-5)
            )
            return (above - below) / 2e-5

        # Central differences: (1e-5)^2 and rounding of 2e-16/1e-5.
        assert slope("power") == pytest.approx(slope("log"), rel=1e-8)

    @pytest.mark.parametrize(
        ("above", "below", "roughness", "factor"),
        [(10.0, 1.0, 0.03, 0.6728), (10.0, 2.0, 0.03, 0.7580), (2.0, 1.0, 0.1, 0.7934)],
    )
    def test_power_law_keeps_the_exponent_of_the_known_height(
        self, above, below, roughness, factor
    ):
        """By hand: alpha = 1/ln(10/0.03) = 1/5.8091 = 0.17214; 10^-0.17214, 5^-0.17214; and
        1/ln(2/0.1) = 1/2.9957 = 0.33381, 2^-0.33381."""
        assert height_factor(above, below, roughness, "power") == pytest.approx(factor, abs=5e-5)

    @pytest.mark.parametrize("law", ["log", "power"])
    @given(top=st.floats(2.0, 50.0), roughness=roughnesses)
    def test_weaker_near_the_ground_and_over_rough_land(self, law, top, roughness):
        factor = height_factor(top, 1.0, roughness, law)
        assert 0.0 < factor < 1.0
        assert height_factor(top, 1.0, 1.5 * roughness, law) < factor

    @pytest.mark.parametrize(("top", "bottom"), [(10.0, 0.4), (0.4, 10.0), (0.1, 0.2)])
    def test_within_the_roughness(self, top, bottom):
        with pytest.raises(ValueError, match="above the roughness"):
            height_factor(top, bottom, 0.4)


class TestComponents:
    @pytest.mark.parametrize(
        ("wind_from", "bearing", "head", "cross"),
        [
            (0, 0, 5, 0),
            (180, 0, -5, 0),
            (90, 0, 0, 5),  # riding north, wind from the east: from the right
            (270, 0, 0, -5),
            (90, 180, 0, -5),  # riding south, wind from the east: from the left
            (45, 90, 5 * np.sqrt(0.5), -5 * np.sqrt(0.5)),
            (350, 10, 5 * np.cos(np.radians(20)), -5 * np.sin(np.radians(20))),
        ],
    )
    def test_compass(self, wind_from, bearing, head, cross):
        found = wind_components(5.0, np.radians(wind_from), np.radians([bearing]))
        np.testing.assert_allclose(np.ravel(found), [head, cross], atol=1e-14)

    @given(speeds, angles, angles)
    def test_nothing_is_lost(self, speed, wind_from, bearing):
        head, cross = wind_components(speed, wind_from, np.array(bearing))
        assert np.hypot(head, cross) == pytest.approx(speed, rel=1e-14, abs=1e-300)

    @given(speeds, angles, angles)
    def test_way_back_turns_both_round(self, speed, wind_from, bearing):
        out = wind_components(speed, wind_from, np.array(bearing))
        back = wind_components(speed, wind_from, np.array(bearing + np.pi))
        # Rounding of angles of up to 17 rad.
        np.testing.assert_allclose(back, np.negative(out), atol=1e-14 * (1.0 + speed))

    @given(speeds, angles, angles, angles)
    def test_only_the_angle_between_matters(self, speed, wind_from, bearing, turn):
        found = wind_components(speed, wind_from, np.array(bearing))
        turned = wind_components(speed, wind_from + turn, np.array(bearing + turn))
        np.testing.assert_allclose(turned, found, atol=1e-14 * (1.0 + speed))

    def test_wind_of_each_piece(self):
        head, cross = wind_components(np.array([2.0, 4.0]), 0.0, np.array([0.0, np.pi / 2]))
        np.testing.assert_allclose(head, [2.0, 0.0], atol=1e-15)
        np.testing.assert_allclose(cross, [0.0, -4.0], atol=1e-15)


class TestYaw:
    def test_positive_from_the_right(self):
        head, cross = wind_components(3.0, np.radians(90.0), np.array([0.0]))
        assert np.degrees(yaw_angle(np.array([10.0]), head, cross))[0] == pytest.approx(
            np.degrees(np.arctan(0.3)), rel=1e-14
        )
        head, cross = wind_components(3.0, np.radians(270.0), np.array([0.0]))
        assert yaw_angle(np.array([10.0]), head, cross)[0] < 0.0

    @given(st.floats(0.5, 20.0), st.floats(-15.0, 15.0), st.floats(-15.0, 15.0))
    def test_apparent_wind_is_the_vector_sum(self, speed, head, cross):
        values = np.array(speed), np.array(head), np.array(cross)
        size, angle = apparent_wind(*values), yaw_angle(*values)
        np.testing.assert_allclose(size * np.cos(angle), speed + head, atol=1e-13)
        np.testing.assert_allclose(size * np.sin(angle), cross, atol=1e-13)

    def test_air_from_behind(self):
        angle = yaw_angle(np.array([5.0]), np.array([-9.0]), np.array([1.0]))
        assert np.degrees(angle)[0] == pytest.approx(180.0 - np.degrees(np.arctan(0.25)))

    @pytest.mark.parametrize("ratio", [0.1, 0.3, 0.6])
    def test_yaw_under_wind_from_anywhere(self, ratio):
        """Wind from all directions alike: share(yaw < x) = 1/2 + asin(sin(x)/ratio)/pi.

        Barry N. Proceedings 2018;2(6):211 treats this distribution; the formula is derived here:
        two wind directions give each yaw, x + asin(sin(x)/ratio) and its supplement.
        """
        count = 100_000
        direction = (np.arange(count) + 0.5) * 2.0 * np.pi / count
        head, cross = ratio * np.cos(direction), ratio * np.sin(direction)
        found = np.sort(yaw_angle(np.ones(count), head, cross))
        assert found[-1] == pytest.approx(np.arcsin(ratio), rel=1e-6)
        for yaw in np.arcsin(ratio) * np.array([-0.9, -0.4, 0.0, 0.5, 0.95]):
            share = np.searchsorted(found, yaw) / count
            expected = 0.5 + np.arcsin(np.sin(yaw) / ratio) / np.pi
            assert share == pytest.approx(expected, abs=3.0 / count)  # a direction at each end
