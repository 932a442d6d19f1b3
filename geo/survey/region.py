"""The survey of a whole region: its settings, every water body in turn, and pictures of one of them."""

from collections.abc import Callable, Mapping
from dataclasses import fields, replace
from datetime import date
from typing import Any

from geo.base.errors import BadArgument
from geo.base.named import find_named
from geo.records.region import Region, WaterBody
from geo.records.survey import BodySurvey, DepthPicture, RegionSurvey, SurveySettings
from geo.survey.body import RegionEvidence, survey_body
from geo.survey.depth_picture import depth_picture

Progress = Callable[[int, int, str], None]


def settings_of(region: Region) -> SurveySettings:
    """Give the survey settings: the defaults with what region.toml's [survey] changes.

    Raises: BadArgument for a setting that does not exist.
    """
    known = {field.name for field in fields(SurveySettings)}
    unknown = sorted(set(region.survey_settings) - known)
    if unknown:
        raise BadArgument(
            f"region.toml [survey]: unknown setting {', '.join(unknown)}; known are {', '.join(sorted(known))}"
        )
    given: dict[str, Any] = {
        name: str(value) if isinstance(value, date) else value
        for name, value in region.survey_settings.items()
    }
    return replace(SurveySettings(), **given)


def survey(
    region: Region, *, progress: Progress | None = None, known: Mapping[str, BodySurvey] | None = None
) -> RegionSurvey:
    """Survey every water body of a region. Needs neither aircraft nor weather.

    Parameters: progress, told how many of how many are done and which is next; known, by id, surveys of these very
    bodies that hold: those waters are not surveyed again.
    Raises: BadArgument for a setting that does not exist.
    """
    settings = settings_of(region)
    kept = known if known is not None else {}
    tell = progress if progress is not None else lambda *_: None
    surveyed = []
    for done, body in enumerate(region.bodies):
        tell(done, len(region.bodies), body.name)
        held = kept.get(body.body_id)
        surveyed.append(held if held is not None else _surveyed(region, body, settings))
    tell(len(region.bodies), len(region.bodies), "done")
    return RegionSurvey(region.name, region.fingerprint, settings, tuple(surveyed))


def _surveyed(region: Region, body: WaterBody, settings: SurveySettings) -> BodySurvey:
    evidence = RegionEvidence(
        frame=region.frame,
        settings=settings,
        terrain=region.terrain,
        terrain_error_m=region.counted_terrain_error_m,
        covered=region.covered_terrain if region.canopy is not None else None,
        soundings=region.soundings,
        depth_grid=region.depth_grid,
        chart=region.chart,
        obstacles=region.obstacles,
        obstacles_listed=region.obstacles_listed,
    )
    return survey_body(body, evidence)


def depth_picture_of(region: Region, survey_: RegionSurvey, record: BodySurvey) -> DepthPicture | None:
    """Give what is known of a surveyed water's depth, to be drawn; None where nobody knows the bed.

    Raises: BadArgument for a water that the region has not.
    """
    water = find_named(region.bodies, record.body_id)
    return depth_picture(water, region.soundings, region.depth_grid, survey_.settings, region.chart)
