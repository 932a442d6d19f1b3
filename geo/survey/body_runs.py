"""The runs of one water body: the longest, one for each heading, and those that are worth judging, all measured."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TypeVar

import numpy as np
import shapely
from shapely.errors import GEOSException

from geo.base.errors import FetchwaterError
from geo.base.geodesy import grid_heading_deg, plane_geodesic
from geo.records.region import RegionFrame
from geo.records.survey import LeastDepth, Run
from geo.survey.clearance import Surroundings
from geo.survey.depth.model import DepthModel
from geo.survey.open_water import OpenWater, roomiest_place
from geo.survey.runs import longest_run, run_rose
from geo.survey.usable.chord import chord
from geo.survey.usable.deep_water import DeepWater, deep_water
from geo.survey.usable.run import POINTS, UsablePiece, usable_of
from geo.survey.usable.skyline import Skyline
from geo.survey.usable.useful import useful_pieces
from geo.survey.water_today import WaterToday

# Depth is asked for in the strip that a scoop can cross with its track errors, not in the whole corridor: that one is
# as wide as the water is clear, so it touches the shore, where the depth is 0 (common practice, no source).
SCOOP_STRIP_M = 20.0
# The fan of a water too small for any run: its rose is a picture of its shape, nobody flies it.
COARSE_STEP_DEG = 30.0
_Part = TypeVar("_Part")

# A round lake has thousands of almost longest runs; for the longest one as a fact, 0.2 % is close enough. The record
# carries the bound. Ordinary shores are solved exactly all the same.
LONGEST_RUN_GAP = 0.002
# A moat hardly wider than the corridor would be searched for minutes; so many edges take about 2 s of one core.
LONGEST_RUN_EFFORT_EDGES = 3_000_000


def computed(what: str, remarks: list[str], compute: Callable[[], _Part]) -> _Part | None:
    """Compute one part; where it cannot be, remark on it and give None. Programming errors are not caught."""
    try:
        return compute()
    except (FetchwaterError, GEOSException) as problem:
        remarks.append(f"{what} could not be computed: {problem}")
        return None


@dataclass(frozen=True)
class BodyRuns:
    """The runs of one water; see BodySurvey."""

    longest: Run | None = None
    fan: tuple[Run, ...] = ()
    usable: tuple[Run, ...] = ()


@dataclass(frozen=True, eq=False)
class RunSurveyor:
    """What every run of one water is measured with."""

    model: DepthModel
    today: WaterToday
    frame: RegionFrame
    around: Surroundings

    @cached_property
    def skyline(self) -> Skyline:
        """What rises round the water, cut once for all lines and hover points."""
        return Skyline(self.around)

    @cached_property
    def deep(self) -> DeepWater:
        """The picture of sure depths that runs and hover points are chosen by."""
        return deep_water(self.model)

    @property
    def water(self) -> shapely.Polygon:
        """The water to search in: today's, or the outline."""
        assert self.today.water is not None
        return self.today.water

    def runs(self, remarks: list[str]) -> "BodyRuns":
        """Give the longest run, one run per heading that has any, and the usable runs.

        Notes: where usable runs are found the runs by heading are a picture of the water's shape, which nobody flies
        whole; their depth is then not asked for, and says so.
        """
        settings = self.around.settings
        width_m = settings.corridor_width_m
        effort = None, LONGEST_RUN_GAP, LONGEST_RUN_EFFORT_EDGES
        found = computed("longest run", remarks, lambda: longest_run(self.water, width_m, *effort))
        if found is None:
            return BodyRuns()
        if found.line is None:
            remarks.append(_too_narrow(self.water, width_m))
            return BodyRuns()
        longest = self._measured("longest", found.line, found.upper_bound_m)
        useful = longest.length_m >= settings.least_useful_m
        step_deg = settings.heading_step_deg if useful else max(settings.heading_step_deg, COARSE_STEP_DEG)
        headings_deg = np.arange(0.0, 180.0, step_deg)
        rose = computed("runs by heading", remarks, lambda: run_rose(self.water, headings_deg, width_m))
        lines = [line for line in rose.lines if line is not None] if rose is not None else []
        usable = self._usable([longest.line, *lines], remarks)
        if useful:
            longest = self._with_limits(longest)
        fan = tuple(self._measured("heading", line, line.length, depth=not usable) for line in lines)
        return BodyRuns(longest, fan, usable)

    def _usable(self, lines: list[shapely.LineString], remarks: list[str]) -> tuple[Run, ...]:
        given = self.model, self.water, self.skyline
        pieces = computed("usable runs", remarks, lambda: useful_pieces(*given, self.deep, lines)) or ()
        return tuple(self._measured("usable", piece.line, piece.chord.axis.length_m) for piece in pieces)

    def _with_limits(self, run: Run) -> Run:
        """Add to a run how much of it is usable in each direction, and what limits it."""
        found = usable_of(chord(run.line, self.skyline), self.around)
        ahead, back = found.ahead, found.back
        words = ahead.limited_by
        if back.limited_by != words:
            words = f"flown {_point(ahead)}: {words}; flown {_point(back)}: {back.limited_by}"
        return replace(run, usable_ahead_m=ahead.length_m, usable_back_m=back.length_m, limited_by=words)

    def _measured(
        self, search: str, line: shapely.LineString, upper_bound_m: float, *, depth: bool = True
    ) -> Run:
        """Give one run with its depth and the clearance beyond both ends."""
        settings = self.around.settings
        steep = settings.approach_slope
        start, end = ((float(x), float(y)) for x, y in shapely.get_coordinates(line)[[0, -1]])
        heading_deg = grid_heading_deg(start, end)
        back_deg = (heading_deg + 180.0) % 360.0
        beyond, strip_m = self.around.beyond, min(SCOOP_STRIP_M, settings.corridor_width_m)
        return Run(
            search=search,  # type: ignore[arg-type]
            length_m=float(line.length),
            upper_bound_m=max(float(upper_bound_m), float(line.length)),
            heading_grid_deg=heading_deg,
            heading_true_deg=plane_geodesic(self.frame.crs_wkt, start, end).start_bearing_deg,
            corridor_width_m=settings.corridor_width_m,
            line=line,
            depth=self.today.with_shore_unknown(self.model.least_along(line, strip_m))
            if depth
            else NOT_ASKED,
            start_end=beyond(start, back_deg),
            end_end=beyond(end, heading_deg),
            start_approach=beyond(start, back_deg, steep) if steep is not None else None,
            end_approach=beyond(end, heading_deg, steep) if steep is not None else None,
        )


NOT_ASKED = LeastDepth(
    "none", None, "not asked for on the whole run: see the usable runs", "not asked for on the whole run"
)


def _point(piece: UsablePiece) -> str:
    return POINTS[round(piece.heading_grid_deg / 45.0) % 8]


def _too_narrow(polygon: shapely.Polygon, width_m: float) -> str:
    _, radius_m = roomiest_place(OpenWater(polygon, ()))
    return (
        f"no straight run of {width_m:.0f} m corridor width fits: the water is {2.0 * radius_m:.0f} m wide at its "
        "widest place"
    )
