"""CQL2 (OGC 21-065r2), text and JSON, on both stores. Classes by their names there; the sample's features by hand."""

import json
import subprocess
import sys

import pytest
from fastapi.testclient import TestClient
from sqlalchemy.dialects import postgresql, sqlite

from services.errors import BadQuery
from services.ogc.catalogue import layers_of
from services.ogc.cql2_filter import MOST_BRACKETS, Filter, tree_of
from services.ogc.crs import offered
from tests.services.feature_samples import REGION, features_app, fill

WATER = "/ogc/collections/water_bodies/items"
ALL = {"A1", "A2", "B1", "B2", "D/5"}

# filter, expected ids. The class of each part stands beside it.
TEXTS = (
    # /conf/basic-cql2
    ("area_m2 = 500", {"A1"}),
    ("area_m2 <> 500", ALL - {"A1"}),
    ("area_m2 > 500 AND kind = 'lake'", {"B1"}),
    ("area_m2 >= 500 AND area_m2 <= 5000", {"A1", "B1"}),
    ("kind = 'dam' OR area_m2 < 10", {"A2", "B2"}),
    ("NOT (kind = 'lake')", ALL - {"A1", "B1"}),
    ("longest_run_m IS NULL", {"A2", "B2"}),
    ("longest_run_m IS NOT NULL", {"A1", "B1", "D/5"}),
    ("NOT (longest_run_m > 1000)", {"A1"}),  # unknown is neither above nor below: SQL's three values
    ("TRUE", ALL),
    ("name = 'it''s'", set()),
    # /conf/advanced-comparison-operators
    ("name LIKE 'A%'", {"A1"}),
    ("name LIKE 'a%'", set()),  # case counts
    ("name LIKE '_irch%'", {"A2"}),
    ("name LIKE 'Cedar\\_50\\%'", {"B1"}),
    ("name LIKE 'Cedar[_]%'", set()),
    ("area_m2 BETWEEN 50 AND 500", {"A1", "A2"}),
    ("area_m2 NOT BETWEEN 50 AND 500", {"B1", "B2", "D/5"}),
    ("kind IN ('dam','pond')", {"A2", "B2"}),
    ("kind NOT IN ('dam','pond')", {"A1", "B1", "D/5"}),
    # /conf/case-insensitive-comparison, beyond ASCII
    ("CASEI(name) = CASEI('ÄSPEN pond')", {"B2"}),
    ("CASEI(name) LIKE CASEI('äspen%')", {"B2"}),
    # /conf/property-property
    ("longest_run_m > area_m2", {"A1"}),
    # /conf/basic-spatial-functions, -plus, spatial-functions
    ("S_INTERSECTS(geometry, POINT(10.05 -39.95))", {"A1"}),
    ("S_INTERSECTS(geometry, BBOX(11.0,-40.6,11.2,-40.55))", set()),
    ("S_INTERSECTS(geometry, BBOX(179.5,-46,-179.5,-44))", {"D/5"}),
    ("S_INTERSECTS(geometry, POLYGON((9 -41, 10.7 -41, 10.7 -39, 9 -39, 9 -41)))", {"A1", "A2"}),
    ("S_WITHIN(geometry, POLYGON((9 -41, 10.55 -41, 10.55 -39, 9 -39, 9 -41)))", {"A1"}),
    ("S_CONTAINS(geometry, POINT(10.05 -39.95))", {"A1"}),
    ("S_CONTAINS(POLYGON((9 -41, 10.55 -41, 10.55 -39, 9 -39, 9 -41)), geometry)", {"A1"}),
    ("S_DISJOINT(geometry, BBOX(9,-46,12.5,-39))", {"D/5"}),
    ("S_TOUCHES(geometry, POINT(10.1 -39.95))", {"A1"}),
    ("S_OVERLAPS(geometry, BBOX(10.05,-41,10.3,-39))", {"A1"}),
    ("S_EQUALS(geometry, POLYGON((10 -40, 10.1 -40, 10.1 -39.9, 10 -39.9, 10 -40)))", {"A1"}),
    ("S_CROSSES(geometry, LINESTRING(9 -39.95, 10.3 -39.95))", {"A1"}),
    ("NOT S_INTERSECTS(geometry, POINT(10.05 -39.95))", ALL - {"A1"}),
    ("geometry IS NULL", set()),
    # /conf/temporal-functions; the sample was surveyed on 15 January 2026, 12:00 UTC
    ("surveyed_at > TIMESTAMP('2026-01-15T11:59:59Z')", ALL),
    ("surveyed_at = TIMESTAMP('2026-01-15T22:00:00+10:00')", ALL),
    ("T_AFTER(surveyed_at, DATE('2026-01-14'))", ALL),
    ("T_AFTER(surveyed_at, DATE('2026-01-15'))", set()),
    ("T_DURING(surveyed_at, INTERVAL('2026-01-15T00:00:00Z','..'))", ALL),
    ("T_BEFORE(surveyed_at, TIMESTAMP('2026-01-15T12:00:00Z'))", set()),
)  # fmt: skip
CLOSURES = (
    ("valid_from = DATE('2026-03-01')", {"closure 1"}),
    ("T_INTERSECTS(INTERVAL(valid_from,valid_to), INTERVAL('2026-02-01','2026-02-28'))", {"closure 2"}),
    ("T_INTERSECTS(INTERVAL(valid_from,valid_to), INTERVAL('2026-01-31','..'))",
     {"closure 0", "closure 1", "closure 2"}),
    ("T_CONTAINS(INTERVAL(valid_from,valid_to), DATE('2026-01-10'))", {"closure 0", "closure 2"}),
    ("T_STARTS(INTERVAL(valid_from,valid_to), INTERVAL('2026-01-01','2026-12-31'))", {"closure 0"}),
    ("T_FINISHEDBY(INTERVAL(valid_from,valid_to), INTERVAL('2026-01-10','2026-01-31'))", {"closure 0"}),
    ("T_METBY(INTERVAL(valid_from,valid_to), INTERVAL('2025-01-01','2026-01-01'))", {"closure 0"}),
    ("T_DISJOINT(INTERVAL(valid_from,valid_to), DATE('2026-02-10'))", {"closure 0", "closure 1"}),
)  # fmt: skip
BAD = (
    "nothing = 1", "area_m2 = 'x'", "name > 5", "area_m2 LIKE 'x'", "area_m2 +", "area_m2 = 1 AND", "foo(area_m2) = 1",
    "S_INTERSECTS(geometry, POLYGON((0 0,1 1,1 0,0 1,0 0)))", "S_INTERSECTS(area_m2, POINT(0 0))", "name",
    "S_INTERSECTS(geometry, POINT(0 95))", "S_DWITHIN(geometry, POINT(0 0), 1, meters)",
    "surveyed_at = DATE('2026-02-30')",
    "surveyed_at > DATE('2026-01-01')", "T_AFTER(name, DATE('2026-01-01'))", "kind IN (1, 2)", "area_m2 + 1 > 2",
    "S_INTERSECTS(geometry, GEOMETRYCOLLECTION(POINT(0 0)))", "1; DROP TABLE site", "fid = 1", "retired = FALSE",
    "(" * 500 + "area_m2 = 1" + ")" * 500, "NOT " * 100 + "area_m2 = 1", "area_m2 = 1 AND " * 2000 + "area_m2 = 1",
)  # fmt: skip


@pytest.fixture
def client(store):
    fill(store.engine)
    return TestClient(features_app(store.engine))


def asked(client, path, text, **more):
    answer = client.get(path, params={"filter": text} | more)
    assert answer.status_code == 200, (text, answer.text)
    return answer.json()["features"]


def test_filters_as_text_and_the_same_as_json(client):
    """/conf/cql2-text and /conf/cql2-json: the JSON is what another reader, the parser's, makes of the text."""
    for text, expected in TEXTS:
        assert {one["id"] for one in asked(client, WATER, text)} == expected, text
        as_json = json.dumps(tree_of(text, "cql2-text"))
        found = asked(client, WATER, as_json, **{"filter-lang": "cql2-json"})
        assert {one["id"] for one in found} == expected, as_json


def test_filters_on_days(client):
    """/conf/temporal-functions after Allen; an empty end is open, so that closure 2 holds always."""
    for text, expected in CLOSURES:
        found = asked(client, "/ogc/collections/closures/items", text)
        assert {one["properties"]["name"] for one in found} == expected, text


def test_filters_join_the_other_parameters(client):
    """19-079r2, /req/filter/mixing-expressions: all hold together; numberMatched counts what fits."""
    page = client.get(
        WATER, params={"filter": "area_m2 > 10", "bbox": "9,-41,10.7,-39", "kind": "dam"}
    ).json()
    assert page["numberMatched"] == 1 and [one["id"] for one in page["features"]] == ["A2"]


def test_filter_crs_turns_the_shapes(client):
    """19-079r2, /req/filter/filter-crs-param: EPSG:4326 is latitude first."""
    crs = "http://www.opengis.net/def/crs/EPSG/0/4326"
    found = asked(client, WATER, "S_INTERSECTS(geometry, POINT(-39.95 10.05))", **{"filter-crs": crs})
    assert [one["id"] for one in found] == ["A1"]


def test_bad_filters_are_400_and_change_nothing(client):
    for text in BAD:
        answer = client.get(WATER, params={"filter": text})
        assert answer.status_code == 400, (text[:60], answer.text[:200])
        assert answer.json()["errors"][0]["field"] == "filter", text[:60]
    assert client.get(WATER).json()["numberMatched"] == len(ALL)


def test_queryables_are_a_json_schema_of_what_filters_take(client):
    """19-079r2, /req/queryables: each named property can be filtered by; nothing else can."""
    for layer in client.get("/ogc/collections").json()["collections"]:
        schema = client.get(f"/ogc/collections/{layer['id']}/queryables").json()
        assert schema["type"] == "object" and schema["additionalProperties"] is False
        for name in schema["properties"]:
            assert isinstance(asked(client, f"/ogc/collections/{layer['id']}/items", f"{name} IS NULL"), list)


def test_a_filter_never_ends_the_process():
    """Without the limit some thousand brackets end it: shown with the parser alone, in a process of its own."""
    code = "import cql2, sys; cql2.parse_text('(' * int(sys.argv[1]) + 'a=1' + ')' * int(sys.argv[1]))"
    for brackets, survives in ((MOST_BRACKETS, True), (200_000, False)):
        done = subprocess.run([sys.executable, "-c", code, str(brackets)], capture_output=True, check=False)
        assert (done.returncode == 0) is survives
    with pytest.raises(BadQuery, match="brackets"):
        tree_of("(" * 200_000 + "a=1" + ")" * 200_000, "cql2-text")


def test_no_literal_reaches_the_statement():
    """Values are bound; the statement's text holds none of them."""
    layer = layers_of(REGION)[0]
    text = "name = 'Robert''); DROP TABLE site;--' AND area_m2 > 123.75 AND S_INTERSECTS(geometry, POINT(7.25 8.5))"
    condition = Filter(layer, offered(0.0, 0.0)[0]).condition(tree_of(text, "cql2-text"))
    for dialect in (sqlite.dialect(), postgresql.dialect()):
        statement = str(condition.compile(dialect=dialect))
        assert "DROP" not in statement and "123.75" not in statement and "7.25" not in statement
