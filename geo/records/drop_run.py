"""How loads are dropped at a coverage level: the flow of the doors and the ground speed that lay it."""

from dataclasses import dataclass


@dataclass(frozen=True)
class DropRun:
    """One drop run at a coverage level [US gal/100 ft2] over a width [m].

    ground_speed_ms along heading_true_deg, at the airspeed of the profile in the wind of the question. flow_l_s is what
    the doors are set to, door_share its part of their greatest flow, level_laid the level that one drop lays there.
    ground_share: the part of a load that counts towards the level on the ground. words say it all.
    """

    level: float
    width_m: float
    heading_true_deg: float
    airspeed_ms: float
    ground_speed_ms: float
    flow_l_s: float
    door_share: float
    level_laid: float
    ground_share: float
    words: str

    @property
    def too_much(self) -> float:
        """How many times the level asked for one drop lays: above 1 where the doors cannot let out less."""
        return max(1.0, self.level_laid / self.level)
