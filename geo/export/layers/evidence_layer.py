"""The depth evidence of each water as map rows in WGS 84: what it rests on, how much of it, how old."""

from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

import numpy as np
import shapely

from geo.records.geographic_shapes import geographic
from geo.records.region import Region, WaterBody

Span = tuple[date | None, date | None]  # oldest, newest


def evidence_rows(region: Region, bodies: Iterable[WaterBody]) -> list[dict[str, Any]]:
    """Give one row per water and kind of evidence: soundings, depth grid, depth contours, depth areas, stated depth.

    Returns: dicts of body_id, kind, points (how many soundings, lines or areas, else None), oldest_on, newest_on (None:
    undated), origin, geom in WGS 84.
    """
    return [row for body in bodies for row in _of_body(region, body)]


def _of_body(region: Region, body: WaterBody) -> list[dict[str, Any]]:
    rows = []
    middle = geographic(body.polygon.representative_point(), region.frame)
    found = None if region.soundings is None else region.soundings.of(body.body_id)
    if found is not None and len(found):
        points = shapely.MultiPoint(np.column_stack([found.easting_m, found.northing_m]))
        origin, place = found.origin[0].split(" row ")[0], geographic(points, region.frame)
        rows.append(_row(body, "soundings", len(found), _span(found.measured_on), origin, place))
    grid, stated = region.depth_grid, body.stated_depth
    if grid is not None and body.polygon.intersects(shapely.box(*grid.grid.bounds)):
        rows.append(_row(body, "depth grid", None, (grid.surveyed_on,) * 2, grid.origin, middle))
    chart = None if region.chart is None else region.chart.of(body.body_id)
    if chart is not None:
        for kind, parts in (("depth contours", chart.contours), ("depth areas", chart.areas)):
            if parts:
                dates = _span([one.surveyed_on for one in parts])
                rows.append(_row(body, kind, len(parts), dates, parts[0].origin, middle))
    if stated is not None:
        rows.append(_row(body, "stated depth", None, (stated.stated_on,) * 2, stated.origin, middle))
    return rows


def _span(days: Sequence[date | None]) -> Span:
    """Give the oldest and the newest day; one part without a date makes the oldest unknown."""
    dates = [day for day in days if day is not None]
    return min(dates) if len(dates) == len(days) else None, max(dates, default=None)


def _row(
    body: WaterBody, kind: str, points: int | None, days: Span, origin: str, geom: shapely.Geometry
) -> dict[str, Any]:
    row = {"body_id": body.body_id, "kind": kind, "points": points}
    return row | {"oldest_on": days[0], "newest_on": days[1], "origin": origin, "geom": geom}
