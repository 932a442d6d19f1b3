"""What is known of one body's depth, and what it says of the whole bed: mean depth and volume."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property

import numpy as np
import shapely

from geo.base.errors import BadArgument
from geo.records.bed_search import search_of_zone
from geo.records.chart import DepthChart
from geo.records.region import DepthGrid, Soundings, WaterBody
from geo.records.survey import Measure
from geo.survey.depth.ageing import Ageing, ageing
from geo.survey.depth.charted import ChartedDepth
from geo.survey.depth.evidence import LEAST_SOUNDINGS, Evidence, level_text, soundings_text
from geo.survey.depth.field import FIND_POINTS, DepthField, aged_field, learned_field
from geo.survey.depth.looked import Looked, SearchedArea
from geo.survey.depth.raster import LEAST_COVER, raster_mean, raster_reaches
from geo.survey.depth.shore import Shoreline

# A mean depth whose one sigma is more than this share of it is no figure to plan with.
MOST_MEAN_ERROR = 0.3
# Nor is one from soundings whose convex hull holds less than this share of the water. Both are our choice, no source.
LEAST_SPREAD = 0.3


@dataclass(frozen=True, eq=False)
class KnownBed:
    """Everything that is known of one body's bed; nothing is fitted before it is asked for.

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
    def shore(self) -> Shoreline:
        """The body's outline."""
        return Shoreline(self.body.polygon)

    @property
    def level_m(self) -> float:
        """Today's level minus the survey's [m]; 0 when not known (and then said in every answer)."""
        return 0.0 if self.body.level_change_m is None else self.body.level_change_m

    @cached_property
    def field(self) -> DepthField:
        """The field learned from the body's soundings. Raises: BadArgument without any."""
        if self.fitted is not None:
            return replace(self.fitted, level_change_m=self.level_m)
        if self.soundings is None:
            raise BadArgument(f"{self.body.body_id} has no soundings: a depth field is learned from them")
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

    @cached_property
    def looked(self) -> Looked:
        """What all surveys of this body would have seen on its bed."""
        areas: list[SearchedArea] = []
        if self.depth_grid is not None and self._raster_reaches:
            areas.append(SearchedArea(self.depth_grid.grid, self.depth_grid.search))
        if self.chart is not None:
            areas += [SearchedArea(each.polygon, search_of_zone(each.zone)) for each in self.chart.areas]
        sounded = () if self.evidence is None else self.evidence.surveys()
        return Looked(sounded + (() if self.charted is None else self.charted.surveys()), tuple(areas))

    @cached_property
    def finds(self) -> tuple[int, list[tuple[float, float]]]:
        """What surveys found on the bed, and where (see Looked.finds)."""
        x, y, _step = self.shore.lattice(FIND_POINTS)
        return self.looked.finds(np.column_stack((x, y)), float(self.shore.polygon.area))

    @property
    def _raster_age(self) -> Ageing | None:
        if self.today is None or self.depth_grid is None:
            return None
        return ageing(self.depth_grid.surveyed_on, self.body.kind, self.today)

    @cached_property
    def _raster_reaches(self) -> bool:
        """Whether the raster knows any depth in this body: one that does not is no evidence here at all."""
        return self.depth_grid is not None and raster_reaches(self.depth_grid, self.shore)

    @cached_property
    def evidence(self) -> Evidence | None:
        """The body's usable soundings; None when there are none."""
        if self.soundings is None or len(self.soundings) == 0:
            return None
        found = self.field.evidence
        return found if len(found) else None

    @cached_property
    def _raster_mean(self) -> tuple[float, float, float]:
        """Mean depth [m], share still wet and share covered by the raster; all 0 without one."""
        if self.depth_grid is None or not self._raster_reaches:
            return 0.0, 0.0, 0.0
        return raster_mean(self.depth_grid, self.shore, self.level_m, self._raster_age)

    def bed_source(self) -> tuple[str | None, str]:
        """Give what tells of the whole bed, "depth grid", "soundings" or "contours"; None with the reasons why not."""
        why: list[str] = []
        for source, tells, text in self._sources():
            if tells:
                return source, "; ".join([text, *why])
            why.append(text)
        if self.body.stated_depth is not None:
            why.append("one stated greatest depth gives no mean")
        return None, "; ".join(why) if why else "no depth evidence"

    def _sources(self) -> Iterator[tuple[str, bool, str]]:
        """Give each kind of evidence there is: its name, whether it tells of the whole bed, and that in words."""
        if self.depth_grid is not None and self._raster_reaches:
            cover = self._raster_mean[2]
            if cover >= LEAST_COVER:
                yield "depth grid", True, f"depth raster {self.depth_grid.origin}, {cover:.0%} covered"
            yield "depth grid", False, f"the depth raster covers {cover:.0%}, {LEAST_COVER:.0%} needed"
        evidence, charted = self.evidence, self.charted
        if evidence is not None and len(evidence) < LEAST_SOUNDINGS:
            yield "soundings", False, f"only {len(evidence)} soundings, {LEAST_SOUNDINGS} needed"
        elif evidence is not None:
            yield self._spanning("soundings", evidence, soundings_text(evidence, None))
        if charted is not None and charted.field is not None:
            yield self._spanning("contours", charted.field.evidence, charted.text)

    def _spanning(self, source: str, evidence: Evidence, text: str) -> tuple[str, bool, str]:
        """Give whether enough of the water lies inside the evidence's convex hull."""
        points = shapely.MultiPoint(np.column_stack((evidence.easting_m, evidence.northing_m)))
        span = points.convex_hull.intersection(self.body.polygon).area / self.body.polygon.area
        if span >= LEAST_SPREAD:
            return source, True, text
        what = "soundings" if source == "soundings" else "depth contours"
        return source, False, f"{what} span {span:.0%} of the water, {LEAST_SPREAD:.0%} needed"

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
            if source == "contours" and self.charted is not None:
                sd = float(np.hypot(sd, self.charted.common_sd_m(depth - self.level_m)))
            if sd <= MOST_MEAN_ERROR * depth:
                return depth, depth * wet * area, f"{text}; one sigma of the mean {sd:.2g} m; {level}"
            text = f"{source} leave the mean depth unsure: {depth:.1f} m, one sigma {sd:.1f} m"
        return None, None, text

    def mean_depth(self) -> Measure:
        """Give the mean depth of the water left today [m]; None with the reason when evidence cannot support it."""
        return Measure(self._mean[0], self._mean[2])

    def volume(self) -> Measure:
        """Give the volume today [m3] above the bed, inside the outline; None with the reason when unknown.

        Notes: water above the outline's level is counted inside the outline only.
        """
        return Measure(self._mean[1], self._mean[2])
