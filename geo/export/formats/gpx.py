"""GPX 1.1 for hand-held and cockpit receivers: a waypoint per ranked source, a route per loaded leg and per run."""

from pathlib import Path
from typing import Any

import gpxpy.gpx
import pandas as pd
import shapely

from geo.base.positions import bearing_text, duration_text
from geo.base.whole_file import write_whole_text
from geo.export.formats.xml_text import xml_text
from geo.export.layers.ranked_layer import question_lines, ranked_frame
from geo.records.geographic_shapes import geographic
from geo.records.ranking import Ranking
from geo.records.region import RegionFrame

DECIMALS = 7


def write_gpx(path: Path, ranking: Ranking, frame: RegionFrame) -> Path:
    """Write the ranked sources as waypoints, the loaded legs and runs as routes, in GPX 1.1.

    Notes: what is left out is not written, because a receiver would offer it as a goal.

    Raises: OSError when the disk refuses; the old file is then untouched.

    References: GPX 1.1 schema documentation (elevations in metres above sea level; WGS 84).
    """
    document = gpxpy.gpx.GPX()
    document.creator = "fetchwater"
    document.name = xml_text(f"Water sources for {ranking.fire_name}")
    document.description = xml_text("; ".join(question_lines(ranking)))
    rows = ranked_frame(ranking, frame)
    for source, row in zip(ranking.sources, rows.itertuples(index=False), strict=False):
        document.waypoints.append(_waypoint(row))
        title = f"{row.rank:02d} {row.name}"
        document.routes.append(_route(f"{title} to the fire", source.cycle.loaded_leg.route, frame))
        if source.run_line is not None:
            document.routes.append(_route(f"{title} run", source.run_line, frame))
    return write_whole_text(path, document.to_xml(version="1.1"))


def _waypoint(row: Any) -> gpxpy.gpx.GPXWaypoint:
    bearing = f"{row.distance_nmi:.1f} NM {bearing_text(row.bearing_true_deg)} from the fire"
    lines = [
        f"{row.method}, round trip {duration_text(row.round_trip_s)}, {row.litres:.0f} L per load",
        bearing,
        row.position_ddm,
        row.cautions,
    ]
    height = None if pd.isna(row.elevation_m) else round(row.elevation_m, 1)
    words = xml_text("; ".join(line for line in lines if line))
    place = shapely.Point(row.longitude_deg, row.latitude_deg)
    return waypoint_at(place, xml_text(f"{row.rank:02d} {row.name}"), words, row.method, height)


def waypoint_at(
    place: shapely.Point, name: str, words: str, kind: str | None, elevation_m: float | None = None
) -> gpxpy.gpx.GPXWaypoint:
    """Give a waypoint at a place in WGS 84 degrees."""
    return gpxpy.gpx.GPXWaypoint(
        latitude=round(place.y, DECIMALS),
        longitude=_longitude(place.x),
        name=name,
        description=words,
        elevation=elevation_m,
        type=kind,
    )


def _route(name: str, line: shapely.LineString, frame: RegionFrame) -> gpxpy.gpx.GPXRoute:
    route = gpxpy.gpx.GPXRoute(name=xml_text(name))
    # A route is a list of points to fly to: at the antimeridian it simply goes on, so no cut and no extra points.
    for corner in shapely.get_coordinates(line):
        place = geographic(shapely.Point(corner), frame)
        route.points.append(gpxpy.gpx.GPXRoutePoint(round(place.y, DECIMALS), _longitude(place.x)))
    return route


def _longitude(longitude_deg: float) -> float:
    """Give a longitude as GPX has it: -180 up to but not including 180."""
    rounded = round(longitude_deg, DECIMALS)
    return rounded - 360.0 if rounded >= 180.0 else rounded
