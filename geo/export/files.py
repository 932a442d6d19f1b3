"""A ranking and a survey as files and layers of a folder, one call each."""

from collections.abc import Sequence
from pathlib import Path

import geopandas

from geo.export.formats.folder import write_all
from geo.export.formats.geojson import feature_collection
from geo.export.formats.geopackage import write_geopackage
from geo.export.layers.survey_layer import survey_frames
from geo.records.extras import Extras
from geo.records.file_formats import USUAL_FORMATS
from geo.records.ranking import Ranking
from geo.records.region import Region
from geo.records.survey import RegionSurvey


def survey_layers(region: Region, survey_: RegionSurvey) -> dict[str, geopandas.GeoDataFrame]:
    """Give the survey's layers (water, survey_runs, hover_points) in WGS 84, with the export's columns."""
    return survey_frames(survey_, region)


def water_features(region: Region, survey_: RegionSurvey) -> dict:
    """Give the surveyed water bodies as one GeoJSON FeatureCollection (RFC 7946) with the survey's columns."""
    return feature_collection(survey_frames(survey_, region)["water"])


def export_ranking(
    folder: Path,
    region: Region,
    survey_: RegionSurvey,
    ranking: Ranking,
    formats: Sequence[str] = USUAL_FORMATS,
    further: Extras | None = None,
) -> list[Path]:
    """Write the ranked layer in the formats chosen; all files are made before any takes its name."""
    return list(write_all(folder, region, survey_, ranking, formats=formats, further=further).values())


def export_survey(folder: Path, region: Region, survey_: RegionSurvey) -> list[Path]:
    """Write the survey's layers (water, survey_runs, hover_points) as one GeoPackage."""
    return [write_geopackage(folder / "survey.gpkg", survey_frames(survey_, region))]


def export_runs(folder: Path, region: Region, survey_: RegionSurvey) -> Path:
    """Write every run of every water (the longest, one per heading, the usable ones) as one layer, runs."""
    return write_geopackage(folder / "runs.gpkg", {"runs": survey_frames(survey_, region)["survey_runs"]})
