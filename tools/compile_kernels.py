"""Compile the kernels that a survey and a ranking need, in two processes at once; numba keeps them beside the source.

One after the other they take most of the time of a first survey. The run search is about half of it and shares nothing
with the other kernels. What is computed here on invented shapes is thrown away; a kernel that is missed is compiled
when it is first needed.
"""

import subprocess
import sys

import numpy as np
import shapely


def _water() -> shapely.Polygon:
    """A bay-like outline of 240 corners with one island [m]."""
    turn = np.linspace(0.0, 2.0 * np.pi, 240, endpoint=False)
    reach = 1000.0 + 200.0 * np.sin(5.0 * turn) + 60.0 * np.cos(13.0 * turn)
    island = shapely.Point(300.0, 50.0).buffer(80.0)
    return shapely.Polygon(
        np.column_stack((2.0 * reach * np.cos(turn), reach * np.sin(turn))), [island.exterior.coords]
    )


def run_search() -> None:
    """The longest run and the rose, with clearance and without: `geo.survey.longest`."""
    from geo.survey.runs import longest_run, run_rose

    for corridor_width_m in (0.0, 60.0):
        longest_run(_water(), corridor_width_m)
        run_rose(_water(), [0.0, 40.0], corridor_width_m)


def depths() -> None:
    """A depth field learned from soundings: `geo.survey.depth`."""
    from geo.survey.depth import depth_field, run_depth_probability

    east, north = (
        part.ravel() for part in np.meshgrid(np.linspace(-1200, 1200, 8), np.linspace(-500, 500, 5))
    )
    depth_m = 6.0 + np.sin(east / 300.0) + np.cos(north / 200.0)
    field = depth_field(_water(), easting_m=east, northing_m=north, depth_m=depth_m, sd_m=0.1)
    run_depth_probability(field, shapely.LineString([(-1000.0, 0.0), (1000.0, 0.0)]), 60.0, 1.0)


def legs() -> None:
    """Legs there and back round a wall with a gap: `geo.flight`."""
    from geo.base.geodesy import local_crs
    from geo.base.grid import Grid
    from geo.flight.legs.best_leg import LegCache
    from geo.flight.legs.corridor import corridor
    from geo.flight.legs.flight_state import FlightState
    from geo.flight.legs.no_fly_routes import airspace
    from geo.flight.routing.terrain_legs import TerrainLegs
    from geo.records.flight import Endpoint

    half_m, cell_m, count = 12_000.0, 120.0, 200
    middle = -half_m + (np.arange(count) + 0.5) * cell_m
    east, north = np.meshgrid(middle, -middle)
    wall = (np.abs(east) < 500.0) & ~((north > 5000.0) & (north < 7000.0))
    ground = Grid(np.where(wall, 2000.0, 0.0), -half_m, half_m, cell_m, cell_m)
    state = FlightState(50.0, 40.0, 4.0, 4.0, 150.0, 150.0, 3000.0, 300.0, 9.0)
    ends = Endpoint(shapely.Point(-7000.0, 0.0), 0.0), Endpoint(shapely.Point(7000.0, -500.0), 0.0)
    surface = corridor(ground, state.half_width_m)
    search = TerrainLegs(airspace([]), LegCache(surface, local_crs(150.0, -36.0).to_wkt()))
    for outward in (True, False):
        search.leg(*ends, state, outward=outward)


PARTS = {"runs": (run_search,), "others": (depths, legs)}


def main() -> int:
    """Run one part, or all at once in processes of their own; give 0, or the number of parts that failed."""
    if len(sys.argv) > 1:
        for work in PARTS[sys.argv[1]]:
            work()
        return 0
    started = [subprocess.Popen([sys.executable, "-m", "tools.compile_kernels", part]) for part in PARTS]
    return sum(one.wait() != 0 for one in started)


if __name__ == "__main__":
    sys.exit(main())
