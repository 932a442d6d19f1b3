"""Depth from charts: contour lines as soundings with the error of their drawing, depth areas with their zones."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
import shapely
from scipy.special import ndtri

from geo.base.errors import BadArgument
from geo.records.chart import DepthArea, Zone
from geo.records.region import WaterKind
from geo.records.survey import DEPTH_PROBABILITIES
from geo.survey.depth.ageing import ageing
from geo.survey.depth.corridor import Disc, Strip

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
    interval_m: np.ndarray | float,
    source_sd_m: np.ndarray | float = 0.0,
    step_m: float = CONTOUR_STEP_M,
) -> ContourSoundings:
    """Give contour lines as soundings.

    Parameters: lines: k contours in the region's plane [m]; depth_m: their depths (k,) [m, positive down, below the
    level at which the body's depths hold]; interval_m: the contour interval [m] (number or (k,)); source_sd_m: one
    sigma of the survey behind them (number or (k,)); step_m: distance between points [m].
    Raises: BadArgument: lengths differ, a depth is not finite or negative, the interval or step is not above 0.

    Notes: sigma = max(0.3 interval, source sigma): a drawn line is placed between soundings by eye. Both ends of a line
    count.
    """
    depth = _per_line(len(lines), depth_m, "depth_m")
    sigma = _per_line(len(lines), source_sd_m, "source_sd_m")
    interval = _per_line(len(lines), interval_m, "interval_m")
    if not (np.all(interval > 0) and np.isfinite(step_m) and step_m > 0):
        raise BadArgument(f"interval_m {interval_m}, step_m {step_m}: both must be finite and > 0")
    sigma = np.maximum(sigma, INTERVAL_SHARE * interval)
    found, index = [np.zeros((0, 2))], [np.zeros(0, int)]
    for k, line in enumerate(lines):
        along = np.linspace(0.0, line.length, max(int(np.ceil(line.length / step_m)), 1) + 1)
        found.append(shapely.get_coordinates(shapely.line_interpolate_point(line, along)))
        index.append(np.full(len(along), k))
    xy, of = np.concatenate(found), np.concatenate(index)
    return ContourSoundings(xy[:, 0], xy[:, 1], depth[of], sigma[of], of)


def contour_intervals(depth_m: np.ndarray) -> np.ndarray:
    """Give for each contour (k,) the larger step [m] to its neighbours in depth on the map; the shore is 0."""
    depth = np.asarray(depth_m, float)
    levels = np.unique(np.append(depth, 0.0))
    if len(levels) == 1:
        return np.ones(len(depth))
    steps = np.diff(levels)
    larger = np.maximum(np.append(steps[0], steps), np.append(steps, steps[-1]))
    return larger[np.searchsorted(levels, depth)]


def zone_sd_m(zone: Zone, depth_m: float) -> float | None:
    """Give one sigma [m] of a charted depth in a zone: (a + b d) / 1.96; None for D and U (no published figure)."""
    if zone not in ZONES:
        return None
    a, b, _position = ZONES[zone]
    return (a + b * abs(depth_m)) / TWO_SIDED_95


def charted_least(
    depth_areas: Sequence[DepthArea],
    area: Strip | Disc,
    level_change_m: float,
    kind: WaterKind = "sea",
    today: date | None = None,
) -> tuple[tuple[float, ...] | None, str]:
    """Give the quantiles of the least depth over an area from a chart's depth areas, and the reason in words.

    Parameters: the areas; the strip or circle; today's level minus that of the charted depths [m] (tide included); the
    kind of water and the day for which older areas lose weight (None: none do).
    Returns: quantiles at DEPTH_PROBABILITIES [m], never below 0, or None with the reason.

    Notes: a depth area promises its shallower limit only, everywhere in it; its deeper limit bounds what may be hoped
    for. Areas within the zone's position accuracy of the strip count as met. The error is common to an area: quantile p
    is the least over areas of shallower limit + z_p sigma up to p = 0.5, of deeper limit + z_p sigma above. Zones D and
    U, and water that no area covers, are unknown.
    """
    met = [each for each in depth_areas if shapely.distance(each.polygon, area.area) <= _position_m(each)]
    if not met:
        return None, "no depth area of the chart reaches this place"
    covered = shapely.union_all([each.polygon for each in met])
    if not covered.buffer(0.05).covers(area.area):
        place = area.area.difference(covered).representative_point()
        return None, f"no depth area of the chart covers E {place.x:.0f} N {place.y:.0f}"
    blind = [each for each in met if each.zone not in ZONES]
    if blind:
        zone = f"{blind[0].origin}: zone of confidence {blind[0].zone}"
        return None, f"{zone} gives no accuracy; sound here first"
    z = ndtri(np.array(DEPTH_PROBABILITIES))
    limits = [_limits(each, kind, today) for each in met]
    shallow = np.min([low + z * low_sd for (low, low_sd), _ in limits], axis=0)
    deep = np.min([high + z * high_sd for _, (high, high_sd) in limits], axis=0)
    least = np.where(z <= 1e-9, shallow, np.maximum(deep, shallow)) + level_change_m
    worst = min(met, key=lambda each: each.least_m)
    text = (
        f"from {len(met)} depth area(s) of the chart, shallowest {worst.least_m:.1f} to {worst.greatest_m:.1f} m "
        f"({worst.origin}, zone {worst.zone}); the shallower limit counts"
    )
    return tuple(float(q) for q in np.maximum(least, 0.0)), text


def deepest_charted(depth_areas: Sequence[DepthArea], area: Strip | Disc) -> tuple[DepthArea, float] | None:
    """Give the depth area that most surely bounds the least depth from above, with one sigma of its deeper limit [m].

    Notes: only an area that meets the strip even where it is misplaced by its zone's position accuracy speaks against
    other evidence; zones D and U never do. None where there is none.
    """
    graded = [each for each in depth_areas if each.zone in ZONES]
    met = [each for each in graded if shapely.intersects(each.polygon.buffer(-_position_m(each)), area.area)]
    if not met:
        return None
    shallowest = min(met, key=lambda each: each.greatest_m)
    return shallowest, zone_sd_m(shallowest.zone, shallowest.greatest_m) or 0.0


def _limits(
    each: DepthArea, kind: WaterKind, today: date | None
) -> tuple[tuple[float, float], tuple[float, float]]:
    """Both limits of an area with one sigma each [m], as they stand today."""
    depth = np.array([each.least_m, each.greatest_m])
    sd = np.array([zone_sd_m(each.zone, float(limit)) for limit in depth])
    if today is not None:
        depth, sd = ageing(each.surveyed_on, kind, today).applied(depth, sd)
    (low, high), (low_sd, high_sd) = depth.tolist(), sd.tolist()
    return (low, low_sd), (high, high_sd)


def _position_m(each: DepthArea) -> float:
    """Position accuracy of an area at 95 % [m]; 0 for D and U, which publish none."""
    if each.zone not in ZONES:
        return 0.0
    return ZONES[each.zone][2] + (0.05 * abs(each.least_m) if each.zone == "A1" else 0.0)


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
