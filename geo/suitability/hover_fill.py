"""Filling from the hover: hover pump and bucket dip, which differ only in the figures of the profile."""

from collections.abc import Sequence
from dataclasses import replace

from geo.base.errors import BadArgument
from geo.records.aircraft import METHOD_NAMES, FillMethod, HoverFill
from geo.records.region import AnnotatedSite
from geo.records.suitability import Criterion, LoadByFuel, MethodAssessment
from geo.records.survey import HoverPoint
from geo.suitability import access, cautions, criteria, water
from geo.suitability.facts import Facts
from geo.suitability.near_obstacles import near_fill
from geo.suitability.verdict import Trial, conclude, load_words, standing, verdict_of, whole_tank
from geo.suitability.waves import waves
from geo.suitability.ways import VERTICAL_CLIMB_MS, VERTICAL_MARGIN, judged_ways

# Loads that differ by less than this share count as the same.
SAME_LOAD = 0.01


def assess_hover_pump(facts: Facts) -> MethodAssessment:
    """Judge filling by pump and hose. Raises: BadArgument when the aircraft has no hover pump."""
    return _assess(facts, "hover_pump", facts.profile.hover_pump)


def assess_bucket_dip(facts: Facts) -> MethodAssessment:
    """Judge filling by dipping a bucket. Raises: BadArgument when the aircraft has no bucket."""
    return _assess(facts, "bucket_dip", facts.profile.bucket_dip)


def _assess(facts: Facts, method: FillMethod, fill: HoverFill | None) -> MethodAssessment:
    if fill is None:
        raise BadArgument(
            f"{facts.profile.name} has no {METHOD_NAMES[method]}. Fix: ask only for its own methods"
        )
    spots = facts.survey.hover_points
    if not spots:
        reason = "unknown: the survey found no hover point"
        figure = criteria.Figure(None, fill.clear_radius_m, "m")
        missing = criteria.criterion("rotor clearance", "unknown", reason, hard=True, figure=figure)
        said = (cautions.wires(facts),)
        level = water.level(facts.survey.level_change_m, facts.survey.kind, facts.dry)
        judged = (missing, level) if facts.dry else (missing,)
        no_spot = Trial(method, judged, "", None, "unknown", None, None, cautions=said)
        return conclude(no_spot, facts.survey.body_id)
    trials = [_trial(facts, method, fill, spot) for spot in spots]
    best = min(trials, key=standing)
    found = conclude(best, facts.survey.body_id)
    if found.verdict == "not usable":
        return found
    others = sorted((one for one in trials if one is not best and _as_good(one, best)), key=standing)
    return replace(found, alternatives=tuple(conclude(one, facts.survey.body_id) for one in others))


def _as_good(one: Trial, best: Trial) -> bool:
    """True for a place with the best one's verdict and load: less water for a shorter way is no plain gain."""
    if verdict_of(one.criteria) != verdict_of(best.criteria):
        return False
    if one.litres is None or best.litres is None:
        return one.litres is best.litres
    return one.litres >= best.litres * (1.0 - SAME_LOAD)


def _trial(facts: Facts, method: FillMethod, fill: HoverFill, spot: HoverPoint) -> Trial:
    noted = access.sites_of(method, facts.sites)
    way = judged_ways(spot, fill, facts.conditions)
    load = _load(facts, noted, straight_up=way.climb_m > 0.0)
    litres, limited_by = (None, "unknown") if load is None else whole_tank(load)
    deep = water.depth(spot.depth, fill.depth_m, fill.depth_probability, "at the hover point")
    count = _loads(facts, fill, deep, litres)
    judged = (deep, *way.criteria, *_criteria(facts, noted, fill, spot, count))
    payload = next(c for c in judged if c.name == "hover payload")
    # A payload that is not enough says so itself; the load would only say it again.
    if payload.state != "not met":
        judged = (*judged, criteria.load(litres, limited_by, facts.profile.tank_l, fill.least_load_fraction))
    usable_as = _usable_as(facts, litres, limited_by, spot)
    fill_s, climb_s = None, way.climb_m / VERTICAL_CLIMB_MS
    if litres is not None:
        fill_s = fill.fill_time_s * litres / facts.profile.tank_l + climb_s
    said = (*access.site_cautions(noted), *_cautions(facts, judged, spot, litres, limited_by))
    taken = litres, limited_by, fill_s
    more = {
        "loads_available": count,
        "cautions": said,
        "ways": way.ways,
        "load": load,
        "fill_fixed_s": climb_s,
    }
    return Trial(method, judged, usable_as, *taken, spot.point, **more)  # type: ignore[arg-type]


def _load(facts: Facts, noted: Sequence[AnnotatedSite], *, straight_up: bool) -> LoadByFuel | None:
    """Give the load by the fuel aboard; a way out straight up leaves a margin of what can be lifted."""
    payload_kg, limit = facts.conditions.liftable_kg, "hover payload"
    if payload_kg is None:
        return None
    if straight_up:
        payload_kg *= 1.0 - VERTICAL_MARGIN
        limit = f"hover payload less {VERTICAL_MARGIN:.0%} for a climb straight up"
    return facts.load(payload_kg, limit, access.load_limit(noted))


def _loads(facts: Facts, fill: HoverFill, deep: Criterion, litres: float | None) -> float | None:
    """Number of loads in the water; None when unlimited or when depth or load are not trusted."""
    survey = facts.survey
    if survey.kind in water.UNLIMITED or deep.state != "met" or litres is None or litres <= 0.0:
        return None
    assert deep.measured is not None
    today_m2 = survey.area_today_m2.value
    area_m2 = today_m2 if today_m2 is not None else survey.area_m2
    return water.loads_in_water(area_m2, survey.volume_m3.value, deep.measured, fill.depth_m, litres)


def _criteria(
    facts: Facts, noted: Sequence[AnnotatedSite], fill: HoverFill, spot: HoverPoint, count: float | None
) -> tuple[Criterion, ...]:
    survey, air = facts.survey, facts.conditions
    full_kg = facts.profile.tank_l * air.water_density_kg_l
    return (
        criteria.rotor_clearance(
            spot.clear_radius_m, fill.clear_radius_m, spot.limited_by, spot.unknown_heights
        ),
        water.salt_in_hover(
            survey.salinity_class, survey.salinity_reason, survey.kind, allowed=fill.salt_allowed
        ),
        criteria.hover_payload(air.liftable_kg, full_kg, fill, air.reason),
        water.loads(
            count, facts.profile.useful_loads, survey.kind, volume_known=survey.volume_m3.value is not None
        ),
        water.level(survey.level_change_m, survey.kind, facts.dry),
        criteria.wind_strength(air.wind_ms, fill.wind_limit_ms, air.gust_ms, fill.gust_spread_limit_ms),
        *waves(facts, spot.point, fill.wave_limit_m),
        access.closed_areas(spot.point, fill.clear_radius_m, facts.closures),
        access.permission(facts.body, noted),
        access.site_notes(noted),
    )


def _usable_as(facts: Facts, litres: float | None, limited_by: str, spot: HoverPoint) -> str:
    if litres is None:
        return ""
    load = load_words(litres, facts.profile.tank_l, limited_by)
    return f"{load} from the hover, rotor clearance {spot.clear_radius_m:.0f} m"


def _cautions(
    facts: Facts, judged: tuple[Criterion, ...], spot: HoverPoint, litres: float | None, limited_by: str
) -> tuple[str, ...]:
    found = cautions.of_load(facts.profile, facts.conditions, litres, limited_by)
    found += cautions.for_source(facts, judged, spot.depth, hovering=True)
    found += near_fill(facts, spot.point, "the hover point")
    wash_m = 3.0 * facts.profile.rotor_diameter_m
    found.append(f"rotor wash reaches about {wash_m:.0f} m (3 rotor diameters): keep people and boats away")
    found.append("ground effect is weaker over water: have power to hover out of ground effect")
    return tuple(found)
