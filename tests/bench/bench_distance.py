"""What a ranking by straight distance would have kept of the true first ten: demo region, a real one, one at random.

Real: the terrain of the upper Rhine and the Alps (30 arc-seconds) and the 42 lakes of the open shorelines that lie in
it. No open package carries their depths: ASSUMED_DEPTH_M is assumed for every one of them, for this comparison alone.
The fires are invented. Needs the data packages and, once, the registry (tests/real/relief.py).
"""

import tempfile
from pathlib import Path

from geo import pipeline
from geo.records.ranking import Ranking
from geo.records.region import Region
from geo.records.survey import RegionSurvey
from tests.bench.bench_ranking import DEMO, PROFILE, weather
from tests.ranking.random_regions import Recipe, made
from tests.real import relief

ASSUMED_DEPTH_M = 15.0
DOWNLOAD = Path(__file__).resolve().parents[2] / "out" / "real" / "download"


def kept_by_distance(ranking: Ranking, region: Region) -> tuple[int, int, int]:
    """Give how many the true first ten are, and how many of them the ten nearest waters and the ten nearest ranked
    sources hold (nearest: of the water, of the filling place, to the drop)."""
    first = {one.body_id for one in ranking.sources[:10]}
    drop = ranking.sources[0].drop_point
    waters = sorted(region.bodies, key=lambda one: one.polygon.distance(drop))
    ranked = sorted(ranking.sources, key=lambda one: one.fill_point.distance(drop))
    return (
        len(first),
        len(first & {one.body_id for one in waters[:10]}),
        len(first & {one.body_id for one in ranked[:10]}),
    )


def compare(name: str, region: Region, survey: RegionSurvey) -> None:
    """Print the comparison for every fire of a region."""
    for fire in region.fires:
        ranking = pipeline.rank(region, survey, fire, PROFILE, weather(300.0))
        if not ranking.sources:
            print(f"{name}, {fire.name}: no source is usable")
            continue
        first, waters, ranked = kept_by_distance(ranking, region)
        near = min(ranking.sources, key=lambda one: one.fill_point.distance(one.drop_point))
        lost = 1.0 - near.cycle.litres_per_hour / ranking.sources[0].cycle.litres_per_hour
        print(
            f"{name}, {fire.name}: ranking by distance kept {waters} of the true first {first} "
            f"({ranked} if only the {len(ranking.sources)} ranked sources are looked at; its first choice among them "
            f"gives {lost:.0%} fewer litres an hour)"
        )


def main() -> None:
    """Print the comparison for three regions."""
    region = pipeline.load(DEMO)
    compare("demo region", region, pipeline.survey(region))
    with tempfile.TemporaryDirectory() as folder:
        real = pipeline.load(relief.rhine_region(Path(folder) / "rhine", DOWNLOAD, ASSUMED_DEPTH_M))
        print(
            f"real region: {len(real.bodies)} real lakes, real terrain; depths unknown, {ASSUMED_DEPTH_M:g} m ASSUMED"
        )
        compare("real region", real, pipeline.survey(real))
    compare("made at random, 60 waters in 900 m of relief", *made(Recipe(60, 200, 100.0, 900.0), 3))


if __name__ == "__main__":
    main()
