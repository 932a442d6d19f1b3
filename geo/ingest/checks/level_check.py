"""Holds the stated levels of the water against the terrain at its shores: a wrong unit must not be silent."""

from collections.abc import Collection
from dataclasses import dataclass, replace

import numpy as np
import shapely

from geo.base.grid import Grid
from geo.base.units import METRE_PER_FOOT
from geo.ingest.checks.report import FileReport
from geo.records.region import WaterBody

# Common practice, no source: what a level and a terrain model of good faith may differ by, besides the terrain's own
# error and the slope of a shore within one cell.
BASE_TOLERANCE_M = 10.0
CELL_SHARE = 0.25
DRAWN_DOWN_TOLERANCES = 4.0
LOW_PERCENTILE, HIGH_PERCENTILE = 10.0, 90.0
FEWEST_IN_CONFLICT = 3
UNIT_FACTORS = (
    (METRE_PER_FOOT, "0.3048 (feet read as metres)"),
    (1.0 / METRE_PER_FOOT, "3.2808 (metres read as feet)"),
)


@dataclass(frozen=True)
class Shore:
    """Terrain at the shoreline of one body [m]: median, 10th and 90th percentile, and what a level may differ by.

    Water cannot stand above its highest banks; a tarn on steep ground may stand above its median one in a coarse grid.
    """

    median_m: float
    low_m: float
    high_m: float
    tolerance_m: float

    def fits(self, level_m: float) -> bool:
        """True when a level can stand at this shore; stored water may be drawn down, so below more is allowed."""
        lowest_m = self.low_m - DRAWN_DOWN_TOLERANCES * self.tolerance_m
        return lowest_m <= level_m <= self.high_m + self.tolerance_m


def shore_of(body: WaterBody, terrain: Grid, terrain_error_m: float | None) -> Shore | None:
    """Give the terrain at the vertices of a body's shoreline (nearest cell), None where none is known.

    Notes: tolerance = 10 m + the terrain's stated error + a quarter of the cell (common practice, no source).
    """
    vertices = shapely.get_coordinates(body.polygon)
    heights_m = terrain.nearest(vertices[:, 0], vertices[:, 1])
    heights_m = heights_m[np.isfinite(heights_m)]
    if heights_m.size == 0:
        return None
    cell_m = max(terrain.cell_east_m, terrain.cell_north_m)
    error_m = terrain_error_m if terrain_error_m is not None else 0.0
    tolerance_m = BASE_TOLERANCE_M + error_m + CELL_SHARE * cell_m
    low_m, high_m = np.percentile(heights_m, [LOW_PERCENTILE, HIGH_PERCENTILE])
    return Shore(float(np.median(heights_m)), float(low_m), float(high_m), float(tolerance_m))


def check_levels(
    bodies: tuple[WaterBody, ...], terrain: Grid, terrain_error_m: float | None, report: FileReport
) -> tuple[WaterBody, ...]:
    """Give the bodies with the levels that the terrain contradicts made unknown, or ask about the whole file.

    Notes: when at least three bodies, and more than half of those compared, conflict, the unit is in doubt for all of
    them and nothing is decided here: the user is asked. A level of low ground may be in the wrong unit and still
    within the tolerance; that is not found.
    """
    compared = {
        body.body_id: (body.surface_elevation_m, shore)
        for body in bodies
        if body.surface_elevation_m is not None
        and (shore := shore_of(body, terrain, terrain_error_m)) is not None
    }
    wrong = {name for name, (level_m, shore) in compared.items() if not shore.fits(level_m)}
    if len(wrong) >= FEWEST_IN_CONFLICT and 2 * len(wrong) > len(compared):
        _ask_unit(compared, wrong, report)
        return bodies
    return tuple(
        _without_level(body, compared[body.body_id], report) if body.body_id in wrong else body
        for body in bodies
    )


def _fitting(compared: Collection[tuple[float, Shore]], needed: int, of: str) -> str:
    """Name the factor between feet and metres under which at least `needed` levels fit, or say that none does."""
    counts = [
        (sum(shore.fits(level_m * factor) for level_m, shore in compared), words)
        for factor, words in UNIT_FACTORS
    ]
    best, words = max(counts, key=lambda one: one[0])
    if best < needed:
        return "neither 0.3048 nor 3.2808 times the levels would fit"
    return f"times {words} {of.format(best)}"


def _ask_unit(compared: dict[str, tuple[float, Shore]], wrong: set[str], report: FileReport) -> None:
    first = min(wrong)
    level_m, shore = compared[first]
    factor = _fitting(compared.values(), len(compared) // 2 + 1, f"{{}} of {len(compared)} would fit")
    report.add(
        "ask",
        f"the levels of {len(wrong)} of {len(compared)} bodies of water do not fit the terrain at their shores, the"
        f" first that of {first} ({level_m:.1f} m, terrain {shore.median_m:.1f} m, tolerance"
        f" {shore.tolerance_m:.1f} m): are the levels in feet? {factor}",
        "declare the true vertical_unit in [water] (or in [terrain], if the terrain is the one that is wrong), and"
        " check that both have the region's vertical datum",
        field="water.vertical_unit",
    )


def _without_level(body: WaterBody, compared: tuple[float, Shore], report: FileReport) -> WaterBody:
    level_m, shore = compared
    factor = _fitting([compared], 1, "it would fit")
    side = "above" if level_m > shore.median_m else "below"
    report.add(
        "caution",
        f"the stated level of {level_m:.1f} m lies {abs(level_m - shore.median_m):.1f} m {side} the terrain at the"
        f" shore ({shore.median_m:.1f} m, tolerance {shore.tolerance_m:.1f} m); the level counts as unknown; {factor}",
        "check the level's unit, its datum and the number, and the terrain there",
        feature=body.body_id,
        value=f"{level_m:.2f} m",
    )
    return replace(body, surface_elevation_m=None, level_change_m=None, level_origin=None, depth_level_m=None)
