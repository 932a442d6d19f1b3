"""Annotated sites as a file gives them, held against the sites that are kept: the same place, or another one."""

from collections.abc import Sequence
from dataclasses import replace

from pyproj import Geod

from geo.base.file_limits import CUT_MARK, TEXT_BYTES, one_line
from geo.records.region import AnnotatedSite, Region
from geo.today.region import with_sites

# Formats round positions: what has moved by less has not been moved. 0.000002 degrees are 0.2 m.
STILL_DEG = 2e-6
# A row without an id means the kept site of its name that lies so near (our choice, no source).
SAME_PLACE_M = 10.0
_EARTH = Geod(ellps="WGS84")
Degrees = tuple[float, float]


def same_place(one_deg: Degrees, other_deg: Degrees) -> bool:
    """Tell whether two positions, longitude and latitude [deg, WGS 84], mean the same place: within SAME_PLACE_M."""
    return _EARTH.inv(*one_deg, *other_deg)[2] <= SAME_PLACE_M


def not_moved(one_deg: Degrees, other_deg: Degrees) -> bool:
    """Tell whether two positions [deg] differ by no more than the rounding of file formats."""
    return all(abs(one - other) <= STILL_DEG for one, other in zip(one_deg, other_deg, strict=True))


def within_180(longitude_deg: float) -> float:
    """Give a longitude [deg] within -180 to 180; one that is there keeps every digit."""
    return longitude_deg if -180.0 <= longitude_deg <= 180.0 else (longitude_deg + 180.0) % 360.0 - 180.0


def same_text(cell: str, kept: str) -> bool:
    """Tell whether a cell is what a Shapefile or CSV of ours makes of a kept text: it then says nothing new."""
    cut = cell.endswith(CUT_MARK) and len(cell.encode()) > TEXT_BYTES - 8
    return (cut and kept.startswith(cell[: -len(CUT_MARK)])) or cell == one_line(kept)


def waters_of_sites(region: Region, sites: Sequence[AnnotatedSite]) -> dict[str, str | None]:
    """Give the water body's id that each site speaks of, by the site's id; None where it lies at none.

    Parameters: sites whose points are longitude, latitude in WGS 84.
    """
    placed = with_sites(replace(region, sites=()), sites).sites
    return {one.site_id: one.body_id for one in placed}
