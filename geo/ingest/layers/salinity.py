"""Practical salinity from conductivity."""

import gsw

from geo.ingest.layers.table import Row

MS_PER_CM = {"mS/cm": 1.0, "uS/cm": 1e-3, None: 1.0}
HIGHEST_SALINITY = 42.0
COLDEST_C, WARMEST_C = -2.0, 35.0


def salinity_from_conductivity(conductivity_ms_cm: float, temperature_c: float) -> float:
    """Give practical salinity at the surface.

    Parameters: conductivity [mS/cm] at the water's own temperature, temperature [deg C, ITS-90].

    Notes: PSS-78, which holds for 2 to 42; below 2 the extension of Hill, Dauphinee and Woods (1986, IEEE J. Oceanic
    Eng. 11:109) that the library applies, made for sea water thinned with fresh water: mineral lakes differ.

    References: UNESCO Technical Papers in Marine Science 44 (1983), p. 9.
    """
    return float(gsw.SP_from_C(conductivity_ms_cm, temperature_c, 0.0))


def practical_salinity(row: Row, unit: str | None) -> float | None:
    """Give the practical salinity of a row, None (with a caution) when its cells support none."""
    conductivity = row.number_in("conductivity", 0.0, 200.0, "the conductivity [mS/cm]", MS_PER_CM[unit])
    if conductivity is None:
        return None
    temperature = row.number_in("conductivity_temperature", COLDEST_C, WARMEST_C, "the temperature [deg C]")
    if temperature is None:
        rule = "a conductivity without the temperature at which it holds gives no salinity"
        fix = "map conductivity_temperature [deg C]; for meters that correct to 25 deg C that is 25"
        row.complain("conductivity", rule, fix)
        return None
    salinity = salinity_from_conductivity(conductivity, temperature)
    if not 0.0 <= salinity <= HIGHEST_SALINITY:
        rule = f"practical salinity {salinity:.3g} lies outside 0 to 42, where the formula holds"
        row.complain("conductivity", rule)
        return None
    return salinity
