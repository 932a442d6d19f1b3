"""What a page shows of a region: its relief, waters and surroundings, a run in side view, a fire from a file, and the
answer in short while somebody looks for the wind.

Joins the stages for looking only; nothing here decides anything.
"""

import json
from collections.abc import Iterable, Sequence
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import numpy as np
import shapely

from geo import pipeline
from geo.base.errors import BadArgument
from geo.base.geodesy import to_plane
from geo.base.grid import Grid
from geo.base.recent import Recent
from geo.export.drawing import basemap
from geo.export.formats.document import document, geojson_geometry
from geo.ingest.layers.fires import read_fire, simplified
from geo.records.aircraft import AircraftProfile
from geo.records.conditions import Weather
from geo.records.extras import Target
from geo.records.geographic_shapes import geographic
from geo.records.ranking import RankedSource
from geo.records.region import Fire, Region
from geo.records.side_view import SideView
from geo.records.suitability import MethodAssessment, Verdict
from geo.records.survey import RegionSurvey
from geo.survey.side_view import side_view

MOST_LINE_CORNERS = 500
# Outlines are drawn this coarse; every figure comes from the whole outline.
DRAWN_WITHIN_M = 3.0
# Of that, up to so much comes from the decimals of a degree that are sent: half of 1e-5 degrees, both ways.
DRAWN_DECIMALS, ROUNDED_WITHIN_M = 5, 0.8
# A browser sends the fire with every question: more corners would make dragging slow.
MOST_FIRE_CORNERS = 2_000
# So many obstacles are drawn at most; the judgement counts all.
MOST_OBSTACLES = 20_000
_waters: Recent[dict] = Recent(3)
_verdicts: Recent[dict[str, dict[str, str]]] = Recent(6)


def relief(region: Region) -> basemap.Relief | None:
    """Give the shaded relief of a region's terrain, drawn once; None without terrain."""
    return None if region.terrain is None else _relief(region.terrain, region.frame.crs_wkt)


def contours(region: Region) -> dict | None:
    """Give the contours of a region's terrain as GeoJSON, drawn once; None without terrain."""
    return None if region.terrain is None else _contours(region.terrain, region.frame.crs_wkt)


# A terrain compares by identity: levels and closures of the day change the region, not its ground.
@lru_cache(maxsize=4)
def _relief(terrain: Grid, crs_wkt: str) -> basemap.Relief:
    return basemap.relief(terrain, crs_wkt)


@lru_cache(maxsize=4)
def _contours(terrain: Grid, crs_wkt: str) -> dict:
    return basemap.contours(terrain, crs_wkt)


def run_from_side(
    region: Region, survey: RegionSurvey, body_id: str, corners_deg: Sequence[tuple[float, float]]
) -> SideView:
    """Give one run of a water body in side view.

    Parameters: corners_deg, the run's corners as longitude, latitude [deg], in the order flown.
    Raises: BadArgument for an unknown water body or a line that is none of its runs.
    """
    surveyed = next((one for one in survey.bodies if one.body_id == body_id), None)
    if surveyed is None:
        raise BadArgument(f"no water body {body_id!r}. Fix: /water-bodies lists them")
    if not 2 <= len(corners_deg) <= MOST_LINE_CORNERS:
        raise BadArgument(
            f"line has {len(corners_deg)} corners. Fix: give 2 to {MOST_LINE_CORNERS} as longitude latitude, ..."
        )
    longitude, latitude = np.array(corners_deg, float).T
    if not (
        np.isfinite(longitude).all() and (np.abs(latitude) <= 90.0).all() and (np.abs(longitude) <= 360).all()
    ):
        raise BadArgument("line: a corner is no longitude latitude in degrees. Fix: longitude first")
    line = shapely.LineString(np.column_stack(to_plane(region.frame.crs_wkt, longitude, latitude)))
    water = next(one for one in region.bodies if one.body_id == body_id)
    return side_view(
        line,
        water,
        surveyed,
        region.terrain,
        region.obstacles,
        region.soundings,
        region.depth_grid,
        survey.settings,
    )


def fire_file(path: Path, region: Region) -> dict:
    """Read a fire's outline from a file of a user and give it as GeoJSON with a note on what was done to it.

    Raises: BadInput with every fault when the file cannot be used.
    """
    fire, moved_m = simplified(read_fire(path, region), MOST_FIRE_CORNERS)
    notes = list(fire.cautions)
    if moved_m:
        notes.append(
            f"The outline had more than {MOST_FIRE_CORNERS:,} corners; it was simplified and moved by {moved_m:,.0f} m "
            "at most."
        )
    note = " ".join(notes) or None
    return {"name": fire.name, "geometry": geojson_geometry(fire.area, region.frame), "note": note}


def quick_answer(
    region: Region,
    survey: RegionSurvey,
    fire: Fire,
    profile: AircraftProfile,
    weather: Weather,
    *,
    top: int | None = None,
    target: Target | None = None,
    brief: bool = False,
) -> dict:
    """Rank as `pipeline.rank`, quickly, and give the answer in short: what is left out has its reason, no criteria.

    Parameters: brief, of each source only what a list and a map show of it, under the same names and in the same place;
    a wind that is dragged asks so often that writing the rest would cost as much as ranking.

    Notes: ways round high ground are not sought, which takes nearly all of a whole ranking's time; sources that were
    passed over are counted, not listed.

    Raises: BadArgument as `pipeline.rank`.
    """
    ranking = pipeline.rank(region, survey, fire, profile, weather, top=top, target=target, quick=True)
    excluded = tuple(replace(one, assessments=()) for one in ranking.excluded)
    short = replace(ranking, excluded=excluded, unrefined=())
    if not brief:
        return _plain(short, region)
    answer = _plain(replace(short, sources=()), region)
    return answer | {"brief": True, "sources": [_listed(one, region) for one in ranking.sources]}


def _plain(record: object, region: Region) -> dict:
    answer = document(record, region.frame)
    assert isinstance(answer, dict)
    return answer


def _listed(source: RankedSource, region: Region) -> dict:
    """Give of a ranked source what a list and a map show of it."""
    cycle = source.cycle
    parts = {
        "rank": source.rank,
        "body_id": source.body_id,
        "name": source.name,
        "assessment": _verdict(source.assessment) | {"litres_ruled_by": source.assessment.litres_ruled_by},
        "other_methods": [_verdict(one) for one in source.other_methods],
        "cycle": {
            "method": cycle.method,
            "litres": cycle.litres,
            "litres_per_hour": cycle.litres_per_hour,
            "round_trip_s": cycle.round_trip_s,
            "loaded_leg": {"route": cycle.loaded_leg.route},
            "empty_leg": {"route": cycle.empty_leg.route},
        },
        "run_line": source.run_line,
        "cautions": source.cautions,
    }
    return _plain(parts, region)


def _verdict(assessment: MethodAssessment) -> dict:
    return {"method": assessment.method, "verdict": assessment.verdict}


def verdicts(
    region: Region, survey: RegionSurvey, profile: AircraftProfile, weather: Weather
) -> dict[str, dict[str, Verdict]]:
    """Give for every water body the verdict of each fill method of the aircraft: body id -> method -> verdict.

    Notes: kept for the last few questions, each exactly as asked: a rounded wind could hide a limit that is broken.
    Raises: BadArgument for weather out of range.
    """

    def judged() -> dict[str, dict[str, Verdict]]:
        return {
            body.body_id: {one.method: one.verdict for one in judgement.methods}
            for body, (judgement, _) in zip(
                survey.bodies, pipeline.assess(region, survey, profile, weather), strict=True
            )
        }

    return _verdicts.get((region, survey), (profile, weather), judged)


def waters(region: Region) -> dict:
    """Give the water bodies to be drawn as a FeatureCollection: outlines within DRAWN_WITHIN_M, id, name and kind."""

    def drawn() -> dict:
        shapes = shapely.simplify([body.polygon for body in region.bodies], DRAWN_WITHIN_M - ROUNDED_WITHIN_M)
        outlines = (shapely.transform(geographic(one, region.frame), _rounded) for one in shapes)
        return _collection(
            {
                "type": "Feature",
                "geometry": json.loads(shapely.to_geojson(outline)),
                "properties": {"body_id": body.body_id, "name": body.name, "kind": body.kind},
            }
            for outline, body in zip(outlines, region.bodies, strict=True)
        )

    return _waters.get((region.bodies,), (region.frame,), drawn)


def _rounded(coordinates_deg: np.ndarray) -> np.ndarray:
    return np.round(coordinates_deg, DRAWN_DECIMALS)


def fires(region: Region) -> dict:
    """Give the region's fires as a FeatureCollection with fire_id and name."""
    return _collection(_feature(one.area, region, fire_id=one.fire_id, name=one.name) for one in region.fires)


def surroundings(region: Region) -> dict:
    """Give what a crew must see beside the water as a FeatureCollection: obstacles, closures, sites, the base.

    Each has `what`, `name` and `note`, a sentence. obstacles_left_out: how many were too many to be drawn.
    """
    things = [
        *(
            _feature(one.shape, region, what="wire" if one.shape.length > 0 else "obstacle", name=one.name or one.kind,
                     note=_height_words(one.top_elevation_m, one.height_above_ground_m, one.kind))
            for one in region.obstacles[:MOST_OBSTACLES]
        ),
        *(
            _feature(one.area, region, what=one.kind, name=one.name, note=_closure_words(one.reason, one.valid_from,
                                                                                         one.valid_to))
            for one in region.closures
        ),
        *(
            _feature(one.point, region, what="site", name=one.name, site_id=one.site_id, status=one.status,
                     note=". ".join(words for words in (one.status, one.note, one.hazards, one.wires) if words))
            for one in region.sites
        ),
    ]  # fmt: skip
    if region.base is not None:
        things.append(_feature(region.base.point, region, what="base", name=region.base.name, note="base"))
    left_out = max(0, len(region.obstacles) - MOST_OBSTACLES)
    return _collection(things) | {
        "obstacles_listed": region.obstacles_listed,
        "obstacles_left_out": left_out,
    }


def _height_words(top_m: float | None, above_ground_m: float | None, kind: str) -> str:
    if above_ground_m is not None:
        return f"{kind}, {above_ground_m:.0f} m above the ground"
    return f"{kind}, top at {top_m:.0f} m" if top_m is not None else f"{kind}, height unknown"


def _closure_words(reason: str, first: object, last: object) -> str:
    days = f"{first or 'now'} to {last or 'further notice'}"
    return f"{reason}, {days}" if first or last else reason


def _feature(shape: shapely.Geometry, region: Region, **properties: str) -> dict:
    return {
        "type": "Feature",
        "geometry": geojson_geometry(shape, region.frame),
        "properties": properties,
    }


def _collection(features: Iterable[dict]) -> dict:
    return {"type": "FeatureCollection", "features": list(features)}
