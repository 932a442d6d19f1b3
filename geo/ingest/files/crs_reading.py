"""Coordinate reference systems of user files: which text is accepted, and the way to longitude and latitude."""

import re
import warnings
from dataclasses import dataclass

import numpy as np
from pyproj import CRS, Transformer
from pyproj.exceptions import CRSError
from pyproj.transformer import TransformerGroup

from geo.ingest.files.refusal import Note, Refusal, caution

MAX_WKT_BYTES = 16 * 1024
EPSG_CODE = re.compile(r"EPSG:\d{3,6}", re.IGNORECASE)
WKT_START = re.compile(
    r"\s*(PROJCRS|PROJCS|PROJECTEDCRS|GEOGCRS|GEOGCS|GEOGRAPHICCRS|GEODCRS|GEODETICCRS|COMPOUNDCRS|COMPD_CS|BOUNDCRS)\s*[\[(]",
    re.IGNORECASE,
)
WKT_WITH_FILES = re.compile(r"nadgrids|geoidgrids|PROJ4_GRIDS|PARAMETERFILE|EXTENSION\s*[\[(]", re.IGNORECASE)
POOR_ACCURACY_M = 5.0
CRS_FIX = 'write it as "EPSG:n"'


def parse_crs(text: str) -> CRS:
    """Give the horizontal CRS of a text.

    Raises: Refusal unless the text is EPSG:n or WKT of at most 16 kB that names no grid file. Strings in PROJ's own
    language and URLs are refused: they can name files and hosts, and a grid that is missing shifts nothing in silence.
    """
    if EPSG_CODE.fullmatch(text.strip()) is None:
        if len(text.encode()) > MAX_WKT_BYTES:
            raise Refusal("the text of the coordinate system is longer than 16 kB", CRS_FIX, value=text[:40])
        if WKT_START.match(text) is None:
            raise Refusal("the coordinate system is neither EPSG:n nor WKT", CRS_FIX, value=text[:80])
        if WKT_WITH_FILES.search(text) is not None:
            rule = "the coordinate system refers to a grid file or extension"
            raise Refusal(rule, CRS_FIX, value=text[:80])
    try:
        crs = CRS.from_user_input(text.strip())
    except CRSError:
        raise Refusal("the coordinate system is unknown or damaged", CRS_FIX, value=text[:80]) from None
    if crs.is_compound:
        crs = crs.sub_crs_list[0]
    if crs.is_bound and crs.source_crs is not None:
        crs = crs.source_crs
    crs = crs.to_2d()
    if not (crs.is_geographic or crs.is_projected):
        raise Refusal("the coordinate system is neither geographic nor projected", CRS_FIX, value=crs.name)
    return crs


def settle_crs(carried: str | None, declared: str | None) -> CRS:
    """Give the CRS that a file carries, or else the one declared for it.

    Raises: Refusal (ask) when there is neither, or when both are there and differ.
    """
    if carried is None and declared is None:
        fix = 'declare it in region.toml, for example crs = "EPSG:4326"'
        raise Refusal("the file carries no coordinate system", fix, "ask", field="crs")
    crs = parse_crs(carried if carried is not None else str(declared))
    if carried is None or declared is None:
        return crs
    wanted, code = parse_crs(declared), crs.to_epsg(min_confidence=70)
    if crs.equals(wanted, ignore_axis_order=True) or (code is not None and code == wanted.to_epsg()):
        return crs
    rule = f"the file carries the coordinate system {crs.name}, region.toml declares {wanted.name}"
    raise Refusal(rule, "remove crs from region.toml, or mend the file", "ask", field="crs", value=declared)


@dataclass(frozen=True)
class ToDegrees:
    """The way from one CRS to WGS 84 longitude and latitude, and what is to be said of it."""

    crs: CRS
    transformer: Transformer
    faults: list[Note]

    def __call__(self, coordinates: np.ndarray) -> np.ndarray:
        """Give longitude, latitude [deg], shape (n, 2), not finite where a position has no image."""
        longitude, latitude = self.transformer.transform(coordinates[:, 0], coordinates[:, 1])
        return np.column_stack([longitude, latitude])


def to_degrees_from(crs: CRS) -> ToDegrees:
    """Give the way to WGS 84 degrees.

    Notes: a caution names the accuracy when the best way needs a grid that is not installed, or is worse than 5 m.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        group = TransformerGroup(crs, "EPSG:4326", always_xy=True)
    faults = []
    if group.transformers:
        first = group.transformers[0]
        ballpark = "ballpark" in first.description.lower()
        if not group.best_available or ballpark or first.accuracy > POOR_ACCURACY_M:
            known = f"{first.accuracy:g} m" if first.accuracy >= 0 else "unknown, 2 m to more than 100 m"
            why = "" if group.best_available else " because the grid of the best way is not installed"
            rule = f"positions in {crs.name} are turned into WGS 84 with an accuracy of {known}{why}"
            fix = "deliver the file in WGS 84, or in a coordinate system close to it"
            faults.append(caution(rule, fix, field="crs"))
    return ToDegrees(crs, Transformer.from_crs(crs, "EPSG:4326", always_xy=True), faults)
