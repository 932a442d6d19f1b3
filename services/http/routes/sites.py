"""Annotated sites over HTTP: every edit names the revision that it changes, and nothing is deleted for good."""

from typing import Annotated, Any

from fastapi import APIRouter, Body, Path, Query, Response
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from pydantic import ValidationError

from geo.records.expiring import Expiring
from services.core.expiring import items_expiring
from services.core.workspace import Workspace
from services.errors import BadQuery, NotKept
from services.http.dependencies import RawBody, Ready
from services.http.etags import revision_named
from services.http.rights import READERS, Planner, SeesContacts
from services.http.site_forms import (
    Caption,
    Change,
    IfMatch,
    Site,
    TakenOn,
    site_answer,
)
from services.store import photos, sites
from services.store.site_record import SiteFields, SiteRecord, WrittenDay, for_readers

router = APIRouter(tags=["annotated sites"])
SiteId = Annotated[str, Path(max_length=100)]
PICTURE = {
    kind: {"schema": {"type": "string", "format": "binary"}}
    for kind in ("image/jpeg", "image/png", "image/webp")
}


def _of_region(workspace: Workspace, site_id: str) -> SiteRecord:
    record = sites.get(workspace.store.engine, site_id)
    if record.region_id != workspace.region.name:
        raise NotKept(f"no site {site_id!r} is kept. Fix: list the sites to see their ids")
    return record


def _box(text: str | None) -> sites.Box | None:
    if text is None:
        return None
    try:
        west, south, east, north = (float(part) for part in text.split(","))
    except ValueError as problem:
        raise BadQuery("bbox", "needs four numbers", "west,south,east,north in WGS 84 degrees") from problem
    if not (-180 <= west <= 180 and -180 <= east <= 180 and -90 <= south <= north <= 90):
        raise BadQuery("bbox", "lies outside the world, or south above north", "west,south,east,north")
    return west, south, east, north


@router.get("/sites", dependencies=[READERS], response_model=list[Site])
def list_sites(
    workspace: Ready,
    whole: SeesContacts,
    retired: Annotated[bool, Query(description="also retired sites")] = False,
    bbox: Annotated[str | None, Query(description="west,south,east,north in WGS 84", max_length=200)] = None,
) -> Response:
    """All annotated sites of the region by name."""
    found = sites.listed(workspace.store.engine, workspace.region.name, retired=retired, box=_box(bbox))
    # As kept: checked against today's rules again, one odd record would hide all the others.
    documents = [record.document() for record in found]
    return JSONResponse(documents if whole else [for_readers(one) for one in documents])


@router.get("/sites/due", dependencies=[READERS], response_model=list[Expiring])
def due_sites(
    workspace: Ready,
    whole: SeesContacts,
    before: Annotated[WrittenDay, Query(description="first day of the season, YYYY-MM-DD")],
    evidence_years: Annotated[
        int | None, Query(ge=1, le=100, description="also depth evidence older than that")
    ] = None,
) -> Any:
    """What expires before a day: inspections, permissions, depth evidence; the soonest first."""
    found = items_expiring(workspace.store, workspace.region.name, before, evidence_years)
    return found if whole else [for_readers(one) for one in found]


@router.post("/sites", status_code=201, response_model=Site)
def create_site(fields: SiteFields, workspace: Ready, who: Planner) -> Response:
    """Keep a new site; it counts at once. Location says where it is."""
    made = sites.create(workspace.store.engine, workspace.region.name, fields, who)
    return site_answer(made, 201, {"Location": f"/sites/{made.site_id}"})


@router.get("/sites/{site_id}", dependencies=[READERS], response_model=Site)
def read_site(site_id: SiteId, workspace: Ready, whole: SeesContacts) -> Response:
    """One site with its ETag, a retired one too."""
    return site_answer(_of_region(workspace, site_id), whole=whole)


@router.put("/sites/{site_id}", response_model=Site)
def replace_site(
    site_id: SiteId, fields: SiteFields, workspace: Ready, who: Planner, if_match: IfMatch = None
) -> Response:
    """Put new fields in the place of all old ones; 412 with both versions where somebody else changed it first."""
    revision = revision_named(if_match, _of_region(workspace, site_id).revision)
    return site_answer(sites.update_site(workspace.store.engine, site_id, fields, revision, who))


@router.patch("/sites/{site_id}", response_model=Site)
def change_site(
    site_id: SiteId,
    changes: Annotated[dict[str, Any], Body(examples=[{"status": "closed", "note": "dry"}])],
    workspace: Ready,
    who: Planner,
    if_match: IfMatch = None,
) -> Response:
    """Change some fields (RFC 7396: null empties one); 412 with both versions where somebody else changed it first."""
    present = _of_region(workspace, site_id)
    revision = revision_named(if_match, present.revision)
    fields = _changed(present, changes)
    return site_answer(sites.update_site(workspace.store.engine, site_id, fields, revision, who))


def _changed(present: SiteRecord, changes: dict[str, Any]) -> SiteFields:
    try:
        return sites.changed(present, changes)
    except ValidationError as error:
        faults = [{**one, "loc": ("body", *one["loc"])} for one in error.errors()]
        raise RequestValidationError(faults) from error


@router.delete("/sites/{site_id}", response_model=Site)
def retire_site(site_id: SiteId, workspace: Ready, who: Planner, if_match: IfMatch = None) -> Response:
    """Retire a site: it no longer counts, stays in the store with its history, and `restore` brings it back."""
    revision = revision_named(if_match, _of_region(workspace, site_id).revision)
    return site_answer(sites.retire(workspace.store.engine, site_id, revision, who))


@router.post("/sites/{site_id}/restore", response_model=Site)
def restore_site(site_id: SiteId, workspace: Ready, who: Planner, if_match: IfMatch = None) -> Response:
    """Restore a retired site: it counts again."""
    revision = revision_named(if_match, _of_region(workspace, site_id).revision)
    return site_answer(sites.restore(workspace.store.engine, site_id, revision, who))


@router.post("/sites/{site_id}/undo", response_model=Site)
def undo_site(
    site_id: SiteId,
    workspace: Ready,
    who: Planner,
    if_match: IfMatch = None,
    revision: Annotated[
        int | None, Query(ge=1, le=1_000_000_000, description="default: the one before")
    ] = None,
) -> Response:
    """Bring a site back to an earlier revision; what is undone stays in its history."""
    seen = revision_named(if_match, _of_region(workspace, site_id).revision)
    return site_answer(sites.undo(workspace.store.engine, site_id, seen, who, revision))


@router.get("/sites/{site_id}/history", dependencies=[READERS], response_model=list[Change])
def site_history(site_id: SiteId, workspace: Ready, whole: SeesContacts) -> Any:
    """Every change of a site, the newest first: who, when, before, after."""
    _of_region(workspace, site_id)
    found = sites.history(workspace.store.engine, site_id)
    if not whole:
        for one in found:
            one |= {side: one[side] and for_readers(one[side]) for side in ("before", "after")}
    return found


@router.get("/sites/{site_id}/photos", dependencies=[READERS], response_model=list[photos.PhotoHead])
def site_photos(site_id: SiteId, workspace: Ready) -> Any:
    """The photos of a site, without their bytes."""
    _of_region(workspace, site_id)
    return photos.of_site(workspace.store.engine, site_id)


@router.post(
    "/sites/{site_id}/photos",
    status_code=201,
    response_model=photos.PhotoHead,
    openapi_extra={"requestBody": {"required": True, "content": PICTURE}},
    max_body_size=photos.MAX_BYTES + 1,
)
def add_photo(
    site_id: SiteId,
    workspace: Ready,
    who: Planner,
    content: RawBody,
    caption: Caption = None,
    taken_on: TakenOn = None,
) -> Any:
    """Keep a JPEG, PNG or WebP picture of a site: the bytes are the body."""
    _of_region(workspace, site_id)
    return photos.add(workspace.store.engine, site_id, content, who, caption=caption, taken_on=taken_on)


@router.get(
    "/photos/{photo_id}",
    dependencies=[READERS],
    response_class=Response,
    responses={200: {"content": PICTURE}},
)
def read_photo(photo_id: SiteId, workspace: Ready) -> Response:
    """The bytes of a photo."""
    head = photos.head(workspace.store.engine, photo_id)
    _of_region(workspace, head.site_id)
    # A picture of somebody else's must never run as a page of ours.
    headers = {"X-Content-Type-Options": "nosniff", "Content-Security-Policy": "default-src 'none'; sandbox"}
    return Response(photos.content(workspace.store.engine, photo_id), 200, headers, head.media_type)


@router.delete("/photos/{photo_id}", status_code=204, response_class=Response)
def retire_photo(photo_id: SiteId, workspace: Ready, who: Planner) -> Response:
    """Retire a photo: it is no longer shown; its bytes and its place in the history stay."""
    _of_region(workspace, photos.head(workspace.store.engine, photo_id).site_id)
    photos.retire(workspace.store.engine, photo_id, who)
    return Response(status_code=204)
