"""The whole product on a page: ingest -> survey -> suitability -> flight -> ranking -> export.

Only this module knows the order, and it is the only door: services import nothing of the stages but what stands in
`__all__`. Stages take and give plain records (`geo/records`); what needs no order is handed on as it is. All here is
pure: no environment, no store, no printing. `progress(done, total, what)` is called on long work.
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

from geo.base.named import find_named
from geo.export.formats.folder import export_ranking, export_runs, export_survey, water_features
from geo.export.layers.evidence_layer import evidence_rows
from geo.export.layers.site_layer import write_sites
from geo.export.layers.survey_layer import survey_layers
from geo.ingest.files.csv_table import table_rows
from geo.ingest.layers.aircraft import built_in_profile, load_profile, profile_names
from geo.ingest.layers.fires import fire_file
from geo.ingest.layers.named_in_question import fire, fire_asked, in_wind_field, station, target, true_wind
from geo.ingest.layers.point_file import PointFile, PointRow, read_points
from geo.ingest.load_region import check_region as check
from geo.ingest.load_region import load_region as load
from geo.ingest.summary import summary
from geo.products import nearest as near
from geo.products import page_views as drawn
from geo.products.sheets import ranking_sheet, run_shown, waters_named
from geo.products.sheets import water_sheet as sheet_of_water
from geo.ranking.extras.fleet import HOURS, SLOTS, by_profile, plan_fleet
from geo.ranking.extras.line_building import line_wanted
from geo.ranking.rank import rank as rank_candidates
from geo.ranking.statements import GENERAL_CAUTIONS
from geo.records.aircraft import AircraftProfile
from geo.records.conditions import Weather
from geo.records.document import document
from geo.records.extras import Extras, ExtrasRequest, FleetPlan, Target
from geo.records.file_formats import Paper
from geo.records.geographic_shapes import outline_in_degrees
from geo.records.question import RankingQuestion
from geo.records.ranking import Ranking
from geo.records.region import Fire, Region
from geo.records.side_view import SideView
from geo.records.survey import BodySurvey, RegionSurvey
from geo.search import drop_runs, extras
from geo.search.assessments import assess
from geo.search.flown_legs import FlightContext, cycle_sides
from geo.search.ranking import ranking_of, shortlist_of
from geo.survey.region import Progress, depth_picture_of, settings_of, survey
from geo.survey.side_view import side_view_of
from geo.today.areas import circle_outline, drawn_outline
from geo.today.levels import unchanged, with_level, with_levels
from geo.today.region import check_reading, named_body, with_closures, with_readings, with_sites
from geo.today.sites import not_moved, same_place, same_text, waters_of_sites, within_180

# So many sources compete for the first places, however few are asked for.
LEAST_CONSIDERED = 10

__all__ = [  # noqa: RUF022  # in the order of the work, not of the alphabet
    # Files: a region's folder, aircraft, what a question names, tables and points of a user.
    "load", "check", "summary", "load_profile", "built_in_profile", "profile_names",
    "fire", "fire_asked", "target", "in_wind_field", "true_wind", "line_wanted", "station", "table_rows",
    "read_points", "PointFile", "PointRow",
    # The day: levels that were read, closures and sites laid over the region's files.
    "with_level", "with_levels", "with_readings", "with_closures", "with_sites", "unchanged",
    "check_reading", "named_body", "circle_outline", "drawn_outline",
    "same_place", "not_moved", "same_text", "within_180", "waters_of_sites",
    # Survey, assess, rank, and what is answered beside the order.
    "settings_of", "survey", "assess", "rank", "rank_question", "answer", "answer_question", "fleet",
    "quick_answer", "nearest",
    # Layers, files, pictures, pages and paper.
    "document", "survey_layers", "water_features", "evidence_rows", "outline_in_degrees", "write_sites",
    "export_ranking", "export_survey", "export_runs", "plot_body", "plot_cycle", "Progress",
    "page_views", "fire_file", "run_from_side", "waters_named", "water_sheet", "ranking_sheet",
]  # fmt: skip


def rank(
    region: Region,
    survey_: RegionSurvey,
    fire_: Fire,
    profile: AircraftProfile,
    weather: Weather,
    *,
    top: int | None = None,
    target: Target | None = None,
    quick: bool = False,
) -> Ranking:
    """Rank the surveyed sources for a fire, an aircraft and the day's weather; see `rank_question`."""
    wanted = ExtrasRequest(target=target if target is not None else Target())
    return rank_question(RankingQuestion(region, survey_, fire_, profile, weather, wanted, top), quick=quick)


def rank_question(asked: RankingQuestion, *, quick: bool = False, shown: int | None = None) -> Ranking:
    """Rank the surveyed sources for a fire, an aircraft and the day's weather; loads go to the target.

    Parameters: quick, no best routes round high ground are sought: trips may be shorter; shown, how many are listed.
    Notes: with top, only the sources that can be among the first so many are evaluated; they and their order are those
    of the whole ranking, the others are in `unrefined`. Above 200 waters only the judged are named as excluded.
    Raises: BadArgument when the fire lies outside the terrain or the weather outside its range, or top is below 1.
    """
    asked = drop_runs.with_drop_run(asked)
    listed = shortlist_of(asked, quick=quick)
    sources, excluded = rank_candidates(listed.candidates, asked.aircraft, top=asked.top, hours=asked.hours)
    return ranking_of(asked, listed, sources, excluded, quick, shown)


def answer(
    region: Region,
    survey_: RegionSurvey,
    fire_: Fire,
    profile: AircraftProfile,
    weather: Weather,
    *,
    top: int | None = None,
    asked: ExtrasRequest | None = None,
) -> tuple[Ranking, Extras]:
    """Rank as `rank`, and give what is answered beside the order; see `answer_question`."""
    wanted = asked if asked is not None else ExtrasRequest()
    return answer_question(RankingQuestion(region, survey_, fire_, profile, weather, wanted, top))


def answer_question(asked: RankingQuestion) -> tuple[Ranking, Extras]:
    """Rank, and give what is answered beside the order: certainty always, the rest where it is asked.

    Raises: BadArgument as `rank_question`, and for a time without a zone.
    """
    # The perimeter is served by any ranked source; the certainty needs rivals even where one source is asked for.
    wide = None if asked.top is None or asked.extras.perimeter else max(asked.top, LEAST_CONSIDERED)
    whole = rank_question(replace(asked, top=wide), shown=asked.top)
    beside = extras.further(asked, whole)
    first = whole.sources[: asked.top]
    return replace(whole, sources=first), extras.cut_to(beside, {one.body_id for one in first})


def fleet(
    region: Region,
    survey_: RegionSurvey,
    fire_: Fire,
    aircraft: Sequence[AircraftProfile],
    weather: Weather,
    *,
    slots: int = SLOTS,
    hours: float = HOURS,
    target: Target | None = None,
) -> FleetPlan:
    """Send a mixed fleet to the sources for the most litres per hour.

    Raises: BadArgument as `rank`, and for an empty fleet, slots below 1 or hours not above 0.
    """
    rankings = {
        kind: rank(region, survey_, fire_, profile, weather, target=target).sources
        for kind, profile in by_profile(aircraft).items()
    }
    return plan_fleet([one.profile_id for one in aircraft], rankings, slots=slots, hours=hours)


def quick_answer(asked: RankingQuestion, *, brief: bool = False) -> dict:
    """Rank without the best routes round high ground, which take nearly all of a ranking's time; the answer in short.

    Raises: BadArgument as `rank_question`.
    """
    return drawn.short_answer(rank_question(asked, quick=True), asked.region, brief=brief)


def nearest(asked: RankingQuestion, *, top: int = 3) -> near.Nearest:
    """Give the usable sources that are reached soonest from a place, which stands in the question as its fire.

    Raises: BadArgument as `rank_question`, and for top below 1.
    """
    return near.nearest(asked.region, rank_question(asked), asked.fire.area.centroid, top=top)


def page_views() -> drawn.PageViews:
    """Give what draws a region for pages; it keeps what it drew, so hold one."""
    return drawn.PageViews(assess)


def run_from_side(
    region: Region, survey_: RegionSurvey, body_id: str, corners_deg: Sequence[tuple[float, float]]
) -> SideView:
    """Give one run of a water body in side view; its corners as longitude, latitude [deg], in the order flown.

    Raises: BadArgument for an unknown water body or a line that is none of its runs.
    """
    record = find_named(survey_.bodies, body_id, fix="/water-bodies lists them")
    return side_view_of(region, survey_, record, drawn.run_line(region.frame, corners_deg))


def water_sheet(
    region: Region,
    survey_: RegionSurvey,
    record: BodySurvey,
    *,
    paper: Paper = "A4",
    units: str = "trade",
    day: date | None = None,
    version: str = "",
) -> bytes:
    """Give the sheet of one surveyed water as a PDF of one page, with its best run in side view.

    Parameters: day, for which sites, closures and magnetic headings hold; units, trade, si or us; version, words on
    the data's version.
    Raises: BadArgument for another paper or units; SheetTooLong; MissingLibrary.
    """
    run = run_shown(region, record)
    side = None if run is None else side_view_of(region, survey_, record, run.line)
    return sheet_of_water(
        region, record, side, GENERAL_CAUTIONS, paper=paper, units=units, day=day, version=version
    )


def plot_body(folder: Path, region: Region, survey_: RegionSurvey, id_or_name: str) -> Path:
    """Draw one water body with its runs, rose, hover point, depth, soundings and the place to sound next.

    Raises: BadArgument when no water body has that id or name.
    """
    # Loaded here, because the drawing library takes most of a second and few questions draw.
    from geo.export.drawing.body_picture import body_picture

    body = find_named(survey_.bodies, id_or_name, fix="`fetchwater survey` lists them")
    path = folder / f"{body.body_id.replace('/', '_')}.png"
    return body_picture(path, region, body, depth=depth_picture_of(region, survey_, body))


def plot_cycle(
    folder: Path,
    region: Region,
    survey_: RegionSurvey,
    ranking: Ranking,
    profile: AircraftProfile,
    id_or_name: str,
) -> Path:
    """Draw the round trip of one ranked source: both legs from the side, and the time of each part.

    Raises: BadArgument when no ranked source has that id or name.
    """
    from geo.export.drawing.cycle_picture import cycle_picture

    fix = "choose one that the ranking lists, or ask for more with --top"
    source = find_named(ranking.sources, id_or_name, "listed source", fix=fix)
    sides = cycle_sides(FlightContext(region, survey_, profile, ranking.weather), source)
    base = region.base.name if region.base is not None else None
    path = folder / f"cycle_{source.body_id.replace('/', '_')}.png"
    return cycle_picture(path, ranking, source, sides, base)
