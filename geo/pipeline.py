"""The whole product on a page: ingest -> survey -> suitability -> flight -> ranking -> export.

Only this module knows the order. Each stage takes and gives plain records (`geo/records`); a stage never imports
another. Everything here is pure: no environment, no store, no printing. `progress(done, total, what)` is called on
long work.
"""

from collections.abc import Callable
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

from geo.errors import BadArgument
from geo.ingest.load_region import load_region
from geo.records.survey import RegionSurvey, SurveySettings
from geo.records.region import Region
from geo.survey.body import survey_body

Progress = Callable[[int, int, str], None]


def load(folder: Path) -> Region:
    """Ingest a region folder: all or nothing.

    Raises: BadInput with every fault found.
    """
    return load_region(folder)


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
    return replace(SurveySettings(), **region.survey_settings)


def survey(region: Region, *, progress: Progress | None = None) -> RegionSurvey:
    """Survey every water body of a region. Needs neither aircraft nor weather."""
    settings = settings_of(region)
    surveyed = []
    for done, body in enumerate(region.bodies):
        if progress is not None:
            progress(done, len(region.bodies), body.name)
        surveyed.append(
            survey_body(
                body,
                region.frame,
                region.terrain,
                region.terrain_error_m,
                region.soundings,
                region.depth_grid,
                region.obstacles,
                region.obstacles_listed,
                settings,
            )
        )
    if progress is not None:
        progress(len(region.bodies), len(region.bodies), "done")
    return RegionSurvey(region.name, region.fingerprint, settings, tuple(surveyed))
