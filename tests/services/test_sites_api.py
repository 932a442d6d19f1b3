"""Sites over HTTP: ETag and If-Match (RFC 9110, 8.8.3 and 13.1.1; 428 of RFC 6585), problem documents, photos."""

import pytest
from fastapi.testclient import TestClient

from services.app import create_app
from services.settings import Settings
from tests.services.store_samples import PNG
from tests.services.tiny_region import CENTRE, LAKES, write_tiny_region

SITE = {
    "name": "Ramp",
    "longitude_deg": -128.014,
    "latitude_deg": -47.008,
    "status": "open",
    "effect": "confirm",
}
QUESTION = {"fire": "F1", "wind": "300/18kt", "oat": "24C", "qnh": "1009", "day": "2026-01-31"}


@pytest.fixture(scope="session")
def tiny(tmp_path_factory):
    return write_tiny_region(tmp_path_factory.mktemp("region") / "tiny")


@pytest.fixture(scope="module")
def client(tiny, tmp_path_factory):
    settings = Settings(region=tiny, data_dir=tmp_path_factory.mktemp("api"))
    with TestClient(create_app(settings), client=("127.0.0.1", 50000)) as client:
        yield client


@pytest.fixture
def site(client):
    made = client.post("/sites", json=SITE)
    assert made.status_code == 201, made.text
    yield made
    site_id = made.json()["site_id"]
    client.delete(f"/sites/{site_id}", headers={"If-Match": "*"})


def at(response):
    return f"/sites/{response.json()['site_id']}"


def test_a_site_is_made_read_and_listed(client, site):
    assert site.headers["etag"] == '"1"' and site.headers["location"] == at(site)
    read = client.get(at(site))
    assert read.json() == site.json() and read.headers["etag"] == '"1"'
    assert read.json()["updated_by"] == "local user"
    assert [one["site_id"] for one in client.get("/sites").json()] == [site.json()["site_id"]]
    x, y = CENTRE
    assert client.get("/sites", params={"bbox": f"{x},{y},{x + 1},{y + 1}"}).json() == []
    assert len(client.get("/sites", params={"bbox": f"{x - 1},{y - 1},{x},{y}"}).json()) == 1


def test_a_site_of_a_water_that_is_not_there_is_refused(client, site):
    """Kept, it would rule nothing: a veto of a mistyped water left that water in its rank and nobody was told."""
    veto = SITE | {"effect": "veto", "status": "closed", "body_id": "L9"}
    for answer in (
        client.post("/sites", json=veto),
        client.put(at(site), json=veto, headers={"If-Match": '"1"'}),
        client.patch(at(site), json={"body_id": "L9"}, headers={"If-Match": '"1"'}),
    ):
        assert answer.status_code == 422, answer.text
        (fault,) = answer.json()["errors"]
        assert (fault["field"], fault["value"]) == ("body_id", "L9") and fault["cure"]
    assert client.get(at(site)).headers["etag"] == '"1"'


def test_a_site_may_name_its_water_by_name(client, site):
    done = client.patch(at(site), json={"body_id": "Lake L2"}, headers={"If-Match": '"1"'})
    assert (done.status_code, done.json()["body_id"]) == (200, "L2")


def test_a_veto_that_lies_at_no_water_is_said_in_every_ranking(client):
    far = SITE | {"name": "adrift", "latitude_deg": -46.9, "effect": "veto", "status": "closed"}
    made = client.post("/sites", json=far)
    assert made.status_code == 201, made.text
    said = client.post("/rankings", json=QUESTION).json()["cautions"]
    assert any("'adrift'" in one and "counts nowhere" in one for one in said)
    assert any("'adrift'" in one for one in client.get("/region").json()["cautions"])
    client.delete(at(made), headers={"If-Match": "*"})
    assert not any("'adrift'" in one for one in client.post("/rankings", json=QUESTION).json()["cautions"])


def test_true_is_no_latitude_and_blanks_are_no_name(client):
    """Both were kept: true as 1 degree north; the blank name broke the list of all sites."""
    for wrong, field in (({"latitude_deg": True}, "latitude_deg"), ({"name": "   "}, "name")):
        answer = client.post("/sites", json=SITE | wrong)
        assert (answer.status_code, answer.json()["errors"][0]["field"]) == (422, f"body.{field}")


@pytest.mark.parametrize("verb", ["put", "patch", "delete", "undo", "restore"])
def test_an_edit_without_if_match_is_428_and_with_an_old_one_412(client, site, verb):
    body = SITE | {"note": "mine"}

    def edit(**headers):
        if verb in ("undo", "restore"):
            return client.post(f"{at(site)}/{verb}", headers=headers)
        return client.request(verb, at(site), headers=headers, **({} if verb == "delete" else {"json": body}))

    assert edit().status_code == 428
    assert client.patch(at(site), json={"note": "theirs"}, headers={"If-Match": '"1"'}).status_code == 200
    late = edit(**{"If-Match": '"1"'})
    if verb == "undo":
        late = client.post(f"{at(site)}/undo", params={"revision": 1}, headers={"If-Match": '"1"'})
    assert late.status_code == 412 and late.headers["content-type"] == "application/problem+json"
    told = late.json()
    assert (told["present"]["note"], told["present"]["revision"]) == ("theirs", 2)
    assert "Fix" in told["detail"] and ("yours" in told)
    if verb in ("put", "patch"):
        assert told["yours"]["note"] == "mine"
    assert client.get(at(site)).json()["note"] == "theirs"


def test_changes_history_undo_and_retirement(client, site):
    one = client.patch(at(site), json={"note": "dry", "status": "closed"}, headers={"If-Match": '"1"'})
    assert (one.headers["etag"], one.json()["status"]) == ('"2"', "closed")
    two = client.patch(at(site), json={"note": None}, headers={"If-Match": '"2"'})
    assert two.json()["note"] is None
    back = client.post(f"{at(site)}/undo", headers={"If-Match": '"3"'})
    assert (back.json()["note"], back.headers["etag"]) == ("dry", '"4"')
    gone = client.delete(at(site), headers={"If-Match": '"4"'})
    assert gone.json()["retired"] and client.get("/sites").json() == []
    assert len(client.get("/sites", params={"retired": True}).json()) >= 1
    assert not client.post(f"{at(site)}/restore", headers={"If-Match": '"5"'}).json()["retired"]
    actions = [one["action"] for one in client.get(f"{at(site)}/history").json()]
    assert actions == ["restore", "retire", "undo", "update", "update", "create"]


def test_what_is_due(client, site):
    found = client.get("/sites/due", params={"before": "2026-11-01"}).json()
    assert [(one["name"], one["what"]) for one in found] == [("Ramp", "inspection, never made")]
    assert client.get("/sites/due").status_code == 400
    assert client.get("/sites/due", params={"before": "soon"}).status_code == 400


def test_photos(client, site):
    made = client.post(f"{at(site)}/photos", content=PNG, params={"caption": "from the air"})
    assert made.status_code == 201, made.text
    (head,) = client.get(f"{at(site)}/photos").json()
    assert head == made.json() and head["caption"] == "from the air"
    read = client.get(f"/photos/{head['photo_id']}")
    assert read.content == PNG and read.headers["content-type"] == "image/png"
    assert read.headers["x-content-type-options"] == "nosniff"
    # A photo may be larger than any other body.
    big = client.post(f"{at(site)}/photos", content=PNG + bytes(2_000_000))
    assert big.status_code == 201
    assert client.post(f"{at(site)}/photos", content=PNG + bytes(11 * 1024**2)).status_code == 413
    refused = client.post(f"{at(site)}/photos", content=b"<html>")
    assert refused.status_code == 422 and "JPEG" in refused.json()["detail"]
    assert client.delete(f"/photos/{head['photo_id']}").status_code == 204
    assert len(client.get(f"{at(site)}/photos").json()) == 1


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"status": "shut"}, "status"),
        ({"latitude_deg": 95}, "latitude_deg"),
        ({"effect": "limit"}, "most_litres"),
        ({"colour": "red"}, "colour"),
        ({"name": "a\u0000b"}, "name"),
    ],
)
def test_bad_fields_are_named(client, site, change, field):
    made = client.post("/sites", json=SITE | change)
    assert made.status_code == 422 and field in made.text
    patched = client.patch(at(site), json=change, headers={"If-Match": "*"})
    assert patched.status_code == 422 and field in patched.text
    assert client.get(at(site)).json()["revision"] == 1


@pytest.mark.parametrize("tag", ["2", '"x"', 'W/"1"', '""', '"2", "3"', '"99999999999999"'])
def test_an_if_match_that_is_not_the_present_etag_changes_nothing(client, site, tag):
    """RFC 9110, 13.1.1: strong comparison, a list holds where one of its tags does."""
    assert client.delete(at(site), headers={"If-Match": tag}).status_code == 412
    assert not client.get(at(site)).json()["retired"]
    assert client.delete(at(site), headers={"If-Match": '"7", "1"'}).status_code == 200


def test_unknown_ones_are_404(client):
    for path in ("/sites/none", "/sites/none/history", "/sites/none/photos", "/photos/none"):
        answer = client.get(path)
        assert (answer.status_code, answer.headers["content-type"]) == (404, "application/problem+json"), path


def test_a_site_counts_in_the_next_ranking(client, site):
    """Open it confirms, as a limit it caps the load, closed it rules the lake out; retired it says nothing."""

    def ranked():
        answer = client.post("/rankings", json=QUESTION).json()
        found = {one["body_id"]: one for one in answer["sources"]}
        return found, {one["body_id"]: one for one in answer["excluded"]}

    name = f"Ramp ({site.json()['site_id']} revision 1, not dated)"
    sources, _ = ranked()
    notes = {c["name"]: c["reason"] for c in sources["L1"]["assessment"]["criteria"]}
    assert notes["site notes"] == f"say open: {name}"
    assert {c["name"]: c["reason"] for c in sources["L2"]["assessment"]["criteria"]}["site notes"] == "none"
    # Less than a hover lifts here with full fuel, so that the note rules.
    limit = {"effect": "limit", "most_litres": 6000.0}
    client.patch(at(site), json=limit, headers={"If-Match": "*"})
    sources, _ = ranked()
    assert sources["L1"]["cycle"]["litres"] == 6000.0
    assert sources["L1"]["assessment"]["litres_ruled_by"] == "site note Ramp"
    client.patch(
        at(site), json={"effect": None, "most_litres": None, "status": "closed"}, headers={"If-Match": "*"}
    )
    client.patch(at(site), json={"effect": "veto"}, headers={"If-Match": "*"})
    sources, excluded = ranked()
    assert set(sources) == {"L2"} and "Ramp (" in excluded["L1"]["reason"]
    client.delete(at(site), headers={"If-Match": "*"})
    sources, _ = ranked()
    assert set(sources) == set(LAKES)
