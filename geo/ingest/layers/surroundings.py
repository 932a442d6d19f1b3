"""Builds what lies around the water: obstacles, closed areas, annotated sites."""

import shapely

from geo.ingest.layers.fields import Row
from geo.ingest.layers.layer_file import Desk, Layer
from geo.ingest.layers.water import HIGHEST_ELEVATION_M, LOWEST_ELEVATION_M, UNIT_FACTOR, row_ids
from geo.ingest.settings import ClosuresFile, ObstaclesFile, SitesFile
from geo.records.region import AnnotatedSite, Closure, Obstacle, RegionFrame, WaterBody

TALLEST_M = 1000.0
CLOSURE_KINDS = ("no filling", "no flying")
STATUSES = ("open", "closed", "unknown")
NEAR_SHORE_M = 50.0


def read_obstacles(desk: Desk, section: ObstaclesFile, frame: RegionFrame) -> tuple[Obstacle, ...]:
    """Give the obstacles. A row that cannot be read blocks: an obstacle must not be lost."""
    mapped = section.columns.mapped()
    heights = [mapped[name] for name in ("height_above_ground", "top_elevation") if name in mapped]
    if heights and section.vertical_unit is None:
        desk.report.about(section.file).add(
            "ask",
            f"the unit of {', '.join(heights)} is not declared",
            'declare vertical_unit = "metre" or "foot" in [obstacles]',
            field="obstacles.vertical_unit",
        )
    layer = desk.read_layer(section, mapped, "any", blocking="refuse")
    if layer is None:
        return ()
    plane = desk.in_plane(layer, frame.crs_wkt, blocking="refuse")
    factor = UNIT_FACTOR[section.vertical_unit]
    found = [
        _obstacle(layer.row(index), name, plane[index], factor)
        for index, name in row_ids(layer, "o").items()
        if plane[index] is not None
    ]
    layer.count()
    return tuple(sorted(found, key=lambda one: one.obstacle_id))


def _obstacle(row: Row, name: str, shape: shapely.Geometry, factor: float) -> Obstacle:
    height = row.number_in("height_above_ground", 1e-6, TALLEST_M, "the height above ground [m]", factor)
    top = row.number_in(
        "top_elevation", LOWEST_ELEVATION_M, HIGHEST_ELEVATION_M, "the top elevation [m]", factor
    )
    if height is None and top is None:
        row.report.add(
            "caution", "the height is unknown; the obstacle is treated as the worst case", "give its height",
            feature=row.label,
        )  # fmt: skip
    kind = row.text("kind")
    return Obstacle(
        obstacle_id=name,
        name=row.text("name") or name,
        kind=kind if kind is not None else "unknown",
        shape=shape,
        top_elevation_m=top,
        height_above_ground_m=height,
        origin=f"{row.report.file} {row.label.split(' (')[0]}",
    )


def read_closures(desk: Desk, section: ClosuresFile, frame: RegionFrame) -> tuple[Closure, ...]:
    """Give the closed areas. A row that cannot be read, or whose kind is unknown, blocks."""
    layer = desk.read_layer(section, section.columns.mapped(), "polygon", blocking="refuse")
    if layer is None:
        return ()
    plane = desk.in_plane(layer, frame.crs_wkt, blocking="refuse")
    found = [
        closure
        for index, name in row_ids(layer, "c").items()
        if plane[index] is not None
        if (closure := _closure(layer.row(index), name, plane[index], section)) is not None
    ]
    layer.count()
    return tuple(sorted(found, key=lambda one: one.closure_id))


def _closure(row: Row, name: str, area: shapely.Geometry, section: ClosuresFile) -> Closure | None:
    words = row.text("kind")
    kind = section.kinds.get(words) if words is not None else None
    if kind is None and words in CLOSURE_KINDS:
        kind = words
    if kind is None:
        row.complain(
            "kind",
            "it is not said whether the area is closed to filling or to flying",
            'map the word in [closures.kinds] to "no filling" or "no flying"',
            "ask",
        )
        return None
    start, end = row.day("valid_from"), row.day("valid_to")
    if start is not None and end is not None and end < start:
        row.complain(
            "valid_to", "the closure ends before it begins; it counts as open-ended", "mend the days"
        )
        start = end = None
    return Closure(
        name, row.text("name") or name, kind, area, row.text("reason") or "no reason given", start, end
    )


def read_sites(
    desk: Desk, section: SitesFile, frame: RegionFrame, bodies: tuple[WaterBody, ...]
) -> tuple[AnnotatedSite, ...]:
    """Give the annotated sites, each with the body that it lies in or within 50 m of."""
    layer = desk.read_layer(section, section.columns.mapped(), "point")
    if layer is None:
        return ()
    plane = desk.in_plane(layer, frame.crs_wkt)
    tree = shapely.STRtree([body.polygon for body in bodies])
    found = [
        _site(layer, index, name, plane[index], section, tree, bodies)
        for index, name in row_ids(layer, "s").items()
    ]
    layer.count()
    return tuple(sorted(found, key=lambda one: one.site_id))


def _site(
    layer: Layer,
    index: int,
    name: str,
    point: shapely.Point,
    section: SitesFile,
    tree: shapely.STRtree,
    bodies: tuple[WaterBody, ...],
) -> AnnotatedSite:
    row = layer.row(index)
    near = tree.query_nearest(point, max_distance=NEAR_SHORE_M)
    if len(near) == 0 and bodies:
        row.report.add(
            "caution", f"the site lies in no water and {NEAR_SHORE_M:.0f} m or more from any shore",
            "check its position", feature=row.label,
        )  # fmt: skip
    return AnnotatedSite(
        site_id=name,
        name=row.text("name") or name,
        point=point,
        body_id=bodies[int(near[0])].body_id if len(near) else None,
        method=row.text("method"),
        status=row.word("status", section.statuses, STATUSES, "sites.statuses") or "unknown",
        note=row.text("note") or "",
        inspected_on=row.day("inspected"),
    )
