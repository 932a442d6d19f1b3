"""Surveys of bodies whose bed is known: what the field said and what was true. Used to learn and to prove.

`python tests/survey/depth_study.py` learns the recalibration that is shipped in geo/survey/depth/recalibration.json anew.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import shapely
from flooded_valleys import Reservoir, inside, order_one_sd, random_run, reservoirs

from geo.survey.depth.corridor import Corridor, Disc
from geo.survey.depth.field import DepthField, depth_field
from geo.survey.depth.recalibration import (
    FILE,
    AreaCorrection,
    PointCorrection,
    Recalibration,
    learned_areas,
    learned_points,
    written_recalibration,
)
from geo.survey.depth.simulation import surroundings

POINTS = 200
STRIP_M, HOVER_M = 20.0, 5.0
DESIGNS = ("spread", "tracks")
POINT_COUNTS = (8, 11, 15, 22, 30, 60, 100, 150, 300)
AREA_COUNTS = (10, 15, 30, 60, 150)
RUNS, HOVERS, DEPTHS = 5, 2, 2
FOLDS = 5
PROVENANCE = {
    "learned_on": "reservoirs made by damming streams of a real terrain model",
    "terrain": "elevation sample of matplotlib, jacksboro_fault_dem.npz, 3 arc seconds, whole metres",
    "instrument": "IHO S-44 Ed. 6 order 1: sqrt(0.5^2 + (0.013 d)^2) m at 95 %",
    "surveys": "soundings spread evenly at random, and along the tracks of a boat",
    "limits": "one terrain of streams and ridges; no glacial, coastal or dredged beds; no single rocks",
    "made_by": "tests/survey/depth_study.py",
}


@dataclass(frozen=True, eq=False)
class Survey:
    """One survey of one body: the field learned from it (not recalibrated) and how it was made."""

    body: Reservoir
    count: int
    design: str
    field: DepthField


def positions(body: Reservoir, count: int, design: str, rng: np.random.Generator):
    """Places of soundings: 'spread' evenly at random, or 'tracks' of a boat that crosses back and forth."""
    if design == "spread":
        return inside(body.polygon, count, rng)
    x, y = inside(body.polygon, max(count // 12, 2) + 1, rng)
    track = shapely.linestrings(np.column_stack((x, y)))
    part = np.sort(rng.uniform(0.0, 1.0, 6 * count))
    at = shapely.get_coordinates(shapely.line_interpolate_point(track, part, normalized=True))
    wet = at[shapely.contains_xy(body.polygon, at[:, 0], at[:, 1])]
    keep = np.sort(rng.permutation(len(wet))[:count])
    return wet[keep, 0], wet[keep, 1]


def surveyed(body: Reservoir, count: int, design: str, rng: np.random.Generator) -> DepthField:
    """A survey of a body with instruments of order 1, and the field learned from it."""
    x, y = positions(body, count, design, rng)
    sd = order_one_sd(body.bed(x, y))
    measured = body.bed(x, y) + rng.normal(size=len(x)) * sd
    return depth_field(
        body.polygon, easting_m=x, northing_m=y, depth_m=measured, sd_m=sd, seed_text=body.name
    )


def surveys(
    bodies: Sequence[Reservoir], counts: Sequence[int], designs: Sequence[str], rng: np.random.Generator
) -> list[Survey]:
    """One survey per body, count and design; those with too few usable soundings for a field are left out."""
    made = []
    for body in bodies:
        for design in designs:
            for count in counts:
                field = surveyed(body, count, design, rng)
                if field.process is not None:
                    made.append(Survey(body, count, design, replace(field, recalibration=None)))
    return made


@dataclass(frozen=True, eq=False)
class HeldOut:
    """Held-out soundings of many surveys, arrays of one length: what was measured and what the raw field says."""

    block: np.ndarray
    count: np.ndarray
    spread: np.ndarray
    terms: np.ndarray
    shore_term: np.ndarray
    error_m: np.ndarray
    sd_m: np.ndarray
    noise_m: np.ndarray

    def part(self, keep: np.ndarray) -> "HeldOut":
        """Some of them."""
        return HeldOut(*(getattr(self, name)[keep] for name in self.__dataclass_fields__))

    def scores(self, correction: PointCorrection) -> np.ndarray:
        """Corrected error over its sigma."""
        widened = np.exp(np.clip(self.terms @ np.array(correction.weights), -4.0, 4.0)) * self.sd_m
        error = self.error_m + correction.shore_shift * self.shore_term * widened
        return error / np.hypot(widened, self.noise_m)


def held_out(made: Sequence[Survey], rng: np.random.Generator) -> HeldOut:
    """Soundings of the same kind at places that the fields were not given, POINTS per survey."""
    rows = []
    for survey in made:
        field, body = survey.field, survey.body
        x, y = inside(body.polygon, POINTS, rng)
        noise = order_one_sd(body.bed(x, y))
        mean, sd = field.at(x, y)
        around = surroundings(field.process, field.shore, x, y, field.shore.distance_m(x, y))
        error = body.bed(x, y) + rng.normal(size=POINTS) * noise - mean
        one = np.ones(POINTS)
        columns = (body.block * one, survey.count * one, (survey.design == "spread") * one)
        row = (*columns, around.terms(), around.shore_term(), error, sd, noise)
        keep = np.isfinite(mean)
        rows.append([column[keep] for column in row])
    return HeldOut(*(np.concatenate(columns) for columns in zip(*rows, strict=True)))


def learn_points(sample: HeldOut, rng: np.random.Generator, most: int = 20000) -> PointCorrection:
    """The correction at points learned from (at most so many of) held-out soundings."""
    keep = rng.permutation(len(sample.error_m))[:most]
    s = sample.part(keep)
    return learned_points(s.terms, s.shore_term, s.error_m, s.sd_m, s.noise_m)


@dataclass(frozen=True, eq=False)
class Area:
    """One run's strip or hover circle in one survey: its true least depth, and the depths that are asked for."""

    survey: Survey
    area: Corridor | Disc
    least_m: float
    required_m: np.ndarray


def areas(made: Sequence[Survey], rng: np.random.Generator) -> list[Area]:
    """Random strips and circles in each survey; depths asked for are quantiles of the body's own depth."""
    found = []
    for survey in made:
        body = survey.body
        wanted: list[Corridor | Disc] = []
        for line in (random_run(body.polygon, rng, STRIP_M) for _ in range(RUNS)):
            if line is not None:
                wanted.append(Corridor(line, STRIP_M))
        x, y = inside(body.polygon.buffer(-HOVER_M), HOVERS, rng)
        wanted += [Disc(shapely.Point(a, b), HOVER_M) for a, b in zip(x, y, strict=True)]
        depths = body.bed(*inside(body.polygon, 300, rng))
        for area in wanted:
            px, py, _offset = area.points(4.0)
            required = np.maximum(np.quantile(depths, rng.uniform(0.05, 0.6, DEPTHS)), 0.3)
            found.append(Area(survey, area, float(body.bed(px, py).min()), required))
    return found


@dataclass(frozen=True, eq=False)
class Answers:
    """Raw shares of draws for many questions (k,), with what was true."""

    block: np.ndarray
    count: np.ndarray
    run: np.ndarray
    joint: np.ndarray
    point: np.ndarray
    held: np.ndarray

    def part(self, keep: np.ndarray) -> "Answers":
        """Some of them."""
        return Answers(*(getattr(self, name)[keep] for name in self.__dataclass_fields__))


def answers(asked: Sequence[Area], correction: PointCorrection) -> Answers:
    """Draws over each area with a correction at points, and the shares that are deep enough."""
    neutral = AreaCorrection(0.0, 0.0, 1.0, 0.0)
    recalibration = Recalibration(correction, neutral, {})
    rows = []
    for each in asked:
        field = replace(each.survey.field, recalibration=recalibration)
        joint, point = field.draws(each.area).shares(each.required_m)
        one = np.ones(len(joint))
        count, run = len(field.process.depth_m) * one, isinstance(each.area, Corridor) * one
        held = each.least_m >= each.required_m
        rows.append((each.survey.body.block * one, count, run, joint, point, held))
    return Answers(*(np.concatenate(columns) for columns in zip(*rows, strict=True)))


def learn_areas(sample: Answers) -> AreaCorrection:
    """The correction of joint probabilities learned from answers."""
    return learned_areas(sample.joint, sample.point, sample.count, sample.held > 0)


def folds(block: np.ndarray) -> list[np.ndarray]:
    """Blocks of terrain in FOLDS parts: no body of a part's terrain is learned from when the part is judged."""
    return [np.isin(block, part) for part in np.array_split(np.unique(block), FOLDS)]


def learn() -> str:
    """The text of the shipped file, learned on all bodies."""
    bodies, rng = reservoirs(), np.random.default_rng(11)
    points = learn_points(held_out(surveys(bodies, POINT_COUNTS, DESIGNS, rng), rng), rng, 40000)
    sample = answers(areas(surveys(bodies, AREA_COUNTS, DESIGNS, rng), rng), points)
    provenance = {
        **PROVENANCE,
        "bodies": len(bodies),
        "terrain_blocks": len({body.block for body in bodies}),
        "questions": len(sample.joint),
    }
    return written_recalibration(Recalibration(points, learn_areas(sample), provenance))


if __name__ == "__main__":
    import geo.survey.depth as package

    Path(package.__file__).with_name(FILE).write_text(learn(), encoding="utf-8")
