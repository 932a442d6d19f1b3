"""What all legs of one kind share: the aircraft's state, the day's wind, the clock of the climb."""

import math
from dataclasses import dataclass, fields, replace

import numpy as np

from geo.base.errors import BadArgument
from geo.base.wind import blow_of, wind_of
from geo.flight.legs.climb_rate import Climb, ClimbClock, climb_seconds
from geo.flight.routing.rule_kernels import Rule
from geo.flight.winds import Nodes, Winds
from geo.records.flight import Endpoint

CLOCK_STEP_M = 25.0
_ABOVE_0 = ("tas_ms", "climb_speed_ms", "climb_ms", "descent_ms", "acceleration_ms2", "bank_deg")
_NOT_BELOW_0 = ("clearance_m", "half_width_m", "error_m", "end_half_width_m")
GRAVITY_MS2 = 9.80665
# The surfaces at the ends of a leg widen by so much to each side per metre of way: obstacles that count for a
# helicopter by day (EU 965/2012 CAT.POL.H.110, from memory; ICAO Annex 14 vol. II has one in ten by day too).
DIVERGENCE = 0.1


@dataclass(frozen=True)
class FlightState:
    """An aircraft, loaded or empty, in the day's air: what every leg of one kind shares.

    tas_ms, climb_speed_ms: true airspeed in cruise and while climbing [m/s]. climb_ms: rate [m/s], or the day's
    `ClimbClock`; its top is a ceiling that the caller puts into ceiling_m [m above the vertical datum]. descent_ms:
    rate [m/s]. clearance_m: height kept above terrain and obstacle tops; the terrain's stated error and the canopy are
    added to it by the caller. half_width_m: of the corridor in which terrain and obstacles count. The wind blows FROM
    wind_from_true_deg at wind_ms, the same everywhere, unless winds says how it changes by height or place.

    In the departure and the approach part (see `leg`) error_m is kept above what stands in the surface instead of the
    clearance, of which it is a part: the terrain's stated error. end_half_width_m: half the surface's width at the very
    end. acceleration_ms2: along level flight, from a fill to the climb speed; the climb begins there. bank_deg: of
    circles.

    Raises: BadArgument for a value that is not finite or out of range.
    """

    tas_ms: float
    climb_speed_ms: float
    climb_ms: Climb
    descent_ms: float
    clearance_m: float
    half_width_m: float
    ceiling_m: float
    wind_from_true_deg: float
    wind_ms: float
    winds: Winds | None = None
    error_m: float = 0.0
    end_half_width_m: float = 25.0
    acceleration_ms2: float = 1.0
    bank_deg: float = 25.0

    def __post_init__(self) -> None:
        for item in fields(self):
            value = getattr(self, item.name)
            if item.name == "winds" or isinstance(value, ClimbClock):
                continue
            if not (isinstance(value, (int, float, np.number)) and math.isfinite(value)):
                raise BadArgument(
                    f"{item.name} is {value}: it must be a finite number. Fix: give it in SI units"
                )
            if item.name in _ABOVE_0 and value <= 0.0:
                raise BadArgument(f"{item.name} is {value}: it must be above 0. Fix: mend the profile")
            if item.name in _NOT_BELOW_0 and value < 0.0:
                raise BadArgument(f"{item.name} is {value}: it must be 0 or more. Fix: mend the profile")

    @property
    def greatest_wind_ms(self) -> float:
        """A wind speed [m/s] that is nowhere exceeded."""
        return self.wind_ms if self.winds is None else self.winds.greatest_ms

    def uniform_at(self, east_m: float, north_m: float, altitude_m: float, ground_m: float) -> "FlightState":
        """Give the same state in the wind of one place, the same everywhere: that in which routes are compared.

        Notes: where the wind of that place is unknown, in the stated wind.
        """
        if self.winds is None:
            return self
        node = Nodes(*(np.array([value]) for value in (east_m, north_m, altitude_m, ground_m)))
        blow_east, blow_north = (float(part[0]) for part in self.winds.blow_ms(node))
        if not math.isfinite(blow_east + blow_north):
            return replace(self, winds=None)
        source, speed = map(float, wind_of(blow_east, blow_north))
        return replace(self, winds=None, wind_from_true_deg=source, wind_ms=speed)

    def level_s(self, start: Endpoint) -> float:
        """Give how long a leg flies level before it climbs [s]: the way in which it speeds up, flown at climb speed.

        Notes: from its speed at the start with the whole wind from behind, where the way is longest. What speeding up
        takes longer than that belongs to the manoeuvre at the start.
        """
        if start.speed_ms is None or start.speed_ms >= self.climb_speed_ms:
            return 0.0
        wind_ms, last_ms = self.greatest_wind_ms, self.climb_speed_ms
        takes_s = (last_ms - start.speed_ms) / self.acceleration_ms2
        return takes_s * (0.5 * (start.speed_ms + last_ms) + wind_ms) / (last_ms + wind_ms)

    @property
    def circle_radius_m(self) -> float:
        """The radius of a circle over the ground at the climb speed, so wide that the bank is nowhere exceeded [m].

        Notes: V^2 / (g tan bank) with V the climb speed with the whole wind from behind: a turn about a point is
        steepest there.
        """
        fastest_ms = self.climb_speed_ms + self.greatest_wind_ms
        return fastest_ms**2 / (GRAVITY_MS2 * math.tan(math.radians(self.bank_deg)))

    @property
    def turn_radius_m(self) -> float:
        """The radius of a sharp turn over the ground [m]: flown at half the climb speed, the whole wind from behind."""
        fastest_ms = 0.5 * self.climb_speed_ms + self.greatest_wind_ms
        return fastest_ms**2 / (GRAVITY_MS2 * math.tan(math.radians(self.bank_deg)))

    @property
    def turn_rad_s(self) -> float:
        """The rate of such a turn [rad/s]: g tan bank / V."""
        return GRAVITY_MS2 * math.tan(math.radians(self.bank_deg)) / (0.5 * self.climb_speed_ms)

    @property
    def turn_slowing_s(self) -> float:
        """What slowing down from V to V/2 and speeding up again loses against V [s]: 2 (V/2a - 3V/8a) = V / 4a."""
        return self.climb_speed_ms / (4.0 * self.acceleration_ms2)

    def clearing_s(self, start_altitude_m: float) -> float:
        """Give the time [s] to climb by the clearance from a height."""
        return float(climb_seconds(self.climb_ms, start_altitude_m, start_altitude_m + self.clearance_m))

    @property
    def fastest_climb_ms(self) -> float:
        """The greatest rate of climb [m/s]."""
        return self.climb_ms.fastest_ms if isinstance(self.climb_ms, ClimbClock) else self.climb_ms

    def climb_s(self, from_m: float, to_m: np.ndarray | float) -> np.ndarray:
        """Give the time [s] to climb from a height to others [m]."""
        return climb_seconds(self.climb_ms, from_m, to_m)

    def fastest_ms(self) -> float:
        """Give a ground speed [m/s] that no leg of this state exceeds."""
        return self.tas_ms + self.greatest_wind_ms


def rule_of(
    start: Endpoint, end: Endpoint, state: FlightState, wind_from_grid_deg: float, lowest_m: float
) -> Rule:
    """Give the numbers of one leg as the compiled code takes them; lowest_m: no height below it matters [m]."""
    low = min(lowest_m, start.altitude_m, end.altitude_m)
    heights = low + CLOCK_STEP_M * np.arange(math.ceil(max(state.ceiling_m - low, 0.0) / CLOCK_STEP_M) + 2)
    ends = start.altitude_m, end.altitude_m, state.tas_ms, state.climb_speed_ms
    clock = state.climb_s(low, heights), low, CLOCK_STEP_M
    limits = state.descent_ms, state.clearance_m, state.ceiling_m
    east_ms, north_ms = blow_of(wind_from_grid_deg, state.wind_ms)
    blow = float(east_ms), float(north_ms)
    parts = state.error_m, state.level_s(start), start.above_ground_m, end.above_ground_m
    room = state.end_half_width_m, DIVERGENCE, state.half_width_m, state.circle_radius_m
    turns = state.turn_radius_m, state.turn_slowing_s, state.turn_rad_s
    return Rule(*ends, *clock, *limits, *blow, *parts, *room, *turns)
