"""From typed words to the one question of a ranking; nobody else reads them."""

from dataclasses import replace
from datetime import UTC, datetime

from geo import pipeline
from geo.records.aircraft import AircraftProfile
from geo.records.conditions import Weather
from geo.records.extras import ExtrasRequest, Target
from geo.records.question import RankingQuestion
from geo.records.region import Fire, Region, Station
from services.core import quantities
from services.core.typed import HOT_DAY, TypedDay, TypedFire, TypedFleet, TypedNearest, TypedRanking
from services.core.workspace import Workspace, at_levels


def check_words(typed: TypedRanking | TypedFleet, *, files: bool = False) -> None:
    """Read what needs no region, so that a slip is refused before a survey of minutes.

    Raises: BadArgument, BadInput for the first word that cannot be used.
    """
    # Where the temperature was read needs the region; its height is of no account here.
    weather = _weather(typed, quantities.temperature_read(typed.oat, typed.station_elevation)[0], "0m")
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
    region = workspace.region
    wind, oat, qnh = (getattr(typed, name) or text for name, text in HOT_DAY.items())
    oat, where = quantities.temperature_read(oat, typed.station_elevation)
    place = {"type": "Point", "coordinates": [typed.longitude_deg, typed.latitude_deg]}
    return RankingQuestion(
        workspace.region,
        workspace.survey,
        pipeline.fire_asked(place, workspace.region),
        pipeline.built_in_profile(typed.aircraft),
        _on_a_day(quantities.weather(wind, oat, qnh, _station(where, region), typed.day), wind, region),
    )


def weather_of(typed: TypedDay, region: Region) -> Weather:
    """Give the day's weather, with the wind field that was sent or named, in the region's plane.

    Raises: BadArgument, BadInput naming what cannot be read.
    """
    oat, where = quantities.temperature_read(typed.oat, typed.station_elevation)
    weather = _on_a_day(_weather(typed, oat, _station(where, region)), typed.wind, region)
    if not isinstance(typed, TypedFire) or typed.wind_field is None:
        return weather
    return pipeline.in_wind_field(weather, typed.wind_field, region)


def _weather(typed: TypedDay, oat: str, station: str | Station) -> Weather:
    aloft = typed.wind_profile if isinstance(typed, TypedFire) else None
    return quantities.weather(typed.wind, oat, typed.qnh, station, typed.day, aloft)


def _on_a_day(weather: Weather, wind: str, region: Region) -> Weather:
    """Give the weather with today's date for magnetic headings, where no day was asked for, and its wind true.

    Raises: BadArgument for a magnetic wind where the variation is not known.
    """
    if weather.day is None:
        weather = replace(weather, magnetic_day=datetime.now(UTC).date())
    true = pipeline.true_wind(quantities.wind_report(wind), weather.compass_day, region)
    return replace(weather, wind_from_true_deg=true.from_deg)


def _station(where: str | None, region: Region) -> str | Station:
    """Give the height that was typed, or the station of the region. Raises: BadArgument where neither is known."""
    return where if where is not None and quantities.is_height(where) else pipeline.station(where, region)


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
        end_of_day=None if typed.end_of_day is None else quantities.day_rule(typed.end_of_day),
        target=target,
        hours=typed.hours,
    )
