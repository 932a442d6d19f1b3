"""Every fault is a problem document (RFC 9457), on every route; the page of all requests loads nothing."""

import re

import pytest
from fastapi.testclient import TestClient

from services.app import create_app
from services.settings import Settings
from tests.services.conftest import DEMO


@pytest.fixture(scope="module")
def app(workspace, data_dir):
    return create_app(Settings(region=DEMO, data_dir=data_dir))


@pytest.fixture(scope="module")
def client(app):
    with TestClient(app, client=("127.0.0.1", 50000)) as client:
        yield client


def test_unknown_parameters_are_refused_on_every_route(app, client):
    for path, verbs in app.openapi()["paths"].items():
        for verb in verbs:
            address = re.sub(r"\{[^}]+\}", "1", path)
            answer = client.request(verb.upper(), address, params={"ooga": "1"})
            assert answer.status_code in (400, 422), (verb, path, answer.status_code)
            assert answer.headers["content-type"] == "application/problem+json", path


def test_verbs_that_a_path_has_not_are_405_with_all_that_it_has(client):
    """RFC 9110, 15.5.6."""
    answer = client.request("PATCH", "/jobs/none")
    assert (answer.status_code, answer.headers["content-type"]) == (405, "application/problem+json")
    assert answer.headers["allow"] == "DELETE, GET, HEAD"


def test_head_is_answered_as_get_without_its_content(app, client):
    """RFC 9110, 9.3.2: the same status and headers as GET, no content."""
    for path in ("/health", "/region", "/sites", "/ogc", "/ogc/collections/water_bodies/items"):
        got, asked = client.get(path), client.head(path)
        assert (asked.status_code, asked.content) == (200, b""), path
        for name in ("content-type", "content-length"):
            assert asked.headers[name] == got.headers[name], (path, name)
    assert client.head("/nothing").status_code == 404
    assert client.head("/rankings").status_code == 405


def test_a_parameter_that_comes_twice_is_refused(client):
    """A second bbox took the place of the first and nobody was told."""
    answer = client.get("/sites", params={"bbox": ["-180,-90,180,90", "1,2,3,4"]})
    assert (answer.status_code, answer.json()["errors"][0]["field"]) == (400, "bbox")


def test_a_name_that_stands_twice_in_a_body_is_refused(client):
    """RFC 8259, 4: which of the two counts is not said. The second longitude won silently."""
    place = '"longitude_deg": -128.0, "longitude_deg": -129.0, "latitude_deg": -47.0'
    feature = '{"type": "Feature", "properties": {"name": "a", "name": "b"}}'
    kind = {"content-type": "application/geo+json"}
    for path, body, name in (
        ("/sites", '{"name": "a", ' + place + "}", "longitude_deg"),
        ("/nearest", "{" + place + ', "aircraft": "light_bucket_helicopter"}', "longitude_deg"),
        ("/ogc/collections/sites/items", feature, "name"),
    ):
        answer = client.post(path, content=body, headers=kind)
        assert (answer.status_code, answer.json()["errors"][0]["field"]) == (422, f"body.{name}"), path


def test_a_body_in_no_encoding_names_the_cure(client):
    answer = client.post("/sites", content=b'{"name":"\xff"}', headers={"content-type": "application/json"})
    assert answer.status_code == 400 and "UTF-8" in answer.json()["detail"]


def test_a_fleet_is_never_a_file_of_the_server(client):
    question = {"wind": "0/0kt", "oat": "20C", "qnh": "1013", "aircraft": "light_bucket_helicopter"}
    rules = [
        client.post("/fleets", json=question | {"fire": path}).json()["errors"][0]["rule"]
        for path in (str(DEMO / "fires.geojson"), "/nowhere/fires.geojson")
    ]
    assert rules[0] == rules[1]


def test_a_fault_of_the_program_tells_nothing_of_its_inside(app, monkeypatch):
    def broken(*_):
        raise RuntimeError("secret of the inside")

    monkeypatch.setattr("geo.pipeline.summary", broken)
    answer = TestClient(app, raise_server_exceptions=False).get("/region")
    assert (answer.status_code, answer.headers["content-type"]) == (500, "application/problem+json")
    assert "secret" not in answer.text


def test_the_page_of_all_requests_needs_no_network(app, client):
    text = client.get("/docs").text
    assert not re.search(r"""(src|href)=["'](https?:)?//""", text)
    for path in app.openapi()["paths"]:
        assert path in text, path
