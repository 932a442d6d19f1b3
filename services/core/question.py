"""From typed words to the one question of a ranking; nobody else reads them."""

from geo import pipeline
from geo.records.aircraft import AircraftProfile
from geo.records.conditions import Weather
from geo.records.extras import ExtrasRequest, Target
from geo.records.question import RankingQuestion
from geo.records.region import Fire, Region
from services.core import quantities
from services.core.typed import HOT_DAY, TypedDay, TypedFire, TypedFleet, TypedNearest, TypedRanking
from services.core.workspace import Workspace, at_levels


def check_words(typed: TypedRanking | TypedFleet, *, files: bool = False) -> None:
    """Read what needs no region, so that a slip is refused before a survey of minutes.

    Raises: BadArgument, BadInput for the first word that cannot be used.
    """
    weather = weather_of(typed)
    aircraft_of(typed, files=files)
    levels_of(typed)
    if isinstance(typed, TypedRanking):
        _extras(typed, weather, Target())


def with_levels_of(typed: TypedRanking | TypedFleet, workspace: Workspace) -> Workspace:
    """Give the workspace with the other levels that were typed.

    Raises: BadArgument, BadInput for a word or a level that cannot be used.
    """
    check_words(typed)
    return at_levels(workspace, levels_of(typed))


def levels_of(typed: TypedRanking | TypedFleet) -> list[tuple[str, float]]:
    """Give the other levels of today [m] by the water's id or name. Raises: BadArgument."""
    return [quantities.level(text) for text in typed.levels]


def ranking_question(
    typed: TypedFire, workspace: Workspace, *, files: bool = False, aircraft: AircraftProfile | None = None
) -> RankingQuestion:
    """Give the question that was typed, of a workspace's region.

    Parameters: files, whether words may name files (aircraft, fire, flank, wind field): true for who sits at this
    machine, never for a client of the service; aircraft, in place of the typed one.
    Raises: BadArgument, BadInput naming the word that cannot be used.
    """
    region = workspace.region
    weather = weather_of(typed, region)
    target = pipeline.target(typed.target, region, files=files)
    extras = (
        _extras(typed, weather, target) if isinstance(typed, TypedRanking) else ExtrasRequest(target=target)
    )
    return RankingQuestion(
        region,
        workspace.survey,
        fire_of(typed, region, files=files),
        aircraft if aircraft is not None else aircraft_of(typed, files=files)[0],
        weather,
        extras,
        getattr(typed, "top", None),
    )


def nearest_question(typed: TypedNearest, workspace: Workspace) -> RankingQuestion:
    """Give the question of a place: a fire there, and the assumed weather for what was left out.

    Raises: BadArgument, BadInput naming the word that cannot be used.
    """
    wind, oat, qnh = (getattr(typed, name) or text for name, text in HOT_DAY.items())
    place = {"type": "Point", "coordinates": [typed.longitude_deg, typed.latitude_deg]}
    return RankingQuestion(
        workspace.region,
        workspace.survey,
        pipeline.fire_asked(place, workspace.region),
        pipeline.built_in_profile(typed.aircraft),
        quantities.weather(wind, oat, qnh, typed.station_elevation, typed.day),
    )


def weather_of(typed: TypedDay, region: Region | None = None) -> Weather:
    """Give the day's weather; with a region also the wind field that was sent or named, in the region's plane.

    Raises: BadArgument, BadInput naming what cannot be read.
    """
    aloft = typed.wind_profile if isinstance(typed, TypedFire) else None
    weather = quantities.weather(typed.wind, typed.oat, typed.qnh, typed.station_elevation, typed.day, aloft)
    if region is None or not isinstance(typed, TypedFire) or typed.wind_field is None:
        return weather
    return pipeline.in_wind_field(weather, typed.wind_field, region)


def aircraft_of(typed: TypedDay, *, files: bool = False) -> list[AircraftProfile]:
    """Give the aircraft that were typed, one entry each: several only for a fleet. Raises: BadArgument, BadInput."""
    read = pipeline.load_profile if files else pipeline.built_in_profile
    names = quantities.fleet(typed.aircraft) if isinstance(typed, TypedFleet) else (typed.aircraft,)
    return [read(name) for name in names]


def fire_of(typed: TypedFire, region: Region, *, files: bool = False) -> Fire:
    """Give the fire that was typed: an id or name of the region, GeoJSON, or a file where these may be named.

    Raises: BadInput when it is none of these, or its outline cannot be used.
    """
    read = pipeline.fire if files else pipeline.fire_asked
    return read(typed.fire, region)


def _extras(typed: TypedRanking, weather: Weather, target: Target) -> ExtrasRequest:
    return ExtrasRequest(
        line=quantities.asked_line(typed.line, typed.width, typed.coverage, typed.fuel_model),
        at=None if typed.time is None else quantities.clock_time(typed.time, weather.day),
        perimeter=typed.perimeter,
        target=target,
        hours=typed.hours,
    )
