"""Builds water bodies from the user's water layer."""

import hashlib

import numpy as np
import shapely

from geo.base.units import METRE_PER_FOOT
from geo.ingest.layers.fields import Row
from geo.ingest.layers.layer_file import Layer
from geo.ingest.layers.salinity import practical_salinity
from geo.ingest.settings import Water
from geo.records.region import RegionFrame, SalinityEvidence, StatedDepth, WaterBody

KINDS = ("lake", "reservoir", "dam", "pond", "river", "estuary", "sea")
CLASSES = ("fresh", "brackish", "salt")
PERMISSIONS = ("granted", "not needed", "refused")
HEIGHT_COLUMNS = (
    "surface_elevation", "current_level", "depth_level", "tide_height", "stated_depth", "stated_depth_sd",
)  # fmt: skip
UNIT_FACTOR = {"metre": 1.0, "foot": METRE_PER_FOOT, None: 1.0}
ID_ROUNDING_DECIMALS = 7
LOWEST_ELEVATION_M, HIGHEST_ELEVATION_M = -500.0, 9000.0
DEEPEST_M = 11_000.0
FARTHEST_MOUTH_M = 1e7
# The largest tides of the world span some 16 m (common knowledge, no source); water below chart datum is rare, but is.
LOWEST_TIDE_M, HIGHEST_TIDE_M = -5.0, 20.0
TIDAL = ("sea", "estuary", "river", "unknown")
# Two statements of today's level that differ by more than this are two levels (our choice, no source).
SAME_LEVEL_M = 0.05
MOST_ROWS_NAMED = 10


def check_water_units(section: Water, report) -> None:
    """Ask for the units that the mapped columns need."""
    mapped = section.columns.mapped()
    heights = [mapped[name] for name in HEIGHT_COLUMNS if name in mapped]
    if heights and section.vertical_unit is None:
        report.add(
            "ask",
            f"the columns {', '.join(heights)} are heights or depths and their unit is not declared",
            'declare vertical_unit = "metre" or "foot" in [water]',
            field="water.vertical_unit",
        )
    if "conductivity" in mapped and section.conductivity_unit is None:
        report.add(
            "ask",
            "the unit of the conductivity is not declared",
            'declare conductivity_unit = "mS/cm" or "uS/cm" in [water]',
            field="water.conductivity_unit",
        )


def shape_id(shape_deg: shapely.Geometry, letter: str) -> str:
    """Give an identifier made from a shape in degrees alone: the same on each run and in any order of rows.

    Notes: SHA-256 over the normalised WKB with coordinates rounded to 1e-7 degrees (1 cm), first ten digits.
    """

    def rounded(degrees: np.ndarray) -> np.ndarray:
        east = np.mod(degrees[:, 0] + 180.0, 360.0) - 180.0
        return np.round(np.column_stack([east, degrees[:, 1]]), ID_ROUNDING_DECIMALS) + 0.0

    plain = shapely.normalize(shapely.transform(shape_deg, rounded))
    return f"{letter}-{hashlib.sha256(shapely.to_wkb(plain, byte_order=1)).hexdigest()[:10]}"


def row_ids(layer: Layer, letter: str) -> dict[int, str]:
    """Give an id per present row: the user's where there is one, else one made from the shape.

    Notes: an id of the user's that stands in several rows is refused, once, with all of them named. The second of
    two equal shapes without id is set aside. A row without id where a column of ids is mapped is told.
    """
    ids: dict[int, str] = {}
    owners: dict[str, list[int]] = {}
    for index in layer.present():
        row = layer.row(index)
        name = row.text("id")
        ids[index] = name if name is not None else shape_id(layer.shapes[index], letter)
        rows = owners.setdefault(ids[index], [])
        if name is None and rows:
            pair = f"rows {int(layer.rows[rows[0]])} and {int(layer.rows[index])}"
            del ids[index]
            layer.set_aside(index, "quarantine", f"the same shape stands in {pair}", "delete one of them")
            continue
        rows.append(index)
        if name is None and "id" in layer.columns:
            row.complain(
                "id",
                "the row has no id; one was made from its shape",
                f"give it an id; it was given {ids[index]}",
            )
    for name, rows in owners.items():
        if len(rows) > 1:
            _refuse_rows(layer, name, [int(layer.rows[index]) for index in rows])
    return ids


def _refuse_rows(layer: Layer, name: str, rows: list[int]) -> None:
    listed = ", ".join(str(row) for row in rows[: min(len(rows) - 1, MOST_ROWS_NAMED)])
    last = f"{rows[-1]}" if len(rows) - 1 <= MOST_ROWS_NAMED else f"{len(rows) - MOST_ROWS_NAMED} more"
    rule = f"the id stands {'twice' if len(rows) == 2 else f'{len(rows)} times'}, in rows {listed} and {last}"
    layer.report.add("refuse", rule, "give each row its own id", value=name)


def parts_in_order(shape: shapely.Geometry) -> list[shapely.Polygon]:
    """Give the polygons of a shape, the largest first, then by place."""
    parts = [shapely.normalize(one) for one in shapely.get_parts(shape)]
    return sorted(parts, key=lambda one: (-round(one.area, 3), *np.round(one.bounds, 3)))


def water_bodies(
    layer: Layer, plane: np.ndarray, section: Water, frame: RegionFrame
) -> tuple[WaterBody, ...]:
    """Give the water bodies of a layer, sorted by id; each part of a row is a body of its own ("id/1", "id/2")."""
    bodies: list[WaterBody] = []
    row_names: list[str] = []
    for index, name in row_ids(layer, "w").items():
        if plane[index] is None:
            continue
        parts = parts_in_order(plane[index])
        row = layer.row(index)
        evidence = _evidence(row, section)
        label = row.text("name") or name
        for number, part in enumerate(parts, start=1):
            alone = len(parts) == 1
            bodies.append(
                WaterBody(
                    body_id=name if alone else f"{name}/{number}",
                    name=label if alone else f"{label} (part {number} of {len(parts)})",
                    polygon=part,
                    origin=f"{layer.file} {row.label.split(' (')[0]}",
                    # A volume is of the whole row: it says nothing of one part.
                    **{**evidence, "volume_m3": evidence["volume_m3"] if alone else None},
                )
            )
            row_names.append(name)
    _refuse_doubled(bodies, row_names, layer)
    return tuple(sorted(bodies, key=lambda body: body.body_id))


def _refuse_doubled(bodies: list[WaterBody], row_names: list[str], layer: Layer) -> None:
    """Refuse a part ("id/1") that bears another row's id; rows that bear one id have been refused as such."""
    owners: dict[str, tuple[WaterBody, str]] = {}
    for body, name in zip(bodies, row_names, strict=True):
        first, first_name = owners.setdefault(body.body_id, (body, name))
        if first_name != name:
            layer.report.add(
                "refuse",
                f"the id of a part is also the id of another body, in {first.origin} and {body.origin}",
                "give each row its own id",
                value=body.body_id,
            )


def _evidence(row: Row, section: Water) -> dict:
    factor = UNIT_FACTOR[section.vertical_unit]
    span = (LOWEST_ELEVATION_M, HIGHEST_ELEVATION_M)
    surface = row.number_in("surface_elevation", *span, "the elevation", factor)
    current = row.number_in("current_level", *span, "the level", factor)
    datum = row.number_in("depth_level", *span, "the level", factor)
    volume = row.number_in("volume_m3", 0.0, 1e14, "the volume")
    kind = row.word("kind", section.kinds, KINDS, "water.kinds") or "unknown"
    gauge = current - datum if current is not None and datum is not None else None
    change, level_origin = _level_today(row, gauge, _tide(row, kind, factor))
    return {
        "kind": kind,
        "surface_elevation_m": current if current is not None else surface,
        "level_change_m": change,
        "depth_level_m": datum,
        "level_origin": level_origin,
        "stated_depth": _stated_depth(row, factor),
        "salinity": _salinity(row, section),
        "volume_m3": volume,
        "permission": row.word("permission", section.permissions, PERMISSIONS, "water.permissions"),
        "owner": row.text("owner"),
        "note": row.text("note"),
    }


def _tide(row: Row, kind: str, factor: float) -> float | None:
    """Give the height of today's tide above chart datum, to which charted depths refer [m]."""
    tide = row.number_in("tide_height", LOWEST_TIDE_M, HIGHEST_TIDE_M, "the height of the tide [m]", factor)
    if tide is None or kind in TIDAL:
        return tide
    row.complain(
        "tide_height", f"a {kind} has no tide; the height is not used", "leave it out, or mend the kind"
    )
    return None


def _level_today(row: Row, gauge_m: float | None, tide_m: float | None) -> tuple[float | None, str | None]:
    """Give today's level minus that of the depths [m], from gauge or tide, the lower of both, with its origin."""
    file = row.report.file
    by_gauge = f"{file}, columns {row.columns.get('current_level')} and {row.columns.get('depth_level')}"
    by_tide = f"{file}, column {row.columns.get('tide_height')}: tide above chart datum"
    if tide_m is None:
        return gauge_m, by_gauge if gauge_m is not None else None
    if gauge_m is None:
        return tide_m, by_tide
    if abs(tide_m - gauge_m) > SAME_LEVEL_M:
        row.complain(
            "tide_height",
            f"the tide is {tide_m:.2f} m above chart datum, the two levels say {gauge_m:.2f} m; the lower counts",
            "mend the one that is wrong, or leave one out",
        )
    return (tide_m, by_tide) if tide_m < gauge_m else (gauge_m, by_gauge)


def _stated_depth(row: Row, factor: float) -> StatedDepth | None:
    depth = row.number_in("stated_depth", 0.0, DEEPEST_M, "the depth [m, positive down]", factor)
    if depth is None:
        return None
    sd = row.number_in("stated_depth_sd", 1e-3, DEEPEST_M, "the standard deviation of the depth [m]", factor)
    origin = f"{row.report.file}, column {row.columns['stated_depth']}"
    return StatedDepth(depth, sd, origin, row.day("stated_depth_date"))


def _salinity(row: Row, section: Water) -> SalinityEvidence | None:
    stated = row.word("salinity_class", section.salinity_classes, CLASSES, "water.salinity_classes")
    measured = practical_salinity(row, section.conductivity_unit)
    mouth_m = row.number_in("mouth_distance_m", 0.0, FARTHEST_MOUTH_M, "the distance from the mouth [m]")
    if stated is None and measured is None and mouth_m is None:
        return None
    cells = (("salinity_class", stated), ("conductivity", measured), ("mouth_distance_m", mouth_m))
    names = [row.columns[name] for name, value in cells if value is not None]
    origin = f"{row.report.file}, column {' and '.join(names)}"
    return SalinityEvidence(stated, measured, origin, row.day("salinity_date"), mouth_m)
