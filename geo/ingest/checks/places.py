"""Whether the parts of a region lie near one another: where they do not, a coordinate system is likely wrong."""

from collections.abc import Sequence
from datetime import time

import numpy as np
import shapely
from pyproj.exceptions import ProjError

from geo.base.fault import Severity
from geo.base.geodesy import to_plane
from geo.base.grid import Grid
from geo.ingest.checks.report import FileReport
from geo.ingest.settings import UNIT_M, BasePlace, StationPlace
from geo.records.region import Base, RegionFrame, Station, WaterBody

# Common practice, no source: farther than crews fetch water, and than such an aircraft flies to fuel.
FAR_LAYER_M = 100_000.0
FAR_BASE_M = 200_000.0
SWAPPED = "check longitude and latitude of the base; they may be swapped"


def base_of(section: BasePlace, frame: RegionFrame, report: FileReport) -> Base | None:
    """Give the base in the metric plane, None (with a fault) where it has no place there."""
    try:
        east, north = to_plane(frame.crs_wkt, np.array([section.longitude]), np.array([section.latitude]))
    except ProjError:
        _tell(section, "has no place in the region's metric plane, so far away does it lie", SWAPPED, report)
        return None
    hours = [
        None if text is None else time.fromisoformat(text)
        for text in (section.open_from_utc, section.open_until_utc)
    ]
    if hours.count(None) == 1:
        fix = "write both open_from_utc and open_until_utc, as HH:MM"
        report.add("refuse", f"the base {section.name} has one of its two hours", fix, field="base")
    point = shapely.Point(float(east[0]), float(north[0]))
    return Base(section.name, point, section.fuel_left_l, section.fuel_flow_l_min, *hours)


def bases_of(sections: Sequence[BasePlace], frame: RegionFrame, report: FileReport) -> tuple[Base, ...]:
    """Give the further bases and fuel trucks in the metric plane; those without a place there are faults."""
    placed = (base_of(section, frame, report) for section in sections)
    return tuple(base for base in placed if base is not None)


def station_of(section: StationPlace) -> Station:
    """Give the station with its height in metres."""
    return Station(section.name, section.elevation * UNIT_M[section.vertical_unit], "region.toml, [station]")


def check_base(
    base: Base, section: BasePlace, bodies: Sequence[WaterBody], terrain: Grid | None, report: FileReport
) -> None:
    """Ask about a base that lies over 200 km from all water or outside the terrain."""
    distance_m = float(np.min(shapely.distance([body.polygon for body in bodies], base.point)))
    away = f"{distance_m / 1000:.0f} km from the nearest water"
    if distance_m > FAR_BASE_M:
        _tell(section, f"lies {away}; the limit is {FAR_BASE_M / 1000:.0f} km", SWAPPED, report)
        return
    if terrain is None:
        return
    place = np.array([base.point.x]), np.array([base.point.y])
    height_m, (_, _, inside) = terrain.nearest(*place), terrain.cell_of(*place)
    if not inside[0]:
        fix = f"{SWAPPED}; else give terrain that reaches the base"
        _tell(section, f"lies outside the terrain, {away}", fix, report)
    elif not np.isfinite(height_m[0]):
        what = "lies where the terrain has no height: the legs to it cannot be cleared"
        _tell(section, what, "fill the hole in the terrain", report, "caution")


def _tell(section: BasePlace, what: str, fix: str, report: FileReport, severity: Severity = "ask") -> None:
    place = f"{section.longitude}, {section.latitude}"
    report.add(severity, f"the base {section.name} {what}", fix, field="base", value=place)


def check_layer(shapes: Sequence[shapely.Geometry], bodies: Sequence[WaterBody], report: FileReport) -> None:
    """Say when a whole layer lies over 100 km from the box around the water."""
    water = shapely.box(*shapely.total_bounds([body.polygon for body in bodies]))
    distance_m = float(shapely.distance(shapes, water).min())
    if distance_m > FAR_LAYER_M:
        rule = f"everything in the layer lies {distance_m / 1000:.0f} km or more from the water"
        report.add("caution", rule, "check its coordinate system; longitude and latitude may be swapped")
