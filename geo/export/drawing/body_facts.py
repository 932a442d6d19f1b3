"""What stands beside the picture of a water: its facts in words, and the legend of its map."""

from collections.abc import Sequence
from textwrap import wrap
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from geo.base.positions import bearing_text, feet
from geo.export.drawing.canvas import draw_legend, key_line, key_mark, text_axes, words
from geo.export.drawing.palette import BLACK, BLUE, ORANGE, REDDISH_PURPLE, VERMILLION, YELLOW
from geo.export.hover_ways import TOLD_SLOPES, open_ranges, open_words
from geo.export.place_text import position_text
from geo.records.geometry import PointM
from geo.records.region import Region, RegionFrame, Soundings
from geo.records.survey import BodySurvey, LeastDepth, Run

NOTED_DEPTH_M = 2.0
FACTS = (0.69, 0.02, 0.30, 0.585)  # left, bottom, width, height in parts of the figure
LEGEND_LINE = 0.0415
LINE_HEIGHT = 0.0315  # of the facts, in parts of their axes
Facts = list[tuple[str, str]]


def next_place(record: BodySurvey) -> PointM | None:
    """Give where to sound next; None where nothing is uncertain."""
    return None if record.next_sounding is None else record.next_sounding.point


def both_ways(run: Run) -> str:
    """Give both headings of a run, true."""
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


def write_facts(
    figure: Figure, region: Region, record: BodySurvey, depths: Soundings | None, legend_entries: int
) -> None:
    """Write what is known of a water beside its map, above the entries of the legend.

    Parameters: depths, the soundings of this water.
    """
    change = record.level_change_m.value
    level = "unknown" if change is None else f"{change:+.1f} m relative to the depth data"
    notes = [one.sentence for one in record.level_outlooks if one.required_m == NOTED_DEPTH_M]
    facts = [
        ("Surface", _height_text(record.surface_elevation_m.value)),
        ("Level today", level),
        ("Water", record.salinity_class or "salinity unknown"),
        *_run_facts(record),
        *_hover_facts(record, region.frame),
        ("Soundings", "none" if depths is None or len(depths) == 0 else f"{len(depths)}"),
        *_next_facts(record, region.frame),
        *_headed("Levels", notes),
        *_headed("Note", record.remarks[:2]),
    ]
    _write(text_axes(figure, *FACTS), facts, 0.04 + LEGEND_LINE * legend_entries)


def _headed(head: str, texts: Sequence[str]) -> Facts:
    """Give texts of which the first alone has a heading."""
    return [("" if number else head, text) for number, text in enumerate(texts)]


def _run_facts(record: BodySurvey) -> Facts:
    run = record.longest_run
    if run is None:
        return [("Longest run", f"none with a corridor of {_corridor(record)}")]
    length = f"{run.length_m:,.0f} m, {both_ways(run)}"
    corridor = f"corridor {run.corridor_width_m:.0f} m, {_depth_text(run.depth)}"
    return [*_headed("Longest run", (length, corridor)), *_limits(run)]


def _hover_facts(record: BodySurvey, frame: RegionFrame) -> Facts:
    hover = record.hover_point
    if hover is None:
        return [("Hover point", "none")]
    clear = f"clear {hover.clear_radius_m:.0f} m ({hover.limited_by}), {_depth_text(hover.depth)}"
    slope = TOLD_SLOPES[0]
    ways = f"ways in and out, clear above {100.0 * slope:g} %: {open_words(hover, slope, frame)}"
    return _headed("Hover point", (position_text(hover.point, frame), clear, ways))


def _next_facts(record: BodySurvey, frame: RegionFrame) -> Facts:
    place = next_place(record)
    return [] if place is None else [("Sound next", position_text(place, frame))]


def _limits(run: Run) -> Facts:
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
    return [("Usable length", "after obstacles: " + ", ".join(flown)), *_headed("Limited by", limits)]


def _corridor(record: BodySurvey) -> str:
    widths = {run.corridor_width_m for run in record.runs}
    return f"{max(widths):.0f} m" if widths else "the survey's width"


def _write(axes: Axes, facts: Facts, floor: float) -> None:
    """Write what is known from the top down to the floor, where the legend begins; an ellipsis says there is more."""
    height, lines = 0.985, []
    for head, text in facts:
        for number, part in enumerate(wrap(text, 52)):
            lines.append((height, "" if number else head, part))
            height -= LINE_HEIGHT
        height -= 0.006
    shown = [line for line in lines if line[0] >= floor]
    for number, (at, head, part) in enumerate(shown):
        more = " …" if number == len(shown) - 1 < len(lines) - 1 else ""
        words(axes, (0.0, at), head, 9.2, bold=True)
        words(axes, (0.23, at), part + more, 9.2)


def draw_body_legend(
    figure: Figure, record: BodySurvey, depths: Soundings | None, needed_run_m: float | None, shaded: bool
) -> int:
    """Draw the legend of what a water's map shows; give the number of its entries.

    Parameters: depths, the soundings of this water; shaded, whether the map shows depth, and with it the usable runs.
    """
    needed = "" if needed_run_m is None else f"run needed, {needed_run_m:,.0f} m (in the rose)"
    hover: dict[str, Any] = {"linestyle": (0, (4, 2)), "linewidth": 1.8}
    sectors = None if record.hover_point is None else record.hover_point.sectors
    ways = sectors is not None and open_ranges(sectors, TOLD_SLOPES[0])
    entries = (
        (record.longest_run, key_line("longest run", YELLOW, 3.6)),
        (shaded and record.usable_runs, key_line("run to be assessed", BLACK, 1.6)),
        (record.heading_runs and not shaded, key_line("longest run per heading", BLACK, 0.9, alpha=0.55)),
        (record.water_today, key_line("shore today, ground dry beyond it", BLUE, 1.6)),
        (record.hover_point, key_mark("hover point, clear circle", VERMILLION, "P", 11, **hover)),
        (ways, key_line(f"way in or out, clear above {100.0 * TOLD_SLOPES[0]:g} %", BLACK, 3.4)),
        (depths, key_mark("sounding, colour by depth", ORANGE, "o", 7)),
        (next_place(record), key_mark("sound here next", REDDISH_PURPLE, "D", 9)),
        (needed, key_line(needed, VERMILLION, 2.2, linestyle="--")),
    )
    handles = [entry for shown, entry in entries if shown]
    if handles:
        draw_legend(text_axes(figure, *FACTS), handles)
    return len(handles)
