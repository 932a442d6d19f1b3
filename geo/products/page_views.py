"""What a page shows of a region: its relief, waters and surroundings, a run to be seen from the side, a fire from a
file, and a ranking in short while somebody looks for the wind.

Shapes what the stages computed; nothing here decides anything.
"""

import json
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import shapely

from geo.base.errors import BadArgument
from geo.base.geodesy import to_plane
from geo.base.recent import Recent
from geo.records.aircraft import AircraftProfile
from geo.records.conditions import SourceConditions, Weather
from geo.records.document import collection, document, feature, geojson_geometry
from geo.records.geographic_shapes import geographic
from geo.records.geometry import LineM
from geo.records.ranking import RankedSource, Ranking
from geo.records.region import AnnotatedSite, Closure, Obstacle, Region, RegionFrame
from geo.records.station import FillStation
from geo.records.suitability import BodyAssessment, MethodAssessment, Verdict
from geo.records.survey import RegionSurvey

if TYPE_CHECKING:
    from geo.export.drawing.basemap import Relief

MOST_LINE_CORNERS = 500
# Outlines are drawn this coarse; every figure comes from the whole outline.
DRAWN_WITHIN_M = 3.0
# Of that, up to so much comes from the decimals of a degree that are sent: half of 1e-5 degrees, both ways.
DRAWN_DECIMALS, ROUNDED_WITHIN_M = 5, 0.8
# So many obstacles are drawn at most; the assessment counts all.
MOST_OBSTACLES = 20_000

Assess = Callable[
    [Region, RegionSurvey, AircraftProfile, Weather], tuple[tuple[BodyAssessment, SourceConditions], ...]
]


class PageViews:
    """What the pages draw of a region, each made once and kept for the last few regions: hold one of these.

    Parameters: assess, what assesses every water of a survey for an aircraft in the day's weather.
    Notes: a terrain is known by identity, so that levels and closures of the day draw no new relief.
    """

    def __init__(self, assess: Assess) -> None:
        self._assess = assess
        self._reliefs: Recent[Relief] = Recent(4)
        self._contours: Recent[dict] = Recent(4)
        self._waters: Recent[dict] = Recent(3)
        self._verdicts: Recent[dict[str, dict[str, Verdict]]] = Recent(6)

    def relief(self, region: Region) -> "Relief | None":
        """Give the shaded relief of a region's terrain; None without terrain."""
        terrain, plane = region.terrain, region.frame.crs_wkt
        if terrain is None:
            return None
        # Loaded here: the drawing library takes most of a second and only pages draw a background.
        from geo.export.drawing.basemap import relief

        return self._reliefs.get((terrain,), (plane,), lambda: relief(terrain, plane))

    def contours(self, region: Region) -> dict | None:
        """Give the contours of a region's terrain as GeoJSON; None without terrain."""
        terrain, plane = region.terrain, region.frame.crs_wkt
        if terrain is None:
            return None
        from geo.export.drawing.basemap import contours

        return self._contours.get((terrain,), (plane,), lambda: contours(terrain, plane))

    def waters(self, region: Region) -> dict:
        """Give the waters to be drawn as a FeatureCollection: outlines within DRAWN_WITHIN_M, id, name and kind."""
        return self._waters.get((region.bodies,), (region.frame,), lambda: water_outlines(region))

    @staticmethod
    def fires(region: Region) -> dict:
        """Give the region's fires as a FeatureCollection with fire_id and name."""
        fires = region.fires
        return collection(_feature(one.area, region, fire_id=one.fire_id, name=one.name) for one in fires)

    @staticmethod
    def surroundings(region: Region) -> dict:
        """Give what a crew must see beside the water as a FeatureCollection: obstacles, closures, sites, fill
        stations, the base.

        Each has `what`, `name` and `note`, a sentence. obstacles_left_out: how many were too many to be drawn.
        """
        things = [
            *(_obstacle(one, region) for one in region.obstacles[:MOST_OBSTACLES]),
            *(_closure(one, region) for one in region.closures),
            *(_site(one, region) for one in region.sites),
            *(_station(one, region) for one in region.stations),
        ]
        if region.base is not None:
            things.append(
                _feature(region.base.point, region, what="base", name=region.base.name, note="base")
            )
        return collection(things) | {
            "obstacles_listed": region.obstacles_listed,
            "obstacles_left_out": max(0, len(region.obstacles) - MOST_OBSTACLES),
        }

    def verdicts(
        self, region: Region, survey: RegionSurvey, profile: AircraftProfile, weather: Weather
    ) -> dict[str, dict[str, Verdict]]:
        """Give for every water body the verdict of each fill method of the aircraft: body id -> method -> verdict.

        Notes: kept for the last few questions, each exactly as asked: a rounded wind could hide a limit that is broken.
        Raises: BadArgument for weather out of range.
        """

        def assessed() -> dict[str, dict[str, Verdict]]:
            pairs = zip(survey.bodies, self._assess(region, survey, profile, weather), strict=True)
            return {
                body.body_id: {one.method: one.verdict for one in found.methods} for body, (found, _) in pairs
            }

        return self._verdicts.get((region, survey), (profile, weather), assessed)


def run_line(frame: RegionFrame, corners_deg: Sequence[tuple[float, float]]) -> LineM:
    """Give the line in the region's plane [m] of a run's corners, longitude and latitude [deg], in the order flown.

    Raises: BadArgument for fewer than 2 or more than MOST_LINE_CORNERS corners, or one that is no place on Earth.
    """
    if not 2 <= len(corners_deg) <= MOST_LINE_CORNERS:
        raise BadArgument(
            f"line has {len(corners_deg)} corners. Fix: give 2 to {MOST_LINE_CORNERS} as longitude latitude, ..."
        )
    longitude, latitude = np.array(corners_deg, float).T
    if not (
        np.isfinite(longitude).all() and (np.abs(latitude) <= 90.0).all() and (np.abs(longitude) <= 360).all()
    ):
        raise BadArgument("line: a corner is no longitude latitude in degrees. Fix: longitude first")
    return shapely.LineString(np.column_stack(to_plane(frame.crs_wkt, longitude, latitude)))


def short_answer(ranking: Ranking, region: Region, *, brief: bool = False) -> dict:
    """Give a ranking in short: what is left out has its reason and no criteria; what was not evaluated is counted.

    Parameters: brief, of each source only what a list and a map show of it, under the same names and in the same place;
    a wind that is dragged asks so often that writing the rest would cost as much as ranking.
    """
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
        "assessment": _verdict(source.assessment)
        | {
            name: getattr(source.assessment, name)
            for name in ("litres_ruled_by", "agent", "fill_point", "ways")
        },
        "other_methods": [_verdict(one) for one in source.other_methods],
        "cycle": {
            "method": cycle.method,
            "litres": cycle.litres,
            "litres_per_hour": cycle.litres_per_hour,
            "round_trip_s": cycle.round_trip_s,
            "loaded_leg": {"route": cycle.loaded_leg.route},
            "empty_leg": {"route": cycle.empty_leg.route},
        },
        "fuel": {
            "sustained_litres_per_hour": source.fuel.sustained_litres_per_hour,
            "loads": source.fuel.loads,
            "hours": source.fuel.hours,
        },
        "run_line": source.run_line,
        "cautions": source.cautions,
    }
    return _plain(parts, region)


def _verdict(assessment: MethodAssessment) -> dict:
    return {"method": assessment.method, "verdict": assessment.verdict}


def water_outlines(region: Region) -> dict:
    """Give the outlines of the waters as a FeatureCollection, within DRAWN_WITHIN_M, with id, name and kind."""
    shapes = shapely.simplify([body.polygon for body in region.bodies], DRAWN_WITHIN_M - ROUNDED_WITHIN_M)
    outlines = (shapely.transform(geographic(one, region.frame), _rounded) for one in shapes)
    return collection(
        feature(json.loads(shapely.to_geojson(outline)), body_id=body.body_id, name=body.name, kind=body.kind)
        for outline, body in zip(outlines, region.bodies, strict=True)
    )


def _rounded(coordinates_deg: np.ndarray) -> np.ndarray:
    return np.round(coordinates_deg, DRAWN_DECIMALS)


def _obstacle(obstacle: Obstacle, region: Region) -> dict:
    kind = obstacle.kind
    if obstacle.height_above_ground_m is not None:
        note = f"{kind}, {obstacle.height_above_ground_m:.0f} m above the ground"
    elif obstacle.top_elevation_m is not None:
        note = f"{kind}, top at {obstacle.top_elevation_m:.0f} m"
    else:
        note = f"{kind}, height unknown"
    what = "wire" if shapely.length(obstacle.shape) > 0 else "obstacle"
    return _feature(obstacle.shape, region, what=what, name=obstacle.name or kind, note=note)


def _closure(closure: Closure, region: Region) -> dict:
    first, last, note = closure.valid_from, closure.valid_to, closure.reason
    if first or last:
        note += f", {first or 'now'} to {last or 'further notice'}"
    return _feature(closure.area, region, what=closure.kind, name=closure.name, note=note)


def _site(site: AnnotatedSite, region: Region) -> dict:
    note = ". ".join(words for words in (site.status, site.note, site.hazards, site.wires) if words)
    known = {"site_id": site.site_id, "status": site.status}
    return _feature(site.point, region, what="site", name=site.name, **known, note=note)


def _station(station: FillStation, region: Region) -> dict:
    kind, agent = station.kind or "kind unknown", station.agent or "contents unknown"
    note = ". ".join(words for words in (f"{kind}, {agent}", station.note) if words)
    known = {"station_id": station.station_id, "agent": agent}
    return _feature(station.point, region, what="fill station", name=station.name, **known, note=note)


def _feature(shape: shapely.Geometry, region: Region, **properties: str) -> dict:
    return feature(geojson_geometry(shape, region.frame), **properties)
