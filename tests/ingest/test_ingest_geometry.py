"""Lengths and areas in the region's plane against geodesics, and repair that is honest about what it changed."""

import numpy as np
import pytest
import shapely
from ingest_files import HEAD, LAKE, WATER, comb, write_region
from pyproj import CRS, Geod

from geo.ingest.files.repair import repair
from geo.ingest.layers.records import shape_id
from geo.ingest.layers.water import parts_in_order
from geo.ingest.load_region import check_region, load_region

GEOD = Geod(ellps="WGS84")  # Karney 2013, J. Geodesy 87:43-55, through PROJ: independent of the metric plane


def geodesic_area_m2(shape):
    return abs(GEOD.geometry_area_perimeter(shape)[0])


def test_antimeridian_area_and_centre(tmp_path, worker):
    ring = [(179.9, -40.0), (-179.9, -40.0), (-179.9, -39.9), (179.9, -39.9)]
    true_m2 = geodesic_area_m2(shapely.box(179.9, -40.0, 180.1, -39.9))
    for name, shape in (
        ("split", shapely.Polygon(ring)),
        ("shifted", shapely.box(179.9, -40.0, 180.1, -39.9)),
    ):
        (tmp_path / name).mkdir()
        region = load_region(write_region(tmp_path / name, shapes=[shape]), worker=worker)
        assert region.bodies[0].polygon.area == pytest.approx(true_m2, rel=1e-3)
        assert abs(region.frame.centre_longitude_deg) == 180.0
        assert region.frame.centre_latitude_deg == pytest.approx(-39.95)


@pytest.mark.parametrize("latitude", [0.0, 45.0, -62.0, 75.0])
def test_lengths_in_the_plane_are_true(tmp_path, latitude, worker):
    """Lengths within 0.05 % of the geodesic, areas within 0.1 %, for water up to 50 km across."""
    lakes = [
        shapely.box(10.0, latitude, 10.02, latitude + 0.01),
        shapely.box(10.5, latitude + 0.3, 10.53, latitude + 0.31),
    ]
    region = load_region(write_region(tmp_path, shapes=lakes), worker=worker)
    areas = sorted(body.polygon.area for body in region.bodies)
    assert areas == pytest.approx(sorted(geodesic_area_m2(lake) for lake in lakes), rel=1e-3)
    for body in region.bodies:
        lake = min(lakes, key=lambda one: abs(geodesic_area_m2(one) - body.polygon.area))
        corners = shapely.get_coordinates(shapely.normalize(lake))
        expected = GEOD.line_lengths(corners[:, 0], corners[:, 1])
        plane = shapely.get_coordinates(body.polygon)
        lengths = np.hypot(*np.diff(plane, axis=0).T)
        assert np.sort(lengths) == pytest.approx(np.sort(expected), rel=5e-4)


def test_us_foot_crs_is_converted(tmp_path, worker):
    # EPSG:2226 is in US survey feet: 1 ft = 1200/3937 m exactly, so 1000 ft x 1000 ft is 92 903.41 m2 on its grid.
    square = shapely.box(6_500_000, 2_000_000, 6_501_000, 2_001_000)
    region = load_region(write_region(tmp_path, shapes=[square], crs="EPSG:2226"), worker=worker)
    assert region.bodies[0].polygon.area == pytest.approx((1000 * 1200 / 3937) ** 2, rel=5e-4)


def test_web_mercator_is_no_metric_plane(tmp_path, worker):
    write_region(tmp_path, 'metric_crs = "EPSG:3857"\n' + HEAD + WATER)
    faults, summary = check_region(tmp_path, worker=worker)
    assert not summary["usable"] and [fault.field for fault in faults] == ["metric_crs"]


@pytest.mark.parametrize("code", ["EPSG:4326", "EPSG:2226", "EPSG:999999", "EPSG:32660"])
def test_unfit_metric_crs_is_refused(tmp_path, code, worker):
    faults, summary = check_region(
        write_region(tmp_path, f'metric_crs = "{code}"\n' + HEAD + WATER), worker=worker
    )
    assert not summary["usable"] and [fault.field for fault in faults] == ["metric_crs"]


def test_users_metric_crs_is_kept(tmp_path, worker):
    region = load_region(write_region(tmp_path, 'metric_crs = "EPSG:32726"\n' + HEAD + WATER), worker=worker)
    assert CRS.from_wkt(region.frame.crs_wkt).to_epsg() == 32726
    assert min(body.polygon.bounds[1] for body in region.bodies) > 5_000_000


def test_wide_regions_are_cautioned(tmp_path, worker):
    far = shapely.box(-24.0, -41.0, -23.9, -40.9)
    faults, summary = check_region(write_region(tmp_path, shapes=[LAKE, far]), worker=worker)
    assert summary["usable"] and ["divide the region" in fault.cure for fault in faults] == [True]


@pytest.mark.parametrize(
    ("shape", "area", "change"),
    [
        # The area of what was drawn, by hand: a bow-tie of two triangles of 1 each; its rings enclose 0 (shoelace).
        (shapely.Polygon([(0, 0), (2, 2), (2, 0), (0, 2)]), 2.0, 1.0),
        # A hole that pokes out of its shell takes away only what lies inside: 10 x 10 - 6 x 6 = 64.
        (
            shapely.Polygon(shapely.box(0, 0, 10, 10).exterior, [shapely.box(4, 2, 12, 8).exterior]),
            64.0,
            None,
        ),
        # Overlapping parts are one water: 10 x 10 + 10 x 10 - 5 x 5.
        (shapely.MultiPolygon([shapely.box(0, 0, 10, 10), shapely.box(5, 5, 15, 15)]), 175.0, None),
        # Two triangles of 0.5 and 1 along one edge; the structure method alone leaves this ring invalid (GEOS 3.14).
        (shapely.Polygon([(2, 1), (1, 1), (2, 0), (2, 1), (0, 1), (1, 2)]), 1.5, None),
        # A spike encloses nothing.
        (shapely.Polygon([(0, 0), (10, 0), (10, 10), (20, 10), (10, 10), (0, 10)]), 100.0, 0.0),
    ],
)
def test_repair_means_what_was_drawn(shape, area, change):
    answer = repair(shapely.to_wkb(shape))
    mended = shapely.from_wkb(answer["geometry"])
    assert mended.is_valid and mended.area == pytest.approx(area)
    if change is not None:
        assert answer["change"] == pytest.approx(change)


def test_repaired_shapes_are_always_valid():
    """Random rings on a small grid, where one in a hundred structure repairs is invalid again (measured on 153 225)."""
    random = np.random.default_rng(7)
    invalid = 0
    for _ in range(1500):
        shape = shapely.Polygon(random.integers(0, 5, (8, 2)))
        if shape.is_valid:
            continue
        invalid += 1
        answer = repair(shapely.to_wkb(shape))
        if answer["geometry"] is not None:
            mended = shapely.from_wkb(answer["geometry"])
            assert mended.is_valid and mended.area > 0 and mended.geom_type in ("Polygon", "MultiPolygon")
    assert invalid > 500


def test_nothing_left_of_a_flat_ring():
    assert repair(shapely.to_wkb(shapely.Polygon([(0, 0), (1, 1), (2, 2)])))["geometry"] is None


def test_a_tangled_lake_is_set_aside_and_the_rest_is_used(tmp_path, worker):
    shapes = [LAKE, comb(600, west=-30.3), shapely.box(-30.1, -40.1, -30.09, -40.09)]
    faults, summary = check_region(write_region(tmp_path, shapes=shapes), worker=worker)
    assert summary["usable"] and summary["bodies"] == 2
    (fault,) = faults
    assert (fault.severity, fault.feature) == ("quarantine", "row 2") and "too tangled" in fault.rule


def test_ids_ignore_start_direction_and_turn_of_the_ring():
    ring = shapely.get_coordinates(LAKE)[:-1]
    turned = shapely.Polygon(np.roll(ring, 2, axis=0)[::-1])
    wrapped = shapely.transform(LAKE, lambda xy: np.add(xy, (360.0, 0.0)))
    assert shape_id(LAKE, "w") == shape_id(turned, "w") == shape_id(wrapped, "w")
    moved = shapely.transform(LAKE, lambda xy: np.add(xy, (1e-6, 0.0)))
    assert shape_id(LAKE, "w") != shape_id(moved, "w")


def test_parts_are_ordered_by_size():
    small, large = shapely.box(0, 0, 1, 1), shapely.box(5, 5, 8, 8)
    for parts in ([small, large], [large, small]):
        assert [part.area for part in parts_in_order(shapely.MultiPolygon(parts))] == [9.0, 1.0]


def test_swapped_rows_are_set_aside_when_few(tmp_path, worker):
    lakes = [shapely.box(-120.0 + k, -40.01, -119.99 + k, -40.0) for k in (0.0, 0.1, 0.2)]
    swapped = shapely.transform(lakes[0], lambda xy: xy[:, ::-1])
    faults, summary = check_region(write_region(tmp_path, shapes=[*lakes, swapped]), worker=worker)
    assert summary["usable"] and summary["bodies"] == 3
    assert [fault.feature for fault in faults if fault.severity == "quarantine"] == ["row 4"]


@pytest.mark.parametrize(
    ("moved_deg", "share", "severity"),
    [(0.01, "50 %", "ask"), (0.019, "5 %", "caution"), (0.01999, None, None)],
)
def test_overlapping_bodies_are_told(tmp_path, worker, moved_deg, share, severity):
    # The lake is 0.02 degrees wide: moved east by 0.01 its copy shares half of it, by 0.019 a twentieth.
    other = shapely.transform(LAKE, lambda xy: np.add(xy, (moved_deg, 0.0)))
    toml = HEAD + WATER + '[water.columns]\nid = "ref"\n'
    faults, summary = check_region(write_region(tmp_path, toml, [LAKE, other], ref=["a", "b"]), worker=worker)
    assert summary["usable"] == (severity != "ask")
    told = [(fault.severity, fault.feature) for fault in faults]
    assert told == ([(severity, "a and b")] if severity is not None else [])
    assert all(share in fault.rule and "soundings" not in fault.rule for fault in faults)
