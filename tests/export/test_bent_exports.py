"""A bent run in the files: its arc is drawn, and every layer says that it is bent."""

from dataclasses import replace

import export_samples as samples
import gpxpy
import numpy as np
import pytest
import shapely

from geo.base.geodesy import to_plane
from geo.export.formats.gpx import write_gpx
from geo.export.formats.kml import write_kml
from geo.export.layers.ranked_layer import ranked_frame, runs_frame
from geo.export.layers.survey_layer import survey_frames
from geo.records.ranking import Ranking
from geo.records.region import Region
from geo.records.suitability import RunBend
from geo.records.survey import RunPart

ANGLE = np.linspace(0.0, 0.5 * np.pi, 60)
ARC = np.column_stack((120.0 - 120.0 * np.cos(ANGLE), 300.0 + 120.0 * np.sin(ANGLE)))
# North for 300 m, a right turn of 90 degrees on 120 m, east for 300 m.
LINE = shapely.LineString([(0.0, 0.0), *ARC, (420.0, 420.0)])
BEND = RunBend(120.0, 90.0, 90.0, ((0.0, 0.0), (0.0, 90.0), (90.0, 0.0)))


@pytest.fixture(scope="module")
def region() -> Region:
    return samples.region()


@pytest.fixture(scope="module")
def bent(region) -> Ranking:
    ranking = samples.ranking(region)
    source = next(one for one in ranking.sources if one.run_line is not None)
    judged = replace(source.assessment, run_line=LINE, run_bend=BEND, run_heading_true_deg=0.0)
    made = replace(source, assessment=judged, run_line=LINE)
    return replace(ranking, sources=tuple(made if one is source else one for one in ranking.sources))


def test_ranked_and_runs_say_that_it_is_bent(region, bent):
    runs = runs_frame(bent, region.frame)
    (row,) = [one for one in runs.itertuples() if one.shape == "bent"]
    assert (row.turned_deg, row.least_radius_m, row.end_heading_true_deg) == (90.0, 120.0, 90.0)
    assert row.length_m == pytest.approx(LINE.length)
    xy = shapely.get_coordinates(row.geometry)
    east, north = to_plane(region.frame.crs_wkt, xy[:, 0], xy[:, 1])
    # The layer's line is the run, arc and all: within a centimetre both ways.
    assert shapely.LineString(np.column_stack((east, north))).hausdorff_distance(LINE) < 0.01
    shapes = list(ranked_frame(bent, region.frame).run_shape)
    assert shapes.count("bent") == 1 and "straight" in shapes
    straight = [one for one in runs.itertuples() if one.shape == "straight"]
    assert all(one.turned_deg == 0.0 and one.end_heading_true_deg == one.heading_true_deg for one in straight)


def test_kml_names_it_bent(tmp_path, region, bent):
    text = write_kml(tmp_path / "a.kml", bent, region.frame).read_text(encoding="utf-8")
    assert "BENT run" in text and "turns of 120 m radius, 90 degrees in all" in text


def test_gpx_route_follows_the_arc_with_few_points(tmp_path, region, bent):
    parsed = gpxpy.parse(write_gpx(tmp_path / "a.gpx", bent, region.frame).read_text(encoding="utf-8"))
    (route,) = [one for one in parsed.routes if "BENT run" in one.name]
    assert 6 <= len(route.points) <= 30
    places = np.array([(p.longitude, p.latitude) for p in route.points])
    drawn = np.column_stack(to_plane(region.frame.crs_wkt, places[:, 0], places[:, 1]))
    assert shapely.LineString(drawn).hausdorff_distance(LINE) < 0.6
    assert np.hypot(*(drawn[-1] - (420.0, 420.0))) < 0.05


def test_survey_layer_holds_bent_runs(region):
    survey = samples.survey(region)
    body = next(one for one in survey.bodies if one.longest_run is not None)
    parts = (RunPart(300.0, 0.0), RunPart(60.0 * np.pi, 0.0, 90.0, 120.0), RunPart(300.0, 90.0))
    run = replace(body.longest_run, search="bent", line=LINE, heading_true_deg=1.0, parts=parts)
    bodies = tuple(replace(one, bent_runs=(run,)) if one is body else one for one in survey.bodies)
    rows = survey_frames(replace(survey, bodies=bodies), region)["survey_runs"]
    (row,) = [one for one in rows.itertuples() if one.search == "bent"]
    assert (row.turned_deg, row.least_radius_m, row.end_heading_true_deg) == (90.0, 120.0, 91.0)
    others = rows[rows.search != "bent"]
    assert (others.turned_deg == 0.0).all() and others.least_radius_m.isna().all()
