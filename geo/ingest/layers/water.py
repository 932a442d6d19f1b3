"""Builds water bodies from the user's water layer."""

from dataclasses import replace
from typing import get_args

import numpy as np
import shapely

from geo.ingest.checks.report import FileReport
from geo.ingest.layers.records import rows_with_ids
from geo.ingest.layers.salinity import practical_salinity
from geo.ingest.layers.table import LayerTable, Row
from geo.ingest.settings import UNIT_M, Kind, Water
from geo.records.region import Permission, SalinityClass, SalinityEvidence, StatedDepth, WaterBody

KINDS: tuple[Kind, ...] = get_args(Kind)
CLASSES: tuple[SalinityClass, ...] = get_args(SalinityClass)
PERMISSIONS: tuple[Permission, ...] = get_args(Permission)
HEIGHT_COLUMNS = (
    "surface_elevation", "current_level", "depth_level", "tide_height", "stated_depth", "stated_depth_sd",
)  # fmt: skip
LOWEST_ELEVATION_M, HIGHEST_ELEVATION_M = -500.0, 9000.0
DEEPEST_M = 11_000.0
FARTHEST_MOUTH_M = 1e7
# The largest tides of the world span some 16 m (common knowledge, no source); water below chart datum is rare, but is.
LOWEST_TIDE_M, HIGHEST_TIDE_M = -5.0, 20.0
TIDAL = ("sea", "estuary", "river", "unknown")
# Two statements of today's level that differ by more than this are two levels (our choice, no source).
SAME_LEVEL_M = 0.05


def check_water_units(section: Water, report: FileReport) -> None:
    """Ask for the units that the mapped columns need."""
    heights = [theirs for ours, theirs in section.columns.items() if ours in HEIGHT_COLUMNS]
    if heights and section.vertical_unit is None:
        what = f"the columns {', '.join(heights)} are heights or depths and their unit"
        report.ask_for("water", "vertical_unit", what, 'declare vertical_unit = "metre" or "foot"')
    if "conductivity" in section.columns and section.conductivity_unit is None:
        fix = 'declare conductivity_unit = "mS/cm" or "uS/cm"'
        report.ask_for("water", "conductivity_unit", "the unit of the conductivity", fix)


def parts_in_order(shape: shapely.Geometry) -> list[shapely.Polygon]:
    """Give the polygons of a shape, the largest first, then by place."""
    parts = [shapely.normalize(one) for one in shapely.get_parts(shape)]
    return sorted(parts, key=lambda one: (-round(one.area, 3), *np.round(one.bounds, 3)))


def water_bodies(table: LayerTable, section: Water) -> tuple[WaterBody, ...]:
    """Give the water bodies of a layer, sorted by id; each part of a row is a body of its own ("id/1", "id/2")."""
    found: list[tuple[WaterBody, str]] = []
    for row, row_id in rows_with_ids(table, "w"):
        parts = parts_in_order(row.shape)
        whole = _body(row, row_id, parts[0], section)
        if len(parts) == 1:
            found.append((whole, row_id))
            continue
        for number, part in enumerate(parts, start=1):
            label = f"{whole.name} (part {number} of {len(parts)})"
            # A volume is of the whole row: it says nothing of one part.
            body = replace(whole, body_id=f"{row_id}/{number}", name=label, polygon=part, volume_m3=None)
            found.append((body, row_id))
    _refuse_doubled(found, table.report)
    return tuple(sorted((body for body, _ in found), key=lambda body: body.body_id))


def _refuse_doubled(found: list[tuple[WaterBody, str]], report: FileReport) -> None:
    """Refuse a part ("id/1") that bears another row's id; rows that bear one id have been refused as such."""
    owners: dict[str, tuple[WaterBody, str]] = {}
    for body, row_id in found:
        first, first_id = owners.setdefault(body.body_id, (body, row_id))
        if first_id != row_id:
            rule = f"the id of a part is also the id of another body, in {first.origin} and {body.origin}"
            report.add("refuse", rule, "give each row its own id", value=body.body_id)


def _body(row: Row, body_id: str, polygon: shapely.Polygon, section: Water) -> WaterBody:
    """Give the water body of a whole row, with what its cells say of it."""
    factor = UNIT_M[section.vertical_unit or "metre"]
    span = (LOWEST_ELEVATION_M, HIGHEST_ELEVATION_M)
    surface = row.number_in("surface_elevation", *span, "the elevation", factor)
    current = row.number_in("current_level", *span, "the level", factor)
    datum = row.number_in("depth_level", *span, "the level", factor)
    volume = row.number_in("volume_m3", 0.0, 1e14, "the volume")
    kind = row.word("kind", section.kinds, KINDS, "water.kinds") or "unknown"
    gauge = current - datum if current is not None and datum is not None else None
    change, level_origin = _level_today(row, gauge, _tide(row, kind, factor))
    return WaterBody(
        body_id=body_id,
        name=row.text("name") or body_id,
        kind=kind,
        polygon=polygon,
        origin=row.origin,
        surface_elevation_m=current if current is not None else surface,
        level_change_m=change,
        level_origin=level_origin,
        stated_depth=_stated_depth(row, factor),
        salinity=_salinity(row, section),
        volume_m3=volume,
        current_ms=row.number_in("current_ms", 0.0, 10.0, "the current [m/s]"),
        permission=row.word("permission", section.permissions, PERMISSIONS, "water.permissions"),
        owner=row.text("owner"),
        note=row.text("note"),
        depth_level_m=datum,
    )


def _tide(row: Row, kind: str, factor: float) -> float | None:
    """Give the height of today's tide above chart datum, to which charted depths refer [m]."""
    tide = row.number_in("tide_height", LOWEST_TIDE_M, HIGHEST_TIDE_M, "the height of the tide [m]", factor)
    if tide is None or kind in TIDAL:
        return tide
    rule = f"a {kind} has no tide; the height is not used"
    row.complain("tide_height", rule, "leave it out, or mend the kind")
    return None


def _level_today(row: Row, gauge_m: float | None, tide_m: float | None) -> tuple[float | None, str | None]:
    """Give today's level minus that of the depths [m], from gauge or tide, the lower of both, with its origin."""
    file, names = row.table.file, row.table.names
    by_gauge = f"{file}, columns {names.get('current_level')} and {names.get('depth_level')}"
    by_tide = f"{file}, column {names.get('tide_height')}: tide above chart datum"
    if tide_m is None:
        return gauge_m, by_gauge if gauge_m is not None else None
    if gauge_m is None:
        return tide_m, by_tide
    if abs(tide_m - gauge_m) > SAME_LEVEL_M:
        rule = f"the tide is {tide_m:.2f} m above chart datum, the two levels say {gauge_m:.2f} m; the lower counts"
        row.complain("tide_height", rule, "mend the one that is wrong, or leave one out")
    return (tide_m, by_tide) if tide_m < gauge_m else (gauge_m, by_gauge)


def _stated_depth(row: Row, factor: float) -> StatedDepth | None:
    depth = row.number_in("stated_depth", 0.0, DEEPEST_M, "the depth [m, positive down]", factor)
    if depth is None:
        return None
    sd = row.number_in("stated_depth_sd", 1e-3, DEEPEST_M, "the standard deviation of the depth [m]", factor)
    origin = f"{row.table.file}, column {row.table.names['stated_depth']}"
    return StatedDepth(depth, sd, origin, row.day("stated_depth_date"))


def _salinity(row: Row, section: Water) -> SalinityEvidence | None:
    stated = row.word("salinity_class", section.salinity_classes, CLASSES, "water.salinity_classes")
    measured = practical_salinity(row, section.conductivity_unit)
    mouth_m = row.number_in("mouth_distance_m", 0.0, FARTHEST_MOUTH_M, "the distance from the mouth [m]")
    if stated is None and measured is None and mouth_m is None:
        return None
    cells = (("salinity_class", stated), ("conductivity", measured), ("mouth_distance_m", mouth_m))
    names = [row.table.names[name] for name, value in cells if value is not None]
    origin = f"{row.table.file}, column {' and '.join(names)}"
    return SalinityEvidence(stated, measured, origin, row.day("salinity_date"), mouth_m)
