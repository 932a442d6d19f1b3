"""What the flight stage hands on: legs with everything needed to redo their time by hand."""

from dataclasses import dataclass

from geo.records.geometry import LineM


@dataclass(frozen=True)
class Segment:
    """One straight piece: wind triangle inputs and result."""

    distance_m: float
    track_true_deg: float
    true_airspeed_ms: float
    ground_speed_ms: float
    time_s: float


@dataclass(frozen=True)
class Leg:
    """A flown leg. time_s = sum of segment times + climb_extra_s + descent_extra_s.

    safe_altitude_m is the highest ground or obstacle top in the leg's corridor, ends included, plus the whole
    clearance, and never below either end's altitude; the flight itself lets the clearance grow from the ends on.
    climb_m is what must be climbed from the start.
    """

    time_s: float
    distance_m: float
    segments: tuple[Segment, ...]
    climb_m: float
    climb_extra_s: float
    descent_extra_s: float
    safe_altitude_m: float | None
    highest_what: str
    route: LineM
    detour: bool
    cautions: tuple[str, ...] = ()
