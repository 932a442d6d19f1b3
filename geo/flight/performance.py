"""What the aircraft can lift in the day's air, and what a litre of the source's water weighs."""

import math
from functools import lru_cache

import gsw
import numpy as np

from geo.base.errors import BadArgument
from geo.records.region import SalinityClass
from geo.records.station import Agent

# Practical salinity taken for a stated class where none was measured: fresh as pure water (its upper limit, 0.5, would
# add 0.04 %), brackish as the heavy end of the mixohaline range, 30 (Venice System, 1958), salt as the ocean's 35.
PLANNING_SALINITY: dict[str, float] = {"fresh": 0.0, "brackish": 30.0, "salt": 35.0}
LOWEST_DENSITY_ALTITUDE_M, HIGHEST_DENSITY_ALTITUDE_M = -6000.0, 20000.0


# The heaviest that mixed long-term retardant weighs, and what counts for unknown contents [kg/L]: from memory,
# no source. Foam solution is nearly all water.
RETARDANT_KG_L = 1.10


def agent_density_kg_l(agent: Agent | None) -> float:
    """Give the density of what a fill station holds [kg/L]; unknown contents count as retardant, the heaviest."""
    return water_density_kg_l("fresh") if agent in ("water", "foam") else RETARDANT_KG_L


def liftable_kg(hover_payload: tuple[tuple[float, float], ...], density_altitude_m: float) -> float:
    """Give the mass [kg] that can be lifted in a hover out of ground effect at a density altitude [m].

    Parameters: hover_payload rows (density altitude m, kg) with rising altitudes, as in the aircraft profile.
    Returns: linear between rows; the lowest row's value below it (the gearbox may limit there: never extrapolated
    upward); 0.0 above the highest row, because nothing is known there and unknown never counts as good.
    Raises: BadArgument for an empty or disordered table or a value that is not finite.
    """
    table = np.asarray(hover_payload, dtype=float)
    if table.ndim != 2 or table.shape[1] != 2 or not np.all(np.isfinite(table)):
        raise BadArgument(
            f"hover_payload is {hover_payload!r}: it must hold at least one row (density altitude m, kg). "
            "Fix: fill the aircraft profile's hover table"
        )
    if np.any(np.diff(table[:, 0]) <= 0.0) or np.any(table[:, 1] < 0.0):
        raise BadArgument(
            f"hover_payload is {hover_payload!r}: altitudes must rise from row to row and masses must be 0 or more. "
            "Fix: sort the profile's hover table by density altitude"
        )
    if not (LOWEST_DENSITY_ALTITUDE_M <= density_altitude_m <= HIGHEST_DENSITY_ALTITUDE_M):
        raise BadArgument(f"density_altitude_m is {density_altitude_m} m: it must be a height in metres")
    if density_altitude_m > table[-1, 0]:
        return 0.0
    return float(np.interp(density_altitude_m, table[:, 0], table[:, 1]))


@lru_cache(maxsize=256)
def water_density_kg_l(
    salinity_class: SalinityClass | None = None,
    practical_salinity: float | None = None,
    temperature_c: float = 15.0,
) -> float:
    """Give the density of the source's water [kg/L] at the surface.

    Parameters: practical_salinity (PSS-78, 0..42) wins over the class; with neither the water is taken as sea water,
    the heaviest. temperature_c of the water, -2..40 degC.
    Raises: BadArgument out of range or for an unknown class word.
    Notes: TEOS-10 with the reference composition; salt in inland water differs in composition, an error below 0.1 %.
    References: IOC, SCOR and IAPSO (2010), The international thermodynamic equation of seawater, through `gsw`.
    """
    if practical_salinity is None:
        if salinity_class is not None and salinity_class not in PLANNING_SALINITY:
            raise BadArgument(
                f"salinity_class is {salinity_class!r}: it must be one of {sorted(PLANNING_SALINITY)}"
            )
        practical_salinity = PLANNING_SALINITY["salt" if salinity_class is None else salinity_class]
    if not (math.isfinite(practical_salinity) and 0.0 <= practical_salinity <= 42.0):
        raise BadArgument(f"practical_salinity is {practical_salinity}: it must lie from 0 to 42 (PSS-78)")
    if not (math.isfinite(temperature_c) and -2.0 <= temperature_c <= 40.0):
        raise BadArgument(f"temperature_c of the water is {temperature_c}: it must lie from -2 to 40 degC")
    reference_g_kg = gsw.SR_from_SP(practical_salinity)
    return float(gsw.rho_t_exact(reference_g_kg, temperature_c, 0.0)) / 1000.0
