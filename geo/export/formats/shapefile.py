"""Zipped Shapefiles, and the list of what that format's limits cut."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import geopandas
import pandas as pd

from geo.base.file_limits import CUT_MARK, TEXT_BYTES, short_names
from geo.base.whole_file import private_folder, put_in_place, whole_file
from geo.export.formats.gdal_layer import write_layer
from geo.export.formats.zip_archive import write_archive

PARTS = (".shp", ".shx", ".dbf", ".prj", ".cpg")


@dataclass(frozen=True)
class Cut:
    """What the format did to one layer: renamed, (name, short name); shortened, (row, column, bytes it had)."""

    layer: str
    renamed: tuple[tuple[str, str], ...]
    shortened: tuple[tuple[int, str, int], ...]
    placeless: int


def write_shapefile(path: Path, name: str, frame: geopandas.GeoDataFrame) -> Cut:
    """Write one layer (EPSG:4326) as a zipped Shapefile and give what was cut; text that was cut ends in "...".

    Raises: OSError or pyogrio's error when the disk refuses; the old file is then untouched.
    """
    columns = [column for column in frame.columns if column != frame.geometry.name]
    names = short_names(columns)
    fitted, shortened = _fitted(frame, columns)
    with whole_file(path) as private:
        inside = private.parent / f"{name}.shp"
        write_layer(inside, name, fitted.rename(columns=names), "ESRI Shapefile", encoding="UTF-8")
        write_archive(private, [private.parent / f"{name}{ending}" for ending in PARTS])
    renamed = tuple((ours, short) for ours, short in names.items() if ours != short)
    return Cut(name, renamed, tuple(shortened), int(frame.geometry.isna().sum()))


def _fitted(
    frame: geopandas.GeoDataFrame, columns: Sequence[str]
) -> tuple[geopandas.GeoDataFrame, list[tuple[int, str, int]]]:
    fitted, shortened = frame.copy(), []
    for column in columns:
        if pd.api.types.is_numeric_dtype(frame[column].dtype):
            continue
        cells = []
        for row, cell in enumerate(frame[column], 1):
            size = len(cell.encode()) if isinstance(cell, str) else 0
            if size > TEXT_BYTES:
                shortened.append((row, column, size))
                cells.append(cell.encode()[: TEXT_BYTES - len(CUT_MARK)].decode(errors="ignore") + CUT_MARK)
            else:
                cells.append(cell)
        fitted[column] = pd.Series(cells, index=frame.index, dtype=object)
    return fitted, shortened


def limits_text(cuts: Sequence[Cut]) -> str:
    """Give what was cut as a text: a summary, then after an empty line every name and cell."""
    summary = [
        f"Shapefile, layer {cut.layer}: {len(cut.renamed)} column names shortened, {len(cut.shortened)} texts cut at "
        f"{TEXT_BYTES} bytes, {cut.placeless} rows without a place; empty text and unknown look the same"
        for cut in cuts
    ]
    rows = []
    for cut in cuts:
        rows += [f"{cut.layer}: column {ours} is {short}" for ours, short in cut.renamed]
        rows += [
            f"{cut.layer}: row {row}, {column}: {size} bytes cut to {TEXT_BYTES}, ends in {CUT_MARK}"
            for row, column, size in cut.shortened
        ]
    whole = "The other formats (GeoPackage, GeoJSON, FlatGeobuf, GeoParquet) keep everything."
    return "\n".join([*summary, whole, "", *rows]) + "\n"


def write_shapefiles(
    folder: Path, layers: Sequence[tuple[str, geopandas.GeoDataFrame]], report: str
) -> list[Path]:
    """Write layers as zipped Shapefiles, NAME.shp.zip each, with the list of what was cut under the name `report`.

    Raises: as `write_shapefile`; then no file of the folder has changed.
    """
    with private_folder(folder) as private:
        cuts = [write_shapefile(private / f"{name}.shp.zip", name, frame) for name, frame in layers]
        (private / report).write_text(limits_text(cuts), encoding="utf-8")
        made = [f"{cut.layer}.shp.zip" for cut in cuts] + [report]
        return [put_in_place(private / one, folder / one) for one in made]
