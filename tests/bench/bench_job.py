"""The whole job on the demo region: bodies surveyed per second and time per ranking, beside plain ways to do less.

Baselines: a plain GeoPandas script that only measures area, perimeter and the longest line between 60 sampled shore
points (no corridor, depth, hover point or clearance); a ranking by straight distance alone.
"""

import itertools
import statistics
import time
from collections.abc import Callable
from pathlib import Path

import geopandas
import numpy as np
import shapely

from geo import pipeline
from geo.ingest.layers.aircraft import load_profile
from services.core import quantities

DEMO = Path(__file__).resolve().parents[2] / "demo_region"


def seconds(work: Callable[[], object], times: int) -> float:
    """Median CPU seconds of some calls."""
    taken = []
    for _ in range(times):
        begun = time.process_time()
        work()
        taken.append(time.process_time() - begun)
    return statistics.median(taken)


def plain_script(path: Path) -> None:
    """What a GIS script does today: area, perimeter, longest of the lines between sampled shore points."""
    frame = geopandas.read_file(path)
    for shape in shapely.get_parts(frame.geometry.to_numpy()):
        at = np.linspace(0.0, 1.0, 60, endpoint=False)
        points = shape.exterior.interpolate(at, normalized=True)
        lines = [shapely.LineString(pair) for pair in itertools.combinations(points, 2)]
        inside = [line.length for line in lines if shape.buffer(0.01).contains(line)]
        _ = shape.area, shape.length, max(inside, default=0.0)


def main() -> None:
    """Print the figures of the whole job."""
    begun = time.perf_counter()
    region = pipeline.load(DEMO)
    print(
        f"ingest of {len(region.bodies)} water bodies, worker process included: "
        f"{time.perf_counter() - begun:.2f} s wall"
    )
    survey = pipeline.survey(region)  # compiles or loads the compiled code
    ours = seconds(lambda: pipeline.survey(region), 3)
    plain = seconds(lambda: plain_script(DEMO / "waters.gpkg"), 1)
    count = len(region.bodies)
    runs = sum(len(body.runs) for body in survey.bodies)
    print(f"survey, all parts, {runs} runs with depth and clearance: {count / ours:8.1f} bodies/s")
    print(f"plain script, area and longest sampled line only:    {count / plain:8.1f} bodies/s")
    fire, profile = region.fires[0], load_profile("heavy_tank_helicopter")
    weather = quantities.weather("300/18kt", "34C", "1009", "0m", None)
    ranking = pipeline.rank(region, survey, fire, profile, weather)
    ours = seconds(lambda: pipeline.rank(region, survey, fire, profile, weather), 5)
    near = sorted(region.bodies, key=lambda body: body.polygon.distance(fire.area))
    plain = seconds(lambda: sorted(region.bodies, key=lambda body: body.polygon.distance(fire.area)), 5)
    kept = {s.body_id for s in ranking.sources[:10]} & {body.body_id for body in near[:10]}
    print(f"ranking of {count} sources, every leg flown over the terrain: {1000 * ours:8.1f} ms")
    print(f"sorting by straight distance instead:                       {1000 * plain:8.1f} ms")
    print(f"of the first ten by litres per hour, the ten nearest hold {len(kept)}")


if __name__ == "__main__":
    main()
