"""A region on both sides of the antimeridian from its files to its ranking, held against the same region elsewhere.

Reference: the same shapes moved along their circle of latitude. The ellipsoid is one of revolution, so every distance,
bearing, time and rank must stay. Outlines are written as RFC 7946 section 3.1.9 says (cut at the antimeridian), uncut
with longitudes that jump from 179.9 to -179.9, and uncut with longitudes beyond 180: all three occur in real files.
"""

import json

import numpy as np
import pytest
import rasterio
from affine import Affine

from geo import pipeline
from geo.base.geodesy import local_crs
from geo.ingest.files.raster_file import read_raster
from geo.ingest.layers.aircraft import load_profile
from geo.records.document import document
from services.core import quantities

SOUTH = -47.0
# West, south, east, north against the middle [deg]: a lake on either side, one across, one across in closed air.
LAKES = {
    "W": (-0.060, -0.010, -0.046, -0.006),
    "E": (0.044, 0.004, 0.060, 0.008),
    "X": (-0.009, -0.026, 0.007, -0.022),
    "S": (-0.006, -0.040, 0.008, -0.037),
}
AROUND_S, BEFORE_X = (-0.012, -0.042, 0.010, -0.034), (-0.012, -0.018, 0.010, -0.010)
FIRE = (-0.004, 0.000, 0.003, 0.003)
WEATHER = quantities.weather("300/18kt", "34C", "1009", "0m", None)


def ring(west, south, east, north):
    return [[west, south], [east, south], [east, north], [west, north], [west, south]]


def polygon(box, middle, form):
    """A box about a middle longitude as a GeoJSON geometry, in one of the three forms where it lies across."""
    west, south, east, north = box[0] + middle, box[1] + SOUTH, box[2] + middle, box[3] + SOUTH
    turn = 360.0 if middle == 180.0 else 0.0
    if form == "cut" and west < middle < east:  # elsewhere too, so that both have the same corners
        halves = [ring(west, south, middle, north)], [ring(middle - turn, south, east - turn, north)]
        return {"type": "MultiPolygon", "coordinates": list(halves)}
    if form == "beyond" or east <= middle:
        return {"type": "Polygon", "coordinates": [ring(west, south, east, north)]}
    first = west - turn if west >= middle else west
    return {"type": "Polygon", "coordinates": [ring(first, south, east - turn, north)]}


def layer(path, rows, middle, form):
    features = [
        {"type": "Feature", "properties": properties, "geometry": polygon(box, middle, form)}
        for properties, box in rows
    ]
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features}))


def write_region(folder, middle, form, closed=AROUND_S):
    """The region's folder about a middle longitude [deg]."""
    folder.mkdir()
    lakes = [
        (
            {
                "id": name,
                "kind": "lake",
                "datum_m": 100.0,
                "now_m": 100.0,
                "deep_m": 6.0,
                "salt": "fresh",
                "seen": "2026-01-10",
            },
            box,
        )
        for name, box in LAKES.items()
    ]
    layer(folder / "lakes.geojson", lakes, middle, form)
    layer(folder / "closed.geojson", [({"id": "C", "sort": "no flying"}, closed)], middle, form)
    layer(folder / "fires.geojson", [({"id": "F1"}, FIRE)], middle, form)
    east, north = np.meshgrid((np.arange(400) + 0.5) * 0.0004, (np.arange(240) + 0.5) * 0.0004)
    # So gentle that every leg stands as flown first: the planes on both sides are not the same to a millimetre, and a
    # route that is sought may then differ by 0.1 % of its time (see tests/flight/test_terrain_legs.py).
    heights = (102.0 + 4.0 * east / 0.16 + 2.0 * north / 0.096).astype(np.float32)
    with rasterio.open(
        folder / "terrain.tif", "w", driver="GTiff", width=400, height=240, count=1, dtype="float32",
        crs="EPSG:4326", transform=Affine(0.0004, 0.0, middle - 0.08, 0.0, -0.0004, SOUTH + 0.048), nodata=-9999,
    ) as raster:  # fmt: skip
        raster.write(heights, 1)
    (folder / "region.toml").write_text(
        """name = "both sides (invented)"
vertical_datum = "made datum"
[water]
file = "lakes.geojson"
vertical_unit = "metre"
[water.columns]
id = "id"
kind = "kind"
depth_level = "datum_m"
current_level = "now_m"
stated_depth = "deep_m"
salinity_class = "salt"
salinity_date = "seen"
[terrain]
file = "terrain.tif"
vertical_unit = "metre"
vertical_datum = "made datum"
error_m = 0.5
[closures]
file = "closed.geojson"
[closures.columns]
id = "id"
kind = "sort"
[fires]
file = "fires.geojson"
[fires.columns]
id = "id"
"""
    )
    return folder


def ranked(folder, middle, form, fire="F1", closed=AROUND_S):
    """The region, and its ranking for a fire."""
    region = pipeline.load(write_region(folder, middle, form, closed))
    profile = load_profile("heavy_tank_helicopter")
    asked = pipeline.fire(fire, region)
    return region, pipeline.rank(region, pipeline.survey(region), asked, profile, WEATHER)


def figures(ranking):
    """What must not hang on the longitude, by source, in order."""
    return [
        (
            source.body_id,
            source.cycle.method,
            source.cycle.round_trip_s,
            source.cycle.litres_per_hour,
            source.cycle.loaded_leg.distance_m,
            source.cycle.empty_leg.distance_m,
            source.cycle.loaded_leg.segments[0].track_true_deg,
        )
        for source in ranking.sources
    ]


@pytest.fixture(scope="module")
def elsewhere(tmp_path_factory):
    """The figures of the same region at 128 W, by form of its outlines."""
    folder = tmp_path_factory.mktemp("elsewhere")
    return {form: figures(ranked(folder / form, -128.0, form)[1]) for form in ("cut", "jump", "beyond")}


def agree(found, expected, rel=1e-6):
    assert [row[:2] for row in found] == [row[:2] for row in expected]
    for row, other in zip(found, expected, strict=True):
        assert row[2:] == pytest.approx(other[2:], rel=rel)


@pytest.mark.parametrize("form", ["cut", "jump", "beyond"])
def test_the_ranking_is_that_of_the_same_region_elsewhere(tmp_path, elsewhere, form):
    region, ranking = ranked(tmp_path / "region", 180.0, form)
    found = figures(ranking)
    assert {row[0] for row in found} == {"W", "E", "X"}
    agree(found, elsewhere[form])
    (left_out,) = ranking.excluded
    assert left_out.body_id == "S" and "C" in left_out.reason
    # What is printed lies on Earth as the standard has it, and on the right side.
    for source in document(ranking, region.frame)["sources"]:
        longitude = source["fill_point"]["coordinates"][0]
        assert 179.9 < abs(longitude) <= 180.0
        assert source["body_id"] == "X" or (longitude > 0.0) == (source["body_id"] == "W")


@pytest.mark.parametrize("form", ["cut", "jump", "beyond"])
@pytest.mark.parametrize("feature", [False, True])
def test_a_fire_given_as_geojson_across_the_antimeridian(tmp_path, elsewhere, form, feature):
    asked = polygon(FIRE, 180.0, form)
    if feature:
        asked = {"type": "Feature", "properties": {"name": "across"}, "geometry": asked}
    agree(figures(ranked(tmp_path / "region", 180.0, form, asked)[1]), elsewhere[form])


@pytest.mark.parametrize("form", ["cut", "jump"])
def test_a_fire_file_across_the_antimeridian(tmp_path, elsewhere, form):
    file = tmp_path / "fire.geojson"
    layer(file, [({"id": "F9"}, FIRE)], 180.0, form)
    agree(figures(ranked(tmp_path / "region", 180.0, form, str(file))[1]), elsewhere[form])


def test_closed_air_across_the_antimeridian_is_flown_round(tmp_path):
    there = figures(ranked(tmp_path / "there", -128.0, "cut", closed=BEFORE_X)[1])
    region, ranking = ranked(tmp_path / "here", 180.0, "cut", closed=BEFORE_X)
    agree(figures(ranking), there, rel=3e-3)  # the scatter of the search for ways
    source = next(one for one in ranking.sources if one.body_id == "X")
    shut = region.closures[0].area
    assert shut.geom_type == "Polygon"
    for leg in (source.cycle.loaded_leg, source.cycle.empty_leg):
        assert leg.detour and leg.route.distance(shut) > 0.0


@pytest.mark.parametrize("highest", [False, True])
@pytest.mark.parametrize("west", [179.92, -180.08, 231.92])
def test_a_raster_across_or_beyond_the_antimeridian_is_whole(tmp_path, west, highest):
    """Against the same cells at 128 W; 231.92 is 128.08 W as files that count from 0 to 360 have it."""
    heights = np.random.default_rng(3).uniform(0.0, 900.0, (60, 400)).astype(np.float32)

    def read(first, middle):
        file = tmp_path / f"{first}.tif"
        with rasterio.open(
            file, "w", driver="GTiff", width=400, height=60, count=1, dtype="float32", crs="EPSG:4326",
            transform=Affine(0.0004, 0.0, first, 0.0, -0.0004, SOUTH), nodata=-9999,
        ) as raster:  # fmt: skip
            raster.write(heights, 1)
        return read_raster(str(file), local_crs(middle, SOUTH).to_wkt(), highest=highest)

    expected = read(-128.08, -128.0)["values"]
    found = read(west, -128.0 if west > 200.0 else 180.0)["values"]
    assert found.shape == expected.shape
    # Nothing is lost along the seam. A place may be off by 1 % of a cell in so rough a field; the highest is found by a
    # warper whose places may be off by an eighth of a cell, so that some cells take a neighbour.
    assert np.isfinite(found[5:-5, 5:-5]).all()
    apart = np.abs(found - expected)[5:-5, 5:-5]
    assert np.mean(apart > 20.0) < 0.02
