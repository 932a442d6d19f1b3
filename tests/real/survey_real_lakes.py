"""`make real`: survey real lakes beside their published lengths, and run the whole job on two real regions."""

import argparse
from pathlib import Path

import numpy as np
import shapely

from geo.base.geodesy import local_crs, to_plane
from geo.survey.morphometry import morphometry
from geo.survey.runs import longest_run
from tests.real import relief, shorelines
from tests.real.published_lengths import LAKES, PublishedLake


def plane_lake(lake: PublishedLake, resolution: str = "f") -> shapely.Polygon:
    """Give a published lake's open polygon, islands as holes, in a metric plane centred on it."""
    place = shapely.Point(lake.longitude_deg, lake.latitude_deg)
    reach = place.buffer(1.5).bounds
    found = [s for _, s in shorelines.lakes(reach, resolution, whole=False) if s.contains(place)]
    assert len(found) == 1, f"{lake.name}: {len(found)} polygons hold its point"
    centre = found[0].centroid
    crs = local_crs(centre.x, centre.y).to_wkt()
    return shapely.transform(found[0], lambda c: np.column_stack(to_plane(crs, c[:, 0], c[:, 1])))


def print_lengths() -> None:
    """Print each lake's longest run beside its published length."""
    print(f"{'lake':18} {'area km2':>9} {'run km':>8} {'published':>9} {'differs':>8}  source")
    for lake in LAKES:
        shape = plane_lake(lake)
        run_km = longest_run(shape).length_m / 1000.0
        area_km2 = morphometry(shape).area_m2 / 1e6
        off = 100.0 * (run_km / lake.published_km - 1.0)
        kind = "" if lake.straight else "; not a straight open-water length"
        print(
            f"{lake.name:18} {area_km2:9.1f} {run_km:8.2f} {lake.published_km:9.1f} {off:+7.1f}%  {lake.source}{kind}"
        )


def run_region(folder: Path, out: Path, data: Path) -> None:
    """Check, survey and rank one real region with the command itself."""
    from geo import pipeline
    from geo.ingest.layers.aircraft import load_profile
    from geo.records.question import RankingQuestion
    from services.cli import tables as console
    from services.core import quantities
    from services.core.workspace import ask, open_workspace
    from services.store.store import embedded_store

    faults, summary = pipeline.check(folder)
    console.print_faults(folder, faults, summary)
    with console.progress_bar(False) as progress:
        workspace = open_workspace(folder, embedded_store(data), progress)
    console.print_survey(workspace.region, workspace.survey)
    weather = quantities.weather("240/15kt", "28C", "1015", "0m", None)
    fire = workspace.region.fires[0]
    profile = load_profile("heavy_tank_helicopter")
    question = RankingQuestion(workspace.region, workspace.survey, fire, profile, weather, top=10)
    answer = ask(workspace, question)
    console.print_ranking(answer.ranking)
    written = pipeline.export_survey(out, workspace.region, workspace.survey)
    written += pipeline.export_ranking(out, workspace.region, workspace.survey, answer.ranking)
    console.print_files(written)


def main() -> None:
    """Print the lengths, then both regions."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, default=Path("out/real"))
    out = parser.parse_args().out
    print_lengths()
    for name, folder in (
        ("coast", relief.coast_region(out / "coast_region")),
        ("rhine", relief.rhine_region(out / "rhine_region", out / "download")),
    ):
        run_region(folder, out / name, out / "store")


if __name__ == "__main__":
    main()
