"""What the flight stage hands on: legs with everything needed to redo their time by hand."""

import math
from dataclasses import dataclass

import numpy as np

from geo.base.errors import BadArgument
from geo.records.geometry import LineM, PointM


@dataclass(frozen=True)
class Endpoint:
    """One end of a leg: a place in the region's plane and an altitude above the vertical datum [m].

    Raises: BadArgument for a place that is empty or a number that is not finite.
    """

    point: PointM
    altitude_m: float

    def __post_init__(self) -> None:
        numbers = (math.nan,) if self.point.is_empty else (*self.xy, self.altitude_m)
        if not all(map(math.isfinite, numbers)):
            raise BadArgument(
                f"end of a leg at {self.point}, {self.altitude_m} m: position and altitude must be finite numbers. "
                "Fix: give easting, northing and altitude in metres"
            )

    @property
    def xy(self) -> tuple[float, float]:
        """Easting and northing [m]."""
        return self.point.x, self.point.y

    def away_m(self, other: "Endpoint") -> float:
        """Give the plane distance to another end [m]."""
        (east, north), (to_east, to_north) = self.xy, other.xy
        return math.hypot(east - to_east, north - to_north)


@dataclass(frozen=True)
class Segment:
    """One straight piece: wind triangle inputs and result. The wind is where it blows FROM, degrees true; in winds that
    change by height or place it is the mean of the piece."""

    distance_m: float
    track_true_deg: float
    true_airspeed_ms: float
    ground_speed_ms: float
    time_s: float
    wind_from_true_deg: float | None = None
    wind_ms: float | None = None


@dataclass(frozen=True)
class Climbing:
    """How a leg climbs from its start: extra_s = duration_s - cruise_s, and duration_s = flown_s + waited_s.

    duration_s is the climb from from_m to to_m (the greatest height that the leg needs). covered_m of the way is flown
    meanwhile: flown_s at the climb's airspeed_ms, which the cruise would take cruise_s for. waited_s is circled until
    wait_height_m is reached, which the ground wait_at_m from the start needs: the climb to that height less the flight
    to that place. Both are None where nobody waits.
    """

    from_m: float
    to_m: float
    duration_s: float
    airspeed_ms: float
    covered_m: float
    flown_s: float
    cruise_s: float
    waited_s: float
    wait_at_m: float | None
    wait_height_m: float | None

    @property
    def extra_s(self) -> float:
        """What the climb adds to the cruise time [s]."""
        return self.duration_s - self.cruise_s


@dataclass(frozen=True)
class Descending:
    """How a leg sinks to its end: extra_s = max(0, sink_s - cruise_s).

    The place that rules lies at_m from the start and needs from_m: sinking from there to to_m at rate_ms takes sink_s,
    and the cruise from there to the end takes cruise_s.
    """

    from_m: float
    to_m: float
    at_m: float
    rate_ms: float
    sink_s: float
    cruise_s: float

    @property
    def extra_s(self) -> float:
        """What the descent adds to the cruise time [s]."""
        return max(0.0, self.sink_s - self.cruise_s)


@dataclass(frozen=True)
class Leg:
    """A flown leg. time_s = sum of segment times + climb_extra_s + descent_extra_s.

    safe_altitude_m is the highest ground or obstacle top in the leg's corridor, ends included, plus the whole
    clearance, and never below either end's altitude; the flight itself lets the clearance grow from the ends on.
    climb_m is what must be climbed from the start; climb and descent say how their extra times come about (climb is
    None where nothing is climbed).
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
    climb: Climbing | None = None
    descent: Descending | None = None


@dataclass(frozen=True, eq=False)
class LegSide:
    """A leg seen from the side, for a picture.

    distance_m (n,) along the way, never falling; ground_m (n,) terrain below it, NaN unknown; needed_m (n,) the height
    due there, -inf where none; altitude_m (n,) flown, upright where the aircraft circles. reached_m: where the climb
    ends, None without one.
    """

    distance_m: np.ndarray
    ground_m: np.ndarray
    needed_m: np.ndarray
    altitude_m: np.ndarray
    reached_m: float | None
