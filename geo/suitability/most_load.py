"""The greatest load that a water could give a method in any weather: a bound, never a verdict.

It lets a ranking of very many waters leave out those that cannot matter. Only limits that hold whatever the weather,
the day and the closed areas are looked at, and each by the function that the assessment itself uses, so that nothing is
ruled out here that `geo.suitability.assess` would accept.
"""

from geo.records.aircraft import AircraftProfile, FillMethod, HoverFill, RamIntake
from geo.records.survey import BodySurvey
from geo.suitability import criteria, water


def most_load_l(method: FillMethod, survey: BodySurvey, profile: AircraftProfile) -> float:
    """Give the load [L] that the method cannot exceed at a water, 0 where it cannot be usable there.

    Parameters: a method that the aircraft has. Hover payload and maximum water load depend on the day and the
    salt, so they are left out.
    """
    level = water.level(survey.level_change_m, survey.kind)
    if level.hard and level.state != "met":
        return 0.0
    fill = getattr(profile, method)
    return _ram_l(survey, fill, profile.tank_l) if method == "ram_intake" else _hover_l(survey, fill, profile)


def _ram_l(survey: BodySurvey, intake: RamIntake, tank_l: float) -> float:
    least_m = criteria.least_run_m(intake)
    for run in sorted(survey.runs, key=lambda run: -run.length_m):
        if run.length_m < least_m:
            break
        deep = water.depth(run.depth, intake.depth_m, intake.depth_probability, "along the run")
        if deep.state == "met":
            return tank_l * criteria.run_share(run.length_m, intake)
    return 0.0


def _hover_l(survey: BodySurvey, fill: HoverFill, profile: AircraftProfile) -> float:
    salt = water.salt_in_hover(
        survey.salinity_class, survey.salinity_reason, survey.kind, allowed=fill.salt_allowed
    )
    if salt.hard and salt.state != "met":
        return 0.0
    for spot in survey.hover_points:
        if spot.clear_radius_m >= fill.clear_radius_m:
            deep = water.depth(spot.depth, fill.depth_m, fill.depth_probability, "at the hover point")
            if deep.state == "met":
                return profile.tank_l
    return 0.0
