"""Depth and shoreline at another level: the water's edge, and the lowest level that still serves."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import contourpy
import numpy as np
import shapely
from scipy.special import ndtri

from geo.base.errors import BadArgument
from geo.base.grid import Grid
from geo.records.survey import DEPTH_PROBABILITIES, Measure
from geo.survey.depth.corridor import Disc, Strip
from geo.survey.depth.field import DepthField
from geo.survey.depth.model import DepthModel

# Depths are asked for at a level so high that nothing is dry, where no table is cut off at 0 [m].
HIGH_M = 2000.0
# Mean of a small dam's depth as a share of its greatest: the 0.4 of farm-dam handbooks (from memory) with one sigma
# of the share; 4 989 surveyed lakes of a public table had 0.357 with 0.141.
SMALL_DAM_SHARE, SMALL_DAM_SHARE_SD = 0.4, 0.14


def waterline(
    field: DepthField, level_change_m: float, confidence: float | None = None
) -> shapely.MultiPolygon:
    """Give the water's outline at a level.

    Parameters: field: the body's depth field; level_change_m: the level minus that at which shoreline and soundings
    hold [m], negative when drawn down; confidence: None for the expected outline, or a probability from 0.5 to below 1:
    then the water that is there with that probability, point by point.
    Returns: MultiPolygon, islands as holes, empty when nothing is left or nothing is known. A body may fall apart into
    pools.
    Raises: BadArgument: a level that is not finite, a confidence outside its range.

    Notes: Contour of the field's mean (minus z sigma) on its grid, linear between cell centres, cut to the outline. The
    outline is kept when the level is higher: how far the water spreads over land is not in the soundings.
    """
    if not np.isfinite(level_change_m):
        raise BadArgument(f"level_change_m {level_change_m}: must be finite; leave it out when unknown")
    if confidence is not None and not 0.5 <= confidence < 1.0:
        raise BadArgument(f"confidence {confidence}: must be from 0.5 to below 1")
    if field.process is None:
        return shapely.MultiPolygon()
    z = 0.0 if confidence is None else float(ndtri(confidence))
    depth = field.mean.values - z * field.sd.values + (level_change_m - field.level_change_m)
    if level_change_m >= 0.0 and z == 0.0:
        return shapely.MultiPolygon([field.shore.polygon])
    return _wet(replace(field.mean, values=depth), field.shore.polygon, level_change_m)


def waterline_today(
    model: DepthModel, confidence: float | None = None
) -> tuple[shapely.MultiPolygon | None, str]:
    """Give the water's outline at the body's level of today with where it is from; None with the reason when unknown.

    Notes: from the depth raster where it covers the body, else from the soundings or contours where they span it (the
    same rules as for the mean depth). A level above the survey's keeps the outline.
    """
    level = model.body.level_change_m
    if level is None:
        return None, "today's level is not known: the outline is that of the survey"
    if level >= 0.0:
        return shapely.MultiPolygon([model.body.polygon]), "level not below the outline's: the outline stands"
    source, reason = model.bed_source()
    if source == "depth grid" and model.depth_grid is not None:
        return raster_waterline(model.depth_grid.grid, model.body.polygon, level), reason
    field = model.bed_field()
    if field is not None:
        return waterline(field, level, confidence), reason
    return None, f"level {level:+.2f} m, but nothing says where the shore lies then: {reason}"


def raster_waterline(depth: Grid, polygon: shapely.Polygon, level_change_m: float) -> shapely.MultiPolygon:
    """Give the outline at a level from a depth raster [m, positive down]; unknown cells hold no water (cautious)."""
    if level_change_m >= 0.0:
        return shapely.MultiPolygon([polygon])
    return _wet(replace(depth, values=depth.values + level_change_m), polygon, level_change_m)


def _wet(depth: Grid, polygon: shapely.Polygon, level_change_m: float) -> shapely.MultiPolygon:
    """Area of a raster above 0; unknown cells lie at the height of the old shore."""
    # The old shore stands -level above today's water; a padded ring lets every contour close.
    ground = min(level_change_m, 0.0) - 1e-6
    values = np.pad(np.where(np.isfinite(depth.values), depth.values, ground), 1, constant_values=ground)
    rows, columns = values.shape
    x = depth.west_m + (np.arange(columns) - 0.5) * depth.cell_east_m
    y = depth.north_m - (np.arange(rows) - 0.5) * depth.cell_north_m
    # The kind of answer hangs on fill_type: rings one after the other, and where each begins.
    filled: Any = contourpy.contour_generator(x, y, values, fill_type="OuterOffset").filled(0.0, np.inf)
    lines, offsets = filled
    found = []
    for xy, bounds in zip(lines, offsets, strict=True):
        rings = [xy[bounds[k] : bounds[k + 1]] for k in range(len(bounds) - 1)]
        piece = shapely.make_valid(shapely.Polygon(rings[0], rings[1:]))
        found += list(shapely.get_parts(shapely.intersection(piece, polygon)))
    return shapely.MultiPolygon([p for p in found if p.geom_type == "Polygon" and p.area > 0.0])


def usable_down_to(
    model: DepthModel,
    area: Strip | Disc,
    required_m: float,
    confidence: float,
    level_change_m: Sequence[float] | np.ndarray,
) -> tuple[np.ndarray, float] | None:
    """Give how far the level may fall until a run's strip or a hover circle is no longer deep enough.

    Parameters: the body's model; the area; the depth wanted [m]; the probability wanted (0.005 .. 0.995); the levels of
    the curve, minus that of the survey [m], (k,).
    Returns: the probability (k,) that the depth is there everywhere, and the lowest level, minus that of the survey
    [m], at which it holds with the probability wanted; None where nothing is known.
    Raises: BadArgument for a depth or probability that cannot be.

    Notes: a level moves every depth by the same amount, so quantiles shift with it; the strip's own place is kept. The
    shore comes nearer as the water falls: the strip is dry where the bed stands above the level.
    """
    if not (np.isfinite(required_m) and required_m > 0 and 0.005 <= confidence <= 0.995):
        raise BadArgument(
            f"required_m {required_m}, confidence {confidence}: must be > 0, and from 0.005 to 0.995"
        )
    levels = np.asarray(level_change_m, float)
    least = at_level(model, HIGH_M).least_over(area)
    if least.quantiles_m is None or max(least.quantiles_m) == 0.0:
        return None
    table = np.array(least.quantiles_m) - HIGH_M
    below = np.interp(required_m - levels, table, DEPTH_PROBABILITIES)
    sure = float(np.interp(1.0 - confidence, DEPTH_PROBABILITIES, table))
    return 1.0 - below, required_m - sure


def at_level(model: DepthModel, level_change_m: float) -> DepthModel:
    """Give the same model at another level; what was learned from the soundings is kept."""
    body = replace(model.body, level_change_m=level_change_m)
    return replace(model, body=body, fitted=model.fitted_field(), fitted_contours=model.contour_field())


def small_dam_volume(area_m2: float, greatest_m: float) -> Measure:
    """Give a rule-of-thumb volume [m3] of a small dam from its area [m2] and greatest depth [m], marked as such.

    Raises: BadArgument for an area that is not above 0 or a depth below 0.
    """
    if not (np.isfinite(area_m2) and area_m2 > 0 and np.isfinite(greatest_m) and greatest_m >= 0):
        raise BadArgument(f"area_m2 {area_m2}, greatest_m {greatest_m}: must be finite, area > 0, depth >= 0")
    low, high = (
        max(SMALL_DAM_SHARE + k * 1.645 * SMALL_DAM_SHARE_SD, 0.0) * area_m2 * greatest_m for k in (-1, 1)
    )
    text = f"rule of thumb, not a survey: 0.4 x area x greatest depth; 90 % range {low:.0f} to {high:.0f} m3"
    return Measure(SMALL_DAM_SHARE * area_m2 * greatest_m, text)
