"""One water body as a picture: outline, runs by heading, the longest run, the hover point, the soundings, a rose."""

from pathlib import Path
from typing import Any

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.colors import Normalize
from matplotlib.figure import Figure

from geo.export.drawing.body_facts import both_ways, draw_body_legend, next_place, write_facts
from geo.export.drawing.canvas import map_axes, new_figure, title, write_png
from geo.export.drawing.depth_drawing import (
    DEPTH_COLOURS,
    depth_norm,
    draw_bar,
    draw_depth,
    draw_uncertainty,
    fit_beside,
)
from geo.export.drawing.map_drawing import (
    Label,
    area_patch,
    draw_area,
    draw_labels,
    draw_mark,
    draw_relief,
    draw_ring,
    fit_bounds,
)
from geo.export.drawing.map_furniture import corners, draw_furniture, draw_ways
from geo.export.drawing.palette import BLACK, BLUE, REDDISH_PURPLE, SKY_BLUE, VERMILLION, YELLOW
from geo.export.drawing.rose_drawing import draw_rose
from geo.export.subjects import water_of
from geo.records.region import Region, Soundings, WaterBody
from geo.records.survey import BodySurvey, DepthPicture, Run

SOUNDINGS_WITH_FIGURES = 120


def body_picture(
    path: Path,
    region: Region,
    record: BodySurvey,
    needed_run_m: float | None = None,
    depth: DepthPicture | None = None,
) -> Path:
    """Draw one surveyed water body as a PNG of 1600 x 1100 pixels.

    Parameters: path; the region; the body's survey record; needed_run_m draws the run that an aircraft needs [m] as a
    circle in the rose. The map is grid north up, the rose against true north.

    Raises: BadArgument when the region has no such body; OSError when the disk refuses (the old file is untouched).
    """
    body = water_of(region, record)
    figure = new_figure()
    axes = map_axes(figure, 0.015, 0.02, 0.655, 0.885)
    if depth is None:
        bounds = fit_bounds(body.polygon.bounds, axes)
    else:
        bounds, corner = fit_beside(body.polygon, axes)
        draw_uncertainty(figure, axes, depth, body.polygon, corner)
    if region.terrain is not None:
        draw_relief(axes, region.terrain, bounds)
    depths = None if region.soundings is None else region.soundings.of(record.body_id)
    _draw_water(figure, axes, body, record, depth, depths)
    _draw_runs(axes, record, depth is not None)
    ways = _draw_hover(axes, record)
    place = next_place(record)
    if place is not None:
        draw_mark(axes, place, "D", REDDISH_PURPLE, 19, 12.5)
    draw_furniture(axes, bounds, ("m", 1.0))
    _label(axes, record, depths, ways)
    title(figure, record.name, f"{record.kind}, {_areas(record)}, {region.name}")
    draw_rose(figure, record, needed_run_m)
    entries = draw_body_legend(figure, record, depths, needed_run_m, depth is not None)
    write_facts(figure, region, record, depths, entries)
    return write_png(path, figure)


def _draw_water(
    figure: Figure,
    axes: Axes,
    body: WaterBody,
    record: BodySurvey,
    depth: DepthPicture | None,
    depths: Soundings | None,
) -> None:
    """Draw the water: shaded by depth where it is known, else plain; soundings as dots of the same scale."""
    today_m = np.zeros(0)
    if depths is not None:
        today_m = depths.depth_m + (record.level_change_m.value or 0.0)
    if depth is None:
        draw_area(axes, body.polygon, SKY_BLUE, "", 0.75, 2, BLUE)
        if len(today_m) == 0:
            return
        norm = Normalize(0.0, max(float(today_m.max()), 1.0))
    else:
        norm = depth_norm(depth, today_m)
        draw_depth(axes, depth, body.polygon, norm)
    if record.water_today is not None:
        look: dict[str, Any] = {"facecolor": "none", "edgecolor": BLUE, "linewidth": 1.6, "zorder": 2.7}
        axes.add_patch(area_patch(record.water_today, **look))
    if depths is not None and len(today_m) > 0:
        # Many soundings are drawn small, so that the water stays in sight.
        size = float(np.clip(34.0 * 150.0 / len(depths), 9.0, 34.0))
        axes.scatter(
            depths.easting_m, depths.northing_m, c=today_m, s=size, cmap=DEPTH_COLOURS, norm=norm,
            edgecolors="white", linewidths=0.02 * size, zorder=3,
        )  # fmt: skip
    draw_bar(figure, (0.515, 0.052, 0.13, 0.014), norm, "depth today [m]", DEPTH_COLOURS)


def _draw_runs(axes: Axes, record: BodySurvey, shaded: bool) -> None:
    """Draw the longest run; with it the usable runs where depth is shaded, else the fan of runs by heading."""

    def draw(run: Run, colour: str, width: float, zorder: float, alpha: float = 1.0) -> None:
        x, y = shapely.get_coordinates(run.line).T
        axes.plot(x, y, color=colour, linewidth=width, alpha=alpha, zorder=zorder)

    for run in record.usable_runs if shaded else ():
        draw(run, "white", 3.2, 4)
        draw(run, BLACK, 1.6, 4.1)
    for run in () if shaded else record.heading_runs:
        draw(run, BLACK, 0.9, 4, 0.55)
    if record.longest_run is not None:
        draw(record.longest_run, BLACK, 6.0, 6)
        draw(record.longest_run, YELLOW, 3.6, 6)


def _draw_hover(axes: Axes, record: BodySurvey) -> list[shapely.LineString]:
    """Draw the hover point with its ways in and out; give the arcs of these."""
    hover = record.hover_point
    if hover is None:
        return []
    draw_ring(axes, hover, "white", 3.4, 9)
    draw_ring(axes, hover, VERMILLION, 1.8, 9.1, (0, (4, 2)))
    draw_mark(axes, hover.point, "P", VERMILLION, 14, 13)
    return draw_ways(axes, hover)


def _label(axes: Axes, record: BodySurvey, depths: Soundings | None, ways: list[shapely.LineString]) -> None:
    labels, run, hover = [], record.longest_run, record.hover_point
    if hover is not None:
        labels.append(
            Label(hover.point.x, hover.point.y, f"hover, clear {hover.clear_radius_m:.0f} m", 12, True, True)
        )
    if run is not None:
        end = shapely.get_point(run.line, -1)
        labels.append(Label(end.x, end.y, f"{run.length_m:,.0f} m, {both_ways(run)}", 13, True, True))
    place = next_place(record)
    if place is not None:
        labels.append(Label(place.x, place.y, "sound here next", 12, True, True))
    if depths is not None and len(depths) <= SOUNDINGS_WITH_FIGURES:
        places = zip(depths.easting_m, depths.northing_m, depths.depth_m, strict=True)
        labels += [Label(float(east), float(north), f"{depth:.1f}", 9) for east, north, depth in places]
    box = axes.get_window_extent()
    bar = (box.x0 + 0.70 * box.width, box.y0, box.x1, box.y0 + 0.075 * box.height)
    draw_labels(axes, labels, [*corners(axes), bar], [*ways, *([] if run is None else [run.line])])


def _area_text(area_m2: float) -> str:
    return f"{area_m2 / 1e6:,.2f} km²" if area_m2 >= 1e6 else f"{area_m2 / 1e4:,.2f} ha"


def _areas(record: BodySurvey) -> str:
    today = record.area_today_m2.value
    text = _area_text(record.area_m2)
    return text if record.water_today is None or today is None else f"{text}, {_area_text(today)} today"
