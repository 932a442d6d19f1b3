"""Trees in the whole job: runs end short of a forest, legs pass over it, and what is unknown is never bare ground."""

from dataclasses import replace

import numpy as np
import pytest
import shapely

from geo import pipeline
from geo.base.geodesy import local_crs
from geo.base.grid import Grid
from geo.ingest.layers.aircraft import load_profile
from geo.records.conditions import Weather
from geo.records.extras import Target
from geo.records.flight import Endpoint
from geo.records.region import Region, RegionFrame, WaterBody
from geo.search.assumptions import assumed
from geo.search.flown_legs import FlightContext

FRAME = RegionFrame(local_crs(147.0, -37.0).to_wkt(), 147.0, -37.0, "mean sea level")
LAKE = shapely.box(-400.0, -150.0, 400.0, 150.0)
CELL_M, REACH_M = 20.0, 4000.0
HEAVY = load_profile("heavy_tank_helicopter")


def grid(height) -> Grid:
    count = int(2 * REACH_M / CELL_M)
    x = -REACH_M + (np.arange(count) + 0.5) * CELL_M
    ee, nn = np.meshgrid(x, -x)
    return Grid(np.broadcast_to(height(ee, nn), ee.shape).astype(float), -REACH_M, REACH_M, CELL_M, CELL_M)


def region(trees=None) -> Region:
    """A lake at 100 m in a plain 5 m below it; trees(easting, northing) [m] on it."""
    body = WaterBody("L1", "Lake", "lake", LAKE, "row 1", surface_elevation_m=100.0, level_change_m=0.0)
    return Region(
        "Test",
        FRAME,
        (body,),
        "0" * 64,
        terrain=grid(lambda e, n: 95.0),
        terrain_error_m=0.0,
        obstacles_listed=True,
        canopy=None if trees is None else grid(trees),
        canopy_error_m=None if trees is None else 0.0,
    )


def east_run(made: Region):
    """The longest run of the lake, which lies east and west (give the ends in that order)."""
    run = pipeline.survey(made).bodies[0].longest_run
    ends = (run.start_end, run.end_end)
    return run, *(ends if run.line.coords[0][0] < run.line.coords[-1][0] else ends[::-1])


def test_a_forest_beyond_the_end_bars_it_and_is_named():
    _, west, east = east_run(region())
    assert west.excess_m < 0.0 and east.excess_m < 0.0
    forest = region(lambda e, n: np.where(e > 460.0, 40.0, 0.0))
    run, west, east = east_run(forest)
    # 95 + 40 - 100 = 35 m of trees; the run ends 30 m from the shore at 400 m, the forest begins at 460 m, and the
    # lake's diagonal leans by atan(240 / 740): 35 - (460 - 370) cos(18 deg) / 8 = 24.3 m, a cell's corner less or more.
    assert west.excess_m < 0.0 < east.excess_m
    assert east.excess_m == pytest.approx(24.3, abs=2.0) and "terrain with trees" in east.what
    # A usable piece must lie 8 x 35 = 280 m before the forest, or be flown the other way.
    assert run.usable_ahead_m < run.length_m - 100.0


def test_unknown_trees_leave_the_end_unknown():
    _, west, east = east_run(region(lambda e, n: np.where(e > 600.0, np.nan, 0.0)))
    assert west.excess_m is not None and east.excess_m is None
    assert "no terrain with trees from" in east.what


def test_legs_pass_over_trees_and_over_the_tallest_where_they_are_unknown():
    weather = Weather(0.0, 0.0, 20.0, 1013.25, 0.0)

    def highest(made: Region) -> float:
        context = FlightContext(made, pipeline.survey(made), HEAVY, weather)
        start, end = shapely.Point(-1500.0, 1500.0), shapely.Point(1500.0, 1500.0)
        leg = context.fly(Endpoint(start, 100.0), Endpoint(end, 100.0), loaded=True)
        return leg.safe_altitude_m - context.clearance_m

    assert highest(region()) == pytest.approx(95.0)
    assert highest(region(lambda e, n: np.where(abs(e) < 100.0, 30.0, 0.0))) == pytest.approx(95.0 + 30.0)
    unknown = region(lambda e, n: np.where(abs(e) < 100.0, np.nan, 0.0))
    assert highest(unknown) == pytest.approx(95.0 + 120.0)


def test_a_ranking_says_what_it_assumes_of_trees():
    def trees(made: Region) -> str:
        return assumed(made, HEAVY, Weather(0.0, 0.0, 20.0, 1013.25, 0.0), Target())["trees"]

    assert "no canopy was given" in trees(region())
    given = region(lambda e, n: 0.0)
    assert "as stated" in trees(given)
    assert "counted because none is stated" in trees(replace(given, canopy_error_m=None))
