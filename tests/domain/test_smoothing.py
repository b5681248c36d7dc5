"""Noise level and smoothing against a second implementation and on made-up roads."""

import math

import numpy as np
import pytest
from scipy.interpolate import make_smoothing_spline
from scipy.signal import lfilter

from racecalc.domain.surveying.smoothing import (
    ChainedNoise,
    Spline,
    chained_noise,
    noise_level,
    parameter_of,
    smooth,
    smooth_line,
    without_chained,
)


def rise(elevation):
    return np.sum(np.maximum(np.diff(elevation), 0))


def rms(values):
    return math.sqrt(np.mean(values**2))


def places(spacing, length=20000.0, seed=0):
    distance = np.arange(0.0, length, spacing)
    shift = np.random.default_rng(seed).uniform(-0.3, 0.3, len(distance)) * spacing
    shift[[0, -1]] = 0
    return distance + shift


def climbs(distance):
    """Two climbs of 200 m in all, at 6.7 % and 2 %, with valleys between."""
    return np.interp(distance, [0, 5e3, 8e3, 12e3, 20e3], [0, 0, 100, 20, 120])


def rollers(distance):
    return 2 * np.sin(2 * np.pi * distance / 300)


def chained(size, spacing, reach, rng):
    """Noise of standard deviation 1 whose errors hang together over a distance."""
    share = math.exp(-spacing / reach)
    fresh = rng.normal(size=size) * math.sqrt(1 - share**2)
    fresh[0] = rng.normal()
    return lfilter([1], [1, -share], fresh)


@pytest.mark.parametrize("alpha", [1e-3, 1.0, 5e2, 1e7])
def test_spline_is_that_of_scipy(alpha):
    rng = np.random.default_rng(1)
    x = np.sort(rng.uniform(0, 1000, 80))
    y = np.sin(x / 80) + rng.normal(size=80)
    w = rng.uniform(0.5, 2, 80)
    both = np.column_stack([y, -2 * y])
    ours = both - Spline(x, w).residual(both, alpha)
    theirs = make_smoothing_spline(x, y, w=w, lam=alpha)(x)
    np.testing.assert_allclose(ours[:, 0], theirs, atol=1e-8)
    np.testing.assert_allclose(ours[:, 1], -2 * theirs, atol=1e-8)


def test_lines_are_left_alone():
    x = places(10.0)
    assert rms(Spline(x).residual(5 - 0.03 * x, 1e9)) < 1e-6


def test_parameter_halves_a_wave():
    x = np.arange(0.0, 30000.0, 10.0)
    wave = np.sin(2 * np.pi * x / 200)
    kept = wave - Spline(x).residual(wave, parameter_of(200.0, x))
    inner = slice(500, -500)
    np.testing.assert_allclose(kept[inner], wave[inner] / 2, atol=0.01)


def test_parameter_of_a_few_points():
    """By hand: (200 / 2 pi)^4 = 1 026 599 over the spacing, 10 m from the first to the last."""
    assert parameter_of(200.0, np.arange(0.0, 51.0, 10.0)) == pytest.approx(102_660.0, abs=1.0)


@pytest.mark.parametrize("spacing", [3, 10, 25, 50])
@pytest.mark.parametrize("sd", [0.3, 1, 3])
@pytest.mark.parametrize("road", [np.zeros_like, climbs, rollers])
def test_noise_level_of_white_noise(spacing, sd, road):
    x = places(spacing)
    noise = sd * np.random.default_rng(2).normal(size=len(x))
    assert noise_level(x, road(x) + noise) == pytest.approx(sd, rel=0.25)


@pytest.mark.parametrize("reach", [50, 100])
def test_noise_that_hangs_together_is_seen_in_part(reach):
    x = np.arange(0.0, 40000.0, 10.0)
    level = noise_level(x, chained(len(x), 10, reach, np.random.default_rng(3)))
    assert 0.35 < level < 0.65


def test_rollers_are_no_noise():
    x = np.arange(0.0, 20000.0, 10.0)
    # A sine of 2 m keeps 1.7 % of its size.
    assert noise_level(x, rollers(x)) < 0.04


@pytest.mark.parametrize(
    ("x", "corners", "heights"),
    [
        ([0, 1000, 3000, 5000, 6000, 9000], [0, 9000], [0, 90]),
        (np.arange(0, 9001, 10.0), [0, 2000, 4000, 9000], [0, 100, 60, 60]),
        (np.arange(0, 9001, 20.0), [0, 2000, 4000, 9000], [0, 100, 0, 250]),
        (np.arange(0, 9001, 7.0), [0, 9000], [3, 3]),
    ],
)
def test_straight_lines_have_no_noise_and_stay(x, corners, heights):
    x = np.array(x, dtype=float)
    z = np.interp(x, corners, heights)
    assert noise_level(x, z) == 0
    assert smooth(x, z, 0.0) is z


@pytest.mark.parametrize(
    ("grade", "spacing"), [(0.002, 10.0), (0.013, 5.0), (0.02, 15.0), (0.05, 15.0)]
)
def test_whole_metres_are_noise(grade, spacing):
    x = np.arange(0.0, 20000.0, spacing)
    z = 10 * np.sin(x / 900) + grade * x
    level = noise_level(x, np.round(z))
    # The standard deviation of rounding to a step is the step over the square root of 12.
    assert 1 / math.sqrt(12) <= level + 1e-12
    assert level < 0.45
    smoothed = smooth(x, np.round(z), level)
    assert rms(smoothed - z) < 0.25
    assert rise(smoothed) == pytest.approx(rise(z), rel=0.05)


@pytest.mark.parametrize(("step", "noise"), [(1.0, 0.288675), (0.5, 0.144338)])
def test_rounding_alone_is_noise_of_a_step_over_root_twelve(step, noise):
    """Evenly spread over a step: JCGM 100:2008, 4.3.7. One jump a kilometre hides from the rest."""
    x = np.arange(0.0, 20000.0, 10.0)
    assert noise_level(x, step * np.floor(x / 1000)) == pytest.approx(noise, abs=1e-6)


def test_too_few_or_too_wide_points_tell_nothing():
    z = np.random.default_rng(1).normal(size=100)
    assert noise_level(np.arange(8.0), z[:8]) == 0
    assert noise_level(np.arange(100) * 100.0, z) == 0


@pytest.mark.parametrize("seed", range(8))
def test_flat_noisy_road_becomes_flat(seed):
    x = places(10, 40000.0, seed)
    z = np.random.default_rng(seed).normal(size=len(x))
    smoothed = smooth(x, z, noise_level(x, z))
    assert rms(smoothed) < 0.15
    assert rise(smoothed) < 2
    assert rise(z) > 1000


@pytest.mark.parametrize("spacing", [3, 10, 25])
@pytest.mark.parametrize("sd", [0.3, 1])
@pytest.mark.parametrize(("road", "error"), [(climbs, 0.4), (rollers, 0.6)])
def test_real_rise_stays(spacing, sd, road, error):
    x = places(spacing)
    z = road(x)
    noisy = z + sd * np.random.default_rng(4).normal(size=len(x))
    smoothed = smooth(x, noisy, noise_level(x, noisy))
    assert rms(smoothed - z) < error
    assert rise(smoothed) == pytest.approx(rise(z), rel=0.2)
    assert abs(rise(smoothed) - rise(z)) < 0.35 * abs(rise(noisy) - rise(z)) + 20


def test_noise_that_hangs_together_is_taken_out_in_part():
    x = np.arange(0.0, 20000.0, 10.0)
    z = chained(len(x), 10, 75, np.random.default_rng(5))
    assert rise(smooth(x, z, noise_level(x, z))) < 0.35 * rise(z)


@pytest.mark.parametrize("seed", [22, 23])
def test_caution_keeps_noise_from_passing_for_road(seed):
    """Least expected error with full matrices: Mallows' Cp, degrees of freedom counted 1.4 times.

    Q and R as in Green PJ, Silverman BW. 1994, section 2.1.2; Kim YJ, Gu C. 2004 for the factor
    (both from memory). Counted once, these two draws of noise pass for road.
    """
    points, spacing = 300, 10.0
    x = spacing * np.arange(points)
    noise = 0.5
    z = 3 * np.sin(2 * np.pi * x / 1500) + noise * np.random.default_rng(seed).normal(size=points)
    bends = np.diff(np.eye(points), 2, axis=0).T / spacing
    inner = np.eye(points - 2)
    neighbours = np.eye(points - 2, k=1) + np.eye(points - 2, k=-1)
    stiffness = spacing * (2 / 3 * inner + neighbours / 6)
    size, waves = np.linalg.eigh(bends @ np.linalg.solve(stiffness, bends.T))
    alpha = np.geomspace(1e4, 1e8, 801)
    kept = 1 / (1 + alpha[:, None] * np.maximum(size, 0))
    left = (1 - kept) ** 2 @ (waves.T @ z) ** 2 / points

    def best(counted):
        return alpha[np.argmin(left + 2 * counted * noise**2 * np.sum(kept, axis=1) / points)]

    ours = np.interp(rms(z - smooth(x, z, noise)) ** 2, left, alpha)
    # Four choices a decade are tried.
    assert abs(math.log10(ours / best(1.4))) < 1 / 8
    assert best(1.0) < best(1.4) / 9


@pytest.mark.parametrize("noise", [0.5, 3.0])
def test_given_noise_is_the_size_of_the_residual(noise):
    x = places(10)
    z = climbs(x) + rollers(x)
    assert rms(z - smooth(x, z, noise, given=True)) == pytest.approx(noise, rel=1e-3)


def test_given_noise_beyond_the_road_makes_a_line():
    x = places(10)
    smoothed = smooth(x, rollers(x), 50.0, given=True)
    assert np.ptp(np.diff(smoothed) / np.diff(x)) < 1e-3


def test_line_loses_jitter_and_keeps_its_turn():
    rng = np.random.default_rng(6)
    s = np.arange(0.0, 4000.0, 5.0)
    east = 2000 - np.abs(s - 2000)
    line = np.column_stack([east, np.where(s < 2000, 0.0, 8.0)])
    noisy = line + rng.normal(size=line.shape)
    measured = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(noisy, axis=0).T))])
    smoothed, jitter = smooth_line(measured, noisy)
    assert jitter == pytest.approx(1, rel=0.2)
    straight = np.abs(s - 2000) > 200
    assert rms((smoothed - line)[straight, 1]) < 0.4
    assert np.max(smoothed[:, 0]) > 2000 - 4.5


def test_corner_points_of_a_route_stay():
    corners = np.cumsum([[0, 0], [500, 0], [0, 500], [400, 300], [0, 500]] * 3, axis=0) + 0.0
    distance = np.cumsum([1.0, *np.hypot(*np.diff(corners, axis=0).T) + 1e-9])
    smoothed, jitter = smooth_line(distance, corners)
    assert jitter == 0
    assert smoothed is corners


@pytest.mark.parametrize("reach", [40.0, 75.0])
@pytest.mark.parametrize("road", [np.zeros_like, climbs])
def test_noise_that_hangs_together_is_told_from_road(reach, road):
    """An altimeter off by 0.8 m, read to 0.2 m. The spline alone leaves up to 100 m of rise."""
    x = np.arange(0.0, 20000.0, 8.0)
    values = road(x) + 0.8 * chained(len(x), 8.0, reach, np.random.default_rng(4))
    values = np.round(5 * values) / 5
    found = chained_noise(x, values)
    assert found.spread == pytest.approx(0.8, rel=0.25)
    assert found.reach == pytest.approx(reach, rel=0.5)
    level = without_chained(x, values, found)
    assert rise(level) == pytest.approx(rise(road(x)), abs=8)
    spline = smooth(x, values, noise_level(x, values))
    assert rms(level - road(x)) < 0.75 * rms(spline - road(x))


@pytest.mark.parametrize("sd", [0.1, 1.0])
@pytest.mark.parametrize("chain", [0.0, 0.7])
def test_rollers_are_road(sd, chain):
    """Waves of 300 m and 2 m are not taken for errors, whatever noise lies on them."""
    x, rng = np.arange(0.0, 20000.0, 8.0), np.random.default_rng(4)
    noise = sd * rng.normal(size=len(x)) + chain * chained(len(x), 8.0, 75.0, rng)
    assert chained_noise(x, rollers(x) + noise) is None


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("chain", [0.0, 0.5])
def test_a_rugged_road_is_road(seed, chain):
    """Fractal terrain, whose waves are as high as their length to the 1.3."""
    x, rng = np.arange(0.0, 20000.0, 8.0), np.random.default_rng(seed)
    wave = np.fft.rfftfreq(len(x), 8.0)
    high = np.where(wave > 1 / 15000, np.maximum(wave, 1e-9) ** -1.3, 0.0)
    road = np.fft.irfft(high * np.exp(2j * np.pi * rng.random(len(wave))), len(x))
    road *= 1.5 / np.std(road[13:] - road[:-13])
    values = np.round(5 * (road + chain * chained(len(x), 8.0, 75.0, rng))) / 5
    assert chained_noise(x, values) is None


def test_errors_of_single_points_do_not_hang_together():
    x = np.arange(0.0, 20000.0, 8.0)
    noise = np.random.default_rng(4).normal(size=len(x))
    assert chained_noise(x, climbs(x) + noise) is None
    assert chained_noise(x[:400], noise[:400]) is None  # too few points to tell
    assert chained_noise(5 * x, noise) is None  # too far apart


def test_the_most_likely_road_is_the_least_sum_of_squares():
    """All rows of the sum stacked and given to an ordinary solver of least squares."""
    rng = np.random.default_rng(7)
    x = np.cumsum(rng.uniform(4.0, 12.0, 60))
    values, step, points = rng.normal(size=60), np.diff(x), 60
    noise = ChainedNoise(bend=2e-6, spread=0.7, reach=60.0, white=0.2)
    own, error = np.eye(points), np.zeros((points, points))
    slope = np.diff(own, axis=0) / step[:, None]
    turn = np.diff(slope, axis=0) / np.sqrt(2e-6 * (step[:-1] + step[1:]) / 2)[:, None]
    kept = np.exp(-step / 60.0)
    fresh = (own[1:] - kept[:, None] * own[:-1]) / (0.7 * np.sqrt(1 - kept**2))[:, None]
    rows = np.block(
        [
            [turn, error[: points - 2]],
            [error[: points - 1], fresh],
            [error[:1], own[:1] / 0.7],
            [own / 0.2, own / 0.2],
        ]
    )
    wanted = np.concatenate([np.zeros(len(rows) - points), values / 0.2])
    solution = np.linalg.lstsq(rows, wanted, rcond=None)[0]
    np.testing.assert_allclose(without_chained(x, values, noise), solution[:points], atol=1e-7)
