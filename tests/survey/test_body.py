"""The survey of one body as a whole: wiring, origins, and that no part takes the others down."""

import math
from datetime import date

import numpy as np
import pytest
import shapely
from pyproj import CRS, Geod

from geo.base.geodesy import local_crs
from geo.base.grid import Grid
from geo.records.region import Obstacle, RegionFrame, SalinityEvidence, StatedDepth, WaterBody
from geo.records.survey import BodySurvey, SurveySettings
from geo.survey.body import RegionEvidence, survey_body
from geo.survey.depth import depth_model

FRAME = RegionFrame(local_crs(147.0, -37.0).to_wkt(), 147.0, -37.0, "mean sea level")
SETTINGS = SurveySettings()
LAKE = shapely.box(-500, -100, 500, 100)


def terrain(water_m: float = 300.0, land_m: float = 301.0, cell_m: float = 20.0, lake=LAKE) -> Grid:
    size = int(6000 / cell_m)
    x = -3000 + (np.arange(size) + 0.5) * cell_m
    east, north = np.meshgrid(x, -x)
    wet = shapely.contains_xy(lake, east, north)
    return Grid(np.where(wet, water_m, land_m), -3000.0, 3000.0, cell_m, cell_m)


def surveyed(body: WaterBody | None = None, ground: Grid | None = None, **more) -> BodySurvey:
    given = {"frame": FRAME, "settings": SETTINGS} | more
    return survey_body(body or water(), RegionEvidence(terrain=ground, **given))


def water(polygon: shapely.Polygon = LAKE, kind: str = "lake", **more) -> WaterBody:
    return WaterBody("L1", "Long Lake", kind, polygon, "water.gpkg row 1", **more)  # type: ignore[arg-type]


def test_rectangle_has_the_runs_of_its_closed_form() -> None:
    # With 30 m kept to all shores a 1,000 x 200 m lake leaves 940 x 140 m: its diagonal is the longest run.
    found = surveyed(ground=terrain())
    run = found.longest_run
    assert run is not None
    assert run.length_m == pytest.approx(math.hypot(940, 140), rel=1e-3)
    assert run.upper_bound_m >= run.length_m
    assert run.length_m == pytest.approx(run.line.length)
    by_heading = {round(r.heading_grid_deg) % 180: r for r in found.heading_runs}
    assert sorted(by_heading) == list(range(0, 180, 10))
    assert by_heading[90].length_m == pytest.approx(940.0, rel=1e-3)
    assert by_heading[0].length_m == pytest.approx(140.0, rel=1e-3)
    assert by_heading[30].length_m == pytest.approx(140.0 / math.cos(math.radians(30)), rel=1e-3)


def test_headings_are_those_of_the_line_and_true_north_is_kept_apart() -> None:
    # UTM zone 55 S, 2 degrees east of its central meridian at 37 S: convergence about -2 sin(37) = -1.2 degrees.
    frame = RegionFrame(CRS.from_epsg(32755).to_wkt(), 149.0, -37.0, "mean sea level")
    lake = shapely.box(678_000, 5_903_000, 679_000, 5_903_200)
    found = survey_body(water(lake), RegionEvidence(frame, SETTINGS))
    assert found.longest_run is not None
    for run in found.runs:
        (x0, y0), (x1, y1) = run.line.coords[0], run.line.coords[-1]
        assert run.heading_grid_deg == pytest.approx(math.degrees(math.atan2(x1 - x0, y1 - y0)) % 360)
        turn = (run.heading_true_deg - run.heading_grid_deg + 180.0) % 360.0 - 180.0
        assert turn == pytest.approx(-2.0 * math.sin(math.radians(37.0)), abs=0.05)
        assert run.end_end.heading_grid_deg == pytest.approx(run.heading_grid_deg)
        assert run.start_end.heading_grid_deg == pytest.approx((run.heading_grid_deg + 180) % 360)


def test_plane_length_agrees_with_the_geodesic() -> None:
    run = surveyed(ground=terrain()).longest_run
    assert run is not None
    to_degrees = shapely.get_coordinates(run.line)
    from geo.base.geodesy import to_degrees as degrees

    longitude, latitude = degrees(FRAME.crs_wkt, to_degrees[[0, -1], 0], to_degrees[[0, -1], 1])
    true_m = Geod(ellps="WGS84").inv(longitude[0], latitude[0], longitude[1], latitude[1])[2]
    assert run.length_m == pytest.approx(true_m, rel=3e-5)


def test_ridge_beyond_one_end_breaks_that_end_only() -> None:
    # A ridge east of easting 1,000 m, 200 m above the water; the west is flat and low.
    ground = terrain(land_m=298.0)
    east = ground.west_m + (np.arange(ground.values.shape[1]) + 0.5) * ground.cell_east_m
    ground.values[:, east > 1000.0] = 500.0
    found = surveyed(ground=ground)
    run = next(r for r in found.heading_runs if round(r.heading_grid_deg) % 180 == 90)
    eastern, western = (
        (run.end_end, run.start_end) if run.heading_grid_deg < 180 else (run.start_end, run.end_end)
    )
    assert eastern.excess_m == pytest.approx(200.0 - 0.125 * (1000.0 - 470.0), abs=0.5)
    assert western.excess_m is not None and western.excess_m < 0.0


def test_elevation_stated_wins_and_a_strange_one_is_remarked() -> None:
    found = surveyed(water(surface_elevation_m=300.4, level_origin="gauge 7"), terrain())
    assert found.surface_elevation_m.value == 300.4
    assert "gauge 7" in found.surface_elevation_m.origin
    assert not any("check the level" in remark for remark in found.remarks)
    feet = surveyed(water(surface_elevation_m=984.3), terrain())
    assert any("check the level, its unit and its datum" in remark for remark in feet.remarks)
    drawn_down = surveyed(water(surface_elevation_m=292.0, level_change_m=-8.0), terrain())
    assert not any("check the level" in remark for remark in drawn_down.remarks)


def test_elevation_from_terrain_does_not_move_with_a_few_bad_cells() -> None:
    ground = terrain()
    middle = ground.values.shape[0] // 2
    ground.values[middle, middle - 5 : middle + 5] = 900.0
    ground.values[middle - 1, middle - 9 : middle + 9] = np.nan
    found = surveyed(ground=ground)
    assert found.surface_elevation_m.value == pytest.approx(300.0)
    assert "median" in found.surface_elevation_m.origin


def test_small_pond_reads_the_cells_on_its_shore() -> None:
    pond = shapely.Point(3, 4).buffer(6.0)
    found = surveyed(water(pond, "pond"), terrain(lake=pond, land_m=412.0))
    assert found.surface_elevation_m.value == pytest.approx(412.0)
    assert "on its shore" in found.surface_elevation_m.origin
    assert found.longest_run is None and found.heading_runs == ()
    assert any("60 m corridor" in remark and "12 m wide" in remark for remark in found.remarks)
    assert found.hover_point is not None and found.hover_point.clear_radius_m == pytest.approx(6.0, abs=0.05)


def test_terrain_that_is_not_level_over_the_water_gives_no_elevation() -> None:
    ground = terrain()
    ground.values[:] = np.linspace(100.0, 900.0, ground.values.shape[1])[None, :]
    found = surveyed(ground=ground)
    assert found.surface_elevation_m.value is None
    assert "not level" in found.surface_elevation_m.origin
    assert all(run.end_end.excess_m is None for run in found.runs)


def test_sea_is_at_zero_unless_heights_are_ellipsoidal() -> None:
    assert surveyed(water(kind="sea")).surface_elevation_m.value == 0.0
    ellipsoid = RegionFrame(FRAME.crs_wkt, 147.0, -37.0, "WGS 84 ellipsoidal height")
    assert surveyed(water(kind="sea"), frame=ellipsoid).surface_elevation_m.value is None


def test_nothing_known_stays_unknown_with_reasons() -> None:
    found = surveyed()
    assert found.surface_elevation_m.value is None
    assert found.level_change_m.value is None
    assert found.volume_m3.value is None
    assert found.mean_depth_m.value is None
    assert found.salinity_class is None
    assert found.longest_run is not None
    assert found.longest_run.depth.quantiles_m is None
    assert found.longest_run.start_end.excess_m is None
    assert found.hover_point is not None and found.hover_point.depth.quantiles_m is None
    for origin in (found.surface_elevation_m.origin, found.volume_m3.origin, found.salinity_reason):
        assert origin


def test_stated_values_reach_the_survey() -> None:
    body = water(
        volume_m3=1.5e6,
        level_change_m=-2.0,
        salinity=SalinityEvidence(None, 12.0, "probe", date(2024, 1, 9)),
        stated_depth=StatedDepth(30.0, None, "owner", None),
    )
    found = surveyed(body)
    assert found.volume_m3.value == 1.5e6 and "stated" in found.volume_m3.origin
    assert found.level_change_m.value == -2.0
    assert found.salinity_class == "brackish"
    assert found.longest_run is not None and found.longest_run.depth.data_class == "stated depth"


def test_impossible_salinity_leaves_the_rest_standing() -> None:
    found = surveyed(water(salinity=SalinityEvidence(None, -3.0, "probe", None)))
    assert found.salinity_class is None and "-3.0" in found.salinity_reason
    assert found.longest_run is not None


def test_far_obstacles_do_not_change_anything() -> None:
    far = tuple(
        Obstacle(f"M{i}", "", "mast", shapely.Point(9000 + i, 50), 999.0, None, "obstacles.csv")
        for i in range(50)
    )
    assert (
        surveyed(ground=terrain()).longest_run.end_end
        == surveyed(ground=terrain(), obstacles=far).longest_run.end_end
    )


def test_wire_over_the_lake_moves_the_hover_point() -> None:
    wire = Obstacle(
        "W3", "", "wire", shapely.LineString([(-500, 0), (500, 0)]), None, None, "obstacles.csv row 3"
    )
    found = surveyed(ground=terrain(), obstacles=(wire,))
    assert found.hover_point is not None
    assert found.hover_point.clear_radius_m == pytest.approx(50.0, abs=0.05)
    assert found.hover_point.unknown_heights == ("wire W3",)


def test_islands_are_remarked() -> None:
    lake = LAKE.difference(shapely.box(-20, -20, 20, 20))
    found = surveyed(water(lake))
    assert found.area_m2 == pytest.approx(200_000 - 1600)
    assert found.perimeter_m == pytest.approx(2400)
    assert any("1 island" in remark for remark in found.remarks)


def test_depth_is_asked_for_in_the_strip_that_the_scoop_crosses() -> None:
    # The longest run's corridor touches the shore, where the depth is 0; the strip of 20 m stays 20 m off it.
    body = water(stated_depth=StatedDepth(30.0, None, "owner", None))
    run = surveyed(body).longest_run
    assert run is not None and run.corridor_width_m == 60.0
    assert run.line.distance(LAKE.boundary) == pytest.approx(30.0, abs=0.5)
    assert run.depth == depth_model(body, None, None).least_along(run.line, 20.0)
    assert run.depth != depth_model(body, None, None).least_along(run.line, 60.0)
    narrow = surveyed(body, settings=SurveySettings(corridor_width_m=12.0)).longest_run
    assert narrow is not None
    assert narrow.depth == depth_model(body, None, None).least_along(narrow.line, 12.0)
