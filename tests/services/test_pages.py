"""What the pages ask for over HTTP. The stories of people at the pages are in tests/browser."""

import io
import json
import re

import numpy as np
import pytest
import shapely
from fastapi.testclient import TestClient
from PIL import Image
from pyproj import CRS, Geod, Transformer

from geo import pipeline
from geo.base.grid import Grid
from geo.export.drawing import basemap
from geo.ingest.layers.aircraft import built_in_profile
from geo.products.page_views import DRAWN_WITHIN_M
from services.app import create_app
from services.pages.router import HERE, sent_name
from services.settings import Settings
from tests.services.conftest import DEMO

DAY = {"wind": "300/18kt", "oat": "34C", "qnh": "1009"}
QUESTION = DAY | {"fire": "fellside"}


@pytest.fixture(scope="module")
def client(workspace, data_dir):
    with TestClient(create_app(Settings(region=DEMO, data_dir=data_dir))) as client:
        yield client


def test_a_quick_answer_is_never_better_than_the_whole_one(client):
    """Routes round high ground can only be quicker than straight ones, so that no round trip is said too short."""
    quick = client.post("/answers", json=QUESTION).json()
    whole = client.post("/rankings", json=QUESTION).json()
    trips = {one["body_id"]: one["cycle"]["round_trip_s"] for one in whole["sources"]}
    assert {one["body_id"] for one in quick["sources"]} <= set(trips) and len(quick["sources"]) > 5
    for one in quick["sources"]:
        assert one["cycle"]["round_trip_s"] >= trips[one["body_id"]] - 0.1, one["name"]
    assert "not sought" in quick["assumptions"]["routes"]
    assert "ranking_id" not in quick and "certainty" not in quick
    assert all(one["assessments"] == [] for one in quick["excluded"])
    rates = [one["fuel"]["sustained_litres_per_hour"] for one in quick["sources"]]
    assert rates == sorted(rates, reverse=True)


def test_a_quick_answer_lists_the_first_of_its_own_order(client):
    whole = client.post("/answers", json=QUESTION).json()["sources"]
    short = client.post("/answers", json=QUESTION | {"top": 3}).json()["sources"]
    assert [one["body_id"] for one in short] == [one["body_id"] for one in whole][:3]


def test_a_brief_answer_holds_the_same_figures_under_the_same_names(client):
    """All that a list and a map show, nothing else, and nothing told otherwise than in the answer that it shortens."""
    full = client.post("/answers", json=QUESTION | {"top": 8}).json()
    answer = client.post("/answers", json=QUESTION | {"top": 8, "brief": True})
    brief = answer.json()
    assert brief.pop("brief") is True

    def within(short: object, long: object, place: str) -> None:
        if isinstance(short, dict) and isinstance(long, dict):
            for name in short:
                within(short[name], long[name], f"{place}.{name}")
        elif isinstance(short, list) and short and isinstance(short[0], dict):
            for number, (one, other) in enumerate(zip(short, long, strict=True)):
                within(one, other, f"{place}[{number}]")
        else:
            assert short == long, place

    within(brief, full, "answer")
    assert set(brief) == set(full) - {"brief"}
    for one in brief["sources"]:
        assert {"rank", "name", "cautions", "run_line", "other_methods"} <= set(one)
        assert one["cycle"]["loaded_leg"]["route"]["type"] == "LineString"
        assert {"fill_point", "ways", "litres_ruled_by", "agent"} <= set(one["assessment"])
    assert len(answer.content) < len(json.dumps(full)) / 3


@pytest.mark.parametrize(
    "path", ["/basemap/waters", "/basemap/contours", "/basemap/surroundings", "/fires", "/page.js"]
)
def test_what_did_not_change_is_not_sent_again(client, path):
    """RFC 9110: ETag (8.8.3), If-None-Match and 304 (13.1.2, 15.4.5), gzip (8.4.1.3), Vary (12.5.5)."""
    plain = client.get(path, headers={"Accept-Encoding": "identity"})
    packed = client.get(path, headers={"Accept-Encoding": "br;q=1, gzip"})
    refused = client.get(path, headers={"Accept-Encoding": "gzip;q=0"})
    assert "content-encoding" not in plain.headers and "content-encoding" not in refused.headers
    assert packed.content == plain.content == refused.content  # the client unpacks
    if len(plain.content) > 1_000:
        assert packed.headers["content-encoding"] == "gzip"
        assert int(packed.headers["content-length"]) < len(plain.content) / 2
    tag = plain.headers["etag"]
    assert tag.startswith('W/"') and packed.headers["vary"] == "Accept-Encoding"
    again = client.get(path, headers={"If-None-Match": f'"other", {tag}'})
    assert again.status_code == 304 and again.content == b"" and again.headers["etag"] == tag
    assert client.get(path, headers={"If-None-Match": '"other"'}).status_code == 200


def test_files_of_the_pages_are_kept_and_asked_for_again(client):
    script = client.get("/static/vendor/ol.js")
    assert script.headers["cache-control"] == "no-cache" and script.headers["content-encoding"] == "gzip"
    again = client.get("/static/vendor/ol.js", headers={"If-None-Match": script.headers["etag"]})
    assert again.status_code == 304


def test_nothing_of_a_quick_answer_is_kept(client, workspace):
    before = client.get("/region").json()["survey_version"]
    answer = client.post("/answers", json=QUESTION)
    assert answer.status_code == 200 and "location" not in answer.headers
    assert client.get("/region").json()["survey_version"] == before


@pytest.mark.parametrize(
    "more", [{"line": "400m"}, {"perimeter": True}, {"levels": ["W04=58.8"]}, {"time": "15:30Z"}]
)
def test_what_a_quick_answer_does_not_give_is_refused_not_left_out(client, more):
    assert client.post("/answers", json=QUESTION | more).status_code == 422


def test_today_gives_the_verdict_of_every_water(client, workspace):
    """The same verdicts as a ranking, which judges them for a fire: the fire plays no part in them."""
    waters = client.post("/today", json=DAY).json()["waters"]
    assert set(waters) == {body.body_id for body in workspace.region.bodies}
    whole = client.post("/rankings", json=QUESTION).json()
    # A ranking names fill stations too, which are no waters.
    judged_here = [
        [one for one in whole[part] if one["body_id"] in waters] for part in ("sources", "excluded")
    ]
    for one in judged_here[0]:
        assert waters[one["body_id"]][one["assessment"]["method"]] == "usable"
    for one in judged_here[1]:
        judged = {method["method"]: method["verdict"] for method in one["assessments"]}
        assert waters[one["body_id"]] == judged, one["name"]


def test_today_follows_the_weather_and_the_aircraft(client):
    calm = client.post("/today", json=DAY).json()["waters"]
    storm = client.post("/today", json=DAY | {"wind": "300/60kt"}).json()["waters"]
    assert "usable" not in {verdict for water in storm.values() for verdict in water.values()}, (
        "over the wind limit"
    )
    assert calm == client.post("/today", json=DAY).json()["waters"]
    bucket = client.post("/today", json=DAY | {"aircraft": "light_bucket_helicopter"}).json()["waters"]
    assert {method for water in bucket.values() for method in water} == {"bucket_dip"}


def test_a_wind_just_over_a_limit_is_not_rounded_away(client):
    """The profile's wind limit is 40 kt: 39.9 kt and 40.1 kt are judged apart."""
    under = client.post("/today", json=DAY | {"wind": "300/39.9kt"}).json()["waters"]
    over = client.post("/today", json=DAY | {"wind": "300/40.1kt"}).json()["waters"]
    usable = [sum("usable" in water.values() for water in one.values()) for one in (under, over)]
    assert usable[0] > 0 and usable[1] == 0


def test_surroundings_are_all_there_with_their_places(client, workspace):
    found = client.get("/basemap/surroundings").json()
    count = {}
    for one in found["features"]:
        count[one["properties"]["what"]] = count.get(one["properties"]["what"], 0) + 1
        assert one["properties"]["name"] and shapely.from_geojson(json.dumps(one["geometry"])).is_valid
    region = workspace.region
    assert count["wire"] + count["obstacle"] == len(region.obstacles)
    assert count["no flying"] + count["no filling"] == len(region.closures)
    assert (count["site"], count["base"]) == (len(region.sites), 1)
    unknown = [one for one in found["features"] if "height unknown" in one["properties"]["note"]]
    assert len(unknown) == sum(
        one.top_elevation_m is None and one.height_above_ground_m is None for one in region.obstacles
    )


def test_waters_and_fires_are_those_of_the_region(client, workspace):
    """Outlines within the tolerance said: no drawn corner lies farther from the surveyed shore."""
    drawn = client.get("/basemap/waters").json()["features"]
    assert [one["properties"]["body_id"] for one in drawn] == [
        body.body_id for body in workspace.region.bodies
    ]
    to_plane = Transformer.from_crs("EPSG:4326", CRS.from_wkt(workspace.region.frame.crs_wkt), always_xy=True)
    for one, body in zip(drawn, workspace.region.bodies, strict=True):
        shape = shapely.transform(
            shapely.from_geojson(json.dumps(one["geometry"])),
            lambda xy: np.column_stack(to_plane.transform(xy[:, 0], xy[:, 1])),
        )
        assert shapely.hausdorff_distance(shape, body.polygon) <= DRAWN_WITHIN_M + 0.2
    fires = client.get("/fires").json()["features"]
    assert {one["properties"]["fire_id"] for one in fires} == {"fellside", "saltgrass"}


@pytest.fixture(scope="module")
def cone():
    """A cone 1,000 m high and falling 1 in 2, in an azimuthal equidistant plane at 47 S 128 W; 20 m cells."""
    crs = CRS.from_proj4("+proj=aeqd +lat_0=-47 +lon_0=-128 +datum=WGS84 +units=m")
    east = np.arange(-1500.0, 1500.0, 20.0) + 10.0
    x, y = np.meshgrid(east, -east)
    return Grid((1000.0 - np.hypot(x, y) / 2.0).astype(np.float32), -1500.0, 1500.0, 20.0, 20.0), crs.to_wkt()


def test_contours_of_a_cone_are_circles_of_the_right_size(cone):
    """Geometry: where the cone is h high it is 2 (1000 - h) wide from its axis; distances on the ellipsoid by PROJ."""
    found = basemap.contours(*cone)["features"]
    geod = Geod(ellps="WGS84")
    levels = {one["properties"]["elevation_m"] for one in found}
    assert {500.0, 600.0, 700.0} <= levels
    for one in found:
        radius = 2.0 * (1000.0 - one["properties"]["elevation_m"])
        if radius > 1400.0:
            continue  # cut by the edge of the terrain
        places = shapely.get_coordinates(shapely.from_geojson(json.dumps(one["geometry"])))
        _, _, away = geod.inv(np.full(len(places), -128.0), np.full(len(places), -47.0), *places.T)
        assert np.abs(away - radius).max() < 15.0, one["properties"]


def test_the_relief_lies_where_the_terrain_lies(cone):
    """Its edges are those of the terrain's box in EPSG:3857, transformed by PROJ; nothing outside is painted."""
    terrain, crs = cone
    found = basemap.relief(terrain, crs)
    edges = Transformer.from_crs(CRS.from_wkt(crs), "EPSG:3857", always_xy=True).transform_bounds(
        -1500.0, -1500.0, 1500.0, 1500.0
    )
    pixel = (edges[2] - edges[0]) / 140.0
    assert np.abs(np.array(found.edges) - edges).max() < 2.0 * pixel
    assert found.png.startswith(b"\x89PNG")


def test_level_ground_is_see_through_and_a_slope_is_lit_from_the_north_west():
    """No source but the light said: a cone on level ground is white towards the north-west, black on the other side."""
    east, north = np.meshgrid(np.arange(60) - 29.5, 29.5 - np.arange(60))
    heights = np.maximum(0.0, 200.0 - 12.0 * np.hypot(east, north))
    heights[:4, :4] = np.nan
    terrain = Grid(heights.astype(np.float32), -1500.0, 1500.0, 50.0, 50.0)
    crs = "+proj=aeqd +lat_0=0 +lon_0=0 +datum=WGS84"
    picture = np.asarray(
        Image.open(io.BytesIO(basemap.relief(terrain, CRS.from_user_input(crs).to_wkt()).png))
    )
    rows, columns, _ = picture.shape
    grey, opacity = picture[..., 0], picture[..., 1]
    assert (opacity[0] <= 2).all() and (opacity[-1] <= 2).all(), "level ground and what is unknown"
    assert (
        grey[rows * 42 // 100, columns * 42 // 100] == 255
        and opacity[rows * 42 // 100, columns * 42 // 100] > 60
    )
    assert (
        grey[rows * 58 // 100, columns * 58 // 100] == 0
        and opacity[rows * 58 // 100, columns * 58 // 100] > 60
    )


def test_a_side_view_of_a_line_that_is_no_run_is_refused(client, workspace):
    body = workspace.region.bodies[0].body_id
    for line in ("", "1", "1 2", "a b,c d", "1 2,1 2,nan 3", "-128 -46.9,-128.1 -46.9"):
        answer = client.get(f"/water-bodies/{body}/side-view", params={"line": line})
        assert answer.status_code == 422, line
        assert "Fix" in answer.json()["detail"]
    assert client.get("/water-bodies/nowhere/side-view", params={"line": "1 2,3 4"}).status_code == 422


def test_pages_load_only_from_the_service(client):
    for path in ("/", "/sites.html"):
        page = client.get(path)
        policy = page.headers["content-security-policy"]
        assert "default-src 'self'" in policy and "http" not in policy
        for address in re.findall(r'(?:href|src)="([^"]+)"', page.text):
            assert not address.startswith(("http:", "https:", "//")), address
    for script in (HERE / "static" / "app").glob("*.js"):
        own = re.sub(r"http://www\.w3\.org/2000/svg|https://package\.invalid/", "", script.read_text())
        assert not re.search(r"https?://", own), script.name


def test_tiles_that_the_user_adds_are_the_only_exception(workspace, tmp_path):
    settings = Settings(
        region=DEMO, data_dir=tmp_path, background_tiles="https://tiles.example/{z}/{x}/{y}.png"
    )
    from services.pages.router import POLICY, page

    class Request:
        class app:
            class state:
                pass

    Request.app.state.settings = settings
    policy = page(Request, "index.html").headers["content-security-policy"]  # type: ignore[arg-type]
    assert "img-src 'self' data: blob: https://tiles.example;" in policy
    assert policy == POLICY.format(tiles=" https://tiles.example")


@pytest.mark.parametrize(
    ("header", "name"),
    [
        ("", "fire.geojson"),
        ("attachment; filename*=UTF-8''edge.kml", "edge.kml"),
        ("attachment; filename*=UTF-8''..%2F..%2Fetc%2Fpasswd", "passwd"),
        ("attachment; filename*=UTF-8''C%3A%5Ctemp%5Cfire.gpx", "fire.gpx"),
        ("attachment; filename*=UTF-8''%00%0Afire.kml", "fire.kml"),
        ("attachment; filename*=UTF-8''..", "fire.geojson"),
    ],
)
def test_the_name_of_a_sent_file_is_never_a_path(header, name):
    assert sent_name(header) == name


def test_a_sent_fire_is_the_fire_of_the_same_outline(client, workspace):
    """Sent as a file, and drawn: the same area on the ground."""
    ring = [[-128.05, -47.02], [-128.04, -47.02], [-128.04, -47.01], [-128.05, -47.01], [-128.05, -47.02]]
    shape = {"type": "Polygon", "coordinates": [ring]}
    read = client.post(
        "/fires/read",
        content=json.dumps(shape),
        headers={"content-disposition": "attachment; filename*=UTF-8''edge.geojson"},
    ).json()
    assert read["name"] == "edge" and read["note"] is None
    drawn = pipeline.fire_asked(shape, workspace.region).area
    assert pipeline.fire_asked(read["geometry"], workspace.region).area.equals_exact(drawn, 0.2)


def test_verdicts_are_kept_for_the_very_same_question_only(workspace):
    profile = built_in_profile("heavy_tank_helicopter")
    from services.core import quantities

    first = quantities.weather("300/18kt", "34C", "1009", "0m", None)
    again = quantities.weather("300/18kt", "34C", "1009", "0m", None)
    other = quantities.weather("300/19kt", "34C", "1009", "0m", None)
    views = pipeline.page_views()
    kept = views.verdicts(workspace.region, workspace.survey, profile, first)
    assert views.verdicts(workspace.region, workspace.survey, profile, again) is kept
    assert views.verdicts(workspace.region, workspace.survey, profile, other) is not kept
