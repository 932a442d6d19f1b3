"""A run from the side for paper, legible without colour: ground, surfaces, water, bed and how unsure it is."""

from typing import Any

import numpy as np
import shapely
from matplotlib.axes import Axes

from geo.export.drawing.canvas import INK
from geo.export.drawing.map_drawing import draw_mark
from geo.export.sheets.paper import picture, picture_address
from geo.records.side_view import SideView

HEIGHT_IN = 1.95
GROUND, WATER, UNSURE = "#9A9A9A", "#CFE4F2", "#5B8FB0"
BEYOND_M = 350.0  # drawn beyond each end; more would press the depths flat
ROOM_OF_UNKNOWN = 0.35  # of the height above the water: room for the words on an unknown bed
SIDE_KEY = (
    "From the side, A to B, heights stretched. Slanting lines: surfaces that must be clear beyond the ends. Grey: "
    "highest ground across their width. Pale: water; line: expected bed, with two standard deviations."
)


def side_drawing(view: SideView) -> str | None:
    """Give the drawing as an address that holds it; None where the water's elevation or the ground is unknown."""
    surface = view.surface_m
    along, highest, beyond = np.array(view.along_m), _numbers(view.highest_m), BEYOND_M
    seen = (along >= -beyond) & (along <= view.length_m + beyond)
    if surface is None or not np.isfinite(highest[seen]).any():
        return None
    figure = picture(HEIGHT_IN)
    axes = figure.add_axes((0.055, 0.15, 0.935, 0.82))
    low, high = _range(view, surface, highest[seen], beyond)
    # Over the water the bed is drawn: the terrain's cells there may still hold an older level.
    ground = seen & np.isfinite(highest) & ((along <= 0.0) | (along >= view.length_m))
    # Unknown ground is a gap: drawing on across it would make it look known.
    axes.fill_between(along, low, np.where(ground, highest, low), where=ground, color=GROUND, linewidth=0)
    _draw_water(axes, view, surface, low)
    for start, sign in ((0.0, -1.0), (view.length_m, 1.0)):
        axes.plot([start, start + sign * beyond], [surface, surface + beyond * view.slope], color=INK, lw=1.6)
    _draw_obstacles(axes, view, surface, beyond, high)
    for name, at in (("A", 0.0), ("B", view.length_m)):
        draw_mark(axes, shapely.Point(at, surface), "o", "white", 7, 9, INK).set_markeredgewidth(1.6)
        above: dict[str, Any] = {"textcoords": "offset points", "ha": "center", "size": 14, "weight": "bold"}
        axes.annotate(name, (at, surface), (0, 6), **above)
    axes.set(xlim=(along[seen][0], along[seen][-1]), ylim=(low, high))
    axes.tick_params(labelsize=10.5)
    corner: dict[str, Any] = {"transform": axes.transAxes, "va": "top", "size": 10.5}
    axes.text(0.006, 0.97, "elevation, m", **corner)
    axes.text(0.994, 0.97, "along the run from A, m", ha="right", **corner)
    axes.grid(axis="y", color="#DDDDDD", linewidth=0.6)
    axes.set_axisbelow(True)
    return picture_address(figure)


def _numbers(values: tuple[float | None, ...]) -> np.ndarray:
    return np.array([np.nan if value is None else value for value in values], float)


def _range(view: SideView, surface: float, highest: np.ndarray, beyond: float) -> tuple[float, float]:
    bed = surface - _numbers(view.depth_m) - 2.0 * np.nan_to_num(_numbers(view.depth_sd_m))
    top = surface + beyond * view.slope
    # High hills far above the surfaces would squeeze what matters: they are cut at three times its height.
    high = min(float(np.nanmax(np.append(highest, top))), surface + 3.0 * beyond * view.slope)
    low = min(float(np.nanmin(np.concatenate((highest, bed, [surface])))), surface - 2.0)
    low = max(low, surface - 2.0 * (high - surface))
    if not view.depth_along_m:
        low = min(low, surface - ROOM_OF_UNKNOWN * (high - surface))
    room = 0.06 * (high - low)
    return low - room, high + 2.0 * room


def _draw_water(axes: Axes, view: SideView, surface: float, low: float) -> None:
    ends = (0.0, view.length_m)
    if view.depth_along_m:
        along, depth, sd = np.array(view.depth_along_m), _numbers(view.depth_m), _numbers(view.depth_sd_m)
        bed, spread = surface - depth, 2.0 * np.nan_to_num(sd)
        axes.fill_between(along, low, bed, color=GROUND, linewidth=0, zorder=2)
        axes.fill_between(along, bed, surface, color=WATER, linewidth=0, zorder=3)
        axes.fill_between(
            along, bed - spread, np.minimum(bed + spread, surface), color=UNSURE, alpha=0.45, zorder=4
        )
        axes.plot(along, bed, color=INK, linewidth=1.1, zorder=5)
    else:
        axes.fill_between(
            ends, low, surface, facecolor="white", edgecolor=GROUND, hatch="//", linewidth=0, zorder=3
        )
        middle = (view.length_m / 2.0, (low + surface) / 2.0)
        plate = {"facecolor": "white", "edgecolor": "none", "pad": 1.5}
        axes.annotate("bed UNKNOWN", middle, ha="center", va="center", size=12, zorder=4, bbox=plate)
    axes.plot(ends, (surface, surface), color=INK, linewidth=2.2, zorder=6)


def _draw_obstacles(axes: Axes, view: SideView, surface: float, beyond: float, high: float) -> None:
    for one in view.obstacles:
        if not -beyond <= one.along_m <= view.length_m + beyond:
            continue
        known = one.top_m is not None
        top = min(one.top_m, high) if one.top_m is not None else high
        axes.plot(
            [one.along_m] * 2, [surface, top], color=INK, lw=2.0, ls="-" if known else (0, (2, 2)), zorder=8
        )
        words = one.label if known else f"{one.label}: HEIGHT UNKNOWN"
        right = one.along_m > view.length_m / 2.0
        place = (-4 if right else 4, -2)
        axes.annotate(
            words, (one.along_m, top), place, textcoords="offset points", ha="right" if right else "left",
            va="top", size=10.5, zorder=9, bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.7, "pad": 1.0},
        )  # fmt: skip
