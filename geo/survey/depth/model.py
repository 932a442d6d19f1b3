"""How deep a water body is, how surely, at today's level, everywhere along a run or under a hover."""

from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property

import numpy as np
import shapely

from geo.base.errors import BadArgument
from geo.records.chart import DepthChart
from geo.records.region import DepthGrid, Soundings, WaterBody
from geo.records.survey import DEPTH_PROBABILITIES, LeastDepth, Measure
from geo.survey.depth.ageing import Ageing, ageing
from geo.survey.depth.bounds import Bound, bounded, sounding_bound
from geo.survey.depth.charted import ChartedDepth
from geo.survey.depth.corridor import Corridor, Disc
from geo.survey.depth.evidence import (
    LEAST_SOUNDINGS,
    NEAR_M,
    Evidence,
    check_soundings,
    dates_text,
    level_text,
    soundings_text,
)
from geo.survey.depth.field import DepthField, aged_field, learned_field
from geo.survey.depth.raster import LEAST_COVER, raster_least, raster_mean, raster_reaches
from geo.survey.depth.shore import Shore
from geo.survey.depth.simulation import quantiles
from geo.survey.depth.stated import stated_least, stated_sd_m, stated_text

# A mean depth whose one sigma is more than this share of it is no figure to plan with.
MOST_MEAN_ERROR = 0.3
# Nor is one from soundings whose convex hull holds less than this share of the water. Both are our choice, no source.
LEAST_SPREAD = 0.3
FIVE_PERCENT = DEPTH_PROBABILITIES.index(0.05)
EVEN_SHARES = (np.arange(200) + 0.5) / 200


@dataclass(frozen=True, eq=False)
class DepthModel:
    """Everything that is known of one body's depth. Made by depth_model; nothing is fitted before it is asked for.

    fitted and fitted_contours: the fields of the same body at another level, where they are there already. today: the
    day for which older evidence loses weight; None: no weight is taken off for age (dates are always said). chart: the
    body's own contours and depth areas.
    """

    body: WaterBody
    soundings: Soundings | None
    depth_grid: DepthGrid | None
    fitted: DepthField | None = None
    today: date | None = None
    chart: DepthChart | None = None
    fitted_contours: DepthField | None = None

    @cached_property
    def shore(self) -> Shore:
        """The body's outline."""
        return Shore(self.body.polygon)

    @property
    def level_m(self) -> float:
        """Today's level minus the survey's [m]; 0 when not known (and then said in every answer)."""
        return 0.0 if self.body.level_change_m is None else self.body.level_change_m

    @cached_property
    def field(self) -> DepthField:
        """The field learned from the body's soundings."""
        if self.fitted is not None:
            return replace(self.fitted, level_change_m=self.level_m)
        field = learned_field(self.shore, self.soundings, self.level_m, None, self.body.body_id)
        return field if self.today is None else aged_field(field, self.body.kind, self.today)

    def fitted_field(self) -> DepthField | None:
        """Give the field where the body has soundings; None where there is nothing to fit."""
        return None if self.evidence is None else self.field

    @cached_property
    def charted(self) -> ChartedDepth | None:
        """What the chart says of this body; None without one."""
        if self.chart is None:
            return None
        return ChartedDepth(self.chart, self.body, self.shore, self.level_m, self.today, self.fitted_contours)

    def contour_field(self) -> DepthField | None:
        """Give the field of the body's depth contours; None where there is nothing to fit."""
        return None if self.charted is None else self.charted.field

    def bed_field(self) -> DepthField | None:
        """Give the field that tells of the whole bed: of the soundings, else of the contours (see bed_source)."""
        source = self.bed_source()[0]
        return self.field if source == "soundings" else self.contour_field() if source == "contours" else None

    @property
    def _raster_age(self) -> Ageing | None:
        if self.today is None:
            return None
        return ageing(self.depth_grid.surveyed_on, self.body.kind, self.today)

    @cached_property
    def _raster_reaches(self) -> bool:
        """Whether the raster knows any depth in this body: one that does not is no evidence here at all."""
        return raster_reaches(self.depth_grid, self.shore)

    @cached_property
    def evidence(self) -> Evidence | None:
        """The body's usable soundings; None when there are none."""
        if self.soundings is None or len(self.soundings) == 0:
            return None
        found = self.field.evidence
        return found if len(found) else None

    def least_along(self, line: shapely.LineString, width_m: float) -> LeastDepth:
        """Give the least depth met anywhere in the corridor of width_m [m] along a line, today, jointly.

        Raises: BadArgument for a line without length or a width below 0.

        Notes: a corridor as wide as the clear width that the longest run keeps touches the shore, where the depth is 0.
        Ask for the strip that the scoop can cross, not for the strip that the rotor needs.
        """
        return self.least_over(Corridor(line, width_m))

    def least_within(self, point: shapely.Point, radius_m: float) -> LeastDepth:
        """Give the least depth within radius_m [m] of a point, today. Raises: BadArgument for a radius below 0."""
        return self.least_over(Disc(point, radius_m))

    def least_over(self, area: Corridor | Disc) -> LeastDepth:
        """Give the least depth over a strip or a circle, today, jointly."""
        found = [each for each in (self._from_grid(area), self._from_soundings(area)) if each is not None]
        known = [each for each in found if each.quantiles_m is not None]
        if len(known) == 2:
            known.sort(key=lambda each: each.quantiles_m[FIVE_PERCENT])
            both = f"{known[0].evidence}; also {known[1].evidence}"
            reason = f"{known[0].reason}; the more cautious of two kinds of evidence"
            result = replace(known[0], evidence=both, reason=reason)
        elif known:
            others = "".join(f"; {each.reason}" for each in found if each.quantiles_m is None)
            result = replace(known[0], evidence=known[0].evidence + others)
        else:
            result = self._without_survey(area, [each.reason for each in found])
        if result.quantiles_m is None:
            return result
        for bound in self._bounds(result, area):
            result = bounded(result, bound, self.level_m)
        return self._on_land(result, area)

    def _from_chart(self, area: Corridor | Disc, reasons: list[str]) -> LeastDepth | None:
        """What contours and depth areas know; None where they know nothing, and `reasons` then grows."""
        if self.charted is None:
            return None
        found, others = self.charted.least(area)
        reasons += others
        if found is None:
            return None
        evidence = "; ".join([found.evidence, *others])
        return self._answer(
            "chart",
            found.quantiles_m,
            found.reason,
            evidence,
            shallowest=found.shallowest,
            expected_least_m=found.expected_m,
            oldest_on=found.oldest_on,
        )

    def _answer(self, data_class, table, reason, evidence, **more) -> LeastDepth:
        level = level_text(self.body.level_change_m, self.body.level_origin)
        return LeastDepth(
            data_class,
            table,
            reason,
            f"{evidence}; {level}",
            level_known=self.body.level_change_m is not None,
            **more,
        )

    def _near(self, area: Corridor | Disc) -> np.ndarray:
        """Distances [m] of the usable soundings to the area."""
        points = shapely.points(self.evidence.easting_m, self.evidence.northing_m)
        return shapely.distance(points, area.area)

    def _from_soundings(self, area: Corridor | Disc) -> LeastDepth | None:
        if self.soundings is None or len(self.soundings) == 0:
            return None
        if self.evidence is None:
            reason = f"all {len(self.soundings)} soundings lie at or beyond the shore"
            return self._answer("none", None, reason, reason)
        distance = self._near(area)
        near = int((distance <= NEAR_M).sum())
        text = soundings_text(self.evidence, float(distance.min()))
        text += f"; {self.field.age_text}" if self.field.age_text else ""
        if near < LEAST_SOUNDINGS:
            reason = f"only {near} soundings within {NEAR_M:.0f} m, {LEAST_SOUNDINGS} needed"
            return self._answer("none", None, reason, text)
        draws = self.field.draws(area)
        table = self.field.least_table(draws)
        return self._answer(
            "soundings",
            table,
            f"from {near} soundings within {NEAR_M:.0f} m, simulated jointly",
            text,
            shallowest=draws.shallowest,
            expected_least_m=float(np.interp(EVEN_SHARES, DEPTH_PROBABILITIES, table).mean()),
            oldest_on=dates_text(self.evidence.measured_on)[1],
        )

    def _from_grid(self, area: Corridor | Disc) -> LeastDepth | None:
        if self.depth_grid is None or not self._raster_reaches:
            return None
        age = self._raster_age
        least = raster_least(self.depth_grid, area, self.level_m, age)
        day = "undated" if self.depth_grid.surveyed_on is None else f"{self.depth_grid.surveyed_on}"
        day += f" ({age.text})" if age is not None else ""
        text = f"depth raster {self.depth_grid.origin}, {day}, {least.cells} cells"
        if least.quantiles_m is None:
            return self._answer("none", None, least.gap, text)
        return self._answer(
            "depth grid",
            least.quantiles_m,
            "from the depth raster, its error taken as common to all cells",
            f"{text}, uncertainty (one sigma) {least.sd_m:.2g} m at the shallowest",
            shallowest=least.shallowest,
            expected_least_m=least.expected_m,
            oldest_on=self.depth_grid.surveyed_on,
        )

    def _without_survey(self, area: Corridor | Disc, reasons: list[str]) -> LeastDepth:
        charted = self._from_chart(area, reasons)
        if charted is not None:
            return charted
        why = "; ".join(reasons)
        stated = self.body.stated_depth
        if stated is None:
            reason = f"no depth evidence{' here: ' + why if why else ''}"
            return self._answer("none", None, reason, "no depth evidence")
        boundary = self.body.polygon.boundary
        inside = self.shore.covers(area.area)
        least_shore = float(area.area.distance(boundary)) if inside else 0.0
        values = stated_least(stated, least_shore, self.shore.greatest_m, self.level_m)
        reason = "from one stated greatest depth and the distances to shore (a rule of thumb, wide)"
        return self._answer(
            "stated depth",
            quantiles(values),
            f"{reason}; {why}" if why else reason,
            stated_text(stated),
            shallowest=shapely.shortest_line(area.area, boundary).interpolate(0.0),
            expected_least_m=float(np.maximum(values, 0.0).mean()),
            oldest_on=stated.stated_on,
        )

    def _bounds(self, result: LeastDepth, area: Corridor | Disc) -> list[Bound]:
        """What the least depth cannot exceed, whatever the ruling evidence says."""
        found = []
        if self.evidence is not None and result.data_class != "soundings":
            inside = np.flatnonzero(
                np.isfinite(area.offset_m(self.evidence.easting_m, self.evidence.northing_m))
            )
            if len(inside):
                found.append(sounding_bound(self.evidence, inside))
        if self.charted is not None:
            found += self.charted.bounds(area)
        stated = self.body.stated_depth
        if result.data_class == "chart" and stated is not None:
            place = result.shallowest if result.shallowest is not None else self.shore.polygon.centroid
            note = f"the greatest depth stated, {stated.greatest_m:.1f} m ({stated.origin})"
            found.append(Bound(stated.greatest_m, stated_sd_m(stated), place, note))
        return found

    def _on_land(self, result: LeastDepth, area: Corridor | Disc) -> LeastDepth:
        """Land has no depth: an area that leaves the water has least depth 0."""
        if self.shore.covers(area.area):
            return result
        place = area.area.difference(self.body.polygon).representative_point()
        reason = f"the corridor leaves the water at E {place.x:.0f} N {place.y:.0f}"
        dry = (0.0,) * len(DEPTH_PROBABILITIES)
        return replace(result, quantiles_m=dry, reason=reason, shallowest=place, expected_least_m=0.0)

    @cached_property
    def _raster_mean(self) -> tuple[float, float, float]:
        """Mean depth [m], share still wet and share covered by the raster; all 0 without one."""
        if self.depth_grid is None or not self._raster_reaches:
            return 0.0, 0.0, 0.0
        return raster_mean(self.depth_grid, self.shore, self.level_m, self._raster_age)

    def bed_source(self) -> tuple[str | None, str]:
        """Give what tells of the whole bed, "depth grid", "soundings" or "contours"; None with the reasons why not."""
        cover, why = self._raster_mean[2], []
        if cover >= LEAST_COVER:
            return "depth grid", f"depth raster {self.depth_grid.origin}, {cover:.0%} covered"
        if self.depth_grid is not None and self._raster_reaches:
            why.append(f"the depth raster covers {cover:.0%}, {LEAST_COVER:.0%} needed")
        few = self.evidence is not None and len(self.evidence) < LEAST_SOUNDINGS
        if few:
            why.append(f"only {len(self.evidence)} soundings, {LEAST_SOUNDINGS} needed")
        elif self.evidence is not None:
            span = self._spread(self.evidence)
            if span >= LEAST_SPREAD:
                return "soundings", "; ".join([soundings_text(self.evidence, None), *why])
            why.append(f"soundings span {span:.0%} of the water, {LEAST_SPREAD:.0%} needed")
        contours = self.contour_field()
        if contours is not None:
            span = self._spread(contours.evidence)
            if span >= LEAST_SPREAD:
                return "contours", "; ".join([self.charted.text, *why])
            why.append(f"depth contours span {span:.0%} of the water, {LEAST_SPREAD:.0%} needed")
        if self.body.stated_depth is not None:
            why.append("one stated greatest depth gives no mean")
        return None, "; ".join(why) if why else "no depth evidence"

    @cached_property
    def _mean(self) -> tuple[float | None, float | None, str]:
        """Mean depth [m], volume [m3] today, and where they come from or why there is none."""
        area = self.body.polygon.area
        level = level_text(self.body.level_change_m, self.body.level_origin)
        source, text = self.bed_source()
        if source == "depth grid":
            depth, wet, _cover = self._raster_mean
            return depth, depth * wet * area, f"{text}; {level}"
        field = self.bed_field()
        if field is not None:
            depth, sd, wet = field.mean_depth()
            if source == "contours":
                sd = float(np.hypot(sd, self.charted.common_sd_m(depth - self.level_m)))
            if sd <= MOST_MEAN_ERROR * depth:
                return depth, depth * wet * area, f"{text}; one sigma of the mean {sd:.2g} m; {level}"
            text = f"{source} leave the mean depth unsure: {depth:.1f} m, one sigma {sd:.1f} m"
        return None, None, text

    def _spread(self, evidence: Evidence) -> float:
        """Share of the water inside the evidence's convex hull."""
        hull = shapely.multipoints(np.column_stack((evidence.easting_m, evidence.northing_m))).convex_hull
        return float(hull.intersection(self.body.polygon).area / self.body.polygon.area)

    def mean_depth(self) -> Measure:
        """Give the mean depth of the water left today [m]; None with the reason when evidence cannot support it."""
        return Measure(self._mean[0], self._mean[2])

    def volume(self) -> Measure:
        """Give the volume today [m3] above the bed, inside the outline; None with the reason when unknown.

        Notes: water above the outline's level is counted inside the outline only.
        """
        return Measure(self._mean[1], self._mean[2])


def depth_model(
    body: WaterBody,
    soundings: Soundings | None,
    depth_grid: DepthGrid | None,
    today: date | None = None,
    chart: DepthChart | None = None,
) -> DepthModel:
    """Give the depth model of a body from whatever evidence there is.

    Parameters: the body; soundings (all or the body's own: those of other bodies are ignored) or None; a depth
    raster or None; the day for which older evidence loses weight (None: age is said but takes nothing off); the
    region's chart or None.
    Returns: DepthModel. Raises: BadArgument for soundings or a level that are not finite.
    """
    if body.level_change_m is not None and not np.isfinite(body.level_change_m):
        raise BadArgument(
            f"level change {body.level_change_m} of {body.body_id}: must be finite, or None when unknown"
        )
    own = None if soundings is None else soundings.of(body.body_id)
    if own is not None:
        check_soundings(own)
    lines = None if chart is None else chart.of(body.body_id)
    return DepthModel(body, own, depth_grid, today=today, chart=lines)
