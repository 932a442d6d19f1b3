"""What pages and clients see of a region before anything is asked: waters, surroundings, relief, a side view."""

from collections.abc import Sequence
from typing import Any

from geo import pipeline
from geo.products import page_views
from geo.products.page_views import contours, fire_file, fires, relief, surroundings, waters
from geo.records.survey import BodySurvey
from services.core.workspace import Unsurveyed, Workspace
from services.errors import NoSuchThing

__all__ = [
    "contours",
    "fire_file",
    "fires",
    "relief",
    "run_from_side",
    "summary",
    "surroundings",
    "surveyed_water",
    "water_features",
    "waters",
]


def summary(workspace: Workspace | Unsurveyed) -> dict[str, Any]:
    """Give what the region holds, and the data version (None: not surveyed yet)."""
    version = workspace.survey_key if isinstance(workspace, Workspace) else None
    return pipeline.summary(workspace.region) | {"survey_version": version}


def water_features(workspace: Workspace) -> dict[str, Any]:
    """Give all surveyed water bodies as a GeoJSON FeatureCollection (RFC 7946)."""
    return pipeline.water_features(workspace.region, workspace.survey)


def surveyed_water(workspace: Workspace, body_id: str) -> BodySurvey:
    """Give the survey of the water body with this id. Raises: NoSuchThing."""
    for body in workspace.survey.bodies:
        if body.body_id == body_id:
            return body
    raise NoSuchThing(f"no water body {body_id!r}; /water-bodies lists them")


def run_from_side(
    workspace: Workspace, body_id: str, corners_deg: Sequence[tuple[float, float]]
) -> dict[str, Any]:
    """Give one run of a water body in side view: ground, surfaces, obstacles, depth.

    Parameters: corners_deg, the run's corners as longitude, latitude [deg], in the order flown.
    Raises: BadArgument for an unknown water body or a line that is none of its runs.
    """
    given = workspace.region, workspace.survey, body_id, corners_deg
    return workspace.document(page_views.run_from_side(*given))
