"""What every method is judged on: one source, one aircraft, one day."""

from dataclasses import dataclass

from geo.records.aircraft import AircraftProfile
from geo.records.conditions import SourceConditions
from geo.records.region import AnnotatedSite, Closure, Obstacle, WaterBody
from geo.records.suitability import LoadByFuel
from geo.records.survey import BodySurvey


@dataclass(frozen=True, eq=False)
class Facts:
    """The survey of a water body, the body as its owner describes it, the aircraft, the air at the source, the closed
    areas near it that are in force, the annotated sites of this water, and the obstacles near it."""

    survey: BodySurvey
    body: WaterBody
    profile: AircraftProfile
    conditions: SourceConditions
    closures: tuple[Closure, ...]
    sites: tuple[AnnotatedSite, ...]
    obstacles: tuple[Obstacle, ...] = ()

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

    def load(
        self, power_kg: float | None, power_by: str, noted: tuple[float, str] | None = None, **limits_l: float
    ) -> LoadByFuel:
        """Give the load by the fuel aboard, and what limits it, as `load_by_fuel`."""
        return load_by_fuel(self.profile, self.conditions, power_kg, power_by, noted, **limits_l)


def load_by_fuel(
    profile: AircraftProfile,
    air: SourceConditions,
    power_kg: float | None,
    power_by: str,
    noted: tuple[float, str] | None = None,
    **limits_l: float,
) -> LoadByFuel:
    """Give the load by the fuel aboard, and what limits it.

    Parameters: power_kg, the water that the aircraft's power bears with full fuel [kg], None where it does not limit,
    power_by its name; noted, a limit of an annotated site with its words; limits_l, further limits that no fuel
    changes, whose name is their keyword. The tank wins a tie.
    """
    limits = {"tank": profile.tank_l} | limits_l
    limits["maximum water load"] = profile.max_load_kg / air.water_density_kg_l
    if noted is not None:
        limits[noted[1]] = noted[0]
    limited_by = min(limits, key=lambda name: limits[name])
    borne = [(kg, by) for kg, by in ((power_kg, power_by), (air.gross_kg, air.gross_by)) if kg is not None]
    kg, by = min(borne, default=(None, ""))
    lifted_l = None if kg is None else kg / air.water_density_kg_l
    gain = air.fuel_gain_kg_l / air.water_density_kg_l
    return LoadByFuel(
        limits[limited_by], limited_by, lifted_l, by, profile.fuel_l, gain, air.water_density_kg_l
    )
