"""What is looked at in a GeoJSON text before GDAL sees it. Runs in the worker."""

import json
import re
from pathlib import Path
from typing import Any

from geo.ingest.files.refusal import Note, Refusal, caution

MAX_BYTES = 500 * 1024**2
CRS_NAME = re.compile(
    r"(urn:ogc:def:crs:[A-Za-z]+:[0-9.]*:[A-Za-z0-9]+|EPSG:\d{3,6}|OGC:CRS84)", re.IGNORECASE
)
TYPES = (
    "FeatureCollection", "Feature", "Polygon", "MultiPolygon", "Point", "MultiPoint", "LineString", "MultiLineString",
    "GeometryCollection",
)  # fmt: skip


class _DoubledKey(Exception):
    pass


def _unique(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    keys = dict(pairs)
    if len(keys) != len(pairs):
        names = [name for name, _ in pairs]
        raise _DoubledKey(next(name for name in names if names.count(name) > 1))
    return keys


def _parsed(text: str) -> Any:
    try:
        return json.loads(text, object_pairs_hook=_unique)
    except _DoubledKey as error:
        raise Refusal("a key stands twice in one JSON object", "remove one of the two", value=error) from None
    except RecursionError:
        raise Refusal("the JSON is nested too deeply", "export plain features without nesting") from None
    except json.JSONDecodeError as error:
        near = " ".join(text[max(error.pos - 20, 0) : error.pos + 20].split())
        cut = error.pos >= len(text.rstrip()) - 1
        raise Refusal(
            f"the JSON breaks off or is not JSON at line {error.lineno} column {error.colno}: {error.msg}",
            "send the file again, it may have been cut short"
            if cut
            else "mend the text there, or export again",
            value=near,
        ) from None


def _check_crs(crs: Any) -> list[Note]:
    if crs is None:
        return []
    kind = crs.get("type") if isinstance(crs, dict) else None
    properties = crs.get("properties") if isinstance(crs, dict) else None
    name = properties.get("name") if isinstance(properties, dict) else None
    if kind != "name" or not isinstance(name, str) or CRS_NAME.fullmatch(name) is None:
        raise Refusal(
            "the crs member of the GeoJSON points to an address or is not a name; addresses are never called",
            "remove the crs member and write longitude and latitude in WGS 84 (RFC 7946)",
            field="crs",
            value=json.dumps(crs),
        )
    if name.upper().endswith("CRS84"):
        return []
    return [
        caution(
            "the GeoJSON names its coordinate system in the old way; it was used",
            "write longitude and latitude in WGS 84 (RFC 7946)",
            field="crs",
            value=name,
        )
    ]


def check_geojson(path: Path) -> list[Note]:
    """Give the cautions of a GeoJSON file.

    Raises: Refusal for text that is not one JSON object of GeoJSON, a doubled key, a crs that is not a plain name.
    """
    if path.stat().st_size > MAX_BYTES:
        raise Refusal("the file is over 500 MiB", "convert it to GeoPackage", value=path.stat().st_size)
    try:
        text = path.read_text("utf-8-sig")
    except UnicodeDecodeError as error:
        raise Refusal(
            "the text is not UTF-8, as RFC 7946 asks", "export it as UTF-8", value=f"byte {error.start}"
        ) from None
    parsed = _parsed(text)
    kind = parsed.get("type") if isinstance(parsed, dict) else None
    if kind not in TYPES:
        raise Refusal(
            "the JSON is not GeoJSON (its type is not a feature collection, feature or shape)",
            "export the layer as GeoJSON",
            value=kind,
        )
    return _check_crs(parsed.get("crs"))
