"""Wind fields from a GeoTIFF and from the network: two bands, units, holes; expected values are those written."""

import json
import math
from pathlib import Path

import numpy as np
import pytest
import rasterio
from rasterio.transform import Affine

from geo.base.errors import BadInput
from geo.base.geodesy import local_crs, to_degrees
from geo.ingest.layers.wind_field import read_wind_field, wind_field_from_grid
from geo.records.region import Region, RegionFrame

REGION = Region("test", RegionFrame(local_crs(150.0, -36.0).to_wkt(), 150.0, -36.0, "test"), (), "0")
LONGITUDE, LATITUDE = np.linspace(149.5, 150.5, 41), np.linspace(-35.6, -36.4, 33)


def parts():
    """u grows to the east, v to the north: linear in degrees, so that bilinear reading gives them back."""
    x, y = np.meshgrid(LONGITUDE, LATITUDE)
    return 4.0 + 6.0 * (x - 150.0), -3.0 + 5.0 * (y + 36.0)


def write(path, bands, unit=None, crs="EPSG:4326", nodata=-9999.0):
    step = LONGITUDE[1] - LONGITUDE[0]
    place = Affine(step, 0.0, LONGITUDE[0] - step / 2, 0.0, -step, LATITUDE[0] + step / 2)
    shape = {"height": len(LATITUDE), "width": len(LONGITUDE), "count": len(bands)}
    with rasterio.open(
        path, "w", driver="GTiff", dtype="float32", crs=crs, transform=place, nodata=nodata, **shape
    ) as file:
        for number, band in enumerate(bands, start=1):
            file.write(band.astype("float32"), number)
            if unit is not None:
                file.set_band_unit(number, unit)
    return path


def sent(**change):
    u, v = parts()
    body = {"longitude_deg": LONGITUDE.tolist(), "latitude_deg": LATITUDE.tolist()}
    return {**body, "u_ms": u.tolist(), "v_ms": v.tolist(), **change}


def check(field, tolerance):
    east, north = np.random.default_rng(2).uniform(-30000.0, 30000.0, (2, 50))
    longitude, latitude = to_degrees(REGION.frame.crs_wkt, east, north)
    assert field.east.bilinear(east, north) == pytest.approx(4.0 + 6.0 * (longitude - 150.0), abs=tolerance)
    assert field.north.bilinear(east, north) == pytest.approx(-3.0 + 5.0 * (latitude + 36.0), abs=tolerance)


@pytest.mark.parametrize("unit", [None, "m/s", "m s-1"])
def test_a_geotiff_of_u_and_v_is_read_into_the_plane(tmp_path, unit):
    field = read_wind_field(write(tmp_path / "wind.tif", parts(), unit), REGION)
    check(field, 0.02)
    assert field.origin == "wind.tif" and len(field.sha256) == 64
    assert field.greatest_ms <= math.hypot(7.0, 5.0) + 1e-5


def test_a_grid_from_the_network_is_the_same_field():
    body = json.loads(json.dumps(sent()))
    field = wind_field_from_grid(body, REGION)
    check(field, 1e-3)
    turned = sent(
        latitude_deg=LATITUDE[::-1].tolist(), u_ms=parts()[0][::-1].tolist(), v_ms=parts()[1][::-1].tolist()
    )
    check(wind_field_from_grid(turned, REGION), 1e-3)


def test_holes_stay_unknown(tmp_path):
    u, v = parts()
    u[10:14, 20] = -9999.0
    written = read_wind_field(write(tmp_path / "wind.tif", (u, v)), REGION)
    rows = [[None if value < -9000.0 else value for value in row] for row in u.tolist()]
    for field in (written, wind_field_from_grid(sent(u_ms=rows), REGION)):
        longitude, latitude = LONGITUDE[20], LATITUDE[12]
        east = (longitude - 150.0) * 90_000.0
        north = (latitude + 36.0) * 110_900.0
        assert not np.isfinite(field.east.bilinear(east, north))
        assert np.isfinite(field.north.bilinear(25000.0, -25000.0))
        assert not np.isfinite(field.east.bilinear(90_000.0, 0.0))  # beyond the field


def test_what_is_no_wind_field_is_refused(tmp_path):
    u, v = parts()
    wrong = {
        "two plain bands": {"bands": (u,)},
        "is in knots": {"bands": (u, v), "unit": "knots"},
        "above 100 m/s": {"bands": (u * 100.0, v)},
        "no place has both": {"bands": (np.where(u > 4.0, u, -9999.0), np.where(u > 4.0, -9999.0, v))},
    }
    for number, (rule, given) in enumerate(wrong.items()):
        with pytest.raises(BadInput, match=rule) as caught:
            read_wind_field(write(tmp_path / f"w{number}.tif", **given), REGION)
        assert all(fault.cure for fault in caught.value.faults)
    with pytest.raises(BadInput, match="no such file"):
        read_wind_field(Path(tmp_path / "absent.tif"), REGION)
    (tmp_path / "text.tif").write_text("u,v")
    with pytest.raises(BadInput):
        read_wind_field(tmp_path / "text.tif", REGION)


@pytest.mark.parametrize(
    ("body", "rule"),
    [
        ([], "object of four lists"),
        ({"u_ms": []}, "object of four lists"),
        (sent(longitude_deg=[149.0]), "longitude_deg is no list"),
        (sent(longitude_deg=["149", 150.0]), "longitude_deg is no list"),
        (sent(latitude_deg=[math.nan, 1.0]), "latitude_deg is no list"),
        (sent(latitude_deg=[-36.0, 10**400]), "latitude_deg is no list"),
        (sent(latitude_deg=[-36.0, -35.0, -35.5]), "neither rises nor falls"),
        (sent(u_ms=[[1.0]]), "rows of 41"),
        (sent(u_ms=[["1"] * 41] * 33), "no wind of up to"),
        (sent(v_ms=[[True] * 41] * 33), "no wind of up to"),
        (sent(v_ms=[[math.inf] * 41] * 33), "no wind of up to"),
        (sent(v_ms=[[None] * 41] * 33), "no place has both"),
    ],
)
def test_a_broken_grid_from_the_network_is_refused(body, rule):
    with pytest.raises(BadInput, match=rule):
        wind_field_from_grid(body, REGION)
