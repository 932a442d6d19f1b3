"""The ways in and out of hover points in words and figures, for layers and paper."""

import numpy as np
import shapely

from geo.base.geodesy import plane_geodesic
from geo.base.positions import bearing_text
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


def open_words(point: HoverPoint, slope: float, frame: RegionFrame) -> str:
    """Say in which directions [deg true] a surface of a slope clears everything, as ranges."""
    sectors = point.sectors
    if sectors is None:
        return "UNKNOWN"
    clear = np.array(sectors.slopes[0]) <= slope
    clear &= np.array([not each for each in sectors.unknown])
    count, turn = clear.size, north_turn_deg(point.point, frame)
    if clear.all():
        return "all round"
    if not clear.any():
        return "NONE"
    starts = np.flatnonzero(clear & ~np.roll(clear, 1))
    lengths = [int(np.argmin(np.append(np.roll(clear, -start), False))) for start in starts]
    step = 360.0 / count
    ranges = [(step * a + turn, step * (a + n - 1) + turn) for a, n in zip(starts, lengths, strict=True)]
    return ", ".join(
        f"{bearing_text(a)} to {bearing_text(b)}" if b > a else bearing_text(a) for a, b in ranges
    )


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
