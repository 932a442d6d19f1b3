"""What a file really is, by its first bytes; runs in the worker. Nothing else may reach GDAL."""

import re
from pathlib import Path

from geo.ingest.files.refusal import Note, Refusal, caution

HEAD_BYTES = 4096
CHUNK_BYTES = 1 << 20
NO_ENTITIES = "entities are not allowed (the file declares a document type or entities of its own)"
PLAIN_XML = "export plain KML or GPX without <!DOCTYPE> and <!ENTITY>"
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


# How files begin that hold no data -> what they are, and what to do.
NO_DATA = {
    ("version https://git-lfs",): (
        "the file is a git-lfs pointer, not the data",
        "fetch the data with `git lfs pull`, then try again",
    ),
    ("<!doctype html", "<html"): (
        "the file is a web page, not data",
        "download the data file itself, not the page around it",
    ),
    ("<vrt", "<ogrvrt", "<gdal_", "<wms", "<wcs", "<wfs", "<ogcapi"): (
        "the file refers to other files or services instead of holding data",
        "export the real data to GeoPackage or GeoTIFF",
    ),
}
# How binary files begin.
MAGIC: dict[tuple[bytes, ...], str] = {
    (b"SQLite format 3\0",): "GeoPackage",
    (b"fgb\x03fgb",): "FlatGeobuf",
    (b"\x00\x00\x27\x0a",): "Shapefile",
    (b"PK\x03\x04", b"PK\x05\x06"): "zip",
    (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"): "GeoTIFF",
}
MIB = 1024**2
MOST_MIB = {"text": 200, "GeoJSON": 500, "GPX": 50}  # of other kinds 2048


def _text_kind(head: bytes) -> str | None:
    text = head.decode("utf-8-sig", "replace").lstrip().lower()
    for beginnings, words in NO_DATA.items():
        if text.startswith(beginnings):
            raise Refusal(*words)
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
    if head.startswith(b"PAR1"):
        rule = "the file is GeoParquet, which is written here but not read"
        raise Refusal(rule, "export it as GeoPackage or FlatGeobuf")
    kind = next((name for magic, name in MAGIC.items() if head.startswith(magic)), None) or _text_kind(head)
    if kind is not None:
        return kind
    if b"\0" in head and not head.startswith((b"\xff\xfe", b"\xfe\xff")):
        fix = f"use {VECTOR_WORDS}, GeoTIFF, ASCII grid or CSV"
        raise Refusal("the file is of no accepted format", fix, value=head[:8].hex())
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


def refuse_large(path: Path, kind: str) -> None:
    """Hold a file's size against the limit of its kind. Raises: Refusal."""
    most, size = MOST_MIB.get(kind, 2048), path.stat().st_size
    if size > most * MIB:
        raise Refusal(f"the file is over {most} MiB", "cut it down to the region", value=size)


def other_name(path: Path, kind: str) -> list[Note]:
    """Give a caution when the file's ending belongs to another format, else nothing."""
    if path.suffix.lower() in EXTENSIONS.get(kind, (path.suffix.lower(),)):
        return []
    rule = f"the file is named {path.suffix or 'without ending'} but is {kind}; it was read as {kind}"
    return [caution(rule, "name it by what it is")]
