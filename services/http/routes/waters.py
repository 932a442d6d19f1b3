"""The region and its surveyed waters over HTTP."""

from typing import Any

from fastapi import APIRouter
from fastapi.responses import JSONResponse

from services.core import views
from services.http.dependencies import Opened, Ready
from services.http.rights import READERS

router = APIRouter(dependencies=[READERS])


class GeoJSONResponse(JSONResponse):
    """An answer in GeoJSON (RFC 7946)."""

    media_type = "application/geo+json"


@router.get("/region")
def region_summary(workspace: Opened) -> dict[str, Any]:
    """What the region holds: counts, datum, data version (null: not surveyed yet), fires, aircraft, cautions."""
    return views.summary(workspace)


@router.get("/water-bodies", response_class=GeoJSONResponse)
def water_bodies(workspace: Ready) -> GeoJSONResponse:
    """All surveyed water bodies as a GeoJSON FeatureCollection (RFC 7946)."""
    return GeoJSONResponse(views.water_features(workspace))


@router.get("/water-bodies/{body_id}")
def water_body(body_id: str, workspace: Ready) -> dict[str, Any]:
    """The whole survey of one water body."""
    return workspace.document(views.surveyed_water(workspace, body_id))
