"""Depth from charts: contour lines as soundings with the error of their drawing, depth areas with their zones."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely
from scipy.special import ndtri

from geo.errors import BadArgument
from geo.records.survey import DEPTH_PROBABILITIES
from geo.survey.depth.corridor import Corridor, Disc

Zone = Literal["A1", "A2", "B", "C", "D", "U"]
# Zones of confidence: depth accuracy a + b d [m] at 95 % and position accuracy [m] at 95 %, IHO S-57 Ed. 3.1 Supp. 3
# (2014), table of CATZOC. A1's position grows by 5 % of the depth. D and U publish no figure: depth there is unknown.
ZONES: dict[Zone, tuple[float, float, float]] = {
    "A1": (0.50, 0.01, 5.0),
    "A2": (1.00, 0.02, 20.0),
    "B": (1.00, 0.02, 50.0),
    "C": (2.00, 0.05, 500.0),
}
# A contour is sampled at this step; between it and its neighbours the bed may be anywhere, so one sigma is at least
# this share of the interval (our choice, no source).
CONTOUR_STEP_M = 25.0
INTERVAL_SHARE = 0.3
TWO_SIDED_95 = 1.96


@dataclass(frozen=True, eq=False)
class ContourSoundings:
    """Points of contours as arrays (n,): position [m], depth [m], one sigma [m], index of the line they come from."""

    easting_m: np.ndarray
    northing_m: np.ndarray
    depth_m: np.ndarray
    sd_m: np.ndarray
    line: np.ndarray


def contour_soundings(
    lines: Sequence[shapely.LineString],
    depth_m: np.ndarray,
    interval_m: float,
    source_sd_m: np.ndarray | float = 0.0,
    step_m: float = CONTOUR_STEP_M,
) -> ContourSoundings:
    """Give contour lines as soundings.

    Parameters
    ----------
    lines: k contours in the region's plane [m]; depth_m: their depths (k,) [m, positive down, below the level at which
    the body's depths hold]; interval_m: the contour interval [m]; source_sd_m: one sigma of the survey behind them
    (number or (k,)); step_m: distance between points [m].

    Raises
    ------
    BadArgument: lengths differ, a depth is not finite or negative, the interval or step is not above 0.

    Notes
    -----
    sigma = max(0.3 interval, source sigma): a drawn line is placed between soundings by eye. Both ends of a line count.
    """
    depth, sigma = (
        _per_line(len(lines), depth_m, "depth_m"),
        _per_line(len(lines), source_sd_m, "source_sd_m"),
    )
    if not (np.isfinite(interval_m) and interval_m > 0 and np.isfinite(step_m) and step_m > 0):
        raise BadArgument(f"interval_m {interval_m}, step_m {step_m}: both must be finite and > 0")
    sigma = np.maximum(sigma, INTERVAL_SHARE * interval_m)
    found, index = [np.zeros((0, 2))], [np.zeros(0, int)]
    for k, line in enumerate(lines):
        along = np.linspace(0.0, line.length, max(int(np.ceil(line.length / step_m)), 1) + 1)
        found.append(shapely.get_coordinates(shapely.line_interpolate_point(line, along)))
        index.append(np.full(len(along), k))
    xy, of = np.concatenate(found), np.concatenate(index)
    return ContourSoundings(xy[:, 0], xy[:, 1], depth[of], sigma[of], of)


def shallower_contours(
    area: Corridor | Disc, lines: Sequence[shapely.LineString], depth_m: np.ndarray, required_m: float
) -> np.ndarray:
    """Give the indices of contours shallower than required_m [m] that meet an area, shallowest first.

    Any is a one-sided warning: the area holds water of that depth, whatever a field says between the lines. Give the
    depths at today's level.
    """
    depth = np.asarray(depth_m, float)
    met = np.flatnonzero((depth < required_m) & shapely.intersects(np.asarray(lines, object), area.area))
    return met[np.argsort(depth[met], kind="stable")]


@dataclass(frozen=True, eq=False)
class DepthArea:
    """One depth area of a chart [m below the level at which depths hold]: between two depths, with its zone."""

    polygon: shapely.Geometry
    least_m: float
    greatest_m: float
    zone: Zone
    origin: str


def zone_sd_m(zone: Zone, depth_m: float) -> float | None:
    """Give one sigma [m] of a charted depth in a zone: (a + b d) / 1.96; None for D and U (no published figure)."""
    if zone not in ZONES:
        return None
    a, b, _position = ZONES[zone]
    return (a + b * abs(depth_m)) / TWO_SIDED_95


def charted_least(
    depth_areas: Sequence[DepthArea], area: Corridor | Disc, level_change_m: float
) -> tuple[tuple[float, ...] | None, str]:
    """Give the quantiles of the least depth over an area from a chart's depth areas, and the reason in words.

    Parameters: the areas; the strip or circle; today's level minus that of the charted depths [m] (tide included).
    Returns: quantiles at DEPTH_PROBABILITIES [m], never below 0, or None with the reason.

    Notes: a depth area promises its shallower limit only; that limit counts everywhere in it. Areas within the zone's
    position accuracy of the strip count as met. The error is common to an area: quantile p is the least over areas of
    limit + z_p sigma. Zones D and U, and water that no area covers, are unknown.
    """
    met = [each for each in depth_areas if _reaches(each, area)]
    if not met:
        return None, "no depth area of the chart reaches this place"
    covered = shapely.union_all([each.polygon for each in met])
    if not covered.buffer(0.05).covers(area.area):
        place = area.area.difference(covered).representative_point()
        return None, f"no depth area of the chart covers E {place.x:.0f} N {place.y:.0f}"
    graded = [(each, zone_sd_m(each.zone, each.least_m)) for each in met]
    blind = [each for each, sd in graded if sd is None]
    if blind:
        return (
            None,
            f"{blind[0].origin}: zone of confidence {blind[0].zone} gives no accuracy; sound here first",
        )
    z = ndtri(np.array(DEPTH_PROBABILITIES))
    least = np.min([each.least_m + z * sd for each, sd in graded], axis=0) + level_change_m
    worst = min(met, key=lambda each: each.least_m)
    text = (
        f"from {len(met)} depth area(s) of the chart, shallowest {worst.least_m:.1f} to {worst.greatest_m:.1f} m "
        f"({worst.origin}, zone {worst.zone}); the shallower limit counts"
    )
    return tuple(float(q) for q in np.maximum(least, 0.0)), text


def _reaches(each: DepthArea, area: Corridor | Disc) -> bool:
    reach = 0.0
    if each.zone in ZONES:
        reach = ZONES[each.zone][2] + (0.05 * abs(each.least_m) if each.zone == "A1" else 0.0)
    return bool(shapely.distance(each.polygon, area.area) <= reach)


def _per_line(count: int, values: np.ndarray | float, name: str) -> np.ndarray:
    array = np.asarray(values, float)
    if array.ndim == 0:
        array = np.full(count, float(array))
    if len(array) != count:
        raise BadArgument(f"{name}: {len(array)} values for {count} contour lines; give one per line")
    bad = np.flatnonzero(~(np.isfinite(array) & (array >= 0.0)))
    if len(bad):
        raise BadArgument(f"{name} of contour {bad[0] + 1} is {array[bad[0]]}: must be finite and >= 0 [m]")
    return array
