"""What files can be asked for: the formats of an export and the paper of a sheet."""

from typing import Literal

from geo.base.errors import BadArgument

SHAPEFILE_LIMITS = "shapefile_limits.txt"
FORMATS = ("gpkg", "geojson", "fgb", "parquet", "shp", "kml", "kmz", "gpx", "csv", "png")
# What is written where nobody chose: one file of each kind of reader.
USUAL_FORMATS = ("gpkg", "geojson", "kml", "gpx", "csv", "png")
Paper = Literal["A4", "Letter"]
PAPERS: tuple[Paper, ...] = ("A4", "Letter")


def formats_of(text: str | None) -> tuple[str, ...]:
    """Give the formats named in "gpkg,csv", the usual ones for None.

    Raises: BadArgument for a word that is no format here.
    """
    if text is None:
        return USUAL_FORMATS
    words = tuple(word.strip().lower() for word in text.split(",") if word.strip())
    unknown = [word for word in words if word not in FORMATS]
    if unknown or not words:
        raise BadArgument(
            f"formats {text!r}: {', '.join(unknown) or 'none'} not known. Fix: choose from {', '.join(FORMATS)}"
        )
    return words
