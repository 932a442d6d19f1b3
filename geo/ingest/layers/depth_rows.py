"""What soundings, contours and depth areas share on the way in: unit, sign and errors as declared, and their water."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
import shapely

from geo.ingest.checks.report import FileReport
from geo.ingest.layers.placing import on_plane
from geo.ingest.layers.reader import FileReader
from geo.ingest.layers.survey_quality import Uncertainty, declared_search, declared_uncertainty
from geo.ingest.layers.table import LayerTable, Row
from geo.ingest.settings import UNIT_M, DepthContoursFile, SignedDepths, SoundingsFile
from geo.records.bed_search import BedSearch
from geo.records.region import WaterBody

# Common practice, no source: so many depths of the other sign are slips, more are another sign than was declared.
FEW_WRONG_SIGNS = 0.05
DEEPEST_INLAND_M = 500.0
DEEPEST_SEA_M = 11_000.0
ABSURD_RATIO, ABSURD_STEP_M, ABSURD_SHARE = 3.0, 20.0, 0.02


def declared(section: SignedDepths, report: FileReport, columns: tuple[str, ...] = ("depth",)) -> bool:
    """Ask for unit, sign and depth columns; True when all are there."""
    asked: list[tuple[str, str | None, str, str]] = [
        ("unit", section.unit, 'declare unit = "metre", "foot" or "fathom"', "the unit of the depths"),
        ("positive", section.positive, 'declare positive = "down" or "up"', "the sign of the depths"),
    ]
    for name in columns:
        fix = f"map {name} in [{section.key}.columns]"
        asked.append((f"columns.{name}", section.columns.get(name), fix, f"the column of {name}"))
    for field, value, fix, what in asked:
        if value is None:
            report.ask_for(section.key, field, what, fix)
    return all(value is not None for _, value, _, _ in asked)


def signed_depth_m(row: Row, section: SignedDepths, column: str = "depth") -> float | None:
    """Give a depth of a row [m, positive down], None (with a caution) when the cell holds none."""
    factor = UNIT_M[section.unit or "metre"]
    depth = row.number_in(column, -DEEPEST_SEA_M, DEEPEST_SEA_M, "the depth [m]", factor)
    return None if depth is None else (depth if section.positive == "down" else -depth) + 0.0


@dataclass(frozen=True, eq=False)
class DepthTable:
    """A table with one depth a row, as parallel arrays over its n rows; NaN and None where a row is left out.

    depth_m: positive down; error_95_m: the survey's uncertainty at 95 %; days: of measurement; what: one row in a word;
    searches: how the file's surveys searched the bed, the file's own first, and survey: the place of each row's there.
    """

    table: LayerTable
    what: str
    depth_m: np.ndarray
    error_95_m: np.ndarray
    days: list[date | None]
    searches: tuple[BedSearch, ...]
    survey: np.ndarray

    def present(self) -> np.ndarray:
        """Give the places of the rows that were not left out."""
        return np.array(self.table.present(), int)

    def leave_out(self, index: int, rule: str, fix: str) -> None:
        """Leave one row out, with its depth as the value met."""
        self.table.row(index).leave_out(rule, fix, value=f"{self.depth_m[index]:.2f} m")


def read_depth_table(
    reader: FileReader,
    section: SoundingsFile | DepthContoursFile,
    crs_wkt: str,
    read_table: Callable[[], LayerTable | None],
    what: str,
    *,
    least_slips: int,
) -> DepthTable | None:
    """Give a layer of one depth a row in the metric plane, None (with faults) when it cannot be used.

    Parameters: read_table opens the file; what, one row in a word; least_slips, as many depths of the other sign than
    the rest are slips in however small a file.
    """
    report = reader.report.about(section.file)
    ready = declared(section, report)
    default = declared_uncertainty(section, report)
    table = read_table()
    if table is None or not ready:
        return None
    on_plane(table, crs_wkt)
    depths = _depths(table, section, default, what)
    return depths if _signs_hold(depths, section, least_slips) else None


def _depths(
    table: LayerTable, section: SoundingsFile | DepthContoursFile, default: Uncertainty | None, what: str
) -> DepthTable:
    size, factor = len(table), UNIT_M[section.unit or "metre"]
    surveys = section.surveys if isinstance(section, SoundingsFile) else {}
    searches = [declared_search(section, table.report, section.key)]
    searches += [
        declared_search(one, table.report, f"{section.key}.surveys.{name}") for name, one in surveys.items()
    ]
    numbers = {name: k for k, name in enumerate(surveys, start=1)}
    survey = np.zeros(size, int)
    found = DepthTable(
        table, what, np.full(size, np.nan), np.full(size, np.nan), [None] * size, tuple(searches), survey
    )
    unknown = []
    for row in table.rows():
        depth = signed_depth_m(row, section)
        if depth is None:
            row.leave_out(f"the {what} has no depth", "fill it in, or delete the row")
            continue
        found.depth_m[row.index] = depth
        stated = row.number_in("uncertainty", 1e-3, DEEPEST_INLAND_M, "the uncertainty [m]", factor)
        if stated is not None:
            found.error_95_m[row.index] = stated
        elif default is not None:
            found.error_95_m[row.index] = default.at_95_m(depth)
        else:
            unknown.append(row.label)
        found.days[row.index] = row.day("date")
        survey[row.index] = _survey_of(row, numbers)
    if unknown:
        rule = f"{len(unknown)} {what}s carry no uncertainty, the first in {unknown[0]}"
        fix = f"map uncertainty, or declare survey_order, catzoc or uncertainty_a_m in [{section.key}]"
        table.report.add("ask", rule, fix, field=f"{section.key}.survey_order")
    return found


def _survey_of(row: Row, numbers: dict[str, int]) -> int:
    """Give the place of a row's survey; of one that nobody described nothing is known, -1."""
    name = row.text("survey")
    if name is None:
        return 0
    if name not in numbers:
        row.complain("survey", "no survey of this name is described: it counts as one that searched nothing")
    return numbers.get(name, -1)


def _signs_hold(depths: DepthTable, section: SignedDepths, least_slips: int) -> bool:
    """Ask where many depths stand above the water, leave the few out; False when it was asked."""
    present = depths.table.present()
    wrong = [index for index in present if depths.depth_m[index] < 0]
    if len(wrong) > max(FEW_WRONG_SIGNS * len(present), least_slips) or 0 < len(wrong) == len(present):
        what = f"{len(wrong)} of {len(present)} {depths.what}s are above the water with the declared sign"
        rule = f"{what}, the first in {depths.table.row(wrong[0]).label}"
        fix = f'check positive = "down" or "up" in [{section.key}], and that the file does not mix both'
        place = {"field": f"{section.key}.positive", "value": f"{depths.depth_m[wrong[0]]:.2f} m"}
        depths.table.report.add("ask", rule, fix, **place)
        return False
    for index in wrong:
        depths.leave_out(index, "the depth has the other sign than the rest", "mend the sign")
    return True


def deepest_believed_m(depths_m: np.ndarray, body: WaterBody) -> tuple[float, float]:
    """Give the depth above which depths of one body stand absurdly far below the rest, and that of any such water [m].

    Notes: a step of more than 20 m that also trebles the depth, with at most 2 % of the depths (or one) beyond it and
    three or more before it (our choice, no source).
    """
    ceiling_m = DEEPEST_SEA_M if body.kind in ("sea", "estuary") else DEEPEST_INLAND_M
    ordered = np.sort(depths_m)
    upper, lower = ordered[1:], ordered[:-1]
    few = max(1, int(ABSURD_SHARE * len(ordered)))
    for jump in np.flatnonzero(
        (upper > ABSURD_RATIO * np.maximum(lower, 0)) & (upper - lower > ABSURD_STEP_M)
    ):
        if len(ordered) - 1 - jump <= few and jump + 1 >= 3:
            return min(ceiling_m, float(lower[jump])), ceiling_m
    return ceiling_m, ceiling_m


class WaterIndex:
    """The waters of a region, found by place."""

    def __init__(self, bodies: tuple[WaterBody, ...]) -> None:
        self.bodies = bodies
        self.polygons = np.array([body.polygon for body in bodies], object)
        self.tree = shapely.STRtree(self.polygons)

    def met_by(self, shape: shapely.Geometry) -> list[int]:
        """Give the places of the waters that a shape meets, in the order of the bodies."""
        return sorted(self.tree.query(shape, predicate="intersects").tolist())

    def smallest_with(self, points: np.ndarray) -> np.ndarray:
        """Give the place of the water that each point (n,) lies in, -1 for none.

        Notes: where waters overlap the smaller one is meant: a pond drawn on a river.
        """
        index, body = self.tree.query(points, predicate="intersects")
        order = np.argsort(-shapely.area(self.polygons)[body], kind="stable")
        found = np.full(len(points), -1)
        found[index[order]] = body[order]
        return found

    def leave_out(self, row: Row, rule: str, fix: str = "check its position", **place: Any) -> None:
        """Leave out a row that lies in no water, and say how far off the nearest is."""
        nearest = int(self.tree.nearest(row.shape))
        away_m = shapely.distance(row.shape, self.polygons[nearest])
        where = f"the nearest shore is that of {self.bodies[nearest].body_id}, {away_m:.1f} m away"
        row.leave_out(rule, f"{fix}; {where}", **place)
