"""Annotated sites in both stores: history, undo, conflicts, due list, photos."""

from concurrent.futures import ThreadPoolExecutor
from datetime import date

import pytest
from pydantic import ValidationError
from sqlalchemy import func, select

from geo.base.errors import BadArgument
from services.core.expiring import items_expiring
from services.errors import Conflict, NotKept
from services.store import photos, sites
from services.store.engine import reading
from services.store.site_record import SiteFields
from services.store.tables import site_change
from tests.services.store_samples import PNG, RAMP


def changed(**fields):
    return RAMP.model_copy(update=fields)


def test_a_site_comes_back_as_it_was_written(store):
    made = sites.create(store.engine, "made", RAMP, "anna")
    found = sites.get(store.engine, made.site_id)
    assert found == made and found.fields == RAMP
    assert (found.revision, found.retired, found.updated_by) == (1, False, "anna")
    with pytest.raises(NotKept, match="Fix"):
        sites.get(store.engine, "nobody")
    with pytest.raises(BadArgument, match="taken"):
        sites.create(store.engine, "made", RAMP, "ben", made.site_id)


def test_every_change_is_kept_with_who_before_and_after(store):
    made = sites.create(store.engine, "made", RAMP, "anna", "S1")
    sites.update_site(store.engine, "S1", changed(status="closed", note="dry"), made.revision, "ben")
    sites.retire(store.engine, "S1", 2, "carl")
    found = sites.history(store.engine, "S1")
    assert [(one["revision"], one["action"], one["changed_by"]) for one in found] == [
        (3, "retire", "carl"),
        (2, "update", "ben"),
        (1, "create", "anna"),
    ]
    assert found[2]["before"] is None and found[2]["after"]["status"] == "open"
    assert (found[1]["before"]["status"], found[1]["after"]["status"]) == ("open", "closed")
    assert found[1]["changed_at"].endswith("Z")


def test_nothing_is_deleted_for_good(store):
    sites.create(store.engine, "made", RAMP, "anna", "S1")
    assert sites.retire(store.engine, "S1", 1, "ben").retired
    assert sites.listed(store.engine, "made") == []
    assert [one.site_id for one in sites.listed(store.engine, "made", retired=True)] == ["S1"]
    with pytest.raises(BadArgument, match="restore"):
        sites.update_site(store.engine, "S1", RAMP, 2, "carl")
    assert sites.restore(store.engine, "S1", 2, "anna").fields == RAMP
    assert len(sites.listed(store.engine, "made")) == 1


def test_undo_brings_back_what_was_and_is_itself_kept(store):
    sites.create(store.engine, "made", RAMP, "anna", "S1")
    sites.update_site(store.engine, "S1", changed(note="second", longitude_deg=-128.2), 1, "ben")
    sites.update_site(store.engine, "S1", changed(note="third"), 2, "carl")
    assert sites.undo(store.engine, "S1", 3, "dora").fields == changed(note="second", longitude_deg=-128.2)
    assert sites.undo(store.engine, "S1", 4, "dora", to_revision=1).fields == RAMP
    assert sites.undo(store.engine, "S1", 5, "dora").fields.note == "second"
    sites.retire(store.engine, "S1", 6, "anna")
    assert not sites.undo(store.engine, "S1", 7, "anna").retired
    assert [one["action"] for one in sites.history(store.engine, "S1")][:2] == ["undo", "retire"]
    sites.create(store.engine, "made", RAMP, "anna", "S2")
    with pytest.raises(BadArgument, match="retire"):
        sites.undo(store.engine, "S2", 1, "anna")
    with pytest.raises(NotKept, match="revision 77"):
        sites.undo(store.engine, "S2", 1, "anna", to_revision=77)


def test_the_second_of_two_editors_is_told_with_both_versions(store):
    sites.create(store.engine, "made", RAMP, "anna", "S1")
    sites.update_site(store.engine, "S1", changed(note="of ben"), 1, "ben")
    with pytest.raises(Conflict, match="ben") as told:
        sites.update_site(store.engine, "S1", changed(note="of carl"), 1, "carl")
    assert (told.value.present["note"], told.value.yours["note"]) == ("of ben", "of carl")
    assert told.value.present["revision"] == 2
    assert sites.get(store.engine, "S1").fields.note == "of ben"
    for verb in (sites.retire, sites.restore):
        with pytest.raises(Conflict):
            verb(store.engine, "S1", 1, "carl")
    with pytest.raises(Conflict):
        sites.undo(store.engine, "S1", 1, "carl", to_revision=1)


def test_no_edit_is_lost_among_eight_editors(store):
    """Each adds its letter 10 times, reading again when told: all 80 letters are there, and 81 revisions."""
    sites.create(store.engine, "made", changed(note="."), "anna", "S1")

    def edit(letter):
        for _ in range(10):
            while True:
                seen = sites.get(store.engine, "S1")
                try:
                    wanted = seen.fields.model_copy(update={"note": seen.fields.note + letter})
                    sites.update_site(store.engine, "S1", wanted, seen.revision, letter)
                    break
                except Conflict:
                    continue

    with ThreadPoolExecutor(8) as pool:
        list(pool.map(edit, "abcdefgh"))
    found = sites.get(store.engine, "S1")
    assert sorted(found.fields.note) == sorted("." + "abcdefgh" * 10) and found.revision == 81
    with reading(store.engine) as connection:
        assert connection.scalar(select(func.count()).select_from(site_change)) == 81


def test_what_is_due_before_the_season(store):
    season = date(2026, 11, 1)
    sites.create(store.engine, "made", changed(name="A", inspection_due=date(2026, 10, 31)), "a")
    sites.create(
        store.engine, "made", changed(name="B", inspection_due=season), "a"
    )  # on the first day it still holds
    sites.create(
        store.engine, "made",
        changed(name="C", permission="granted", permission_to=date(2026, 6, 30), contact="the owner"), "a",
    )  # fmt: skip
    sites.create(store.engine, "made", changed(name="D", depth_evidence_to=date(2026, 9, 1)), "a")
    sites.create(store.engine, "made", changed(name="E", inspected_on=None), "a")
    sites.create(store.engine, "elsewhere", changed(name="F", inspected_on=None), "a")
    gone = sites.create(store.engine, "made", changed(name="G", inspected_on=None), "a")
    sites.retire(store.engine, gone.site_id, 1, "a")
    found = [(one["name"], one["what"], one["on"]) for one in items_expiring(store, "made", season)]
    assert found == [
        ("E", "inspection, never made", None),
        ("C", "permission", "2026-06-30"),
        ("D", "depth evidence", "2026-09-01"),
        ("A", "inspection", "2026-10-31"),
    ]


def test_old_and_undated_depth_evidence_is_due(workspace):
    """The demo region's evidence, held against its own records: the oldest date and five years."""
    season, region = date(2026, 11, 1), workspace.region
    found = items_expiring(workspace.store, region.name, season, evidence_years=5)
    old = {
        body.name
        for body in region.bodies
        if (measured := region.soundings.of(body.body_id).measured_on)
        and (None in measured or min(measured) < date(2021, 11, 1))
    }
    assert {one["name"] for one in found if one["what"].startswith("soundings")} == old
    assert [one["on"] or "" for one in found] == sorted(one["on"] or "" for one in found)
    assert len(items_expiring(workspace.store, region.name, season, evidence_years=100)) <= len(found)


def test_photos_are_kept_with_their_bytes(store):
    sites.create(store.engine, "made", RAMP, "anna", "S1")
    made = photos.add(store.engine, "S1", PNG, "ben", caption="ramp", taken_on=date(2026, 1, 3))
    # SHA-256 by `sha256sum` over the same bytes.
    assert made.sha256 == "9d0c38e7aafe062c3a6dfc561e42771ec997d9359bb3d417ac4775a303292964"
    assert (made.media_type, made.size_bytes) == ("image/png", len(PNG))
    assert photos.content(store.engine, made.photo_id) == PNG
    assert photos.of_site(store.engine, "S1") == [made]
    photos.retire(store.engine, made.photo_id, "carl")
    assert photos.of_site(store.engine, "S1") == []
    assert photos.content(store.engine, made.photo_id) == PNG
    actions = [one["action"] for one in sites.history(store.engine, "S1")]
    assert actions == [f"photo {made.photo_id} retired", f"photo {made.photo_id} added", "create"]


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"<svg xmlns='http://www.w3.org/2000/svg'/>",
        b"GIF89a",
        b"RIFF1234WAVE",
        b"\xff\xd8\xff" + bytes(photos.MAX_BYTES),
    ],
    ids=["empty", "svg", "gif", "wave", "too large"],
)
def test_what_is_no_picture_is_refused(store, content):
    sites.create(store.engine, "made", RAMP, "anna", "S1")
    with pytest.raises(BadArgument, match="Fix"):
        photos.add(store.engine, "S1", content, "ben")
    assert len(sites.history(store.engine, "S1")) == 1


GOOD = {"name": "A", "longitude_deg": 1.0, "latitude_deg": 2.0}


@pytest.mark.parametrize(
    "change",
    [
        {"name": ""},
        {"name": "   \x00"},
        {"name": "x" * 201},
        {"note": "half \ud800"},
        {"latitude_deg": 91.0},
        {"longitude_deg": float("nan")},
        {"status": "shut"},
        {"status": "seasonal"},
        {"season_from": "11-01", "season_to": "03-31"},
        {"status": "seasonal", "season_from": "13-01", "season_to": "03-31"},
        {"status": "seasonal", "season_from": "02-29", "season_to": "03-31"},
        {"effect": "limit"},
        {"most_litres": 500.0},
        {"effect": "limit", "most_litres": -1.0},
        {"permission_to": "2026-01-01"},
        {"permission": "refused", "permission_to": "2026-01-01"},
        {"valid_from": "2026-02-01", "valid_to": "2026-01-01"},
        {"inspected_on": "0206-01-01"},
        {"effect": "veto", "status": "open"},
        {"colour": "red"},
    ],
)
def test_fields_that_do_not_hang_together_are_refused(change):
    assert SiteFields.model_validate(GOOD).name == "A"
    with pytest.raises(ValidationError):
        SiteFields.model_validate(GOOD | change)
