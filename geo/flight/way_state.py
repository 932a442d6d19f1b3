"""What all legs of one kind share while ways are compared: the aircraft's state, the day's wind, the climb's clock."""

import math
from dataclasses import dataclass

import numpy as np

from geo.flight.climb_rate import Climb, ClimbClock, climb_seconds
from geo.flight.way_kernels import Rule

CLOCK_STEP_M = 25.0


@dataclass(frozen=True)
class FlightState:
    """An aircraft, loaded or empty, in the day's wind; every field is the parameter of that name of `legs.leg`."""

    tas_ms: float
    climb_speed_ms: float
    climb_ms: Climb
    descent_ms: float
    clearance_m: float
    half_width_m: float
    ceiling_m: float
    wind_from_true_deg: float
    wind_ms: float
    exempt_m: float = 1500.0

    @property
    def fastest_climb_ms(self) -> float:
        """The greatest rate of climb [m/s]."""
        return self.climb_ms.fastest_ms if isinstance(self.climb_ms, ClimbClock) else self.climb_ms

    def climb_s(self, from_m: float, to_m: np.ndarray | float) -> np.ndarray:
        """Give the time [s] to climb from a height to others [m]."""
        return climb_seconds(self.climb_ms, from_m, to_m)

    def fastest_ms(self) -> float:
        """Give a ground speed [m/s] that no leg of this state exceeds."""
        return self.tas_ms + self.wind_ms


def blow_ms(state: FlightState, wind_from_grid_deg: float) -> tuple[float, float]:
    """Give where the wind blows to, east and north in the plane [m/s]."""
    angle = math.radians(wind_from_grid_deg)
    return -state.wind_ms * math.sin(angle), -state.wind_ms * math.cos(angle)


def rule_of(
    state: FlightState,
    start_altitude_m: float,
    end_altitude_m: float,
    wind_from_grid_deg: float,
    lowest_m: float,
) -> Rule:
    """Give the numbers of one leg as the compiled code takes them; lowest_m: no height below it matters [m]."""
    low = min(lowest_m, start_altitude_m, end_altitude_m)
    heights = low + CLOCK_STEP_M * np.arange(math.ceil(max(state.ceiling_m - low, 0.0) / CLOCK_STEP_M) + 2)
    return Rule(
        start_altitude_m,
        end_altitude_m,
        state.tas_ms,
        state.climb_speed_ms,
        state.climb_s(low, heights),
        low,
        CLOCK_STEP_M,
        state.descent_ms,
        state.clearance_m,
        state.ceiling_m,
        state.exempt_m,
        *blow_ms(state, wind_from_grid_deg),
    )
