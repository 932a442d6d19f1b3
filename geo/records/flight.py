"""What the flight stage hands on: legs with everything needed to redo their time by hand."""

import math
from dataclasses import dataclass

import numpy as np

from geo.base.errors import BadArgument
from geo.records.geometry import LineM, PointM


@dataclass(frozen=True)
class Endpoint:
    """One end of a leg: a place in the region's plane and an altitude above the vertical datum [m].

    above_ground_m: how far that is above the ground, 0 at a fill or a base, where the aircraft stands or hovers.
    speed_ms: the speed with which a leg sets off there [m/s], None where it is flying already.
    Raises: BadArgument for a place that is empty or a number that is not finite.
    """

    point: PointM
    altitude_m: float
    above_ground_m: float = 0.0
    speed_ms: float | None = None

    def __post_init__(self) -> None:
        numbers = (math.nan,) if self.point.is_empty else (*self.xy, self.altitude_m, self.above_ground_m)
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

    duration_s: level_s of level flight while the aircraft speeds up, then the climb from from_m to to_m (the greatest
    height that the leg needs). covered_m of the way is flown meanwhile: flown_s at the climb's airspeed_ms, which the
    cruise would take cruise_s for. waited_s is spent beside the way until wait_height_m is reached, which the leg
    needs wait_at_m from the start: the time to that height less the flight to that place. Both are None where nobody
    waits. A wait above half a second is flown in circles: see `Leg.circling`.
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
    level_s: float = 0.0

    @property
    def extra_s(self) -> float:
        """What the climb adds to the cruise time [s]."""
        return self.duration_s - self.cruise_s


@dataclass(frozen=True)
class Descending:
    """How a leg sinks to its end: extra_s = max(0, sink_s - cruise_s).

    The place that rules lies at_m from the start and needs from_m: sinking from there to to_m at rate_ms takes sink_s,
    and the cruise from there to the end takes cruise_s. What is lacking is gained by flying slower, down to the climb
    speed, or else in circles: see `Leg.circling`.
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
class Circling:
    """Height gained or lost in circles beside the way: they touch it at_m from the start.

    middle, radius_m: of the circle over the ground. turns: time_s over the time of one turn; less than a whole turn is
    flown as a weave inside the same circle.
    """

    at_m: float
    middle: PointM
    radius_m: float
    turns: float
    from_m: float
    to_m: float
    time_s: float


@dataclass(frozen=True)
class LegPart:
    """What one part of a leg keeps: the departure, the flight en route or the approach, from from_m to to_m [m along
    the leg].

    least_ground_m, least_obstacle_m: the least height above terrain, and above obstacles, in the width that counts
    there: the whole corridor en route, the surface's width in the others; None where none is known. ground_place,
    obstacle_place: the places on the route where that is; obstacle: which one.
    """

    name: str
    from_m: float
    to_m: float
    least_ground_m: float | None
    ground_place: PointM | None
    least_obstacle_m: float | None = None
    obstacle_place: PointM | None = None
    obstacle: str | None = None


@dataclass(frozen=True)
class Leg:
    """A flown leg. time_s = sum of segment times + climb_extra_s + descent_extra_s + turns_s.

    turns_s: what the turns take that are sharper than 60 degrees.

    safe_altitude_m: the altitude at which the whole leg, from end to end, could be flown level with the clearance above
    all ground and all obstacles in its corridor, and no lower than either end: where to climb to when the flight does
    not go as planned. climb_m is what must be climbed from the start; climb and descent say how their extra times come
    about (None where nothing is climbed, or nothing is sunk). path_m: the flight from the side, pairs of distance along
    the leg and altitude [m], straight between; within 0.1 m of the flight. circling: in the order flown.
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
    path_m: tuple[tuple[float, float], ...] = ()
    parts: tuple[LegPart, ...] = ()
    circling: tuple[Circling, ...] = ()
    turns_s: float = 0.0

    @property
    def extra_s(self) -> float:
        """What climb, descent and turns add to the cruise time [s]."""
        return self.climb_extra_s + self.descent_extra_s + self.turns_s


@dataclass(frozen=True, eq=False)
class LegSide:
    """A leg seen from the side, for a picture.

    distance_m (n,) along the way, never falling; ground_m (n,) terrain below it, NaN unknown; needed_m (n,) the height
    due there, -inf where none; altitude_m (n,) flown, upright where the aircraft circles. reached_m: where the climb
    ends, None without one. circles: distance, lowest and highest altitude [m] and count of turns of each.
    """

    distance_m: np.ndarray
    ground_m: np.ndarray
    needed_m: np.ndarray
    altitude_m: np.ndarray
    reached_m: float | None
    circles: tuple[tuple[float, float, float, float], ...] = ()
