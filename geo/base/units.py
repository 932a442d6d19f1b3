"""Unit factors and physical constants, each with its source, and what follows from them alone."""

import math

from geo.base.errors import BadArgument

METRE_PER_FOOT = 0.3048  # international foot, exact (1959 agreement)
METRE_PER_FATHOM = 6.0 * METRE_PER_FOOT
METRE_PER_NAUTICAL_MILE = 1852.0  # exact
MS_PER_KNOT = METRE_PER_NAUTICAL_MILE / 3600.0
MS_PER_KMH = 1.0 / 3.6
LITRE_PER_US_GALLON = 3.785411784  # exact, 231 cubic inches
SQUARE_METRE_PER_100_SQUARE_FEET = 100.0 * METRE_PER_FOOT**2
HPA_PER_INHG = 33.8638866667  # conventional inch of mercury at 0 degC
STANDARD_GRAVITY_MS2 = 9.80665  # ISO 2533:1975
CELSIUS_ZERO_K = 273.15


def turn_radius_m(speed_ms: float, bank_deg: float) -> float:
    """Give the radius of a level, co-ordinated turn [m].

    Parameters
    ----------
    speed_ms : speed through the air [m/s], positive. A tail wind widens the turn over the water: pass ground speed.
    bank_deg : angle of bank [deg], above 0 and below 90.

    Raises
    ------
    BadArgument : a value outside these ranges.

    Notes
    -----
    r = v^2 / (g tan(bank)) with g = 9.80665 m/s^2.

    References
    ----------
    FAA-H-8083-25, Pilot's Handbook of Aeronautical Knowledge, chapter "Aerodynamics of Flight", radius of turn.
    """
    if not 0.0 < speed_ms < math.inf:
        raise BadArgument(
            f"speed_ms is {speed_ms}; it must be positive and finite: give the speed of the run"
        )
    if not 0.0 < bank_deg < 90.0:
        raise BadArgument(
            f"bank_deg is {bank_deg}; it must lie above 0 and below 90: give the profile's limit"
        )
    return speed_ms**2 / (STANDARD_GRAVITY_MS2 * math.tan(math.radians(bank_deg)))
