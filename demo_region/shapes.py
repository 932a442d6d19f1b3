"""Outlines that look like shorelines, in local coordinates [m]. Headings are degrees clockwise from grid north."""

import numpy as np
import shapely
from shapely import affinity


def wobble(rng: np.random.Generator, at: np.ndarray, wavelength: float, octaves: int = 3) -> np.ndarray:
    """Give smooth noise of amplitude near 1 at the positions `at` (same unit as wavelength)."""
    total = np.zeros(len(at))
    for octave in range(octaves):
        step = wavelength / 2**octave
        knots = rng.uniform(-1.0, 1.0, int(np.max(at) / step) + 3)
        x = at / step
        i = x.astype(int)
        f = x - i
        f = f * f * (3.0 - 2.0 * f)
        total += (knots[i] * (1.0 - f) + knots[i + 1] * f) * 0.55**octave
    return total


def lake(
    rng: np.random.Generator,
    centre: tuple[float, float],
    length_m: float,
    width_m: float,
    heading_deg: float,
    *,
    bend: float = 0.03,
    rough: float = 0.28,
    spacing_m: float = 24.0,
) -> shapely.Polygon:
    """Give a long lake: a gently bent spine with uneven banks. bend is the spine's swing over its length."""
    n = max(int(length_m / spacing_m), 12)
    s = np.linspace(0.0, 1.0, n)
    along = (s - 0.5) * length_m
    middle = bend * length_m * np.sin(np.pi * s + rng.uniform(-0.3, 0.3))
    taper = np.clip(4.0 * s * (1.0 - s), 0.0, 1.0) ** 0.38
    sides = []
    for sign in (1.0, -1.0):
        ragged = 1.0 + rough * wobble(rng, s * length_m, width_m * 0.9, 5)
        sides.append(middle + sign * taper * np.maximum(ragged, 0.35) * width_m / 2)
    ring = np.concatenate(
        [np.column_stack([along, sides[0]]), np.column_stack([along, sides[1]])[::-1][1:-1]]
    )
    return _placed(shapely.Polygon(ring), centre, heading_deg)


def pond(
    rng: np.random.Generator,
    centre: tuple[float, float],
    size_m: tuple[float, float],
    heading_deg: float,
    *,
    vertices: int = 36,
) -> shapely.Polygon:
    """Give a round water of size_m (along and across its heading) [m]."""
    return _placed(_round(rng, size_m, vertices), centre, heading_deg)


def dam(
    rng: np.random.Generator, centre: tuple[float, float], size_m: tuple[float, float], heading_deg: float
) -> shapely.Polygon:
    """Give a farm dam: a pond that a straight wall cuts off at one end."""
    length_m, width_m = size_m
    whole = _round(rng, size_m, 36)
    return _placed(
        whole.intersection(shapely.box(-length_m, -width_m, 0.33 * length_m, width_m)), centre, heading_deg
    )


def _round(rng: np.random.Generator, size_m: tuple[float, float], vertices: int) -> shapely.Polygon:
    angle = np.linspace(0.0, 2.0 * np.pi, vertices, endpoint=False)
    radius = np.ones(vertices)
    for wave in range(2, 6):
        radius += rng.uniform(0.02, 0.09) / wave**0.5 * np.cos(wave * angle + rng.uniform(0.0, 2.0 * np.pi))
    ring = np.column_stack([radius * np.cos(angle) * size_m[0] / 2, radius * np.sin(angle) * size_m[1] / 2])
    return shapely.Polygon(ring)


def crescent(
    rng: np.random.Generator,
    centre: tuple[float, float],
    radius_m: float,
    width_m: float,
    from_deg: float,
    turn_deg: float,
) -> shapely.Polygon:
    """Give a crescent: an arc of `turn_deg` with tapering ends."""
    s = np.linspace(0.0, 1.0, 64)
    heading = np.radians(from_deg + turn_deg * s)
    half = width_m / 2 * np.clip(4.0 * s * (1.0 - s), 0.0, 1.0) ** 0.4
    outer = radius_m + half * (1.0 + 0.12 * wobble(rng, s * 1800.0, 160.0))
    inner = radius_m - half * (1.0 + 0.12 * wobble(rng, s * 1800.0, 160.0))
    ring = np.concatenate(
        [
            np.column_stack([outer * np.sin(heading), outer * np.cos(heading)]),
            np.column_stack([inner * np.sin(heading), inner * np.cos(heading)])[::-1][1:-1],
        ]
    )
    return affinity.translate(shapely.Polygon(ring), *centre)


def stream(
    rng: np.random.Generator,
    start: tuple[float, float],
    end: tuple[float, float],
    widths_m: tuple[float, ...],
    swing_m: float,
    spacing_m: float = 30.0,
) -> shapely.Polygon:
    """Give a winding river or a funnel: `widths_m` are met at equal distances from start to end."""
    a, b = np.array(start), np.array(end)
    length_m = float(np.hypot(*(b - a)))
    s = np.linspace(0.0, 1.0, int(length_m / spacing_m))
    unit = (b - a) / length_m
    side = np.array([-unit[1], unit[0]])
    fade = np.clip(6.0 * s * (1.0 - s), 0.0, 1.0)
    swing = swing_m * fade * (np.sin(s * length_m / 95.0) + 0.6 * wobble(rng, s * length_m, 260.0))
    middle = a + np.outer(s * length_m, unit) + np.outer(swing, side)
    tangent = np.gradient(middle, axis=0)
    tangent /= np.hypot(tangent[:, 0], tangent[:, 1])[:, None]
    normal = np.column_stack([-tangent[:, 1], tangent[:, 0]])
    half = np.interp(s, np.linspace(0.0, 1.0, len(widths_m)), widths_m) / 2
    left = middle + normal * (half * (1.0 + 0.08 * wobble(rng, s * length_m, 120.0)))[:, None]
    right = middle - normal * (half * (1.0 + 0.08 * wobble(rng, s * length_m, 120.0)))[:, None]
    return shapely.Polygon(np.concatenate([left, right[::-1]]))


def outline(
    rng: np.random.Generator, centre: tuple[float, float], radius_m: float, vertices: int = 40
) -> shapely.Polygon:
    """Give a ragged round area, such as a fire's edge."""
    angle = np.linspace(0.0, 2.0 * np.pi, vertices, endpoint=False)
    radius = radius_m * (1.0 + 0.25 * wobble(rng, angle * 10.0, 12.0, 4) * np.sin(angle / 2.0))
    return shapely.Polygon(
        np.column_stack([centre[0] + radius * np.cos(angle), centre[1] + radius * np.sin(angle)])
    )


def _placed(shape: shapely.Polygon, centre: tuple[float, float], heading_deg: float) -> shapely.Polygon:
    """Turn a shape that lies along the east axis to a heading and move it to its centre."""
    turned = affinity.rotate(shape, 90.0 - heading_deg, origin=(0.0, 0.0))
    return affinity.translate(turned, *centre)
