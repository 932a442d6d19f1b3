"""What all legs of one kind share when ways are compared: the aircraft's state, the day's wind, and how long a climb takes."""

import math
from dataclasses import dataclass

import numpy as np

from geo.flight.best_leg import grid_bearing_deg
from geo.flight.legs import Position, leg, xy
from geo.flight.way_kernels import Ground, Rule
from geo.records.flight import Leg

CLOCK_STEP_M = 25.0


@dataclass(frozen=True)
class FlightState:
    """An aircraft loaded or empty in the day's wind; every field as the parameter of `geo.flight.legs.leg`."""

    tas_ms: float
    climb_speed_ms: float
    climb_ms: float
    descent_ms: float
    clearance_m: float
    half_width_m: float
    ceiling_m: float
    wind_from_true_deg: float
    wind_ms: float
    exempt_m: float = 1500.0
