"""The whole product on a page: ingest -> survey -> suitability -> flight -> ranking -> export.

Only this module knows the order. Each stage takes and gives plain records (`geo/records`); a stage never imports
another. Everything here is pure: no environment, no store, no printing. `progress(done, total, what)` is called on
long work.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import fields, replace
from datetime import date
from pathlib import Path

import geopandas
import shapely

from geo.base.errors import BadArgument
from geo.base.fault import Fault
from geo.export.formats.folder import USUAL_FORMATS, write_all
from geo.export.formats.geojson import feature_collection
from geo.export.formats.geopackage import write_geopackage
from geo.export.layers.survey_layer import survey_frames
from geo.ingest.layers.aircraft import profile_names
from geo.ingest.layers.fires import fire_from_geojson, fire_of_region, read_fire
from geo.ingest.layers.flank import flank_from_geojson, read_flank
from geo.ingest.layers.wind_field import read_wind_field, wind_field_from_grid
from geo.ingest.load_region import check_region, load_region
from geo.ranking.extras.fleet import HOURS, SLOTS, plan_fleet
from geo.ranking.rank import rank as rank_candidates
from geo.ranking.statements import GENERAL_CAUTIONS, assumptions
from geo.records.aircraft import AircraftProfile
from geo.records.conditions import SourceConditions, Weather
from geo.records.extras import Extras, ExtrasRequest, FleetPlan, Target
from geo.records.geographic_shapes import geographic
from geo.records.ranking import Ranking
from geo.records.region import Fire, Region
from geo.records.site_status import unplaced
from geo.records.suitability import BodyAssessment
from geo.records.survey import BodySurvey, RegionSurvey, SurveySettings
from geo.search.assessments import assessments_of
from geo.search.assumptions import assumed
from geo.search.best_first import question_of, shortlist
from geo.search.drop_points import drop_for
from geo.search.extras import cut_to
from geo.search.extras import further as further_of
from geo.search.flown_legs import FlightContext, cycle_sides
from geo.survey.body import RegionEvidence, survey_body
from geo.survey.depth_picture import depth_picture

Progress = Callable[[int, int, str], None]


def load(folder: Path) -> Region:
    """Ingest a region folder: all or nothing.

    Raises: BadInput with every fault found.
    """
    return load_region(folder)


def check(folder: Path) -> tuple[tuple[Fault, ...], dict]:
    """Read a region folder and give every fault, blocking or not, with a summary of what was read."""
    return check_region(folder)


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
    progress: Progress | None = None,
    known: Mapping[str, BodySurvey] | None = None,
) -> RegionSurvey:
    """Survey every water body of a region. Needs neither aircraft nor weather.

    Parameters: known, by id, surveys of these very bodies that hold; those waters are not surveyed again.
    """
    settings = settings_of(region)
    kept = known if known is not None else {}
    surveyed = []
    for done, body in enumerate(region.bodies):
        if progress is not None:
            progress(done, len(region.bodies), body.name)
        if body.body_id in kept:
            surveyed.append(kept[body.body_id])
            continue
        surveyed.append(
            survey_body(
                body,
                RegionEvidence(
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
                ),
            )
        )
    if progress is not None:
        progress(len(region.bodies), len(region.bodies), "done")
    return RegionSurvey(region.name, region.fingerprint, settings, tuple(surveyed))


def assess(
    region: Region, survey_: RegionSurvey, profile: AircraftProfile, weather: Weather
) -> tuple[tuple[BodyAssessment, SourceConditions], ...]:
    """Judge every water body for every fill method of the aircraft in the day's air."""
    assessments = assessments_of(region, survey_, profile, weather)
    return tuple(assessments(index) for index in range(len(survey_.bodies)))


def fire(given: str | dict, region: Region) -> Fire:
    """Give the fire that is meant: an id or name of the region, a file, or a GeoJSON object.

    Raises: BadInput when it is none of these or its outline cannot be used.
    """
    return fire_from_geojson(given, region) if isinstance(given, dict) else read_fire(given, region)


def target(given: str | dict, region: Region, *, files: bool = False) -> Target:
    """Give where loads are counted as dropped: "centroid", "edge", or a drawn flank as GeoJSON (a file if allowed).

    Raises: BadArgument for another word; BadInput for a flank that cannot be used.
    """
    if isinstance(given, dict):
        return Target("flank", flank_from_geojson(given, region))
    if given in ("centroid", "edge"):
        return Target(given)  # type: ignore[arg-type]
    if files:
        return Target("flank", read_flank(Path(given), region))
    raise BadArgument(
        f"target {given!r} is not known. Cure: centroid, edge, or a GeoJSON LineString of the active flank"
    )


def in_wind_field(weather: Weather, given: Path | dict, region: Region) -> Weather:
    """Give the weather with a wind field for the legs: a GeoTIFF of u and v, or a grid in degrees as a JSON object.

    Raises: BadInput when it cannot be used; BadArgument when the weather has a wind by height already.
    """
    read = wind_field_from_grid if isinstance(given, dict) else read_wind_field
    return replace(weather, wind_field=read(given, region))  # type: ignore[arg-type]


def fire_asked(given: str | dict, region: Region) -> Fire:
    """Give the fire that a client of the service means: an id or name of the region, or a GeoJSON object; never a file.

    Raises: BadInput when it is neither or its outline cannot be used.
    """
    return fire_from_geojson(given, region) if isinstance(given, dict) else fire_of_region(given, region)


QUICK_WAYS = "straight or round closed air; ways round high ground were not sought for this quick answer"


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
    """Rank the surveyed sources for a fire, an aircraft and the day's weather; loads go to the target (the centroid).

    Parameters: quick, ways round high ground are not sought, so that round trips may be shorter than said.
    Notes: with top, only the sources that can be among the first so many are worked out; they and their order are those
    of the whole ranking. Sources that were passed over are in `unrefined`; in a region of more than 200 waters those
    left out are named only as far as they were judged.
    Raises: BadArgument when the fire lies outside the terrain or the weather outside its range, or top is below 1.
    """
    target = target if target is not None else Target()
    drop = drop_for(target, fire_, region)
    question = question_of(region, survey_, fire_, profile, weather, drop, quick=quick)
    listed = shortlist(question, top)
    sources, excluded = rank_candidates(listed.candidates, profile, top=top)
    return Ranking(
        region.name,
        survey_.fingerprint,
        fire_.fire_id,
        fire_.name,
        profile.profile_id,
        profile.name,
        weather,
        sources,
        excluded,
        (*fire_.cautions, *unplaced(region.sites), *GENERAL_CAUTIONS),
        assumptions(profile)
        | assumed(region, profile, weather, target)
        | listed.words(top)
        | ({"ways": QUICK_WAYS} if quick else {}),
        listed.passed,
        listed.passed_count,
    )


# So many sources compete for the first places, however few are asked for.
LEAST_CONSIDERED = 10


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
    """Rank as `rank`, and give what is answered beside the order: certainty always, the rest where it is asked.

    Raises: BadArgument as `rank`, and for a time without a zone.
    """
    asked = asked if asked is not None else ExtrasRequest()
    # The perimeter is served by any ranked source; the certainty needs rivals even where one source is asked for.
    wide = None if top is None or asked.perimeter else max(top, LEAST_CONSIDERED)
    whole = rank(region, survey_, fire_, profile, weather, top=wide, target=asked.target)
    beside = further_of(region, survey_, fire_, profile, whole, asked)
    cut = {one.body_id for one in whole.sources[:top]}
    return replace(whole, sources=whole.sources[:top]), cut_to(beside, cut)


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
    kinds = {profile.profile_id: profile for profile in aircraft}
    twins = sorted({one.profile_id for one in aircraft if kinds[one.profile_id] != one})
    if twins:
        raise BadArgument(
            f"fleet: different profiles share the id {', '.join(twins)}. Cure: give each profile its own id"
        )
    rankings = {
        kind: rank(region, survey_, fire_, profile, weather, target=target).sources
        for kind, profile in kinds.items()
    }
    return plan_fleet([one.profile_id for one in aircraft], rankings, slots=slots, hours=hours)


def export_ranking(
    folder: Path,
    region: Region,
    survey_: RegionSurvey,
    ranking: Ranking,
    formats: Sequence[str] = USUAL_FORMATS,
    further: Extras | None = None,
) -> list[Path]:
    """Write the ranked layer in the formats chosen; all files are made before any takes its name."""
    return list(write_all(folder, region, survey_, ranking, formats=formats, further=further).values())


def survey_layers(region: Region, survey_: RegionSurvey) -> dict[str, geopandas.GeoDataFrame]:
    """Give the survey's layers (water, survey_runs, hover_points) in WGS 84, with the export's columns."""
    return survey_frames(survey_, region)


def outline_in_degrees(shape: shapely.Geometry, region: Region) -> shapely.Geometry:
    """Give a shape of the region's plane in WGS 84 longitude and latitude [deg]."""
    return geographic(shape, region.frame)


def export_survey(folder: Path, region: Region, survey_: RegionSurvey) -> list[Path]:
    """Write the survey's layers (water, survey_runs, hover_points) as one GeoPackage."""
    return [write_geopackage(folder / "survey.gpkg", survey_frames(survey_, region))]


def export_runs(folder: Path, region: Region, survey_: RegionSurvey) -> Path:
    """Write every run of every water (the longest, one per heading, the usable ones) as one layer, runs."""
    return write_geopackage(folder / "runs.gpkg", {"runs": survey_frames(survey_, region)["survey_runs"]})


def plot_body(folder: Path, region: Region, survey_: RegionSurvey, id_or_name: str) -> Path:
    """Draw one water body with its runs, rose, hover point, depth, soundings and the place to sound next.

    Raises: BadArgument when no water body has that id or name.
    """
    # Loaded here, because the drawing library takes most of a second and only this draws.
    from geo.export.drawing.body_picture import body_picture

    for body in survey_.bodies:
        if id_or_name in (body.body_id, body.name):
            water = next(one for one in region.bodies if one.body_id == body.body_id)
            depth = depth_picture(water, region.soundings, region.depth_grid, survey_.settings, region.chart)
            path = folder / f"{body.body_id.replace('/', '_')}.png"
            return body_picture(path, region, body, depth=depth)
    raise BadArgument(f"no water body {id_or_name!r} in {region.name}. Cure: `fetchwater survey` lists them")


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
    # Loaded here, because the drawing library takes most of a second and few questions draw.
    from geo.export.drawing.cycle_picture import cycle_picture

    for source in ranking.sources:
        if id_or_name in (source.body_id, source.name):
            sides = cycle_sides(FlightContext(region, survey_, profile, ranking.weather), source)
            base = region.base.name if region.base is not None else None
            path = folder / f"cycle_{source.body_id.replace('/', '_')}.png"
            return cycle_picture(path, ranking, source, sides, base)
    raise BadArgument(
        f"no listed source {id_or_name!r}. Cure: choose one that the ranking lists, or ask for more with --top"
    )


def water_features(region: Region, survey_: RegionSurvey) -> dict:
    """Give the surveyed water bodies as one GeoJSON FeatureCollection (RFC 7946) with the survey's columns."""
    return feature_collection(survey_frames(survey_, region)["water"])


def summary(region: Region) -> dict:
    """Give what a region holds: counts, datum, fires, aircraft and the cautions of its input."""
    return {
        "name": region.name,
        "vertical_datum": region.frame.vertical_datum,
        "centre": [region.frame.centre_longitude_deg, region.frame.centre_latitude_deg],
        "input_fingerprint": region.fingerprint,
        "water_bodies": len(region.bodies),
        "soundings": len(region.soundings) if region.soundings is not None else 0,
        "depth_contours": len(region.chart.contours) if region.chart is not None else 0,
        "depth_areas": len(region.chart.areas) if region.chart is not None else 0,
        "terrain": region.terrain is not None,
        "canopy": region.canopy is not None,
        "obstacles": len(region.obstacles) if region.obstacles_listed else None,
        "closures": len(region.closures),
        "sites": len(region.sites),
        "fires": [{"fire_id": one.fire_id, "name": one.name} for one in region.fires],
        "aircraft": list(profile_names()),
        "cautions": [*(fault.sentence() for fault in region.cautions), *unplaced(region.sites)],
    }
