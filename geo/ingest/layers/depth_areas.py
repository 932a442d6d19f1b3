"""Builds depth areas from the user's chart polygons: two depths, unit, sign, zone and date as declared."""

from dataclasses import replace

import numpy as np
import shapely

from geo.ingest.checks.report import FileReport
from geo.ingest.layers.depth_rows import WaterIndex, declared, signed_depth_m
from geo.ingest.layers.reader import FileReader
from geo.ingest.layers.table import LayerTable, Row
from geo.ingest.settings import DepthAreasFile
from geo.records.chart import DepthArea, Zone
from geo.records.region import RegionFrame, WaterBody

# An overlap of areas smaller than this share of the smaller one is drawing (our choice, no source).
OVERLAP_SHARE = 0.01
ZONES: tuple[Zone, ...] = ("A1", "A2", "B", "C", "D", "U")
# IHO S-57 Edition 3.1, attribute CATZOC: the codes 1 to 6 (as IHO S-68 Edition 1.1.0, Table A-1, lists them).
ZONE_CODES: dict[str, Zone] = dict(zip("123456", ZONES, strict=True))
UNGRADED: Zone = "U"


def read_depth_areas(
    reader: FileReader, section: DepthAreasFile, frame: RegionFrame, bodies: tuple[WaterBody, ...]
) -> tuple[DepthArea, ...]:
    """Give the depth areas of a chart, one record for each body that an area touches.

    Notes: an area without both depths, with the least above the greatest, or touching no water is left out. A zone of
    confidence that is missing or not understood counts as U, not assessed. Overlapping areas whose depths contradict
    each other are told; the shallower one counts.
    """
    report = reader.report.about(section.file)
    ready = declared(section, report, ("least_depth", "greatest_depth"))
    _ask_zone(section, report)
    table = reader.read_layer(section, section.columns, "polygon")
    if table is None or not ready:
        return ()
    reader.place(table, frame.crs_wkt)
    areas = {row.index: area for row in table.rows() if (area := _area(row, section)) is not None}
    if not _drying_share_holds(table, areas):
        return ()
    found = []
    if bodies:
        waters = WaterIndex(bodies)
        for index, area in list(areas.items()):
            met = waters.met_by(area.polygon)
            if not met:
                del areas[index]
                rule = "the depth area touches no water of the region"
                waters.leave_out(table.row(index), rule, "check its position, or leave it out")
            found += [replace(area, body_id=bodies[number].body_id) for number in met]
        _tell_contradictions(table, areas)
    table.count()
    return tuple(found)


def _ask_zone(section: DepthAreasFile, report: FileReport) -> None:
    if "zone" not in section.columns and section.catzoc is None:
        what = "the zone of confidence of the depth areas"
        fix = 'map zone in [depth_areas.columns], or declare catzoc = "A1" ... "D" or "U"'
        report.ask_for(section.key, "catzoc", what, fix)


def _area(row: Row, section: DepthAreasFile) -> DepthArea | None:
    """Give the depth area of a row, None where its depths make none: the row is left out."""
    least_m, greatest_m = (signed_depth_m(row, section, one) for one in ("least_depth", "greatest_depth"))
    if least_m is None or greatest_m is None:
        row.leave_out("the depth area lacks one of its two depths", "fill it in, or delete the row")
        return None
    if least_m > greatest_m:
        rule = f"the least depth, {least_m:.2f} m, is more than the greatest, {greatest_m:.2f} m"
        row.leave_out(rule, "exchange the two columns, or mend the numbers", value=f"{least_m:.2f} m")
        return None
    day = row.day("date")
    return DepthArea(row.shape, least_m, greatest_m, _zone(row, section), row.origin, day)


def _zone(row: Row, section: DepthAreasFile) -> Zone:
    if "zone" not in section.columns:
        return section.catzoc or UNGRADED
    words = row.text("zone")
    if words is not None:
        own = next((one for one in ZONES if one == words.upper()), None)
        zone = section.zones.get(words) or ZONE_CODES.get(words) or own
        if zone is not None:
            return zone
    what = "no zone of confidence is given" if words is None else "the zone of confidence is not known"
    rule = f"{what}; the area counts as U, not assessed, and promises no depth"
    row.complain("zone", rule, f"map it in [depth_areas.zones] to one of: {', '.join(ZONES)}")
    return UNGRADED


def _drying_share_holds(table: LayerTable, areas: dict[int, DepthArea]) -> bool:
    """Ask where most areas lie above the water altogether: that is a sign, not a chart of drying banks."""
    dry = [index for index, area in areas.items() if area.greatest_m < 0.0]
    if 2 * len(dry) <= len(areas) or not areas:
        return True
    what = f"{len(dry)} of {len(areas)} depth areas lie above the water with the declared sign"
    rule, fix = (
        f"{what}, the first in {table.row(dry[0]).label}",
        'check positive = "down" or "up" in [depth_areas]',
    )
    table.report.add("ask", rule, fix, field="depth_areas.positive")
    return False


def _tell_contradictions(table: LayerTable, found: dict[int, DepthArea]) -> None:
    """Caution on areas that overlap though their depths have nothing in common."""
    index, areas = list(found), list(found.values())
    polygons = np.array([area.polygon for area in areas], object)
    if len(polygons) < 2:
        return
    first, second = shapely.STRtree(polygons).query(polygons, predicate="intersects")
    for a, b in sorted(zip(first.tolist(), second.tolist(), strict=True)):
        one, other = areas[a], areas[b]
        if a >= b or (one.least_m < other.greatest_m and other.least_m < one.greatest_m):
            continue
        shared = shapely.intersection(one.polygon, other.polygon).area
        if shared <= OVERLAP_SHARE * min(one.polygon.area, other.polygon.area):
            continue
        table.report.add(
            "caution",
            f"depth areas of {one.least_m:.1f} to {one.greatest_m:.1f} m and of {other.least_m:.1f} to"
            f" {other.greatest_m:.1f} m overlap by {shared:.0f} m2; the shallower counts there",
            "find out which is right, and cut the other",
            feature=f"{table.row(index[a]).label} and {table.row(index[b]).label}",
        )
