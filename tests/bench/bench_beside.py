"""What is answered beside the order, each beside the plain way: how sure it is, the fire's edge, a fleet."""

from geo import pipeline
from geo.ingest.layers.aircraft import load_profile
from geo.records.question import RankingQuestion
from geo.records.region import Fire
from geo.search import extras as supply
from geo.search.flown_legs import FlightContext, above_ground
from services.core import quantities
from tests.bench.bench_job import DEMO, seconds


def main() -> None:
    """Print the figures of certainty, perimeter and fleet on the demo region."""
    region = pipeline.load(DEMO)
    survey = pipeline.survey(region)
    profile = load_profile("heavy_tank_helicopter")
    weather = quantities.weather("300/18kt", "34C", "1009", "0m", None)
    fire = Fire("wide", "wide", region.fires[0].area.centroid.buffer(4_000.0))
    ranking = pipeline.rank(region, survey, fire, profile, weather)
    whole_s = seconds(lambda: pipeline.rank(region, survey, fire, profile, weather), 5)
    sure_s = seconds(lambda: supply.certainty_of(region, survey, profile, ranking), 5)
    samples = supply.certainty_of(region, survey, profile, ranking).samples
    print(f"ranking of {len(region.bodies)} sources:                      {1000 * whole_s:10.1f} ms")
    print(f"certainty of {len(ranking.sources)} ranked, {samples} samples:        {1000 * sure_s:10.1f} ms")
    print(
        f"plain way, a ranking per sample ({samples} x the first line): {1000 * samples * whole_s:10.1f} ms"
    )
    _edge(region, survey, fire, profile, weather, ranking)
    fleet = [profile] * 4 + [load_profile("light_bucket_helicopter")] * 4
    fleet_s = seconds(lambda: pipeline.fleet(region, survey, fire, fleet, weather), 3)
    print(f"fleet of {len(fleet)}, two rankings included:             {1000 * fleet_s:10.1f} ms")


def _edge(region, survey, fire, profile, weather, ranking) -> None:
    def lazily() -> object:
        return supply.perimeter_supply(RankingQuestion(region, survey, fire, profile, weather), ranking)

    def fully() -> None:
        context = FlightContext(region, survey, profile, weather)
        for line in supply.outer_edges(fire):
            for point in supply.points_along(line):
                drop = above_ground(region, point, profile.drop_height_m, "edge")
                for source in ranking.sources:
                    supply._round_trip_s(context, source, drop)

    points = sum(one.points for one in lazily())
    print(f"edge of {points} points, best source of each:         {1000 * seconds(lazily, 3):10.1f} ms")
    print(f"plain way, every ranked source to every point: {1000 * seconds(fully, 1):10.1f} ms")


if __name__ == "__main__":
    main()
