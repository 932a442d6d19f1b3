"""Builds depth areas from the user's chart polygons: two depths, unit, sign, zone and date as declared."""

from dataclasses import replace

import numpy as np
import shapely

from geo.ingest.layers.chart_rows import declared, row_origin, signed_depth_m
from geo.ingest.layers.fields import Row
from geo.ingest.layers.layer_file import Desk, Layer
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
    desk: Desk, section: DepthAreasFile, frame: RegionFrame, bodies: tuple[WaterBody, ...]
) -> tuple[DepthArea, ...]:
    """Give the depth areas of a chart, one record for each body that an area touches.

    Notes: an area without both depths, with the least above the greatest, or touching no water is set aside. A zone of
    confidence that is missing or not understood counts as U, not assessed. Overlapping areas whose depths contradict
    each other are told; the shallower one counts.
    """
    report = desk.report.about(section.file)
    ready = declared(section, "depth_areas", ("least_depth", "greatest_depth"), report)
    if section.columns.zone is None and section.catzoc is None:
        report.add(
            "ask",
            "the zone of confidence of the depth areas is not declared",
            'map zone in [depth_areas.columns], or declare catzoc = "A1" ... "D" or "U" in [depth_areas]',
            field="depth_areas.catzoc",
        )
    layer = desk.read_layer(section, section.columns.mapped(), "polygon")
    if layer is None or not ready:
        return ()
    plane = desk.in_plane(layer, frame.crs_wkt)
    found = _areas(layer, plane, section)
    if not _drying_share_holds(layer, found):
        return ()
    if bodies:
        _drop_outside(layer, plane, bodies)
        found = [each for each in found if layer.shapes[each[0]] is not None]
        _tell_contradictions(layer, [area for _, area in found], [index for index, _ in found])
    layer.count()
    polygons = np.array([body.polygon for body in bodies], object)
    tree = shapely.STRtree(polygons)
    return tuple(
        replace(area, body_id=bodies[number].body_id)
        for _, area in found
        for number in sorted(tree.query(area.polygon, predicate="intersects").tolist())
    )


def _areas(layer: Layer, plane: np.ndarray, section: DepthAreasFile) -> list[tuple[int, DepthArea]]:
    found = []
    for index in layer.present():
        row = layer.row(index)
        least, greatest = (signed_depth_m(row, section, one) for one in ("least_depth", "greatest_depth"))
        if least is None or greatest is None:
            layer.set_aside(
                index, "quarantine", "the depth area lacks one of its two depths", "fill it in, or delete the row"
            )  # fmt: skip
            continue
        if least > greatest:
            layer.set_aside(
                index, "quarantine",
                f"the least depth, {least:.2f} m, is more than the greatest, {greatest:.2f} m",
                "exchange the two columns, or mend the numbers", value=f"{least:.2f} m",
            )  # fmt: skip
            continue
        day = row.day("date")
        area = DepthArea(plane[index], least, greatest, _zone(row, section), row_origin(layer, index), day)
        found.append((index, area))
    return found


def _zone(row: Row, section: DepthAreasFile) -> Zone:
    if section.columns.zone is None:
        return section.catzoc or UNGRADED
    words = row.text("zone")
    if words is not None:
        zone = section.zones.get(words) or ZONE_CODES.get(words)
        if zone is not None:
            return zone
        if words.upper() in ZONES:
            return words.upper()  # type: ignore[return-value]
    rule = "no zone of confidence is given" if words is None else "the zone of confidence is not known"
    row.complain(
        "zone",
        f"{rule}; the area counts as U, not assessed, and promises no depth",
        f"map it in [depth_areas.zones] to one of: {', '.join(ZONES)}",
    )
    return UNGRADED


def _drying_share_holds(layer: Layer, found: list[tuple[int, DepthArea]]) -> bool:
    """Ask where most areas lie above the water altogether: that is a sign, not a chart of drying banks."""
    dry = [index for index, area in found if area.greatest_m < 0.0]
    if 2 * len(dry) <= len(found) or not found:
        return True
    layer.report.add(
        "ask",
        f"{len(dry)} of {len(found)} depth areas lie above the water with the declared sign, the first in"
        f" {layer.row(dry[0]).label}",
        'check positive = "down" or "up" in [depth_areas]',
        field="depth_areas.positive",
    )
    return False


def _drop_outside(layer: Layer, plane: np.ndarray, bodies: tuple[WaterBody, ...]) -> None:
    tree = shapely.STRtree([body.polygon for body in bodies])
    for index in layer.present():
        if len(tree.query(plane[index], predicate="intersects")) == 0:
            number = int(tree.nearest(plane[index]))
            away = shapely.distance(plane[index], bodies[number].polygon)
            layer.set_aside(
                index, "quarantine", "the depth area touches no water of the region",
                f"check its position, or leave it out; the nearest is {bodies[number].body_id}, {away:.0f} m away",
            )  # fmt: skip


def _tell_contradictions(layer: Layer, areas: list[DepthArea], index: list[int]) -> None:
    """Caution on areas that overlap though their depths have nothing in common."""
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
        layer.report.add(
            "caution",
            f"depth areas of {one.least_m:.1f} to {one.greatest_m:.1f} m and of {other.least_m:.1f} to"
            f" {other.greatest_m:.1f} m overlap by {shared:.0f} m2; the shallower counts there",
            "find out which is right, and cut the other",
            feature=f"{layer.row(index[a]).label} and {layer.row(index[b]).label}",
        )
