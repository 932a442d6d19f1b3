"""Filling from the hover: hover pump and bucket dip, which differ only in the figures of the profile."""

from collections.abc import Sequence

from geo.base.errors import BadArgument
from geo.records.aircraft import METHOD_NAMES, FillMethod, HoverFill
from geo.records.region import AnnotatedSite
from geo.records.suitability import Criterion, MethodAssessment
from geo.records.survey import HoverPoint
from geo.suitability import access, cautions, criteria, water
from geo.suitability.facts import Facts
from geo.suitability.verdict import Trial, conclude, load_words
from geo.suitability.waves import waves


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
    spot = facts.survey.hover_point
    if spot is None:
        reason = "unknown: the survey found no hover point"
        figure = criteria.Figure(None, fill.clear_radius_m, "m")
        missing = criteria.criterion("rotor clearance", "unknown", reason, hard=True, figure=figure)
        said = (cautions.wires(facts),)
        level = water.level(facts.survey.level_change_m, facts.survey.kind, facts.dry)
        judged = (missing, level) if facts.dry else (missing,)
        no_spot = Trial(method, judged, "", None, "unknown", None, None, cautions=said)
        return conclude(no_spot, facts.survey.body_id)
    return conclude(_trial(facts, method, fill, spot), facts.survey.body_id)


def _trial(facts: Facts, method: FillMethod, fill: HoverFill, spot: HoverPoint) -> Trial:
    noted = access.sites_of(method, facts.sites)
    litres, limited_by = _load(facts, noted)
    deep = water.depth(spot.depth, fill.depth_m, fill.depth_probability, "at the hover point")
    count = _loads(facts, fill, deep, litres)
    judged = (deep, *_criteria(facts, noted, fill, spot, count))
    payload = next(c for c in judged if c.name == "hover payload")
    # A payload that is not enough says so itself; the load would only say it again.
    if payload.state != "not met":
        judged = (*judged, criteria.load(litres, limited_by, facts.profile.tank_l, fill.least_load_fraction))
    usable_as = _usable_as(facts, litres, limited_by, spot)
    fill_s = None if litres is None else fill.fill_time_s * litres / facts.profile.tank_l
    said = (*access.site_cautions(noted), *_cautions(facts, judged, spot, litres, limited_by))
    load = litres, limited_by, fill_s
    return Trial(method, judged, usable_as, *load, spot.point, loads_available=count, cautions=said)


def _load(facts: Facts, noted: Sequence[AnnotatedSite]) -> tuple[float | None, str]:
    payload_kg = facts.conditions.liftable_kg
    if payload_kg is None:
        return None, "unknown"
    payload_l = max(0.0, payload_kg) / facts.conditions.water_density_kg_l
    return facts.least_load(access.load_limit(noted), hover_payload=payload_l)


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
    found = cautions.of_load(litres, facts.profile.tank_l, limited_by)
    found += cautions.for_source(facts, judged, spot.depth, hovering=True)
    wash_m = 3.0 * facts.profile.rotor_diameter_m
    found.append(f"rotor wash reaches about {wash_m:.0f} m (3 rotor diameters): keep people and boats away")
    found.append("ground effect is weaker over water: have power to hover out of ground effect")
    return tuple(found)
