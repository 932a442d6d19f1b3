"""What charts and lake maps say of depth: contour lines, and areas between two depths with their zone of confidence."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import Literal

from geo.records.bed_search import NOT_SEARCHED, BedSearch
from geo.records.geometry import AreaM, LineM

Zone = Literal["A1", "A2", "B", "C", "D", "U"]


@dataclass(frozen=True, eq=False)
class DepthContour:
    """One piece of a contour line inside one water body.

    depth_m is positive down below the level at which the body's depths hold; sd_m is one sigma of the survey behind the
    map [m], without the error of drawing.
    """

    body_id: str
    line: LineM
    depth_m: float
    sd_m: float
    origin: str
    surveyed_on: date | None = None
    search: BedSearch = NOT_SEARCHED


@dataclass(frozen=True, eq=False)
class DepthArea:
    """One depth area of a chart [m below the level at which depths hold; negative dries]: between two depths."""

    polygon: AreaM
    least_m: float
    greatest_m: float
    zone: Zone
    origin: str
    surveyed_on: date | None = None
    body_id: str = ""


@dataclass(frozen=True, eq=False)
class DepthChart:
    """All contours and depth areas of a region, or those of one body. An area stands once for each body it touches."""

    contours: tuple[DepthContour, ...] = ()
    areas: tuple[DepthArea, ...] = ()

    @cached_property
    def _by_body(self) -> dict[str, "DepthChart"]:
        found: dict[str, tuple[list[DepthContour], list[DepthArea]]] = defaultdict(lambda: ([], []))
        for contour in self.contours:
            found[contour.body_id][0].append(contour)
        for area in self.areas:
            found[area.body_id][1].append(area)
        return {body: DepthChart(tuple(lines), tuple(areas)) for body, (lines, areas) in found.items()}

    def of(self, body_id: str) -> "DepthChart | None":
        """Give what the chart says of one body, None where that is nothing."""
        return self._by_body.get(body_id)
