"""Unit factors and physical constants, each with its source, and what follows from them alone."""

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
