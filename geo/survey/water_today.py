"""The water that is left at today's level: where runs and hover points are looked for when the level has fallen."""

from dataclasses import dataclass, replace

import shapely

from geo.records.survey import LeastDepth, Measure
from geo.survey.depth.level import waterline_today
from geo.survey.depth.model import DepthModel

# A water that has fallen by less than this [m] keeps its outline where nothing says how its shore moved: so low a bank
# stands in no rotor's way, and depths are counted at today's level anyway (common practice, no source).
HARMLESS_FALL_M = 1.0
# The waterline is drawn through the cells of a raster; points that turn it by less than this [m] are left out.
SIMPLIFICATION_M = 0.5


@dataclass(frozen=True, eq=False)
class WaterToday:
    """One part of the water to search in.

    water: None where nothing is left; area_m2: of all parts; moved: whether the shore is another than the outline;
    why_unknown: why no depth may be called good, or "".
    """

    water: shapely.Polygon | None
    area_m2: Measure
    moved: bool
    why_unknown: str = ""

    def with_shore_unknown(self, depth: LeastDepth) -> LeastDepth:
        """Give a depth as it is, or as unknown where the shore of today is."""
        if not self.why_unknown or depth.quantiles_m is None:
            return depth
        return replace(
            depth, quantiles_m=None, reason=self.why_unknown, shallowest=None, expected_least_m=None
        )


def water_today(model: DepthModel, remarks: list[str]) -> WaterToday:
    """Give the largest part of the water that is left today, and remark on what was lost.

    Notes: a level above the outline's, and one that nobody knows, keep the outline. Where the level has fallen and no
    evidence spans the bed, the outline is kept too, and beyond HARMLESS_FALL_M every depth is taken as unknown.
    """
    outline, change_m = model.body.polygon, model.body.level_change_m
    if change_m is None or change_m >= 0.0:
        why = "today's level is not known" if change_m is None else "level not below that of the outline"
        return WaterToday(outline, Measure(float(outline.area), f"outline; {why}"), False)
    left, why = waterline_today(model)
    if left is None:
        remarks.append(f"runs and hover point are looked for inside the old outline: {why}")
        why_unknown = f"where the shore lies today is unknown: {why}" if change_m < -HARMLESS_FALL_M else ""
        return WaterToday(outline, Measure(None, why), False, why_unknown)
    parts = sorted(left.geoms, key=lambda part: part.area, reverse=True)
    lost = 1.0 - left.area / outline.area
    area = Measure(float(left.area), f"inside the waterline at {change_m:+.1f} m; {why}")
    if not parts:
        remarks.append(f"level {change_m:+.1f} m: no water is left ({why})")
        return WaterToday(None, area, True)
    words = f"level {change_m:+.1f} m: the water is {lost:.0%} smaller than its outline"
    if len(parts) > 1:
        words += (
            f" and in {len(parts)} parts, of which the largest, {parts[0].area / left.area:.0%}, is searched"
        )
    remarks.append(f"{words} (from {why})")
    largest = parts[0].simplify(SIMPLIFICATION_M)
    assert isinstance(largest, shapely.Polygon)
    return WaterToday(largest, area, True)
