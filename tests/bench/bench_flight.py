"""How wrong the legs are, each figure beside that of the plain way: an 8-neighbour grid with one Dijkstra (networkx).

Flat ground, no-fly polygons, a wind field. "Error" is against a closed form, an exhaustive search or adaptive
quadrature. Routes round high ground: `bench_routes`.
"""

import itertools
import math
from collections.abc import Callable, Sequence
from pathlib import Path

import matplotlib
import networkx as nx
import numpy as np
import shapely
from scipy.integrate import quad

from geo.base.geodesy import local_crs
from geo.base.grid import Grid
from geo.flight.legs.flight_state import FlightState
from geo.flight.legs.no_fly_routes import airspace, find_route
from geo.flight.winds import FieldWinds
from geo.records.conditions import WindField
from tests.flight.flying import leg
from tests.flight.test_legs import CRS as PLANE
from tests.flight.test_legs import integrated_s
from tests.flight.test_no_fly_routes import TAS, brute_force, seconds
from tests.ranking.random_regions import relief as spectral

LOADED = FlightState(55.0, 40.0, 4.0, 5.0, 150.0, 180.0, 3000.0, 250.0, 8.0)
EMPTY = FlightState(62.0, 50.0, 8.0, 5.0, 150.0, 180.0, 3000.0, 250.0, 8.0)
EQUATOR = local_crs(150.0, 0.0).to_wkt()
FIXED_S = 145.0  # fill, manoeuvres and drop of the heavy profile
EIGHT = [(i, j) for i in (-1, 0, 1) for j in (-1, 0, 1) if (i, j) != (0, 0)]


def said(errors: Sequence[float]) -> str:
    """Mean, 95th percentile and greatest of some relative errors."""
    size = np.abs(errors)
    return f"mean {np.mean(size):9.1e}  p95 {np.percentile(size, 95):9.1e}  worst {np.max(size):9.1e}"


def eight_neighbours(
    columns: int, rows: int, cost: Callable[[np.ndarray, np.ndarray], np.ndarray]
) -> nx.DiGraph:
    """The plain way: a node per cell (row, column), an edge to each of 8 neighbours; cost of start and end indices."""
    graph = nx.DiGraph()
    row, column = (axis.ravel() for axis in np.mgrid[0:rows, 0:columns])
    for i, j in EIGHT:
        inside = (row + i >= 0) & (row + i < rows) & (column + j >= 0) & (column + j < columns)
        start = np.column_stack((row[inside], column[inside]))
        end = start + np.array((i, j))
        weight = cost(start, end)
        free = np.isfinite(weight)
        nodes = (map(tuple, ends[free].tolist()) for ends in (start, end))
        pairs = zip(*nodes, weight[free].tolist(), strict=True)
        graph.add_weighted_edges_from(pairs)
    return graph


def wind_seconds(
    step_m: np.ndarray, wind_from_deg: np.ndarray, wind_ms: np.ndarray, tas_ms: float
) -> np.ndarray:
    """Times of straight pieces (n, 2) [m] from |d / t - w| = tas."""
    angle = np.radians(wind_from_deg)
    along = -wind_ms * (np.sin(angle) * step_m[:, 0] + np.cos(angle) * step_m[:, 1])
    q = tas_ms**2 - np.asarray(wind_ms) ** 2
    return (np.sqrt(along**2 + q * np.sum(step_m**2, axis=1)) - along) / q


def flat_ground() -> None:
    """Straight legs out and back in three winds against adaptive quadrature on the ellipsoid; the grid in the plane."""
    rng = np.random.default_rng(1)
    for wind in (0.0, 13.0, 26.0):
        state = FlightState(55.0, 40.0, 4.0, 5.0, 150.0, 180.0, 3000.0, 250.0, wind)
        ours = []
        for _ in range(40):
            ends = [tuple(place) for place in rng.uniform(-30000.0, 30000.0, (2, 2))]
            flown = sum(leg(*pair, PLANE, 0.0, 0.0, state, None).time_s for pair in (ends, ends[::-1]))
            exact = sum(integrated_s(*pair, 55.0, 250.0, wind)[0] for pair in (ends, ends[::-1]))
            ours.append(flown / exact - 1.0)
        cell, size = 400.0, 81
        graph = eight_neighbours(
            size, size, lambda a, b, w=wind: wind_seconds((b - a)[:, ::-1] * [400.0, -400.0], 250.0, w, 55.0)
        )
        hub = (size // 2, size // 2)
        there = nx.single_source_dijkstra_path_length(graph.reverse(copy=False), hub)
        back = nx.single_source_dijkstra_path_length(graph, hub)
        nodes = np.array([node for node in there if max(abs(node[0] - 40), abs(node[1] - 40)) > 10])
        step = (np.array(hub) - nodes)[:, ::-1] * [cell, -cell]
        exact_s = wind_seconds(step, 250.0, wind, 55.0) + wind_seconds(-step, 250.0, wind, 55.0)
        plain = np.array([there[tuple(n)] + back[tuple(n)] for n in nodes.tolist()]) / exact_s - 1.0
        print(f"flat ground, wind {wind:4.0f} m/s, out and back:  legs  {said(ours)}")
        print(f"                                          grid  {said(plain)}")


def no_fly_areas() -> None:
    """Routes among three polygons against the exhaustive search over all corner sequences."""
    ours, plain, cell = [], [], 200.0
    for seed in range(12):
        rng = np.random.default_rng(seed)
        areas: list[shapely.Polygon] = []
        while len(areas) < 3:
            corners = rng.uniform(-1500, 1500, (4, 2)) + rng.uniform([-5000, -3500], [5000, 3500])
            shape = shapely.Polygon(corners) if seed % 2 else shapely.MultiPoint(corners).convex_hull
            if shape.is_valid and shape.area > 4e5 and all(shape.distance(other) > 50 for other in areas):
                areas.append(shape)
        wind_from, wind = float(rng.uniform(0, 360)), float(rng.uniform(0, 35))
        start, end = (-9000.0, 0.0), (9000.0, 400.0)
        best = brute_force(start, end, areas, wind_from, wind)
        route = find_route(airspace(areas), start, end, wind_from, wind, TAS)
        ours.append(seconds(route.coords, wind_from, wind) / best - 1.0)
        shut = shapely.union_all(areas).buffer(-0.5)
        shapely.prepare(shut)

        def cost(a: np.ndarray, b: np.ndarray, shut=shut, wind_from=wind_from, wind=wind) -> np.ndarray:
            first, second = (
                np.column_stack((n[:, 1] * cell - 10000.0, 6000.0 - n[:, 0] * cell)) for n in (a, b)
            )
            taken = wind_seconds(second - first, wind_from, wind, TAS)
            crossing = shapely.intersects(shut, shapely.linestrings(np.stack((first, second), axis=1)))
            return np.where(crossing, np.inf, taken)

        graph = eight_neighbours(101, 61, cost)
        plain.append(nx.dijkstra_path_length(graph, (30, 5), (28, 95)) / best - 1.0)
    print(f"three no-fly polygons, any wind, one way:   routes  {said(ours)}")
    print(f"                                          grid  {said(plain)}")


def relief() -> Grid:
    """Real relief that matplotlib ships: Jacksboro fault, Tennessee, SRTM at 3 arc-seconds, taken as a plane."""
    with np.load(Path(matplotlib.get_data_path()) / "sample_data" / "jacksboro_fault_dem.npz") as held:
        heights = held["elevation"].astype(float)
        north = math.radians(float(held["ymin"] + held["ymax"]) / 2.0)
        east_m = 111_320.0 * math.cos(north) * abs(float(held["dx"]))
        north_m = 110_950.0 * abs(float(held["dy"]))
    rows, columns = heights.shape
    return Grid(heights, -0.5 * columns * east_m, 0.5 * rows * north_m, east_m, north_m)


def times_as_high(grid: Grid, times: float) -> Grid:
    """Give a relief from 0 upward, made some times as high."""
    heights = (grid.values - grid.values.min()) * times
    return Grid(heights, grid.west_m, grid.north_m, grid.cell_east_m, grid.cell_north_m)


def invented_relief() -> Grid:
    """Relief whose spectrum falls as a power, as that of real ground does: 27 km, cells of 60 m, 1,800 m high."""
    heights = spectral(np.random.default_rng(6), 450, 1800.0)
    return Grid(heights, -13_500.0, 13_500.0, 60.0, 60.0)


def wind_field() -> None:
    """Straight legs of 20 to 60 km in smooth fields, 10 +- 4 m/s over 20 to 50 km, against quadrature along them."""
    ours, station, plain = [], [], []
    middle = -40000.0 + (np.arange(81) + 0.5) * 80000.0 / 81.0
    x, y = np.meshgrid(middle, -middle)
    frame = (-40000.0, 40000.0, 80000.0 / 81.0, 80000.0 / 81.0)
    for seed in range(12):
        rng = np.random.default_rng(seed)
        waves = rng.uniform(2 * math.pi / 50000.0, 2 * math.pi / 20000.0, (2, 4))
        phase = rng.uniform(0.0, 2 * math.pi, (2, 4))
        turn = rng.uniform(0.0, 2 * math.pi, (2, 4))
        mean = 10.0 * np.array([math.sin(seed), math.cos(seed)])
        parts = [
            mean[k] + 2.0 * sum(
                np.sin(w * (x * math.cos(t) + y * math.sin(t)) + p)
                for w, t, p in zip(waves[k], turn[k], phase[k], strict=True)
            )
            for k in (0, 1)
        ]  # fmt: skip
        field = WindField("bench", "0" * 64, *(Grid(part, *frame) for part in parts))
        state = FlightState(50.0, 40.0, 4.0, 5.0, 150.0, 180.0, 3000.0, 0.0, 0.0, winds=FieldWinds(field))
        start, end = (-30000.0, 0.0), (float(rng.uniform(-10000.0, 30000.0)), 0.0)
        flown = leg(start, end, EQUATOR, 0.0, 0.0, state, None).time_s

        def slowness(at: float, field=field) -> float:
            along, across = float(field.east.bilinear(at, 0.0)), float(field.north.bilinear(at, 0.0))
            return 1.0 / (along + math.sqrt(50.0**2 - across**2))

        kinks = middle[(middle > start[0]) & (middle < end[0])]
        pieces = itertools.pairwise([start[0], *kinks, end[0]])
        exact = sum(quad(slowness, a, b)[0] for a, b in pieces)
        ours.append(flown / exact - 1.0)
        away = [-float(part.bilinear(*start)) for part in (field.east, field.north)]
        one, speed = math.degrees(math.atan2(*away)) % 360.0, math.hypot(*away)
        even = FlightState(50.0, 40.0, 4.0, 5.0, 150.0, 180.0, 3000.0, one, speed)
        station.append(leg(start, end, EQUATOR, 0.0, 0.0, even, None).time_s / exact - 1.0)
        plain.append(_grid_in(field, start, end) / exact - 1.0)
    print(f"wind field, {len(ours)} legs, along the track:   legs  {said(ours)}")
    print(f"           the wind of the start for all:   legs  {said(station)}")
    print(f"  the grid along its own axis, edge by edge:  grid  {said(plain)}; mean {np.mean(plain):+.2%}")


def _grid_in(field: WindField, start: tuple[float, float], end: tuple[float, float]) -> float:
    cell = 1000.0

    def cost(a: np.ndarray, b: np.ndarray) -> np.ndarray:
        first, second = (
            np.column_stack((n[:, 1] * cell - 35000.0, 15000.0 - n[:, 0] * cell)) for n in (a, b)
        )
        middle = 0.5 * (first + second)
        east, north = (part.bilinear(*middle.T) for part in (field.east, field.north))
        source = np.degrees(np.arctan2(-east, -north)) % 360.0
        return wind_seconds(second - first, source, np.hypot(east, north), 50.0)

    graph = eight_neighbours(71, 31, cost)
    reached = nx.single_source_dijkstra_path_length(graph, (15, 5))
    nearest = round((end[0] + 35000.0) / cell)
    left = (end[0] - (nearest * cell - 35000.0)) / (end[0] - start[0])
    return reached[(15, nearest)] * (1.0 + left)


def main() -> None:
    """Print the errors of legs and routes."""
    flat_ground()
    no_fly_areas()
    wind_field()


if __name__ == "__main__":
    main()
