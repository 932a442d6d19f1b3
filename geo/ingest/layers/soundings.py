"""Builds soundings from the user's table: sign and unit as declared, each put to its body of water."""

from collections.abc import Iterator
from functools import partial
from typing import Any

import numpy as np
import shapely

from geo.base.outliers import FACTOR, deep_outliers, shore_distances_m
from geo.ingest.checks.report import FileReport
from geo.ingest.layers.depth_rows import DepthTable, WaterIndex, deepest_believed_m, read_depth_table
from geo.ingest.layers.reader import FileReader
from geo.ingest.layers.survey_quality import SIGMA_OF_95
from geo.ingest.layers.table import LayerTable
from geo.ingest.settings import SoundingsFile
from geo.records.region import RegionFrame, Soundings, WaterBody

SAME_PLACE_M = 0.1
PLACES: tuple[str, ...] = ("longitude", "latitude", "easting", "northing")
TABLE_ENDINGS = (".csv", ".txt", ".tsv")


def read_soundings(
    reader: FileReader, section: SoundingsFile, frame: RegionFrame, bodies: tuple[WaterBody, ...]
) -> Soundings | None:
    """Give the soundings of a region, None (with faults) when they cannot be used.

    Notes: a sounding in no body, of the wrong sign, absurdly deep (see `outliers` too) or in another body than it
    says is left out. Of soundings at one place that disagree by more than their uncertainties the shallowest is kept.
    Without bodies (the water could not be read) the file is only looked through for its own faults.
    """
    read_table = partial(read_sounding_table, reader, section)
    depths = read_depth_table(reader, section, frame.crs_wkt, read_table, "sounding", least_slips=0)
    if depths is None:
        return None
    if not bodies:
        depths.table.count()
        return None
    body = _bodies_of(depths, WaterIndex(bodies))
    _leave_out_absurd(depths, body, bodies)
    _leave_out_doubled(depths)
    _leave_out_outliers(depths, body, bodies)
    depths.table.count()
    return _soundings(depths, body, bodies)


def read_sounding_table(reader: FileReader, section: SoundingsFile) -> LayerTable | None:
    """Give the points of the table or vector file with the columns that are mapped, None (with faults) without."""
    names: dict[Any, str] = dict(section.columns)
    places = {name: names.pop(name) for name in PLACES if name in names}
    if not section.file.lower().endswith(TABLE_ENDINGS):
        return reader.read_layer(section, names, "point")
    position = _position_columns(section, places, reader.report.about(section.file))
    if position is None:
        return None
    numbers = [names[name] for name in ("depth", "uncertainty") if name in names]
    how: dict[str, Any] = {"crs": section.crs, "encoding": section.encoding, "position_columns": position}
    how |= {"number_columns": numbers, "text_columns": sorted(set(names.values()) - set(numbers))}
    answer = reader.ask_worker("read table", section.file, **how)
    return None if answer is None else reader.as_table(section.file, answer, names)


def _position_columns(section: SoundingsFile, places: dict[str, str], report: FileReport) -> list[str] | None:
    """Give the user's two columns of positions, east first; None (with a fault) where they are not declared."""
    if set(places) == {"longitude", "latitude"}:
        if section.crs is None:
            report.add("caution", "longitude and latitude were taken as WGS 84", 'declare crs = "EPSG:4326"')
        return [places["longitude"], places["latitude"]]
    if set(places) == {"easting", "northing"} and section.crs is not None:
        return [places["easting"], places["northing"]]
    fix = "map longitude and latitude, or easting and northing with crs, in [soundings.columns]"
    report.add("ask", "the table's positions are not declared", fix, field="soundings.columns")
    return None


def _bodies_of(depths: DepthTable, waters: WaterIndex) -> np.ndarray:
    """Give the place of the body of each row (n,); a sounding in no water, or in another than it says, is left out."""
    found = waters.smallest_with(depths.table.plane)
    for row in depths.table.rows():
        if found[row.index] < 0:
            waters.leave_out(row, "the sounding lies in no water")
            continue
        stated, here = row.text("body"), waters.bodies[found[row.index]]
        if stated is not None and stated not in (here.body_id, here.name, here.body_id.rsplit("/", 1)[0]):
            rule = f"the sounding lies in {here.body_id} but says another body"
            row.leave_out(rule, "mend its position or its body", value=stated)
    return found


def _by_body(depths: DepthTable, body: np.ndarray) -> Iterator[tuple[int, np.ndarray]]:
    """Give each body that has soundings, by its place, with theirs."""
    present = depths.present()
    for number in np.unique(body[present]):
        yield int(number), present[body[present] == number]


def _leave_out_absurd(depths: DepthTable, body: np.ndarray, bodies: tuple[WaterBody, ...]) -> None:
    for number, mine in _by_body(depths, body):
        limit_m, ceiling_m = deepest_believed_m(depths.depth_m[mine], bodies[number])
        for index in mine[depths.depth_m[mine] > limit_m]:
            rule = f"the depth stands far below the other soundings of {bodies[number].body_id}"
            if depths.depth_m[index] > ceiling_m:
                rule = f"the depth is over {ceiling_m:.0f} m"
            depths.leave_out(index, rule, "check the unit and the number")


def _leave_out_outliers(depths: DepthTable, body: np.ndarray, bodies: tuple[WaterBody, ...]) -> None:
    """Leave out soundings far deeper than those round them; shallow ones stay, because a shoal looks like that."""
    for number, mine in _by_body(depths, body):
        x, y = shapely.get_coordinates(depths.table.plane[mine]).T
        shore_m = shore_distances_m(bodies[number].polygon, x, y)
        for index in mine[deep_outliers(x, y, depths.depth_m[mine], shore_m)]:
            what = f"what the soundings round it in {bodies[number].body_id} show"
            fix = "check the number; if the hole is real, add soundings beside it"
            depths.leave_out(index, f"the depth is more than {FACTOR:g} times {what}", fix)


def _leave_out_doubled(depths: DepthTable) -> None:
    places: dict[tuple[int, int], int] = {}
    for index in depths.table.present():
        where = shapely.get_coordinates(depths.table.plane[index])[0]
        key = (round(where[0] / SAME_PLACE_M), round(where[1] / SAME_PLACE_M))
        first = places.setdefault(key, index)
        difference_m = abs(depths.depth_m[index] - depths.depth_m[first])
        if first == index or difference_m <= np.hypot(depths.error_95_m[index], depths.error_95_m[first]):
            continue
        deeper, kept = (index, first) if depths.depth_m[index] > depths.depth_m[first] else (first, index)
        places[key] = kept
        depths.leave_out(
            deeper,
            f"two depths at one place differ by {difference_m:.2f} m, more than their errors; the shallower was kept",
            f"find out which is right; the other is in {depths.table.row(kept).label}",
        )


def _soundings(depths: DepthTable, body: np.ndarray, bodies: tuple[WaterBody, ...]) -> Soundings | None:
    kept = depths.present()
    if len(kept) == 0:
        fix = "check the coordinate system and the columns"
        depths.table.report.add("ask", "not one of the soundings lies in the water", fix)
        return None
    where = shapely.get_coordinates(depths.table.plane[kept])
    return Soundings(
        easting_m=where[:, 0],
        northing_m=where[:, 1],
        depth_m=depths.depth_m[kept],
        sd_m=depths.error_95_m[kept] / SIGMA_OF_95,
        body_id=np.array([bodies[number].body_id for number in body[kept]], object),
        origin=tuple(depths.table.row(index).origin for index in kept),
        measured_on=tuple(depths.days[index] for index in kept),
        searches=depths.searches,
        survey=depths.survey[kept],
    )
