"""Shapes as PostGIS writes them, read back; against GEOS's own reader of hexadecimal EWKB."""

import pytest
import shapely

from services.store.geometry import from_hex_ewkb

SHAPES = [
    "POINT (-128 -47)",
    "POINT EMPTY",
    "LINESTRING (0 0, 1 1, 2 0)",
    "POLYGON ((0 0, 4 0, 4 4, 0 0), (2 1, 3 1, 3 2, 2 1))",
    "POLYGON EMPTY",
    "MULTIPOLYGON (((0 0, 1 0, 1 1, 0 0)), ((5 5, 6 5, 6 6, 5 5)))",
    "GEOMETRYCOLLECTION (POINT (1 2), LINESTRING (0 0, 1 1))",
]


@pytest.mark.parametrize("text", SHAPES)
@pytest.mark.parametrize("byte_order", [0, 1])
@pytest.mark.parametrize("srid", [0, 4326])
def test_postgis_text_is_read_as_geos_reads_it(text, byte_order, srid):
    shape = shapely.set_srid(shapely.from_wkt(text), srid)
    written = shapely.to_wkb(shape, hex=True, include_srid=srid != 0, byte_order=byte_order)
    read = from_hex_ewkb(written)
    assert shapely.to_wkb(read) == shapely.to_wkb(shapely.set_srid(shapely.from_wkb(written), 0))
    assert shapely.get_srid(read) == 0


@pytest.mark.parametrize("text", ["zz", "01", "", "0101000020E6100000"])
def test_broken_text_is_refused(text):
    with pytest.raises((ValueError, shapely.GEOSException)):
        from_hex_ewkb(text)
