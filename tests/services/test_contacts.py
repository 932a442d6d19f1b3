"""Whom to call stands in the store with names and numbers: readers see only that there is somebody."""

import subprocess
from datetime import date

import pytest
from fastapi.testclient import TestClient

from services.app import create_app
from services.settings import Settings
from services.store import sites, tokens
from services.store.site_record import FOR_PLANNERS
from tests.needs import needs
from tests.services.feature_samples import REGION, features_app, fill, listening
from tests.services.store_samples import RAMP
from tests.services.test_rights import bearer
from tests.services.tiny_region import write_tiny_region

NUMBER = "+00 555 0100"  # invented
ITEMS = "/ogc/collections/sites/items"
WITH_CONTACT = RAMP.model_copy(update={"contact": f"Ranger, {NUMBER}"})
ELSEWHERE = ("203.0.113.9", 40000)  # a caller from elsewhere (RFC 5737)


@pytest.fixture
def filled(store):
    fill(store.engine)
    sites.create(store.engine, REGION, WITH_CONTACT, "anna", "RAMP")
    sites.create(
        store.engine, REGION, RAMP.model_copy(update={"name": "Nobody's", "contact": None}), "anna", "NONE"
    )
    return store


def headers_of(engine, role):
    return {} if role is None else bearer(tokens.add(engine, f"the {role}", role))


@pytest.mark.parametrize(
    ("role", "sees"), [(None, False), ("reader", False), ("planner", True), ("administrator", True)]
)
def test_layers_and_pages_show_contacts_to_planners_only(filled, role, sees):
    client = TestClient(features_app(filled.engine, Settings(editing="tokens")), client=ELSEWHERE)
    headers = headers_of(filled.engine, role)
    for path in (
        ITEMS,
        f"{ITEMS}/RAMP",
        f"{ITEMS}?f=html",
        f"{ITEMS}/RAMP?f=html",
        f"{ITEMS}?filter=status='open'",
        f"{ITEMS}?bbox=-180,-90,180,90",
    ):
        answer = client.get(path, headers=headers)
        assert answer.status_code == 200, path
        assert (NUMBER in answer.text, FOR_PLANNERS in answer.text) == (sees, not sees), path
        assert "Authorization" in answer.headers["vary"]
    # Nobody written down stays empty, which is another thing than hidden.
    assert client.get(f"{ITEMS}/NONE", headers=headers).json()["properties"]["contact"] is None
    # What is not shown cannot be found out by a filter either.
    for query in ({"contact": WITH_CONTACT.contact}, {"filter": "contact LIKE '%0100%'"}):
        assert client.get(ITEMS, params=query, headers=headers).json()["numberMatched"] == (
            1 if sees else 0
        ), query
    for path in ("/ogc/collections/sites/queryables", "/ogc/api"):
        assert NUMBER not in client.get(path, headers=headers).text


def test_who_sits_at_the_machine_sees_them_while_no_token_is_needed(filled):
    client = TestClient(features_app(filled.engine), client=("127.0.0.1", 50000))
    assert NUMBER in client.get(ITEMS).text
    closed = TestClient(features_app(filled.engine, Settings(editing="tokens")), client=("127.0.0.1", 50000))
    assert NUMBER not in closed.get(ITEMS).text


@needs("ogr2ogr")
@pytest.mark.parametrize(("kind", "name"), [("GPKG", "sites.gpkg"), ("CSV", "sites.csv")])
@pytest.mark.parametrize("role", [None, "planner"])
def test_downloads_by_a_gis_show_no_more(new_store, tmp_path, kind, name, role):
    """GDAL's own driver of the standard writes the layer into a file, as a GIS does."""
    store = new_store("file")
    fill(store.engine)
    sites.create(store.engine, REGION, WITH_CONTACT, "anna", "RAMP")
    headers = headers_of(store.engine, role)
    told = [
        word
        for key, value in headers.items()
        for word in ("--config", "GDAL_HTTP_HEADERS", f"{key}: {value}")
    ]
    with listening(features_app(store.engine, Settings(editing="tokens"))) as address:
        subprocess.run(
            ["ogr2ogr", *told, "-f", kind, tmp_path / name, f"OAPIF:{address}/ogc", "sites"],
            check=True,
            timeout=120,
        )
    content = (tmp_path / name).read_bytes()
    assert (NUMBER.encode() in content, FOR_PLANNERS.encode() in content) == (role is not None, role is None)


def test_the_sites_page_s_own_requests(tmp_path):
    """/sites, a single site, its history and the due list, as the page asks them; and what an edit makes of it."""
    settings = Settings(
        region=write_tiny_region(tmp_path / "region"), data_dir=tmp_path / "data", editing="tokens"
    )
    with TestClient(create_app(settings), client=ELSEWHERE) as client:
        engine, name = client.app.state.workspace.store.engine, client.app.state.workspace.region.name
        due = {"inspection_due": date(2026, 11, 1)}
        made = sites.create(engine, name, WITH_CONTACT.model_copy(update=due), "anna")
        planner, at = headers_of(engine, "planner"), f"/sites/{made.site_id}"
        for path in ("/sites", at, f"{at}/history", "/sites/due?before=2100-01-01"):
            hidden, shown = client.get(path).text, client.get(path, headers=planner).text
            assert NUMBER not in hidden and FOR_PLANNERS in hidden, path
            assert NUMBER in shown and FOR_PLANNERS not in shown, path
        # A page that was read without a token is saved with one: the number must not be lost.
        read = client.get(at)
        own = ("site_id", "region_id", "revision", "retired", "created_at", "updated_at", "updated_by")
        fields = {key: value for key, value in read.json().items() if key not in own}
        match = {"if-match": read.headers["etag"]}
        done = client.put(at, json=fields | {"note": "seen"}, headers=planner | match)
        assert done.status_code == 200 and done.json()["contact"] == WITH_CONTACT.contact
        match = {"if-match": done.headers["etag"]}
        patch = {"properties": {"contact": FOR_PLANNERS, "note": "again"}}
        assert client.patch(f"{ITEMS}/{made.site_id}", json=patch, headers=planner | match).status_code == 204
        assert client.get(at, headers=planner).json()["contact"] == WITH_CONTACT.contact
        # A new site copied from what a reader saw has no contact at all.
        new = client.post("/sites", json=fields | {"name": "copy"}, headers=planner)
        assert new.status_code == 201 and new.json()["contact"] is None
