"""All files of an answer or a survey: every format is made first; only when all are whole do they take their names."""

from collections.abc import Callable, Sequence
from pathlib import Path

import geopandas
import pandas as pd

from geo.base.whole_file import private_folder, put_in_place
from geo.export.formats.csv_table import write_column_list, write_csv
from geo.export.formats.flatgeobuf import write_flatgeobuf
from geo.export.formats.geojson import feature_collection, write_geojson
from geo.export.formats.geopackage import write_geopackage
from geo.export.formats.geoparquet import write_geoparquet
from geo.export.formats.gpx import write_gpx
from geo.export.formats.kml import write_kml
from geo.export.formats.shapefile import write_shapefiles
from geo.export.layers.ranked_layer import legs_frame, question_table, ranked_frame, runs_frame
from geo.export.layers.supply_layer import supply_frame
from geo.export.layers.survey_layer import survey_layers
from geo.records.extras import Extras
from geo.records.file_formats import SHAPEFILE_LIMITS, USUAL_FORMATS
from geo.records.ranking import Ranking
from geo.records.region import Region
from geo.records.survey import RegionSurvey

GEOPACKAGE = "water_sources.gpkg"
# Formats that hold one layer a file get these.
FILE_LAYERS = ("ranked", "runs", "legs", "water")


def all_layers(
    region: Region, survey: RegionSurvey, ranking: Ranking, further: Extras | None = None
) -> dict[str, geopandas.GeoDataFrame | pd.DataFrame]:
    """Give every layer of an answer by name, as in `columns.LAYERS`; what was not asked for is empty."""
    further = further if further is not None else Extras()
    return {
        "ranked": ranked_frame(ranking, region.frame, region.bodies, further.certainty),
        "runs": runs_frame(ranking, region.frame),
        "legs": legs_frame(ranking, region.frame),
        **survey_layers(region, survey, ranking),
        "supply": supply_frame(further.supply or (), region.frame),
        "question": question_table(ranking),
    }


def export_ranking(
    folder: Path,
    region: Region,
    survey_: RegionSurvey,
    ranking: Ranking,
    formats: Sequence[str] = USUAL_FORMATS,
    further: Extras | None = None,
) -> list[Path]:
    """Write the ranking in the formats chosen; give the paths of the files.

    Returns: water_sources.gpkg, .kml, .kmz, .gpx, .csv with columns.csv; ranked, runs, legs and water as .geojson,
    .fgb, .parquet and .shp.zip with shapefile_limits.txt; ranking.png. With a supply of the fire's edge also supply.

    Raises: BadArgument for a survey of other input; OSError when the disk refuses. If any format fails, no file of the
    folder has changed.
    """
    folder, frame = Path(folder), region.frame
    layers = all_layers(region, survey_, ranking, further)
    names = (*FILE_LAYERS, "supply") if further is not None and further.supply else FILE_LAYERS
    shapes = [(name, one) for name in names if isinstance(one := layers[name], geopandas.GeoDataFrame)]
    makers: dict[str, Callable[[Path], list[Path]]] = {
        "gpkg": lambda place: [write_geopackage(place / GEOPACKAGE, layers)],
        "geojson": lambda place: [write_geojson(place / f"{name}.geojson", one) for name, one in shapes],
        "fgb": lambda place: [write_flatgeobuf(place / f"{name}.fgb", name, one) for name, one in shapes],
        "parquet": lambda place: [write_geoparquet(place / f"{name}.parquet", one) for name, one in shapes],
        "shp": lambda place: write_shapefiles(place, shapes, SHAPEFILE_LIMITS),
        "kml": lambda place: [write_kml(place / "water_sources.kml", ranking, frame, region.bodies)],
        "kmz": lambda place: [write_kml(place / "water_sources.kmz", ranking, frame, region.bodies)],
        "gpx": lambda place: [write_gpx(place / "water_sources.gpx", ranking, frame)],
        "csv": lambda place: [
            write_csv(place / "water_sources.csv", layers["ranked"]),
            write_column_list(place / "columns.csv"),
        ],
        "png": lambda place: [_picture(place / "ranking.png", region, survey_, ranking)],
    }
    with private_folder(folder) as private:
        made = [path for name in dict.fromkeys(formats) for path in makers[name](private)]
        return [put_in_place(path, folder / path.name) for path in made]


def _picture(path: Path, region: Region, survey: RegionSurvey, ranking: Ranking) -> Path:
    # The drawing library takes most of a second to load, and most commands draw nothing.
    from geo.export.drawing.ranking_picture import ranking_picture

    return ranking_picture(path, region, survey, ranking)


def export_survey(folder: Path, region: Region, survey_: RegionSurvey) -> list[Path]:
    """Write the survey's layers (water, survey_runs, hover_points) as one GeoPackage."""
    return [write_geopackage(folder / "survey.gpkg", survey_layers(region, survey_))]


def export_runs(folder: Path, region: Region, survey_: RegionSurvey) -> Path:
    """Write every run of every water (the longest, one per heading, the usable ones) as one layer, runs."""
    return write_geopackage(folder / "runs.gpkg", {"runs": survey_layers(region, survey_)["survey_runs"]})


def water_features(region: Region, survey_: RegionSurvey) -> dict:
    """Give the surveyed water bodies as one GeoJSON FeatureCollection (RFC 7946) with the survey's columns."""
    return feature_collection(survey_layers(region, survey_)["water"])
