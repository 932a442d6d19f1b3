"""Depth of one water body as a mean and a standard deviation on a grid, and joint probabilities along a run."""

from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property

import numpy as np
import shapely
from scipy.special import ndtr

from geo.base.errors import BadArgument
from geo.base.grid import Grid
from geo.records.bed_search import BedSearch
from geo.records.region import Soundings, WaterKind
from geo.records.survey import LeastDepth
from geo.survey.depth.ageing import aged
from geo.survey.depth.corridor import Disc, Strip
from geo.survey.depth.evidence import LEAST_SOUNDINGS, Evidence, sounding_record, usable_evidence
from geo.survey.depth.looked import Looked
from geo.survey.depth.process import LEAST_INSTRUMENT_SD_M, DepthProcess, Solution, fit_process, matern
from geo.survey.depth.recalibration import Recalibration, shipped_recalibration
from geo.survey.depth.shore import Shoreline
from geo.survey.depth.simulation import (
    CONDITIONING_SOUNDINGS,
    LeastDraws,
    correction_terms,
    local_solution,
    seed_of,
    simulate_least,
)
from geo.survey.depth.unseen import BedDepths, Unseen

GRID_CELLS = 4000
FIND_POINTS = 400
# Points that a mean depth is taken over; with few soundings the field is smooth, and its error far above the lattice's.
MEAN_POINTS, MEAN_POINTS_FEW, FEW_SOUNDINGS = 1200, 400, 60
# Share of the points' own sigma that the mean depth keeps, with evenly strewn soundings; more with clumped ones. Chosen
# on beds of the kinds that the recalibration was learned on.
COMMON_SHARE = 0.2
NEIGHBOURS = 32
NEIGHBOUR_BLOCK = 1000


@dataclass(frozen=True, eq=False)
class DepthField:
    """The depth field of one body. `process` is None when there are too few soundings: then all depths are unknown.

    level_change_m: today's level minus that of the soundings [m], already in every result. kind: of water, which says
    what may stand on its bed unseen.
    """

    shore: Shoreline
    evidence: Evidence
    process: DepthProcess | None
    level_change_m: float
    cell_m: float
    seed: int
    recalibration: Recalibration | None = None
    age_text: str = ""
    kind: WaterKind = "unknown"

    @cached_property
    def looked(self) -> Looked:
        """What the soundings' surveys would have seen on the bed."""
        return Looked(self.evidence.surveys())

    def finds(self, looked: Looked) -> tuple[int, list[tuple[float, float]]]:
        """Give what surveys found on the bed, and where (see Looked.finds)."""
        if all(one.search.features_found is None for one in looked.sounded):
            return 0, []
        x, y, _step = self.shore.lattice(FIND_POINTS)
        return looked.finds(np.column_stack((x, y)), float(self.shore.polygon.area))

    @cached_property
    def _solution(self) -> Solution | None:
        if self.process is None or len(self.evidence) > CONDITIONING_SOUNDINGS:
            return None
        return self.process.solved()

    @property
    def known(self) -> DepthProcess:
        """The random field. Raises: BadArgument where there are too few soundings for one."""
        if self.process is None:
            raise BadArgument(
                f"{len(self.evidence)} usable soundings: a depth field needs {LEAST_SOUNDINGS} or more"
            )
        return self.process

    def solution_near(self, area: Strip | Disc) -> Solution:
        """Give the field conditioned on all soundings, or on those round an area where there are very many.

        Raises: BadArgument without a fitted field.
        """
        return self._solution if self._solution is not None else local_solution(self.known, area)

    def draws(self, area: Strip | Disc) -> LeastDraws:
        """Draw depths over an area jointly (see simulate_least). Raises: BadArgument without a fitted field."""
        solution = self.solution_near(area)
        correction = self.recalibration.point if self.recalibration is not None else None
        return simulate_least(solution, self.shore, area, self.seed, self.level_change_m, correction)

    def least_table(self, draws: LeastDraws) -> tuple[float, ...]:
        """Give the recalibrated quantiles [m] of the least depth at DEPTH_PROBABILITIES from draws over an area."""
        return draws.table(self.recalibration, self.known)

    def at(self, easting_m: np.ndarray, northing_m: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Give mean and standard deviation [m] of the depth of the bed below today's level at points (n,).

        Negative means the bed stands above today's level. NaN outside the water, and everywhere without a field.
        """
        x, y = np.asarray(easting_m, float), np.asarray(northing_m, float)
        if self.process is None:
            return np.full(x.shape, np.nan), np.full(x.shape, np.nan)
        distance = self.shore.distance_m(x, y)
        wet = distance > 0
        result = np.full((2, len(x)), np.nan)
        result[:, wet] = self._at_wet(x[wet], y[wet], distance[wet])
        return result[0], result[1]

    def _at_wet(self, x: np.ndarray, y: np.ndarray, distance: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        exact, process = self._solution, self.known
        mean, sd = exact.field(x, y) if exact is not None else _field_by_neighbours(process, x, y)
        if self.recalibration is not None:
            around = correction_terms(process, self.shore, x, y, distance)
            sd = self.recalibration.point.widening(around) * sd
            mean = mean - self.recalibration.point.shift(around) * sd
        factor = process.factor(distance)
        return factor * mean + self.level_change_m, factor * sd

    @cached_property
    def _grids(self) -> tuple[Grid, Grid]:
        west, south, east, north = self.shore.polygon.bounds
        columns, rows = (max(int(np.ceil(side / self.cell_m)), 1) for side in (east - west, north - south))
        x = west + (np.arange(columns) + 0.5) * self.cell_m
        y = north - (np.arange(rows) + 0.5) * self.cell_m
        xx, yy = np.meshgrid(x, y)
        values = np.stack(self.at(xx.ravel(), yy.ravel())).reshape(2, rows, columns)
        mean, sd = (Grid(layer, west, north, self.cell_m, self.cell_m) for layer in values)
        return mean, sd

    @property
    def mean(self) -> Grid:
        """Mean depth at today's level [m, positive down]; NaN outside the water and where unknown."""
        return self._grids[0]

    @property
    def sd(self) -> Grid:
        """Standard deviation of the depth [m]; NaN as in `mean`."""
        return self._grids[1]

    def mean_depth(self) -> tuple[float, float, float]:
        """Give expected mean depth of the water left [m], its one sigma [m], and the expected share still wet.

        Raises: BadArgument without a fitted field. Notes: E[max(depth, 0)] of a normal depth at each lattice point;
        the sigma is that of the mean over a coarser lattice, all points jointly, and a share of the points' own sigma
        that no number of points averages out: the shore scale and the length were learned from the same soundings.
        """
        _ = self.known
        points = MEAN_POINTS_FEW if len(self.evidence) <= FEW_SOUNDINGS else MEAN_POINTS
        x, y, _step = self.shore.lattice(points)
        mean, sd = self.at(x, y)
        safe = np.maximum(sd, 1e-9)
        z = mean / safe
        water = mean * ndtr(z) + safe * np.exp(-0.5 * z * z) / np.sqrt(2.0 * np.pi)
        wet = float(ndtr(z).mean())
        depth = float(water.mean()) / wet if wet > 0 else 0.0
        return depth, self._mean_sd(), wet

    def _mean_sd(self) -> float:
        x, y, _step = self.shore.lattice(100)
        middle, shore_m = Disc(self.shore.polygon.centroid, 0.0), self.shore.distance_m(x, y)
        solution = self.solution_near(middle)
        factor, common = self.known.factor(shore_m) / len(x), 0.0
        covariance = solution.joint_field(x, y)[1]
        if self.recalibration is not None:
            around = correction_terms(self.known, self.shore, x, y, shore_m)
            factor = factor * self.recalibration.point.widening(around)
            common = COMMON_SHARE * (1.0 + around.clumped()) * float(factor @ np.sqrt(np.diag(covariance)))
        return float(np.hypot(np.sqrt(max(factor @ covariance @ factor, 0.0)), common))


def depth_field(
    polygon: shapely.Polygon,
    soundings: Soundings | None = None,
    *,
    easting_m: np.ndarray | None = None,
    northing_m: np.ndarray | None = None,
    depth_m: np.ndarray | None = None,
    sd_m: np.ndarray | float = 0.0,
    level_change_m: float = 0.0,
    cell_m: float | None = None,
    seed_text: str = "",
    search: BedSearch | None = None,
    kind: WaterKind = "unknown",
) -> DepthField:
    """Give the depth field of a water body: mean and standard deviation on a grid, learned from soundings.

    Parameters: polygon: the water, islands as holes [m]. soundings: a Soundings record, or None with the four arrays
    easting_m, northing_m, depth_m [m, positive down], sd_m (one sigma of the instrument, array or one number).
    level_change_m: today's level minus the soundings' [m]. cell_m: cell of the grid [m]; by default some 4000 cells
    cover the water. seed_text: the body's id, which seeds the simulation. search: how the survey behind the arrays
    searched the bed (coverage, line spacing, features); None is the careful end: nothing but the soundings was seen,
    and then hardly any run is stated above 0.9. kind: of water; "unknown" is the careful end too, a flooded wood.
    Returns: DepthField with .mean and .sd (Grid, row 0 north, NaN where unknown) and .at(easting_m, northing_m). With
    fewer than 8 usable soundings everything is NaN: unknown is an answer.
    Raises: BadArgument: values that are not finite, a negative sigma, arrays of different length, an empty polygon.

    Notes: depth = (1 - exp(-d / L)) A, d the distance to shore, A a Gaussian field of unknown mean with Matern 3/2
    correlation; the instrument's variance is the only noise. Calibration must be measured on bodies that were not used
    to choose these rules; the figures are in the tests.
    """
    if polygon.is_empty or not polygon.area > 0 or not np.isfinite(polygon.bounds).all():
        raise BadArgument(
            "polygon: must have an area > 0 and finite coordinates; give the water's outline in metres"
        )
    if not np.isfinite(level_change_m):
        raise BadArgument(f"level_change_m {level_change_m}: must be finite; leave it out when unknown")
    if cell_m is not None and not (np.isfinite(cell_m) and cell_m > 0):
        raise BadArgument(f"cell_m {cell_m}: must be finite and > 0")
    if soundings is None:
        arrays = [a if a is not None else np.zeros(0) for a in (easting_m, northing_m, depth_m)]
        soundings = sounding_record(arrays[0], arrays[1], arrays[2], sd_m, search)
    return replace(learned_field(Shoreline(polygon), soundings, level_change_m, cell_m, seed_text), kind=kind)


def learned_field(
    shore: Shoreline, soundings: Soundings, level_change_m: float, cell_m: float | None, seed_text: str
) -> DepthField:
    """Give the depth field on a prepared shore; arguments, result and errors as in depth_field."""
    evidence = usable_evidence(soundings, shore)
    process = None
    if len(evidence) >= LEAST_SOUNDINGS:
        process = fit_process(
            evidence.easting_m,
            evidence.northing_m,
            evidence.depth_m,
            evidence.sd_m,
            evidence.shore_m,
            shore.greatest_m,
        )
    cell = cell_m if cell_m is not None else float(np.sqrt(shore.polygon.area / GRID_CELLS))
    return DepthField(
        shore, evidence, process, level_change_m, cell, seed_of(seed_text), shipped_recalibration()
    )


def aged_field(field: DepthField, kind: WaterKind, today: date) -> DepthField:
    """Give the same field with the weight that the soundings' age leaves them (see ageing).

    Notes: the field's shape is learned from the soundings as measured; older ones are then shallower and less sure. The
    other way round a larger error would be taken for a smoother bed. Raises: BadArgument for soundings after today.
    """
    old = field.evidence
    depth_m, sd_m, text = aged(old.depth_m, old.sd_m, old.measured_on, kind, today)
    evidence = replace(old, depth_m=depth_m, sd_m=sd_m)
    process = field.process
    if process is not None:
        noise = np.maximum(sd_m, LEAST_INSTRUMENT_SD_M) ** 2
        process = replace(process, depth_m=depth_m, noise_m2=noise)
    return replace(field, evidence=evidence, process=process, age_text=text)


def run_depth_probability(
    field: DepthField, line: shapely.LineString, width_m: float, required_m: float
) -> float | None:
    """Give the probability that the depth is at least required_m EVERYWHERE in the corridor, all points jointly.

    Parameters: a depth field; the run's line [m]; the corridor's width [m] (0: the line alone); the depth [m] wanted.
    Returns: a probability within 0.005 .. 0.995 (400 draws say no more); None without a field (too few soundings).
    Notes: that the bed is deep enough, times that nothing stands on it unseen. Without a declared search (see
    depth_field) the second is low wherever features of the water's kind could reach the depth wanted.

    Raises: BadArgument for a line, width or depth that cannot be.
    """
    if not (np.isfinite(required_m) and required_m > 0):
        raise BadArgument(f"required_m {required_m}: must be finite and > 0 (depth is positive down)")
    area = Strip(line, width_m)
    if field.process is None:
        return None
    draws = field.draws(area)
    bed = BedDepths(draws.depth_m, np.column_stack((draws.easting_m, draws.northing_m)))
    finds = field.finds(field.looked)
    unseen = Unseen(area, field.looked, field.kind, bed, field.level_change_m, finds)
    table = unseen.table(field.least_table(draws))
    return LeastDepth("soundings", table, "", "").probability_at_least(required_m)


def _field_by_neighbours(
    process: DepthProcess, x: np.ndarray, y: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Mean and sd of the field from each point's nearest soundings only (many soundings: the far ones are screened).

    Solves one small universal kriging system per point, many at once.
    """
    mean, sd = np.empty(len(x)), np.empty(len(x))
    for start in range(0, len(x), NEIGHBOUR_BLOCK):
        block = slice(start, start + NEIGHBOUR_BLOCK)
        mean[block], sd[block] = _neighbour_block(process, x[block], y[block])
    return mean, process.scale * sd


def _neighbour_block(process: DepthProcess, x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    found = process.layout.tree.query(np.column_stack((x, y)), k=NEIGHBOURS)
    reach, near = np.asarray(found[0]), np.asarray(found[1])
    east, north = process.easting_m[near], process.northing_m[near]
    factor, variance = process.factor(process.shore_distance_m[near]), process.sd_m**2
    apart = np.sqrt((east[:, :, None] - east[:, None, :]) ** 2 + (north[:, :, None] - north[:, None, :]) ** 2)
    covariance = variance * factor[:, :, None] * factor[:, None, :] * matern(apart, process.length_m)
    covariance[:, np.arange(NEIGHBOURS), np.arange(NEIGHBOURS)] += process.noise_m2[near]
    cross = variance * factor * matern(reach, process.length_m)
    right = np.stack((process.depth_m[near], factor, cross), axis=-1)
    solved = np.linalg.solve(covariance, right)
    products = np.swapaxes(right, 1, 2) @ solved
    first_m, precision_first = process.first_mean()
    precision = products[:, 1, 1] + precision_first
    mean = (products[:, 0, 1] + first_m * precision_first) / precision
    rest = 1.0 - products[:, 1, 2]
    spread = variance - products[:, 2, 2] + rest**2 / precision
    return mean * rest + products[:, 0, 2], np.sqrt(np.maximum(spread, 0.0))
