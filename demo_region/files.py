"""The region's files: each in the format and the words that its keeper would use."""

import json
from pathlib import Path
from xml.sax.saxutils import escape

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import pyproj
import rasterio
import shapely
import terrain
import waters
from affine import Affine

CRS = "EPSG:32709"
FOOT_M = 0.3048
# Stamped into the GeoPackage instead of the hour of the run, so that two runs give the same bytes.
pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": "2026-11-01T00:00:00.000Z"})
_to_degrees = pyproj.Transformer.from_crs(CRS, "EPSG:4326", always_xy=True)


def shifted(geometry: np.ndarray) -> np.ndarray:
    """Move local coordinates to the CRS of the files, rounded to centimetres."""
    return shapely.transform(geometry, lambda xy: np.round(np.add(xy, [terrain.WEST_M, terrain.SOUTH_M]), 2))


def degrees(easting_m: np.ndarray, northing_m: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Give longitude and latitude [deg, 6 decimals] of local coordinates."""
    longitude, latitude = _to_degrees.transform(
        np.asarray(easting_m) + terrain.WEST_M, np.asarray(northing_m) + terrain.SOUTH_M
    )
    return np.round(longitude, 6), np.round(latitude, 6)


def _number(value: float | None) -> float:
    return np.nan if value is None else value


def _feet(metres: float | None) -> float:
    return np.nan if metres is None else round(metres / FOOT_M, 2)


def _register_row(water: waters.Water) -> dict[str, object]:
    return {
        "REF": water.ref,
        "WATER_NAME": water.name,
        "SORT": water.sort,
        "TWL_NOW_FT": _feet(water.level_now_m),
        "TWL_CHART_FT": _feet(water.level_m),
        "MAX_DEPTH_FT": _feet(water.stated_m),
        "MAX_DEPTH_SD_FT": _feet(water.stated_sd_m),
        "DEPTH_SEEN": None if water.stated_on is None else water.stated_on.isoformat(),
        "SALT": water.salt,
        "COND_MS_CM": _number(water.conductivity_ms_cm),
        "COND_TEMP_C": _number(water.conductivity_c),
        "SALT_SEEN": None if water.salt_on is None else water.salt_on.isoformat(),
        "VOLUME_M3": _number(water.volume_m3),
        "CONSENT": water.consent,
        "KEEPER": water.keeper,
        "REMARKS": water.remarks,
    }


def write_waters(path: Path, bodies: tuple[waters.Water, ...]) -> None:
    """Write the water register: a GeoPackage in UTM, heights and depths in feet."""
    outlines = shifted(np.array([water.polygon for water in bodies]))
    table = gpd.GeoDataFrame([_register_row(water) for water in bodies], geometry=outlines, crs=CRS)
    path.unlink(missing_ok=True)
    pyogrio.write_dataframe(table, path, layer="register", driver="GPKG", dataset_options={"VERSION": "1.3"})


def write_raster(
    path: Path, values: np.ndarray, west_m: float, north_m: float, cell_m: float, nodata: float | None
) -> None:
    """Write a local raster as a deflated float32 GeoTIFF in UTM."""
    path.unlink(missing_ok=True)
    to_plane = Affine(cell_m, 0, terrain.WEST_M + west_m, 0, -cell_m, terrain.SOUTH_M + north_m)
    with rasterio.open(
        path, "w", driver="GTiff", height=values.shape[0], width=values.shape[1], count=1, dtype="float32", crs=CRS,
        transform=to_plane, nodata=nodata, compress="deflate", predictor=3, zlevel=9, tiled=True,
        blockxsize=256, blockysize=256,
    ) as target:  # fmt: skip
        target.write(values.astype(np.float32), 1)


def write_geojson(path: Path, table: gpd.GeoDataFrame) -> None:
    """Write a layer as GeoJSON (RFC 7946): WGS 84, six decimals, outer rings anticlockwise."""
    outlines = shapely.transform(
        table.geometry.to_numpy(), lambda xy: np.column_stack(degrees(xy[:, 0], xy[:, 1]))
    )
    features = [
        {
            "type": "Feature",
            "properties": {k: None if pd.isna(v) else v for k, v in row.items() if k != "geometry"},
            "geometry": json.loads(shapely.to_geojson(shapely.orient_polygons(outline))),
        }
        for row, outline in zip(table.to_dict("records"), outlines, strict=True)
    ]
    lines = ",\n".join(json.dumps(feature) for feature in features)
    path.write_text(f'{{"type": "FeatureCollection", "features": [\n{lines}\n]}}\n', encoding="utf-8")


def write_flatgeobuf(path: Path, table: gpd.GeoDataFrame) -> None:
    """Write points and lines of one layer as FlatGeobuf in UTM."""
    table = table.set_geometry(shifted(table.geometry.to_numpy()), crs=CRS)
    path.unlink(missing_ok=True)
    pyogrio.write_dataframe(table, path, driver="FlatGeobuf", geometry_type="Unknown")


def write_csv(path: Path, table: pd.DataFrame) -> None:
    """Write a table of points with decimal degrees in the first two columns."""
    longitude, latitude = degrees(table["easting"], table["northing"])
    rest = table.drop(columns=["easting", "northing"])
    rest.insert(0, "lon", [f"{value:.6f}" for value in longitude])
    rest.insert(1, "lat", [f"{value:.6f}" for value in latitude])
    rest.to_csv(path, index=False, lineterminator="\n")


def write_kml(path: Path, table: pd.DataFrame) -> None:
    """Write a table of points as KML 2.2, as crews keep their notes; every column becomes a field of the schema."""
    names = [name for name in table.columns if name not in ("easting", "northing")]
    longitude, latitude = degrees(table["easting"], table["northing"])
    fields = "".join(f'<SimpleField type="string" name="{name}"/>' for name in names)
    marks = []
    for row, east, north in zip(table.to_dict("records"), longitude, latitude, strict=True):
        data = "".join(f'<SimpleData name="{name}">{escape(row[name])}</SimpleData>' for name in names)
        marks.append(
            f"<Placemark><name>{escape(row['place'])}</name>\n"
            f'<ExtendedData><SchemaData schemaUrl="#notes">{data}</SchemaData></ExtendedData>\n'
            f"<Point><coordinates>{east:.6f},{north:.6f}</coordinates></Point></Placemark>\n"
        )
    head = '<?xml version="1.0" encoding="UTF-8"?>\n<kml xmlns="http://www.opengis.net/kml/2.2">'
    document = f'<Document id="crew_notes"><name>crew_notes</name>\n<Schema name="notes" id="notes">{fields}</Schema>'
    path.write_text(f"{head}{document}\n{''.join(marks)}</Document></kml>\n", encoding="utf-8")
