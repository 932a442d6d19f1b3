"""OGC API - Features Part 1 and 2 on both stores. Abstract tests by their names in 17-069r4 and 18-058r1, annex A.

The features are made by hand (feature_samples.py), so that each expected answer can be seen there.
"""

import json

import pytest
import shapely
from fastapi.testclient import TestClient
from openapi_spec_validator import OpenAPIV30SpecValidator
from pyproj import Transformer

from services.ogc.conformance import CLASSES
from tests.services.feature_samples import WATERS, features_app, fill

WATER = "/ogc/collections/water_bodies/items"
EPSG = "http://www.opengis.net/def/crs/EPSG/0/"
CRS84 = "http://www.opengis.net/def/crs/OGC/1.3/CRS84"


@pytest.fixture
def client(store):
    fill(store.engine)
    return TestClient(features_app(store.engine))


def ids(answer) -> set[str]:
    assert answer.status_code == 200, answer.text
    return {one["id"] for one in answer.json()["features"]}


def test_landing_page_with_and_without_a_slash(client):
    """/conf/core/root-success. QGIS asks without the slash, the public suite with it."""
    for path in ("/ogc", "/ogc/"):
        answer = client.get(path, follow_redirects=False)
        assert answer.status_code == 200
        rels = {link["rel"] for link in answer.json()["links"]}
        assert rels >= {"self", "alternate", "service-desc", "service-doc", "conformance", "data"}


def test_api_definition_is_a_valid_openapi_3_0_document(client):
    """/conf/core/api-definition-success, /conf/oas30/oas-definition-2: judged by a validator of the specification."""
    landing = client.get("/ogc").json()
    address = next(link for link in landing["links"] if link["rel"] == "service-desc")
    assert address["type"] == "application/vnd.oai.openapi+json;version=3.0"
    answer = client.get(address["href"])
    assert answer.headers["content-type"] == address["type"]
    document = answer.json()
    assert document["openapi"].startswith("3.0")
    OpenAPIV30SpecValidator(document).validate()
    # Relative to the API's root, which `servers` names.
    assert document["servers"] == [{"url": "http://testserver/ogc"}] and "/collections" in document["paths"]
    limit = document["components"]["parameters"]["limit"]["schema"]
    assert (limit["default"], limit["maximum"]) == (100, 1000)


def test_every_path_of_the_definition_answers(client):
    """/conf/oas30/completeness: what is described is there, and what is there is described."""
    document = client.get("/ogc/api").json()
    for path, verbs in document["paths"].items():
        if "get" in verbs and "{featureId}" not in path:
            assert client.get(f"/ogc{path}").status_code == 200, path
        layer = path.split("/")[2] if path.count("/") > 1 else None
        assert ("post" in verbs) == (layer == "sites" and path.endswith("/items"))


def test_conformance_lists_the_classes(client):
    """/conf/core/conformance-success."""
    assert client.get("/ogc/conformance").json()["conformsTo"] == list(CLASSES)


def test_collections_are_the_same_alone_and_together(client):
    """/conf/core/rc-md-success, sfc-md-success."""
    together = client.get("/ogc/collections").json()["collections"]
    assert {one["id"] for one in together} == {
        "water_bodies", "runs", "hover_points", "depth_evidence", "sites", "closures", "regions",
    }  # fmt: skip
    for one in together:
        alone = client.get(f"/ogc/collections/{one['id']}").json()
        assert {**alone, "links": None} == {**one, "links": None}
        assert {link["rel"] for link in alone["links"]} >= {"items", "self"}
        assert one["crs"][:2] == [CRS84, f"{EPSG}4326"] and one["storageCrs"] == CRS84


def test_extent_holds_every_feature(client):
    """/conf/core/rc-extent. The index keeps single precision, rounded outwards: 1e-5 degrees of room."""
    box = client.get("/ogc/collections/runs").json()["extent"]["spatial"]["bbox"][0]
    found = [
        shapely.geometry.shape(f["geometry"])
        for f in client.get("/ogc/collections/runs/items").json()["features"]
    ]
    assert box == pytest.approx(list(shapely.total_bounds(found)), abs=2e-5)


def test_paging_gives_every_feature_once(client):
    """/conf/core/fc-limit-response, fc-links, fc-numberMatched, fc-numberReturned."""
    address, seen, pages = f"{WATER}?limit=2", [], 0
    while address is not None:
        page = client.get(address).json()
        assert page["numberMatched"] == len(WATERS) and page["numberReturned"] == len(page["features"]) <= 2
        seen += [one["id"] for one in page["features"]]
        address = next((link["href"] for link in page["links"] if link["rel"] == "next"), None)
        pages += 1
    assert sorted(seen) == sorted(one[0] for one in WATERS) and pages == 3


def test_the_page_before_is_linked(client):
    page = client.get(f"{WATER}?limit=2&offset=2&kind=lake").json()
    assert page["numberMatched"] == 2 and page["numberReturned"] == 0
    before = next(link["href"] for link in page["links"] if link["rel"] == "prev")
    assert "kind=lake" in before and ids(client.get(before)) == {"A1", "B1"}


def test_a_limit_above_the_largest_page_gives_the_largest(client):
    """17-069r4, 7.15.2: a server may answer with fewer than asked for."""
    assert client.get(f"{WATER}?limit=100000").status_code == 200


BOXES = (
    ("9,-41,10.05,-39", {"A1"}),
    ("9,-41,0,10.05,-39,100", {"A1"}),
    ("10.1,-40,10.5,-39.9", {"A1", "A2"}),  # edges count
    (
        "11.0,-40.6,11.2,-40.55",
        set(),
    ),  # in the envelope of B1, not in B1: the triangle's upper left is empty
    ("11.4,-40.9,11.45,-40.85", {"B1"}),
    ("179.5,-46,-179.5,-44", {"D/5"}),  # across the antimeridian
    ("179.5,-46,179.95,-44", {"D/5"}),
    ("-180,-46,-179.99,-44", {"D/5"}),
    ("170,-46,190,-44", {"D/5"}),  # as a scrolling map says it
    ("-180,-90,180,90", {one[0] for one in WATERS}),
    ("0,0,1,1", set()),
)


def test_bbox(client):
    """/conf/core/fc-bbox-response; 17-069r4, 7.15.3 for west above east."""
    for box, expected in BOXES:
        assert ids(client.get(f"{WATER}?bbox={box}")) == expected, box


def test_bbox_in_another_system(client):
    """18-058r1 /conf/crs/bbox-crs: the same box in each system's axis order, turned by PROJ itself."""
    west, south, east, north = 9.9, -40.1, 10.05, -39.85
    for code in (4326, 3857, 32732):
        turn = Transformer.from_crs("OGC:CRS84", f"EPSG:{code}")
        box = (*turn.transform(west, south), *turn.transform(east, north))
        text = ",".join(repr(side) for side in box)
        assert ids(client.get(f"{WATER}?bbox={text}&bbox-crs={EPSG}{code}")) == {"A1"}, code
    assert ids(client.get(f"{WATER}?bbox=-40.1,9.9,-39.85,10.05&bbox-crs={EPSG}4326")) == {"A1"}


@pytest.mark.parametrize("code", [4326, 3857, 32732])
def test_output_in_another_system(client, code):
    """18-058r1 /conf/crs/crs-output: header and coordinates, against PROJ in the register's own axis order."""
    plain = client.get(f"{WATER}/B1").json()["geometry"]["coordinates"][0]
    for path in (f"{WATER}/B1?crs={EPSG}{code}", f"{WATER}?body_id=B1&crs={EPSG}{code}"):
        answer = client.get(path)
        assert answer.headers["content-crs"] == f"<{EPSG}{code}>"
        body = answer.json()
        turned = (body["features"][0] if "features" in body else body)["geometry"]["coordinates"][0]
        turn = Transformer.from_crs("OGC:CRS84", f"EPSG:{code}")
        for (lon, lat), (first, second) in zip(plain, turned, strict=True):
            assert (first, second) == pytest.approx(turn.transform(lon, lat), abs=2e-3)
    assert client.get(f"{WATER}/B1").headers["content-crs"] == f"<{CRS84}>"


def test_outer_rings_run_counter_clockwise(client):
    """RFC 7946, 3.1.6; B1 is kept clockwise or not, whatever its owner drew."""
    for one in client.get(WATER).json()["features"]:
        for part in shapely.get_parts(shapely.geometry.shape(one["geometry"])):
            assert part.exterior.is_ccw, one["id"]


MOMENTS = (
    ("2026-01-15T12:00:00Z", {"closure 0", "closure 2"}),
    ("2026-01-31", {"closure 0", "closure 2"}),
    ("2026-02-01", {"closure 2"}),
    ("2026-02-01/2026-03-01", {"closure 1", "closure 2"}),
    ("2026-01-20/..", {"closure 0", "closure 1", "closure 2"}),
    ("../2025-12-31", {"closure 2"}),
    ("/2026-01-01", {"closure 0", "closure 2"}),
)


def test_datetime(client):
    """/conf/core/fc-time-response: closure 2 has no days and is always in."""
    for moment, expected in MOMENTS:
        found = client.get(f"/ogc/collections/closures/items?datetime={moment}").json()["features"]
        assert {one["properties"]["name"] for one in found} == expected, moment
    assert client.get("/ogc/collections/closures/items?datetime=9999-12-31").status_code == 200


def test_datetime_leaves_layers_without_time_alone(client):
    assert len(ids(client.get("/ogc/collections/runs/items?datetime=1999-01-01"))) == 3


def test_properties_as_parameters(client):
    """19-079r2, queryables as query parameters; % and _ are plain characters here."""
    assert ids(client.get(WATER, params={"name": "Cedar_50%"})) == {"B1"}
    assert ids(client.get(WATER, params={"kind": "lake", "area_m2": "500"})) == {"A1"}
    assert ids(client.get(WATER, params={"name": "' OR 1=1 --"})) == set()


def test_unknown_is_null_and_never_zero(client):
    """A2 has no run: nobody may read 0 m."""
    assert client.get(f"{WATER}/A2").json()["properties"]["longest_run_m"] is None
    assert "A2" not in ids(client.get(f"{WATER}?filter=longest_run_m<1000000"))


BAD_QUERIES = (
        "ooga=booga", "limit=0", "limit=unlimited", "limit=-1", "limit=1&limit=2", "offset=x", "offset=99999999999",
        "bbox=1,2,3", "bbox=1,2,3,x", "bbox=nan,0,1,1", "bbox=0,1e400,1,1", "bbox=0,5,1,4", "bbox=1,2,3,4,5",
        "bbox=0,91,1,95", "bbox-crs=http://www.opengis.net/def/crs/OGC/1.3/CRS84", "bbox=0,0,1,1&bbox-crs=EPSG:4326",
        "datetime=yesterday", "datetime=2026-02-30", "datetime=2026-01-02/2026-01-01", "datetime=..",
        "datetime=2026-01-01T00:00:00", "datetime=0001-01-01T00:00:00%2B14:00", "datetime=a/b/c",
        "crs=EPSG:9999", "f=xml", "area_m2=much", "area_m2=nan", "filter-lang=cql2-text", "filter=",
        "filter=area_m2>1&filter-lang=sql", "filter=area_m2>1&filter-crs=EPSG:1", "surveyed_at=2026", "name=%00",
)  # fmt: skip


def test_bad_queries_are_400_problems(client):
    """/conf/core/query-param-invalid, query-param-unknown; RFC 9457 with field, rule and fix."""
    for query in BAD_QUERIES:
        answer = client.get(f"{WATER}?{query}")
        assert (answer.status_code, answer.headers["content-type"]) == (400, "application/problem+json"), (
            query
        )
        fault = answer.json()["errors"][0]
        assert fault["field"] in query or fault["field"] in ("filter", "bbox"), query
        assert fault["rule"] and fault["cure"]


def test_unknown_parameters_are_refused_everywhere(client):
    for path in (
        "/ogc",
        "/ogc/api",
        "/ogc/conformance",
        "/ogc/collections",
        "/ogc/collections/runs",
        f"{WATER}/A1",
    ):
        assert client.get(f"{path}?ooga=1").status_code == 400, path


def test_things_that_do_not_exist_are_404_problems(client):
    runs = "/ogc/collections/runs/items"
    missing = ("/ogc/collections/none", "/ogc/collections/sites/items/S2", "/ogc/x", f"{runs}/A1")
    for path in (f"{WATER}/none", f"{WATER}/%00", f"{runs}/A1.99999999999", *missing):
        answer = client.get(path)
        assert (answer.status_code, answer.headers["content-type"]) == (404, "application/problem+json"), path


def test_every_item_answers_under_its_id(client):
    """/conf/core/f-success, f-links; an id may hold a slash."""
    for layer in client.get("/ogc/collections").json()["collections"]:
        for one in client.get(f"/ogc/collections/{layer['id']}/items").json()["features"]:
            path = f"/ogc/collections/{layer['id']}/items/{one['id'].replace('/', '%2F')}"
            alone = client.get(path).json()
            links = {link["rel"]: link["href"] for link in alone.pop("links")}
            assert alone == one
            assert links["collection"].endswith(f"/collections/{layer['id']}")
            assert client.get(links["self"]).json()["id"] == one["id"]


def test_pages_for_people(client):
    """/conf/html/content; a text of the data never becomes markup."""
    for path in ("/ogc", "/ogc/conformance", "/ogc/collections", "/ogc/collections/runs", WATER, f"{WATER}/A1",
                 "/ogc/collections/runs/queryables"):  # fmt: skip
        by_header = client.get(path, headers={"accept": "text/html,application/xhtml+xml,*/*;q=0.8"})
        assert by_header.headers["content-type"] == "text/html; charset=utf-8" and "<h1>" in by_header.text, (
            path
        )
        assert client.get(f"{path}?f=html").headers["content-type"] == "text/html; charset=utf-8"
        assert "json" in client.get(f"{path}?f=json", headers={"accept": "text/html"}).headers["content-type"]
    assert "never zero" in client.get(f"{WATER}?f=html").text


def test_data_are_escaped_on_pages(store):
    from services.store.engine import writing
    from services.store.tables import water_body

    fill(store.engine)
    with writing(store.engine) as connection:
        connection.execute(water_body.update().values(name="<script>alert(1)</script>"))
    client = TestClient(features_app(store.engine))
    for path in (f"{WATER}?f=html", f"{WATER}/A1?f=html"):
        text = client.get(path).text
        assert "&lt;script&gt;" in text and "<script>" not in text


def test_counts_follow_the_data(store):
    """What is kept in memory is dropped with the data version."""
    from services.store.engine import writing
    from services.store.layers import bump
    from services.store.tables import water_body

    fill(store.engine)
    client = TestClient(features_app(store.engine))
    assert client.get(f"{WATER}?kind=lake").json()["numberMatched"] == 2
    with writing(store.engine) as connection:
        connection.execute(water_body.delete().where(water_body.c.body_id == "A1"))
        bump(connection, "survey")
    assert client.get(f"{WATER}?kind=lake").json()["numberMatched"] == 1


def test_geojson_of_a_page_is_strict_json(client):
    """RFC 8259: no NaN, UTF-8; the names hold non-ASCII letters."""
    answer = client.get(WATER)
    json.loads(answer.content.decode("utf-8"), parse_constant=pytest.fail)
    assert any(one["properties"]["name"] == "Äspen Pond" for one in answer.json()["features"])
