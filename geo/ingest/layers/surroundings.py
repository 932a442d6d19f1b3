"""Builds what lies around the water: obstacles, closed areas, annotated sites."""

from typing import get_args

import shapely

from geo.ingest.layers.reader import FileReader
from geo.ingest.layers.records import read_records
from geo.ingest.layers.table import Row
from geo.ingest.layers.water import HIGHEST_ELEVATION_M, LOWEST_ELEVATION_M
from geo.ingest.settings import UNIT_M, ClosuresFile, FileStatus, ObstaclesFile, SitesFile
from geo.records.region import AnnotatedSite, Closure, ClosureKind, Obstacle, RegionFrame, WaterBody

TALLEST_M = 1000.0
CLOSURE_KINDS: tuple[ClosureKind, ...] = get_args(ClosureKind)
STATUSES: tuple[FileStatus, ...] = get_args(FileStatus)
NEAR_SHORE_M = 50.0
HEIGHT_COLUMNS = ("height_above_ground", "top_elevation")


def read_obstacles(reader: FileReader, section: ObstaclesFile, frame: RegionFrame) -> tuple[Obstacle, ...]:
    """Give the obstacles. A row that cannot be read blocks: an obstacle must not be lost."""
    heights = [theirs for ours, theirs in section.columns.items() if ours in HEIGHT_COLUMNS]
    if heights and section.vertical_unit is None:
        what, fix = f"the unit of {', '.join(heights)}", 'declare vertical_unit = "metre" or "foot"'
        reader.report.about(section.file).ask_for("obstacles", "vertical_unit", what, fix)
    factor = UNIT_M[section.vertical_unit or "metre"]

    def obstacle(row: Row, obstacle_id: str) -> Obstacle:
        span = LOWEST_ELEVATION_M, HIGHEST_ELEVATION_M
        height = row.number_in("height_above_ground", 1e-6, TALLEST_M, "the height above ground [m]", factor)
        top = row.number_in("top_elevation", *span, "the top elevation [m]", factor)
        if height is None and top is None:
            rule = "the height is unknown; the obstacle is treated as the worst case"
            row.caution(rule, "give its height")
        return Obstacle(
            obstacle_id=obstacle_id,
            name=row.text("name") or obstacle_id,
            kind=row.text("kind") or "unknown",
            shape=row.shape,
            top_elevation_m=top,
            height_above_ground_m=height,
            origin=row.origin,
        )

    return read_records(reader, section, frame, obstacle, letter="o", expect="any", blocking="refuse")


def read_closures(reader: FileReader, section: ClosuresFile, frame: RegionFrame) -> tuple[Closure, ...]:
    """Give the closed areas. A row that cannot be read, or whose kind is unknown, blocks."""

    def closure(row: Row, closure_id: str) -> Closure | None:
        words = row.text("kind") or ""
        kind = section.kinds.get(words) or next((one for one in CLOSURE_KINDS if one == words), None)
        if kind is None:
            rule = "it is not said whether the area is closed to filling or to flying"
            fix = 'map the word in [closures.kinds] to "no filling" or "no flying"'
            row.complain("kind", rule, fix, "ask")
            return None
        first, last = row.day("from"), row.day("to")
        if first is not None and last is not None and last < first:
            rule = "the closure ends before it begins; it counts as open-ended"
            row.complain("to", rule, "mend the days")
            first = last = None
        name, reason = row.text("name") or closure_id, row.text("reason") or "no reason given"
        return Closure(closure_id, name, kind, row.shape, reason, first, last)

    return read_records(reader, section, frame, closure, letter="c", expect="polygon", blocking="refuse")


def read_sites(
    reader: FileReader, section: SitesFile, frame: RegionFrame, bodies: tuple[WaterBody, ...]
) -> tuple[AnnotatedSite, ...]:
    """Give the annotated sites, each with the body that it lies in or within 50 m of."""
    tree = shapely.STRtree([body.polygon for body in bodies])

    def site(row: Row, site_id: str) -> AnnotatedSite:
        near = tree.query_nearest(row.shape, max_distance=NEAR_SHORE_M)
        if len(near) == 0 and bodies:
            rule = f"the site lies in no water and {NEAR_SHORE_M:.0f} m or more from any shore"
            row.caution(rule, "check its position")
        return AnnotatedSite(
            site_id=site_id,
            name=row.text("name") or site_id,
            point=row.shape,
            body_id=bodies[int(near[0])].body_id if len(near) else None,
            method=row.text("method"),
            status=row.word("status", section.statuses, STATUSES, "sites.statuses") or "unknown",
            note=row.text("note") or "",
            inspected_on=row.day("inspected"),
        )

    return read_records(reader, section, frame, site, letter="s", expect="point")
