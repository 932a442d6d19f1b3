"""Sheets of paper: joins the survey's side view, the sites of the day and the export. Nothing here decides anything."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import Literal

from geo.base.errors import BadArgument
from geo.export.formats.unit_system import unit_system
from geo.ranking.statements import GENERAL_CAUTIONS
from geo.records.kept import KeptAnswer
from geo.records.region import Region
from geo.records.site_status import sites_on
from geo.records.survey import BodySurvey, RegionSurvey
from geo.survey.side_view import side_view

Paper = Literal["A4", "Letter"]
ALL = "all"


def waters_named(survey: RegionSurvey, names: Sequence[str]) -> tuple[BodySurvey, ...]:
    """Give the surveyed waters of these ids or names, each once; "all" is every one.

    Raises: BadArgument naming each that there is not.
    """
    if ALL in names:
        return survey.bodies
    unknown = [name for name in names if not any(name in (one.body_id, one.name) for one in survey.bodies)]
    if unknown or not names:
        raise BadArgument(
            f"no water body {', '.join(map(repr, unknown)) or 'was named'} in {survey.region_name}. Fix: "
            "`fetchwater survey` lists them; all means every one"
        )
    return tuple(one for one in survey.bodies if one.body_id in names or one.name in names)


def water_sheet(
    region: Region,
    survey: RegionSurvey,
    record: BodySurvey,
    *,
    paper: Paper = "A4",
    units: str = "trade",
    day: date | None = None,
    version: str = "",
) -> bytes:
    """Give the sheet of one surveyed water as a PDF of one page.

    Parameters: day, for which sites, closures and magnetic headings hold; units, trade, si or us; version, words on
    the data's version.
    Raises: BadArgument for another paper or units; SheetTooLong.
    """
    # Loaded here: the drawing library takes most of a second and only sheets need it.
    from geo.export.sheets.water_sheet import best_run
    from geo.export.sheets.water_sheet import water_sheet as made

    run = best_run(record)
    body = next((one for one in region.bodies if one.body_id == record.body_id), None)
    seen = None
    if run is not None and body is not None:
        evidence = region.soundings, region.depth_grid
        seen = side_view(
            run.line, body, record, region.terrain, region.obstacles, *evidence, settings=survey.settings
        )
    return made(
        replace(region, sites=sites_on(region.sites, day)),
        record,
        GENERAL_CAUTIONS,
        side=seen,
        paper=paper,
        units=unit_system(units),
        day=day,
        version=version,
    )


def ranking_sheet(
    region: Region,
    kept: KeptAnswer,
    *,
    paper: Paper = "A4",
    units: str = "trade",
    version: str = "",
    changed: str = "",
) -> bytes:
    """Give the sheet of a kept answer as a PDF of one page: its figures, never those of today.

    Parameters: region, as it is today; changed, words where it is known to be another than that of the answer. A
    region of other files is said to be another in any case.
    Raises: BadArgument for another paper or units; SheetTooLong.
    """
    from geo.export.sheets.ranking_sheet import ranking_sheet as made

    if not changed and region.fingerprint != kept.ranking.survey_fingerprint:
        changed = CHANGED
    if region.frame.crs_wkt != kept.frame.crs_wkt:
        # Shapes of another plane would be drawn in wrong places: the map then shows what the answer itself holds.
        region = _bare(region, kept)
    chosen = unit_system(units)
    return made(
        region,
        kept.ranking,
        kept.further,
        kept.fire,
        paper=paper,
        units=chosen,
        version=version,
        changed=changed,
    )


CHANGED = (
    "THE DATA CHANGED SINCE. The figures below are those of the answer as it was kept; the background of the map is of "
    "today. Ask again before you rely on it."
)


def _bare(region: Region, kept: KeptAnswer) -> Region:
    return Region(kept.ranking.region_name, kept.frame, (), region.fingerprint)
