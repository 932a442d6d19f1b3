"""What pages and clients see of a region before anything is asked: waters, surroundings, relief, a side view."""

from collections.abc import Sequence
from typing import Any

from geo import pipeline
from geo.records.survey import BodySurvey
from services.core.workspace import Unsurveyed, Workspace
from services.errors import NoSuchThing

# One holder for the life of the process, because it keeps what it drew.
_drawn = pipeline.page_views()
relief, contours, waters, fires = _drawn.relief, _drawn.contours, _drawn.waters, _drawn.fires
surroundings, verdicts = _drawn.surroundings, _drawn.verdicts
fire_file = pipeline.fire_file


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
    return workspace.document(pipeline.run_from_side(*given))
