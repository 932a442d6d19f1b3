"""Bodies of water drawn over one another: two outlines claim the same water, and tear its soundings apart."""

from collections.abc import Iterator

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from geo.base.prepared import Prepared
from geo.ingest.checks.report import FileReport, first_of
from geo.records.region import Soundings, WaterBody

# Of the smaller body; common practice, no source. Less than the first is how neighbours are drawn.
CAUTION_SHARE, ASK_SHARE = 0.01, 0.10


def overlapping(bodies: tuple[WaterBody, ...]) -> Iterator[tuple[WaterBody, WaterBody, BaseGeometry]]:
    """Give each pair of bodies that share area, with the shared shape. One inside another counts."""
    polygons = np.array([body.polygon for body in bodies], object)
    first, second = shapely.STRtree(polygons).query(polygons, predicate="intersects")
    for a, b in sorted(zip(*(one[first < second].tolist() for one in (first, second)), strict=True)):
        shared = shapely.intersection(polygons[a], polygons[b])
        if shared.area > 0.0:
            yield bodies[a], bodies[b], shared


def check_overlaps(bodies: tuple[WaterBody, ...], soundings: Soundings | None, report: FileReport) -> None:
    """Ask about bodies that share more than 10 % of the smaller, and caution from 1 %; name the soundings concerned."""
    for one, other, shared in overlapping(bodies):
        share = shared.area / min(one.polygon.area, other.polygon.area)
        if share <= CAUTION_SHARE:
            continue
        report.add(
            "ask" if share > ASK_SHARE else "caution",
            f"two bodies of water ({one.origin} and {other.origin}) overlap by {shared.area:.0f} m2,"
            f" {100.0 * share:.0f} % of the smaller{_torn(shared, soundings)}",
            "draw each body of water once: delete one of the two, or cut it at the other's shore",
            feature=f"{one.body_id} and {other.body_id}",
        )


def _torn(shared: BaseGeometry, soundings: Soundings | None) -> str:
    """Say which soundings lie where both bodies claim the water; each can be given to one body only."""
    if soundings is None:
        return ""
    points = shapely.points(soundings.easting_m, soundings.northing_m)
    inside = np.flatnonzero(Prepared(shared).intersects(points))
    if inside.size == 0:
        return "; no soundings lie there"
    names = first_of([soundings.origin[index] for index in inside])
    count = "1 sounding is" if inside.size == 1 else f"{inside.size} soundings are"
    return f"; {count} torn between them ({names})"
