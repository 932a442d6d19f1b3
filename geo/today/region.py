"""The region on one day: readings of levels, closures of the day and annotated sites laid over the region's files.

Only a reading changes a survey, and only that of its own water; closures and sites change the answer alone.
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

import numpy as np
import shapely

from geo.base.errors import BadInput
from geo.base.named import NotNamed, find_named
from geo.ingest.layers.placing import shape_in_plane
from geo.ingest.layers.surroundings import NEAR_SHORE_M
from geo.records.day import ClosedArea, LevelReading
from geo.records.region import AnnotatedSite, Closure, Region, WaterBody
from geo.today.levels import TIDAL, with_level, without_level


def check_reading(region: Region, reading: LevelReading, file: str) -> None:
    """Hold a reading against the region.

    Raises: BadInput as `with_level`, for a tidal water without an end, and for one that ends before it begins.
    """
    with_level(region, reading.body_id, reading.level_m, file=file)
    body = named_body(region, reading.body_id, file)
    if reading.until is None and body.kind in TIDAL:
        rule, fix = f"the level of a {body.kind} changes with the tide", "say until when it counts"
        raise BadInput.of(file, rule, fix, feature=body.name, field="until")
    if reading.until is not None and reading.until <= reading.read_at:
        rule, fix = "it ends before it was read", "mend the two moments"
        raise BadInput.of(file, rule, fix, feature=body.name, field="until")


def with_readings(region: Region, readings: Sequence[LevelReading], moment: datetime) -> Region:
    """Give the region with the levels that were read; where a reading has expired, the level is unknown.

    A reading of a water that the region has no more is left out.
    Raises: BadInput for a reading that no longer fits the files, with the fix.
    """
    known = {body.body_id for body in region.bodies}
    for one in sorted(readings, key=lambda reading: reading.body_id):
        if one.body_id not in known:
            continue
        read = f"level read {one.read_at:%Y-%m-%d %H:%MZ}, {one.origin}"
        if one.until is not None and one.until <= moment:
            why = f"{read}, counted until {one.until:%Y-%m-%d %H:%MZ}; the present level is unknown"
            region = without_level(region, one.body_id, one.level_m, why)
        else:
            region = with_level(region, one.body_id, one.level_m, origin=read, file=one.origin)
    return region


def named_body(region: Region, id_or_name: str, file: str, field: str = "body") -> WaterBody:
    """Give the water body of that id, else the only one of that name. Raises: BadInput."""
    try:
        return find_named(region.bodies, id_or_name)
    except NotNamed as refusal:
        shown = id_or_name[:120]
        raise BadInput.of(file, refusal.rule, refusal.fix, field=field, value=shown) from refusal


def with_closures(region: Region, closures: Sequence[ClosedArea]) -> Region:
    """Give the region with the closures of the day beside those of its files; one with the id of theirs replaces it.

    Raises: BadInput for an area that has no place in the region's plane.
    """
    if not closures:
        return region
    bodies = {body.body_id: body.polygon for body in region.bodies}
    outlines = shape_in_plane(np.array([one.outline for one in closures], object), region.frame.crs_wkt)
    added = []
    for one, outline in zip(closures, outlines, strict=True):
        # A whole water is closed as it is drawn today, whatever outline it had when it was closed.
        area = bodies.get(one.body_id or "", outline)
        if area is None:
            rule = "the closed area has no place in the region's metric plane"
            raise BadInput.of(one.origin, rule, "withdraw it", feature=one.closure_id)
        added.append(
            Closure(one.closure_id, one.name, one.kind, area, one.reason, one.valid_from, one.valid_to)
        )
    replaced = {one.closure_id for one in added}
    kept = tuple(one for one in region.closures if one.closure_id not in replaced)
    return replace(region, closures=(*kept, *added))


def with_sites(region: Region, sites: Sequence[AnnotatedSite]) -> Region:
    """Give the region with the sites of the store beside those of its files; one with the id of theirs replaces it.

    Parameters: sites whose points are longitude, latitude in WGS 84. A site that names no water of the region belongs
    to the nearest within 50 m, as one of the files does.
    """
    if not sites:
        return region
    known = {body.body_id for body in region.bodies}
    tree = shapely.STRtree([body.polygon for body in region.bodies])
    points = shape_in_plane(np.array([one.point for one in sites], object), region.frame.crs_wkt)
    placed = []
    for one, point in zip(sites, points, strict=True):
        if point is None:
            continue
        body_id = one.body_id if one.body_id in known else None
        if body_id is None:
            near = tree.query_nearest(point, max_distance=NEAR_SHORE_M)
            body_id = region.bodies[int(near[0])].body_id if len(near) else None
        placed.append(replace(one, point=point, body_id=body_id))
    replaced = {one.site_id for one in placed}
    kept = tuple(one for one in region.sites if one.site_id not in replaced)
    return replace(region, sites=(*kept, *placed))
