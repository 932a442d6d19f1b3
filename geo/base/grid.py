"""A north-up raster in the region's metric CRS and how to read it. Shared by stages; knows nothing of water."""

from dataclasses import dataclass, replace

import numpy as np


@dataclass(frozen=True, eq=False)
class Grid:
    """Cell values with row 0 in the north.

    values: float32 or float64 array (rows, columns), NaN where unknown. west_m, north_m: outer corner of the
    first cell. cell_east_m, cell_north_m: cell size [m], both positive.
    """

    values: np.ndarray
    west_m: float
    north_m: float
    cell_east_m: float
    cell_north_m: float

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """Outer edges as west, south, east, north [m]."""
        rows, columns = self.values.shape
        return (
            self.west_m,
            self.north_m - rows * self.cell_north_m,
            self.west_m + columns * self.cell_east_m,
            self.north_m,
        )

    @property
    def centres(self) -> tuple[np.ndarray, np.ndarray]:
        """Eastings of the columns' centres (from the west) and northings of the rows' (from the north) [m]."""
        rows, columns = self.values.shape
        return (
            self.west_m + (np.arange(columns) + 0.5) * self.cell_east_m,
            self.north_m - (np.arange(rows) + 0.5) * self.cell_north_m,
        )

    def thinned(self, step: int) -> "Grid":
        """Give every step-th row and column, from the first, as a raster of larger cells."""
        cell_east_m, cell_north_m = self.cell_east_m * step, self.cell_north_m * step
        return Grid(self.values[::step, ::step], self.west_m, self.north_m, cell_east_m, cell_north_m)

    def cell_of(
        self, easting_m: np.ndarray, northing_m: np.ndarray
    ) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Give row, column and an inside mask of points; rows and columns are clipped where outside."""
        rows, columns = self.values.shape
        column = np.floor((np.asarray(easting_m, float) - self.west_m) / self.cell_east_m)
        row = np.floor((self.north_m - np.asarray(northing_m, float)) / self.cell_north_m)
        inside = (row >= 0) & (row < rows) & (column >= 0) & (column < columns)
        return (
            np.clip(np.nan_to_num(row), 0, rows - 1).astype(int),
            np.clip(np.nan_to_num(column), 0, columns - 1).astype(int),
            inside,
        )

    def nearest(self, easting_m: np.ndarray, northing_m: np.ndarray) -> np.ndarray:
        """Give the value of the cell that holds each point, NaN outside the raster (never 0)."""
        row, column, inside = self.cell_of(easting_m, northing_m)
        return np.where(inside, self.values[row, column], np.nan).astype(float)

    def bilinear(self, easting_m: np.ndarray, northing_m: np.ndarray) -> np.ndarray:
        """Interpolate between the four nearest cell centres; NaN where any of them is NaN or outside."""
        rows, columns = self.values.shape
        x = (np.asarray(easting_m, float) - self.west_m) / self.cell_east_m - 0.5
        y = (self.north_m - np.asarray(northing_m, float)) / self.cell_north_m - 0.5
        inside = (x >= -0.5) & (x <= columns - 0.5) & (y >= -0.5) & (y <= rows - 0.5)
        x = np.clip(x, 0, columns - 1)
        y = np.clip(y, 0, rows - 1)
        left = np.minimum(x.astype(int), max(columns - 2, 0))
        top = np.minimum(y.astype(int), max(rows - 2, 0))
        right = np.minimum(left + 1, columns - 1)
        below = np.minimum(top + 1, rows - 1)
        u, v = x - left, y - top
        z = self.values
        upper = z[top, left] * (1 - u) + z[top, right] * u
        lower = z[below, left] * (1 - u) + z[below, right] * u
        return np.where(inside, upper * (1 - v) + lower * v, np.nan)

    def raised_by(self, above: "Grid") -> "Grid":
        """Give this raster raised, in each cell, by the highest of all cells of another that touch it; NaN if any is.

        Where the other raster does not reach, the answer is NaN: nobody knows what stands there.
        """
        rows, columns = self.values.shape
        east = self.west_m + np.arange(columns + 1) * self.cell_east_m
        north = self.north_m - np.arange(rows + 1) * self.cell_north_m
        left, right = _touched((east - above.west_m) / above.cell_east_m)
        top, bottom = _touched((above.north_m - north) / above.cell_north_m)
        above_rows, above_columns = above.values.shape
        padded = np.pad(above.values.astype(float), ((0, 1), (0, 1)), constant_values=np.nan)
        raised = _highest(_highest(padded, top, bottom, 0), left, right, 1)
        raised[(top < 0) | (bottom > above_rows), :] = np.nan
        raised[:, (left < 0) | (right > above_columns)] = np.nan
        return replace(self, values=self.values + raised)


def _touched(edges: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Give from and to (exclusive) of the cells between following edges, which are in cells of the other raster."""
    return np.floor(edges[:-1] + 1e-9).astype(int), np.ceil(edges[1:] - 1e-9).astype(int)


def _highest(values: np.ndarray, start: np.ndarray, stop: np.ndarray, axis: int) -> np.ndarray:
    """Give the highest of the rows (columns) start[i] to stop[i] - 1, NaN if any is; what is outside is clipped."""
    most = values.shape[axis] - 1
    pairs = np.stack([np.clip(start, 0, most), np.clip(stop, 0, most)], axis=1).ravel()
    return np.take(np.maximum.reduceat(values, pairs, axis=axis), np.arange(0, pairs.size, 2), axis=axis)
