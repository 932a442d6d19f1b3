"""Vector tiles, read back by GDAL's MVT driver (pyogrio), which knows nothing of what wrote them."""

import math

import pyogrio
import pytest
import shapely
from fastapi import FastAPI
from fastapi.testclient import TestClient

from services.http.middleware import answer_with_problems
from services.http.routes.tiles import BUFFER, EXTENT, MOST_SHAPES, Tile, TileSource, box_deg, router
from services.ogc.source import FeatureSource
from services.store.engine import writing
from services.store.layers import bump
from services.store.tables import water_body
from tests.services.feature_samples import MADE, REGION, WATERS, fill

pytest.importorskip("mapbox_vector_tile")


def tile_app(engine) -> FastAPI:
    app = FastAPI()
    app.state.tiles = TileSource(FeatureSource(engine, REGION, (10.0, -40.0)))
    app.include_router(router)
    answer_with_problems(app)
    return app


@pytest.fixture
def client(store):
    fill(store.engine)
    return TestClient(tile_app(store.engine))


def tile_at(longitude_deg: float, latitude_deg: float, z: int) -> Tile:
    """Slippy map tile names, OpenStreetMap wiki, "Derivation of tile names" (from memory)."""
    y = (1.0 - math.asinh(math.tan(math.radians(latitude_deg))) / math.pi) / 2.0
    return Tile(z, int((longitude_deg + 180.0) / 360.0 * 2**z), int(y * 2**z))


def read(tmp_path, client, layer: str, tile: Tile):
    """The tile as GDAL reads it, in EPSG:3857; the path gives GDAL z, x and y."""
    answer = client.get(f"/tiles/{layer}/{tile.z}/{tile.x}/{tile.y}.mvt")
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"] == "application/vnd.mapbox-vector-tile"
    path = tmp_path / str(tile.z) / str(tile.x) / f"{tile.y}.mvt"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(answer.content)
    return pyogrio.read_dataframe(f"MVT:{path}", layer=layer, CLIP="NO").to_crs(4326)


def test_gdal_reads_the_shapes_where_they_lie(tmp_path, client):
    """To within two units of the tile's grid, at three zooms; simplification takes at most two more."""
    for z in (8, 11, 14):
        tile = tile_at(10.0005, -39.9005, z)
        found = read(tmp_path, client, "water_bodies", tile).set_index("id").loc["A1"]
        expected = WATERS[0][5].intersection(shapely.box(*box_deg(tile)))
        off_deg = 4.0 * 360.0 / 2**z / EXTENT
        assert shapely.hausdorff_distance(found.geometry, expected) < off_deg, z
        assert (found["name"], found["kind"], found["area_m2"]) == ("Ash Lake", "lake", 500.0)
        assert "longest_run_m" in found and "remarks" not in found


def test_unknown_is_left_out_and_not_zero(tmp_path, client):
    found = read(tmp_path, client, "water_bodies", tile_at(10.55, -39.95, 8)).set_index("id")
    assert found.loc["A2"].isna()["longest_run_m"]


def test_every_water_is_in_the_world_tile_even_as_a_speck(tmp_path, client):
    found = read(tmp_path, client, "water_bodies", Tile(0, 0, 0))
    assert set(found["id"]) == {one[0] for one in WATERS}
    assert (shapely.area(found.geometry) > 0).all()


def test_lines_and_points_and_both_sides_of_the_antimeridian(tmp_path, client):
    # At the world's zoom a run is shorter than the grid's unit and cannot be drawn.
    found = read(tmp_path, client, "runs", tile_at(10.05, -39.95, 8)).set_index("id")
    assert found.loc["A1.0"].geometry.bounds == pytest.approx((10.04, -39.95, 10.06, -39.95), abs=1e-3)
    assert len(read(tmp_path, client, "hover_points", Tile(0, 0, 0))) == len(WATERS)
    for longitude_deg in (179.95, -179.95):
        found = read(tmp_path, client, "water_bodies", tile_at(longitude_deg, -44.95, 9))
        assert list(found["id"]) == ["D/5"]
        assert abs(found.geometry.iloc[0].centroid.x - longitude_deg) < 0.06


def test_empty_tiles_are_204_and_what_is_no_tile_is_refused(client):
    empty = client.get("/tiles/water_bodies/12/0/0.mvt")
    assert (empty.status_code, empty.content) == (204, b"")
    for path, status in (
        ("water_bodies/3/8/0", 404),
        ("water_bodies/3/0/8", 404),
        ("none/3/0/0", 404),
        ("water_bodies/21/0/0", 422),
        ("water_bodies/-1/0/0", 422),
        ("water_bodies/a/0/0", 422),
    ):
        answer = client.get(f"/tiles/{path}.mvt")
        assert (answer.status_code, answer.headers["content-type"]) == (status, "application/problem+json"), (
            path
        )


def test_a_tile_is_kept_until_the_data_change(client, store):
    path = "/tiles/water_bodies/0/0/0.mvt"
    first = client.get(path)
    assert client.get(path, headers={"if-none-match": first.headers["etag"]}).status_code == 304
    with writing(store.engine) as connection:
        connection.execute(water_body.delete().where(water_body.c.body_id != "A1"))
        bump(connection, "survey")
    after = client.get(path, headers={"if-none-match": first.headers["etag"]})
    assert after.status_code == 200 and len(after.content) < len(first.content)


def test_a_full_tile_keeps_the_largest_and_says_so(tmp_path, client, store):
    rows = [
        {
            "region_id": REGION, "body_key": "k", "surveyed_at": MADE, "body_id": f"N{i}", "area_m2": float(i),
            "geom": shapely.Point(20.0 + i / 1000.0, -30.0).buffer(0.0001, quad_segs=1),
        }
        for i in range(MOST_SHAPES + 1)
    ]  # fmt: skip
    with writing(store.engine) as connection:
        connection.execute(water_body.insert(), rows)
        bump(connection, "survey")
    answer = client.get("/tiles/water_bodies/0/0/0.mvt")
    assert str(MOST_SHAPES) in answer.headers["x-left-out"]
    found = set(read(tmp_path, client, "water_bodies", Tile(0, 0, 0))["id"])
    assert len(found) == MOST_SHAPES and "D/5" in found and "N0" not in found


def test_tiles_meet_without_a_seam():
    """A tile's east edge is its neighbour's west edge, and the buffer reaches over it."""
    left, right = Tile(5, 10, 12), Tile(5, 11, 12)
    assert left.edges_m[2] == pytest.approx(right.edges_m[0])
    assert left.wide_m[2] - left.edges_m[2] == pytest.approx(BUFFER * left.unit_m)
