"""From a race to a ride on nodes: mesh, wind, ceilings of speed."""

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from racecalc.arrays import FloatArray
from racecalc.domain.course import Course
from racecalc.domain.race import Race, SpeedLimits
from racecalc.motion.ride import Ride, cut_nodes
from racecalc.motion.solver import first_guess, run_in_length, steady_guess
from racecalc.physics.air import density_along, wind_along
from racecalc.physics.forces import GRAVITY

# --- Where the nodes of the solver stand ---------------------------------------------------------

LAUNCH_GROWTH = 0.2
"""Steps may grow to this share of the distance from a slow start."""

LAUNCH_LENGTH = 0.5
"""Distance that stands for the start line itself in that rule [m]."""

BRAKING_GROWTH = 0.3
LEAVING_GROWTH = 0.6
"""Steps may grow to these shares of the distance to a bend or limit ahead and behind."""

LIMIT_LENGTH = 10.0
UNBRAKED_LENGTH = 1.0
"""Distance that counts as none in that rule, and where speed may fall at once [m]."""

FASTER = 1.2
"""A bend counts if this much more than the speed that it finds is too fast for it."""

MOST_PARTS = 64


def lay_nodes(course: Course, step: float, limiting: NDArray[np.bool_] | None = None) -> FloatArray:
    """Nodes at most `step` apart that keep the shape of the course.

    Nodes stand where a property of the road changes, at the ends of pieces longer than `step`
    (a typed course has few points, and each one is meant), and at `limiting` points; between them
    they are spread evenly. Shorter pieces, as in a recording, are merged. All in m from the start.
    """
    fixed = _fixed_points(course, step)
    kept = course.distance[fixed if limiting is None else fixed | limiting]
    return cut_nodes(kept, np.maximum(np.ceil(np.diff(kept) / step - 1e-9), 1).astype(int))


def _fixed_points(course: Course, step: float) -> NDArray[np.bool_]:
    fixed = np.zeros(len(course.distance), dtype=bool)
    fixed[[0, -1]] = True
    long = np.diff(course.distance) > step
    fixed[:-1] |= long
    fixed[1:] |= long
    for values in (course.crr, course.roughness, course.shelter, course.max_speed):
        both_unknown = np.isnan(values[:-1]) & np.isnan(values[1:])
        fixed[1:-1] |= (values[:-1] != values[1:]) & ~both_unknown
    return fixed


def limiting_points(race: Race, even: Ride) -> NDArray[np.bool_]:
    """Points of the course at which a bend or the end of a section's limit holds the rider back.

    `even` is the race on evenly laid nodes.
    """
    course, limits = race.course, race.limits
    section = np.concatenate(([np.inf], course.max_speed, [np.inf]))
    changed = section[:-1] != section[1:]
    allowed = np.where(changed, np.minimum(section[:-1], section[1:]), np.inf)
    if limits.lateral_grip is not None:
        allowed = np.minimum(allowed, bend_speed(course.bend_radius, limits.lateral_grip))
    if not np.any(np.isfinite(allowed)):
        return np.zeros(len(allowed), dtype=bool)
    free = replace(even, ceiling=np.full(len(even.nodes), limits.max_speed or np.inf))
    reached = np.interp(course.distance, even.nodes, FASTER * first_guess(free))
    return allowed < np.minimum(reached, limits.max_speed or np.inf)


def refined_nodes(ride: Ride, nodes: FloatArray, limits: FloatArray, least: float) -> FloatArray:
    """Nodes that are closer at a slow start, on steep ramps and next to limits [m].

    They are no further apart than the run-in length of the speed of `ride`, on even nodes. The
    places of `limits` are among `nodes`; nearer to them than `least` counts as at them [m].
    """
    steady = steady_guess(ride)
    around = np.searchsorted(ride.nodes, nodes[:-1], side="right") - 1
    longest = run_in_length(ride, steady)[around]
    if ride.start_speed < 0.5 * steady[0]:
        longest = np.minimum(longest, LAUNCH_GROWTH * (nodes[:-1] + LAUNCH_LENGTH))
    ends = np.concatenate(([-np.inf], limits, [np.inf]))
    behind = nodes[:-1] - ends[np.searchsorted(limits, nodes[:-1], side="right")]
    ahead = ends[np.searchsorted(limits, nodes[1:]) + 1] - nodes[1:]
    for growth, away in ((BRAKING_GROWTH, ahead), (LEAVING_GROWTH, behind)):
        longest = np.minimum(longest, growth * (away + least))
    parts = np.clip(np.ceil(np.diff(nodes) / longest), 1, MOST_PARTS)
    return cut_nodes(nodes, parts.astype(int))


# --- From a race to the arrays of the solver -----------------------------------------------------

OF_BIKE = (
    "rotating_mass",
    "cda",
    "spoke_drag",
    "bearing_drag",
    "bearing_drag_slope",
    "start_speed",
)
"""Fields of a `Ride` that are those of the bike."""


def ride_of(race: Race) -> Ride:
    """Lay the nodes of a race and fill in what acts on the rider at each step."""
    even = ride_on(race, lay_nodes(race.course, race.step))
    limiting = limiting_points(race, even)
    nodes = lay_nodes(race.course, race.step, limiting)
    least = UNBRAKED_LENGTH if race.limits.braking is None else LIMIT_LENGTH
    return ride_on(race, refined_nodes(even, nodes, race.course.distance[limiting], least))


def ride_on(race: Race, nodes: FloatArray) -> Ride:
    """The arrays of a race on given nodes [m], so that variants can be compared step by step."""
    course, bike = race.course, race.bike
    middle = 0.5 * (nodes[:-1] + nodes[1:])
    piece = course.piece_at(middle)
    head, cross = wind_along(race.air.wind, course.bearing[piece], course.shelter[piece])
    return Ride(
        nodes=nodes,
        slope_sine=np.diff(course.elevation_at(nodes)) / np.diff(nodes),
        crr=bike.crr * course.roughness[piece],
        density=density_along(race.air, course.elevation_at(middle)),
        head=head,
        cross=cross,
        ceiling=speed_ceiling(course, race.limits, nodes),
        **_rider_and_bike(race, middle),
    )


def _rider_and_bike(race: Race, middle: FloatArray) -> dict[str, Any]:
    """Fields of a `Ride` that rider and bike alone decide, at the middles of the steps [m]."""
    used = race.rider.fluid_used * middle / race.course.length
    return {
        "wheel_power": np.full(len(middle), race.rider.power * race.bike.efficiency),
        "mass": race.total_mass - used,
        **{name: getattr(race.bike, name) for name in OF_BIKE},
    }


def ride_again(ride: Ride, before: Race, race: Race) -> Ride:
    """The arrays of another version of the race `before`, on the nodes of its ride.

    As `ride_on`; what hangs on road, air and speed limits alone is not worked out again where they
    are the same, which takes longer than a solve.
    """
    same_road = race.course is before.course and race.limits == before.limits
    if not same_road or race.air != before.air:
        return ride_on(race, ride.nodes)
    crr, crr_before = race.bike.crr, before.bike.crr
    rougher = 1.0 if crr == crr_before else crr / crr_before
    return replace(ride, crr=ride.crr * rougher, **_rider_and_bike(race, ride.middle))


def bend_speed(radius: FloatArray, lateral_grip: float) -> FloatArray:
    """Speed [m/s] at which a level bend of a radius [m] needs the given lateral grip.

    ``v = sqrt(grip g r)``: the friction that a circular path asks for.
    """
    return np.sqrt(lateral_grip * GRAVITY * radius)


BEND_SPACING = 20.0
"""Between points no further apart than this the curvature of the road changes evenly [m]; farther
ones may be corners."""


def speed_ceiling(course: Course, limits: SpeedLimits, nodes: FloatArray) -> FloatArray:
    """Highest speed at each node: the road's own limits, bends and the way to brake for them.

    In m/s; infinite where nothing limits.
    """
    ceiling = np.full(len(nodes), limits.max_speed or np.inf)
    for side in ("left", "right"):
        piece = np.searchsorted(course.distance, nodes, side=side) - 1
        on_piece = course.max_speed[np.clip(piece, 0, len(course.max_speed) - 1)]
        ceiling = np.minimum(ceiling, on_piece)
    if limits.lateral_grip is not None:
        bends = np.flatnonzero(np.isfinite(course.bend_radius))
        # Every bend counts at the node nearest to it; those that limit the ride are nodes.
        nearest = np.searchsorted(0.5 * (nodes[:-1] + nodes[1:]), course.distance[bends])
        allowed = bend_speed(course.bend_radius[bends], limits.lateral_grip)
        np.minimum.at(ceiling, nearest, allowed)
        curvature = np.interp(nodes, course.distance, 1.0 / course.bend_radius)
        near = (curvature > 0.0) & (
            np.diff(course.distance)[course.piece_at(nodes)] <= BEND_SPACING
        )
        inside = bend_speed(1.0 / np.where(near, curvature, 1.0), limits.lateral_grip)
        ceiling = np.where(near, np.minimum(ceiling, inside), ceiling)
    if limits.braking is not None and np.any(np.isfinite(ceiling)):
        ceiling = within_braking(ceiling, nodes, limits.braking)
    return ceiling


def within_braking(ceiling: FloatArray, nodes: FloatArray, braking: float) -> FloatArray:
    """Lower a ceiling so that each part can be reached under the brakes from the one before.

    ``v^2`` may fall by ``2 b dx`` over ``dx``: one backward pass over the kinetic energy. In m/s,
    m and m/s^2.
    """
    with_run = ceiling**2 + 2.0 * braking * nodes
    lowest_ahead = np.minimum.accumulate(with_run[::-1])[::-1]
    return np.sqrt(np.maximum(lowest_ahead - 2.0 * braking * nodes, 0.0))
