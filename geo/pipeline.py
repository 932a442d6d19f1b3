"""The whole product on a page: ingest -> survey -> suitability -> flight -> ranking -> export.

Only this module knows the order. Each stage takes and gives plain records (`geo/records`); a stage never imports
another. Everything here is pure: no environment, no store, no printing. `progress(done, total, what)` is called on
long work.
"""

from collections.abc import Callable, Sequence
from dataclasses import fields, replace
from datetime import date
from pathlib import Path

from geo.errors import BadArgument
from geo.export.folder import FORMATS, write_all
from geo.export.geojson import feature_collection
from geo.export.geopackage import write_geopackage
from geo.export.survey_layer import survey_frames
from geo.ingest.aircraft import profile_names
from geo.ingest.fires import fire_from_geojson, fire_of_region, read_fire
from geo.ingest.flank import flank_from_geojson, read_flank
from geo.ingest.load_region import check_region, load_region
from geo.ranking.fleet import HOURS, SLOTS, plan_fleet
from geo.ranking.rank import rank as rank_candidates
from geo.ranking.statements import GENERAL_CAUTIONS, assumptions
from geo.records.aircraft import AircraftProfile
from geo.records.conditions import SourceConditions, Weather
from geo.records.fault import Fault
from geo.records.ranking import Ranking
from geo.records.region import Fire, Region
from geo.records.suitability import BodyAssessment
from geo.records.supply import Asked, FleetPlan, Further, Target
from geo.records.survey import RegionSurvey, SurveySettings
from geo.sorties import Sky, candidate, closures_in_force, conditions_at, ground_m
from geo.suitability.assess import assess_body
from geo.supply import cut_to
from geo.supply import further as further_of
from geo.survey.body import survey_body
from geo.survey.depth_picture import depth_picture
from geo.targets import drop_for
from geo.targets import words as target_words
from geo.ways_round import Hub, quicker_ways

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


def fire_asked(given: str | dict, region: Region) -> Fire:
    """Give the fire that a client of the service means: an id or name of the region, or a GeoJSON object; never a file.

    Raises: BadInput when it is neither or its outline cannot be used.
    """
    return fire_from_geojson(given, region) if isinstance(given, dict) else fire_of_region(given, region)


def rank(
    region: Region,
    survey_: RegionSurvey,
    fire_: Fire,
    profile: AircraftProfile,
    weather: Weather,
    *,
    top: int | None = None,
    target: Target | None = None,
) -> Ranking:
    """Rank the surveyed sources for a fire, an aircraft and the day's weather; loads go to the target (the centroid).

    Raises: BadArgument when the fire lies outside the terrain or the weather outside its range.
    """
    target = target if target is not None else Target()
    drop_at = drop_for(target, fire_, region)
    sky = Sky(region, survey_, profile, weather)
    judged = assess(region, survey_, profile, weather)
    bodies = {body.body_id: body for body in survey_.bodies}
    candidates, hubs = [], []
    for assessment, air in judged:
        for method in assessment.methods:
            drop = drop_at(method.fill_point)
            drop_m = ground_m(region, drop, f"fire {fire_.name}") + profile.drop_height_m
            candidates.append(candidate(sky, fire_, bodies[assessment.body_id], method, air, drop, drop_m))
            hubs.append(Hub(drop, drop_m))
    candidates, sought = quicker_ways(candidates, hubs, sky, fire_)
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
        assumptions(profile) | _own_assumptions(region, profile, weather, target, sought),
    )


def _own_assumptions(
    region: Region, profile: AircraftProfile, weather: Weather, target: Target, ways_sought: bool
) -> dict[str, str]:
    error = region.terrain_error_m
    return {
        "drop point": f"{target_words(target)}, {profile.drop_height_m:.0f} m above the ground",
        "clearance": f"{profile.ground_clearance_m:.0f} m over ground and obstacles"
        + f" plus {region.counted_terrain_error_m:.1f} m terrain error"
        + (
            " as stated" if error is not None else ", counted because none is stated (from memory, no source)"
        ),
        "temperature": f"{weather.oat_c:.1f} degC at {weather.station_elevation_m:.0f} m, 6.5 K less per km above",
        "climb": "the profile's rate at density altitude 0, falling in a straight line to 100 ft/min at its ceiling",
        "ways": "straight, or the quickest way found round closed air and high ground (sought every 150 m or wider)"
        if ways_sought
        else "straight or round closed air; no way round high ground was sought for so many drop points",
        "wind": "the same everywhere and at every height",
        "closures": "all listed closures" if weather.day is None else f"closures in force on {weather.day}",
        "base": f"refuels at {region.base.name}"
        if region.base is not None
        else "no base given: transit counts 0",
    }


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
    asked: Asked | None = None,
) -> tuple[Ranking, Further]:
    """Rank as `rank`, and give what is answered beside the order: certainty always, the rest where it is asked.

    Raises: BadArgument as `rank`, and for a time without a zone.
    """
    asked = asked if asked is not None else Asked()
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
    formats: Sequence[str] = FORMATS,
    further: Further | None = None,
) -> list[Path]:
    """Write the ranked layer in the formats chosen; all files are made before any takes its name."""
    return list(write_all(folder, region, survey_, ranking, formats=formats, further=further).values())


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
    from geo.export.body_picture import body_picture

    for body in survey_.bodies:
        if id_or_name in (body.body_id, body.name):
            water = next(one for one in region.bodies if one.body_id == body.body_id)
            depth = depth_picture(water, region.soundings, region.depth_grid, survey_.settings)
            path = folder / f"{body.body_id.replace('/', '_')}.png"
            return body_picture(path, region, body, depth=depth)
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
