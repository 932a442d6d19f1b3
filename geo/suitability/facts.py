"""What every method is judged on: one source, one aircraft, one day."""

from dataclasses import dataclass

from geo.records.aircraft import AircraftProfile
from geo.records.conditions import SourceConditions
from geo.records.region import AnnotatedSite, Closure, WaterBody
from geo.records.survey import BodySurvey


@dataclass(frozen=True, eq=False)
class Facts:
    """The survey of a water body, the body as its owner describes it, the aircraft, the air at the source, the closed
    areas near it that are in force, and the annotated sites of this water."""

    survey: BodySurvey
    body: WaterBody
    profile: AircraftProfile
    conditions: SourceConditions
    closures: tuple[Closure, ...]
    sites: tuple[AnnotatedSite, ...]

    @property
    def dry(self) -> str:
        """Why no water is left at today's level, "" where some is or nobody knows.

        Notes: the survey's waterline leaves nothing, or the level has fallen by more than the greatest depth that was
        stated, and twice its standard deviation.
        """
        fall_m, stated = -(self.survey.level_change_m.value or 0.0), self.body.stated_depth
        if fall_m > 0.0 and self.survey.area_today_m2.value == 0.0:
            return "no water is left above the bed"
        if stated is not None and fall_m > stated.greatest_m + 2.0 * (stated.sd_m or 0.0):
            return f"below the bed: the greatest depth stated is {stated.greatest_m:.1f} m"
        return ""

    def least_load(self, noted: tuple[float, str] | None = None, **limits_l: float) -> tuple[float, str]:
        """Give the load [L] and what limits it: the least of tank, maximum water load and the further limits given.

        Parameters: noted, a limit of an annotated site with its words. A further limit's name is its keyword with
        spaces for underscores. The tank wins a tie.
        """
        heaviest_l = self.profile.max_load_kg / self.conditions.water_density_kg_l
        limits = {"tank": self.profile.tank_l}
        limits |= {name.replace("_", " "): litres for name, litres in limits_l.items()}
        limits["maximum water load"] = heaviest_l
        if noted is not None:
            limits[noted[1]] = noted[0]
        limited_by = min(limits, key=lambda name: limits[name])
        return limits[limited_by], limited_by
