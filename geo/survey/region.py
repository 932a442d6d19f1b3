"""The survey of a whole region: its settings, and every water body in turn."""

from collections.abc import Callable, Mapping
from dataclasses import fields, replace
from datetime import date

from geo.base.errors import BadArgument
from geo.records.region import Region, WaterBody
from geo.records.survey import BodySurvey, RegionSurvey, SurveySettings
from geo.survey.body import survey_body


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
    given = {
        name: str(value) if isinstance(value, date) else value
        for name, value in region.survey_settings.items()
    }
    return replace(SurveySettings(), **given)


def survey(
    region: Region,
    *,
    progress: Callable[[int, int, str], None] | None = None,
    known: Mapping[str, BodySurvey] | None = None,
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
    return survey_body(
        body,
        region.frame,
        region.terrain,
        region.counted_terrain_error_m,
        region.soundings,
        region.depth_grid,
        region.obstacles,
        region.obstacles_listed,
        settings,
        region.chart,
        region.covered_terrain if region.canopy is not None else None,
    )
