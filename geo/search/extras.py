"""What is answered beside the order: a line to build, how sure the order is, daylight, the supply of the perimeter.

Joins flight to ranking for `geo/pipeline.py`.
"""

from collections.abc import Collection, Sequence
from dataclasses import replace

import numpy as np
import shapely

from geo.base.errors import BadArgument, NotFlyable
from geo.base.geodesy import to_degrees
from geo.base.positions import degrees_minutes
from geo.ranking.extras.certainty import certainty
from geo.ranking.extras.contenders import Contender
from geo.ranking.extras.daylight import DayAsked, day_at, daylight
from geo.ranking.extras.line_building import build_line
from geo.ranking.extras.perimeter import Served, points_along, stretches
from geo.ranking.extras.retiming import WindLimits
from geo.records.aircraft import AircraftProfile
from geo.records.extras import Certainty, Daylight, Extras, Stretch
from geo.records.flight import Endpoint
from geo.records.question import RankingQuestion
from geo.records.ranking import RankedSource, Ranking
from geo.records.region import Region
from geo.records.suitability import MethodAssessment
from geo.records.survey import BodySurvey, LeastDepth, RegionSurvey
from geo.search.drop_points import outer_edges, waters_meeting
from geo.search.drop_runs import drop_run_of
from geo.search.flown_legs import FlightContext, above_ground, ends, fill_ends
from geo.search.terrain_routes import TerrainRoutes

# Further down the list nobody wins a sample; memory grows with samples times sources.
MOST_CONSIDERED = 200


def further(asked: RankingQuestion, ranking: Ranking) -> Extras:
    """Give what a question asks beside the order, from the ranked sources.

    Raises: BadArgument when the time of day has no zone.
    """
    beside = asked.extras
    return Extras(
        line=build_line(beside.line, ranking.sources, drop_run_of(asked))
        if beside.line is not None
        else None,
        certainty=certainty_of(asked.region, asked.survey, asked.aircraft, ranking),
        daylight=daylight_of(asked, ranking),
        supply=perimeter_supply(asked, ranking) if beside.perimeter else None,
    )


def cut_to(whole: Extras, kept: Collection[str]) -> Extras:
    """Give the answer with only the listed sources under line and daylight; the certainty keeps its rivals."""
    line, light = whole.line, whole.daylight
    if line is not None:
        line = replace(line, sources=tuple(one for one in line.sources if one.body_id in kept))
    if light is not None:
        light = replace(light, sources=tuple(one for one in light.sources if one.body_id in kept))
    return replace(whole, line=line, daylight=light)


def certainty_of(
    region: Region, survey: RegionSurvey, profile: AircraftProfile, ranking: Ranking
) -> Certainty:
    """Give how sure the order of the ranked sources is in the ranking's weather; the first 200 of them compete."""
    bodies = {body.body_id: body for body in survey.bodies}
    first = ranking.sources[:MOST_CONSIDERED]
    field = [contender(source, bodies.get(source.body_id), profile, region) for source in first]
    # The legs of a wind from anywhere hold it as a head wind already.
    wind_ms = 0.0 if ranking.weather.wind_variable else ranking.weather.wind_ms
    return certainty(field, ranking.weather.wind_from_true_deg, wind_ms, profile)


def contender(
    source: RankedSource, body: BodySurvey | None, profile: AircraftProfile, region: Region
) -> Contender:
    """Give a ranked source with its chance of being deep enough and the winds that its fill bears.

    Notes: the chance is that of the survey's least depth of the run or hover point that is used, at the depth that the
    aircraft needs; where that run is not found again, the confidence that the verdict asked for.
    """
    judged = source.assessment
    fill = getattr(profile, judged.method)
    if body is None:  # a fill station, whose store is stated
        return Contender(source, 1.0, None, "", WindLimits(fill.wind_limit_ms))
    least = least_depth_of(judged, body)
    chance = least.probability_at_least(fill.depth_m) if least is not None else None
    shallowest = "at its shallowest place"
    if least is not None and least.shallowest is not None:
        longitude, latitude = _degrees(region, least.shallowest)
        shallowest += f" ({degrees_minutes(longitude, latitude)})"
    limits = WindLimits(fill.wind_limit_ms)
    if judged.method == "ram_intake":
        heading_deg = judged.run_heading_true_deg
        limits = WindLimits(fill.wind_limit_ms, heading_deg, fill.crosswind_limit_ms, fill.tailwind_limit_ms)
    air = source.conditions
    if air.gust_ms is not None and air.gust_ms > 0.0:
        # Sampled winds are means; the limits hold for the gusts that come with them.
        limits = limits.scaled(air.wind_ms / air.gust_ms)
    chance = chance if chance is not None else fill.depth_probability
    return Contender(source, chance, fill.depth_m, shallowest, limits)


def least_depth_of(judged: MethodAssessment, body: BodySurvey) -> LeastDepth | None:
    """Give the survey's least depth of the run or hover point that an assessment uses; None where it is not found."""
    if judged.run_line is None:
        return next((hover.depth for hover in body.hover_points if hover.point == judged.fill_point), None)
    return next((run.depth for run in body.runs if run.line.equals(judged.run_line)), None)


def daylight_of(asked: RankingQuestion, ranking: Ranking) -> Daylight | None:
    """Give the daylight at the fire and the base; None where neither a day nor a time is given."""
    region, at = asked.region, asked.extras.at
    place = _degrees(region, asked.fire.area.centroid)
    day = ranking.weather.day if at is None else day_at(place[0], at)
    if day is None:
        return None
    base = None if region.base is None else _degrees(region, region.base.point)
    wanted = DayAsked(day, at, base_deg=base)
    of_profile = asked.aircraft.end_of_day
    if asked.extras.end_of_day is not None:
        wanted = replace(wanted, rule=asked.extras.end_of_day, rule_origin="as asked")
    elif of_profile is not None:
        wanted = replace(wanted, rule=of_profile, rule_origin=f"the profile's rule: {asked.aircraft.name}")
    return daylight(ranking.sources, *place, wanted)


def _degrees(region: Region, point: shapely.Point) -> tuple[float, float]:
    longitude, latitude = to_degrees(region.frame.crs_wkt, np.array([point.x]), np.array([point.y]))
    return float(longitude[0]), float(latitude[0])


def perimeter_supply(asked: RankingQuestion, ranking: Ranking) -> tuple[Stretch, ...]:
    """Give the fire's outer edge, or the drawn flank, in stretches by their best source of water among the ranked.

    Notes: points every 200 m; each source keeps the method, load and run of the ranking, and its legs are flown anew
    to each point, straight or by a plain way. A source is flown only where the upper bound of its rate (straight
    route, the whole wind from behind) can win, so that the answer is that of flying all of them.
    """
    routes = TerrainRoutes(FlightContext(asked.region, asked.survey, asked.aircraft, ranking.weather))
    found: list[Stretch] = []
    of_water = [one for one in ranking.sources if one.assessment.agent == "water"]
    flank = asked.target.flank if asked.target.kind == "flank" else None
    for line in outer_edges(asked.fire) if flank is None else [flank]:
        wet = waters_meeting(asked.region, line)
        served: list[Served] = []
        for point in points_along(line):
            before = served[-1].body_id if served else None
            served.append(_serve(routes, of_water, point, wet, before))
        found += stretches(line, served, len(found) + 1)
    return tuple(found)


def _serve(
    routes: TerrainRoutes,
    sources: Sequence[RankedSource],
    point: shapely.Point,
    wet: Sequence[shapely.Polygon],
    before: str | None = None,
) -> Served:
    """Give the best source for one point of the edge; wet are the waters that the edge meets, before the source of the
    point before."""
    if any(polygon.covers(point) for polygon in wet):
        return Served("this part of the edge lies on water")
    context = routes.context
    try:
        drop = above_ground(context.region, point, context.profile.drop_height_m, "this part of the edge")
    except BadArgument as reason:
        return Served(str(reason))
    best: Served | None = None
    best_rate = 0.0
    bounds = [(_most_rate(context, source, point), source) for source in sources]
    # The source of the point before is tried first: it is mostly the best again, and then few others can win.
    for bound, source in sorted(bounds, key=lambda b: (b[1].body_id != before, -b[0], b[1].rank)):
        if bound <= best_rate:
            continue
        slowest_s = None if best is None else 3600.0 * source.cycle.litres / best_rate
        trip_s = _round_trip_s(routes, source, drop, slowest_s)
        if trip_s is not None and 3600.0 * source.cycle.litres / trip_s > best_rate:
            best_rate = 3600.0 * source.cycle.litres / trip_s
            best = Served("", source.body_id, source.name, source.cycle.method, trip_s, best_rate)
    return best if best is not None else Served("no ranked source has a route to this part of the edge")


def _fixed_s(source: RankedSource) -> float:
    cycle = source.cycle
    return cycle.fill_s + cycle.manoeuvre_source_s + cycle.drop_s + cycle.manoeuvre_fire_s


def _most_rate(context: FlightContext, source: RankedSource, point: shapely.Point) -> float:
    """Give a rate [L/h] that the source cannot beat at a point."""
    near, far = ends(source.assessment)
    legs_s = context.least_s(far.distance(point), near.distance(point))
    return 3600.0 * source.cycle.litres / (_fixed_s(source) + legs_s)


def _round_trip_s(
    routes: TerrainRoutes, source: RankedSource, drop: Endpoint, slowest_s: float | None = None
) -> float | None:
    """Give the round trip [s] to a drop; None without a route, or where it is surely above slowest_s [s]."""
    level_m = source.conditions.elevation_m
    if level_m is None:
        return None
    near, far = fill_ends(routes.context, source.assessment, level_m)
    try:
        loaded = routes.plain_leg(drop, far, loaded=True)
        back_s = routes.context.least_s(0.0, near.point.distance(drop.point))
        if slowest_s is not None and _fixed_s(source) + loaded.time_s + back_s > slowest_s:
            return None
        empty = routes.plain_leg(drop, near, loaded=False)
    except NotFlyable:
        return None
    return _fixed_s(source) + loaded.time_s + empty.time_s
