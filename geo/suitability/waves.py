"""Waves at a filling place from the wind, its fetch over the water, and the depth."""

import math

import numpy as np
import shapely

from geo.base.units import MS_PER_KNOT
from geo.records.geometry import PolygonM
from geo.records.suitability import Criterion, State
from geo.suitability.criteria import WIND_TOLERANCE_MS, Figure, criterion, margin_points
from geo.suitability.facts import Facts

GRAVITY_MS2 = 9.80665  # standard gravity
# Waters whose outline is no shore all round: waves come in from beyond it.
OPEN = ("sea", "estuary")
CALM_MS = 0.1  # below this no wave worth a figure rises
_FAR_M = 1e6
_ALL_ROUND_DEG = tuple(float(one) for one in range(0, 360, 10))


def significant_height_m(fetch_m: float, wind_ms: float, depth_m: float | None = None) -> float:
    """Give the significant wave height [m] that a steady wind raises over a fetch.

    Parameters: fetch_m >= 0 [m]; wind_ms at 10 m [m/s]; depth_m, the mean depth along the fetch [m], None for deep
    water, which gives the higher waves.
    Notes: U_A = 0.71 U^1.23; g H / U_A^2 = 0.283 a tanh(0.00565 sqrt(g F / U_A^2) / a), a = tanh(0.530 (g d /
    U_A^2)^0.75), 1 in deep water. The wind is taken to blow long enough. The mean of the highest third of the waves;
    single ones reach about 1.9 times that in a few minutes.
    References: US Army Corps of Engineers, Shore Protection Manual (1984), chapter 3, equation 3-39 (from memory).
    """
    if wind_ms <= CALM_MS or fetch_m <= 0.0:
        return 0.0
    stress_ms = 0.71 * wind_ms**1.23
    scale_m = stress_ms**2 / GRAVITY_MS2
    bed = 1.0 if depth_m is None else math.tanh(0.530 * (depth_m / scale_m) ** 0.75)
    if bed <= 0.0:
        return 0.0
    return scale_m * 0.283 * bed * math.tanh(0.00565 * math.sqrt(fetch_m / scale_m) / bed)


def fetch_m(water: PolygonM, place: shapely.Point, wind_from_grid_deg: float) -> float:
    """Give the way [m] over the water from a place to the shore, islands too, from where the wind blows."""
    angle = math.radians(wind_from_grid_deg)
    far = (place.x + _FAR_M * math.sin(angle), place.y + _FAR_M * math.cos(angle))
    ashore = shapely.LineString([(place.x, place.y), far]).intersection(water.boundary)
    return 0.0 if ashore.is_empty or not water.covers(place) else float(ashore.distance(place))


def waves(facts: Facts, where: shapely.Geometry, limit_m: float | None) -> tuple[Criterion, ...]:
    """Judge the waves at a run or hover point; nothing where the profile names no limit.

    A veto without weight: calm water earns nothing. On open sea waves and swell come from beyond the outline, so what
    is not too high within it is unknown there.
    """
    if limit_m is None:
        return ()
    water, air = facts.body.polygon, facts.conditions
    ends = shapely.get_coordinates(where)
    places = [shapely.Point(*one) for one in (*ends, np.mean(ends, axis=0))]
    from_deg = _ALL_ROUND_DEG if air.wind_variable else (air.wind_from_grid_deg,)
    longest_m = max(fetch_m(water, place, one) for place in places for one in from_deg)
    depth_m = facts.survey.mean_depth_m.value
    height_m = significant_height_m(longest_m, air.wind_ms, depth_m)
    bed = "deep water" if depth_m is None else f"{depth_m:.1f} m of water"
    reason = (
        f"{height_m:.1f} m in a wind of {air.wind_ms / MS_PER_KNOT:.0f} kt over {longest_m:,.0f} m of {bed}; "
        f"limit {limit_m:.1f} m"
    )
    state: State = "met" if height_m <= limit_m + WIND_TOLERANCE_MS else "not met"
    if state == "met" and facts.body.kind in OPEN:
        state, reason = "unknown", f"unknown: swell and waves from beyond the outline; within it {reason}"
    figure = Figure(height_m, limit_m, "m", most=True)
    points = margin_points(limit_m, limit_m, most=True)
    return (criterion("waves", state, reason, hard=state == "not met", figure=figure, points=points),)
