"""The whole product on a page: ingest -> survey -> suitability -> flight -> ranking -> export.

Only this module knows the order. Each stage takes and gives plain records (`geo/records`); a stage never imports
another. Everything here is pure: no environment, no store, no printing. `progress(done, total, what)` is called on
long work.
"""

from collections.abc import Callable, Sequence
from dataclasses import fields, replace
from pathlib import Path

from geo.errors import BadArgument
from geo.export.body_picture import body_picture
from geo.export.folder import FORMATS, write_all
from geo.export.geojson import feature_collection
from geo.export.geopackage import write_geopackage
from geo.export.survey_layer import survey_frames
from geo.ingest.aircraft import profile_names
from geo.ingest.fires import fire_from_geojson, read_fire
from geo.ingest.load_region import check_region, load_region
from geo.ranking.rank import rank as rank_candidates
from geo.ranking.statements import GENERAL_CAUTIONS, assumptions
from geo.records.aircraft import AircraftProfile
from geo.records.conditions import SourceConditions, Weather
from geo.records.fault import Fault
from geo.records.ranking import Ranking
from geo.records.region import Fire, Region
from geo.records.suitability import BodyAssessment
from geo.records.survey import RegionSurvey, SurveySettings
from geo.sorties import Sky, candidate, closures_in_force, conditions_at, drop_point, ground_m
from geo.suitability.assess import assess_body
from geo.survey.body import survey_body

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
                region.counted_terrain_error_m,
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


def assess(
    region: Region, survey_: RegionSurvey, profile: AircraftProfile, weather: Weather
) -> tuple[tuple[BodyAssessment, SourceConditions], ...]:
    """Judge every water body for every fill method of the aircraft in the day's air."""
    closures = closures_in_force(region, weather)
    waters = {water.body_id: water for water in region.bodies}
    judged = []
    for body in survey_.bodies:
        water = waters[body.body_id]
        air = conditions_at(body, region, profile, weather, water)
        judged.append((assess_body(body, water, profile, air, closures, region.sites), air))
    return tuple(judged)


def fire(given: str | dict, region: Region) -> Fire:
    """Give the fire that is meant: an id or name of the region, a file, or a GeoJSON object.

    Raises: BadInput when it is none of these or its outline cannot be used.
    """
    return fire_from_geojson(given, region) if isinstance(given, dict) else read_fire(given, region)


def rank(
    region: Region,
    survey_: RegionSurvey,
    fire_: Fire,
    profile: AircraftProfile,
    weather: Weather,
    *,
    top: int | None = None,
) -> Ranking:
    """Rank the surveyed sources for a fire, an aircraft and the day's weather.

    Raises: BadArgument when the fire lies outside the terrain or the weather outside its range.
    """
    drop = drop_point(fire_, region)
    sky = Sky(region, survey_, profile, weather)
    drop_m = ground_m(region, drop, f"fire {fire_.name}") + profile.drop_height_m
    judged = assess(region, survey_, profile, weather)
    bodies = {body.body_id: body for body in survey_.bodies}
    candidates = [
        candidate(sky, fire_, bodies[assessment.body_id], method, air, drop, drop_m)
        for assessment, air in judged
        for method in assessment.methods
    ]
    sources, excluded = rank_candidates(candidates, profile, top=top)
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
        GENERAL_CAUTIONS,
        assumptions(profile) | _own_assumptions(region, profile, weather),
    )


def _own_assumptions(region: Region, profile: AircraftProfile, weather: Weather) -> dict[str, str]:
    error = region.terrain_error_m
    return {
        "drop point": "the centroid of the fire's outline, or a point inside it, "
        f"{profile.drop_height_m:.0f} m above the ground",
        "clearance": f"{profile.ground_clearance_m:.0f} m over ground and obstacles"
        + f" plus {region.counted_terrain_error_m:.1f} m terrain error"
        + (
            " as stated" if error is not None else ", counted because none is stated (from memory, no source)"
        ),
        "temperature": f"{weather.oat_c:.1f} degC at {weather.station_elevation_m:.0f} m, 6.5 K less per km above",
        "wind": "the same everywhere and at every height",
        "closures": "all listed closures" if weather.day is None else f"closures in force on {weather.day}",
        "base": f"refuels at {region.base.name}"
        if region.base is not None
        else "no base given: transit counts 0",
    }


def export_ranking(
    folder: Path, region: Region, survey_: RegionSurvey, ranking: Ranking, formats: Sequence[str] = FORMATS
) -> list[Path]:
    """Write the ranked layer in the formats chosen; all files are made before any takes its name."""
    return list(write_all(folder, region, survey_, ranking, formats=formats).values())


def export_survey(folder: Path, region: Region, survey_: RegionSurvey) -> list[Path]:
    """Write the survey's layers (water, survey_runs, hover_points) as one GeoPackage."""
    return [write_geopackage(folder / "survey.gpkg", survey_frames(survey_, region))]


def plot_body(folder: Path, region: Region, survey_: RegionSurvey, id_or_name: str) -> Path:
    """Draw one water body with its runs, rose, hover point and soundings.

    Raises: BadArgument when no water body has that id or name.
    """
    for body in survey_.bodies:
        if id_or_name in (body.body_id, body.name):
            return body_picture(folder / f"{body.body_id.replace('/', '_')}.png", region, body)
    raise BadArgument(f"no water body {id_or_name!r} in {region.name}. Cure: `fetchwater survey` lists them")


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
        "terrain": region.terrain is not None,
        "obstacles": len(region.obstacles) if region.obstacles_listed else None,
        "closures": len(region.closures),
        "sites": len(region.sites),
        "fires": [{"fire_id": one.fire_id, "name": one.name} for one in region.fires],
        "aircraft": list(profile_names()),
        "cautions": [fault.sentence() for fault in region.cautions],
    }
