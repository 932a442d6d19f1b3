"""What a file really is, by its first bytes; runs in the worker. Nothing else may reach GDAL."""

import re
from pathlib import Path

from geo.ingest.files.refusal import Refusal

HEAD_BYTES = 4096
CHUNK_BYTES = 1 << 20
NO_ENTITIES = "entities are not allowed (the file declares a document type or entities of its own)"
PLAIN_XML = "export plain KML or GPX without <!DOCTYPE> and <!ENTITY>"
TIFF_MAGIC = (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+")
EXTENSIONS = {
    "GeoPackage": (".gpkg",),
    "FlatGeobuf": (".fgb",),
    "Shapefile": (".shp",),
    "zip": (".zip",),
    "GeoJSON": (".geojson", ".json"),
    "KML": (".kml",),
    "KMZ": (".kmz",),
    "GPX": (".gpx",),
    "GeoTIFF": (".tif", ".tiff"),
}
VECTOR_KINDS = ("GeoPackage", "GeoJSON", "Shapefile", "zip", "FlatGeobuf", "KML", "KMZ", "GPX")
VECTOR_WORDS = "GeoPackage, GeoJSON, Shapefile, zipped Shapefile, FlatGeobuf, KML, KMZ or GPX"


def _text_kind(head: bytes) -> str | None:
    text = head.decode("utf-8-sig", "replace").lstrip().lower()
    if text.startswith("version https://git-lfs"):
        raise Refusal(
            "the file is a git-lfs pointer, not the data",
            "fetch the data with `git lfs pull`, then try again",
        )
    if text.startswith(("<!doctype html", "<html")):
        raise Refusal(
            "the file is a web page, not data", "download the data file itself, not the page around it"
        )
    if text.startswith(("<vrt", "<ogrvrt", "<gdal_", "<wms", "<wcs", "<wfs", "<ogcapi")):
        raise Refusal(
            "the file refers to other files or services instead of holding data",
            "export the real data to GeoPackage or GeoTIFF",
        )
    if text.startswith("<") and ("<!entity" in text or "<!doctype" in text):
        raise Refusal(NO_ENTITIES, PLAIN_XML)
    if text.startswith("<") and re.search(r"<([\w.-]+:)?(kml|gpx)\b", text):
        return "KML" if re.search(r"<([\w.-]+:)?kml\b", text) else "GPX"
    if text.startswith("{"):
        return "GeoJSON"
    if text.startswith("ncols"):
        return "ASCII grid"
    return None


def file_kind(path: Path) -> str:
    """Give the kind of a file: GeoPackage, FlatGeobuf, Shapefile, zip, GeoJSON, KML, GPX, GeoTIFF, ASCII grid or text.

    Raises: Refusal for an empty file, a web page, a git-lfs pointer, a file that only refers to others, and bytes
    of no accepted kind.
    """
    with path.open("rb") as stream:
        head = stream.read(HEAD_BYTES)
    if not head:
        raise Refusal("the file is empty (0 bytes)", "export or upload it again")
    if head.startswith(b"SQLite format 3\0"):
        return "GeoPackage"
    if head.startswith(b"fgb\x03fgb"):
        return "FlatGeobuf"
    if head.startswith(b"\x00\x00\x27\x0a"):
        return "Shapefile"
    if head.startswith((b"PK\x03\x04", b"PK\x05\x06")):
        return "zip"
    if head.startswith(b"PAR1"):
        raise Refusal(
            "the file is GeoParquet, which is written here but not read",
            "export it as GeoPackage or FlatGeobuf",
        )
    if head.startswith(TIFF_MAGIC):
        return "GeoTIFF"
    kind = _text_kind(head)
    if kind is not None:
        return kind
    if b"\0" in head and not head.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise Refusal(
            "the file is of no accepted format",
            f"use {VECTOR_WORDS}, GeoTIFF, ASCII grid or CSV",
            value=head[:8].hex(),
        )
    return "text"


def holds_word(path: Path, *words: bytes) -> bool:
    """Look through the whole of a file for one of some words in capitals, in whatever case it writes them."""
    tail = b""
    with path.open("rb") as stream:
        while chunk := stream.read(CHUNK_BYTES):
            if any(word in (tail + chunk).upper() for word in words):
                return True
            tail = chunk[-max(map(len, words)) :]
    return False


def refuse_entities(path: Path) -> None:
    """Look through the whole of an XML file for a document type or entities.

    Raises: Refusal where there are any: they can point to other files, or swell to fill the memory.
    """
    if holds_word(path, b"<!ENTITY", b"<!DOCTYPE"):
        raise Refusal(NO_ENTITIES, PLAIN_XML)


def other_name(path: Path, kind: str) -> str | None:
    """Give a sentence when the file's ending belongs to another format, else None."""
    expected = EXTENSIONS.get(kind)
    if expected is None or path.suffix.lower() in expected:
        return None
    return f"the file is named {path.suffix or 'without ending'} but is {kind}; it was read as {kind}"
