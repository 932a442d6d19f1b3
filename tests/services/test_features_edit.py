"""Part 4 (OGC 20-002r1): sites made, replaced, updated and deleted as features, on both stores."""

import pytest
from fastapi.testclient import TestClient

from services.store import sites
from tests.services.feature_samples import features_app, fill

SITES = "/ogc/collections/sites/items"
FEATURE = {
    "type": "Feature",
    "geometry": {"type": "Point", "coordinates": [10.5, -39.5]},
    "properties": {"name": "north ramp", "status": "open", "note": "boats at noon"},
}


@pytest.fixture
def client(store):
    fill(store.engine)
    # Without tokens only this machine itself edits.
    return TestClient(features_app(store.engine), client=("127.0.0.1", 50000))


def test_a_feature_is_made_read_replaced_updated_and_deleted(client, store):
    """/conf/create-replace-delete, /conf/update: statuses, Location, ETag."""
    made = client.post(SITES, json=FEATURE, headers={"content-type": "application/geo+json"})
    assert made.status_code == 201, made.text
    address = made.headers["location"]
    read = client.get(address)
    assert read.headers["etag"] == made.headers["etag"] == '"1"'
    assert (
        read.json()["properties"]["note"] == "boats at noon"
        and read.json()["properties"]["updated_by"] == "local user"
    )

    whole = {**FEATURE, "properties": {**read.json()["properties"], "status": "closed", "note": None}}
    done = client.put(address, json=whole, headers={"if-match": '"1"'})
    assert (done.status_code, done.headers["etag"], done.content) == (204, '"2"', b"")
    assert client.get(address).json()["properties"]["status"] == "closed"
    assert client.get(address).json()["properties"]["note"] is None

    patch = {
        "type": "Feature",
        "properties": {"hazards": "stumps"},
        "geometry": {"type": "Point", "coordinates": [1, 2]},
    }
    done = client.patch(
        address, json=patch, headers={"if-match": '"2"', "content-type": "application/merge-patch+json"}
    )
    assert done.status_code == 204, done.text
    after = client.get(address).json()
    assert after["properties"]["hazards"] == "stumps" and after["properties"]["status"] == "closed"
    assert after["geometry"]["coordinates"] == [1.0, 2.0]

    assert client.delete(address, headers={"if-match": '"3"'}).status_code == 204
    assert client.get(address).status_code == 404
    site_id = address.rsplit("/", 1)[1]
    assert [one["action"] for one in sites.history(store.engine, site_id)] == [
        "retire",
        "update",
        "update",
        "create",
    ]


def test_a_second_editor_is_told_and_nothing_is_overwritten(client):
    """/conf/optimistic-locking-etags: 412; without If-Match 428 (RFC 6585)."""
    first, second = client.get(f"{SITES}/S1"), client.get(f"{SITES}/S1")
    body = {**FEATURE, "properties": {"name": "of the first"}}
    assert (
        client.put(f"{SITES}/S1", json=body, headers={"if-match": first.headers["etag"]}).status_code == 204
    )
    late = client.put(
        f"{SITES}/S1",
        json={**FEATURE, "properties": {"name": "late"}},
        headers={"if-match": second.headers["etag"]},
    )
    assert (late.status_code, late.headers["content-type"]) == (412, "application/problem+json")
    assert client.delete(f"{SITES}/S1", headers={"if-match": second.headers["etag"]}).status_code == 412
    for verb in (client.put, client.patch):
        assert verb(f"{SITES}/S1", json=body).status_code == 428
    assert client.delete(f"{SITES}/S1").status_code == 428
    assert client.get(f"{SITES}/S1").json()["properties"]["name"] == "of the first"


def test_content_crs_places_the_point(client):
    """20-002r1, /req/create-replace-delete/post-content-crs: latitude first in EPSG:4326."""
    body = {**FEATURE, "geometry": {"type": "Point", "coordinates": [-39.5, 10.5]}}
    made = client.post(
        SITES, json=body, headers={"content-crs": "<http://www.opengis.net/def/crs/EPSG/0/4326>"}
    )
    assert client.get(made.headers["location"]).json()["geometry"]["coordinates"] == [10.5, -39.5]


def test_bad_features_are_refused_with_the_field(client):
    point = FEATURE["geometry"]
    for body, word in (
        ({**FEATURE, "type": "Thing"}, "type"),
        ({**FEATURE, "geometry": None}, "geometry"),
        ({**FEATURE, "geometry": {"type": "LineString", "coordinates": [[0, 0], [1, 1]]}}, "geometry"),
        ({**FEATURE, "geometry": {**point, "coordinates": [True, 1]}}, "coordinates"),
        ({**FEATURE, "geometry": {**point, "coordinates": [1]}}, "coordinates"),
        ({**FEATURE, "properties": {}}, "name"),
        ({**FEATURE, "properties": {"name": "x", "colour": "red"}}, "colour"),
        ({**FEATURE, "properties": {"name": "x", "status": "perhaps"}}, "status"),
        ({**FEATURE, "properties": [1]}, "properties"),
    ):
        answer = client.post(SITES, json=body)
        assert answer.status_code == 422, (body, answer.text)
        assert answer.headers["content-type"] == "application/problem+json" and word in answer.text
    outside = client.post(SITES, json={**FEATURE, "geometry": {**point, "coordinates": [0, 95]}})
    assert outside.status_code == 400
    assert (
        client.post(SITES, content=b"{", headers={"content-type": "application/geo+json"}).status_code == 422
    )
    assert client.get(SITES).json()["numberMatched"] == 1


def test_other_layers_cannot_be_edited_and_say_so(client):
    refused = client.post("/ogc/collections/runs/items", json=FEATURE)
    assert (refused.status_code, refused.headers["allow"]) == (405, "GET, HEAD, OPTIONS")
    assert refused.headers["content-type"] == "application/problem+json"
    assert client.options("/ogc/collections/runs/items").headers["allow"] == "GET, HEAD, OPTIONS"
    assert "POST" in client.options(SITES).headers["allow"]
    assert "PATCH" in client.options(f"{SITES}/S1").headers["allow"]
    assert client.put(SITES, json=FEATURE).status_code == 405


def test_a_retired_site_is_not_there(client):
    assert client.put(f"{SITES}/S2", json=FEATURE, headers={"if-match": '"1"'}).status_code == 404
