"""What maps are made of: relief, shapes with hatches, arrows, a scale bar, labels that keep clear of each other."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.colors import LightSource
from matplotlib.lines import Line2D
from matplotlib.patches import PathPatch, Rectangle
from matplotlib.path import Path as Outline
from matplotlib.patheffects import AbstractPathEffect, withStroke
from matplotlib.text import Text

from geo.base.grid import Grid
from geo.export.drawing.canvas import INK, axes_pixels, canvas_of, put_text
from geo.records.survey import HoverPoint

Bounds = tuple[float, float, float, float]
Pattern = str | tuple[float, tuple[float, ...]]  # of a line: a name, or an offset with dashes and gaps [pt]
HALO: list[AbstractPathEffect] = [withStroke(linewidth=3.0, foreground="white")]
SHADES = 28  # steps of the relief
DARK_GROUND, LIGHT_GROUND = np.array([0.60, 0.58, 0.53]), np.array([0.975, 0.97, 0.95])


def fit_bounds(bounds: Bounds, axes: Axes, margin: float = 0.08, least_m: float = 500.0) -> Bounds:
    """Grow west, south, east, north [m] by a margin to the shape of the axes; set them as the map's limits."""
    west, south, east, north = bounds
    width, height = axes_pixels(axes)
    half_east = max((east - west) * (0.5 + margin), least_m / 2)
    half_north = max((north - south) * (0.5 + margin), least_m / 2)
    half_east = max(half_east, half_north * width / height)
    half_north = half_east * height / width
    centre_east, centre_north = (west + east) / 2, (south + north) / 2
    west, east = centre_east - half_east, centre_east + half_east
    south, north = centre_north - half_north, centre_north + half_north
    axes.set(xlim=(west, east), ylim=(south, north))
    return west, south, east, north


def draw_relief(axes: Axes, terrain: Grid, bounds: Bounds) -> None:
    """Draw shaded relief, light from the north-west; unknown terrain stays plain."""
    width, height = (round(pixels) for pixels in axes_pixels(axes))
    part = _window(terrain, bounds, width)
    if part is None:
        return
    west, south, east, north = bounds
    columns, rows = np.meshgrid(
        west + (np.arange(width) + 0.5) * (east - west) / width,
        north - (np.arange(height) + 0.5) * (north - south) / height,
    )
    # Interpolated first, then stepped: few greys make a small file.
    level = np.round(relief_lightness(part).bilinear(columns, rows) * SHADES) / SHADES
    known = np.isfinite(level)
    level = np.where(known, level, 0.0)[..., None]
    image = np.concatenate([DARK_GROUND + level * (LIGHT_GROUND - DARK_GROUND), known[..., None]], axis=2)
    axes.imshow(image, extent=(west, east, south, north), interpolation="nearest", zorder=0)


def relief_lightness(part: Grid) -> Grid:
    """Give lightness from 0 (dark) to 1 by slope against the light, high ground a little darker; NaN stays NaN."""
    known = np.isfinite(part.values)
    filled = np.where(known, part.values, np.nanmedian(part.values)).astype(float)
    span = max(float(np.ptp(filled)), 1.0)
    exaggeration = np.clip(0.12 * (part.bounds[2] - part.bounds[0]) / span, 0.5, 6.0)
    shade = LightSource(azdeg=315, altdeg=45).hillshade(
        filled, vert_exag=exaggeration, dx=part.cell_east_m, dy=part.cell_north_m
    )
    lightness = np.clip(0.12 + 0.88 * shade - 0.22 * (filled - filled.min()) / span, 0.0, 1.0)
    return replace(part, values=np.where(known, lightness, np.nan))


def _window(terrain: Grid, bounds: Bounds, pixels: float) -> Grid | None:
    """Give the part of the terrain in view, thinned to no more cells than pixels."""
    rows, columns, _ = terrain.cell_of(np.array(bounds[::2]), np.array(bounds[1::2])[::-1])
    values = terrain.values[rows[0] : rows[1] + 1, columns[0] : columns[1] + 1]
    if min(values.shape) < 3 or not np.isfinite(values).any():
        return None
    step = max(1, int(values.shape[1] // pixels))
    west, north = (
        terrain.west_m + columns[0] * terrain.cell_east_m,
        terrain.north_m - rows[0] * terrain.cell_north_m,
    )
    return Grid(values, west, north, terrain.cell_east_m, terrain.cell_north_m).thinned(step)


def area_patch(area: shapely.Geometry, **style: Any) -> PathPatch:
    """Give polygons with their holes as one patch."""
    vertices, codes = [], []
    for ring in shapely.get_parts(shapely.get_rings(shapely.orient_polygons(area))):
        points = shapely.get_coordinates(ring)
        vertices.append(points)
        codes.append([Outline.MOVETO] + [Outline.LINETO] * (len(points) - 2) + [Outline.CLOSEPOLY])
    return PathPatch(Outline(np.concatenate(vertices), np.concatenate(codes)), **style)


def draw_area(
    axes: Axes,
    area: shapely.Geometry,
    colour: str,
    hatch: str,
    alpha: float,
    zorder: float,
    edge: str | None = None,
) -> None:
    """Draw an area: a see-through fill, a hatch and an outline, so that colour is never alone."""
    axes.add_patch(area_patch(area, facecolor=colour, alpha=alpha, edgecolor="none", zorder=zorder))
    outline = {"edgecolor": edge or colour, "hatch": hatch or None, "linewidth": 1.2, "zorder": zorder + 0.1}
    axes.add_patch(area_patch(area, facecolor="none", **outline))


def draw_line(
    axes: Axes, line: shapely.Geometry, colour: str, width: float, pattern: Pattern, zorder: float
) -> None:
    """Draw a line with a white casing."""
    for part in shapely.get_parts(line):
        x, y = shapely.get_coordinates(part).T
        casing = axes.plot(x, y, color="white", linewidth=width + 2.4, alpha=0.75, zorder=zorder)
        inside = axes.plot(x, y, color=colour, linewidth=width, linestyle=pattern, zorder=zorder + 0.1)
        for drawn in (*casing, *inside):
            drawn.set_solid_capstyle("round")


def draw_ring(
    axes: Axes, hover: HoverPoint, colour: str, width: float, zorder: float, pattern: Pattern = "-"
) -> None:
    """Draw the clear circle round a hover point as a line of this width [pt]."""
    ring = hover.point.buffer(hover.clear_radius_m, quad_segs=32).exterior
    axes.plot(
        *shapely.get_coordinates(ring).T, color=colour, linewidth=width, linestyle=pattern, zorder=zorder
    )


def draw_mark(
    axes: Axes,
    point: shapely.Point,
    marker: str,
    colour: str,
    size: float,
    zorder: float,
    edge: str = "white",
) -> Line2D:
    """Draw a marker of this size [pt] at a place, with an edge that keeps it apart from what lies below; give it."""
    look = axes.plot(
        point.x, point.y, marker, color=colour, markeredgecolor=edge, markersize=size, zorder=zorder
    )
    return look[0]


def nice_length(limit_m: float) -> float:
    """Give the greatest 1, 2 or 5 times a power of ten that is not above the limit (common practice of scale bars)."""
    power = 10.0 ** np.floor(np.log10(limit_m))
    return float(max(f * power for f in (1, 2, 5) if f * power <= limit_m))


def draw_backing(axes: Axes, left: float, bottom: float, width: float, height: float) -> None:
    """Draw a pale plate, in parts of the axes, for arrows and scale bars to stand on."""
    plate = Rectangle(
        (left, bottom), width, height, facecolor="white", alpha=0.72, edgecolor="none", zorder=19
    )
    plate.set_transform(axes.transAxes)
    axes.add_patch(plate)


def draw_scale_bar(axes: Axes, bounds: Bounds, metre_per_unit: float, unit: str, rise: float) -> None:
    """Draw a scale bar in the lower left; rise is its height above the edge as a part of the map."""
    west, south, east, north = bounds
    units = nice_length(0.22 * (east - west) / metre_per_unit)
    length = units * metre_per_unit
    x, y, thick = west + 0.025 * (east - west), south + rise * (north - south), 0.007 * (north - south)
    for colour, left in ((INK, x), ("white", x + length / 2)):
        axes.add_patch(Rectangle((left, y), length / 2, thick, facecolor=colour, edgecolor=INK, zorder=20))
    label = f"  {units:g} {unit}"
    put_text(axes, x + length, y + thick / 2, label, 11, va="center", zorder=20, path_effects=HALO)


def draw_arrow(axes: Axes, centre: tuple[float, float], towards_deg: float, label: str, colour: str) -> None:
    """Draw an arrow in parts of the axes: centre, the direction it points to [deg clockwise from up], text below."""
    width, height = axes_pixels(axes)
    step = 34 * np.array([np.sin(np.radians(towards_deg)) / width, np.cos(np.radians(towards_deg)) / height])
    tip, tail = tuple(centre + step), tuple(centre - step)
    arrow: dict[str, Any] = {"arrowstyle": "-|>,head_width=0.45,head_length=0.9", "color": colour}
    arrow |= {"linewidth": 3, "path_effects": HALO, "shrinkA": 0, "shrinkB": 0}
    axes.annotate("", xy=tip, xytext=tail, xycoords="axes fraction", arrowprops=arrow, zorder=21)
    look: dict[str, Any] = {"ha": "center", "va": "top", "color": colour, "zorder": 21, "path_effects": HALO}
    put_text(axes, centre[0], centre[1] - 50 / height, label, 11, transform=axes.transAxes, **look)


@dataclass(frozen=True)
class Label:
    """A text for a place on the map [m]; the earlier in a list, the sooner it is placed."""

    easting_m: float
    northing_m: float
    text: str
    size: float = 11.0
    bold: bool = False
    needed: bool = False


_DIRECTIONS: list[tuple[float, float]] = [
    (1, 0),
    (-1, 0),
    (0, 1),
    (0, -1),
    (1, 1),
    (-1, 1),
    (1, -1),
    (-1, -1),
]
_DIRECTIONS += [(0.5, 1), (-0.5, 1), (0.5, -1), (-0.5, -1)]


def place_labels(
    sizes: Sequence[tuple[float, float]],
    anchors: Sequence[tuple[float, float]],
    needed: Sequence[bool],
    frame: Bounds,
    taken: Sequence[Bounds] = (),
    lines: Sequence[shapely.LineString] = (),
) -> list[Bounds | None]:
    """Give each label a box near its anchor that touches no box placed before it; None where there is no room.

    Parameters: sizes (width, height), anchors (x, y), frame and taken boxes (left, bottom, right, top), and lines that
    are kept clear of where there is room, in pixels. A needed label looks further out than the others.
    """
    blocked = list(taken)
    placed: list[Bounds | None] = []
    marks = [shapely.Point(anchor).buffer(8) for anchor in anchors]
    for number, ((width, height), (x, y), must) in enumerate(zip(sizes, anchors, needed, strict=True)):
        boxes = [
            (distance, _box(x, y, width, height, distance, direction))
            for distance in ((9, 16, 28, 48, 80, 120, 170, 230) if must else (9, 16))
            for direction in _DIRECTIONS
        ]
        free = [(d, b) for d, b in boxes if _inside(b, frame) and not any(_touch(b, t) for t in blocked)]
        others = [shapely.box(*b) for b in placed if b is not None] + marks[:number] + marks[number + 1 :]
        cost = partial(_cost, (x, y), shapely.MultiLineString(list(lines)), shapely.union_all(others))
        best = min(free, key=cost, default=(0, None))[1]
        placed.append(best)
        blocked += [] if best is None else [best]
    return placed


def _cost(
    anchor: tuple[float, float],
    lines: shapely.Geometry,
    others: shapely.Geometry,
    candidate: tuple[int, Bounds],
) -> float:
    """Give the cost of a box [pixels]: distance from its anchor, lines that it hides, a thread over other labels."""
    distance, box = candidate
    area = shapely.box(*box)
    thread = shapely.LineString([anchor, ((box[0] + box[2]) / 2, (box[1] + box[3]) / 2)])
    return distance + 40.0 * shapely.intersects(lines, area) + 90.0 * shapely.intersects(thread, others)


def _box(
    x: float, y: float, width: float, height: float, distance: float, direction: tuple[float, float]
) -> Bounds:
    centre_x = x + direction[0] * (distance + width / 2)
    centre_y = y + direction[1] * (distance + height / 2)
    return (centre_x - width / 2, centre_y - height / 2, centre_x + width / 2, centre_y + height / 2)


def _inside(box: Bounds, frame: Bounds) -> bool:
    return box[0] >= frame[0] and box[1] >= frame[1] and box[2] <= frame[2] and box[3] <= frame[3]


def _touch(one: Bounds, other: Bounds) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def draw_labels(
    axes: Axes,
    labels: Sequence[Label],
    taken: Sequence[Bounds] = (),
    lines: Sequence[shapely.LineString] = (),
) -> int:
    """Draw labels without collisions, with a thin line to the place where one had to move; give how many fitted."""
    renderer = canvas_of(axes.figure).get_renderer()
    look: dict[str, Any] = {"ha": "center", "va": "center", "zorder": 30, "path_effects": HALO}
    texts = [
        put_text(axes, 0, 0, one.text, one.size, fontweight="bold" if one.bold else "normal", **look)
        for one in labels
    ]
    boxes = [text.get_window_extent(renderer) for text in texts]
    anchors = [tuple(axes.transData.transform((label.easting_m, label.northing_m))) for label in labels]
    frame = axes.get_window_extent(renderer)
    marks = [(x - 8, y - 8, x + 8, y + 8) for x, y in anchors]
    places = place_labels(
        [(box.width + 4, box.height + 2) for box in boxes],
        anchors,
        [label.needed for label in labels],
        (frame.x0 + 3, frame.y0 + 3, frame.x1 - 3, frame.y1 - 3),
        [*taken, *marks],
        [shapely.transform(line, axes.transData.transform) for line in lines],
    )
    for text, place, anchor in zip(texts, places, anchors, strict=True):
        _settle(axes, text, place, anchor)
    return sum(place is not None for place in places)


def _settle(axes: Axes, text: Text, place: Bounds | None, anchor: tuple[float, float]) -> None:
    if place is None:
        text.remove()
        return
    back = axes.transData.inverted()
    text.set_position(tuple(back.transform(((place[0] + place[2]) / 2, (place[1] + place[3]) / 2))))
    near = (np.clip(anchor[0], place[0], place[2]), np.clip(anchor[1], place[1], place[3]))
    if np.hypot(near[0] - anchor[0], near[1] - anchor[1]) > 22:
        ends = back.transform([anchor, near])
        axes.plot(ends[:, 0], ends[:, 1], color=INK, linewidth=0.9, zorder=29)
