"""The depth evidence of each water as map rows in WGS 84: what it rests on, how much of it, how old."""

from collections.abc import Iterable
from datetime import date
from typing import Any

import numpy as np
import shapely

from geo.records.geographic_shapes import geographic
from geo.records.region import Region, WaterBody


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
        dates = [one for one in found.measured_on if one is not None]
        # One sounding without a date makes the oldest one unknown.
        oldest = min(dates) if len(dates) == len(found) else None
        newest = max(dates, default=None)
        origin = found.origin[0].split(" row ")[0]
        rows.append(
            _row(body, "soundings", len(found), oldest, newest, origin, geographic(points, region.frame))
        )
    grid = region.depth_grid
    if grid is not None and body.polygon.intersects(_extent(grid.grid)):
        rows.append(_row(body, "depth grid", None, grid.surveyed_on, grid.surveyed_on, grid.origin, middle))
    rows += _of_chart(region, body, middle)
    stated = body.stated_depth
    if stated is not None:
        rows.append(
            _row(body, "stated depth", None, stated.stated_on, stated.stated_on, stated.origin, middle)
        )
    return rows


def _of_chart(region: Region, body: WaterBody, middle: shapely.Geometry) -> list[dict[str, Any]]:
    chart = None if region.chart is None else region.chart.of(body.body_id)
    if chart is None:
        return []
    rows = []
    for kind, parts in (("depth contours", chart.contours), ("depth areas", chart.areas)):
        if parts:
            dates = [one.surveyed_on for one in parts if one.surveyed_on is not None]
            oldest = min(dates) if len(dates) == len(parts) else None
            newest = max(dates, default=None)
            rows.append(_row(body, kind, len(parts), oldest, newest, parts[0].origin, middle))
    return rows


def _extent(grid: Any) -> shapely.Polygon:
    rows, columns = grid.values.shape
    east, south = grid.west_m + columns * grid.cell_east_m, grid.north_m - rows * grid.cell_north_m
    return shapely.box(grid.west_m, south, east, grid.north_m)


def _row(
    body: WaterBody,
    kind: str,
    points: int | None,
    oldest: date | None,
    newest: date | None,
    origin: str,
    geom: shapely.Geometry,
) -> dict[str, Any]:
    return {
        "body_id": body.body_id,
        "kind": kind,
        "points": points,
        "oldest_on": oldest,
        "newest_on": newest,
        "origin": origin,
        "geom": geom,
    }
