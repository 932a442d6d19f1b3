"""Every fill method of an aircraft judged at one source. A new method is one file and one row of ASSESSORS."""

from collections.abc import Callable, Sequence

from geo.records.aircraft import AircraftProfile, FillMethod
from geo.records.conditions import SourceConditions
from geo.records.region import AnnotatedSite, Closure, Obstacle, WaterBody
from geo.records.suitability import BodyAssessment, MethodAssessment
from geo.records.survey import BodySurvey
from geo.suitability import access
from geo.suitability.facts import Facts
from geo.suitability.hover_fill import assess_bucket_dip, assess_hover_pump
from geo.suitability.ram_intake import assess_ram_intake

ASSESSORS: dict[FillMethod, Callable[[Facts], MethodAssessment]] = {
    "ram_intake": assess_ram_intake,
    "hover_pump": assess_hover_pump,
    "bucket_dip": assess_bucket_dip,
}


def assess_body(
    survey: BodySurvey,
    body: WaterBody,
    profile: AircraftProfile,
    conditions: SourceConditions,
    closures: Sequence[Closure] = (),
    sites: Sequence[AnnotatedSite] = (),
    obstacles: Sequence[Obstacle] = (),
) -> BodyAssessment:
    """Judge every fill method that the aircraft has at one water body.

    Parameters: survey, body, the same water body as measured and as its owner describes it. profile, the aircraft; a
    method that it has not is not judged. conditions, the air at this source on the day. closures, closed areas in force
    on the day (the caller leaves out the others); far ones cost nothing. sites, annotated sites of the region; those of
    other waters are left out here. obstacles, those within 1 km of the water: the nearest are named in cautions.
    Returns: BodyAssessment with one MethodAssessment per method of the aircraft, in the order of METHOD_NAMES.

    Notes: A hard limit that is broken makes a method "not usable" with score 0; a hard limit that nobody can judge
    makes it "survey first". Missing evidence never raises a verdict or a score above what the same evidence, known to
    be good, would give.
    """
    reach = body.polygon.envelope.buffer(max(profile.rotor_diameter_m, 200.0))
    near = tuple(c for c in closures if c.area.intersects(reach))
    facts = Facts(survey, body, profile, conditions, near, access.sites_at(body, sites), tuple(obstacles))
    assessed = tuple(ASSESSORS[method](facts) for method in profile.methods())
    return BodyAssessment(survey.body_id, survey.name, assessed)
