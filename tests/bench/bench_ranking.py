"""The ranking at scale: the first ten of 1,000 and of 100,000 sources, beside the plain way over a grid.

Baseline: the plain way of a grid planner, a graph over all cells with eight neighbours each (length over airspeed,
closed cells left out, climb charged per edge) and one Dijkstra search each way. networkx would need more than 10 GB for
4,000,000 cells, so it is run on 250 x 250 of them and scaled up by cells; scipy's compiled search is run on the whole
grid beside it. Waters are made at random (tests/ranking/random_regions.py), the terrain by a power spectrum: invented.
Elapsed seconds are given, and CPU seconds of all threads beside them: the search for routes uses two cores.
"""

import itertools
import statistics
import time
from dataclasses import replace
from pathlib import Path

import networkx as nx
import numpy as np
import shapely
import shapely.affinity
from scipy.sparse import coo_array
from scipy.sparse.csgraph import dijkstra

from geo import pipeline
from geo.ingest.layers.aircraft import load_profile
from geo.records.conditions import Weather
from geo.records.question import RankingQuestion
from geo.records.region import Fire, Region
from geo.records.survey import RegionSurvey
from geo.search.best_first import shortlist
from geo.search.drop_points import Drop
from geo.search.extras import certainty_of
from geo.search.ranking_work import ranking_work
from geo.search.rate_bounds import RateBounds
from tests.ranking.random_regions import Recipe, made

DEMO = Path(__file__).resolve().parents[2] / "demo_region"
PROFILE = load_profile("heavy_tank_helicopter")
WINDS = (300.0, 210.0, 20.0, 120.0, 75.0)


def weather(from_deg: float) -> Weather:
    """A hot windy day; every question of the benchmark has another wind, so that no assessment is kept from before."""
    return Weather(from_deg, 9.0, 34.0, 1009.0, 0.0)


def graph_arrays(region: Region, cells: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Give the directed edges (from, to, seconds) of the plain grid over the first cells of the terrain."""
    grid = region.terrain
    heights = grid.values[:cells, :cells].astype(float)
    east = grid.west_m + (np.arange(cells) + 0.5) * grid.cell_east_m
    north = grid.north_m - (np.arange(cells) + 0.5) * grid.cell_north_m
    shut = shapely.union_all([c.area for c in region.closures if c.kind == "no flying"])
    shapely.prepare(shut)
    closed = shapely.contains_xy(shut, *np.meshgrid(east, north))
    number = np.arange(cells * cells).reshape(cells, cells)
    found = []
    for down, right in itertools.product((-1, 0, 1), repeat=2):
        if (down, right) == (0, 0):
            continue
        a = (slice(max(0, -down), cells - max(0, down)), slice(max(0, -right), cells - max(0, right)))
        b = (slice(max(0, down), cells + min(0, down)), slice(max(0, right), cells + min(0, right)))
        free = ~(closed[a] | closed[b])
        climb = np.maximum(heights[b] - heights[a], 0.0) / PROFILE.climb_loaded_ms
        cruise = np.hypot(down, right) * grid.cell_east_m / PROFILE.cruise_loaded_ms
        found.append((number[a][free], number[b][free], (cruise + climb)[free]))
    return tuple(np.concatenate(column) for column in zip(*found, strict=True))  # type: ignore[return-value]


def plain_networkx_s(region: Region, cells: int) -> float:
    """Give the seconds of the plain way in networkx: the graph built, and one search each route from its middle."""
    start, end, seconds = graph_arrays(region, cells)
    begun = time.process_time()
    graph = nx.DiGraph()
    graph.add_weighted_edges_from(zip(start.tolist(), end.tolist(), seconds.tolist(), strict=True))
    middle = cells // 2 * cells + cells // 2
    for route in (graph, graph.reverse(copy=False)):
        nx.single_source_dijkstra_path_length(route, middle)
    return time.process_time() - begun


def plain_scipy_s(region: Region, cells: int) -> float:
    """Give the seconds of scipy's compiled Dijkstra on the same graph, one search each route."""
    start, end, seconds = graph_arrays(region, cells)
    begun = time.process_time()
    size = cells * cells
    matrix = coo_array((seconds, (start, end)), shape=(size, size)).tocsr()
    for route in (matrix, matrix.T.tocsr()):
        dijkstra(route, indices=cells // 2 * cells + cells // 2)
    return time.process_time() - begun


def elsewhere(fire: Fire, number: int) -> Fire:
    """The same outline some kilometres away: nothing of its legs can be known from before."""
    shift_m = 2_500.0 * (number + 1)
    return replace(fire, area=shapely.affinity.translate(fire.area, shift_m, -0.6 * shift_m))


def median_s(
    region: Region, survey: RegionSurvey, top: int, *, new_fires: bool = False
) -> tuple[float, float, int]:
    """Give the medians of elapsed and of CPU seconds of rankings in five winds, and the sources last worked out.

    Parameters: new_fires, each question has another fire too.
    """
    elapsed, taken, worked = [], [], 0
    for number, from_deg in enumerate(WINDS):
        fire = elsewhere(region.fires[0], number) if new_fires else region.fires[0]
        begun, at = time.process_time(), time.perf_counter()
        found = pipeline.rank(region, survey, fire, PROFILE, weather(from_deg), top=top)
        taken.append(time.process_time() - begun)
        elapsed.append(time.perf_counter() - at)
        worked = len(survey.bodies) - found.unrefined_count
    return statistics.median(elapsed), statistics.median(taken), worked


def thousand() -> None:
    """The first ten of 1,000 sources over 2,000 x 2,000 cells with 20 no-fly areas, beside the plain way."""
    region, survey = made(Recipe(1_000, 2_000, 30.0, 900.0, closed=20), 1)
    pipeline.rank(
        region, survey, region.fires[0], PROFILE, weather(1.0), top=10
    )  # compiled code, prepared surface
    small = plain_networkx_s(region, 250)
    whole = small * (2_000 / 250) ** 2
    compiled = plain_scipy_s(region, 2_000)
    print(f"plain way in networkx, 250 x 250 cells (measured):               {small:7.2f} s")
    print(f"plain way in networkx, 2,000 x 2,000 cells (scaled by cells):    {whole:7.1f} s")
    print(f"plain way in scipy, 2,000 x 2,000 cells (measured):              {compiled:7.2f} s")
    for new_fires in (False, True):
        ours, taken, worked = median_s(region, survey, 10, new_fires=new_fires)
        print(
            f"first 10 of 1,000 sources, 2,000 x 2,000 cells, 20 no-fly areas, {_asked(new_fires)}: {ours:5.2f} s, "
            f"CPU {taken:5.2f} s ({worked} worked out); networkx takes {whole / ours:.0f} times as long (asked: 100), "
            f"scipy {compiled / ours:.1f} times"
        )


def _asked(new_fires: bool) -> str:
    return "another wind and another fire" if new_fires else "another wind"


def hundred_thousand() -> None:
    """The first ten of 100,000 sources; all bounds and the best 300 worked out."""
    region, survey = made(Recipe(100_000, 2_000, 150.0, 900.0, closed=20, good_share=0.3), 2)
    begun = time.process_time()
    RateBounds(region, survey, PROFILE)
    prepared = time.process_time() - begun
    pipeline.rank(region, survey, region.fires[0], PROFILE, weather(1.0), top=10)
    print(f"100,000 sources prepared for one aircraft, once a survey:        {prepared:7.2f} s")
    for new_fires in (False, True):
        ours, taken, worked = median_s(region, survey, 10, new_fires=new_fires)
        print(
            f"first 10 of 100,000 sources, {_asked(new_fires)}: {ours:5.2f} s, CPU {taken:5.2f} s "
            f"({worked} worked out; asked: under 0.5 s)"
        )
    begun, at = time.process_time(), time.perf_counter()
    drop = Drop(shapely.Point(0.0, 0.0))
    work = ranking_work(RankingQuestion(region, survey, region.fires[0], PROFILE, weather(77.0)), drop)
    found = shortlist(work, 300)
    print(
        f"all 100,000 bounded, the best 300 worked out:  {time.perf_counter() - at:7.2f} s, "
        f"CPU {time.process_time() - begun:.2f} s ({len(found.candidates)} methods; asked: under 5 s)"
    )


def samples(region: Region, survey: RegionSurvey, fire: Fire) -> None:
    """1,000 samples of the certainty beside the ranking that they are about."""
    begun = time.process_time()
    ranking = pipeline.rank(region, survey, fire, PROFILE, weather(301.0))
    ranked = time.process_time() - begun
    begun = time.process_time()
    certainty_of(region, survey, PROFILE, ranking)
    sampled = time.process_time() - begun
    count = len(ranking.sources)
    print(
        f"certainty, 1,000 samples of {count} sources: {1000 * sampled:.0f} ms; its ranking {1000 * ranked:.0f} ms"
    )


def main() -> None:
    """Print all figures."""
    region = pipeline.load(DEMO)
    survey = pipeline.survey(region)
    fire = region.fires[0]
    pipeline.rank(region, survey, fire, PROFILE, weather(1.0), top=1)
    for top in (None, 10, 3):
        begun = time.process_time()
        pipeline.rank(region, survey, fire, PROFILE, weather(302.0), top=top)
        print(f"demo region, {'all' if top is None else f'first {top}'}: {time.process_time() - begun:.2f} s")
    samples(region, survey, fire)
    thousand()
    hundred_thousand()


if __name__ == "__main__":
    main()
