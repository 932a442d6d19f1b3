"""Which values of a raster mean that nothing is known. Runs in the worker."""

import numpy as np

from geo.ingest.files.refusal import Note, Refusal, caution

SUSPECT_NODATA = (-9999.0, -32768.0, -32767.0, -999.0, -99999.0, 9999.0, 32767.0, 65535.0)
HUGE = 1e19


def mask_nodata(values: np.ndarray, carried: float | None, declared: float | None) -> list[Note]:
    """Set nodata to NaN in place and give cautions.

    Parameters: carried and declared, the value that the file and region.toml say, None where they say none.
    Raises: Refusal (ask) when nodata is undeclared or contradictory.
    """
    faults = []
    if carried is not None and declared is not None and not _same(carried, declared):
        rule = f"the file says nodata {carried:g}, region.toml says {declared:g}"
        raise Refusal(rule, "remove nodata from region.toml, or mend the file", "ask", field="nodata")
    nodata = carried if carried is not None else declared
    if nodata is not None and np.isfinite(nodata):
        masked = values == np.asarray(nodata).astype(values.dtype)
        values[masked] = np.nan
        if nodata == 0 and masked.any():
            rule = f"nodata is 0: {int(masked.sum())} cells at sea level count as unknown"
            faults.append(caution(rule, "use -9999"))
    elif np.isnan(values).any() and nodata is None:
        count = int(np.isnan(values).sum())
        faults.append(caution(f"{count} cells are not numbers; they count as unknown", "declare nodata"))
    values[np.isinf(values)] = np.nan
    _ask_about_suspects(values)
    return faults


def _ask_about_suspects(values: np.ndarray) -> None:
    for suspect in [*SUSPECT_NODATA, *_huge(values)]:
        count = int((values == suspect).sum())
        if count and _stands_alone(values, suspect):
            rule = f"{count} cells hold {suspect:g} and nodata is not declared as that"
            fix = f"declare nodata = {suspect:g} if they are unknown, or remove them"
            raise Refusal(rule, fix, "ask", field="nodata", value=f"{suspect:g}")


def _huge(values: np.ndarray) -> list[float]:
    with np.errstate(invalid="ignore"):
        return [float(one) for one in np.unique(values[np.abs(values) > HUGE])[:3]]


def _stands_alone(values: np.ndarray, suspect: float) -> bool:
    """True when no other value lies within 5 % of the suspect: real ground has neighbours in height."""
    with np.errstate(invalid="ignore"):
        distance = np.abs(values[(values != suspect) & np.isfinite(values)] - suspect)
    return distance.size == 0 or float(distance.min()) > 0.05 * abs(suspect)


def _same(one: float, other: float) -> bool:
    return one == other or (np.isnan(one) and np.isnan(other)) or np.float32(one) == np.float32(other)
