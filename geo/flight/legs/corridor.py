"""The ground and the obstacles under a leg: prepared once per region and corridor width, then read leg by leg."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from scipy.ndimage import maximum_filter1d

from geo.base.errors import BadArgument
from geo.base.grid import Grid
from geo.base.prepared import Prepared
from geo.flight.legs.obstacle_heights import BUFFER_ALLOWANCE, ObstacleTop, raised
from geo.flight.legs.room_kernels import Frame
from geo.flight.legs.walk_kernels import look_up, shares
from geo.records.region import Obstacle

LONGEST_WIRE_PIECE_M = 500.0


@dataclass(frozen=True, eq=False)
class Corridor:
    """Terrain and obstacles prepared for legs of one half-width.

    ground: the terrain itself; surface: per cell the highest known terrain within half_width_m of any point of the
    cell; unknown: True where any of that terrain is unknown or outside the raster. far, near: surface and ground with
    the obstacles raised, inf where anything is unknown. All None without terrain.
    """

    half_width_m: float
    ground: Grid | None
    surface: Grid | None
    unknown: np.ndarray | None
    obstacles: tuple[ObstacleTop, ...]
    tree: shapely.STRtree | None
    far: np.ndarray | None = None
    near: np.ndarray | None = None

    @property
    def frame(self) -> Frame:
        """West, north, cell east and cell north of the raster [m]; there must be one."""
        assert self.ground is not None
        return frame_of(self.ground)

    @property
    def layers(self) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray] | None:
        """near, far, and the values of ground and surface, as the compiled code takes them; None without terrain."""
        if self.ground is None or self.surface is None or self.near is None or self.far is None:
            return None
        bare, highest = (np.ascontiguousarray(grid.values) for grid in (self.ground, self.surface))
        return self.near, self.far, bare, highest


@dataclass(frozen=True, eq=False)
class Profile:
    """What one straight line crosses, cell by cell: from_m, to_m (n,) distances along the line [m]; ground_m, surface_m
    (n,) terrain under the line and highest in the corridor [m], NaN unknown; known (n,) bool for the whole corridor."""

    from_m: np.ndarray
    to_m: np.ndarray
    ground_m: np.ndarray
    surface_m: np.ndarray
    known: np.ndarray


def _disc_maximum(values: np.ndarray, reach_east: np.ndarray, outside: float) -> np.ndarray:
    """Maximum over a footprint that reaches reach_east[k] cells sideways in the rows k above and below."""
    rows, columns = values.shape
    top = min(len(reach_east) - 1, rows)
    padded = np.full((rows + 2 * top, columns), outside, dtype=values.dtype)
    padded[top : top + rows] = values
    result = values.copy()
    for reach in np.unique(reach_east):
        wide = maximum_filter1d(padded, 2 * int(reach) + 1, axis=1, mode="constant", cval=outside)
        for k in np.flatnonzero(reach_east[: top + 1] == reach):
            np.maximum(result, wide[top - k : top - k + rows], out=result)
            np.maximum(result, wide[top + k : top + k + rows], out=result)
    return result


def _footprint(grid: Grid, half_width_m: float) -> np.ndarray:
    """Give per row offset how many columns away a cell can be and still lie within half_width_m of some point."""
    most = int(np.floor(half_width_m / grid.cell_north_m)) + 1
    gap_north = np.maximum(np.arange(most + 1) - 1, 0) * grid.cell_north_m
    sideways = np.sqrt(np.maximum(half_width_m**2 - gap_north**2, 0.0))
    return np.floor(sideways / grid.cell_east_m).astype(int) + 1


def _check_half_width(half_width_m: float) -> None:
    """Raises: BadArgument for a half-width that is not finite or is negative."""
    if not (np.isfinite(half_width_m) and half_width_m >= 0.0):
        raise BadArgument(f"half_width_m is {half_width_m}: it must be a finite number of metres, 0 or more")


def corridor_surface(terrain: Grid, half_width_m: float) -> Grid:
    """Give per cell the highest known terrain [m] within half_width_m of ANY point of the cell.

    Returns: Grid of the same shape and dtype, NaN only where nothing within reach is known. Never below the true
    maximum of the corridor; above it by what stands up to one more cell away.
    Raises: BadArgument for a half-width that is not finite or is negative.
    Notes: cells are counted by the gap between rectangles, so a line through the cell, its border included, is covered.
    """
    _check_half_width(half_width_m)
    known = np.where(np.isfinite(terrain.values), terrain.values, -np.inf)
    filtered = _disc_maximum(known, _footprint(terrain, half_width_m), -np.inf)
    filtered[np.isneginf(filtered)] = np.nan
    return replace(terrain, values=filtered)


def _unknown_near(terrain: Grid, half_width_m: float) -> np.ndarray:
    missing = (~np.isfinite(terrain.values)).astype(np.uint8)
    return _disc_maximum(missing, _footprint(terrain, half_width_m), 1).astype(bool)


def _ground_under(shape: shapely.Geometry, terrain: Grid | None) -> float | None:
    """Give the highest terrain in the cells that a shape touches [m]; None where any of them is unknown."""
    if terrain is None:
        return None
    west, south, east, north = shapely.bounds(shape).tolist()
    outer = terrain.bounds
    if west < outer[0] or south < outer[1] or east > outer[2] or north > outer[3]:
        return None
    rows, columns, _ = terrain.cell_of(np.array([west, east]), np.array([north, south]))
    row, column = np.mgrid[rows[0] : rows[1] + 1, columns[0] : columns[1] + 1]
    left = terrain.west_m + column * terrain.cell_east_m
    upper = terrain.north_m - row * terrain.cell_north_m
    cells = shapely.box(left, upper - terrain.cell_north_m, left + terrain.cell_east_m, upper)
    heights = terrain.values[row, column][Prepared(shape).intersects(cells)]
    return float(heights.max()) if heights.size and np.all(np.isfinite(heights)) else None


def _pieces(shape: shapely.Geometry) -> list[shapely.Geometry]:
    """Cut long lines, so that a wire over hills does not carry its highest tower's top everywhere."""
    pieces: list[shapely.Geometry] = []
    for part in shapely.get_parts(shape):
        if part.geom_type == "LineString" and part.length > LONGEST_WIRE_PIECE_M:
            points = shapely.get_coordinates(shapely.segmentize(part, LONGEST_WIRE_PIECE_M))
            pieces.extend(map(shapely.LineString, np.stack((points[:-1], points[1:]), axis=1)))
        else:
            pieces.append(part)
    return pieces


def _tops(obstacle: Obstacle, terrain: Grid | None) -> list[ObstacleTop]:
    what = f"{obstacle.kind} '{obstacle.name or obstacle.obstacle_id}'"
    tops = []
    for piece in _pieces(obstacle.shape):
        top = obstacle.top_elevation_m
        if top is None and obstacle.height_above_ground_m is not None:
            ground = _ground_under(piece, terrain)
            top = None if ground is None else ground + obstacle.height_above_ground_m
        tops.append(ObstacleTop(what, piece, top))
    return tops


def frame_of(grid: Grid) -> Frame:
    """Give west, north, cell east and cell north of a raster [m]."""
    return float(grid.west_m), float(grid.north_m), float(grid.cell_east_m), float(grid.cell_north_m)


def corridor(terrain: Grid | None, half_width_m: float, obstacles: Sequence[Obstacle] = ()) -> Corridor:
    """Prepare terrain and obstacles for many legs of one corridor half-width [m].

    Raises: BadArgument for a half-width that is not finite or is negative.
    Notes: one running maximum per distinct row width of the disc; the cost is per region, not per leg.
    """
    tops = tuple(top for obstacle in obstacles for top in _tops(obstacle, terrain))
    tree = shapely.STRtree([top.shape for top in tops]) if tops else None
    if terrain is None:
        _check_half_width(half_width_m)
        return Corridor(float(half_width_m), None, None, None, tops, tree)
    surface, unknown = corridor_surface(terrain, half_width_m), _unknown_near(terrain, half_width_m)
    far = raised(np.where(unknown, np.inf, surface.values).astype(float), terrain, tops, half_width_m)
    values = np.where(np.isfinite(terrain.values), terrain.values, np.inf).astype(float)
    near = raised(values, terrain, tops, 0.0)
    layers = np.ascontiguousarray(far), np.ascontiguousarray(near)
    return Corridor(float(half_width_m), terrain, surface, unknown, tops, tree, *layers)


def crop(terrain: Grid, bounds_m: tuple[float, float, float, float], margin_m: float) -> Grid:
    """Give the part of a raster within margin_m of west, south, east, north bounds (a view; at least one cell)."""
    west, south, east, north = bounds_m
    rows, columns, _ = terrain.cell_of(
        np.array([west - margin_m, east + margin_m]), np.array([north + margin_m, south - margin_m])
    )
    return Grid(
        terrain.values[rows[0] : rows[1] + 1, columns[0] : columns[1] + 1],
        terrain.west_m + columns[0] * terrain.cell_east_m,
        terrain.north_m - rows[0] * terrain.cell_north_m,
        terrain.cell_east_m,
        terrain.cell_north_m,
    )


def profile(
    prepared: Corridor, start: tuple[float, float], end: tuple[float, float], breaks_m: Sequence[float] = ()
) -> Profile:
    """Walk every cell that a straight plane line crosses, none left out (exact crossings, no sampling).

    Parameters: start, end (easting_m, northing_m); breaks_m further distances at which to cut.
    Returns: Profile; without terrain everything is NaN and not known.
    """
    length = float(np.hypot(end[0] - start[0], end[1] - start[1]))
    breaks = np.asarray(breaks_m, dtype=float) / length
    first, last = np.array(start, dtype=float), np.array(end, dtype=float)
    grid = prepared.ground
    if grid is None or prepared.surface is None or prepared.unknown is None:
        share = shares(first, first, breaks)
        nothing = np.full(len(share) - 1, np.nan)
        known = np.zeros(nothing.shape, bool)
        return Profile(share[:-1] * length, share[1:] * length, nothing, nothing, known)
    frame = np.array([grid.west_m, grid.north_m, grid.cell_east_m, grid.cell_north_m])
    share = shares(_in_cells(first, frame), _in_cells(last, frame), breaks)
    layers = (grid.values, prepared.surface.values, prepared.unknown)
    found = look_up(share, first, last, frame, *map(np.ascontiguousarray, layers))
    return Profile(share[:-1] * length, share[1:] * length, *found)


def _in_cells(place_m: np.ndarray, frame: np.ndarray) -> np.ndarray:
    """Give a place in cells from the raster's north-west corner, east and south."""
    return np.array([(place_m[0] - frame[0]) / frame[2], (frame[1] - place_m[1]) / frame[3]])


def obstacle_spans(
    prepared: Corridor, start: tuple[float, float], end: tuple[float, float], reach_m: float
) -> list[tuple[float, float, ObstacleTop]]:
    """Give where a straight plane line passes within reach_m of obstacles: (from_m, to_m along the line, obstacle)."""
    if prepared.tree is None:
        return []
    line = shapely.LineString([start, end])
    spans = []
    for index in prepared.tree.query(line, predicate="dwithin", distance=reach_m * BUFFER_ALLOWANCE):
        top = prepared.obstacles[int(index)]
        near = shapely.intersection(line, shapely.buffer(top.shape, reach_m * BUFFER_ALLOWANCE, quad_segs=16))
        for part in shapely.get_parts(near):
            points = shapely.get_coordinates(part)
            if not len(points):
                continue  # within reach by less than the buffer's chords, so beyond the reach asked for
            along = np.hypot(points[:, 0] - start[0], points[:, 1] - start[1])
            spans.append((float(along.min()), float(along.max()), top))
    return spans
