"""How deep a water body is, how surely, at today's level, everywhere along a run or under a hover."""

from dataclasses import dataclass, replace
from datetime import date

import numpy as np
import shapely

from geo.base.errors import BadArgument
from geo.records.chart import DepthChart
from geo.records.region import DepthGrid, Soundings, WaterBody
from geo.records.survey import DEPTH_PROBABILITIES, LeastDepth
from geo.survey.depth.bed import KnownBed
from geo.survey.depth.bounds import EVEN_SHARES, Bound, bounded, more_cautious, sounding_bound
from geo.survey.depth.corridor import Disc, Strip
from geo.survey.depth.evidence import (
    LEAST_SOUNDINGS,
    NEAR_M,
    check_soundings,
    dates_text,
    level_text,
    soundings_text,
)
from geo.survey.depth.raster import raster_least
from geo.survey.depth.simulation import LeastDraws, quantiles
from geo.survey.depth.stated import stated_least, stated_sd_m, stated_text
from geo.survey.depth.unseen import BedDepths, Unseen


@dataclass(frozen=True, eq=False)
class DepthModel(KnownBed):
    """One body's bed, asked for the least depth over an area. Made by depth_model."""

    def least_along(self, line: shapely.LineString, width_m: float) -> LeastDepth:
        """Give the least depth met anywhere in the corridor of width_m [m] along a line, today, jointly.

        Raises: BadArgument for a line without length or a width below 0.

        Notes: a corridor as wide as the clear width that the longest run keeps touches the shore, where the depth is 0.
        Ask for the strip that the scoop can cross, not for the strip that the rotor needs.
        """
        return self.least_over(Strip(line, width_m))

    def least_within(self, point: shapely.Point, radius_m: float) -> LeastDepth:
        """Give the least depth within radius_m [m] of a point, today. Raises: BadArgument for a radius below 0."""
        return self.least_over(Disc(point, radius_m))

    def least_over(self, area: Strip | Disc) -> LeastDepth:
        """Give the least depth over a strip or a circle, today, jointly, with what may stand on the bed unseen."""
        sounded, draws = self._from_soundings(area)
        found = [each for each in (self._from_grid(area), sounded) if each is not None]
        unknown = [each.reason for each in found if each.quantiles_m is None]
        known = more_cautious(found, "two kinds of evidence")
        if known is not None:
            result = replace(known, evidence="; ".join([known.evidence, *unknown]))
        else:
            result = self._without_survey(area, unknown)
        if result.quantiles_m is None:
            return result
        result = self._with_unseen(
            result, area, draws if known is not None and known.data_class == "soundings" else None
        )
        for bound in self._bounds(result, area):
            result = bounded(result, bound, self.level_m)
        return self._on_land(result, area)

    def _with_unseen(self, result: LeastDepth, area: Strip | Disc, draws: LeastDraws | None) -> LeastDepth:
        """Give a least depth that counts what may stand on the bed unseen; draws, of the bed where it was sounded."""
        table = result.quantiles_m
        assert table is not None
        if draws is None:
            bed = BedDepths(np.interp(EVEN_SHARES, DEPTH_PROBABILITIES, table)[None])
        else:
            bed = BedDepths(draws.depth_m, np.column_stack((draws.easting_m, draws.northing_m)))
        unseen = Unseen(area, self.looked, self.body.kind, bed, self.level_m, self.finds)
        return replace(result, quantiles_m=unseen.table(table), bed_quantiles_m=table, unseen=unseen.words())

    def _from_chart(self, area: Strip | Disc, reasons: list[str]) -> LeastDepth | None:
        """What contours and depth areas know; None where they know nothing, and `reasons` then grows."""
        if self.charted is None:
            return None
        found, others = self.charted.least(area)
        reasons += others
        if found is None:
            return None
        return self._today(replace(found, evidence="; ".join([found.evidence, *others])))

    def _today(self, found: LeastDepth) -> LeastDepth:
        """Give an answer with what is known of today's level."""
        change_m = self.body.level_change_m
        level = level_text(change_m, self.body.level_origin)
        return replace(found, evidence=f"{found.evidence}; {level}", level_known=change_m is not None)

    def _from_soundings(self, area: Strip | Disc) -> tuple[LeastDepth | None, LeastDraws | None]:
        if self.soundings is None or len(self.soundings) == 0:
            return None, None
        evidence = self.evidence
        if evidence is None:
            reason = f"all {len(self.soundings)} soundings lie at or beyond the shore"
            return self._today(LeastDepth("none", None, reason, reason)), None
        points = shapely.points(evidence.easting_m, evidence.northing_m)
        distance = np.asarray(shapely.distance(points, area.area))
        near = int((distance <= NEAR_M).sum())
        text = soundings_text(evidence, float(distance.min()))
        text += f"; {self.field.age_text}" if self.field.age_text else ""
        if near < LEAST_SOUNDINGS:
            reason = f"only {near} soundings within {NEAR_M:.0f} m, {LEAST_SOUNDINGS} needed"
            return self._today(LeastDepth("none", None, reason, text)), None
        draws = self.field.draws(area)
        table = self.field.least_table(draws)
        reason = f"from {near} soundings within {NEAR_M:.0f} m, simulated jointly"
        least_m = float(np.interp(EVEN_SHARES, DEPTH_PROBABILITIES, table).mean())
        oldest = dates_text(evidence.measured_on)[1]
        found = LeastDepth("soundings", table, reason, text, draws.shallowest, least_m, oldest)
        return self._today(found), draws

    def _from_grid(self, area: Strip | Disc) -> LeastDepth | None:
        if self.depth_grid is None or not self._raster_reaches:
            return None
        age = self._raster_age
        least = raster_least(self.depth_grid, area, self.level_m, age)
        day = "undated" if self.depth_grid.surveyed_on is None else f"{self.depth_grid.surveyed_on}"
        day += f" ({age.text})" if age is not None else ""
        text = f"depth raster {self.depth_grid.origin}, {day}, {least.cells} cells"
        if least.quantiles_m is None:
            return self._today(LeastDepth("none", None, least.gap, text))
        reason = "from the depth raster, its error taken as common to all cells"
        text += f", uncertainty (one sigma) {least.sd_m:.2g} m at the shallowest"
        found = least.shallowest, least.expected_m, self.depth_grid.surveyed_on
        return self._today(LeastDepth("depth grid", least.quantiles_m, reason, text, *found))

    def _without_survey(self, area: Strip | Disc, reasons: list[str]) -> LeastDepth:
        charted = self._from_chart(area, reasons)
        if charted is not None:
            return charted
        why = "; ".join(reasons)
        stated = self.body.stated_depth
        if stated is None:
            reason = f"no depth evidence{' here: ' + why if why else ''}"
            return self._today(LeastDepth("none", None, reason, "no depth evidence"))
        boundary = self.body.polygon.boundary
        inside = self.shore.covers(area.area)
        least_shore = float(area.area.distance(boundary)) if inside else 0.0
        values = stated_least(stated, least_shore, self.shore.greatest_m, self.level_m)
        reason = "from one stated greatest depth and the distances to shore (a rule of thumb, wide)"
        reason += f"; {why}" if why else ""
        place, least_m = shapely.shortest_line(area.area, boundary), float(np.maximum(values, 0.0).mean())
        found = place.interpolate(0.0), least_m, stated.stated_on
        return self._today(LeastDepth("stated depth", quantiles(values), reason, stated_text(stated), *found))

    def _bounds(self, result: LeastDepth, area: Strip | Disc) -> list[Bound]:
        """What the least depth cannot exceed, whatever the ruling evidence says."""
        found = []
        if self.evidence is not None and result.data_class != "soundings":
            offset_m = area.offset_m(self.evidence.easting_m, self.evidence.northing_m)
            inside = np.flatnonzero(np.isfinite(offset_m))
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

    def _on_land(self, result: LeastDepth, area: Strip | Disc) -> LeastDepth:
        """Land has no depth: an area that leaves the water has least depth 0."""
        if self.shore.covers(area.area):
            return result
        place = area.area.difference(self.body.polygon).representative_point()
        reason = f"the corridor leaves the water at E {place.x:.0f} N {place.y:.0f}"
        dry = (0.0,) * len(DEPTH_PROBABILITIES)
        dried = replace(result, quantiles_m=dry, bed_quantiles_m=None, unseen="")
        return replace(dried, reason=reason, shallowest=place, expected_least_m=0.0)


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
