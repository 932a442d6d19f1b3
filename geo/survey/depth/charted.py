"""What a chart or lake map says of one body: least depth from its contours or depth areas, and what they forbid."""

from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property

import numpy as np
import shapely

from geo.base.errors import BadArgument
from geo.records.chart import DepthArea, DepthChart, DepthContour
from geo.records.region import Soundings, WaterBody
from geo.records.survey import DEPTH_PROBABILITIES, LeastDepth
from geo.survey.depth.bounds import EVEN_SHARES, NORMAL_SCORES, Bound, more_cautious
from geo.survey.depth.chart import (
    CONTOUR_STEP_M,
    charted_least,
    contour_intervals,
    contour_soundings,
    deepest_charted,
    zone_sd_m,
)
from geo.survey.depth.corridor import Disc, Strip
from geo.survey.depth.evidence import LEAST_SOUNDINGS, NEAR_M, dates_text
from geo.survey.depth.field import DepthField, aged_field, learned_field
from geo.survey.depth.looked import SoundedSurvey
from geo.survey.depth.shore import Shoreline
from geo.survey.depth.simulation import quantiles

# A bed is told from contours of so many depths at least; from one alone nobody knows how it goes on (our choice).
LEAST_CONTOUR_DEPTHS = 2


@dataclass(frozen=True, eq=False)
class ChartedDepth:
    """The chart of one body. `fitted`: the field of its contours at another level, where it is there already."""

    chart: DepthChart
    body: WaterBody
    shore: Shoreline
    level_m: float
    today: date | None
    fitted: DepthField | None = None

    @cached_property
    def soundings(self) -> Soundings:
        """The contours as soundings, each with the day of its map and the error of drawing."""
        lines = self.chart.contours
        depth = np.array([line.depth_m for line in lines])
        sd = np.array([line.sd_m for line in lines])
        found = contour_soundings([line.line for line in lines], depth, contour_intervals(depth), sd)
        return Soundings(
            found.easting_m, found.northing_m, found.depth_m, found.sd_m,
            np.full(len(found.depth_m), self.body.body_id, object),
            tuple(lines[k].origin for k in found.line), tuple(lines[k].surveyed_on for k in found.line),
        )  # fmt: skip

    def surveys(self) -> tuple[SoundedSurvey, ...]:
        """Give the surveys behind the contours, as far as they say how they searched the bed."""
        lines = [line for line in self.chart.contours if line.search.method != "none"]
        each = (
            (search, [one.line for one in lines if one.search == search])
            for search in {one.search for one in lines}
        )
        return tuple(
            SoundedSurvey(shapely.get_coordinates(shapely.segmentize(shapes, CONTOUR_STEP_M)), search)
            for search, shapes in each
        )

    @cached_property
    def field(self) -> DepthField | None:
        """The field learned from the contours; None with contours of fewer than two depths or too few points."""
        if len({line.depth_m for line in self.chart.contours}) < LEAST_CONTOUR_DEPTHS:
            return None
        if self.fitted is not None:
            return replace(self.fitted, level_change_m=self.level_m)
        field = learned_field(self.shore, self.soundings, self.level_m, None, self.body.body_id)
        if field.process is None:
            return None
        return field if self.today is None else aged_field(field, self.body.kind, self.today)

    @property
    def _contours(self) -> DepthField:
        if self.field is None:
            raise BadArgument(f"{self.text}: no depth field; contours of two depths or more are needed")
        return self.field

    @property
    def text(self) -> str:
        """The contours in words: how many, of which depths and days, from which file."""
        lines = self.chart.contours
        depths = sorted({line.depth_m for line in lines})
        span = f"{depths[0]:.1f} to {depths[-1]:.1f} m" if len(depths) > 1 else f"{depths[0]:.1f} m"
        file = lines[0].origin.rsplit(" ", 2)[0]
        days = dates_text(tuple(line.surveyed_on for line in lines))[0]
        text = f"{len(lines)} depth contours of {span} ({file}), {days}"
        return f"{text}; {self.field.age_text}" if self.field is not None and self.field.age_text else text

    def least(self, area: Strip | Disc) -> tuple[LeastDepth | None, list[str]]:
        """Give the more cautious of contours and depth areas, None where neither knows; and why others do not know."""
        answers = []
        if self.chart.contours:
            answers.append(self._from_contours(area))
        if self.chart.areas:
            answers.append(self._from_areas(area))
        others = [each.reason for each in answers if each.quantiles_m is None]
        return more_cautious(answers, "contours and depth areas"), others

    def _from_contours(self, area: Strip | Disc) -> LeastDepth:
        if self.field is None:
            return LeastDepth("chart", None, "contours of one depth alone tell no bed", self.text)
        evidence = self.field.evidence
        points = shapely.points(evidence.easting_m, evidence.northing_m)
        near = int((shapely.distance(points, area.area) <= NEAR_M).sum())
        if near < LEAST_SOUNDINGS:
            return LeastDepth("chart", None, f"no depth contour within {NEAR_M:.0f} m", self.text)
        draws = self.field.draws(area)
        table, sd = self._with_common_error(self.field.least_table(draws))
        table, deepest_m = self._promised(table)
        reason = (
            "from depth contours, simulated jointly, the error of drawing taken as common to all; no more than the "
            f"deepest contour, {deepest_m:.1f} m, is promised"
        )
        text = f"{self.text}, uncertainty (one sigma) {sd:.2g} m"
        expected_m = float(np.interp(EVEN_SHARES, DEPTH_PROBABILITIES, table).mean())
        oldest = dates_text(tuple(line.surveyed_on for line in self.chart.contours))[1]
        return LeastDepth("chart", table, reason, text, draws.shallowest, expected_m, oldest)

    def _with_common_error(self, table: tuple[float, ...]) -> tuple[tuple[float, ...], float]:
        """Widen a table [m] by the error of the contours about its middle, which no number of points averages out."""
        sd = float(self.common_sd_m(float(np.interp(0.5, DEPTH_PROBABILITIES, table)) - self.level_m))
        # A table ends at 0 where it is dry; an error added there must not make it wet.
        values = np.interp(EVEN_SHARES, DEPTH_PROBABILITIES, table)
        spread = np.where(values[:, None] > 0.0, values[:, None] + sd * NORMAL_SCORES, 0.0)
        return quantiles(spread.ravel()), sd

    def common_sd_m(self, depth_m: np.ndarray | float) -> np.ndarray:
        """Give one sigma of the contours' drawing [m] about depths [m, at their level]; NaN where these are.

        Raises: BadArgument where the contours have no field.
        """
        evidence = self._contours.evidence
        depths, first = np.unique(evidence.depth_m, return_index=True)
        return np.interp(depth_m, depths, evidence.sd_m[first])

    def _promised(self, table: tuple[float, ...]) -> tuple[tuple[float, ...], float]:
        """Cut a table [m] at the deepest contour: inside it a map says no more than that. Gives that depth too [m]."""
        deepest_m = float(self._contours.evidence.depth_m.max())
        cap = quantiles(deepest_m + self.level_m + self.common_sd_m(deepest_m) * NORMAL_SCORES)
        return tuple(min(a, b) for a, b in zip(table, cap, strict=True)), deepest_m

    def _from_areas(self, area: Strip | Disc) -> LeastDepth:
        table, reason = charted_least(self.chart.areas, area, self.level_m, self.body.kind, self.today)
        met = [each for each in self.chart.areas if shapely.intersects(each.polygon, area.area)]
        days, oldest = dates_text(tuple(each.surveyed_on for each in met))
        text = f"{len(met)} depth areas of a chart, {days}"
        if table is None:
            return LeastDepth("chart", None, reason, text)
        worst = min(met, key=lambda each: each.least_m)
        place = shapely.intersection(worst.polygon, area.area).representative_point()
        expected = max(worst.least_m + self.level_m, 0.0)
        return LeastDepth("chart", table, reason, text, place, expected, oldest)

    def sure_m(self, easting_m: np.ndarray, northing_m: np.ndarray, sigmas: float) -> np.ndarray:
        """Give the depth of single points less so many sigmas, today [m]; NaN where the chart says nothing.

        Notes: the more cautious of contours and depth areas, and of areas that overlap; zones D and U say nothing.
        """
        x, y = np.asarray(easting_m, float), np.asarray(northing_m, float)
        found = np.full(x.shape, np.nan)
        if self.field is not None:
            mean, sd = (one.reshape(x.shape) for one in self.field.at(x.ravel(), y.ravel()))
            deepest_m = float(self.field.evidence.depth_m.max()) + self.level_m
            common = self.common_sd_m(mean - self.level_m)
            found = np.minimum(mean, deepest_m) - sigmas * np.hypot(sd, common)
        for each in self.chart.areas:
            sd_m = zone_sd_m(each.zone, each.least_m)
            if sd_m is not None:
                inside = shapely.contains_xy(each.polygon, x, y)
                promised = each.least_m - sigmas * sd_m + self.level_m
                found = np.where(inside, np.fmin(found, promised), found)
        return found

    def bounds(self, area: Strip | Disc) -> list[Bound]:
        """Give what the chart forbids other evidence to exceed: contours across the area, areas that lie on it."""
        found = []
        crossing = [line for line in self.chart.contours if shapely.intersects(line.line, area.area)]
        if crossing:
            found.append(self._contour_bound(min(crossing, key=lambda line: line.depth_m), area))
        deepest = deepest_charted(self.chart.areas, area)
        if deepest is not None:
            found.append(_area_bound(*deepest, area))
        return found

    def _contour_bound(self, line: DepthContour, area: Strip | Disc) -> Bound:
        depths = np.array([each.depth_m for each in self.chart.contours])
        interval = contour_intervals(depths)[self.chart.contours.index(line)]
        drawn = contour_soundings([line.line], np.array([line.depth_m]), interval, line.sd_m)
        place = shapely.intersection(line.line, area.area).representative_point()
        note = f"the depth contour of {line.depth_m:.1f} m ({line.origin}) that crosses it"
        return Bound(line.depth_m, float(drawn.sd_m[0]), place, note)


def _area_bound(deepest: DepthArea, sd_m: float, area: Strip | Disc) -> Bound:
    place = shapely.intersection(deepest.polygon, area.area).representative_point()
    limits = f"{deepest.least_m:.1f} to {deepest.greatest_m:.1f} m"
    note = f"the depth area of {limits} ({deepest.origin}, zone {deepest.zone}) that it lies in"
    return Bound(deepest.greatest_m, sd_m, place, note)
