"""Filling at a fill station: by hose on the ground, or from the hover out of an open tank."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

import shapely

from geo.records.aircraft import METHOD_NAMES, AircraftProfile, FillMethod, GroundHose, HoverFill
from geo.records.conditions import SourceConditions
from geo.records.region import Closure, Obstacle
from geo.records.station import HOSE_KINDS, LONGEST_COUPLING_S, OPEN_KINDS, WATERWAY_M, FillStation
from geo.records.suitability import Criterion, LoadByFuel, MethodAssessment, State
from geo.suitability import access, cautions, criteria
from geo.suitability.criteria import Figure, criterion, margin_points
from geo.suitability.facts import load_by_fuel
from geo.suitability.verdict import Trial, conclude, load_words, whole_tank


@dataclass(frozen=True, eq=False)
class StationFacts:
    """One fill station, one aircraft, one day: the air there, the closures in force and all obstacles near it."""

    station: FillStation
    profile: AircraftProfile
    conditions: SourceConditions
    closures: tuple[Closure, ...]
    obstacles: tuple[Obstacle, ...]
    obstacles_listed: bool
    day: date | None


def methods_at(station: FillStation, profile: AircraftProfile) -> tuple[FillMethod, ...]:
    """Give the ways in which an aircraft can fill at a station of this kind; of an unknown kind all are judged."""
    found: list[FillMethod] = []
    if profile.ground_hose is not None and station.kind in (None, *HOSE_KINDS):
        found.append("ground_hose")
    if station.kind in (None, *OPEN_KINDS):
        found += [one for one in ("hover_pump", "bucket_dip") if getattr(profile, one) is not None]
    return tuple(found)


def assess_station(facts: StationFacts) -> tuple[MethodAssessment, ...]:
    """Judge every fill method of the aircraft that a station of its kind offers.

    Notes: as at waters, a broken hard limit makes "not usable", a hard unknown "survey first".
    """
    return tuple(_assess(facts, method) for method in methods_at(facts.station, facts.profile))


def _assess(facts: StationFacts, method: FillMethod) -> MethodAssessment:
    station, profile = facts.station, facts.profile
    fill: GroundHose | HoverFill = getattr(profile, method)
    by_fuel = _load(facts)
    litres, limited_by = (None, "unknown") if by_fuel is None else whole_tank(by_fuel)
    fill_s = _fill_s(facts, fill, litres)
    count = (
        None if litres is None else loads_held(station, litres, _running_s(station, fill, litres), profile)
    )
    judged = [*_place(facts, fill), contents(station), supply(station, litres, count, profile.useful_loads)]
    if isinstance(fill, GroundHose):
        judged += [slope(station.slope, fill.most_slope), flow(station.flow_l_s, fill.most_flow_l_s)]
    else:
        judged.append(tank_depth(station.depth_m, fill.depth_m))
    payload = criteria.hover_payload(
        facts.conditions.liftable_kg,
        profile.tank_l * facts.conditions.water_density_kg_l,
        fill,
        facts.conditions.reason,
    )
    judged.append(payload)
    if payload.state != "not met":
        judged.append(criteria.load(litres, limited_by, profile.tank_l, fill.least_load_fraction))
    usable_as = (
        ""
        if litres is None
        else f"{load_words(litres, profile.tank_l, limited_by)} of {station.agent or 'unknown contents'}, "
        f"{METHOD_NAMES[method]} at a {station.kind or 'station'}"
    )
    load = litres, limited_by, fill_s
    said = tuple(_cautions(facts, fill, tuple(judged), litres, limited_by))
    more = {"loads_available": count, "cautions": said, "load": by_fuel}
    more["fill_fixed_s"] = _coupling_s(station, fill)
    trial = Trial(method, tuple(judged), usable_as, *load, station.point, **more)  # type: ignore[arg-type]
    return replace(conclude(trial, station.station_id), agent=station.agent)


def _load(facts: StationFacts) -> LoadByFuel | None:
    """Give the load by the fuel aboard: filled on the ground, the aircraft must still lift out of ground effect."""
    payload_kg = facts.conditions.liftable_kg
    if payload_kg is None:
        return None
    return load_by_fuel(facts.profile, facts.conditions, payload_kg, "hover payload")


def _fill_s(facts: StationFacts, fill: GroundHose | HoverFill, litres: float | None) -> float | None:
    """Give the time of the fill, with the coupling of a hose; an unknown coupling time counts as the longest."""
    if litres is None:
        return None
    if isinstance(fill, HoverFill):
        return fill.fill_time_s * litres / facts.profile.tank_l
    if facts.station.flow_l_s is None:
        return None
    return _coupling_s(facts.station, fill) + _running_s(facts.station, fill, litres)


def _coupling_s(station: FillStation, fill: GroundHose | HoverFill) -> float:
    """Give the time that coupling a hose takes [s]; where unknown, the longest."""
    if isinstance(fill, HoverFill):
        return 0.0
    own_s = station.coupling_s
    return max(fill.coupling_time_s, LONGEST_COUPLING_S if own_s is None else own_s)


def _running_s(station: FillStation, fill: GroundHose | HoverFill, litres: float) -> float:
    """Give how long a fill surely runs [s]; 0 where nobody states the flow."""
    if isinstance(fill, HoverFill):
        return 0.0
    return 0.0 if station.flow_l_s is None else litres / min(station.flow_l_s, fill.most_flow_l_s)


def loads_held(
    station: FillStation, litres: float, running_s: float, profile: AircraftProfile
) -> float | None:
    """Give how many loads a station gives, None where that is not limited or not known (`supply` tells which).

    Notes: V + r t (n - 1) >= n L: what runs in counts as if the aircraft came back at once, t = the hose's time +
    manoeuvres + drop; coupling and legs would only bring more. Without a known refill the store is all there is.
    """
    if station.kind in (None, "hydrant") or litres <= 0.0 or station.volume_l is None:
        return None
    between_s = (
        running_s + profile.manoeuvre_source_s + profile.manoeuvre_fire_s + profile.drop_time_s(litres)
    )
    comes_l = (station.refill_l_s or 0.0) * between_s
    if station.volume_l < litres:
        return station.volume_l / litres
    return None if comes_l >= litres else (station.volume_l - comes_l) / (litres - comes_l)


def _place(facts: StationFacts, fill: GroundHose | HoverFill) -> list[Criterion]:
    station = facts.station
    radius_m, by = _clear_radius(facts)
    if radius_m is None:
        figure = Figure(None, fill.clear_radius_m, "m")
        reason = f"unknown: nobody states the clear radius; {fill.clear_radius_m:.1f} m needed"
        room = criterion("rotor clearance", "unknown", reason, hard=True, figure=figure)
    else:
        room = criteria.rotor_clearance(radius_m, fill.clear_radius_m, by, ())
    return [
        room,
        criteria.wind_strength(facts.conditions.wind_ms, fill.wind_limit_ms, facts.conditions.gust_ms),
        access.closed_areas(station.point, fill.clear_radius_m, facts.closures),
        access.leave(station.permission, station.owner),
        presence(station, facts.day),
    ]


def _clear_radius(facts: StationFacts) -> tuple[float | None, str]:
    """Give the clear radius as stated, or to the nearest obstacle where that is nearer, and what limits it."""
    radius_m, by = facts.station.clear_radius_m, "what its keeper states"
    if radius_m is None:
        return None, by
    for one in facts.obstacles:
        away_m = float(shapely.distance(one.shape, facts.station.point))
        if away_m < radius_m:
            radius_m, by = away_m, f"{one.kind} {one.name}"
    return radius_m, by


def presence(station: FillStation, day: date | None) -> Criterion:
    """Judge whether the station stands there on the day. Score: 100 when it does."""
    there = station.stands_on(day)
    span = f"from {station.valid_from or 'always'} to {station.valid_to or 'further notice'}"
    if there is None:
        why = "no day was asked for" if station.valid_from and station.valid_to else "its days are not stated"
        return criterion("on the day", "unknown", f"unknown: {why} ({span})", hard=True)
    state: State = "met" if there else "not met"
    reason = f"stands there {span}" if there else f"does not stand there on {day}, only {span}"
    return criterion("on the day", state, reason, hard=True, score=100.0)


def contents(station: FillStation) -> Criterion:
    """Judge whether it is known what the station holds. Score: 100 when it is."""
    if station.kind is None:
        return criterion("contents", "unknown", "unknown: so is the kind of station", hard=True)
    if station.agent is None:
        return criterion("contents", "unknown", "unknown: water, retardant or foam", hard=True)
    return criterion("contents", "met", station.agent, hard=True, score=100.0)


def supply(station: FillStation, litres: float | None, count: float | None, useful: int) -> Criterion:
    """Judge the loads that a station gives; less than one vetoes. Score: 100 x loads / useful loads."""
    if station.kind == "hydrant":
        return criterion("supply", "met", "from a main: not counted as limited", hard=True, score=100.0)
    figure = Figure(count, float(useful), "loads")
    if station.volume_l is None or litres is None:
        what = "nobody states the volume" if station.volume_l is None else "no load is known"
        return criterion("supply", "unknown", f"unknown: {what}", hard=True, figure=figure)
    held = f"{station.volume_l:,.0f} L"
    if count is None:
        flows = station.refill_l_s or 0.0
        reason = f"{held}, refilled at {flows:g} L/s faster than it is taken"
        return criterion("supply", "met", reason, hard=True, score=100.0, figure=figure)
    refill = "no refill is known" if station.refill_l_s is None else f"refilled at {station.refill_l_s:g} L/s"
    reason = f"{math.floor(count)} loads: {held}, {refill}; {useful} wanted"
    state: State = "met" if count >= useful else "not met"
    score = 100.0 * count / useful
    return criterion("supply", state, reason, hard=count < 1.0, score=score, figure=figure)


def slope(measured: float | None, most: float) -> Criterion:
    """Judge the slope of the landing place [rise/run]. Score: 50 at the limit, 100 on level ground."""
    figure = Figure(measured, most, "1", most=True)
    if measured is None:
        return criterion("slope", "unknown", f"unknown; at most {most:.0%}", hard=True, figure=figure)
    state: State = "met" if measured <= most else "not met"
    reason = f"{measured:.1%} at the landing place, limit {most:.1%}"
    points = margin_points(most, most, most=True)
    return criterion("slope", state, reason, hard=True, figure=figure, points=points)


def flow(measured_l_s: float | None, most_l_s: float) -> Criterion:
    """Judge the flow of the hose: it must be known. Score: 100 at the greatest that the aircraft takes."""
    figure = Figure(measured_l_s, None, "L/s")
    if measured_l_s is None:
        reason = "unknown: nobody states the flow of the hose"
        return criterion("flow", "unknown", reason, hard=True, figure=figure)
    taken = min(measured_l_s, most_l_s)
    reason = f"{measured_l_s:.1f} L/s; the aircraft takes {most_l_s:.1f} L/s at most"
    return criterion("flow", "met", reason, hard=True, score=100.0 * taken / most_l_s, figure=figure)


def tank_depth(measured_m: float | None, needed_m: float) -> Criterion:
    """Judge the depth of an open tank. Score: 50 when just met, 100 at twice what is needed."""
    figure = Figure(measured_m, needed_m, "m")
    if measured_m is None:
        reason = f"unknown: nobody states the depth of the tank; {needed_m:.1f} m needed"
        return criterion("depth", "unknown", reason, hard=True, figure=figure)
    state: State = "met" if measured_m >= needed_m else "not met"
    reason = f"{measured_m:.1f} m as the tank is kept; {needed_m:.1f} m needed"
    points = margin_points(needed_m, needed_m)
    return criterion("depth", state, reason, hard=True, figure=figure, points=points)


def _cautions(
    facts: StationFacts,
    fill: GroundHose | HoverFill,
    judged: Sequence[Criterion],
    litres: float | None,
    limited_by: str,
) -> list[str]:
    station = facts.station
    found = cautions.of_load(facts.profile, facts.conditions, litres, limited_by) + cautions.of_evidence(
        judged, None
    )
    found += [criteria.sentence(one) for one in judged if one.state == "not met" and not one.hard]
    if station.agent in ("retardant", "foam"):
        found.append(
            f"{station.agent}: dropped {WATERWAY_M:.0f} m (300 ft) or more from every water on the map; streams that "
            "are not on it count too. Stop 300 ft before a water, and wait 5 s after its far bank (USDA Forest "
            "Service, WFCS); rinse the tank before you fill from open water"
        )
    if isinstance(fill, GroundHose):
        if station.coupling_s is None:
            found.append(f"coupling time unknown: counted as {LONGEST_COUPLING_S:.0f} s")
        found.append("filled on the ground with the rotor turning: a marshaller, and nobody near the tail")
    found.append(
        cautions.wire_words(facts.obstacles_listed, "look for them on the approach and on departure")
    )
    return found
