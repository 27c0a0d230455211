"""Whether single emitters show on a diffuser: the ripple of its luminance, seen from straight in front.

What is taken for granted: the grid of emitters is endless, which is to say that walls stand half a pitch beyond the
outermost ones and mirror them; each piece is a line, evenly bright over its lit length; only light that comes straight
from the emitters counts, for what board, walls and sheet throw to and fro is spread evenly enough to hide dots rather
than to make them. Near the edges of a real board, and beside a row that holds one less, it is darker than this says.

A sheet is seen by what it scatters from where the light comes to where the eye is. By Helmholtz's reciprocity that is
what it scatters from straight ahead towards there: a sheet that makes a narrow beam into I0 cos^n t has a radiance
∝ cos^(n − 1) t, so that from above t it looks cos^(n − 1) t as bright as from straight behind. With an emitter's own
cos^m t the exponents add, and a Lambertian sheet (n = 1) adds none: there the ripple is that of the illuminance.
"""

from functools import lru_cache
from math import lgamma

import numpy as np

from optimise.physics.arrays import Array, numbers
from optimise.physics.beams import beam_exponent
from optimise.physics.distributions import Beam
from optimise.physics.intensity import MeasuredBeam


def sheet_exponent(spread: float | None) -> float:
    """Return the exponent that a sheet of a spread, deg, adds to that of the emitters; None is Lambertian, which is 0.

    Raises ValueError where the spread is outside the domain of `beam_exponent`.
    """
    return 0.0 if spread is None else float(beam_exponent(spread)) - 1.0


def grid_light(
    x: Array,
    y: Array,
    pitch_x: float,
    pitch_y: float,
    depth: float,
    exponent: float,
    length_x: float = 0.0,
    length_y: float = 0.0,
) -> Array:
    """Return the light at places on a plane before an endless grid of emitters, over its mean.

    x, y: places from below the middle of an emitter, m, of one shape; pitch_x, pitch_y: of the grid, depth: from the
    emitters to the plane, m, at least a thousandth of the wider pitch; exponent of I0 cos^m t, above -1, at most 1e5;
    length_x, length_y: of each piece, m, from 0 to the pitch. Raises ValueError outside the domain.

    Each emitter gives ∝ (ρ² + d²)^−s with s = (m + 3) / 2, by the inverse-square and cosine law. As
    Γ(s) u^−s = ∫ t^(s−1) e^(−ut) dt, that is a mean of bells e^(−tρ²), whose sum over a grid falls apart into one over
    its columns times one over its rows; each of these is 1 + 2 Σ e^(−(πnd/p)²/τ) cos(2πnx/p) over its mean (Poisson),
    with τ = t d². A line of length l has each term times sin(πnl/p) / (πnl/p). What is left is the mean of the product
    over the gamma distribution of τ with shape (m + 1) / 2: by the trapezoid rule in ln τ, which ends where nothing is.
    """
    across, up = float(numbers("pitch_x", pitch_x, above=0.0)), float(numbers("pitch_y", pitch_y, above=0.0))
    d, m = float(numbers("depth", depth, above=0.0)), float(numbers("exponent", exponent, above=-1.0, most=1e5))
    if d < 1e-3 * max(across, up):
        raise ValueError("depth must be at least a thousandth of the pitch")
    for name, length, pitch in (("length_x", length_x, across), ("length_y", length_y, up)):
        if float(numbers(name, length, least=0.0)) > pitch * (1.0 + 1e-9):
            raise ValueError(f"{name} must be at most the pitch")
    places = np.stack(np.broadcast_arrays(numbers("x", x), numbers("y", y))).reshape(2, -1)
    shape = (m + 1.0) / 2.0
    # Below `low` both sums are 1 to 1e-17, above `high` there is nothing of the distribution.
    low = (np.pi * d / max(across, up)) ** 2 / 40.0
    high = shape + 40.0 + 10.0 * float(np.sqrt(shape))
    wanted = np.broadcast(x, y).shape
    # To the left of a narrow distribution there is nothing either.
    low = max(low, shape - 10.0 * float(np.sqrt(shape)))
    if low >= high:
        return np.ones(wanted)
    # The rule's error falls as e^(−π²/step); a narrow distribution needs a step well within its width.
    step = min(0.25, 0.4 / float(np.sqrt(shape)))
    log = np.linspace(np.log(low), np.log(high), int(np.ceil(np.log(high / low) / step)) + 2)
    tau = np.exp(log)
    weight = np.exp(shape * log - tau - lgamma(shape)) * (log[1] - log[0])
    product = np.ones((places.shape[1], len(tau)))
    for place, pitch, length in zip(places, (across, up), (length_x, length_y), strict=True):
        product *= _line_sum(place, pitch, length, d, tau)
    return np.asarray(1.0 + (product - 1.0) @ weight).reshape(wanted)


def _line_sum(x: Array, pitch: float, length: float, depth: float, tau: Array) -> Array:
    """Return the sum of bells along one axis over its mean, shape (places, tau)."""
    most = int(np.ceil(np.sqrt(40.0 * tau[-1]) * pitch / (np.pi * depth)))
    n = np.arange(1, most + 1)
    terms = 2.0 * np.sinc(n * (length / pitch)) * np.cos(2.0 * np.pi * x[:, None] / pitch * n)
    # Numbers too small to be normal ones would be slow.
    return np.asarray(1.0 + terms @ np.exp(np.maximum(-((np.pi * depth / pitch * n[:, None]) ** 2) / tau, -200.0)))


def measured_light(
    beam: MeasuredBeam,
    pitch_x: float,
    pitch_y: float,
    depth: float,
    exponent: float = 0.0,
    length: float = 0.0,
    lying: bool = True,
) -> Array:
    """Return the light at 16 × 16 places of one cell of an endless grid of measured beams, over their mean.

    The others as those of `grid_light`, the exponent that of the sheet alone. lying: whether the length of the pieces,
    m, runs along x (else along y). The first place of both axes lies before the middle of a piece.
    Raises ValueError outside the domain.
    Source: inverse-square and cosine law, summed over the grid with a smooth edge, beyond which the light is spread
    evenly; a line by its Fourier terms. Good to about 1e-3 where the depth is at least a tenth of the pitch.
    """
    across, up = float(numbers("pitch_x", pitch_x, above=0.0)), float(numbers("pitch_y", pitch_y, above=0.0))
    d, k = float(numbers("depth", depth, above=0.0)), float(numbers("exponent", exponent, least=0.0))
    radius = _REACH * (max(across, up) + d)
    steps = (np.arange(_CELL) / _CELL - 0.5) * across, (np.arange(_CELL) / _CELL - 0.5) * up
    total = np.zeros((_CELL, _CELL))
    columns = np.arange(-np.ceil(radius / across) - 1, np.ceil(radius / across) + 2) * across
    for row in np.arange(-np.ceil(radius / up) - 1, np.ceil(radius / up) + 2) * up:
        near = columns[columns**2 + row**2 <= (radius + across + up) ** 2]
        u = steps[0][:, None, None] - near
        v = (steps[1] - row)[None, :, None] + 0.0 * u
        u = u + 0.0 * v
        light = _measured(beam, u, v, d, k, lying) * (1.0 - _smooth(np.hypot(u, v) / radius))
        total += light.sum(axis=-1)
    # What the edge leaves out, from all directions: flux over area.
    r = radius * (0.75 + 0.25 * _NODES)
    turn = np.arange(_TURNS) * (2.0 * np.pi / _TURNS)
    spread = _measured(beam, np.outer(r, np.cos(turn)), np.outer(r, np.sin(turn)), d, k, lying).mean(axis=1)
    beyond = float((_smooth(r / radius) * spread * r * _WEIGHTS).sum()) * 2.0 * np.pi * radius / 4.0
    # Beyond the radius by u = radius / r, dr r = radius² du / u³.
    u = 0.5 + 0.5 * _NODES
    spread = _measured(beam, np.outer(radius / u, np.cos(turn)), np.outer(radius / u, np.sin(turn)), d, k, lying)
    beyond += float((spread.mean(axis=1) / u**3 * _WEIGHTS).sum()) * np.pi * radius**2
    waves = np.fft.fft2(total + beyond / (across * up))
    along = np.sinc(np.fft.fftfreq(_CELL, 1.0 / _CELL) * (length / (across if lying else up)))
    found = np.fft.ifft2(waves * (along[:, None] if lying else along[None, :])).real
    return np.asarray(np.fft.ifftshift(found) / found.mean())


_CELL = 16
_REACH = 6.0
_TURNS = 48
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(40)


def _measured(beam: MeasuredBeam, u: Array, v: Array, depth: float, exponent: float, lying: bool) -> Array:
    """Return the light of one emitter at (u, v) from below it."""
    square = u * u + v * v + depth * depth
    intensity = beam.towards(u, v, depth + 0.0 * u) if lying else beam.towards(v, -u, depth + 0.0 * u)
    return np.asarray(intensity * (depth / np.sqrt(square)) ** (exponent + 1.0) / square)


def _smooth(distance: Array) -> Array:
    """Return 0 well within a radius, 1 beyond it, and a smooth step over its outer half."""
    t = np.clip(2.0 * distance - 1.0, 0.0, 1.0)
    return np.asarray(t * t * t * (t * (6.0 * t - 15.0) + 10.0))


@lru_cache(maxsize=200_000)
def dot_ripple(
    beam: Beam,
    pitch_x: float,
    pitch_y: float,
    depth: float,
    spread: float | None = None,
    length: float = 0.0,
    lying: bool = True,
) -> float:
    """Return (greatest − least) / (greatest + least) of a diffuser's luminance before an endless grid of emitters.

    beam: of the bare emitters; spread: of the sheet, deg (None: Lambertian); length: of each piece, m, along x where
    lying; the others as those of `grid_light`. A depth of less than a hundredth of the wider pitch counts as that.
    Of a beam by formula both ends are known: each axis' sum is greatest in line with the emitters and least between
    them, and so is every mean of their products; with a wider pitch the one rises and the other falls (a bell wrapped
    about a wider circle is the more concentrated, and a line the smaller part of it). Of a table they are those of the
    places of `measured_light`.
    Raises ValueError outside the domain.
    """
    d = max(float(numbers("depth", depth, least=0.0)), 0.01 * max(pitch_x, pitch_y))
    if isinstance(beam, MeasuredBeam):
        light = measured_light(beam, pitch_x, pitch_y, d, sheet_exponent(spread), length, lying)
    else:
        x, y = np.array([0.0, pitch_x / 2.0]), np.array([0.0, pitch_y / 2.0])
        lengths = (length, 0.0) if lying else (0.0, length)
        light = grid_light(x, y, pitch_x, pitch_y, d, beam + sheet_exponent(spread), *lengths)
    most, least = float(light.max()), max(float(light.min()), 0.0)
    return (most - least) / (most + least)


def depth_for(pitch_x: float, pitch_y: float, ripple: float, exponent: float = 1.0) -> float:
    """Return the least depth, m, from which on the ripple of a grid's light on a Lambertian sheet is at most `ripple`.

    ripple: above 0, below 1; exponent: of the emitters' beams; the others as those of `dot_ripple`, whose value falls
    with the depth. To 1e-5 of itself. Raises ValueError outside the domain.
    """
    wanted = float(numbers("ripple", ripple, above=0.0))
    if wanted >= 1.0:
        raise ValueError("ripple must be less than 1")
    near, far = 0.02 * min(pitch_x, pitch_y), max(pitch_x, pitch_y)
    while dot_ripple(exponent, pitch_x, pitch_y, far) > wanted:
        near, far = far, 2.0 * far
    while far - near > 1e-5 * far:
        middle = (near + far) / 2.0
        if dot_ripple(exponent, pitch_x, pitch_y, middle) > wanted:
            near = middle
        else:
            far = middle
    return far
