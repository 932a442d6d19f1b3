"""What people measured and wrote down: soundings, the bay's depth raster, masts and wires, closures, sites, fires."""

from datetime import date, timedelta
from itertools import pairwise

import contourpy
import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
import shapes
import waters
from islands import Islands

BAY_CELL_M = 25.0
MAP_CELL_M = 5.0
NO_DEPTH = -9999.0


def soundings(world: Islands, rng: np.random.Generator) -> pd.DataFrame:
    """Give the sounding tracks as columns easting, northing [m, local], depth_m, unc95_m, surveyed, water_ref, survey.

    A boat goes up and down every sounded water in lines along its axis and across it, one sounding each 18 to 30 m. On
    some waters it tows a side scan that sees farther to each side than the next line is away.
    """
    tables = []
    for number, water in enumerate(w for w in world.waters if w.sounded):
        at = np.vstack([_track(line, rng) for line in _lines(water)])
        at = at[shapely.contains_xy(water.polygon, at[:, 0], at[:, 1])]
        true_m = waters.depth_m(water, at[:, 0], at[:, 1])
        sd_m = 0.10 + 0.005 * true_m
        measured = np.maximum(true_m + rng.normal(0.0, 1.0, len(at)) * sd_m, 0.05)
        day = date(2025, 11, 4) + timedelta(days=9 * number)
        tables.append(
            pd.DataFrame(
                {
                    "easting": at[:, 0],
                    "northing": at[:, 1],
                    "depth_m": np.round(measured, 2),
                    "unc95_m": np.round(1.96 * sd_m, 2),
                    "surveyed": day.isoformat(),
                    "water_ref": water.ref,
                    "survey": "side scan" if water.scanned else "boat lines",
                }
            )
        )
    return pd.concat(tables, ignore_index=True)


def _lines(water: waters.Water) -> list[np.ndarray]:
    """Give the boat's lines: five along the axis, and a zigzag across."""
    middle, unit, length = waters.axis_of(water.polygon)
    side = np.array([-unit[1], unit[0]])
    width = water.polygon.area / length
    lines = [
        middle + np.outer([-0.5 * length, 0.5 * length], unit) + offset * width * side
        for offset in (-0.36, -0.18, 0.0, 0.18, 0.36)
    ]
    turns = np.arange(int(length / (0.7 * width)) + 2)
    zigzag = np.outer(turns / turns[-1] * length - length / 2, unit) + np.outer(
        0.62 * width * (-1.0) ** turns, side
    )
    return [*lines, middle + zigzag]


def _track(line: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Give positions along a line, a boat's wander included."""
    way = shapely.LineString(line)
    at = np.cumsum(rng.uniform(18.0, 30.0, int(way.length / 18.0)))
    points = shapely.get_coordinates(shapely.line_interpolate_point(way, at[at < way.length]))
    wander = 5.0 * np.column_stack([np.sin(at / 90.0), np.cos(at / 120.0)])[: len(points)]
    return points + wander + rng.normal(0.0, 0.8, points.shape)


def bay_depths(world: Islands) -> tuple[np.ndarray, float, float]:
    """Give the depth raster of Cormorant Bay [m below chart datum], and its local west and north edge [m]."""
    bay = next(w for w in world.waters if w.name == "Cormorant Bay")
    west, south, east, north = bay.polygon.buffer(150.0).bounds
    west, north = np.floor(west / BAY_CELL_M) * BAY_CELL_M, np.ceil(north / BAY_CELL_M) * BAY_CELL_M
    shape = int((north - south) / BAY_CELL_M) + 1, int((east - west) / BAY_CELL_M) + 1
    easting, northing = np.meshgrid(
        west + (np.arange(shape[1]) + 0.5) * BAY_CELL_M, north - (np.arange(shape[0]) + 0.5) * BAY_CELL_M
    )
    off_m = shapely.distance(world.land, shapely.points(easting, northing))
    swell = (
        np.sin(easting / 410.0 + northing / 1_150.0)
        + 0.8 * np.sin(northing / 330.0 - easting / 720.0)
        + 0.5 * np.sin((easting + 0.6 * northing) / 170.0)
    )
    depth = 30.0 * (1.0 - np.exp(-off_m / 420.0)) * (1.0 + 0.06 * swell)
    depth = np.round(depth * 20.0) / 20.0
    return np.where(off_m > 0.0, depth, NO_DEPTH).astype(np.float32), float(west), float(north)


def contours(world: Islands) -> gpd.GeoDataFrame:
    """Give the lake map of Sickle Water: depth contours at 2, 4 and 6 m, in feet, as an old map has them."""
    water = next(w for w in world.waters if w.name == "Sickle Water")
    west, south, east, north = water.polygon.buffer(2.0 * MAP_CELL_M).bounds
    x, y = np.arange(west, east, MAP_CELL_M), np.arange(south, north, MAP_CELL_M)
    depth = waters.depth_m(water, *np.meshgrid(x, y))
    drawn = contourpy.contour_generator(x, y, depth)
    rows = [
        (number, round(level_m / 0.3048, 1), "2024-08-12", shapely.LineString(line).simplify(1.0))
        for number, (level_m, line) in enumerate(
            ((level_m, line) for level_m in (2.0, 4.0, 6.0) for line in drawn.lines(level_m)), start=1
        )
        if len(line) > 8
    ]
    names = ("line", "depth_ft", "mapped", "geometry")
    return gpd.GeoDataFrame([dict(zip(names, row, strict=True)) for row in rows], geometry="geometry")


def chart_areas(world: Islands) -> gpd.GeoDataFrame:
    """Give the sea chart of Gannet Sound: depth areas between 2, 5, 10, 20 and 50 m, from lead lines (zone 5, D)."""
    sound = next(w for w in world.waters if w.name == "Gannet Sound")
    inner = world.land.buffer(8.0).simplify(15.0)
    rows = []
    for low_m, high_m in pairwise((0.0, 2.0, 5.0, 10.0, 20.0, 50.0)):
        # The true bed deepens with the distance from the coast; the chart's limits follow it, roughly drawn.
        share = min(high_m / (1.15 * sound.bed.greatest_m), 0.999)
        outer = world.land.buffer(-sound.bed.scale_m * np.log1p(-share)).simplify(15.0)
        band = sound.polygon.buffer(200.0).simplify(15.0).intersection(outer.difference(inner))
        inner = outer
        parts = [
            part for part in shapely.get_parts(band) if part.geom_type == "Polygon" and part.area > 500.0
        ]
        if parts:
            rows.append((f"G{len(rows) + 1}", low_m, high_m, "5", "1931-06-01", shapely.MultiPolygon(parts)))
    names = ("area", "from_m", "to_m", "quality", "surveyed", "geometry")
    return gpd.GeoDataFrame([dict(zip(names, row, strict=True)) for row in rows], geometry="geometry")


def _of(world: Islands, ref: str) -> shapely.Polygon:
    return next(w for w in world.waters if w.ref == ref).polygon


def obstacles(world: Islands) -> gpd.GeoDataFrame:
    """Give masts (points) and wires (lines), heights in feet above ground; one height is not known."""
    pool, gorse = _of(world, "P01").centroid, _of(world, "D07").centroid
    wire = [
        (pool.x - 900, pool.y + 330),
        (pool.x - 60, pool.y + 5),
        (pool.x + 70, pool.y - 27),
        (pool.x + 700, pool.y - 420),
    ]
    second = [(x + 9.0, y + 22.0) for x, y in wire]
    rows = [
        ("OB1", "Pylon Pool line, north cable", "wire", 92.0, shapely.LineString(second)),
        ("OB2", "Pylon Pool line, south cable", "wire", 92.0, shapely.LineString(wire)),
        ("OB3", "Gorse pump mast", "mast", None, shapely.Point(gorse.x + 4, gorse.y + 3)),
        ("OB4", "Airstrip wind mast", "mast", 33.0, shapely.Point(6_060, 5_420)),
        ("OB5", "Cragfoot repeater", "mast", 115.0, shapely.Point(15_500, 9_850)),
        (
            "OB6",
            "Dunvarrow house poplars",
            "trees",
            72.0,
            shapely.LineString([(15_150, 12_980), (15_250, 12_930)]),
        ),
    ]
    names = ("mark", "what", "sort", "agl_ft", "geometry")
    return gpd.GeoDataFrame([dict(zip(names, row, strict=True)) for row in rows], geometry="geometry")


def closures(world: Islands) -> gpd.GeoDataFrame:
    """Give the areas where filling or flying is not allowed."""
    station, head = _of(world, "W11"), _of(world, "W10")
    colony = shapely.Polygon(
        [
            (7_350, 4_500),
            (7_600, 4_950),
            (8_450, 5_050),
            (9_250, 4_750),
            (9_300, 4_100),
            (8_750, 3_750),
            (8_450, 4_200),
            (7_900, 4_400),
        ]
    )
    rows = [
        (
            "CL1",
            "Halvenna drinking water",
            "take no water",
            "drinking water of the whole island",
            "2024-07-01",
            None,
            head.buffer(120.0).simplify(20.0),
        ),
        ("CL2", "Tern colony", "keep out of the air", "breeding terns", "2026-09-01", "2027-03-31", colony),
        (
            "CL3",
            "Tracking station",
            "keep out of the air",
            "radio beams of the tracking station",
            None,
            None,
            station.centroid.buffer(1_150.0, quad_segs=6),
        ),
    ]
    names = ("no", "title", "rule", "why", "from_day", "to_day", "geometry")
    return gpd.GeoDataFrame([dict(zip(names, row, strict=True)) for row in rows], geometry="geometry")


def sites(world: Islands) -> pd.DataFrame:
    """Give what crews wrote about filling places, with easting and northing [m, local]."""

    def row(no: str, name: str, ref: str, way: str, state: str, note: str, day: str) -> dict[str, object]:
        at = shapely.maximum_inscribed_circle(_of(world, ref)).coords[0]
        return {
            "no": no,
            "place": name,
            "way": way,
            "state": state,
            "note": note,
            "seen": day,
            "easting": at[0],
            "northing": at[1],
        }

    return pd.DataFrame(
        [
            row(
                "N1",
                "Mill Pond jetty",
                "P03",
                "hover pump",
                "shut",
                "sunken barge and loose sheeting under the surface",
                "2026-10-12",
            ),
            row(
                "N2",
                "Orramere broad",
                "W01",
                "ram intake",
                "open",
                "flown both ways, no floats or nets",
                "2026-10-05",
            ),
            row("N3", "Bracken dam", "D02", "hover pump", "open", "level at the spillway", "2026-10-07"),
        ]
    )


def fires(rng: np.random.Generator) -> gpd.GeoDataFrame:
    """Give two fires: one in the hills, one on the coastal plain."""
    shapes_of = [shapes.outline(rng, (5_300, 10_750), 520.0), shapes.outline(rng, (5_900, 6_750), 480.0)]
    return gpd.GeoDataFrame(
        {"fire": ["fellside", "saltgrass"], "called": ["Fellside fire", "Saltgrass fire"]}, geometry=shapes_of
    )


def fill_stations() -> gpd.GeoDataFrame:
    """Give where an aircraft fills on land: a mixing plant, a hydrant, a dip tank, and a tender that moves about."""
    names = (
        "no", "place", "sort", "holds", "flow_l_min", "couple_s", "store_l", "refill_l_min", "clear_m", "slope_pc",
        "deep_m", "consent", "keeper", "from_day", "to_day",
    )  # fmt: skip
    islands_fire, season = "Halvenna fire service", ("2026-11-01", "2027-03-31")
    rows = [
        ("FS1", "Airstrip mixing plant", "mixing plant", "retardant", 1_800.0, 60.0, 60_000.0, 400.0, 30.0, 1.0, None,
         "agreed", islands_fire, None, None, shapely.Point(6_120, 5_560)),
        ("FS2", "Ferry landing hydrant", "street hydrant", "fresh water", 900.0, 90.0, None, None, 20.0, 2.0, None,
         "agreed", "Halvenna water board", None, None, shapely.Point(3_250, 9_700)),
        ("FS3", "Saltgrass dip tank", "open tank", "fresh water", None, None, 45_000.0, 1_200.0, 25.0, None, 1.8,
         "agreed", islands_fire, None, None, shapely.Point(3_900, 8_600)),
        ("FS4", "Ford tender", "water tender", "fresh water", 1_000.0, 60.0, 12_000.0, None, 20.0, None, None,
         "agreed", islands_fire, *season, shapely.Point(6_600, 8_200)),
    ]  # fmt: skip
    return gpd.GeoDataFrame(
        [dict(zip((*names, "geometry"), row, strict=True)) for row in rows], geometry="geometry"
    )
