"""Builds soundings from the user's table: sign and unit as declared, each put to its body of water."""

from dataclasses import dataclass
from datetime import date

import numpy as np
import shapely

from geo.base.outliers import FACTOR, deep_outliers, shore_distances_m
from geo.base.units import METRE_PER_FATHOM, METRE_PER_FOOT
from geo.ingest.checks.report import FileReport
from geo.ingest.layers.layer_file import Desk, Layer, drop_unplaced, shape_in_plane
from geo.ingest.layers.survey_quality import SIGMA_OF_95, Uncertainty, declared_uncertainty
from geo.ingest.settings import SoundingsFile
from geo.records.region import RegionFrame, Soundings, WaterBody

UNIT_M = {"metre": 1.0, "foot": METRE_PER_FOOT, "fathom": METRE_PER_FATHOM}
FEW_WRONG_SIGNS = 0.05
DEEPEST_INLAND_M = 500.0
DEEPEST_SEA_M = 11_000.0
ABSURD_RATIO, ABSURD_STEP_M, ABSURD_SHARE = 3.0, 20.0, 0.02
SAME_PLACE_M = 0.1


@dataclass(eq=False)
class _Points:
    """Soundings on their way: parallel arrays over the rows of the layer; NaN depth where a row is set aside."""

    plane: np.ndarray
    depth_m: np.ndarray
    u95_m: np.ndarray
    body: np.ndarray
    days: list[date | None]


def read_soundings(
    desk: Desk, section: SoundingsFile, frame: RegionFrame, bodies: tuple[WaterBody, ...]
) -> Soundings | None:
    """Give the soundings of a region, None (with faults) when they cannot be used.

    Notes: a sounding in no body, of the wrong sign, absurdly deep (see `outliers` too) or in another body than it
    says is set aside. Of soundings at one place that disagree by more than their uncertainties the shallowest is kept.
    Without bodies (the water could not be read) the file is only looked through for its own faults.
    """
    report = desk.report.about(section.file)
    ready = _check_section(section, report)
    uncertainty = declared_uncertainty(section, report, "soundings")
    layer = read_points(desk, section)
    if layer is None or not ready:
        return None
    points = _as_points(layer, section, uncertainty, frame)
    if not _check_signs(layer, points):
        return None
    if not bodies:
        layer.count()
        return None
    _assign(layer, points, bodies)
    _drop_absurd(layer, points, bodies)
    _drop_doubled(layer, points)
    _drop_outliers(layer, points, bodies)
    layer.count()
    return _soundings(layer, points, bodies)


def _check_section(section: SoundingsFile, report: FileReport) -> bool:
    asked = [
        (
            "unit",
            section.unit,
            'declare unit = "metre", "foot" or "fathom"',
            "the unit of the depths is not declared",
        ),
        (
            "positive",
            section.positive,
            'declare positive = "down" or "up"',
            "the sign of the depths is not declared",
        ),
        (
            "columns.depth",
            section.columns.depth,
            "map depth in [soundings.columns]",
            "no column holds the depth",
        ),
    ]
    for field, value, cure, rule in asked:
        if value is None:
            report.add("ask", rule, f"{cure} in [soundings]", field=f"soundings.{field}")
    return all(value is not None for _, value, _, _ in asked)


def read_points(desk: Desk, section: SoundingsFile) -> Layer | None:
    """Give the points of the table or vector file with the columns that are mapped, None (with faults) without."""
    report = desk.report.about(section.file)
    mapped = section.columns.mapped()
    places = {
        name: mapped.pop(name) for name in ("longitude", "latitude", "easting", "northing") if name in mapped
    }
    if not section.file.lower().endswith((".csv", ".txt", ".tsv")):
        return desk.read_layer(section, mapped, "point")
    crs = section.crs
    if set(places) == {"longitude", "latitude"}:
        position = [places["longitude"], places["latitude"]]
        if crs is None:
            report.add("caution", "longitude and latitude were taken as WGS 84", 'declare crs = "EPSG:4326"')
    elif set(places) == {"easting", "northing"} and crs is not None:
        position = [places["easting"], places["northing"]]
    else:
        report.add(
            "ask",
            "the table's positions are not declared",
            "map longitude and latitude, or easting and northing with crs, in [soundings.columns]",
            field="soundings.columns",
        )
        return None
    numbers = [mapped[name] for name in ("depth", "uncertainty") if name in mapped]
    answer = desk.ask_worker(
        "read table",
        section.file,
        text_columns=sorted(set(mapped.values()) - set(numbers)),
        number_columns=numbers,
        position_columns=position,
        crs=crs,
        encoding=section.encoding,
    )
    return None if answer is None else desk.as_layer(section.file, answer, mapped)


def _as_points(
    layer: Layer, section: SoundingsFile, default: Uncertainty | None, frame: RegionFrame
) -> _Points:
    size = len(layer.shapes)
    points = _Points(
        shape_in_plane(layer.shapes, frame.crs_wkt), np.full(size, np.nan), np.full(size, np.nan),
        np.full(size, -1), [None] * size,
    )  # fmt: skip
    drop_unplaced(layer, points.plane)
    factor = UNIT_M[section.unit]
    sign = 1.0 if section.positive == "down" else -1.0
    unknown = []
    for index in layer.present():
        row = layer.row(index)
        depth = row.number_in("depth", -DEEPEST_SEA_M, DEEPEST_SEA_M, "the depth [m]", factor)
        if depth is None:
            layer.set_aside(index, "quarantine", "the sounding has no depth", "fill it in, or delete the row")
            continue
        stated = row.number_in("uncertainty", 1e-3, DEEPEST_INLAND_M, "the uncertainty [m]", factor)
        if stated is None and default is None:
            unknown.append(row.label)
        points.depth_m[index] = sign * depth
        points.u95_m[index] = (
            stated if stated is not None else default.at_95_m(depth) if default is not None else np.nan
        )
        points.days[index] = row.day("date")
    if unknown:
        layer.report.add(
            "ask",
            f"{len(unknown)} soundings carry no uncertainty, the first in {unknown[0]}",
            "map uncertainty, or declare survey_order, catzoc or uncertainty_a_m in [soundings]",
            field="soundings.survey_order",
        )
    return points


def _check_signs(layer: Layer, points: _Points) -> bool:
    present = layer.present()
    wrong = [index for index in present if points.depth_m[index] < 0]
    if len(wrong) > FEW_WRONG_SIGNS * len(present):
        layer.report.add(
            "ask",
            f"{len(wrong)} of {len(present)} soundings are above the water with the declared sign,"
            f" the first in {layer.row(wrong[0]).label}",
            'check positive = "down" or "up" in [soundings], and that the file does not mix both',
            field="soundings.positive",
            value=f"{points.depth_m[wrong[0]]:.2f} m",
        )
        return False
    for index in wrong:
        layer.set_aside(
            index, "quarantine", "the depth has the other sign than the rest", "mend the sign",
            value=f"{points.depth_m[index]:.2f} m",
        )  # fmt: skip
    return True


def _assign(layer: Layer, points: _Points, bodies: tuple[WaterBody, ...]) -> None:
    polygons = np.array([body.polygon for body in bodies], object)
    tree = shapely.STRtree(polygons)
    place, body = tree.query(points.plane, predicate="intersects")
    # Where bodies overlap the smaller one is meant: a pond drawn on a river.
    order = np.argsort(-shapely.area(polygons)[body], kind="stable")
    points.body[place[order]] = body[order]
    for index in layer.present():
        row, found = layer.row(index), points.body[index]
        if found < 0:
            nearest = tree.nearest(points.plane[index])
            distance = shapely.distance(points.plane[index], polygons[nearest])
            layer.set_aside(
                index, "quarantine", "the sounding lies in no water",
                f"check its position; the nearest shore is that of {bodies[nearest].body_id}, {distance:.1f} m away",
            )  # fmt: skip
            continue
        stated = row.text("body")
        here = bodies[found]
        if stated is not None and stated not in (here.body_id, here.name, here.body_id.rsplit("/", 1)[0]):
            layer.set_aside(
                index, "quarantine", f"the sounding lies in {here.body_id} but says another body",
                "mend its position or its body", value=stated,
            )  # fmt: skip


def too_deep(depths_m: np.ndarray) -> float:
    """Give the depth above which soundings of one body stand absurdly far below the rest, infinite when none do."""
    ordered = np.sort(depths_m)
    upper, lower = ordered[1:], ordered[:-1]
    jumps = np.flatnonzero((upper > ABSURD_RATIO * np.maximum(lower, 0)) & (upper - lower > ABSURD_STEP_M))
    few = max(1, int(ABSURD_SHARE * len(ordered)))
    for jump in jumps:
        if len(ordered) - 1 - jump <= few and jump + 1 >= 3:
            return float(lower[jump])
    return np.inf


def _drop_absurd(layer: Layer, points: _Points, bodies: tuple[WaterBody, ...]) -> None:
    present = np.array(layer.present(), int)
    for number in np.unique(points.body[present]) if len(present) else ():
        mine = present[points.body[present] == number]
        sea = bodies[number].kind in ("sea", "estuary")
        ceiling = DEEPEST_SEA_M if sea else DEEPEST_INLAND_M
        limit = min(ceiling, too_deep(points.depth_m[mine]))
        for index in mine[points.depth_m[mine] > limit]:
            rule = f"the depth stands far below the other soundings of {bodies[number].body_id}"
            if points.depth_m[index] > ceiling:
                rule = f"the depth is over {ceiling:.0f} m"
            layer.set_aside(
                int(index),
                "quarantine",
                rule,
                "check the unit and the number",
                value=f"{points.depth_m[index]:.2f} m",
            )


def _drop_outliers(layer: Layer, points: _Points, bodies: tuple[WaterBody, ...]) -> None:
    """Set aside soundings far deeper than those round them; shallow ones stay, because a shoal looks like that."""
    present = np.array(layer.present(), int)
    for number in np.unique(points.body[present]) if len(present) else ():
        mine = present[points.body[present] == number]
        x, y = shapely.get_coordinates(points.plane[mine]).T
        shore_m = shore_distances_m(bodies[number].polygon, x, y)
        for index in mine[deep_outliers(x, y, points.depth_m[mine], shore_m)]:
            layer.set_aside(
                int(index), "quarantine",
                f"the depth is more than {FACTOR:g} times what the soundings round it in {bodies[number].body_id} show",
                "check the number; if the hole is real, add soundings beside it",
                value=f"{points.depth_m[index]:.2f} m",
            )  # fmt: skip


def _drop_doubled(layer: Layer, points: _Points) -> None:
    places: dict[tuple[int, int], int] = {}
    for index in layer.present():
        where = shapely.get_coordinates(points.plane[index])[0]
        key = (round(where[0] / SAME_PLACE_M), round(where[1] / SAME_PLACE_M))
        first = places.setdefault(key, index)
        if first == index:
            continue
        difference = abs(points.depth_m[index] - points.depth_m[first])
        if difference <= np.hypot(points.u95_m[index], points.u95_m[first]):
            continue
        deeper, kept = (index, first) if points.depth_m[index] > points.depth_m[first] else (first, index)
        places[key] = kept
        layer.set_aside(
            deeper, "quarantine",
            f"two depths at one place differ by {difference:.2f} m, more than their errors; the shallower was kept",
            f"find out which is right; the other is in {layer.row(kept).label}",
            value=f"{points.depth_m[deeper]:.2f} m",
        )  # fmt: skip


def _soundings(layer: Layer, points: _Points, bodies: tuple[WaterBody, ...]) -> Soundings | None:
    kept = np.array(layer.present(), int)
    if len(kept) == 0:
        layer.report.add(
            "ask", "not one of the soundings lies in the water", "check the coordinate system and the columns"
        )
        return None
    where = shapely.get_coordinates(points.plane[kept])
    word = "line" if layer.report.layer is None else "row"
    return Soundings(
        easting_m=where[:, 0],
        northing_m=where[:, 1],
        depth_m=points.depth_m[kept],
        sd_m=points.u95_m[kept] / SIGMA_OF_95,
        body_id=np.array([bodies[number].body_id for number in points.body[kept]], object),
        origin=tuple(f"{layer.file} {word} {int(layer.rows[index])}" for index in kept),
        measured_on=tuple(points.days[index] for index in kept),
    )
