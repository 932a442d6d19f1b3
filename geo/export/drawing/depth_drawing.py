"""A water's expected depth as a shaded map, and its uncertainty as a second small one."""

from typing import Any

import numpy as np
import shapely
from matplotlib import colormaps
from matplotlib.axes import Axes
from matplotlib.cm import ScalarMappable
from matplotlib.colors import Colormap, Normalize
from matplotlib.figure import Figure
from matplotlib.patheffects import withStroke

from geo.base.grid import Grid
from geo.export.drawing.canvas import HEIGHT_PX, INK, WIDTH_PX
from geo.export.drawing.map_drawing import HALO, Bounds, area_patch, draw_area, fit_bounds
from geo.export.drawing.palette import GREY
from geo.records.survey import DepthPicture

# Even steps of lightness, safe for colour-blind eyes; few steps, so that the stored palette keeps the marks' colours.
DEPTH_COLOURS = colormaps["cividis_r"].resampled(24)
SPREAD_COLOURS = colormaps["Greys"].resampled(8)
DRY_GROUND = "#D9C9A3"
DEPTH_LINES_M = (1.0, 2.0, 5.0, 10.0, 20.0, 50.0)
# The small map in parts of the large one's axes: its corners, below the title or beside the north arrow.
SMALL_WIDTH, SMALL_HEIGHT = 0.30, 0.27
SMALL_PLACES = ((0.012, 0.715), (0.59, 0.715), (0.012, 0.10), (0.688, 0.13))
PAGE_PX = (WIDTH_PX, HEIGHT_PX)
MARGINS = (0.08, 0.16, 0.26, 0.4)
MOST_HIDDEN = 0.005
LABELLED_PART = 0.06  # of the map's width: a depth line must be longer to carry its figure


def depth_norm(depth: DepthPicture, soundings_m: np.ndarray) -> Normalize:
    """Give the colour scale from 0 to the deepest of field and soundings [m]."""
    deepest = max(float(np.nanmax(depth.mean.values)), float(np.max(soundings_m, initial=0.0)), 1.0)
    return Normalize(0.0, deepest)


def fit_beside(water: shapely.Polygon, axes: Axes) -> tuple[Bounds, tuple[float, float]]:
    """Set the map's limits so that a small map hides almost no water; give them and the small map's corner."""
    for margin in MARGINS:
        bounds = fit_bounds(water.bounds, axes, margin)
        hidden = [_hidden(water, bounds, place) for place in SMALL_PLACES]
        if min(hidden) <= MOST_HIDDEN:
            break
    return bounds, SMALL_PLACES[int(np.argmin(hidden))]


def _hidden(water: shapely.Polygon, bounds: Bounds, place: tuple[float, float]) -> float:
    west, south, east, north = bounds
    left, bottom = west + place[0] * (east - west), south + place[1] * (north - south)
    box = shapely.box(
        left, bottom, left + SMALL_WIDTH * (east - west), bottom + SMALL_HEIGHT * (north - south)
    )
    return float(water.intersection(box).area / water.area)


def draw_depth(axes: Axes, depth: DepthPicture, outline: shapely.Polygon, norm: Normalize) -> None:
    """Shade the expected depth inside the outline, with depth lines; what fell dry is drawn as ground."""
    draw_area(axes, outline, DRY_GROUND, "", 0.9, 2, GREY)
    _shade(axes, depth.mean, outline, DEPTH_COLOURS, norm, 2.2)
    values = np.ma.masked_invalid(depth.mean.values)
    levels = [level for level in DEPTH_LINES_M if float(values.min()) < level < float(values.max())]
    if not levels or min(values.shape) < 2:
        return
    look: dict[str, Any] = {"colors": "white", "linewidths": 0.8, "alpha": 0.8, "zorder": 2.6}
    drawn = axes.contour(*depth.mean.centres, values, levels=levels, **look)
    drawn.set_clip_path(area_patch(outline, transform=axes.transData))
    # One figure for each line that is long enough to read along: short pieces at the shore would only clutter it.
    long = LABELLED_PART * float(np.ptp(axes.get_xlim()))
    places = []
    for path in drawn.get_paths():
        pieces = [np.asarray(part, float) for part in path.to_polygons(closed_only=False)]
        longest = max(pieces, key=_length, default=None)
        if longest is not None and _length(longest) >= long:
            places.append(tuple(longest[len(longest) // 3]))
    labels = axes.clabel(drawn, fmt=lambda level: f"{level:.0f} m", fontsize=8, colors="white", manual=places)
    for label in labels:
        label.set_path_effects([withStroke(linewidth=1.6, foreground=INK)])


def _length(places: np.ndarray) -> float:
    """Give the length of a line through places (n, 2) [m]."""
    return float(np.hypot(*np.diff(places, axis=0).T).sum())


def _shade(
    axes: Axes, grid: Grid, outline: shapely.Polygon, colours: Colormap, norm: Normalize, zorder: float
) -> None:
    west, south, east, north = grid.bounds
    limits = axes.get_xlim(), axes.get_ylim()
    image = axes.imshow(
        grid.values, extent=(west, east, south, north), cmap=colours, norm=norm, interpolation="nearest",
        zorder=zorder, aspect="auto" if axes.get_aspect() == "auto" else "equal",
    )  # fmt: skip
    image.set_clip_path(area_patch(outline, transform=axes.transData))
    axes.set(xlim=limits[0], ylim=limits[1])


def draw_bar(
    figure: Figure, place: tuple[float, float, float, float], norm: Normalize, words: str, colours: Colormap
) -> None:
    """Draw a colour bar with its words above, at left, bottom, width, height in parts of the figure."""
    bar = figure.colorbar(ScalarMappable(norm, colours), cax=figure.add_axes(place), orientation="horizontal")
    bar.ax.set_title(words, fontsize=10, color=INK, pad=4, path_effects=HALO)
    bar.ax.tick_params(labelsize=9)


def draw_uncertainty(
    figure: Figure, axes: Axes, depth: DepthPicture, outline: shapely.Polygon, corner: tuple[float, float]
) -> None:
    """Draw one sigma of the depth as a small map in a corner of the large one."""
    box = axes.get_position()
    left, bottom = box.x0 + corner[0] * box.width, box.y0 + corner[1] * box.height
    width, height = SMALL_WIDTH * box.width, SMALL_HEIGHT * box.height
    small = figure.add_axes((left, bottom, width, height), zorder=axes.get_zorder() + 1)
    small.set(xticks=[], yticks=[], facecolor="white")
    # The water fills the middle: words above it, the bar below.
    west, south, east, north = outline.bounds
    across, along = (part * size for part, size in zip((width, height), PAGE_PX, strict=True))
    metre = max((east - west) / (0.92 * across), (north - south) / (0.62 * along))
    middle = 0.5 * (south + north) - 0.05 * metre * along
    half_east, half_north = 0.5 * metre * across, 0.5 * metre * along
    centre = 0.5 * (west + east)
    small.set(xlim=(centre - half_east, centre + half_east), ylim=(middle - half_north, middle + half_north))
    norm = Normalize(0.0, max(float(np.nanmax(depth.sd.values)), 0.1))
    _shade(small, depth.sd, outline, SPREAD_COLOURS, norm, 1)
    small.add_patch(area_patch(outline, facecolor="none", edgecolor=GREY, linewidth=0.8, zorder=2))
    small.text(0.03, 0.97, "depth uncertainty", transform=small.transAxes, fontsize=10, va="top", color=INK)
    place = (left + 0.30 * width, bottom + 0.13 * height, 0.62 * width, 0.012)
    cax = figure.add_axes(place, zorder=axes.get_zorder() + 2)
    figure.colorbar(ScalarMappable(norm, SPREAD_COLOURS), cax=cax, orientation="horizontal")
    cax.tick_params(labelsize=8)
    small.text(0.03, 0.115, "one sigma\n[m]", transform=small.transAxes, fontsize=8, va="center", color=INK)
