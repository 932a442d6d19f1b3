"""What each water could deliver at best: bounds for all waters of a region at once, as arrays.

They let a ranking evaluate only the sources that can enter the places asked for (`best_first.py`). A bound is never
below what the whole computation gives; verdicts, loads and times are those of the stages alone.
"""

import math
from typing import overload

import numpy as np
import shapely

from geo.base.prepared import Prepared
from geo.base.wind import seconds_over, speed_on_track
from geo.flight import atmosphere, performance
from geo.ranking.cycle import fill_time_s
from geo.ranking.fuel_plan import most_sustained
from geo.records.aircraft import AircraftProfile, FillMethod
from geo.records.conditions import Weather
from geo.records.region import Region, WaterBody
from geo.records.suitability import MethodAssessment
from geo.records.survey import BodySurvey, RegionSurvey
from geo.search.drop_points import Edge
from geo.search.flown_legs import PLANE_SHARE, FlightContext, ends
from geo.suitability.most_load import most_load_l

# For rounding: vectors and single numbers may differ in the last digits.
ROUNDING = 1e-8
# Directions in which the best round trip in a wind is looked for; between two of them it differs by less than 1e-5.
_TRACKS_DEG = np.arange(0.0, 360.0, 0.5)


class RateBounds:
    """What is the same for every question about one survey and one aircraft; arrays (n,) in the survey's order.

    middle_m (n, 2), reach_m: the middle of the box round all filling places of a water and half its diagonal, NaN
    without any. elevation_m: NaN where unknown. density_kg_l of the water. most_l: by method, the load that cannot be
    exceeded in any weather, 0 where the method cannot be usable.
    """

    def __init__(self, region: Region, survey: RegionSurvey, profile: AircraftProfile) -> None:
        self.profile = profile
        waters = {water.body_id: water for water in region.bodies}
        self.bodies = survey.bodies
        self.waters = tuple(waters[body.body_id] for body in survey.bodies)
        self.middle_m, self.reach_m = _boxes(survey.bodies)
        # An unknown level becomes NaN.
        self.elevation_m = np.array([b.surface_elevation_m.value for b in survey.bodies], dtype=float)
        self.density_kg_l = np.array(
            [density_kg_l(*pair) for pair in zip(self.bodies, self.waters, strict=True)]
        )
        self.most_l: dict[FillMethod, np.ndarray] = {
            method: np.array([most_load_l(method, body, profile) for body in survey.bodies], dtype=float)
            for method in profile.methods()
        }

    def away_m(self, target: shapely.Point | Edge) -> np.ndarray:
        """Give the plane distance [m] of each water's middle from where loads are dropped, a point or an edge (n,)."""
        if isinstance(target, shapely.Point):
            return np.hypot(self.middle_m[:, 0] - target.x, self.middle_m[:, 1] - target.y)
        return np.asarray(Prepared(target).distance(shapely.points(np.nan_to_num(self.middle_m))))

    def most_rates(
        self, context: FlightContext, target: shapely.Point | Edge, hours: float | None = None
    ) -> np.ndarray:
        """Give the sustained litres per hour that no source can exceed (n,), 0 where it surely cannot be used.

        Parameters: the context of the question, with this aircraft; target, the point or edge where loads are dropped;
        hours, the time asked.
        Raises: BadArgument for weather out of range.
        Notes: the greatest load, that of the last fuel, at the least time; a partial load fills in its share of the
        time, so the rate grows with the load.
        """
        profile = self.profile
        legs = LeastLegs(context)
        legs_s = legs.seconds(self.away_m(target), self.reach_m)
        lift = self._weighed(context.weather)
        best = np.zeros(len(self.bodies))
        for method, most_l in self.most_l.items():
            fill = getattr(profile, method)
            if context.weather.wind_ms > fill.wind_limit_ms:
                continue
            power_kg = lift.scoop_kg if method == "ram_intake" else lift.hover_kg
            borne_kg = np.minimum(power_kg, lift.gross_kg)
            constant_l = np.minimum(most_l, profile.max_load_kg / self.density_kg_l)
            with_full_l, litres = (
                np.minimum(constant_l, (borne_kg + burned_kg) / self.density_kg_l)
                for burned_kg in (0.0, lift.gain_kg_l * (profile.fuel_l - profile.reserve_l))
            )
            worth = with_full_l >= fill.least_load_fraction * profile.tank_l * (1.0 - 1e-6)
            trip_s = fixed_s(profile, litres) + fill.fill_time_s * litres / profile.tank_l + legs_s
            best = np.fmax(best, np.where(worth, 3600.0 * litres / trip_s, 0.0))
        away_s = legs.transit_seconds(self.middle_m, self.reach_m, target)
        flyable = np.isfinite(self.elevation_m) & np.isfinite(self.reach_m)
        most = most_sustained(best, profile, np.nan_to_num(away_s), hours)
        return np.where(flyable & (best > 0.0), most * (1.0 + ROUNDING), 0.0)

    def _weighed(self, weather: Weather) -> performance.Weighed:
        """Give what weight and power bear at each water, as arrays (n,)."""
        height = np.where(np.isfinite(self.elevation_m), self.elevation_m, 0.0)
        temperature = atmosphere.temperature_at_c(weather.oat_c, weather.station_elevation_m, height)
        pressure_m = atmosphere.pressure_altitude_m(height, weather.qnh_hpa)
        return performance.weigh(
            self.profile, np.asarray(atmosphere.density_altitude_m(pressure_m, temperature))
        )


def density_kg_l(body: BodySurvey, water: WaterBody) -> float:
    """Give the density of a source's water [kg/L], by its measured salinity or else by its class."""
    measured = water.salinity.practical_salinity if water.salinity is not None else None
    return performance.water_density_kg_l(body.salinity_class, measured)


def _boxes(bodies: tuple[BodySurvey, ...]) -> tuple[np.ndarray, np.ndarray]:
    """Give the middle (n, 2) and half the diagonal (n,) of the box round the filling places of each water."""
    shapes: list[shapely.Geometry] = []
    owner: list[int] = []
    for i, body in enumerate(bodies):
        places: list[shapely.Geometry] = [run.line for run in body.runs]
        places += [hover.point for hover in body.hover_points]
        shapes += places
        owner += [i] * len(places)
    low = np.full((len(bodies), 2), np.inf)
    high = np.full((len(bodies), 2), -np.inf)
    if shapes:
        box = shapely.bounds(np.array(shapes, dtype=object))
        np.minimum.at(low, owner, box[:, :2])
        np.maximum.at(high, owner, box[:, 2:])
    none = ~np.isfinite(low[:, 0])
    low[none], high[none] = np.nan, np.nan
    return 0.5 * (low + high), 0.5 * np.hypot(*(high - low).T)


@overload
def fixed_s(profile: AircraftProfile, litres: float) -> float: ...
@overload
def fixed_s(profile: AircraftProfile, litres: np.ndarray) -> np.ndarray: ...
def fixed_s(profile: AircraftProfile, litres: float | np.ndarray) -> float | np.ndarray:
    """Give the part of a round trip with a load that is neither filling nor a leg [s]; it never grows faster than the
    load, so that the rate still grows with it."""
    return profile.manoeuvre_source_s + profile.drop_time_s(litres) + profile.manoeuvre_fire_s


def out_and_back_s_m(out_ms: float, back_ms: float, wind_ms: float) -> float:
    """Give the least seconds per metre of distance of a flight out and back in any direction of a uniform wind.

    Notes: at equal airspeeds V it lies across the wind W, 2 / sqrt(V^2 - W^2); at unequal ones it may lie along it.
    """
    out = seconds_over(1.0, speed_on_track(_TRACKS_DEG, out_ms, 0.0, wind_ms))
    back = seconds_over(1.0, speed_on_track((_TRACKS_DEG + 180.0) % 360.0, back_ms, 0.0, wind_ms))
    return float((out + back).min()) * (1.0 - 1e-5)


class LeastLegs:
    """Times that no flight out and back can beat, in the air of one question.

    Notes: straight, level, no no-fly areas; the greater of two bounds. (1) Either way with the whole wind from behind.
    (2) In a wind that is the same everywhere, the least sum of out and back over all directions, less the time into
    the wind between middle and ends: the time of a route in a uniform wind obeys the triangle inequality.
    """

    def __init__(self, context: FlightContext) -> None:
        loaded, empty = context.state(loaded=True), context.state(loaded=False)
        out_ms, back_ms = (max(state.tas_ms, state.climb_speed_ms) for state in (loaded, empty))
        wind_ms = context.greatest_wind_ms
        self._places = [base.point for base in context.region.refuel_places]
        self._transit_s_m = 1.0 / (back_ms + wind_ms)
        self._whole_s_m = 1.0 / (out_ms + wind_ms) + 1.0 / (back_ms + wind_ms)
        self._uniform = context.winds is None and wind_ms < min(out_ms, back_ms)
        if self._uniform:
            self._both_s_m = out_and_back_s_m(out_ms, back_ms, wind_ms)
            self._against_s_m = 1.0 / (out_ms - wind_ms) + 1.0 / (back_ms - wind_ms)

    def seconds(self, away_m: np.ndarray | float, reach_m: np.ndarray | float) -> np.ndarray:
        """Give the times [s], for one or many.

        Parameters: away_m, the distance from the drop to a middle; reach_m, how far from it both ends may lie.
        """
        least = np.maximum(away_m - reach_m, 0.0) * self._whole_s_m
        if self._uniform:
            least = np.maximum(least, self._both_s_m * away_m - reach_m * self._against_s_m)
        return PLANE_SHARE * least

    def transit_seconds(
        self, middle_m: np.ndarray, reach_m: np.ndarray | float, target: shapely.Geometry
    ) -> np.ndarray:
        """Give the times [s] that the flights from a base and back to it cannot beat; 0 without a base.

        Parameters: middle_m (n, 2) of each water, or (2,) of one, and how far from it the fill may lie; target, the
        drop.
        """
        if not self._places:
            return np.zeros(np.shape(middle_m)[:-1])
        least_m: list[np.ndarray] = []
        for home in self._places:
            out_m = np.hypot(middle_m[..., 0] - home.x, middle_m[..., 1] - home.y) - reach_m
            least_m.append(np.maximum(out_m, 0.0) + shapely.distance(target, home))
        return PLANE_SHARE * self._transit_s_m * np.min(least_m, axis=0)


def most_rate(
    profile: AircraftProfile,
    legs: LeastLegs,
    one: MethodAssessment,
    drop: shapely.Point,
    hours: float | None = None,
    flown_s: float | None = None,
) -> float:
    """Give the sustained litres per hour that a usable method cannot exceed on its one run or hover point, alternatives
    not counted.

    Parameters: flown_s, the time of its legs where they were flown [s]; None bounds them as in `LeastLegs`.
    Notes: its load is that of the last fuel before the reserve.
    """
    near, far = ends(one)
    middle_m, half_m = 0.5 * np.array([near.x + far.x, near.y + far.y]), 0.5 * near.distance(far)
    legs_s = flown_s
    if legs_s is None:
        legs_s = float(legs.seconds(math.hypot(*(middle_m - (drop.x, drop.y))), half_m))
    litres = one.litres_with(profile.reserve_l)
    fill_s = fill_time_s(one, litres)
    assert litres is not None and fill_s is not None
    rate = 3600.0 * litres / (fixed_s(profile, litres) + fill_s + legs_s)
    away_s = legs.transit_seconds(middle_m, half_m, drop)
    return float((1.0 + ROUNDING) * most_sustained(rate, profile, away_s, hours))
