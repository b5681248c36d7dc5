"""The resisting forces and their derivatives, in any wind."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from racecalc.domain.race import DragArea
from racecalc.physics.forces import (
    FULL_DRAG_COSINE,
    GRAVITY,
    air_drag,
    air_drag_by_cross,
    air_speed_product,
    bearing_drag,
    rolling_drag,
    weight_drag,
)
from tests.builders import yaw_table

TABLES = {
    "constant": yaw_table([0], [0.25]),
    "left and right alike": yaw_table([0, 5, 10, 20], [0.25, 0.245, 0.235, 0.26]),
    "begins at 5 deg": yaw_table([5, 15], [0.24, 0.22]),
    "left and right apart": yaw_table([-20, -8, 0, 6, 20], [0.27, 0.24, 0.25, 0.23, 0.21]),
    "one side only": yaw_table([-15, -5], [0.22, 0.25]),
    "to a right angle": yaw_table([0, 30, 60, 90], [0.25, 0.22, 0.30, 0.40]),
    "beyond a right angle": yaw_table([-120, 0, 120], [0.30, 0.25, 0.20]),
}

DENSITY = 1.2
SPOKES = 0.0044
STEP = 1e-5
"""Of the differences [m/s]: truncation below 1e-10 of the force, rounding 2e-16/1e-5 of it."""

speeds = st.floats(0.1, 25.0)
winds = st.floats(-20.0, 20.0)
by_table = pytest.mark.parametrize("table", TABLES.values(), ids=TABLES.keys())


def reference_product(along, cross):
    """Signed square of the apparent wind times min(1, cos(yaw)/cos(30 deg))."""
    size = np.hypot(along, cross)
    if size == 0:
        return 0.0
    return np.sign(along) * size**2 * min(1.0, abs(along) / size / np.cos(np.radians(30.0)))


def reference_area(table, along, cross):
    """Drag area by the acute angle between air and road; its sign tells right from left."""
    yaw = np.arctan2(cross, abs(along))
    if min(table.yaw) >= 0:
        yaw = abs(yaw)
    return np.interp(yaw, table.yaw, table.area)


def reference_drag(speed, head, cross, table):
    area = reference_area(table, speed + head, cross) + SPOKES
    return 0.5 * DENSITY * area * reference_product(speed + head, cross)


def corners(table):
    """Angles between air and road [rad] at which a derivative jumps, on either side."""
    nodes = np.concatenate((table.yaw, np.negative(table.yaw), [0.0], np.radians([30.0, -30.0])))
    return nodes if not table.is_constant else np.radians([30.0, -30.0])


def away_from_corners(table, along, cross):
    angle = np.arctan2(cross, abs(along))
    # The angle turns by less than STEP / 0.2 m/s = 5e-5 within a difference.
    return np.hypot(along, cross) > 0.2 and np.min(np.abs(corners(table) - angle)) > 1e-4


def central(function, value):
    return (function(value + STEP) - function(value - STEP)) / (2.0 * STEP)


class TestAirDrag:
    @by_table
    @given(speed=speeds, head=winds, cross=winds)
    def test_force(self, table, speed, head, cross):
        force, _ = air_drag(speed, head, cross, DENSITY, table, SPOKES)
        expected = reference_drag(speed, head, cross, table)
        assert float(force) == pytest.approx(expected, rel=1e-11, abs=1e-12)

    @by_table
    @given(speed=speeds, head=winds, cross=winds)
    def test_derivative_by_speed(self, table, speed, head, cross):
        assume(away_from_corners(table, speed + head, cross))
        _, slope = air_drag(speed, head, cross, DENSITY, table, SPOKES)
        expected = central(lambda v: reference_drag(v, head, cross, table), speed)
        assert float(slope) == pytest.approx(expected, rel=1e-6, abs=1e-6)

    @by_table
    @given(speed=speeds, head=winds, cross=winds)
    def test_derivative_by_cross_wind(self, table, speed, head, cross):
        assume(away_from_corners(table, speed + head, cross))
        slope = air_drag_by_cross(speed, head, cross, DENSITY, table, SPOKES)
        expected = central(lambda w: reference_drag(speed, head, w, table), cross)
        assert float(slope) == pytest.approx(expected, rel=1e-6, abs=1e-6)

    @by_table
    def test_tail_wind_stronger_than_speed_pushes(self, table):
        force, slope = air_drag(4.0, -10.0, 0.0, DENSITY, table, 0.0)
        assert float(force) == pytest.approx(-0.5 * DENSITY * table.at_zero_yaw * 36.0, rel=1e-14)
        assert float(slope) == pytest.approx(DENSITY * table.at_zero_yaw * 6.0, rel=1e-14)

    @pytest.mark.parametrize("edge", [20.0, -20.0])
    def test_at_and_beyond_the_edge_of_a_table(self, edge):
        table = TABLES["left and right apart"]
        end = table.area[-1] if edge > 0 else table.area[0]
        for beyond in (0.0, 1e-9, 5.0, 40.0):
            yaw = np.radians(edge + np.sign(edge) * beyond)
            area, _ = table.at(np.array([yaw]))
            # The edge itself is reached to rounding from within.
            assert area[0] == pytest.approx(end, rel=1e-12)
        _, outside = table.at(np.radians([edge + np.sign(edge) * 1e-6]))
        assert outside[0] == 0.0
        _, inside = table.at(np.radians([edge - np.sign(edge) * 1e-6]))
        assert inside[0] != 0.0

    def test_left_and_right_apart(self):
        table = TABLES["left and right apart"]
        right, _ = air_drag(10.0, 0.0, 2.0, DENSITY, table, 0.0)
        left, _ = air_drag(10.0, 0.0, -2.0, DENSITY, table, 0.0)
        assert float(right) < float(left)
        swapped = DragArea(table.area[::-1], tuple(-yaw for yaw in table.yaw[::-1]))
        mirrored, _ = air_drag(10.0, 0.0, -2.0, DENSITY, swapped, 0.0)
        assert float(mirrored) == pytest.approx(float(right), rel=1e-14)

    @given(speeds, winds, winds)
    def test_left_and_right_alike(self, speed, head, cross):
        table = TABLES["left and right alike"]
        right = air_drag(speed, head, cross, DENSITY, table, SPOKES)
        left = air_drag(speed, head, -cross, DENSITY, table, SPOKES)
        assert [float(one) for one in right] == [float(one) for one in left]

    @given(speeds, winds, winds)
    def test_flat_table_is_a_constant_area(self, speed, head, cross):
        # Areas that differ by rounding take the way through the table, equal ones do not.
        flat = DragArea((0.25, 0.25, 0.25), (-0.2, 0.0, 0.3))
        nearly = DragArea((0.25, np.nextafter(0.25, 1.0), 0.25), (-0.2, 0.0, 0.3))
        assert flat.is_constant
        assert not nearly.is_constant
        values = speed, head, cross, DENSITY
        constant = air_drag(*values, TABLES["constant"], SPOKES)
        assert [float(one) for one in air_drag(*values, flat, SPOKES)] == [
            float(one) for one in constant
        ]
        np.testing.assert_allclose(
            air_drag(*values, nearly, SPOKES), constant, rtol=1e-13, atol=1e-11
        )
        np.testing.assert_allclose(
            air_drag_by_cross(*values, nearly, SPOKES),
            air_drag_by_cross(*values, TABLES["constant"], SPOKES),
            rtol=1e-13,
            atol=1e-11,
        )

    @given(speeds, winds, winds, st.floats(0.9, 1.3))
    def test_proportional_to_density_and_area(self, speed, head, cross, density):
        drag, slope = air_drag(speed, head, cross, density, TABLES["constant"], 0.0)
        twice, _ = air_drag(speed, head, cross, 2.0 * density, TABLES["constant"], 0.0)
        with_spokes, _ = air_drag(speed, head, cross, density, TABLES["constant"], 0.25)
        assert float(twice) == 2.0 * float(drag) == float(with_spokes)
        assert float(slope) >= 0.0

    def test_arrays(self):
        speed = np.array([5.0, 10.0, 15.0])
        head, cross = np.array([-8.0, 0.0, 3.0]), np.array([1.0, -2.0, 9.0])
        table = TABLES["left and right apart"]
        together = air_drag(speed, head, cross, DENSITY, table, SPOKES)
        singly = [
            air_drag(*one, DENSITY, table, SPOKES) for one in zip(speed, head, cross, strict=True)
        ]
        np.testing.assert_array_equal(np.transpose(together), singly)


class TestAirSpeedProduct:
    @given(speeds, winds)
    def test_without_cross_wind(self, speed, head):
        along = speed + head
        product, slope = air_speed_product(speed, head, 0.0)
        assert float(product) == pytest.approx(along * abs(along), rel=1e-14, abs=1e-300)
        assert float(slope) == 2.0 * abs(along)

    @given(speeds, winds, winds)
    def test_with_cross_wind(self, speed, head, cross):
        product, _ = air_speed_product(speed, head, cross)
        expected = reference_product(speed + head, cross)
        assert float(product) == pytest.approx(expected, rel=1e-13, abs=1e-13)

    @given(speeds, winds, winds)
    def test_derivative(self, speed, head, cross):
        assume(away_from_corners(TABLES["constant"], speed + head, cross))
        _, slope = air_speed_product(speed, head, cross)
        expected = central(lambda v: reference_product(v + head, cross), speed)
        assert float(slope) == pytest.approx(expected, rel=1e-6, abs=1e-6)

    @pytest.mark.parametrize("degrees", [30.0, 90.0, 150.0, -30.0, -90.0, -150.0])
    def test_no_step(self, degrees):
        size, turn = 10.0, 1e-9

        def product(angle):
            found, _ = air_speed_product(0.0, size * np.cos(angle), size * np.sin(angle))
            return float(found)

        angle = np.radians(degrees)
        # It may change by the steepest slope, size^2/cos(30 deg), times the turn of 2e-9.
        assert abs(product(angle + turn) - product(angle - turn)) < 2.4e-9 * size**2

    @pytest.mark.parametrize("cross", [12.0, -12.0])
    def test_pure_side_wind_neither_holds_nor_pushes(self, cross):
        product, slope = air_speed_product(5.0, -5.0, cross)
        assert float(product) == 0.0
        assert float(slope) == pytest.approx(12.0 / FULL_DRAG_COSINE, rel=1e-14)

    def test_dead_calm(self):
        product, slope = air_speed_product(6.0, -6.0, 0.0)
        assert float(product) == float(slope) == 0.0
        by_cross = air_drag_by_cross(6.0, -6.0, 0.0, 1.2, TABLES["left and right alike"], 0.0)
        assert float(by_cross) == 0.0

    @given(speeds, winds, winds, st.floats(0.01, 5.0))
    def test_more_head_wind_never_helps(self, speed, head, cross, more):
        before, _ = air_speed_product(speed, head, cross)
        after, _ = air_speed_product(speed, head + more, cross)
        assert float(after) > float(before)

    @given(speeds, winds, winds, st.floats(0.01, 5.0))
    def test_cross_wind_enlarges_the_force_either_way(self, speed, head, cross, more):
        before, _ = air_speed_product(speed, head, cross)
        after, _ = air_speed_product(speed, head, cross + np.copysign(more, cross))
        assert abs(float(after)) >= abs(float(before)) * (1.0 - 1e-14)


class TestOtherForces:
    @given(st.floats(0.002, 0.02), st.floats(40.0, 150.0), st.floats(-0.3, 0.3))
    def test_rolling_and_weight_make_up_the_load(self, crr, mass, slope_sine):
        rolling, by_speed = rolling_drag(crr, mass, slope_sine)
        weight, weight_by_speed = weight_drag(mass, slope_sine)
        # Force across the road and along it are the legs of the weight.
        whole = np.hypot(float(rolling) / crr, float(weight))
        assert whole == pytest.approx(mass * GRAVITY, rel=1e-14)
        assert np.sign(float(weight)) == np.sign(slope_sine)
        assert by_speed == weight_by_speed == 0.0

    @given(st.floats(0.1, 25.0), st.floats(0.0, 1.0), st.floats(0.0, 0.1))
    def test_bearings(self, speed, constant, growth):
        force, slope = bearing_drag(speed, constant, growth)
        expected = central(lambda v: bearing_drag(v, constant, growth)[0], speed)
        assert slope == pytest.approx(expected, rel=1e-8, abs=1e-10)
        at_rest, _ = bearing_drag(0.0, constant, growth)
        assert at_rest == constant
        assert force == pytest.approx(constant + growth * speed, rel=1e-14)

    def test_level_road(self):
        # 0.004 of 80 kg: 3.138 N by hand.
        rolling, _ = rolling_drag(0.004, 80.0, 0.0)
        assert float(rolling) == pytest.approx(3.138128, rel=1e-14)
