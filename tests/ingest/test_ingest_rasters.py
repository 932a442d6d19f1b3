"""Terrain and depth rasters: units, nodata, sign and place, against planes whose value is known everywhere."""

import numpy as np
import pytest
import rasterio
from ingest_files import HEAD, LAKE, POND, TERRAIN, WATER, plain_dem, write_dem, write_region

from geo.base.geodesy import to_plane
from geo.base.units import METRE_PER_FOOT
from geo.ingest.files.ascii_grid import read_ascii_grid
from geo.ingest.files.refusal import Refusal
from geo.ingest.load_region import check_region, load_region

TOML = HEAD + WATER + TERRAIN
DEPTH = '[depth_raster]\nfile = "d.tif"\nvertical_unit = "metre"\npositive = "down"\nsurvey_order = "2"\n'


def slope_of(longitude, latitude):
    """A plane in longitude and latitude [m]: bilinear interpolation must give it back exactly."""
    return 300.0 + 1000.0 * (longitude + 30.0) + 2000.0 * (latitude + 40.0)


def sloping_dem(cell=0.001, rows=150, columns=200, west=-30.1, north=-39.95):
    longitude = west + cell * (np.arange(columns) + 0.5)
    latitude = north - cell * (np.arange(rows) + 0.5)
    return slope_of(longitude[None, :], latitude[:, None]).astype("float32")


def load(folder, worker, toml=TOML):
    (folder / "region.toml").write_text(toml)
    return load_region(folder, worker=worker)


def faults_of(folder, worker, toml=TOML):
    (folder / "region.toml").write_text(toml)
    return check_region(folder, worker=worker)[0]


def test_terrain_lies_where_it_should(tmp_path, worker):
    write_region(tmp_path)
    write_dem(tmp_path / "dem.tif", sloping_dem(), nodata=-9999)
    region = load(tmp_path, worker)
    random = np.random.default_rng(1)
    longitude, latitude = random.uniform(-30.05, -29.95, 200), random.uniform(-40.06, -39.99, 200)
    east, north = to_plane(region.frame.crs_wkt, longitude, latitude)
    found = region.terrain.bilinear(east, north)
    assert found == pytest.approx(slope_of(longitude, latitude), abs=0.02)
    # Ground size of a cell of 0.001 degrees at 40.025 S (WGS 84: 111 035 m per degree north, 85 366 m east).
    assert region.terrain.cell_north_m == pytest.approx(111.03, rel=2e-3)
    assert region.terrain.cell_east_m == pytest.approx(85.4, rel=2e-3)


def test_feet_and_metres_make_the_same_region(tmp_path, worker):
    """The same files in feet and in metres: heights, levels and depths agree to 0.1 m."""
    regions = []
    for unit, factor in (("metre", 1.0), ("foot", 1.0 / METRE_PER_FOOT)):
        folder = tmp_path / unit
        folder.mkdir()
        toml = TOML.replace('"metre"', f'"{unit}"') + DEPTH.replace('"metre"', f'"{unit}"')
        columns = (
            'current_level = "now"\ndepth_level = "full"\nstated_depth = "deep"\nstated_depth_sd = "sd"\n'
        )
        toml = toml.replace(WATER, f'{WATER}vertical_unit = "{unit}"\n[water.columns]\nid = "ref"\n{columns}')
        values = {"now": [310.0, 400.0], "full": [312.5, 400.0], "deep": [14.0, None], "sd": [2.0, None]}
        scaled = {
            name: [None if one is None else one * factor for one in some] for name, some in values.items()
        }
        write_region(folder, toml, ref=["a", "b"], **scaled)
        write_dem(folder / "dem.tif", sloping_dem() * np.float32(factor), nodata=-9999)
        write_dem(folder / "d.tif", (sloping_dem() * 0.05 * factor).astype("float32"), nodata=-9999)
        regions.append(load(folder, worker, toml))
    one, two = regions
    assert two.terrain.values == pytest.approx(one.terrain.values, abs=0.1, nan_ok=True)
    assert two.depth_grid.grid.values == pytest.approx(one.depth_grid.grid.values, abs=0.1, nan_ok=True)
    for a, b in zip(one.bodies, two.bodies, strict=True):
        assert b.surface_elevation_m == pytest.approx(a.surface_elevation_m, abs=0.1)
        assert b.level_change_m == pytest.approx(a.level_change_m, abs=0.1)
    assert one.bodies[0].level_change_m == pytest.approx(-2.5)
    assert two.bodies[0].stated_depth.greatest_m == pytest.approx(14.0)
    assert two.bodies[0].stated_depth.sd_m == pytest.approx(2.0)
    assert one.bodies[1].stated_depth is None


def test_masked_before_resampling(tmp_path, worker):
    heights = sloping_dem()
    heights[60:90, 50:90] = -9999
    write_region(tmp_path)
    write_dem(tmp_path / "dem.tif", heights, nodata=-9999)
    values = load(tmp_path, worker).terrain.values
    assert np.isnan(values).any() and np.nanmin(values) > 0


def test_nodata_declared_in_the_settings(tmp_path, worker):
    heights = sloping_dem()
    heights[:20] = -9999
    write_region(tmp_path)
    write_dem(tmp_path / "dem.tif", heights)
    assert faults_of(tmp_path, worker)[0].severity == "ask"
    assert np.nanmin(load(tmp_path, worker, TOML + "nodata = -9999\n").terrain.values) > 0


def test_heights_near_a_suspect_value_are_heights(tmp_path, worker):
    # In feet, 9999 is a height like its neighbours: only a value that stands alone is suspect.
    write_region(tmp_path)
    write_dem(
        tmp_path / "dem.tif", np.arange(9950, 10050, dtype="int16").repeat(200).reshape(100, 200), nodata=-1
    )
    region = load(tmp_path, worker, TOML.replace('"metre"', '"foot"'))
    assert np.nanmax(region.terrain.values) == pytest.approx(10049 * METRE_PER_FOOT, abs=0.5)


def test_scale_and_offset_are_applied(tmp_path, worker):
    write_region(tmp_path)
    stored = np.full((150, 200), 100, "int16")
    write_dem(tmp_path / "dem.tif", stored, nodata=-32768, scale=(0.1, 5.0))
    region = load(tmp_path, worker)
    assert np.nanmax(region.terrain.values) == pytest.approx(15.0)
    assert any("scale 0.1" in fault.rule for fault in region.cautions)


@pytest.mark.parametrize(
    ("change", "severity", "rule"),
    [
        (('vertical_unit = "metre"\n', ""), "ask", "vertical unit is not declared"),
        (
            ('vertical_datum = "same"', 'vertical_datum = "WGS 84 ellipsoid"'),
            "ask",
            "vertical datum is not the region's",
        ),
        (('vertical_datum = "same"\n', ""), "ask", "vertical datum of the terrain is not declared"),
        (("dem.tif", "water.gpkg"), "refuse", "not a raster"),
        (('"same"', '"same"\ncrs = "EPSG:32726"'), "ask", "region.toml declares WGS 84 / UTM zone 26S"),
    ],
)
def test_what_terrain_must_declare(tmp_path, worker, change, severity, rule):
    write_region(tmp_path)
    write_dem(tmp_path / "dem.tif", sloping_dem(), nodata=-9999)
    head, tail = TOML.split("[terrain]")
    (fault,) = faults_of(tmp_path, worker, head + "[terrain]" + tail.replace(*change))
    assert fault.severity == severity and rule in fault.rule


@pytest.mark.filterwarnings("ignore::rasterio.errors.NotGeoreferencedWarning")
def test_rasters_that_are_no_heights(tmp_path, worker):
    write_region(tmp_path)
    heights = sloping_dem()
    cases = {
        "several or complex bands": {"values": np.stack([heights] * 3).astype("uint8"), "photometric": "RGB"},
        "complex bands": {"values": heights.astype("complex64")},
        "lie outside -500 to 9000": {"values": heights * 100, "nodata": -9999},
        "covers none of the water": {"values": heights, "west": 10.0, "nodata": -9999},
        "carries no coordinate system": {"values": heights, "crs": None, "nodata": -9999},
        "values are in foot": {"values": heights, "unit": "ft", "nodata": -9999},
        "the numbers are not": {"values": heights, "west": 500000.0, "north": 5500000.0, "nodata": -9999},
    }
    for rule, case in cases.items():
        write_dem(tmp_path / "dem.tif", **case)
        (fault,) = faults_of(tmp_path, worker)
        assert fault.blocks and rule in fault.rule
    with rasterio.open(
        tmp_path / "dem.tif", "w", driver="GTiff", height=2, width=2, count=1, dtype="float32"
    ) as bare:
        bare.write(np.ones((1, 2, 2), "float32"))
    (fault,) = faults_of(tmp_path, worker)
    assert "does not say where it lies" in fault.rule


def test_a_giant_raster_is_refused_before_it_is_read(tmp_path, worker):
    write_region(tmp_path)
    profile = {"driver": "GTiff", "height": 1_000_000, "width": 1_000_000, "count": 1, "dtype": "uint8"}
    with rasterio.open(
        tmp_path / "dem.tif", "w", sparse_ok=True, compress="deflate", tiled=True, blockxsize=8192, blockysize=8192,
        crs="EPSG:4326", transform=rasterio.Affine(1e-6, 0, -31, 0, -1e-6, -39), bigtiff="YES", **profile,
    ):  # fmt: skip
        pass
    (fault,) = faults_of(tmp_path, worker)
    assert "1000000 x 1000000" in fault.rule and "cut it down" in fault.cure


def test_south_up_raster_is_turned(tmp_path, worker):
    write_region(tmp_path)
    heights = sloping_dem()
    write_dem(tmp_path / "dem.tif", heights, nodata=-9999)
    expected = load(tmp_path, worker).terrain.values
    with rasterio.open(tmp_path / "dem.tif") as dataset:
        profile, place = dataset.profile, dataset.transform
    profile["transform"] = rasterio.Affine(place.a, 0, place.c, 0, -place.e, place.f + 150 * place.e)
    with rasterio.open(tmp_path / "dem.tif", "w", **profile) as dataset:
        dataset.write(heights[None, ::-1])
    assert load(tmp_path, worker).terrain.values == pytest.approx(expected, nan_ok=True)


def test_depth_sign(tmp_path, worker):
    write_region(tmp_path)
    write_dem(tmp_path / "dem.tif", sloping_dem(), nodata=-9999)
    write_dem(tmp_path / "d.tif", np.full((150, 200), -7.0, "float32"), nodata=-9999)
    (fault,) = faults_of(tmp_path, worker, TOML + DEPTH)
    assert fault.severity == "ask" and fault.field == "depth_raster.positive" and "100 %" in fault.rule
    grid = load(tmp_path, worker, TOML + DEPTH.replace('"down"', '"up"')).depth_grid
    assert np.nanmin(grid.grid.values) == pytest.approx(7.0)
    # S-44 Edition 6 Table 1, order 2: a = 1.0 m, b = 0.023.
    assert (grid.uncertainty_a_m, grid.uncertainty_b) == (1.0, 0.023)


def test_what_a_depth_raster_must_declare(tmp_path, worker):
    write_region(tmp_path)
    write_dem(tmp_path / "dem.tif", sloping_dem(), nodata=-9999)
    write_dem(tmp_path / "d.tif", np.full((150, 200), 7.0, "float32"), nodata=-9999)
    faults = faults_of(tmp_path, worker, TOML + '[depth_raster]\nfile = "d.tif"\n')
    assert {fault.field.split(".")[1] for fault in faults if fault.severity == "ask"} == {
        "vertical_unit",
        "positive",
        "survey_order",
    }


def write_asc(path, corner="corner", step="cellsize 0.05", body="1 2 3\n4 5 -9999\n"):
    path.write_text(
        f"ncols 3\nnrows 2\nxll{corner} -30.1\nyll{corner} -40.1\n{step}\nNODATA_value -9999\n{body}"
    )
    return path


def test_ascii_grid_corner_and_centre(tmp_path):
    grid = read_ascii_grid(write_asc(tmp_path / "a.asc"))
    assert grid.values.tolist() == [[1, 2, 3], [4, 5, -9999]]
    assert (grid.west, grid.north, grid.nodata) == (-30.1, pytest.approx(-40.0), -9999)
    grid = read_ascii_grid(write_asc(tmp_path / "a.asc", "center", "dx 0.05\ndy 0.1"))
    assert (grid.west, grid.north) == (pytest.approx(-30.125), pytest.approx(-39.95))


@pytest.mark.parametrize(
    ("body", "rule"),
    [
        ("1 2 3\n4 5\n", "5 values where 2 rows of 3 make 6"),
        ("1 2 3\n4 5 6 7\n", "7 values"),
        ("1 2 x\n4 5 6", "column 3"),
    ],
)
def test_ascii_grid_counts_and_tokens(tmp_path, body, rule):
    with pytest.raises(Refusal, match=rule):
        read_ascii_grid(write_asc(tmp_path / "a.asc", body=body))


def test_ascii_grid_agrees_with_the_geotiff(tmp_path, worker):
    write_region(tmp_path)
    heights = plain_dem()
    write_dem(tmp_path / "dem.tif", heights, nodata=-9999)
    expected = load(tmp_path, worker).terrain
    head = "ncols 200\nnrows 150\nxllcorner -30.1\nyllcorner -40.1\ncellsize 0.001\nnodata_value -9999\n"
    rows = "\n".join(" ".join(f"{value:.4f}" for value in row) for row in heights)
    (tmp_path / "dem.asc").write_text(head + rows + "\n")
    found = load(tmp_path, worker, TOML.replace("dem.tif", "dem.asc") + 'crs = "EPSG:4326"\n').terrain
    assert found.values == pytest.approx(expected.values, abs=1e-3, nan_ok=True)
    assert found.bounds == pytest.approx(expected.bounds, abs=0.01)


def test_bodies_outside_the_terrain_are_told(tmp_path, worker):
    write_region(tmp_path, shapes=[LAKE, POND])
    write_dem(tmp_path / "dem.tif", plain_dem(columns=110), nodata=-9999)
    faults = faults_of(tmp_path, worker)
    assert [fault.severity for fault in faults] == ["caution", "caution"]
    assert "1 of 2 water bodies" in faults[0].rule and "Legs cannot be cleared there" in faults[1].rule
