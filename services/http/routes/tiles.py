"""Vector tiles of the layers for a map: Web Mercator, MVT 2.1, thinned for each zoom, kept as long as the data hold.

A shape too small for its zoom is drawn as a speck and not left out: a farm dam may be the source. Where a tile would
hold more than MOST_SHAPES, the largest waters stay; the answer's header says that others are left out. A
line shorter than the grid's unit vanishes.
"""

import math
from dataclasses import dataclass
from datetime import date, datetime
from typing import Annotated, Any

import numpy as np
import pyproj
import shapely
from fastapi import APIRouter, Path, Request
from starlette.responses import Response

from services.errors import NoSuchThing
from services.ogc import selection
from services.ogc.crs import Box
from services.ogc.geojson import identifier, properties
from services.ogc.layer import Layer
from services.ogc.source import FeatureSource, Kept
from services.store.engine import reading

router = APIRouter(prefix="/tiles", tags=["tiles"])
MVT = "application/vnd.mapbox-vector-tile"
MOST_ZOOM = 20
MOST_SHAPES = 2_000
EXTENT = 4096
# Shapes are drawn so far beyond a tile's edge [units of EXTENT], so that outlines do not show it.
BUFFER = 80
# Half of the Earth's circumference on the sphere of EPSG:3857 [m].
HALF_M = math.pi * 6_378_137.0
_SPECK = 8.0
# Short ones only: a tile is for drawing and for choosing; the feature itself says everything.
_SHOWN = frozenset(
    {
        *("area_m2", "body_id", "clear_radius_m", "closure_id", "depth_95_m", "effect", "heading_true_deg"),
        *("hover_depth_95_m", "kind", "length_m", "longest_run_m", "method", "name", "reason", "revision"),
        *("run_depth_95_m", "salinity_class", "search", "status", "valid_from", "valid_to"),
    }
)


@dataclass(frozen=True)
class Tile:
    """One tile of the Web Mercator pyramid: x from the west, y from the north."""

    z: int
    x: int
    y: int

    @property
    def edges_m(self) -> Box:
        """West, south, east, north in EPSG:3857 [m]."""
        side_m = 2.0 * HALF_M / 2**self.z
        west_m, north_m = -HALF_M + self.x * side_m, HALF_M - self.y * side_m
        return west_m, north_m - side_m, west_m + side_m, north_m

    @property
    def unit_m(self) -> float:
        """One unit of the tile's grid [m in EPSG:3857]."""
        return 2.0 * HALF_M / 2**self.z / EXTENT

    @property
    def wide_m(self) -> Box:
        """The edges with the buffer round them."""
        west_m, south_m, east_m, north_m = self.edges_m
        more_m = BUFFER * self.unit_m
        return west_m - more_m, south_m - more_m, east_m + more_m, north_m + more_m


_TO_METRES = pyproj.Transformer.from_crs("OGC:CRS84", 3857, always_xy=True)


def box_deg(tile: Tile) -> Box:
    """Give the wide box of a tile in longitude and latitude [deg], cut at 180 degrees."""
    west_m, south_m, east_m, north_m = tile.wide_m
    west, south = _TO_METRES.transform(west_m, south_m, direction="INVERSE")
    east, north = _TO_METRES.transform(east_m, north_m, direction="INVERSE")
    # Beyond 180 degrees the inverse begins again on the other side.
    return (-180.0 if west_m < -HALF_M else west), south, (180.0 if east_m > HALF_M else east), north


def drawn(shapes: np.ndarray, tile: Tile) -> np.ndarray:
    """Give shapes of longitude, latitude [deg] on a tile's grid, y down, thinned and cut; empty where none is left."""
    west_m, _, _, north_m = tile.edges_m

    def on_grid(coordinates: np.ndarray) -> np.ndarray:
        x_m, y_m = _TO_METRES.transform(coordinates[:, 0], coordinates[:, 1])
        return np.column_stack([x_m - west_m, north_m - y_m]) / tile.unit_m

    plane = shapely.transform(shapes, on_grid)
    thin = shapely.simplify(plane, 2.0)
    small = (shapely.get_dimensions(plane) == 2) & (shapely.area(plane) < _SPECK**2)
    thin[small] = shapely.buffer(shapely.point_on_surface(plane[small]), _SPECK / 2, cap_style="square")
    cut = shapely.clip_by_rect(thin, -BUFFER, -BUFFER, EXTENT + BUFFER, EXTENT + BUFFER)
    return shapely.transform(cut, np.rint)


def encoded(layer: Layer, rows: list[Any], tile: Tile) -> bytes:
    """Give the tile of some rows; no bytes where nothing is in it."""
    import mapbox_vector_tile

    shapes = np.array([row[len(layer.key)] for row in rows], dtype=object)
    features = [
        {"geometry": shape, "properties": {"id": identifier(layer, row)} | _attributes(layer, row)}
        for shape, row in zip(drawn(shapes, tile), rows, strict=True)
        if not shape.is_empty
    ]
    if not features:
        return b""
    options = {"extents": EXTENT, "y_coord_down": True}
    return mapbox_vector_tile.encode(
        [{"name": layer.layer_id, "features": features}], default_options=options
    )


def _attributes(layer: Layer, row: Any) -> dict[str, Any]:
    # A tile knows no empty value: what is unknown is left out.
    return {
        name: str(value) if isinstance(value, date | datetime) else value
        for name, value in properties(layer, row).items()
        if name in _SHOWN and value is not None
    }


@dataclass(frozen=True)
class Drawn:
    """An encoded tile, and whether shapes were left out of it."""

    content: bytes
    cut: bool


class TileSource:
    """Tiles of a region's layers, kept in memory as long as the data version holds."""

    def __init__(self, features: FeatureSource) -> None:
        self.features = features
        self._kept: Kept[Drawn] = Kept(most=256)

    def tile(self, layer: Layer, tile: Tile, version: str) -> Drawn:
        """Give one tile of a layer."""
        return self._kept.get((version, layer.layer_id, tile), lambda: self._make(layer, tile))

    def _make(self, layer: Layer, tile: Tile) -> Drawn:
        size = layer.property_named("area_m2")
        order = layer.table.c.fid if size is None else size.column.desc().nulls_last()
        with reading(self.features.engine) as connection:
            rows = selection.page(connection, layer, (box_deg(tile),), [], MOST_SHAPES + 1, 0, order)
        return Drawn(encoded(layer, rows[:MOST_SHAPES], tile), len(rows) > MOST_SHAPES)


@router.get("")
def tile_sets(request: Request) -> dict[str, Any]:
    """The layers that come as tiles, with the address to fill in and the attributes that their shapes carry."""
    source: TileSource = request.app.state.tiles
    base = str(request.base_url).rstrip("/")
    return {
        "data_version": source.features.data_version(),
        "tiles": [
            {
                "layer": layer.layer_id,
                "title": layer.title,
                "address": f"{base}/tiles/{layer.layer_id}/{{z}}/{{x}}/{{y}}.mvt",
                "most_zoom": MOST_ZOOM,
                "attributes": ["id", *(name for name in layer.names if name in _SHOWN)],
            }
            for layer in source.features.layers
        ],
    }


@router.get(
    "/{layer_id}/{z}/{x}/{y}.mvt",
    responses={
        200: {"content": {MVT: {}}},
        204: {"description": "nothing is there"},
        304: {"description": "as before"},
    },
    response_class=Response,
)
def tile(
    request: Request,
    layer_id: str,
    z: Annotated[int, Path(ge=0, le=MOST_ZOOM)],
    x: Annotated[int, Path(ge=0, lt=2**MOST_ZOOM)],
    y: Annotated[int, Path(ge=0, lt=2**MOST_ZOOM)],
) -> Response:
    """One vector tile (MVT 2.1, Web Mercator); 204 where nothing is in it."""
    source: TileSource = request.app.state.tiles
    layer = source.features.layer(layer_id)
    if max(x, y) >= 2**z:
        raise NoSuchThing(f"zoom {z} has no tile {x}/{y}. Fix: 0 to {2**z - 1}")
    version = source.features.data_version()
    state = f'"{version}"'
    headers = {"ETag": state, "Cache-Control": "no-cache"}
    if request.headers.get("if-none-match") == state:
        return Response(None, 304, headers)
    made = source.tile(layer, Tile(z, x, y), version)
    if made.cut:
        headers["X-Left-Out"] = f"more than {MOST_SHAPES} shapes"
    return Response(
        made.content or None, 200 if made.content else 204, headers, MVT if made.content else None
    )
