"""Positions on the globe: lengths, bearings, a plane to smooth on, and the radius of bends.

References
----------
.. [1] Karney CFF. Algorithms for geodesics. J Geod 2013;87:43-55.
   doi:10.1007/s00190-012-0578-z (the method inside pyproj.Geod).
"""

import math

import numpy as np

from racecalc.arrays import FloatArray

EARTH_RADIUS = 6371008.8
"""Mean radius of the Earth [m], IUGG; for the plane only, lengths are geodesic."""

ARM = 10.0
"""Length of road to either side of a point over which its bend is measured [m]."""

CORNER = math.radians(60.0)
"""Turn at one point that is a corner even where points are sparse [rad]."""


def geodesic_steps(latitude: FloatArray, longitude: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Length and bearing of the geodesic from each point to the next on WGS84 [1]_.

    Parameters
    ----------
    latitude, longitude : FloatArray, shape (n,)
        Positions [deg].

    Returns
    -------
    length : FloatArray, shape (n - 1,)
        Horizontal length at sea level [m].
    bearing : FloatArray, shape (n - 1,)
        Direction of travel, clockwise from north, 0 to 2 pi [rad].

    Examples
    --------
    >>> length, bearing = geodesic_steps(np.array([0.0, 1.0]), np.array([0.0, 0.0]))
    >>> round(float(length[0])), float(bearing[0])
    (110574, 0.0)
    """
    from pyproj import Geod

    azimuth, _, length = Geod(ellps="WGS84").inv(
        longitude[:-1], latitude[:-1], longitude[1:], latitude[1:]
    )
    return np.asarray(length), np.radians(np.mod(azimuth, 360.0))


def _metres_per_degree(latitude: FloatArray) -> tuple[float, float]:
    north = math.radians(EARTH_RADIUS)
    return max(north * math.cos(math.radians(float(np.median(latitude)))), 1.0), north


def to_plane(latitude: FloatArray, longitude: FloatArray) -> FloatArray:
    """Lay positions on a plane that is true at their median latitude.

    Parameters
    ----------
    latitude, longitude : FloatArray, shape (n,)
        Positions [deg].

    Returns
    -------
    FloatArray, shape (n, 2)
        Metres east and north; a course may cross the 180th meridian.
    """
    east, north = _metres_per_degree(latitude)
    return np.column_stack([np.unwrap(longitude, period=360.0) * east, latitude * north])


def from_plane(plane: FloatArray, latitude: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Turn plane coordinates back into positions.

    Parameters
    ----------
    plane : FloatArray, shape (n, 2)
        Metres east and north.
    latitude : FloatArray
        The latitudes that `to_plane` was given [deg].

    Returns
    -------
    latitude, longitude : FloatArray, shape (n,)
        Positions [deg].
    """
    east, north = _metres_per_degree(latitude)
    return np.clip(plane[:, 1] / north, -90.0, 90.0), plane[:, 0] / east


def along(distance: FloatArray, plane: FloatArray, at: FloatArray) -> FloatArray:
    """Places on a line at given distances along it.

    Parameters
    ----------
    distance : FloatArray, shape (n,)
        Distances of the points of the line, increasing [m].
    plane : FloatArray, shape (n, 2)
        The points [m].
    at : FloatArray, shape (m,)
        Distances wanted; beyond the ends stand the ends [m].

    Returns
    -------
    FloatArray, shape (m, 2)
        Places [m].
    """
    return np.column_stack([np.interp(at, distance, plane[:, k]) for k in (0, 1)])


def turn_between(first: FloatArray, second: FloatArray) -> FloatArray:
    """Angle between two directions of travel, 0 to pi [rad], any shape."""
    return np.abs(np.mod(second - first + np.pi, 2.0 * np.pi) - np.pi)


def radius_of_turn(arm: FloatArray, turn: FloatArray) -> FloatArray:
    """Radius of the circle on which two equal chords meet at an angle.

    A chord of length c spans the angle of the turn: sin(turn / 2) = c / (2 R), elementary
    geometry. Unlike the circle through three points it also holds for a full turn back.

    Parameters
    ----------
    arm : FloatArray
        Length of the chords [m].
    turn : FloatArray
        Angle between them, 0 to pi [rad].

    Returns
    -------
    FloatArray
        Radius [m]; infinite where nothing turns.
    """
    sine = np.sin(turn / 2.0)
    bent = (sine > 1e-6) & (arm > 0.0)
    return np.where(bent, arm / np.where(bent, 2.0 * sine, 1.0), np.inf)


def bend_radius(distance: FloatArray, plane: FloatArray) -> FloatArray:
    """Radius of the road at each point, from the chords to the road `ARM` before and after.

    Where points are farther apart than that, the chords reach to the nearer neighbour, so that a
    long bend drawn with few points keeps its radius; but a turn of more than `CORNER` at one
    point is a corner, with chords of `ARM`.

    Parameters
    ----------
    distance : FloatArray, shape (n,)
        Distances along the road, increasing [m].
    plane : FloatArray, shape (n, 2)
        Metres east and north.

    Returns
    -------
    FloatArray, shape (n,)
        Radius [m]; infinite where the road is straight, and at both ends.
    """
    radius = np.full(len(distance), np.inf)
    here, step = distance[1:-1], np.diff(distance)
    nearer = np.minimum(step[:-1], step[1:])
    bearing = np.arctan2(*np.diff(plane, axis=0).T)
    corner = turn_between(bearing[:-1], bearing[1:]) > CORNER
    reach = np.where(corner, ARM, np.maximum(ARM, nearer))
    to_here = plane[1:-1] - along(distance, plane, here - reach)
    from_here = along(distance, plane, here + reach) - plane[1:-1]
    arm = (np.hypot(*to_here.T) + np.hypot(*from_here.T)) / 2.0
    turn = turn_between(np.arctan2(*to_here.T), np.arctan2(*from_here.T))
    radius[1:-1] = radius_of_turn(arm, turn)
    return radius
