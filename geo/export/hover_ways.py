"""The ways in and out of hover points in words and figures, for layers and paper."""

import numpy as np
import shapely

from geo.base.geodesy import plane_geodesic
from geo.base.positions import true_and_magnetic
from geo.records.region import RegionFrame
from geo.records.survey import BodySurvey, HoverPoint, Sectors

# Slopes that paper tells of: about what a loaded heavy helicopter climbs, and the published 8:1 surface.
TOLD_SLOPES = (0.08, 0.125)
COMPASS = (("north", 0.0), ("east", 90.0), ("south", 180.0), ("west", 270.0))


def north_turn_deg(point: shapely.Point, frame: RegionFrame) -> float:
    """Give the true bearing of the plane's north at a point [deg]."""
    start = (point.x, point.y)
    return plane_geodesic(frame.crs_wkt, start, (point.x, point.y + 100.0)).start_bearing_deg


def slopes_text(sectors: Sectors) -> str:
    """Give the least slope [%] of each direction from grid north, in order; "?" after it where something is unknown."""
    unknown = ["?" if each else "" for each in sectors.unknown]
    return " ".join(
        f"{100.0 * slope:.1f}{mark}" for slope, mark in zip(sectors.slopes[0], unknown, strict=True)
    )


def open_ranges(sectors: Sectors, slope: float) -> list[tuple[float, float]]:
    """Give the ranges of directions, first and last [deg from grid north], in which a surface of a slope clears all."""
    clear = np.array(sectors.slopes[0]) <= slope
    clear &= np.array([not each for each in sectors.unknown])
    step = 360.0 / clear.size
    if clear.all():
        return [(0.0, 360.0)]
    starts = np.flatnonzero(clear & ~np.roll(clear, 1))
    lengths = [int(np.argmin(np.append(np.roll(clear, -start), False))) for start in starts]
    return [(step * a, step * (a + n - 1)) for a, n in zip(starts.tolist(), lengths, strict=True)]


def open_words(
    point: HoverPoint, slope: float, frame: RegionFrame, variation_deg: float | None = None
) -> str:
    """Say in which directions a surface of a slope clears everything, as ranges: true and, where known, magnetic."""
    if point.sectors is None:
        return "UNKNOWN"
    ranges, turn = open_ranges(point.sectors, slope), north_turn_deg(point.point, frame)
    if ranges == [(0.0, 360.0)]:
        return "all round"

    def said(angle_deg: float) -> str:
        return true_and_magnetic(angle_deg + turn, variation_deg)

    return ", ".join(f"{said(a)} to {said(b)}" if b > a else said(a) for a, b in ranges) or "NONE"


def outermost(record: BodySurvey) -> list[tuple[str, HoverPoint]]:
    """Give the hover points furthest north, east, south and west, each once, without the best of all."""
    found: dict[int, str] = {}
    points = record.further_hover_points
    for name, angle_deg in COMPASS:
        if points:
            angle = np.radians(angle_deg)
            ahead = [one.point.x * np.sin(angle) + one.point.y * np.cos(angle) for one in points]
            found.setdefault(int(np.argmax(ahead)), name)
    return [(name, points[i]) for i, name in found.items()]
