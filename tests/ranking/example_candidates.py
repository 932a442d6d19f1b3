"""Candidates and aircraft made for the ranking tests: plain values with obvious answers."""

from dataclasses import replace

import shapely

from geo.ingest.layers.aircraft import load_profile
from geo.records.aircraft import AircraftProfile
from geo.records.conditions import SourceConditions
from geo.records.flight import Leg, Segment
from geo.records.ranking import Candidate
from geo.records.suitability import MethodAssessment, Verdict

AIR = SourceConditions(100.0, 100.0, 400.0, 25.0, 0.0, 0.0, 0.0, 10_500.0, 1.0, "made for a test")


def table_profile(**changes) -> AircraftProfile:
    """The aircraft of the published planning table: 180/200 km/h, drop 10 s, manoeuvre 90 s together.

    It refuels in no time, so that where no transit is flown the sustained rate of equal loads is that of one load.
    """
    plain = {"cruise_loaded_ms": 50.0, "cruise_empty_ms": 200.0 / 3.6, "drop_s": 10.0}
    plain |= {"manoeuvre_source_s": 30.0, "manoeuvre_fire_s": 60.0, "refuel_turn_s": 0.0}
    return replace(load_profile("heavy_tank_helicopter"), **(plain | changes))


def flat_leg(distance_m: float, ground_speed_ms: float, *, climb_extra_s: float = 0.0) -> Leg:
    """A level leg in a straight line, with the climb that is asked for."""
    time_s = distance_m / ground_speed_ms
    segment = Segment(distance_m, 90.0, ground_speed_ms, ground_speed_ms, time_s)
    route = shapely.LineString([(0.0, 0.0), (distance_m, 0.0)])
    return Leg(
        time_s + climb_extra_s,
        distance_m,
        (segment,),
        0.0,
        climb_extra_s,
        0.0,
        200.0,
        "flat ground",
        route,
        False,
    )


def assessment(
    body_id: str = "W1",
    method: str = "ram_intake",
    *,
    verdict: Verdict = "usable",
    litres: float = 10_000.0,
    fill_s: float = 45.0,
    reason: str = "made for a test",
    loads_available: float | None = None,
) -> MethodAssessment:
    """An assessment with the parts that the ranking reads."""
    out = verdict == "not usable"
    return MethodAssessment(
        body_id=body_id,
        method=method,
        verdict=verdict,
        score=0.0 if out else 70.0,
        criteria=(),
        cautions=("look for wires",),
        reason=reason,
        litres=None if out else litres,
        litres_ruled_by="tank",
        fill_time_s=None if out else fill_s,
        fill_point=shapely.Point(0.0, 0.0),
        loads_available=loads_available,
    )


def candidate(judged: MethodAssessment, distance_m: float | None, **changes) -> Candidate:
    """A candidate at a distance over flat ground without wind, or one that was not flown."""
    legs = (
        (None, None)
        if distance_m is None
        else (flat_leg(distance_m, 50.0), flat_leg(distance_m, 200.0 / 3.6))
    )
    made = Candidate(judged.body_id, f"Water {judged.body_id}", "lake", judged, AIR, *legs, None, None, None)
    return replace(made, **changes)
