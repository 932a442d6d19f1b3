"""Rows of a layer as GeoJSON (RFC 7946), many at once."""

import json
from datetime import UTC, datetime
from typing import Any

import numpy as np
import shapely
import sqlalchemy as sa
from pydantic_core import to_json

from services.ogc.crs import Crs, turned
from services.ogc.layer import FeatureLayer
from services.ogc.links import Link

# About a centimetre in degrees, a millimetre in metres.
DEGREE_DECIMALS = 7
METRE_DECIMALS = 3


def identifier(layer: FeatureLayer, row: sa.Row) -> str:
    """Give a feature's id."""
    return ".".join(str(part) for part in row[: len(layer.key)])


def properties(layer: FeatureLayer, row: sa.Row) -> dict[str, Any]:
    """Give a feature's attributes by name; empty is None."""
    return dict(zip(layer.names, row[len(layer.key) + 1 :], strict=True))


def features(layer: FeatureLayer, rows: list[sa.Row], crs: Crs) -> list[str]:
    """Give the Feature objects of rows as JSON texts without their closing brace, so that links can follow.

    Raises: BadQuery for a shape that has no place in the system asked for.
    """
    # Outer rings counter-clockwise (RFC 7946, 3.1.6), whatever way the shape is kept.
    shapes = shapely.orient_polygons(np.array([row[len(layer.key)] for row in rows], dtype=object))
    decimals = DEGREE_DECIMALS if crs.code in (None, 4326) else METRE_DECIMALS
    rounded = shapely.transform(turned(shapes, crs), lambda c: np.round(c, decimals))
    return [
        f'{{"type":"Feature","id":{json.dumps(identifier(layer, row))},"geometry":{geometry},'
        f'"properties":{to_json(properties(layer, row)).decode()}'
        for row, geometry in zip(rows, shapely.to_geojson(rounded), strict=True)
    ]


def collection(layer: FeatureLayer, rows: list[sa.Row], crs: Crs, matched: int, links: list[Link]) -> str:
    """Give a page as a FeatureCollection with its links and counts (Core 7.16)."""
    stamp = datetime.now(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")
    body = ",".join(f"{one}}}" for one in features(layer, rows, crs))
    return (
        f'{{"type":"FeatureCollection","timeStamp":"{stamp}","numberMatched":{matched},'
        f'"numberReturned":{len(rows)},"links":{json.dumps(links)},"features":[{body}]}}'
    )


def feature(layer: FeatureLayer, row: sa.Row, crs: Crs, links: list[Link]) -> str:
    """Give one Feature with its links."""
    return f'{features(layer, [row], crs)[0]},"links":{json.dumps(links)}}}'
