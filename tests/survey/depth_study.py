"""Surveys of bodies whose bed is known: what the field said and what was true. Used to learn and to prove.

`python tests/survey/depth_study.py` learns the shipped geo/survey/depth/recalibration.json anew.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import shapely
from depth_learning import learned_areas, learned_points, learned_rule, written_recalibration
from flooded_valleys import Reservoir, inside, order_one_sd, random_run, reservoirs
from kinds_of_bed import FIRST_BLOCK, Bed, beds_to_learn

from geo.survey.depth.corridor import Disc, Strip
from geo.survey.depth.field import DepthField, depth_field
from geo.survey.depth.recalibration import (
    FILE,
    POINT_PROBABILITIES,
    AreaCorrection,
    PointCorrection,
    Recalibration,
    safe_logit,
)
from geo.survey.depth.shore import Shoreline
from geo.survey.depth.simulation import DRAWS, LeastDraws, correction_terms
from geo.survey.depth.unsounded import land_slope, unsounded_size_m

POINTS = 200
STRIP_M, HOVER_M = 20.0, 5.0
DESIGNS = ("spread", "tracks")
POINT_COUNTS = (8, 11, 15, 22, 30, 60, 100, 150, 300)
AREA_COUNTS = (10, 15, 30, 60, 150)
RUNS, HOVERS, DEPTHS = 12, 2, 2
# Beds of each invented kind that are learned on, and their seed; no test uses this seed.
BEDS_OF_A_KIND, KIND_SEED = 6, 2024
MOST_LEARNED = 2000
SEEDS = (20240, 1, 2, 3)
PROVENANCE = {
    "learned_on": "reservoirs made by damming streams of a real terrain model, and beds invented in six kinds: "
    "shelf with channel, playa, glacial sills, quarry, mounds, smooth",
    "terrain": "elevation sample of matplotlib, jacksboro_fault_dem.npz, 3 arc seconds, whole metres",
    "instrument": "IHO S-44 Ed. 6 order 1: sqrt(0.5^2 + (0.013 d)^2) m at 95 %",
    "surveys": "soundings spread evenly at random, and along the tracks of a boat",
    "limits": "what is narrower than soundings lie apart is not in it: see geo/survey/depth/features.py",
    "made_by": "tests/survey/depth_study.py",
}


@dataclass(frozen=True, eq=False)
class Survey:
    """One survey of one body: the field learned from it (not recalibrated) and how it was made."""

    body: Reservoir | Bed
    count: int
    design: str
    field: DepthField


def positions(body: Reservoir | Bed, count: int, design: str, rng: np.random.Generator):
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


def surveyed(body: Reservoir | Bed, count: int, design: str, rng: np.random.Generator) -> DepthField:
    """A survey of a body with instruments of order 1, and the field learned from it."""
    x, y = positions(body, count, design, rng)
    sd = order_one_sd(body.bed(x, y))
    measured = body.bed(x, y) + rng.normal(size=len(x)) * sd
    return depth_field(
        body.polygon, easting_m=x, northing_m=y, depth_m=measured, sd_m=sd, seed_text=body.name
    )


def surveys(
    bodies: Sequence[Reservoir | Bed], counts: Sequence[int], designs: Sequence[str], rng: np.random.Generator
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
        around = correction_terms(field.process, field.shore, x, y, field.shore.distance_m(x, y))
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
    area: Strip | Disc
    least_m: float
    required_m: np.ndarray
    number: int


def half_width(correction: PointCorrection, probability: float) -> float:
    """Give the half-width, in corrected sigmas, of the central interval of a probability in [0, 0.99]."""
    table = (0.0, *POINT_PROBABILITIES), (0.0, *correction.interval_sigmas)
    return float(np.interp(probability, *table))


def areas(made: Sequence[Survey], rng: np.random.Generator) -> list[Area]:
    """Random strips and circles in each survey; depths asked for are quantiles of the body's own depth."""
    found = []
    for number, survey in enumerate(made):
        body = survey.body
        depths = body.bed(*inside(body.polygon, 300, rng))
        asked = np.maximum(np.quantile(depths, rng.uniform(0.05, 0.6, DEPTHS)), 0.3)
        wanted: list[Strip | Disc] = []
        for line in (random_run(body.polygon, rng, STRIP_M) for _ in range(RUNS)):
            if line is not None:
                wanted.append(Strip(line, STRIP_M))
        x, y = inside(body.polygon.buffer(-HOVER_M), HOVERS, rng)
        wanted += [Disc(shapely.Point(a, b), HOVER_M) for a, b in zip(x, y, strict=True)]
        for area in wanted:
            px, py, _offset = area.points(4.0)
            found.append(Area(survey, area, float(body.bed(px, py).min()), asked, number))
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
    question: np.ndarray

    def part(self, keep: np.ndarray) -> "Answers":
        """Some of them."""
        return Answers(*(getattr(self, name)[keep] for name in self.__dataclass_fields__))

    def best(self) -> np.ndarray:
        """Places of the surest run for each depth in each survey: who may choose among many chooses that one."""
        runs = np.flatnonzero(self.run > 0)
        order = runs[
            np.lexsort((safe_logit(self.joint[runs]) + safe_logit(self.point[runs]), self.question[runs]))
        ]
        return order[np.append(np.diff(self.question[order]) != 0, True)]


def shares(draws: LeastDraws, required_m: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The raw shares of draws as deep as required_m (k,): everywhere, and at the worst single point."""
    ranks = (np.arange(DRAWS) + 0.5) / DRAWS
    least, worst = draws.ranked()
    return 1.0 - np.interp(required_m, least, ranks), 1.0 - np.interp(required_m, worst, ranks)


def answers(asked: Sequence[Area], correction: PointCorrection) -> Answers:
    """Draws over each area with a correction at points, and the shares that are deep enough."""
    neutral = AreaCorrection(0.0, 0.0, 1.0, 0.0)
    recalibration = Recalibration(correction, neutral, {})
    rows = []
    for each in asked:
        field = replace(each.survey.field, recalibration=recalibration)
        joint, point = shares(field.draws(each.area), each.required_m)
        one = np.ones(len(joint))
        count, run = len(field.process.depth_m) * one, isinstance(each.area, Strip) * one
        held = each.least_m >= each.required_m
        question = each.number * DEPTHS + np.arange(len(joint))
        rows.append((each.survey.body.block * one, count, run, joint, point, held, question))
    return Answers(*(np.concatenate(columns) for columns in zip(*rows, strict=True)))


def learn_areas(sample: Answers) -> AreaCorrection:
    """The correction of joint probabilities learned from answers; the best of many runs count as much as all others."""
    best = sample.best()
    again = np.concatenate(
        (np.arange(len(sample.held)), np.tile(best, max(len(sample.held) // len(best), 1)))
    )
    chosen = sample.part(again)
    return learned_areas(chosen.joint, chosen.point, chosen.count, chosen.held > 0)


def sizes(bodies: Sequence[Reservoir]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Slope x shore distance [m], true greatest depth [m] and terrain block of bodies that nobody sounded."""
    rows = []
    for body in bodies:
        shore = Shoreline(body.polygon)
        slope = land_slope(shore, body.ground, 0.0)
        if slope is not None:
            rows.append((unsounded_size_m(shore, slope), float(body.depth.values.max()), body.block))
    return tuple(np.array(rows).T)


def unsounded_bodies() -> list[Reservoir]:
    """Bodies of several sets of dams; bodies of different sets may overlap, blocks of terrain do not."""
    return [body for seed in SEEDS for body in reservoirs(seed=seed)]


@dataclass(frozen=True, eq=False)
class Proof:
    """What corrections said of bodies whose terrain they were not learned from.

    scores: corrected errors of held-out soundings, with their survey's count and design; half_50, half_90: the
    half-widths that the correction of that part gives; stated: corrected probabilities of the answers.
    """

    sample: HeldOut
    scores: np.ndarray
    half_50: np.ndarray
    half_90: np.ndarray
    asked: Answers
    stated: np.ndarray

    def coverage(self, count: int, design: str) -> tuple[float, float]:
        """Shares of held-out soundings in the 50 % and the 90 % interval."""
        pick = (self.sample.count == count) & (self.sample.spread == (design == "spread"))
        score = np.abs(self.scores[pick])
        return float(np.mean(score <= self.half_50[pick])), float(np.mean(score <= self.half_90[pick]))

    def reliability(self, run: bool, edges: np.ndarray) -> list[tuple[float, float, int]]:
        """Mean stated probability, observed share and number, per bin."""
        of_kind = self.asked.run == float(run)
        rows = []
        for low, high in pairwise(edges):
            pick = of_kind & (self.stated >= low) & (self.stated < high)
            rows.append(
                (float(self.stated[pick].mean()), float(self.asked.held[pick].mean()), int(pick.sum()))
            )
        return rows


def proof(
    bodies: Sequence[Reservoir | Bed],
    counts: tuple[Sequence[int], Sequence[int]],
    parts: int,
    seed: int,
    repeats: int = 1,
) -> Proof:
    """Learn on the bodies of all other parts of the terrain, and of all other kinds of bed, and judge each part.

    counts: numbers of soundings, of the surveys that points and that areas are asked of; repeats: surveys of each kind
    for areas.
    """
    rng = np.random.default_rng(seed)
    sample = held_out(surveys(bodies, counts[0], DESIGNS, rng), rng)
    asked = areas(surveys(bodies, counts[1], DESIGNS * repeats, rng), rng)
    block = np.array([each.survey.body.block for each in asked])
    scores, half_50, half_90 = (np.zeros(len(sample.error_m)) for _ in range(3))
    found, stated = [], []
    blocks = np.unique([body.block for body in bodies])
    terrain = blocks[blocks < FIRST_BLOCK]
    split = [*(np.array_split(terrain, parts) if len(terrain) else []), *blocks[blocks >= FIRST_BLOCK, None]]
    for part in split:
        here = np.isin(sample.block, part)
        points = learn_points(sample.part(~here), rng)
        scores[here] = sample.part(here).scores(points)
        half_50[here], half_90[here] = half_width(points, 0.5), half_width(points, 0.9)
        others = [asked[k] for k in rng.permutation(np.flatnonzero(~np.isin(block, part)))[:MOST_LEARNED]]
        correction = learn_areas(answers(others, points))
        judged = answers([each for each, b in zip(asked, block, strict=True) if b in part], points)
        found.append(judged)
        stated.append(correction.probability(judged.joint, judged.point, judged.count))
    names = Answers.__dataclass_fields__
    together = Answers(*(np.concatenate([getattr(each, name) for each in found]) for name in names))
    return Proof(sample, scores, half_50, half_90, together, np.concatenate(stated))


def unsounded_coverage(bodies: Sequence[Reservoir]) -> float:
    """Share of bodies whose greatest depth lies in the 90 % range of the rule learned on all other blocks."""
    size, greatest, block = sizes(bodies)
    held = np.zeros(len(size), bool)
    for each in np.unique(block):
        here = block == each
        rule = learned_rule(size[~here], greatest[~here])
        rest = np.log(greatest[here]) - rule.constant - rule.exponent * np.log(size[here])
        held[here] = (rest >= rule.low) & (rest <= rule.high)
    return float(held.mean())


def learn() -> str:
    """The text of the shipped file, learned on all bodies."""
    rng = np.random.default_rng(11)
    bodies = [*reservoirs(), *beds_to_learn(BEDS_OF_A_KIND, KIND_SEED)]
    points = learn_points(held_out(surveys(bodies, POINT_COUNTS, DESIGNS, rng), rng), rng, 40000)
    sample = answers(areas(surveys(bodies, AREA_COUNTS, DESIGNS, rng), rng), points)
    size, greatest, _block = sizes(unsounded_bodies())
    provenance = {
        **PROVENANCE,
        "bodies": len(bodies),
        "terrain_blocks": len({body.block for body in bodies if body.block < FIRST_BLOCK}),
        "questions": len(sample.joint),
        "unsounded_bodies": len(size),
    }
    rule = learned_rule(size, greatest)
    return written_recalibration(Recalibration(points, learn_areas(sample), provenance, rule))


if __name__ == "__main__":
    import geo.survey.depth as package

    Path(package.__file__).with_name(FILE).write_text(learn(), encoding="utf-8")
