"""Who may do what: every kind of route against every kind of caller."""

import base64
import re

import pytest
from fastapi import FastAPI
from fastapi.routing import iter_route_contexts
from fastapi.testclient import TestClient

from geo.base.errors import BadArgument
from services.app import create_app
from services.errors import NotKept
from services.http.rights import RateLimit, Right, TooMany, is_local
from services.settings import Settings
from services.store import tokens
from services.store.column_types import now
from services.store.engine import reading
from services.store.tables import token
from tests.services.conftest import DEMO
from tests.services.feature_samples import features_app, fill

SITES = "/ogc/collections/sites/items"
FEATURE = {
    "type": "Feature",
    "geometry": {"type": "Point", "coordinates": [1, 2]},
    "properties": {"name": "x"},
}


def bearer(text: str) -> dict[str, str]:
    return {"authorization": f"Bearer {text}"}


def basic(text: str) -> dict[str, str]:
    return {"authorization": "Basic " + base64.b64encode(f"anyone:{text}".encode()).decode()}


@pytest.fixture
def filled(store):
    fill(store.engine)
    return store


def client_of(store, host="203.0.113.9", **settings):
    """203.0.113.0/24 is for documentation (RFC 5737): a caller from elsewhere."""
    return TestClient(features_app(store.engine, Settings(**settings)), client=(host, 40000))


def test_a_lone_laptop_needs_no_token(filled):
    """The default: everybody reads, who sits at the machine edits, others do not."""
    for host in ("127.0.0.1", "127.9.9.9", "::1"):
        client = client_of(filled, host)
        assert client.get(SITES).status_code == 200
        assert client.post(SITES, json=FEATURE).status_code == 201
    elsewhere = client_of(filled)
    assert elsewhere.get(SITES).status_code == 200
    refused = elsewhere.post(SITES, json=FEATURE)
    assert (refused.status_code, refused.headers["content-type"]) == (403, "application/problem+json")
    assert "FETCHWATER_EDITING" in refused.json()["detail"]


@pytest.mark.parametrize("sent", [bearer, basic])
def test_roles(filled, sent):
    """Every role against reading, editing and administering, with reading closed."""
    made = {role: tokens.add(filled.engine, role, role) for role in tokens.ROLES}
    client = client_of(filled, "127.0.0.1", reading="closed", editing="tokens")
    wanted = {"reader": (200, 403), "planner": (200, 201), "administrator": (200, 201)}
    for role, (reads, edits) in wanted.items():
        assert client.get(SITES, headers=sent(made[role])).status_code == reads
        assert client.post(SITES, json=FEATURE, headers=sent(made[role])).status_code == edits, role
    for headers in (
        {},
        sent("fw_wrong"),
        sent(""),
        {"authorization": "Basic !!!"},
        {"authorization": "Bearer"},
    ):
        for answer in (client.get(SITES, headers=headers), client.post(SITES, json=FEATURE, headers=headers)):
            assert (answer.status_code, answer.headers["content-type"]) == (
                401,
                "application/problem+json",
            ), headers
            assert "Bearer" in answer.headers["www-authenticate"]
    assert client.get(SITES).json()["status"] == 401


def test_an_edit_is_signed_with_the_name_of_the_token(filled):
    made = tokens.add(filled.engine, "Duty desk", "planner")
    client = client_of(filled, editing="tokens")
    address = client.post(SITES, json=FEATURE, headers=bearer(made)).headers["location"]
    assert client.get(address).json()["properties"]["updated_by"] == "Duty desk"


def test_a_wrong_token_is_refused_even_where_none_is_needed(filled):
    """Who thinks to be signed in must not be served as somebody else."""
    assert client_of(filled, "127.0.0.1").get(SITES, headers=bearer("fw_gone")).status_code == 401


def test_revoked_and_expired_tokens_end_at_once(filled):
    client = client_of(filled, reading="closed", editing="tokens")
    made = tokens.add(filled.engine, "one", "reader")
    assert client.get(SITES, headers=bearer(made)).status_code == 200
    tokens.revoke(filled.engine, "one")
    assert client.get(SITES, headers=bearer(made)).status_code == 401
    old = tokens.add(filled.engine, "old", "reader", expires_at=now())
    assert client.get(SITES, headers=bearer(old)).status_code == 401
    again = tokens.add(filled.engine, "one", "reader")
    assert client.get(SITES, headers=bearer(again)).status_code == 200
    assert [one.name for one in tokens.listed(filled.engine)] == ["one", "old", "one"]


def test_only_the_hash_is_kept(filled):
    made = tokens.add(filled.engine, "one", "reader")
    assert len(made) >= 46 and made.startswith("fw_")
    with reading(filled.engine) as connection:
        kept = [str(value) for row in connection.execute(token.select()) for value in row]
    assert not [value for value in kept if made in value or made[3:] in value]
    # SHA-256 of "abc": FIPS 180-4, example in NIST's "Secure Hash Standard" test values.
    assert tokens.digest("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


def test_bad_names_and_roles_are_refused(filled):
    tokens.add(filled.engine, "one", "reader")
    for name, role in (
        ("one", "reader"),
        ("", "reader"),
        ("x\n", "reader"),
        ("y" * 81, "reader"),
        ("two", "king"),
    ):
        with pytest.raises(BadArgument):
            tokens.add(filled.engine, name, role)
    with pytest.raises(NotKept):
        tokens.revoke(filled.engine, "nobody")


def test_a_page_of_another_site_cannot_edit(filled):
    client = client_of(filled, "127.0.0.1")
    foreign = client.post(SITES, json=FEATURE, headers={"origin": "http://evil.example"})
    assert foreign.status_code == 403
    assert client.post(SITES, json=FEATURE, headers={"origin": "http://testserver"}).status_code == 201
    assert client.get(SITES, headers={"origin": "http://evil.example"}).status_code == 200


@pytest.mark.parametrize(
    "host",
    ["evil.example", "evil.example:8000", "localhost.evil.example", "127.0.0.1.evil.example", "[bad", ""],
)
def test_a_name_made_to_point_here_is_not_the_service(filled, host):
    """A stranger's page whose name leads to this machine: host and origin agree, and its browser sits here."""
    client = client_of(filled, "127.0.0.1")
    sent = {"host": host, "origin": f"http://{host}"}
    for answer in (client.post(SITES, json=FEATURE, headers=sent), client.get(SITES, headers=sent)):
        assert (answer.status_code, answer.headers["content-type"]) == (400, "application/problem+json")
        assert "FETCHWATER_HOST_NAMES" in answer.json()["detail"]


@pytest.mark.parametrize(
    "host",
    ["localhost", "LOCALHOST:8000", "127.0.0.1:8000", "[::1]:8000", "192.0.2.7", "hq.example:8000", "HQ"],
)
def test_the_services_own_names_are_taken(filled, host):
    client = client_of(filled, "127.0.0.1", host_names=" hq.example,hq")
    sent = {"host": host, "origin": f"http://{host}"}
    assert client.post(SITES, json=FEATURE, headers=sent).status_code == 201


QUESTIONS = ("/rankings", "/answers", "/today", "/fleets", "/nearest", "/fires/read")


def right_by_rule(method, path):
    """The rule, said apart from the routes: reading asks a reader, an edit a planner, tokens an administrator."""
    if path == "/health":
        return Right(None, counted=False)
    if path.startswith("/tokens"):
        return Right("administrator")
    if method == "POST" and path in QUESTIONS:
        return Right("reader", crew=True)
    return Right("reader" if method in ("GET", "OPTIONS") else "planner")


def rights_stated(dependant):
    """Every right among the dependencies of a route, at any depth."""
    own = {dependant.call} if isinstance(dependant.call, Right) else set()
    return own.union(*(rights_stated(one) for one in dependant.dependencies))


def test_each_route_states_one_right(workspace, data_dir):
    """Of all routes of the service, those of pages, files and documents too; a new one that states none fails."""
    app = create_app(Settings(region=DEMO, data_dir=data_dir))
    seen = set()
    for route in iter_route_contexts(app.routes):
        assert getattr(route, "dependant", None) is not None, f"{route.path} can state no right"
        for method in route.methods:
            assert rights_stated(route.dependant) == {right_by_rule(method, route.path)}, (
                f"{method} {route.path}"
            )
            seen.add((method, route.path))
    assert len(seen) > 60
    assert {("GET", "/static/{path:path}"), ("GET", "/openapi.json"), ("POST", "/rankings")} <= seen


def test_each_route_refuses_who_has_no_right(workspace, data_dir):
    """From elsewhere and without a token: with reading closed nothing but /health answers, else no edit is taken."""
    own = Settings(region=DEMO, data_dir=data_dir)
    closed, opened = (
        TestClient(create_app(one), client=("203.0.113.9", 40000))
        for one in (own.model_copy(update={"reading": "closed"}), own)
    )
    for route in iter_route_contexts(closed.app.routes):
        path = re.sub(r"{\w+(:path)?}", "x", route.path)
        for method in route.methods:
            right = right_by_rule(method, route.path)
            assert closed.request(method, path).status_code == (200 if right.role is None else 401), path
            if right.role in ("planner", "administrator"):
                assert opened.request(method, path).status_code == 403, path
    assert closed.get("/region", headers=bearer("fw_wrong")).status_code == 401
    # What no route has is told before a token is asked for, as REFERENCE.md says.
    assert closed.get("/no-such-address").status_code == 404
    assert closed.delete("/region").status_code == 405


def test_no_route_answers_a_foreign_host(workspace, data_dir):
    """Asked from this machine itself, with host and origin of a stranger's page."""
    client = TestClient(create_app(Settings(region=DEMO, data_dir=data_dir)), client=("127.0.0.1", 40000))
    foreign = {"host": "evil.example", "origin": "http://evil.example"}
    for route in iter_route_contexts(client.app.routes):
        path = re.sub(r"{\w+(:path)?}", "x", route.path)
        for method in route.methods:
            assert client.request(method, path, headers=foreign).status_code == 400, f"{method} {path}"


def test_a_route_without_a_right_is_found():
    """The walk above sees what it should see: a planted route states none."""
    app = FastAPI(openapi_url=None)
    app.get("/forgotten")(lambda: None)
    (route,) = iter_route_contexts(app.routes)
    assert rights_stated(route.dependant) == set()


def test_rate_limit_answers_429_with_the_seconds_to_wait(filled):
    client = client_of(filled, requests_per_minute=5)
    statuses = [client.get(SITES).status_code for _ in range(12)]
    # The minute may turn once while these run.
    assert statuses[:5] == [200] * 5 and 429 in statuses
    limited = next(answer for answer in (client.get(SITES) for _ in range(12)) if answer.status_code == 429)
    assert 1 <= int(limited.headers["retry-after"]) <= 60
    assert limited.headers["content-type"] == "application/problem+json"


def test_one_client_does_not_use_up_anothers_requests():
    rate = RateLimit(2)
    for client in ("a", "a", "b"):
        rate.count(client)
    with pytest.raises(TooMany):
        for _ in range(3):
            rate.count("a")
    RateLimit(0).count("a")


def test_what_counts_as_this_machine():
    assert all(is_local(host) for host in ("127.0.0.1", "127.1.2.3", "::1"))
    assert not any(
        is_local(host) for host in ("10.0.0.1", "0.0.0.0", "testclient", "localhost.evil.example", "", None)
    )
