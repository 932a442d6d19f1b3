"""Holds soundings, depth raster and stated depths against each other: another unit or datum must not be silent."""

import numpy as np

from geo.base.units import METRE_PER_FATHOM, METRE_PER_FOOT
from geo.ingest.checks.report import FileReport
from geo.ingest.layers.survey_quality import SIGMA_OF_95
from geo.records.region import DepthGrid, Soundings, WaterBody

# Fewer places of one body where both are known are not compared, nor depths below this: all are our choice, no source.
LEAST_PLACES = 8
LEAST_DEPTH_M = 0.5
UNIT_TOLERANCE = 0.08
LEAST_OFFSET_M = 1.0
STATED_SHARE = 0.25
FACTORS = (
    (METRE_PER_FOOT, "feet read as metres in the soundings, or metres read as feet in the raster"),
    (1.0 / METRE_PER_FOOT, "metres read as feet in the soundings, or feet read as metres in the raster"),
    (METRE_PER_FATHOM, "fathoms read as metres in the soundings"),
    (1.0 / METRE_PER_FATHOM, "metres read as fathoms in the soundings"),
)


def check_depths_agree(
    bodies: tuple[WaterBody, ...], soundings: Soundings, depth_grid: DepthGrid, report: FileReport
) -> None:
    """Ask where the raster is the soundings times a factor between units, caution where it lies off by a step.

    Notes: by body, from the places where both are known. The step told is the median difference; it is told from 1 m
    and from twice the 95 % uncertainty of the raster on. The survey then takes the more cautious of the two.
    """
    raster_m = depth_grid.grid.nearest(soundings.easting_m, soundings.northing_m)
    both = np.isfinite(raster_m) & (soundings.depth_m >= LEAST_DEPTH_M) & (raster_m >= LEAST_DEPTH_M)
    for body in bodies:
        mine = np.flatnonzero(both & (soundings.body_id == body.body_id))
        if len(mine) >= LEAST_PLACES:
            here = f"{len(mine)} places of {body.body_id}, the first {soundings.origin[mine[0]]}"
            _compare(body, soundings.depth_m[mine], raster_m[mine], here, depth_grid, report)


def check_stated_depths(bodies: tuple[WaterBody, ...], soundings: Soundings, report: FileReport) -> None:
    """Caution where soundings are deeper than the greatest depth that was stated for their body, errors allowed for.

    Notes: an error that was not stated counts as STATED_SHARE of the depth. The soundings rule in the survey.
    """
    for body in bodies:
        stated, mine = body.stated_depth, np.flatnonzero(soundings.body_id == body.body_id)
        if stated is None or len(mine) == 0:
            continue
        sd_m = stated.sd_m if stated.sd_m is not None else STATED_SHARE * stated.greatest_m
        k = mine[int(np.argmax(soundings.depth_m[mine]))]
        deepest_m = float(soundings.depth_m[k])
        if deepest_m <= stated.greatest_m + SIGMA_OF_95 * float(np.hypot(sd_m, soundings.sd_m[k])):
            continue
        feet_m = deepest_m * METRE_PER_FOOT
        rule = (
            f"the deepest sounding, {deepest_m:.1f} m ({soundings.origin[k]}), is deeper than the greatest depth"
            f" stated, {stated.greatest_m:.1f} m ({body.origin})"
        )
        if abs(feet_m - stated.greatest_m) <= STATED_SHARE * stated.greatest_m:
            rule += "; read as feet it would fit"
        fix = "check the unit in [soundings] and vertical_unit in [water], and both numbers"
        report.add("caution", rule, fix, feature=body.body_id)


def _compare(
    body: WaterBody,
    sounded_m: np.ndarray,
    raster_m: np.ndarray,
    here: str,
    depth_grid: DepthGrid,
    report: FileReport,
) -> None:
    ratio, step_m = float(np.median(raster_m / sounded_m)), float(np.median(raster_m - sounded_m))
    error_95_m = float(np.hypot(depth_grid.uncertainty_a_m, depth_grid.uncertainty_b * np.median(raster_m)))
    allowed_m = max(LEAST_OFFSET_M, 2.0 * error_95_m)
    if abs(step_m) <= allowed_m:
        return
    for factor, words in FACTORS:
        if abs(ratio / factor - 1.0) <= UNIT_TOLERANCE:
            rule = f"the depth raster is {ratio:.2f} times the soundings at {here}, which looks like {words}"
            fix = "declare the true unit in [soundings] or vertical_unit in [depth_raster]"
            report.add("ask", rule, fix, field="depth_raster.vertical_unit", feature=body.body_id)
            return
    side = "deeper" if step_m > 0.0 else "shallower"
    report.add(
        "caution",
        f"the depth raster is {abs(step_m):.1f} m {side} than the soundings at {here} ({allowed_m:.1f} m allowed); the"
        " more cautious of the two counts",
        "check that both are depths below the level in depth_level, in one datum; give bed elevations as reference ="
        ' "vertical datum" in [depth_raster]',
        feature=body.body_id,
    )
