"""The layers: rows, columns, figures that add up, unknown kept unknown, shapes in the right place."""

from dataclasses import replace
from datetime import date

import export_samples as samples
import numpy as np
import pandas as pd
import pytest
import shapely

from geo.base.errors import BadArgument
from geo.base.geodesy import WGS84, to_plane
from geo.base.positions import NOT_VALID
from geo.export.drawing.palette import MARKS, NOT_USABLE, SURVEY_FIRST, USABLE, mark_of
from geo.export.formats.folder import all_layers
from geo.export.layers.ranked_layer import legs_frame, question_table, ranked_frame, runs_frame, wind_text
from geo.export.layers.survey_layer import survey_layers
from geo.export.layers.table import table
from geo.records.columns import LAYERS, Column
from geo.records.geographic_shapes import geographic


@pytest.fixture(scope="module")
def frame(ranking, region):
    return ranked_frame(ranking, region.frame, region.bodies)


def test_one_row_per_source_and_per_exclusion(frame, ranking):
    assert list(frame["rank"].dropna()) == [1, 2, 3, 4, 5]
    assert list(frame["body_id"]) == [s.body_id for s in (*ranking.sources, *ranking.excluded)]
    assert frame.crs.to_epsg() == 4326


def test_every_layer_has_exactly_its_documented_columns(region, survey, ranking):
    for name, layer in all_layers(region, survey, ranking).items():
        assert [c for c in layer.columns if c != "geometry"] == [c.name for c in LAYERS[name]], name


def test_columns_say_unit_and_meaning():
    endings = {
        "_m": "m",
        "_s": "s",
        "_deg": "deg",
        "_nmi": "NM",
        "_ft": "ft",
        "_kt": "kt",
        "_ddm": "deg",
        "_c": "degC",
    }
    for columns in LAYERS.values():
        assert len({c.name for c in columns}) == len(columns)
        for column in columns:
            assert column.meaning
            for ending, unit in endings.items():
                if column.name.endswith(ending):
                    assert column.unit.startswith(unit), column


def test_round_trip_is_the_sum_of_its_columns(frame):
    parts = ["fill_s", "manoeuvre_source_s", "loaded_leg_s", "drop_s", "manoeuvre_fire_s", "empty_leg_s"]
    ranked = frame[frame["rank"].notna()]
    assert np.allclose(ranked[parts].sum(axis=1), ranked["round_trip_s"], rtol=0, atol=1e-9)
    assert np.allclose(ranked["litres"] * 3600 / ranked["round_trip_s"], ranked["litres_per_hour"])


def test_positions_go_back_to_the_fill_points(frame, ranking, region):
    east, north = to_plane(region.frame.crs_wkt, frame.geometry.x[:5], frame.geometry.y[:5])
    for i, source in enumerate(ranking.sources):
        assert (east[i], north[i]) == pytest.approx((source.fill_point.x, source.fill_point.y), abs=1e-3)


def test_bearing_is_seen_from_the_fire(frame, ranking, region):
    """Going from the drop point on the bearing for the distance ends at the fill point (direct geodesic of PROJ)."""
    drop = geographic(ranking.sources[0].drop_point, region.frame)
    row = frame.iloc[0]
    longitude, latitude, _ = WGS84.fwd(drop.x, drop.y, row.bearing_true_deg, row.distance_m)
    assert (longitude, latitude) == pytest.approx((row.longitude_deg, row.latitude_deg), abs=1e-9)
    # The fire is north of it, so the bearing is southerly: a swap of the two ends would show.
    assert 90 < row.bearing_true_deg < 270
    assert row.distance_nmi == pytest.approx(row.distance_m / 1852)


def test_magnetic_columns_need_a_valid_day(ranking, region):
    late = replace(ranking, weather=replace(ranking.weather, day=date(2031, 1, 1)))
    none = replace(ranking, weather=replace(ranking.weather, day=None))
    for question, words in ((late, NOT_VALID), (none, "no date given")):
        rows = ranked_frame(question, region.frame)
        magnetic = ["bearing_magnetic_deg", "variation_deg", "run_heading_magnetic_deg"]
        assert rows[magnetic].isna().all(axis=None)
        assert rows["magnetic_note"].iloc[0].startswith(words)
        assert rows["bearing_true_deg"].notna().sum() == 5


def test_magnetic_bearing_differs_by_the_variation(frame):
    row = frame.iloc[0]
    # The variation is taken at each place, 4 km apart: equal to 0.1 deg.
    assert (row.bearing_true_deg - row.bearing_magnetic_deg) % 360 == pytest.approx(
        row.variation_deg, abs=0.1
    )
    assert pd.isna(row.magnetic_note)


def test_unknown_stays_unknown(ranking, region):
    source = ranking.sources[0]
    unknown = replace(source.conditions, elevation_m=None, density_altitude_m=None, temperature_c=None)
    leg = replace(source.cycle.loaded_leg, safe_altitude_m=None)
    bare = replace(source, conditions=unknown, cycle=replace(source.cycle, loaded_leg=leg))
    row = ranked_frame(replace(ranking, sources=(bare,)), region.frame).iloc[0]
    empty = ["elevation_m", "elevation_ft", "density_altitude_m", "density_altitude_ft", "temperature_c"]
    assert all(pd.isna(row[name]) for name in [*empty, "safe_altitude_m", "safe_altitude_ft"])
    assert "unknown" in row.highest_what


def test_excluded_rows_offer_no_load(frame):
    excluded = frame[frame["rank"].isna()]
    assert excluded[["litres", "round_trip_s", "litres_per_hour", "distance_m"]].isna().all(axis=None)
    first = excluded.iloc[0]
    assert (first.verdict, first.method, first.reason) == (
        "survey first",
        "ram intake",
        "nobody knows the depth",
    )
    assert first.other_methods.startswith("hover pump: not usable")


def test_excluded_source_without_a_place_has_no_geometry(ranking, region, frame):
    bare = ranked_frame(ranking, region.frame)
    assert bare.geometry.isna().sum() == 3
    assert frame.geometry.notna().all()
    polygons = {body.body_id: geographic(body.polygon, region.frame) for body in region.bodies}
    assert all(
        polygons[row.body_id].contains(row.geometry) for row in frame.itertuples() if row.rank is pd.NA
    )


def test_a_left_out_source_is_never_marked_usable(frame):
    assert mark_of("usable", True) is USABLE
    assert mark_of("usable", False) is NOT_USABLE
    assert mark_of("survey first", False) is SURVEY_FIRST
    assert mark_of("something new", True) is NOT_USABLE
    assert frame.set_index("body_id")["state"]["w8"] == NOT_USABLE.label
    assert len({m.colour + m.hatch for m in MARKS}) == len({m.style_marker for m in MARKS}) == len(MARKS)


def test_runs_and_legs_follow_the_ranking(ranking, region):
    runs, legs = runs_frame(ranking, region.frame), legs_frame(ranking, region.frame)
    assert list(runs["rank"]) == [4, 5]
    assert list(legs["load"]) == ["loaded", "empty"] * 5
    loaded = legs.iloc[0]
    # Loaded goes from the water to the fire.
    fire = geographic(ranking.sources[0].drop_point, region.frame)
    assert shapely.get_point(loaded.geometry, -1).distance(fire) < 1e-9
    length = WGS84.geometry_length(loaded.geometry)
    assert length == pytest.approx(loaded.distance_m, rel=1e-5)
    assert list(legs["detour"]) == ["no"] * 4 + ["yes"] + ["no"] * 5


def test_water_layer_carries_survey_and_state(region, survey, ranking):
    layers = survey_layers(region, survey, ranking)
    water = layers["water"].set_index("body_id")
    assert water.loc["w1", "state"] == "usable"
    assert water.loc["w2", "state"] == "survey first"
    assert pd.isna(water.loc["w2", "run_depth_95_m"]) and pd.isna(water.loc["w2", "volume_m3"])
    area = [abs(WGS84.geometry_area_perimeter(shape)[0]) for shape in water.geometry]
    assert np.allclose(area, water["area_m2"], rtol=1e-4)
    assert len(layers["survey_runs"]) == 9 * 19
    assert survey_layers(region, survey)["water"]["state"].unique().tolist() == ["not assessed"]


def test_a_survey_of_other_input_is_refused(region, survey):
    with pytest.raises(BadArgument, match="survey the region again"):
        survey_layers(region, replace(survey, fingerprint="other"))


def test_question_travels_with_the_layers(ranking):
    rows = dict(question_table(ranking).itertuples(index=False))
    assert rows["fire"] == "Ridge Fire (f1)"
    assert rows["wind"] == "from 300°T at 18 kt"
    assert rows["assumption: release"] == "whole tank at once"
    calm = replace(ranking, weather=replace(ranking.weather, wind_ms=0.0))
    assert wind_text(calm.weather) == "calm"


def test_an_empty_ranking_still_has_its_columns(ranking, region):
    empty = replace(ranking, sources=(), excluded=())
    for layer in (
        ranked_frame(empty, region.frame),
        runs_frame(empty, region.frame),
        legs_frame(empty, region.frame),
    ):
        assert len(layer) == 0 and len(layer.columns) > 5 and layer.crs.to_epsg() == 4326


def test_rows_must_fit_their_columns():
    columns = (Column("name", "text", "", "a name"), Column("depth_m", "real", "m", "a depth"))
    assert pd.isna(table([{"name": "", "depth_m": None}], columns).iloc[0]["name"])
    with pytest.raises(BadArgument, match="exactly the layer's columns"):
        table([{"name": "a"}], columns)
    with pytest.raises(BadArgument, match="not finite"):
        table([{"name": "a", "depth_m": float("nan")}], columns)


def test_shapes_over_the_antimeridian_are_cut():
    """RFC 7946 section 3.1.9. Areas by PROJ's geodesic on the uncut ring, which is right across the meridian."""
    frame = samples.frame_at(179.99, -44.35)
    lake = samples.blob(0, 0, 2600, 500, 20, 1)
    cut = geographic(lake, frame)
    assert cut.geom_type == "MultiPolygon" and cut.is_valid
    west, _, east, _ = cut.bounds
    assert west == -180.0 and east == 180.0
    assert all(part.bounds[2] - part.bounds[0] < 1 for part in cut.geoms)
    area = sum(abs(WGS84.geometry_area_perimeter(part)[0]) for part in cut.geoms)
    assert area == pytest.approx(lake.area, rel=1e-4)
    line = geographic(shapely.LineString([(-1500, 0), (1500, 0)]), frame)
    assert line.geom_type == "MultiLineString"
    assert sum(WGS84.geometry_length(part) for part in line.geoms) == pytest.approx(3000, rel=1e-6)
    assert geographic(shapely.Point(5000, 0), frame).x == pytest.approx(-179.947, abs=0.002)


def test_a_region_on_the_far_side_is_cut_the_same():
    frame = samples.frame_at(-179.99, 30.0)
    cut = geographic(shapely.box(-4000, -500, 4000, 500), frame)
    assert sorted(np.sign(part.centroid.x) for part in cut.geoms) == [-1, 1]


def test_a_shape_over_the_pole_is_refused():
    frame = samples.frame_at(0.0, 89.99)
    with pytest.raises(BadArgument, match="over a pole"):
        geographic(shapely.Point(0, 0).buffer(20000), frame)


def test_a_long_line_stays_on_its_way():
    """Every point of the drawn leg lies within 1 m of the plane line; without steps it is tens of metres off."""
    frame = samples.frame_at(10.0, 60.0)
    line = shapely.LineString([(-25000, 3000), (25000, 3000)])

    def greatest_offset(shape):
        steps = shapely.get_coordinates(
            shapely.line_interpolate_point(shape, np.linspace(0, 1, 501), normalized=True)
        )
        points = shapely.points(*to_plane(frame.crs_wkt, steps[:, 0], steps[:, 1]))
        return float(shapely.distance(points, line).max())

    assert greatest_offset(geographic(line, frame, 2000.0)) < 1.0
    assert greatest_offset(geographic(line, frame)) > 50.0
