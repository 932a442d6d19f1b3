"""One water body as a picture: outline, runs by heading, the longest run, the hover point, the soundings, a rose."""

from pathlib import Path
from textwrap import wrap

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.colors import Normalize
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from geo.base.errors import BadArgument
from geo.base.positions import bearing_text, degrees_minutes, feet
from geo.base.units import METRE_PER_NAUTICAL_MILE
from geo.export.drawing.canvas import (
    INK,
    draw_legend,
    map_axes,
    new_figure,
    text_axes,
    title,
    words,
    write_png,
)
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
    draw_arrow,
    draw_backing,
    draw_labels,
    draw_relief,
    draw_scale_bar,
    fit_bounds,
)
from geo.export.drawing.palette import (
    BLACK,
    BLUE,
    ORANGE,
    REDDISH_PURPLE,
    SKY_BLUE,
    VERMILLION,
    YELLOW,
)
from geo.export.drawing.rose_drawing import draw_rose
from geo.records.geographic_shapes import geographic
from geo.records.region import Region, Soundings, WaterBody
from geo.records.survey import BodySurvey, DepthPicture, LeastDepth, Run

NOTED_DEPTH_M = 2.0
FACTS = (0.69, 0.02, 0.30, 0.515)  # left, bottom, width, height in parts of the figure
LEGEND_LINE = 0.047
LINE_HEIGHT = 0.041  # of the facts, in parts of their axes
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
    body = next((one for one in region.bodies if one.body_id == record.body_id), None)
    if body is None:
        raise BadArgument(
            f"water body {record.body_id}: not in region {region.name}; survey this region again"
        )
    figure = new_figure()
    axes = map_axes(figure, 0.015, 0.02, 0.655, 0.885)
    corner = None
    if depth is None:
        bounds = fit_bounds(body.polygon.bounds, axes)
    else:
        bounds, corner = fit_beside(body.polygon, axes)
    if region.terrain is not None:
        draw_relief(axes, region.terrain, bounds)
    depths = None if region.soundings is None else region.soundings.of(record.body_id)
    _draw_water(figure, axes, body, record, depth, depths)
    _draw_runs(axes, record, depth is not None)
    _draw_hover(axes, record)
    _draw_next(axes, record)
    if depth is not None and corner is not None:
        draw_uncertainty(figure, axes, depth, body.polygon, corner)
    draw_backing(axes, 0.008, 0.009, 0.30, 0.066)
    draw_backing(axes, 0.915, 0.845, 0.078, 0.146)
    draw_scale_bar(axes, bounds, 1.0, "m", 0.022)
    draw_scale_bar(axes, bounds, METRE_PER_NAUTICAL_MILE, "nmi", 0.048)
    draw_arrow(axes, (0.955, 0.92), 0.0, "north", INK)
    _label(axes, record, depths)
    title(figure, record.name, f"{record.kind}, {_areas(record)}, {region.name}")
    draw_rose(figure, record, needed_run_m)
    entries = _legend(figure, record, depths, needed_run_m, depth is not None)
    _facts(figure, region, record, depths, 0.04 + LEGEND_LINE * entries)
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
        axes.add_patch(
            area_patch(record.water_today, facecolor="none", edgecolor=BLUE, linewidth=1.6, zorder=2.7)
        )
    if depths is not None and len(today_m) > 0:
        # Many soundings are drawn small, so that the water stays in sight.
        size = float(np.clip(34.0 * 150.0 / len(depths), 9.0, 34.0))
        axes.scatter(
            depths.easting_m, depths.northing_m, c=today_m, s=size, cmap=DEPTH_COLOURS, norm=norm,
            edgecolors="white", linewidths=0.02 * size, zorder=3,
        )  # fmt: skip
    draw_bar(figure, (0.515, 0.052, 0.13, 0.014), norm, "depth today [m]", DEPTH_COLOURS)


def _draw_runs(axes: Axes, record: BodySurvey, shaded: bool) -> None:
    """Draw the longest run, and the fan of runs by heading where no depth shading needs the room."""
    for run in () if shaded else record.heading_runs:
        axes.plot(*shapely.get_coordinates(run.line).T, color=BLACK, linewidth=0.9, alpha=0.55, zorder=4)
    for run in record.usable_runs if shaded else ():
        axes.plot(*shapely.get_coordinates(run.line).T, color="white", linewidth=3.2, zorder=4)
        axes.plot(*shapely.get_coordinates(run.line).T, color=BLACK, linewidth=1.6, zorder=4.1)
    if record.longest_run is not None:
        for colour, width in ((BLACK, 6.0), (YELLOW, 3.6)):
            axes.plot(
                *shapely.get_coordinates(record.longest_run.line).T, color=colour, linewidth=width, zorder=6
            )


def _draw_next(axes: Axes, record: BodySurvey) -> None:
    if record.next_sounding is None or record.next_sounding.point is None:
        return
    place = record.next_sounding.point
    axes.plot(
        place.x, place.y, "D", color=REDDISH_PURPLE, markeredgecolor="white", markersize=13, zorder=12.5
    )


def _draw_hover(axes: Axes, record: BodySurvey) -> None:
    hover = record.hover_point
    if hover is None:
        return
    ring = shapely.get_coordinates(hover.point.buffer(hover.clear_radius_m, quad_segs=32).exterior)
    axes.plot(*ring.T, color="white", linewidth=3.4, zorder=9)
    axes.plot(*ring.T, color=VERMILLION, linewidth=1.8, linestyle=(0, (4, 2)), zorder=9.1)
    axes.plot(
        hover.point.x, hover.point.y, "P", color=VERMILLION, markeredgecolor="white", markersize=14, zorder=12
    )


def _label(axes: Axes, record: BodySurvey, depths: Soundings | None) -> None:
    labels, run, hover = [], record.longest_run, record.hover_point
    if hover is not None:
        labels.append(
            Label(hover.point.x, hover.point.y, f"hover, clear {hover.clear_radius_m:.0f} m", 12, True, True)
        )
    if run is not None:
        end = shapely.get_point(run.line, -1)
        labels.append(Label(end.x, end.y, f"{run.length_m:,.0f} m, {_both_ways(run)}", 13, True, True))
    if record.next_sounding is not None and record.next_sounding.point is not None:
        place = record.next_sounding.point
        labels.append(Label(place.x, place.y, "sound here next", 12, True, True))
    if depths is not None and len(depths) <= SOUNDINGS_WITH_FIGURES:
        places = zip(depths.easting_m, depths.northing_m, depths.depth_m, strict=True)
        labels += [Label(float(east), float(north), f"{depth:.1f}", 9) for east, north, depth in places]
    box = axes.get_window_extent()
    taken = [
        (box.x0, box.y0, box.x0 + 0.36 * box.width, box.y0 + 0.075 * box.height),
        (box.x0 + 0.70 * box.width, box.y0, box.x1, box.y0 + 0.075 * box.height),
        (box.x0 + 0.91 * box.width, box.y0 + 0.84 * box.height, box.x1, box.y1),
    ]
    draw_labels(axes, labels, taken, [] if run is None else [run.line])


def _both_ways(run: Run) -> str:
    return f"{bearing_text(run.heading_true_deg)} or {bearing_text(run.heading_true_deg + 180.0)}"


def _depth_text(depth: LeastDepth) -> str:
    sure = depth.depth_with_confidence_m(0.95)
    return (
        f"depth unknown: {depth.reason}"
        if sure is None
        else f"deeper than {sure:.1f} m with 95\u00a0% probability"
    )


def _height_text(height_m: float | None) -> str:
    return "unknown" if height_m is None else f"{height_m:,.0f} m ({feet(height_m):,.0f} ft)"


def _area_text(area_m2: float) -> str:
    return f"{area_m2 / 1e6:,.2f} km²" if area_m2 >= 1e6 else f"{area_m2 / 1e4:,.2f} ha"


def _facts(
    figure: Figure, region: Region, record: BodySurvey, depths: Soundings | None, floor: float
) -> None:
    axes = text_axes(figure, *FACTS)
    lines: list[tuple[str, str]] = [("Surface", _height_text(record.surface_elevation_m.value))]
    change = record.level_change_m.value
    lines.append(
        ("Level today", "unknown" if change is None else f"{change:+.1f} m against the depths' level")
    )
    lines.append(("Water", record.salinity_class or "salinity unknown"))
    run, hover = record.longest_run, record.hover_point
    if run is None:
        lines.append(("Longest run", f"none with a corridor of {_corridor(record)}"))
    else:
        lines.append(("Longest run", f"{run.length_m:,.0f} m, {_both_ways(run)}"))
        lines.append(("", f"corridor {run.corridor_width_m:.0f} m, {_depth_text(run.depth)}"))
        lines += _limits(run)
    if hover is None:
        lines.append(("Hover point", "none"))
    else:
        place = geographic(hover.point, region.frame)
        lines.append(("Hover point", degrees_minutes(place.x, place.y)))
        lines.append(
            ("", f"clear {hover.clear_radius_m:.0f} m ({hover.limited_by}), {_depth_text(hover.depth)}")
        )
    lines.append(("Soundings", "none" if depths is None or len(depths) == 0 else f"{len(depths)}"))
    if record.next_sounding is not None and record.next_sounding.point is not None:
        place = geographic(record.next_sounding.point, region.frame)
        lines.append(("Sound next", degrees_minutes(place.x, place.y)))
    notes = [one.sentence for one in record.level_outlooks if one.required_m == NOTED_DEPTH_M]
    lines += [("Levels" if number == 0 else "", text) for number, text in enumerate(notes)]
    lines += [("Note" if number == 0 else "", text) for number, text in enumerate(record.remarks[:2])]
    _write_facts(axes, lines, floor)


def _limits(run: Run) -> list[tuple[str, str]]:
    """Say how much of the longest run can be flown each way, and what limits it; nothing where it was not asked."""
    if not run.limited_by:
        return []
    flown = [
        f"{'unknown' if length is None else f'{length:,.0f} m'} flown {bearing_text(heading)}"
        for length, heading in (
            (run.usable_ahead_m, run.heading_true_deg),
            (run.usable_back_m, run.heading_true_deg + 180.0),
        )
    ]
    ends = (run.heading_true_deg + 180.0, run.start_end), (run.heading_true_deg, run.end_end)
    what = [
        f"{bearing_text(heading)}: {end.what}"
        for heading, end in ends
        if end.excess_m is None or end.excess_m > 0.0
    ]
    limits = what or ["nothing: both surfaces are clear"]
    return [("Clear of it", ", ".join(flown))] + [
        ("Limited by" if number == 0 else "", text) for number, text in enumerate(limits)
    ]


def _areas(record: BodySurvey) -> str:
    today = record.area_today_m2.value
    text = _area_text(record.area_m2)
    return text if record.water_today is None or today is None else f"{text}, {_area_text(today)} today"


def _corridor(record: BodySurvey) -> str:
    widths = {run.corridor_width_m for run in record.runs}
    return f"{max(widths):.0f} m" if widths else "the survey's width"


def _write_facts(axes: Axes, lines: list[tuple[str, str]], floor: float) -> None:
    """Write what is known from the top down to the floor, where the legend begins; an ellipsis says there is more."""
    height = 0.97
    for head, text in lines:
        if height >= floor:
            words(axes, 0.0, height, head, 10, bold=True)
        for part in wrap(text, 46):
            if height < floor:
                words(axes, 0.24, height + 0.01, "\u2026", 11)
                return
            words(axes, 0.24, height, part, 10)
            height -= LINE_HEIGHT
        height -= 0.008


def _legend(
    figure: Figure,
    record: BodySurvey,
    depths: Soundings | None,
    needed_run_m: float | None,
    shaded: bool,
) -> int:
    """Draw the legend; give the number of its entries."""
    handles = []
    if record.longest_run is not None:
        handles.append(Line2D([], [], color=YELLOW, linewidth=3.6, label="longest run"))
    if shaded and record.usable_runs:
        handles.append(Line2D([], [], color=BLACK, linewidth=1.6, label="run to be judged"))
    if record.heading_runs and not shaded:
        handles.append(
            Line2D([], [], color=BLACK, linewidth=0.9, alpha=0.55, label="longest run per heading")
        )
    if record.water_today is not None:
        handles.append(Line2D([], [], color=BLUE, linewidth=1.6, label="shore today, ground dry beyond it"))
    if record.hover_point is not None:
        dash = {"linestyle": (0, (4, 2)), "linewidth": 1.8, "marker": "P", "markersize": 11}
        handles.append(
            Line2D(
                [], [], color=VERMILLION, markeredgecolor="white", label="hover point, clear circle", **dash
            )
        )
    if depths is not None and len(depths) > 0:
        dot = {"marker": "o", "linestyle": "none", "markersize": 7}
        handles.append(
            Line2D([], [], color=ORANGE, markeredgecolor="white", label="sounding, colour by depth", **dot)
        )
    if record.next_sounding is not None and record.next_sounding.point is not None:
        dot = {"marker": "D", "linestyle": "none", "markersize": 9}
        handles.append(
            Line2D([], [], color=REDDISH_PURPLE, markeredgecolor="white", label="sound here next", **dot)
        )
    if needed_run_m is not None:
        text = f"run needed, {needed_run_m:,.0f} m (in the rose)"
        handles.append(Line2D([], [], color=VERMILLION, linewidth=2.2, linestyle="--", label=text))
    if handles:
        draw_legend(text_axes(figure, *FACTS), handles)
    return len(handles)
