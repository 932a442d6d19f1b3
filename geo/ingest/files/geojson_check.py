"""What is looked at in a GeoJSON text before GDAL sees it. Runs in the worker."""

import json
import re
from pathlib import Path
from typing import Any

from geo.ingest.files.refusal import Note, Refusal, caution

CRS_NAME = re.compile(
    r"(urn:ogc:def:crs:[A-Za-z]+:[0-9.]*:[A-Za-z0-9]+|EPSG:\d{3,6}|OGC:CRS84)", re.IGNORECASE
)
PLAIN_DEGREES = "write longitude and latitude in WGS 84 (RFC 7946)"
TYPES = (
    "FeatureCollection", "Feature", "Polygon", "MultiPolygon", "Point", "MultiPoint", "LineString", "MultiLineString",
    "GeometryCollection",
)  # fmt: skip


def _unique(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    keys = dict(pairs)
    if len(keys) != len(pairs):
        names = [name for name, _ in pairs]
        doubled = next(name for name in names if names.count(name) > 1)
        raise Refusal("a key stands twice in one JSON object", "remove one of the two", value=doubled)
    return keys


def _parsed(text: str) -> Any:
    try:
        return json.loads(text, object_pairs_hook=_unique)
    except RecursionError:
        raise Refusal("the JSON is nested too deeply", "export plain features without nesting") from None
    except json.JSONDecodeError as error:
        near = " ".join(text[max(error.pos - 20, 0) : error.pos + 20].split())
        fix = "mend the text there, or export again"
        if error.pos >= len(text.rstrip()) - 1:
            fix = "send the file again, it may have been cut short"
        rule = f"the JSON breaks off or is not JSON at line {error.lineno} column {error.colno}: {error.msg}"
        raise Refusal(rule, fix, value=near) from None


def _check_crs(crs: Any) -> list[Note]:
    if crs is None:
        return []
    name: str | None = None
    match crs:
        case {"type": "name", "properties": {"name": str(name)}}:
            pass
    if name is None or CRS_NAME.fullmatch(name) is None:
        rule = "the crs member of the GeoJSON is no name, or points to an address; addresses are never called"
        fix = f"remove the crs member and {PLAIN_DEGREES}"
        raise Refusal(rule, fix, field="crs", value=json.dumps(crs))
    if name.upper().endswith("CRS84"):
        return []
    rule = "the GeoJSON names its coordinate system in the old way; it was used"
    return [caution(rule, PLAIN_DEGREES, field="crs", value=name)]


def check_geojson(path: Path) -> list[Note]:
    """Give the cautions of a GeoJSON file.

    Raises: Refusal for text that is not one JSON object of GeoJSON, a doubled key, a crs that is not a plain name.
    """
    try:
        text = path.read_text("utf-8-sig")
    except UnicodeDecodeError as error:
        rule = "the text is not UTF-8, as RFC 7946 asks"
        raise Refusal(rule, "export it as UTF-8", value=f"byte {error.start}") from None
    parsed = _parsed(text)
    kind = parsed.get("type") if isinstance(parsed, dict) else None
    if kind not in TYPES:
        rule = "the JSON is not GeoJSON (its type is not a feature collection, feature or shape)"
        raise Refusal(rule, "export the layer as GeoJSON", value=kind)
    return _check_crs(parsed.get("crs"))
