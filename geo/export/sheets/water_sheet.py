"""The sheet of one water: map, run with both ends, hover point, depth, wires, permission, dates of the evidence."""

from collections.abc import Callable
from datetime import date

import shapely

from geo.base.positions import (
    bearing_text,
    decimal_degrees,
    degrees_minutes,
    true_and_magnetic,
    utm_text,
)
from geo.base.unit_system import TRADE, UnitSystem
from geo.export.hover_ways import TOLD_SLOPES, open_words, outermost
from geo.export.place_text import variation
from geo.export.sheets.best_run import SURE, best_run, end_rank
from geo.export.sheets.paper import LEAST_WHOLE_PT, TYPE_SIZES_PT, Spare, one_page
from geo.export.sheets.place_notes import hazards, leave_and_notes
from geo.export.sheets.ranking_sheet import WARNING
from geo.export.sheets.side_drawing import SIDE_KEY, side_drawing
from geo.export.sheets.water_map import MAP_HEIGHTS_IN, MAP_KEY, water_map
from geo.export.subjects import water_of
from geo.records.file_formats import Paper
from geo.records.geographic_shapes import geographic
from geo.records.region import Region, RegionFrame
from geo.records.side_view import SideView
from geo.records.survey import BodySurvey, EndClearance, LeastDepth, Run

NOTED_DEPTH_M = 2.0  # the depth whose levels are printed
OTHER_RUNS = 3
Facts = list[tuple[str, str]]


def water_sheet(
    region: Region,
    record: BodySurvey,
    cautions: tuple[str, ...],
    *,
    side: SideView | None = None,
    paper: Paper = "A4",
    units: UnitSystem = TRADE,
    day: date | None = None,
    version: str = "",
) -> bytes:
    """Give the sheet of one surveyed water body as a PDF of one page.

    Parameters: cautions, those that every sheet carries; side, the run of `best_run` in side view; day, for magnetic
    headings and closures in force; version, words on when and from what it was made.
    Raises: BadArgument when the region has no such water, or for another paper.
    """
    body = water_of(region, record)
    run, frame = best_run(record), region.frame
    usual_in, *lower_in = MAP_HEIGHTS_IN.get(paper, MAP_HEIGHTS_IN["Letter"])
    values = {
        "title": record.name,
        "kind": f"{record.kind}, {record.area_m2 / 1e4:,.1f} ha, id {record.body_id}",
        "region": region.name,
        "evidence": _evidence_day(record, run),
        "warning": WARNING,
        "map": water_map(region, body, record, run, usual_in),
        "map_key": MAP_KEY,
        "side": None if side is None else side_drawing(side),
        "side_key": SIDE_KEY,
        "places": _places(frame, record, run),
        "run": _run_facts(frame, record, run, units, day),
        "hover": _hover_facts(frame, record, units, day),
        "water": _water_facts(frame, record, units),
        "hazards": hazards(region, body, record, units, day),
        "sites": leave_and_notes(region, body, units),
        "cautions": cautions,
        "foot": _foot(region, version, units, day),
    }

    def lower(height_in: float) -> Callable[[], dict]:
        return lambda: {"map": water_map(region, body, record, run, height_in)}

    spared: list[Spare] = []
    if values["side"] is not None:
        spared += [(lower(height), LEAST_WHOLE_PT) for height in lower_in]
        spared.append((lower(lower_in[-1]), TYPE_SIZES_PT[-1]))
    spared.append((lambda: {"side": None}, TYPE_SIZES_PT[-1]))
    return one_page("water.html", values, paper, spared)


def _evidence_day(record: BodySurvey, run: Run | None) -> str:
    hover = record.hover_point
    depths = ([] if run is None else [run.depth]) + ([] if hover is None else [hover.depth])
    if not any(one.quantiles_m is not None for one in depths):
        return "depth UNKNOWN"
    days = [one.oldest_on for one in depths if one.oldest_on is not None]
    return f"depth evidence of {min(days).isoformat() if days else 'an unknown date'}"


def _foot(region: Region, version: str, units: UnitSystem, day: date | None) -> str:
    parts = [version, f"input {region.fingerprint[:12]}", "positions WGS 84"]
    parts.append("bearings true" if day is None else f"bearings true (T), magnetic (M) on {day}")
    return "; ".join(part for part in (*parts, units.sentences) if part)


def _places(frame: RegionFrame, record: BodySurvey, run: Run | None) -> list[tuple[str, str, str, str]]:
    """List name, decimal minutes, decimal degrees and UTM of each place that somebody may fly to."""
    points = []
    if run is not None:
        points += [(f"end {n}", shapely.get_point(run.line, i)) for n, i in (("A", 0), ("B", -1))]
        points += [] if run.depth.shallowest is None else [("shallowest on A-B", run.depth.shallowest)]
    if record.hover_point is not None:
        points.append(("hover point", record.hover_point.point))
        points += [(f"hover, {name}", one.point) for name, one in outermost(record)]
    if record.next_sounding is not None and record.next_sounding.point is not None:
        points.append(("sound next", record.next_sounding.point))
    shown = ((name, geographic(point, frame)) for name, point in points)
    return [
        (name, degrees_minutes(at.x, at.y), decimal_degrees(at.x, at.y), utm_text(at.x, at.y))
        for name, at in shown
    ]


def _depth(depth: LeastDepth, units: UnitSystem) -> str:
    sure = depth.depth_with_confidence_m(SURE)
    if sure is None:
        return f"UNKNOWN: {depth.reason}"
    when = "of unknown date" if depth.oldest_on is None else f"oldest {depth.oldest_on}"
    level = "" if depth.level_known else "; LEVEL TODAY UNKNOWN"
    return f"at least {_at_least(sure, units)} everywhere with 95 % probability ({depth.data_class}, {when}){level}"


def _at_least(depth_m: float, units: UnitSystem) -> str:
    """Give a depth rounded down: what is printed must hold."""
    step = units.depth.size / 10**units.depth.decimals
    return units.depth.text(int(max(depth_m, 0.0) / step + 1e-9) * step)


def _end(end: EndClearance) -> str:
    unknown = f"; no height known of {', '.join(end.unknown_heights)}" if end.unknown_heights else ""
    return f"{('NOT CLEAR', 'UNKNOWN', 'clear')[end_rank(end)]}: {end.what}{unknown}"


def _variation(frame: RegionFrame, place: shapely.Point, day: date | None) -> tuple[float | None, str]:
    """Give the variation [deg] and words on it; None without a day, or where the model does not hold."""
    if day is None:
        return None, "no day given: no magnetic headings"
    found, why = variation(geographic(place, frame), day)
    if found is None:
        return None, f"no magnetic headings: {why}"
    side = "east" if found >= 0.0 else "west"
    return found, f"{abs(found):.1f}° {side} on {day} (World Magnetic Model 2025)"


def _run_facts(
    frame: RegionFrame, record: BodySurvey, run: Run | None, units: UnitSystem, day: date | None
) -> Facts:
    if run is None:
        return [
            ("run", "none: " + ("; ".join(record.remarks[:1]) or "no straight run with the corridor fits"))
        ]
    variation_deg, variation = _variation(frame, run.line.centroid, day)
    width = units.length.text(run.corridor_width_m)
    ahead, back = (true_and_magnetic(run.heading_true_deg + turn, variation_deg) for turn in (0.0, 180.0))
    return [
        ("length", f"{units.length.text(run.length_m)}, straight, clear width {width}"),
        ("enter at A", f"heading {ahead}, lift off at B"),
        ("enter at B", f"heading {back}, lift off at A"),
        *([("variation", variation)] if day is not None else []),
        ("depth", _depth(run.depth, units)),
        ("beyond A", _end(run.start_end)),
        ("beyond B", _end(run.end_end)),
        *([("limited by", run.limited_by)] if run.limited_by else []),
        *_other_runs(record, run, units),
    ]


def _other_runs(record: BodySurvey, run: Run, units: UnitSystem) -> Facts:
    """List some other runs, the deepest for sure first: a shorter one may be deep where the first is not."""
    others = [one for one in record.usable_runs if one is not run]
    others.sort(key=lambda one: one.depth.depth_with_confidence_m(SURE) or -1.0, reverse=True)
    words = []
    for one in others[:OTHER_RUNS]:
        sure = one.depth.depth_with_confidence_m(SURE)
        depth = "depth UNKNOWN" if sure is None else f"{_at_least(sure, units)} deep"
        headings = f"{bearing_text(one.heading_true_deg)}/{bearing_text(one.heading_true_deg + 180.0)}"
        words.append(f"{units.length.text(one.length_m)} {headings} {depth}")
    return [("other runs", "; ".join(words))] if words else []


def _hover_facts(frame: RegionFrame, record: BodySurvey, units: UnitSystem, day: date | None) -> Facts:
    hover = record.hover_point
    if hover is None:
        return [("hover point", "none found")]
    facts = [
        ("clear radius", f"{units.length.text(hover.clear_radius_m)} to {hover.limited_by}"),
        ("depth", _depth(hover.depth, units)),
    ]
    variation_deg, _ = _variation(frame, hover.point, day)
    for number, slope in enumerate(TOLD_SLOPES):
        words = f"clear above {100.0 * slope:g} %: {open_words(hover, slope, frame, variation_deg)}"
        facts.append(("" if number else "ways in and out", words))
    if len(record.hover_points) > 1:
        facts.append(("more places", f"{len(record.further_hover_points)} kept for fires on other sides"))
    if hover.unknown_heights:
        facts.append(("heights UNKNOWN", ", ".join(hover.unknown_heights)))
    return facts


def _water_facts(frame: RegionFrame, record: BodySurvey, units: UnitSystem) -> Facts:
    change, surface = record.level_change_m, record.surface_elevation_m
    level = f"UNKNOWN: {change.origin}"
    if change.value is not None:
        level = f"{change.value:+.1f} m relative to the depth data ({change.origin})"
    facts = [
        ("surface", f"{units.height.text(surface.value)} ({surface.origin})"),
        ("level today", level),
        ("salt", record.salinity_class or f"UNKNOWN: {record.salinity_reason}"),
    ]
    facts += [
        (f"for {NOTED_DEPTH_M:g} m", one.sentence)
        for one in record.level_outlooks
        if one.required_m == NOTED_DEPTH_M
    ]
    return facts + [("note", text) for text in record.remarks[:2]]
