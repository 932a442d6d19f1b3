"""The fill stations of a region on one day: each judged for every fill method, with the air where it stands.

They are few and need no survey, so all are judged before the search for the best sources begins.
"""

from dataclasses import dataclass

import numpy as np
import shapely

from geo.flight.performance import agent_density_kg_l
from geo.records.aircraft import AircraftProfile
from geo.records.conditions import SourceConditions, Weather
from geo.records.region import Region
from geo.records.station import FillStation
from geo.records.suitability import MethodAssessment
from geo.records.survey import Measure
from geo.search.assessments import air_at
from geo.search.no_fly_areas import closures_in_force
from geo.suitability.station import StationFacts, assess_station


@dataclass(frozen=True, eq=False)
class JudgedStation:
    """A fill station with the verdict of each fill method that it offers the aircraft, and the air there."""

    station: FillStation
    methods: tuple[MethodAssessment, ...]
    air: SourceConditions


def judged_stations(region: Region, profile: AircraftProfile, weather: Weather) -> tuple[JudgedStation, ...]:
    """Judge the fill stations of a region; its ground is the terrain's, unknown where that does not reach.

    Raises: BadArgument for weather out of range.
    """
    closures = closures_in_force(region, weather)
    found = []
    for station in region.stations:
        density = agent_density_kg_l(station.agent)
        air = air_at(station.point, _ground(region, station.point), density, region, profile, weather)
        beside = station.point.buffer(max(200.0, profile.rotor_diameter_m))
        near = tuple(one for one in region.obstacles if shapely.intersects(one.shape, beside))
        facts = StationFacts(
            station, profile, air, tuple(closures), near, region.obstacles_listed, weather.day
        )
        found.append(JudgedStation(station, assess_station(facts), air))
    return tuple(found)


def _ground(region: Region, point: shapely.Point) -> Measure:
    height_m = np.nan
    if region.terrain is not None:
        height_m = float(region.terrain.bilinear(np.asarray(point.x), np.asarray(point.y)))
    if not np.isfinite(height_m):
        return Measure(None, "the terrain does not reach it or has a hole there")
    return Measure(height_m, "terrain")
