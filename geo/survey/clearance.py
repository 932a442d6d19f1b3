"""What stands in the way beyond the end of a run: terrain and obstacles against a rising surface."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from geo.base.grid import Grid
from geo.records.region import Obstacle
from geo.records.survey import (
    LATER_COUNT,
    LATER_STEP_M,
    LEVEL_HEIGHT_M,
    EndClearance,
    SurveySettings,
)
from geo.survey.fan import Fan
from geo.survey.ground import GroundHeights, cells_across, cells_in

# Nearer than this a thing counts as standing this far away when a slope is computed: no slope clears a wall at 0 m.
LEAST_SLOPE_DISTANCE_M = 1.0


@dataclass(frozen=True)
class Hindrance:
    """Something in the fan: its top [m, elevation] at a distance [m] beyond the end, as parallel arrays."""

    label: str
    top_m: np.ndarray
    along_m: np.ndarray


@dataclass(frozen=True)
class Surroundings:
    """All that can stand beyond the ends of one water body's runs, made ready once for many ends."""

    ground: GroundHeights
    obstacles: tuple[Obstacle, ...]
    obstacles_listed: bool
    settings: SurveySettings

    @cached_property
    def _shapes(self) -> np.ndarray:
        return np.array([obstacle.shape for obstacle in self.obstacles], dtype=object)

    def beyond(
        self, end: tuple[float, float], heading_grid_deg: float, slope: float | None = None
    ) -> EndClearance:
        """Give what stands above the surface beyond one end of a run, or by how much all is below it.

        Parameters: end (easting_m, northing_m); heading_grid_deg away from the run, clockwise from grid north; slope of
        the surface, None is the settings' surface_slope.
        Returns: EndClearance; excess_m [m], distance_m [m] along the heading.

        Notes: The surface starts at the run's end at water level, half the corridor wide to each side, diverges by
        surface_divergence and rises by surface_slope as far as end_look_m. No cell is sampled away: every cell that
        touches the trapezoid counts, with its value plus the terrain's error over its whole area, judged at the part
        nearest to the end. Cells wholly in the water body count as water; of a cell on the shore only the land part
        counts, from where it begins, at the cell's full value. This never understates what the terrain holds, and
        overstates by at most slope x cell size. An obstacle counts at its stated top, else at ground + terrain error +
        height; a span of wire hangs at its height above the highest ground under the part in the fan and at both its
        ends. An obstacle without a height, or whose ground is unknown, is listed in unknown_heights and does not enter
        excess_m. Missing terrain makes the answer unknown (None), unless something known breaks the surface already.
        Where only water lies ahead excess_m is -slope x end_look_m. steepest_slope is None while anything is unknown,
        and counts things nearer than 1 m as 1 m away.
        References: 14 CFR Part 77, heliport imaginary surfaces: approach surface 8:1 over 4,000 ft (1,219 m).
        """
        chosen = self.settings
        half_m = chosen.corridor_width_m / 2.0
        fan = Fan(end, heading_grid_deg, half_m, chosen.surface_divergence, chosen.end_look_m)
        terrain, gap = self._terrain(fan)
        hindrances, unknown = self._obstacles(fan)
        slope = slope if slope is not None else chosen.surface_slope
        return _judge(self, fan, [*terrain, *hindrances], unknown, gap, slope)

    def _terrain(self, fan: Fan) -> tuple[list[Hindrance], str | None]:
        """Give the land cells in the fan and, where the terrain says nothing, why and from where."""
        ground, mask = self.ground, self.ground.mask
        if mask is None:
            return [], "no terrain was given"
        cells = cells_across(mask.terrain, fan)
        cover = mask.cover(cells.row, cells.column)
        near_m = cells.near_m.copy()
        shore = np.flatnonzero(cover == mask.SHORE)
        if shore.size:
            land = fan.outline.difference(ground.water)
            boxes = mask.boxes(cells.row[shore], cells.column[shore])
            near_m[shore] = np.maximum(near_m[shore], fan.nearest_along_m(shapely.intersection(boxes, land)))
        counted = (cover != mask.WATER) & np.isfinite(near_m)
        top_m = mask.terrain.values[cells.row, cells.column][counted].astype(float) + ground.error_m
        near_m = near_m[counted]
        blank = np.isnan(top_m)
        gap = _gap(ground, mask.terrain, fan, near_m[blank])
        return [Hindrance(ground.what, top_m[~blank], near_m[~blank])], gap

    def _obstacles(self, fan: Fan) -> tuple[list[Hindrance], tuple[str, ...]]:
        """Give the obstacles in the fan, and the names of those whose top is unknown."""
        if not self.obstacles:
            return [], ()
        hindrances: list[Hindrance] = []
        unknown: list[str] = []
        for i in np.flatnonzero(shapely.intersects(self._shapes, fan.outline)):
            obstacle = self.obstacles[i]
            found = _obstacle_tops(obstacle, fan, self.ground)
            if isinstance(found, str):
                unknown.append(f"{obstacle_label(obstacle)}{found}")
            else:
                hindrances.append(found)
        return hindrances, tuple(unknown)


def surroundings(
    ground: GroundHeights, obstacles: Sequence[Obstacle], obstacles_listed: bool, settings: SurveySettings
) -> Surroundings:
    """Make ready what end clearances of one water body need; obstacles out of reach are dropped here."""
    west, south, east, north = ground.water.bounds
    # A fan reaches end_look_m along and half its outer width across; a box with the sum on all sides holds it.
    reach_m = settings.end_look_m * (1.0 + settings.surface_divergence) + settings.corridor_width_m
    near = obstacles
    if len(obstacles) > 0:
        box = shapely.box(west - reach_m, south - reach_m, east + reach_m, north + reach_m)
        shapes = np.array([obstacle.shape for obstacle in obstacles], dtype=object)
        near = [obstacles[int(i)] for i in np.flatnonzero(shapely.intersects(shapes, box))]
    return Surroundings(ground, tuple(near), obstacles_listed, settings)


def obstacle_label(obstacle: Obstacle) -> str:
    """Name an obstacle for a person: kind, identifier, and its name where it has another one."""
    label = f"{obstacle.kind or 'obstacle'} {obstacle.obstacle_id}"
    told = not obstacle.name or obstacle.name in (obstacle.obstacle_id, obstacle.kind)
    return label if told else f"{label} ({obstacle.name})"


def length_words(length_m: float) -> str:
    """Say a distance: whole metres below 1 km, tenths of a kilometre above."""
    return f"{length_m:.0f} m" if length_m < 999.5 else f"{length_m / 1000.0:.1f} km"


def _gap(ground: GroundHeights, terrain: Grid, fan: Fan, blank_m: np.ndarray) -> str | None:
    """Say from which distance the terrain is missing in the fan, or None when it is complete."""
    starts = list(blank_m)
    inner, outer = shapely.box(*terrain.bounds), fan.outline
    # The outline carries a micrometre of slack; anything larger beyond the raster's edge is a true gap.
    outside = outer.difference(inner).difference(ground.water) if not inner.covers(outer) else None
    if outside is not None and outside.area > 1e-3:
        starts.append(fan.nearest_along_m(np.array([outside], dtype=object))[0])
    if not starts:
        return None
    return f"no {ground.what} from {length_words(min(starts))} beyond the end"


def _obstacle_tops(obstacle: Obstacle, fan: Fan, ground: GroundHeights) -> Hindrance | str:
    """Give tops and distances of an obstacle's parts in the fan, or the words for why its top is unknown."""
    label = obstacle_label(obstacle)
    parts = shapely.get_parts(obstacle.shape)
    if obstacle.top_elevation_m is not None:
        along_m = fan.nearest_along_m(shapely.intersection(parts, fan.outline))
        inside = np.isfinite(along_m)
        return Hindrance(label, np.full(inside.sum(), obstacle.top_elevation_m), along_m[inside])
    if obstacle.height_above_ground_m is None:
        return " (height unknown)"
    tops, alongs = [], []
    for part in parts:
        ground_m, along_m = _ground_under(part, fan, ground)
        tops.append(ground_m + obstacle.height_above_ground_m)
        alongs.append(along_m)
    top_m = np.concatenate(tops)
    if np.isnan(top_m).any():
        return " (ground height unknown)"
    return Hindrance(label, top_m, np.concatenate(alongs))


def _ground_under(part: BaseGeometry, fan: Fan, ground: GroundHeights) -> tuple[np.ndarray, np.ndarray]:
    """Give ground [m] and distance [m] of a point, of each span of a line, or of each cell of an area."""
    if isinstance(part, shapely.Polygon):
        return _ground_under_area(part, fan, ground)
    coordinates = shapely.get_coordinates(part)
    if part.geom_type == "Point":
        along_m = fan.nearest_along_m(shapely.intersection(np.array([part], dtype=object), fan.outline))
        return ground.level_m(coordinates)[np.isfinite(along_m)], along_m[np.isfinite(along_m)]
    spans = shapely.linestrings(np.stack([coordinates[:-1], coordinates[1:]], axis=1))
    inside = np.asarray(shapely.intersection(spans, fan.outline))
    along_m = fan.nearest_along_m(inside)
    hit = np.flatnonzero(np.isfinite(along_m))
    ends_m = ground.level_m(coordinates)
    highest = [np.max([ends_m[i], ends_m[i + 1], ground.highest_along_m(inside[i])]) for i in hit]
    return np.array(highest, float), along_m[hit]


def _ground_under_area(
    part: shapely.Polygon, fan: Fan, ground: GroundHeights
) -> tuple[np.ndarray, np.ndarray]:
    """Give ground [m] and distance [m] of each terrain cell that an area covers in the fan."""
    inside = part.intersection(fan.outline)
    if inside.is_empty:
        return np.empty(0), np.empty(0)
    if ground.mask is None:
        return np.array([np.nan]), np.zeros(1)
    cells = cells_in(ground.mask.terrain, inside.bounds)
    pieces = shapely.intersection(ground.mask.boxes(cells.row, cells.column), inside)
    along_m = fan.nearest_along_m(pieces)
    hit = np.isfinite(along_m)
    ground_m = ground.cell_level_m(cells.row[hit], cells.column[hit])
    if not shapely.box(*ground.mask.terrain.bounds).covers(inside):
        return np.append(ground_m, np.nan), np.append(along_m[hit], 0.0)
    return ground_m, along_m[hit]


def _judge(
    around: Surroundings,
    fan: Fan,
    hindrances: list[Hindrance],
    unknown: tuple[str, ...],
    gap: str | None,
    slope: float,
) -> EndClearance:
    """Weigh everything in the fan against the surface and put the finding in words."""
    surface_m = around.ground.surface_m
    hindrances = [thing for thing in hindrances if thing.top_m.size]
    plain = EndClearance(
        fan.heading_grid_deg, slope, None, None, "", fan.look_m, unknown, divergence=fan.divergence
    )
    if surface_m is None:
        found = replace(plain, what="the water's surface elevation is unknown, so nothing can be judged")
    elif hindrances:
        found = _weighed(plain, around.ground, surface_m, hindrances, gap)
    elif gap is not None:
        found = replace(plain, what=gap)
    else:
        found = replace(
            plain,
            excess_m=-slope * fan.look_m,
            what=f"only water for {length_words(fan.look_m)}",
            steepest_slope=None if unknown else 0.0,
            steepest_without_error_slope=0.0,
            later_slopes=() if unknown else (0.0,) * LATER_COUNT,
            later_slopes_without_error=(0.0,) * LATER_COUNT,
        )
    tail = "" if around.obstacles_listed else "; no obstacles were given, so masts and wires are unknown"
    return replace(found, what=found.what + tail)


def _weighed(
    plain: EndClearance, ground: GroundHeights, surface_m: float, hindrances: list[Hindrance], gap: str | None
) -> EndClearance:
    """Give the finding on things in the fan, of which there is one at least."""
    excesses = [thing.top_m - surface_m - plain.slope * thing.along_m for thing in hindrances]
    worst = max(range(len(hindrances)), key=lambda i: excesses[i].max())
    at = int(excesses[worst].argmax())
    excess_m, distance_m = float(excesses[worst][at]), float(hindrances[worst].along_m[at])
    if gap is not None and excess_m <= 0.0:
        return replace(plain, what=f"{gap}; what is known is clear by {-excess_m:.1f} m")
    errors = [ground.error_m if thing.label == ground.what else 0.0 for thing in hindrances]
    what = _words(hindrances[worst].label, excess_m, distance_m, errors[worst])
    without_m = max(float(some.max()) - error for some, error in zip(excesses, errors, strict=True))
    found = replace(
        plain, excess_m=excess_m, distance_m=distance_m, what=what, excess_without_error_m=without_m
    )
    if gap is not None:
        return replace(found, what=f"{what}; {gap}")
    if plain.unknown_heights:
        return found
    steepest = _steepest(hindrances, surface_m, [0.0] * len(hindrances))
    without = _steepest(hindrances, surface_m, errors)
    return replace(
        found,
        steepest_slope=steepest,
        steepest_without_error_slope=without,
        later_slopes=_later_slopes(hindrances, surface_m, [0.0] * len(hindrances)),
        later_slopes_without_error=_later_slopes(hindrances, surface_m, errors),
    )


def _later_slopes(
    hindrances: list[Hindrance], surface_m: float, less_m: list[float]
) -> tuple[float | None, ...]:
    """Give the least slopes of surfaces that begin to rise later, as `EndClearance.later_slopes` has them."""
    tops = [thing.top_m - less - surface_m for thing, less in zip(hindrances, less_m, strict=True)]
    height_m = np.concatenate(tops) - LEVEL_HEIGHT_M
    along_m = np.concatenate([thing.along_m for thing in hindrances])[height_m > 0.0]
    height_m = height_m[height_m > 0.0]
    found: list[float | None] = []
    for begin_m in LATER_STEP_M * np.arange(1, LATER_COUNT + 1):
        beyond_m = along_m - begin_m
        barred = bool(np.any(beyond_m < LEAST_SLOPE_DISTANCE_M))
        found.append(None if barred else float((height_m / beyond_m).max(initial=0.0)))
    return tuple(found)


def _steepest(hindrances: list[Hindrance], surface_m: float, less_m: list[float]) -> float:
    """Give the least slope of a surface, not below 0, that clears everything once it is lower by less_m [m] each."""
    slopes = [
        ((thing.top_m - less - surface_m) / np.maximum(thing.along_m, LEAST_SLOPE_DISTANCE_M)).max()
        for thing, less in zip(hindrances, less_m, strict=True)
    ]
    return max(float(max(slopes)), 0.0)


def _words(label: str, excess_m: float, distance_m: float, error_m: float) -> str:
    """Say the critical thing, e.g. "terrain 1.1 km beyond the end, 38 m above the surface"."""
    side = f"{excess_m:.1f} m above" if excess_m > 0.0 else f"{-excess_m:.1f} m below"
    text = f"{label} {length_words(distance_m)} beyond the end, {side} the surface"
    if error_m == 0.0:
        return text
    if excess_m > error_m:
        return f"{text} ({error_m:.1f} m of it the terrain's error)"
    without = f"; {error_m - excess_m:.1f} m below without it" if excess_m > 0.0 else ""
    return f"{text} (with the terrain's error of {error_m:.1f} m{without})"
