"""Surveys of bodies whose bed is known: what the field said, raw, and what was true. Used to learn and to prove."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import shapely
from flooded_valleys import Reservoir, inside, order_one_sd, random_run

from geo.survey.depth.corridor import Corridor, Disc
from geo.survey.depth.field import DepthField, depth_field

POINTS = 200
STRIP_M = 20.0
HOVER_M = 5.0


def positions(body: Reservoir, count: int, design: str, rng: np.random.Generator):
    """Places of soundings: 'spread' evenly at random, or 'tracks' of a boat that crosses back and forth."""
    if design == "spread":
        return inside(body.polygon, count, rng)
    legs = max(count // 12, 2)
    x, y = inside(body.polygon, legs + 1, rng)
    track = shapely.linestrings(np.column_stack((x, y)))
    part = rng.uniform(0.0, 1.0, 6 * count)
    at = shapely.get_coordinates(shapely.line_interpolate_point(track, np.sort(part), normalized=True))
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


@dataclass(frozen=True, eq=False)
class HeldOut:
    """Held-out soundings of one survey, arrays (k,): measured depth, the field's mean and sigma, instrument's sigma."""

    block: int
    count: int
    measured_m: np.ndarray
    mean_m: np.ndarray
    sd_m: np.ndarray
    noise_m: np.ndarray
    shore_share: np.ndarray
    gap_share: np.ndarray


def held_out(body: Reservoir, field: DepthField, rng: np.random.Generator) -> HeldOut:
    """Soundings of the same kind at places that the field was not given."""
    x, y = inside(body.polygon, POINTS, rng)
    noise = order_one_sd(body.bed(x, y))
    measured = body.bed(x, y) + rng.normal(size=POINTS) * noise
    mean, sd = field.at(x, y)
    p = field.process
    gap = np.hypot(x[:, None] - p.easting_m, y[:, None] - p.northing_m).min(axis=1) / p.length_m
    share = field.shore.distance_m(x, y) / field.shore.greatest_m
    keep = np.isfinite(mean)
    columns = (measured, mean, sd, noise, share, gap)
    return HeldOut(body.block, len(field.evidence), *(a[keep] for a in columns))
