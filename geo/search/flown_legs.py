"""What one ranking flies: the legs from each fill to the fire and back, and the transits from and to the base.

Joins flight to suitability and ranking for `geo/pipeline.py`.
"""

import math
from dataclasses import replace

import numpy as np
import shapely

from geo.base.errors import BadArgument, NotFlyable
from geo.base.grid import Grid
from geo.base.prepared import Prepared
from geo.base.recent import Recent
from geo.base.wind import speed_on_track
from geo.flight.legs.best_leg import LegCache
from geo.flight.legs.climb_rate import climb_clock
from geo.flight.legs.corridor import Corridor, corridor
from geo.flight.legs.course import task_of
from geo.flight.legs.flight_state import FlightState
from geo.flight.legs.side_view import side_of
from geo.flight.winds import winds_of
from geo.records.aircraft import AircraftProfile
from geo.records.conditions import Weather
from geo.records.flight import Endpoint, Leg, LegSide
from geo.records.ranking import Candidate, RankedSource
from geo.records.region import Region
from geo.records.suitability import MethodAssessment
from geo.records.survey import RegionSurvey
from geo.search.no_fly_areas import no_fly_areas

# Legs are timed on the ellipsoid with the wind against true north, bounds in the plane: that and the turning of the
# meridians differ by less than this share within 300 km of a region's middle (see tests/test_best_first.py).
PLANE_SHARE = 0.995

# Rankings of one region in other winds and with other aircraft share these. By survey, because to compare the levels of
# a hundred thousand waters takes a noticeable part of a question.
_surfaces: Recent[Corridor] = Recent(8)

# Of the many places of one water so many that can be flown are tried, the nearest by level flight first.
MOST_FLOWN = 6


def _terrain_with_water(region: Region, survey: RegionSurvey) -> Grid | None:
    """Give the terrain with its holes over known water filled at the water's level; other holes stay unknown."""
    grid = region.flown_terrain
    if grid is None or not np.isnan(grid.values).any():
        return grid
    row, column = np.nonzero(np.isnan(grid.values))
    easting = grid.west_m + (column + 0.5) * grid.cell_east_m
    northing = grid.north_m - (row + 0.5) * grid.cell_north_m
    values = grid.values.copy()
    levels = {body.body_id: body.surface_elevation_m.value for body in survey.bodies}
    for body in region.bodies:
        level = levels.get(body.body_id)
        if level is not None:
            held = shapely.contains_xy(body.polygon, easting, northing)
            values[row[held], column[held]] = level
    return replace(grid, values=values)


class FlightContext:
    """What every leg of one ranking shares: terrain corridor, no-fly areas, wind, aircraft."""

    def __init__(
        self, region: Region, survey: RegionSurvey, profile: AircraftProfile, weather: Weather
    ) -> None:
        half_width_m = profile.corridor_half_width_m
        self.no_fly = no_fly_areas(region, weather, half_width_m)
        self.surface = _surfaces.get(
            (region, survey),
            (half_width_m,),
            lambda: corridor(_terrain_with_water(region, survey), half_width_m, region.obstacles),
        )
        self.clearance_m = profile.ground_clearance_m + region.counted_terrain_error_m
        self.region, self.profile, self.weather = region, profile, weather
        self.winds = winds_of(weather)
        self.book = LegCache(self.surface, region.frame.crs_wkt)
        self._states = {loaded: self._state(loaded) for loaded in (True, False)}

    def _state(self, loaded: bool) -> FlightState:
        profile, weather = self.profile, self.weather
        rate_ms, speeds = profile.climb_empty_ms, (profile.cruise_empty_ms, profile.climb_speed_empty_ms)
        if loaded:
            rate_ms, speeds = (
                profile.climb_loaded_ms,
                (profile.cruise_loaded_ms, profile.climb_speed_loaded_ms),
            )
        air = weather.oat_c, weather.station_elevation_m, weather.qnh_hpa
        clock = climb_clock(rate_ms, profile.ceiling_m, *air)
        kept = self.clearance_m, profile.corridor_half_width_m, min(profile.ceiling_m, clock.top_m)
        wind = weather.wind_from_true_deg, weather.wind_ms
        if weather.wind_variable:
            # From nobody knows where: both ways against it, so the ground speed is the airspeed less the wind.
            speeds, wind = (max(1.0, speeds[0] - weather.wind_ms), speeds[1]), (0.0, 0.0)
        return FlightState(
            *speeds,
            clock,
            profile.descent_ms,
            *kept,
            *wind,
            winds=self.winds,
            error_m=self.region.counted_terrain_error_m,
            end_half_width_m=profile.surface_half_width_m,
            acceleration_ms2=profile.acceleration_ms2,
            bank_deg=profile.circle_bank_deg,
        )

    @property
    def greatest_wind_ms(self) -> float:
        """A wind speed [m/s] that no leg meets exceeded: what a bound on times must count from behind."""
        return self._states[True].greatest_wind_ms

    def state(self, *, loaded: bool) -> FlightState:
        """Give the aircraft in the day's air, loaded or empty; its climb falls with density altitude."""
        return self._states[loaded]

    def fly(self, start: Endpoint, end: Endpoint, *, loaded: bool) -> Leg:
        """Fly one leg, loaded or empty, straight or round no-fly areas.

        Raises: NotFlyable with the reason and the place.
        """
        return self.book.fly(start, end, self._states[loaded], self.no_fly.between(start, end))

    def least_s(self, out_m: float, back_m: float) -> float:
        """Give a time [s] that no flight out (loaded) and back (empty) over plane distances [m] can beat: straight,
        with the whole wind from behind."""
        loaded_ms, empty_ms = self.profile.cruise_loaded_ms, self.profile.cruise_empty_ms
        return PLANE_SHARE * (
            out_m / (loaded_ms + self.greatest_wind_ms) + back_m / (empty_ms + self.greatest_wind_ms)
        )


def above_ground(region: Region, point: shapely.Point, height_m: float, what: str) -> Endpoint:
    """Give the end of a leg at a height above the ground of a place [m]; `what` names it in words.

    Raises: BadArgument where the terrain does not reach or is unknown; it is never taken as 0.
    """
    ground_m = np.nan
    if region.terrain is not None:
        ground_m = float(region.terrain.bilinear(np.asarray(point.x), np.asarray(point.y)))
    if not np.isfinite(ground_m):
        raise BadArgument(
            f"{what} lies where the terrain does not reach or has a hole, so its height and the route to it are "
            "unknown. Fix: give a terrain file that covers it"
        )
    return Endpoint(point, ground_m + height_m, height_m)


def standing(
    profile: AircraftProfile, point: shapely.Point, level_m: float, speed_ms: float = 0.0
) -> Endpoint:
    """Give the end of a leg over a place where the aircraft fills or stands, at a level [m]: the leg sets off from the
    lift-off height above it with a speed [m/s], and comes in to that height."""
    return Endpoint(point, level_m + profile.lift_off_height_m, 0.0, speed_ms)


def fill_ends(
    context: "FlightContext", method: MethodAssessment, level_m: float
) -> tuple[Endpoint, Endpoint]:
    """Give where the empty leg comes in and where the loaded leg sets off, of a method that has a filling place."""
    profile, climb_m = context.profile, method.lift_off_above_m
    ram = profile.ram_intake if method.run_line is not None else None
    near, far = (
        standing(profile, point, level_m, 0.0 if ram is None else ram.speed_ms) for point in ends(method)
    )
    # Where the only way out is straight up, the loaded leg begins at the top of that climb; the fill holds its time.
    if climb_m > profile.lift_off_height_m:
        far = replace(far, altitude_m=level_m + climb_m, above_ground_m=climb_m)
    return near, far


def with_legs(context: FlightContext, burning: Prepared, one: Candidate, drop: Endpoint) -> Candidate:
    """Fly both legs of one usable method, straight or round no-fly areas: from the run's far end, back to its near end.

    `geo/search/terrain_routes.py` then looks for quicker routes round high ground.

    Of the method's places (the best one and its alternatives, all with the same load) the one with the shortest time
    out and back for this fire is kept, and its assessment with it: of the few that are nearest by level flight in the
    day's wind and can be flown. Where there is none, `leg_problem` says why.
    """
    method, air = one.assessment, one.conditions
    if method.verdict != "usable" or method.fill_point is None:
        return one
    if air.elevation_m is None:
        return replace(one, leg_problem=air.reason)
    best_s, best, problem, flown = np.inf, one, "", 0
    for run in sorted((method, *method.alternatives), key=lambda m: level_s(context, m, drop)):
        if flown == MOST_FLOWN:
            break
        if least_s(context, run, drop) >= best_s:
            continue
        try:
            loaded, empty = _both_legs(context, burning, run, air.elevation_m, drop)
        except NotFlyable as reason:
            problem = problem or str(reason)
            continue
        flown += 1
        if loaded.time_s + empty.time_s < best_s:
            kept = replace(run, alternatives=())
            best_s = loaded.time_s + empty.time_s
            best = replace(one, assessment=kept, loaded_leg=loaded, empty_leg=empty)
    return best if np.isfinite(best_s) else replace(one, leg_problem=problem)


def _both_legs(
    context: FlightContext, burning: Prepared, run: MethodAssessment, level_m: float, drop: Endpoint
) -> tuple[Leg, Leg]:
    """Fly a run's loaded and empty leg. Raises: NotFlyable, also where it lies in the fire."""
    if in_fire(run, burning):
        raise NotFlyable("the filling place lies inside the fire's outline")
    near, far = fill_ends(context, run, level_m)
    return context.fly(far, drop, loaded=True), context.fly(drop, near, loaded=False)


def without_legs(one: Candidate, why: str) -> Candidate:
    """Give a candidate that cannot be flown, with the reason."""
    return replace(one, loaded_leg=None, empty_leg=None, transit_to=None, transit_from=None, leg_problem=why)


def in_fire(method: MethodAssessment, burning: Prepared) -> bool:
    """True when the filling place or the run meets the fire's outline."""
    place = method.run_line if method.run_line is not None else method.fill_point
    return place is not None and bool(burning.intersects(place))


def ends(method: MethodAssessment) -> tuple[shapely.Point, shapely.Point]:
    """Give where the aircraft comes down and where it lifts off, of a method that has a filling place."""
    if method.run_line is None:
        assert method.fill_point is not None
        return method.fill_point, method.fill_point
    return shapely.Point(method.run_line.coords[0]), shapely.Point(method.run_line.coords[-1])


def least_s(context: FlightContext, method: MethodAssessment, drop: Endpoint) -> float:
    """Give a time [s] that no flight from a fill to the drop and back can beat."""
    near, far = ends(method)
    return context.least_s(far.distance(drop.point), near.distance(drop.point))


def level_s(context: FlightContext, method: MethodAssessment, drop: Endpoint) -> float:
    """Give the time [s] of level straight flights from a fill to the drop and back in the wind at the waters.

    Notes: a wind faster than the aircraft counts as the slowest ground speed; it only orders the places.
    """
    near, far = ends(method)
    weather, profile = context.weather, context.profile
    total = 0.0
    for start, end, speed_ms in (
        (far, drop.point, profile.cruise_loaded_ms),
        (drop.point, near, profile.cruise_empty_ms),
    ):
        east, north = end.x - start.x, end.y - start.y
        track_deg = math.degrees(math.atan2(east, north))
        ground_ms = float(speed_on_track(track_deg, speed_ms, weather.wind_from_true_deg, weather.wind_ms))
        total += math.hypot(east, north) / max(ground_ms, 1.0)
    return total


def cycle_sides(context: FlightContext, source: RankedSource) -> tuple[LegSide, LegSide]:
    """Give the loaded and the empty leg of a ranked source seen from the side.

    Raises: BadArgument where the source's level is unknown.
    """
    loaded, empty = source.cycle.loaded_leg, source.cycle.empty_leg
    water_m = source.conditions.elevation_m
    if water_m is None:
        raise BadArgument(f"{source.name}: its level is unknown, so no side can be drawn")
    near, far = fill_ends(context, source.assessment, water_m)
    drop_m = context.profile.drop_height_m
    out_drop, back_drop = (
        Endpoint(shapely.Point(leg.route.coords[i]), leg.path_m[i][1], drop_m)
        for leg, i in ((loaded, -1), (empty, 0))
    )
    return (
        _side(context, loaded, (far, out_drop), context.state(loaded=True)),
        _side(context, empty, (back_drop, near), context.state(loaded=False)),
    )


def _side(
    context: FlightContext, leg: Leg, between: tuple[Endpoint, Endpoint], state: FlightState
) -> LegSide:
    space = context.no_fly.between(*between)
    corners, crs_wkt = shapely.get_coordinates(leg.route), context.region.frame.crs_wkt
    return side_of(task_of(corners, *between, state, context.surface, crs_wkt, space))
