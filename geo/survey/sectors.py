"""What stands round a hover point in every direction: the least slope of a surface that clears all of it.

The survey looks once; on the day an aircraft's gradients are held against the slopes.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely

from geo.records.survey import Sectors
from geo.survey.clearance import Surroundings, length_words, obstacle_label
from geo.survey.fan import Fan
from geo.survey.ground import WaterMask, window
from geo.survey.horizon_scan import DIRECTIONS, Cells, Scan, things_at
from geo.survey.usable.skyline import Skyline


@dataclass(frozen=True, eq=False)
class Horizon:
    """The surroundings of one water, made ready to be looked at from many points."""

    around: Surroundings
    skyline: Skyline

    def sectors(self, point: shapely.Point, clear_radius_m: float) -> Sectors:
        """Give what stands round a hover point.

        Parameters: point in the water; clear_radius_m [m]: the surfaces begin half the corridor wide to each side, but
        no wider than this.
        Notes: a thing counts in each direction whose surface its extent touches, at its nearest corner ahead: terrain
        cell by cell with its error, a shore cell by its land part, a wire by spans of 20 m. So no slope is too low;
        it is too high by what a cell's size makes. A direction with unknown ground or heights says so.
        References: 14 CFR Part 77, heliport imaginary surfaces: approach surface 8:1 over 4,000 ft (1,219 m).
        """
        settings, ground = self.around.settings, self.around.ground
        half_m = min(0.5 * settings.corridor_width_m, clear_radius_m)
        at = np.array([point.x, point.y])
        scan = Scan(at, half_m, settings.surface_divergence, settings.end_look_m, self._names)
        if ground.surface_m is None or ground.mask is None:
            why = "the water's surface elevation is unknown" if ground.mask else "no terrain was given"
            scan.bar(dict.fromkeys(range(DIRECTIONS), why))
            return scan.result()
        for cells, corners_of in ((self._land_near(at), None), (self._shore_near(at), self._land_corners)):
            scan.look_at_cells(cells, corners_of)
        corners, rise, label = self.skyline.obstacle_parts
        counted = np.flatnonzero(~(rise <= 0.0))
        parts = [corners[i] for i in counted]
        scan.look_at(things_at(at, parts, rise[counted], 0.0, label[counted].astype(int)))
        scan.bar(self._gaps(scan))
        return scan.result()

    @cached_property
    def _names(self) -> list[str]:
        return [self.around.ground.what, *(obstacle_label(one) for one in self.around.obstacles)]

    @cached_property
    def _mask(self) -> WaterMask:
        mask = self.around.ground.mask
        assert mask is not None
        return mask

    def _rise_m(self, row: np.ndarray | slice, column: np.ndarray | slice) -> np.ndarray:
        """Give how far cells rise above the water with the terrain's error [m]."""
        ground = self.around.ground
        assert ground.surface_m is not None
        return self._mask.terrain.values[row, column].astype(float) + ground.error_m - ground.surface_m

    @cached_property
    def _land(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Rise [m] of every cell round the water, with x and y [m] of its columns and rows.

        -inf: water, shore, or no higher than the water; NaN: unknown.
        """
        grid, reach_m = self._mask.terrain, self._reach_m
        west, south, east, north = self.around.ground.water.bounds
        box = west - reach_m, south - reach_m, east + reach_m, north + reach_m
        top, bottom, left, right = window(grid, box)
        rise = self._rise_m(slice(top, bottom), slice(left, right))
        row, column = np.mgrid[top:bottom, left:right]
        cover = self._mask.cover(row.ravel(), column.ravel()).reshape(rise.shape)
        rise[(cover != WaterMask.LAND) | (rise <= 0.0)] = -np.inf
        x = grid.west_m + (np.arange(left, right) + 0.5) * grid.cell_east_m
        y = grid.north_m - (np.arange(top, bottom) + 0.5) * grid.cell_north_m
        return rise, x, y

    @property
    def _reach_m(self) -> float:
        settings = self.around.settings
        return settings.end_look_m * (1.0 + settings.surface_divergence) + settings.corridor_width_m

    def _land_near(self, at: np.ndarray) -> Cells:
        """Give the cells in reach that are wholly land and higher than the water, or unknown."""
        rise, x, y = self._land
        reach_m, (east, north) = self._reach_m, at
        columns = slice(*np.searchsorted(x, (east - reach_m, east + reach_m)))
        rows = slice(*np.searchsorted(-y, (-north - reach_m, -north + reach_m)))
        part = rise[rows, columns]
        row, column = np.nonzero(part != -np.inf)
        middle = np.column_stack((x[columns][column] - east, y[rows][row] - north))
        return Cells(middle, self._half, part[row, column], self.around.ground.error_m)

    @property
    def _half(self) -> np.ndarray:
        """Half a cell's size east and north [m]."""
        return 0.5 * np.array([self._mask.terrain.cell_east_m, self._mask.terrain.cell_north_m])

    @cached_property
    def _shore_cells(self) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
        """Row, column, rise [m] and middle [m] of the shore cells that are higher than the water, or unknown."""
        row, column = self._mask.cells(WaterMask.SHORE)
        rise, grid = self._rise_m(row, column), self._mask.terrain
        row, column, rise = (part[~(rise <= 0.0)] for part in (row, column, rise))
        x = grid.west_m + (column + 0.5) * grid.cell_east_m
        y = grid.north_m - (row + 0.5) * grid.cell_north_m
        return row, column, rise, np.column_stack((x, y))

    def _shore_near(self, at: np.ndarray) -> Cells:
        row, column, rise, middle = self._shore_cells
        near = np.flatnonzero((np.abs(middle - at) < self._reach_m).all(axis=1))
        place = row[near], column[near]
        return Cells(middle[near] - at, self._half, rise[near], self.around.ground.error_m, place)

    def _land_corners(self, row: np.ndarray, column: np.ndarray) -> list[np.ndarray]:
        return self.skyline.land_corners(self._mask, row, column)

    def _gaps(self, scan: Scan) -> dict[int, str]:
        """Give the directions in which the surface leaves the terrain, with words on it."""
        inner, reach_m = shapely.box(*self._mask.terrain.bounds), self._reach_m
        found: dict[int, str] = {}
        if inner.covers(shapely.box(*(scan.at - reach_m), *(scan.at + reach_m))):
            return found
        for i in range(DIRECTIONS):
            end = float(scan.at[0]), float(scan.at[1])
            fan = Fan(end, i * 360.0 / DIRECTIONS, scan.half_m, scan.divergence, scan.look_m)
            outside = fan.outline.difference(inner).difference(self.around.ground.water)
            # The outline carries a micrometre of slack; anything larger beyond the raster's edge is a true gap.
            if outside.area > 1e-3:
                away_m = float(outside.distance(shapely.Point(scan.at)))
                found[i] = f"no {self.around.ground.what} from {length_words(away_m)} on"
        return found
