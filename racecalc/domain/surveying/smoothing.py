r"""Noise level and smoothing of values measured at uneven distances along a road.

The curve is the cubic smoothing spline, the :math:`g` that minimises
:math:`\sum_i w_i (y_i - g(x_i))^2 + \alpha \int g''^2`, in the banded form of [1]_ as set out in
[2]_, section 2.3. It passes long waves and stops short ones:
a wave of angular frequency :math:`\omega` at points :math:`h` apart keeps the share
:math:`1/(1 + \alpha h \omega^4)`.

References
----------
.. [1] Reinsch C. Smoothing by spline functions. Numer Math 1967;10:177-183.
   doi:10.1007/BF02162161
.. [2] Green PJ, Silverman BW. Nonparametric regression and generalized linear models.
   Chapman & Hall 1994.
.. [3] Gasser T, Sroka L, Jennen-Steinmetz C. Residual variance and residual pattern in
   nonlinear regression. Biometrika 1986;73:625-633. doi:10.1093/biomet/73.3.625
.. [4] Mallows CL. Some comments on Cp. Technometrics 1973;15:661-675. Craven P, Wahba G.
   Smoothing noisy data with spline functions. Numer Math 1978;31:377-403.
.. [5] Speckman P. Spline smoothing and optimal rates of convergence in nonparametric regression
   models. Ann Stat 1985;13:970-983 (growth of the eigenvalues; the shift by a half is that of
   a free beam).
.. [6] Kim YJ, Gu C. Smoothing spline Gaussian regression: more scalable computation via
   efficient approximation. J R Stat Soc B 2004;66:337-356 (factor 1.4, there for
   cross-validation).
.. [7] Whittle P. Estimation and information in stationary time series. Ark Mat 1953;2:423-434
   (from memory).
.. [8] Févotte C, Bertin N, Durrieu JL. Nonnegative matrix factorization with the Itakura-Saito
   divergence. Neural Comput 2009;21:793-830 (multiplicative steps; from memory).
"""

import math
from dataclasses import dataclass

import numpy as np

from racecalc.arrays import FloatArray, solve_banded

NOISE_SPACING = 30.0
"""Spacing of the differences that tell noise from road [m].

At 30 m a sine of 300 m wavelength keeps 1.7 % of its size in the scaled fourth difference.
"""

ROAD_WAVELENGTH = 150.0
"""Longest wave that the discrepancy rule may halve when the noise is an estimate [m].

A real roller of 300 m keeps 94 % of its height then.
"""

HINT_WAVELENGTH = 1000.0
"""Longest wave that a device's total rise may halve [m]."""

LINE_WAVELENGTH = 200.0
"""Longest wave that smoothing may halve in positions [m]: the bends of a road are shorter."""

LEAST_JITTER = 0.05
"""Jitter of positions that is not worth smoothing [m]."""

LARGEST_SHIFT = 4.0
"""Shift by smoothing that is no jitter any more, in standard deviations."""

WEIGHT_ROUNDS = 8
"""Most rounds of weighting; turns at a cone came to within 3 % in tests."""

WIDEST_SPACING = 60.0
"""Median spacing beyond which the bends of a road can no longer be told from noise [m]."""

KEPT_SHARE = 0.75
"""Share of the differences, the smallest, that the noise level is taken from."""

KEPT_SQUARE = 0.36852
"""Mean square of the smallest `KEPT_SHARE` in size of a standard normal variable.

1 - 2 c phi(c) / 0.75 with phi the normal density and c = 1.15035 its 87.5 % point.
"""

CAUTION = 1.4
"""Factor on the degrees of freedom against occasional undersmoothing [6]_."""

EXACT = 1e-6
"""Elevation difference that counts as none: rounding in the file's arithmetic [m]."""


class Spline:
    """The banded matrices of a cubic smoothing spline on places that increase [m], 3 at least.

    Each point may have its weight; all are one unless given.
    """

    def __init__(self, distance: FloatArray, weights: FloatArray | None = None) -> None:
        step = np.diff(distance)
        self._step = step
        variance = np.ones(len(distance)) if weights is None else 1.0 / weights
        self._variance = variance
        left, right = 1.0 / step[:-1], 1.0 / step[1:]
        middle = -(left + right)
        self._stiffness = np.zeros((3, len(step) - 1))
        self._stiffness[0] = (step[:-1] + step[1:]) / 3.0
        self._stiffness[1, :-1] = step[1:-1] / 6.0
        self._roughness = np.zeros_like(self._stiffness)
        self._roughness[0] = (
            variance[:-2] * left**2 + variance[1:-1] * middle**2 + variance[2:] * right**2
        )
        self._roughness[1, :-1] = (
            variance[1:-2] * middle[:-1] * left[1:] + variance[2:-1] * right[:-1] * middle[1:]
        )
        self._roughness[2, :-2] = variance[2:-2] * right[:-2] * left[2:]

    def residual(self, values: FloatArray, alpha: float) -> FloatArray:
        """What the spline takes away from the values; it is as stiff as floats can tell."""
        slope = np.diff(values, axis=0).T / self._step
        try:
            curvature = solve_banded(
                self._stiffness + alpha * self._roughness, np.diff(slope).T, lower=True
            )
        except np.linalg.LinAlgError:
            return self.residual(values, alpha / 16.0)
        padding = [(1, 1)] + [(0, 0)] * (values.ndim - 1)
        bend = np.diff(np.pad(curvature, padding), axis=0).T / self._step
        force = np.diff(np.pad(bend.T, padding), axis=0)
        taken: FloatArray = alpha * (self._variance * force.T).T
        return taken


def _pseudo_residuals(distance: FloatArray, values: FloatArray, stride: int) -> FloatArray:
    """Scaled fourth differences [3]_: unit gain on white noise, nothing left of a cubic."""
    count = len(distance) - 4 * stride
    places = np.stack([distance[k * stride : k * stride + count] for k in range(5)])
    heights = np.stack([values[k * stride : k * stride + count] for k in range(5)])
    centred = (places - places[2]) / (places[4] - places[0])
    apart = centred[:, None] - centred[None]
    apart[np.arange(5), np.arange(5)] = 1.0
    weights = 1.0 / np.prod(apart, axis=1)
    scaled: FloatArray = np.sum(weights * heights, axis=0) / np.sqrt(np.sum(weights**2, axis=0))
    return scaled


def _is_drawn(distance: FloatArray, values: FloatArray) -> bool:
    """Whether the values are straight lines with few corners, as typed or computed, not measured.

    Rounded readings on a level road have long equal stretches as well, but each of their jumps
    makes two corners, while a line that climbs has none between its ends.
    """
    step = np.diff(distance)
    sloping = np.count_nonzero(np.abs(np.diff(values)) > EXACT)
    change = np.abs(np.diff(np.diff(values) / step)) * np.minimum(step[:-1], step[1:])
    return bool(np.count_nonzero(change > EXACT) <= sloping / 4)


def _rounding_step(values: FloatArray) -> float:
    """Step of which all values are multiples [m], 0 if there is none up to a metre."""
    levels = np.unique(values)
    gaps = np.diff(levels)
    gaps = gaps[gaps > EXACT]
    if not len(gaps):
        return 0.0
    step = float(gaps.min())
    multiple = (levels - levels[0]) / step
    whole = np.all(np.abs(multiple - np.round(multiple)) < 0.01)
    return step if whole and step <= 1.0 + EXACT else 0.0


def noise_level(distance: FloatArray, values: FloatArray, spacing: float = NOISE_SPACING) -> float:
    """Standard deviation of the noise in values measured along a road.

    Fourth differences over points about `spacing` apart, scaled to unit gain on white noise
    [3]_, are blind to the road's own shape; the smallest three quarters of their squares give
    the variance, so that the rest may hold corners of the road or spikes. Rounding is
    noise of at least a step over the square root of 12. Values that form straight lines with few
    corners were typed or computed and have none.

    Of noise whose errors hang together over 50 to 100 m it sees 0.4 to 0.6; see `chained_noise`.

    Examples
    --------
    >>> road = np.arange(0.0, 20000.0, 10.0)
    >>> noise = np.random.default_rng(1).normal(size=len(road))
    >>> round(noise_level(road, 20 * np.sin(road / 500) + 0.5 * noise), 1)
    0.5
    """
    if len(distance) < 9:
        return 0.0
    median = float(np.median(np.diff(distance)))
    stride = max(1, round(spacing / median))
    if len(distance) < 4 * stride + 5 or median > WIDEST_SPACING or _is_drawn(distance, values):
        return 0.0
    squares = np.sort(_pseudo_residuals(distance, values, stride) ** 2)
    kept = float(np.mean(squares[: math.ceil(KEPT_SHARE * len(squares))]))
    return max(math.sqrt(kept / KEPT_SQUARE), _rounding_step(values) / math.sqrt(12.0))


COARSE = 3
"""Choices of the smoothing, four to a decade, of which one is tried before those next to the best.
"""


def _least_risk(distance: FloatArray, values: FloatArray, noise: float, spline: Spline) -> float:
    """Smoothing parameter of the least expected error [4]_, degrees of freedom by [5]_."""
    points = len(distance)
    reach = np.sum(np.diff(distance) ** 0.75)
    stiffness = (math.pi * (np.arange(1, points - 1) + 0.5) / reach) ** 4

    def risk(alpha: float) -> float:
        freedom = 2.0 + np.sum(1.0 / (1.0 + alpha * stiffness))
        fit = np.mean(spline.residual(values, alpha) ** 2)
        return float(fit + 2.0 * CAUTION * noise**2 * freedom / points)

    # From a wave of one step to one of ten times the course: everything that can be told apart.
    shortest, longest = 1.0 / stiffness[-1], 1e4 / stiffness[0]
    choices = np.geomspace(shortest, longest, 4 * math.ceil(math.log10(longest / shortest)))
    # The share that passes falls over a decade or more, and so do all bends of the risk.
    best = COARSE * int(np.argmin([risk(one) for one in choices[::COARSE]]))
    near = choices[max(best - COARSE + 1, 0) : best + COARSE]
    return float(min(near, key=risk))


def _discrepancy(
    values: FloatArray, noise: float, spline: Spline, least: float, most: float
) -> float:
    """Smoothing parameter at which the spline leaves residuals of the noise's size [1]_."""
    low, high = math.log(least), math.log(most)
    for _ in range(24):
        middle = (low + high) / 2.0
        short = np.mean(spline.residual(values, math.exp(middle)) ** 2) < noise**2
        low, high = (middle, high) if short else (low, middle)
    return math.exp(low)


def parameter_of(wavelength: float, distance: FloatArray) -> float:
    """Smoothing parameter that halves waves of a wavelength."""
    spacing = (distance[-1] - distance[0]) / (len(distance) - 1)
    return float((wavelength / (2.0 * math.pi)) ** 4 / spacing)


def smooth(
    distance: FloatArray, values: FloatArray, noise: float, *, given: bool = False
) -> FloatArray:
    """Values along a road [m] with noise of a standard deviation [m] taken out; 0 leaves them.

    A noise that the user gave is taken at its word: the spline is as smooth as it can be with a
    root-mean-square residual of that size (the discrepancy rule [1]_). With an estimated noise
    that rule is fragile: on a flat road an estimate 5 % low leaves a quarter of the noise. So an
    estimate goes through the least expected error [4]_ with the caution of [6]_ instead, which
    on white noise stood estimates a fifth low, and the discrepancy rule may smooth further only
    up to waves of `ROAD_WAVELENGTH`.

    On made-up roads of 20 km with white noise of 1 m the heights come to within 0.02 m where it is
    flat, 0.24 m on climbs and 0.35 m on waves of 300 m and 2 m, which rise 232 m and not 265 m.
    """
    if noise == 0.0 or len(distance) < 4:
        return values
    spline = Spline(distance)
    if given:
        longest = parameter_of(10.0 * (distance[-1] - distance[0]), distance)
        alpha = _discrepancy(values, noise, spline, parameter_of(1.0, distance), longest)
    else:
        alpha = _least_risk(distance, values, noise, spline)
        road = parameter_of(ROAD_WAVELENGTH, distance)
        if alpha < road:
            alpha = max(alpha, _discrepancy(values, noise, spline, alpha, road))
    return values - spline.residual(values, alpha)


# --- Noise that hangs together along the road ----------------------------------------------------

REACHES = np.geomspace(20.0, 200.0, 9)
FARTHEST = 130.0
"""Distances over which errors of an altimeter may hang together [m]. A rugged road looks like the
farthest of them: on fractal ones whose height is as rough as 1/k^1.3 or 1/k^1.5 200 m came out.
"""

LEAST_CHAINED, MOST_CHAINED = 0.2, 1.3
"""Standard deviations of such errors [m]: smaller ones do not matter, larger ones may be road."""

MISFIT = 2.2
"""Mean deviance of a band of waves from which the spectrum is not that of the model; on made-up
roads noise gave 0.6 to 2.1, rollers 2.6 to 80."""

FEWEST = 500
WIDEST = 20.0
"""Points, and their median spacing [m], that it takes to tell such noise from road."""

ROUNDS = 200


@dataclass(frozen=True)
class ChainedNoise:
    """What the spectrum of a profile is made of."""

    bend: float
    """Mean square of what the slope of the road changes by in a metre [1/m]."""
    spread: float
    reach: float
    """Standard deviation [m] of errors whose correlation falls by e over a distance [m]."""
    white: float
    """Standard deviation of errors of single points [m]."""


def chained_noise(distance: FloatArray, values: FloatArray) -> ChainedNoise | None:
    """Noise that hangs together along the road; None where the profile shows none.

    A road whose slope wanders has a spectrum ``bend / k^4``, such noise ``2 s^2 l / (1 + k^2
    l^2)``, and errors of single points the same at all waves. The shares are found by the largest
    likelihood of the periodogram of second differences (Whittle [7]_), in steps that keep them
    positive (Févotte et al. [8]_). Where the spectrum is not so made, as on rollers of one length
    or rugged roads, or where errors of single points are larger, there is no such noise.
    """
    spacing = max(float(np.median(np.diff(distance))), 5.0)
    if len(distance) < FEWEST or spacing > WIDEST:
        return None
    count, wave, power = _spectrum(distance, values, spacing)
    found: list[tuple[float, ChainedNoise]] = []
    for reach in REACHES:
        chained = 2.0 * reach / (spacing * (1.0 + (wave * reach) ** 2))
        parts = np.array([1.0 / (spacing * wave**4), chained, np.ones(len(wave))])
        share = np.min(power / parts, axis=1) / 3.0
        for _ in range(ROUNDS):
            total = share @ parts
            share = share * np.sqrt(
                (parts @ (count * power / total**2)) / (parts @ (count / total))
            )
        ratio = power / (share @ parts)
        deviance = float(np.mean(count * (ratio - 1.0 - np.log(ratio))))
        bend, spread, white = share.tolist()
        found.append((deviance, ChainedNoise(bend, math.sqrt(spread), reach, math.sqrt(white))))
    misfit, best = min(found, key=lambda one: one[0])
    told = max(best.white, LEAST_CHAINED) < best.spread < MOST_CHAINED
    return best if told and misfit < MISFIT and best.reach < FARTHEST else None


def _spectrum(
    distance: FloatArray, values: FloatArray, spacing: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Number, wave number [rad/m] and power [m^2] of the waves of each quarter of an octave."""
    even = np.interp(np.arange(distance[0], distance[-1], spacing), distance, values)
    bent = np.diff(even, 2)
    window = np.hanning(len(bent))
    power = np.abs(np.fft.rfft(bent * window)) ** 2 / np.sum(window**2)
    wave = 2.0 * math.pi * np.arange(len(power)) / (len(bent) * spacing)
    seen = slice(3, int(np.searchsorted(wave, 2.0 * math.pi / (4.0 * spacing))))
    wave, power = wave[seen], power[seen] / (2.0 - 2.0 * np.cos(wave[seen] * spacing)) ** 2
    _, band = np.unique(np.floor(4.0 * np.log2(wave)), return_inverse=True)
    count = np.bincount(band).astype(float)
    middle = np.exp(np.bincount(band, np.log(wave)) / count)
    return count, middle, np.bincount(band, power) / count


def without_chained(distance: FloatArray, values: FloatArray, noise: ChainedNoise) -> FloatArray:
    """Most likely road under values with such noise: height and error of every point at once."""
    points, step = len(distance), np.diff(distance)
    # Unknown are height and error in turn: a banded matrix of the sum of squares they minimise.
    matrix = np.zeros((5, 2 * points))

    def add(row: int, column: int, entries: FloatArray) -> None:
        matrix[row - column, column : column + 2 * len(entries) : 2] += entries

    bend = max(noise.bend, 1e-9) * (step[:-1] + step[1:]) / 2.0
    turn = (1.0 / step[:-1], -1.0 / step[:-1] - 1.0 / step[1:], 1.0 / step[1:])
    for one in range(3):
        for other in range(one + 1):
            add(2 * one, 2 * other, turn[one] * turn[other] / bend)
    kept = np.exp(-step / noise.reach)
    fresh = noise.spread**2 * (1.0 - kept**2)
    add(3, 3, 1.0 / fresh)
    add(1, 1, kept**2 / fresh)
    add(3, 1, -kept / fresh)
    add(1, 1, np.array([noise.spread**-2]))
    single = np.full(points, max(noise.white, 0.03) ** -2)
    for row, column in ((0, 0), (1, 1), (1, 0)):
        add(row, column, single)
    right_side = np.repeat(values * single, 2)
    return np.asarray(solve_banded(matrix, right_side, lower=True)[::2])


def smooth_to_rise(distance: FloatArray, values: FloatArray, rise: float) -> FloatArray:
    """Values smoothed until they rise no more than a total [m], up to waves of `HINT_WAVELENGTH`.

    They are smoothed by waves of `ROAD_WAVELENGTH` at least.
    """
    spline = Spline(distance)
    low, high = (
        math.log(parameter_of(one, distance)) for one in (ROAD_WAVELENGTH, HINT_WAVELENGTH)
    )
    for _ in range(12):
        middle = (low + high) / 2.0
        found = np.diff(values - spline.residual(values, math.exp(middle)))
        low, high = (middle, high) if np.sum(np.maximum(found, 0.0)) > rise else (low, middle)
    return values - spline.residual(values, math.exp(high))


def smooth_line(distance: FloatArray, line: FloatArray) -> tuple[FloatArray, float]:
    """Positions along a road with the jitter of the receiver taken out.

    The jitter comes from differences between neighbouring points, the smoothing from the least
    expected error [4]_, up to waves of `LINE_WAVELENGTH`. Where the curve would then leave a point
    by more than `LARGEST_SHIFT` times the jitter there is a corner, not jitter: the weights of
    such points grow until the curve keeps to them, so that a turn at a cone stays one.
    """
    # Jitter along the road is in the distances as well, so what shows is that across it.
    jitter = math.hypot(*(noise_level(distance, line[:, k], 0.0) for k in (0, 1)))
    if jitter < LEAST_JITTER or np.median(np.diff(distance)) > NOISE_SPACING:
        return line, 0.0
    most = parameter_of(LINE_WAVELENGTH, distance)
    alpha = min(_least_risk(distance, line, jitter, Spline(distance)), most)
    weights = np.ones(len(distance))
    residual = np.zeros_like(line)
    for _ in range(WEIGHT_ROUNDS):
        residual = Spline(distance, weights).residual(line, alpha)
        excess = np.hypot(*residual.T) / (LARGEST_SHIFT * jitter)
        if np.max(excess) <= 1.05:
            break
        weights = weights * np.maximum(excess, 1.0) ** 2
    return line - residual, jitter
