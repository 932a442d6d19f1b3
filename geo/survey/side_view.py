"""A run in side view: what the picture of one run shows. It draws; the verdict is judged cell by cell elsewhere."""

from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from geo.base.errors import BadArgument
from geo.base.geodesy import grid_heading_deg
from geo.base.grid import Grid
from geo.base.named import find_named
from geo.records.region import Obstacle, Region, WaterBody
from geo.records.side_view import SideView, Standing
from geo.records.survey import BodySurvey, RegionSurvey, SurveySettings
from geo.survey.clearance import Fan, obstacle_label
from geo.survey.depth_picture import depth_picture

STATIONS_BEYOND = 121  # beyond each end
STATIONS_ALONG = 101  # over the water
STATIONS_ACROSS = 25
NOTE = (
    "sampled to be drawn: highest ground across the surface's width at each station; the verdict counts every cell "
    "with the terrain's error"
)


def side_view_of(
    region: Region, survey: RegionSurvey, record: BodySurvey, line: shapely.LineString
) -> SideView:
    """Give a run of a surveyed water in side view, flown from the line's first point to its last.

    Parameters: line, the run [m]; the surfaces go straight on beyond both ends.
    Raises: BadArgument for a water that the region has not, or a line that does not touch it.
    """
    body, terrain, settings = find_named(region.bodies, record.body_id), region.terrain, survey.settings
    if line.is_empty or not line.length > 0.0 or not line.intersects(body.polygon):
        raise BadArgument(f"the line does not cross {body.name}. Fix: give a run of this water")
    before, after = _fan(line, settings, reverse=True), _fan(line, settings, reverse=False)
    beyond = np.linspace(0.0, settings.end_look_m, STATIONS_BEYOND)
    on = np.linspace(0.0, line.length, STATIONS_ALONG)
    middle = shapely.get_coordinates(shapely.line_interpolate_point(line, on))
    along = np.concatenate((-beyond[:0:-1], on, line.length + beyond[1:]))
    over = np.full(len(middle), np.nan) if terrain is None else terrain.bilinear(*middle.T)
    behind, ahead = _heights(terrain, before, beyond), _heights(terrain, after, beyond)
    ground, highest = (
        np.concatenate((back[:0:-1], over, fore[1:])) for back, fore in zip(behind, ahead, strict=True)
    )
    depth, sd, origin = _depth(body, region, settings, middle)
    run = (
        float(line.length),
        record.surface_elevation_m.value,
        settings.surface_slope,
        settings.corridor_width_m,
    )
    land = tuple(along.tolist()), _known(ground), _known(highest)
    standing = tuple(_standing(region.obstacles, line, before, after, terrain))
    known = np.isfinite(depth).any()
    bed = (tuple(on.tolist()), _known(depth), _known(sd)) if known else ((), (), ())
    return SideView(*run, *land, standing, *bed, origin, NOTE)


def _fan(line: shapely.LineString, settings: SurveySettings, *, reverse: bool) -> Fan:
    ends = shapely.get_coordinates(line)
    ends = ends[::-1] if reverse else ends
    heading = grid_heading_deg(tuple(ends[-2]), tuple(ends[-1]))
    half_m = settings.corridor_width_m / 2.0
    return Fan(tuple(ends[-1]), heading, half_m, settings.surface_divergence, settings.end_look_m)


def _heights(terrain: Grid | None, fan: Fan, beyond_m: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Give the ground [m] on the middle line and the highest across the surface; the highest skips unknown cells."""
    if terrain is None:
        unknown = np.full(beyond_m.size, np.nan)
        return unknown, unknown
    east, north = fan.direction
    half_m = fan.half_width_m + fan.divergence * beyond_m
    across = np.linspace(-1.0, 1.0, STATIONS_ACROSS)[None, :] * half_m[:, None]
    x = fan.end[0] + beyond_m[:, None] * east + across * north
    y = fan.end[1] + beyond_m[:, None] * north - across * east
    heights = terrain.nearest(x, y)
    highest = np.where(np.isnan(heights), -np.inf, heights).max(axis=1)
    return heights[:, STATIONS_ACROSS // 2], np.where(np.isfinite(highest), highest, np.nan)


def _depth(
    body: WaterBody, region: Region, settings: SurveySettings, places: np.ndarray
) -> tuple[np.ndarray, np.ndarray, str]:
    picture = depth_picture(body, region.soundings, region.depth_grid, settings)
    if picture is None:
        unknown = np.full(len(places), np.nan)
        return unknown, unknown, "nobody measured the bed along this run"
    mean, sd = (grid.nearest(places[:, 0], places[:, 1]) for grid in (picture.mean, picture.sd))
    return mean, sd, picture.origin


def _standing(
    obstacles: Sequence[Obstacle], line: shapely.LineString, before: Fan, after: Fan, terrain: Grid | None
) -> list[Standing]:
    """Give the obstacles over the corridor and in both surfaces, each at its nearest place along the run."""
    corridor = line.buffer(after.half_width_m, cap_style="flat")
    found = []
    for obstacle in obstacles:
        for area, fan, sign, start in (
            (before.outline, before, -1.0, 0.0),
            (corridor, None, 1.0, 0.0),
            (after.outline, after, 1.0, line.length),
        ):
            part = shapely.intersection(obstacle.shape, area)
            if part.is_empty:
                continue
            nearest = line.project(part.centroid)
            if fan is not None:
                nearest = float(fan.nearest_along_m(np.array([part], object))[0])
            top_m = _top_m(obstacle, part, terrain)
            found.append(Standing(obstacle_label(obstacle), start + sign * nearest, top_m))
            break
    return found


def _top_m(obstacle: Obstacle, part: BaseGeometry, terrain: Grid | None) -> float | None:
    if obstacle.top_elevation_m is not None:
        return obstacle.top_elevation_m
    if obstacle.height_above_ground_m is None or terrain is None:
        return None
    places = shapely.get_coordinates(part)
    ground = terrain.bilinear(places[:, 0], places[:, 1])
    return None if np.isnan(ground).any() else float(ground.max()) + obstacle.height_above_ground_m


def _known(values: np.ndarray) -> tuple[float | None, ...]:
    return tuple(None if np.isnan(value) else round(float(value), 2) for value in values)
