"""How often a run that is stated deep enough is deep enough, on kinds of beds that nothing was learned from.

Every bed is made anew from a seed that the learning never saw. Surveys: few soundings of a survey that says nothing of
its search, strewn or along boat tracks; and a survey of everything (IHO S-44 special order), which hands over the
shallowest depth of each square of 15 m and every tree that it found.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from kinds_of_bed import Bed, places, runs

from geo.records.bed_search import BedSearch, search_of_order
from geo.survey.depth import depth_field, run_depth_probability
from geo.survey.depth.corridor import Strip

RUNS, STRIP_M = 18, 20.0
SPARSE = tuple((count, design) for count in (15, 60, 150) for design in ("random", "tracks"))
SQUARE_M, SAMPLES = 15.0, 4
SPECIAL_SD_M = 0.25 / 1.96
Maker = Callable[[np.random.Generator], Bed]


@dataclass(frozen=True, eq=False)
class Promises:
    """Many runs (k,): what was stated, whether it held, and whether the run was the surest of its survey."""

    stated: np.ndarray
    held: np.ndarray
    best: np.ndarray

    def share(self, least: float, most: float = 1.01, *, best: bool = False) -> tuple[float, int]:
        """Share that held and number of those stated from `least` to below `most`; NaN where there are none."""
        pick = (self.stated >= least) & (self.stated < most) & (self.best | (not best))
        return (float(self.held[pick].mean()) if pick.any() else np.nan), int(pick.sum())

    def above_diagonal(self, fewest: int, width: float = 0.1) -> float:
        """How far the worst bin of statements, of those with enough, lies above what held."""
        worst = -1.0
        for low in np.arange(0.0, 0.999, width):
            pick = (self.stated >= low) & (self.stated < low + width + (low + width > 0.99))
            if pick.sum() >= fewest:
                worst = max(worst, float(self.stated[pick].mean() - self.held[pick].mean()))
        return worst

    def useful(self) -> float:
        """Share of the truly deep runs that are stated at 0.95 or more."""
        deep = self.held
        return float((self.stated[deep] >= 0.95).mean()) if deep.any() else np.nan


def full_search(bed: Bed, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Soundings x, y, depth of a survey of everything: the shallowest of each square, and each tree."""
    west, south, east, north = bed.polygon.bounds
    step = SQUARE_M / SAMPLES
    columns, rows = int((east - west) / SQUARE_M) + 1, int((north - south) / SQUARE_M) + 1
    x = west + (np.arange(columns * SAMPLES) + 0.5) * step
    y = south + (np.arange(rows * SAMPLES) + 0.5) * step
    xx, yy = np.meshgrid(x, y)
    wet = shapely.contains_xy(bed.polygon, xx.ravel(), yy.ravel())
    depth = np.full(xx.size, np.inf)
    depth[wet] = bed.bed(xx.ravel()[wet], yy.ravel()[wet])
    order = (rows, SAMPLES, columns, SAMPLES)
    square = depth.reshape(order).transpose(0, 2, 1, 3).reshape(rows * columns, -1)
    pick = np.argmin(square, axis=1)
    at = [
        a.reshape(order).transpose(0, 2, 1, 3).reshape(rows * columns, -1)[np.arange(len(pick)), pick]
        for a in (xx, yy)
    ]
    least = square.min(axis=1)
    keep = np.isfinite(least)
    x, y, z = at[0][keep], at[1][keep], least[keep]
    if len(bed.trees):
        x, y, z = (np.append(a, b) for a, b in zip((x, y, z), bed.trees.T, strict=True))
    return x, y, np.maximum(z + rng.normal(0.0, SPECIAL_SD_M, len(z)), 0.0)


def sparse(
    bed: Bed, count: int, design: str, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Few soundings x, y, depth with an error of 0.1 m (one sigma)."""
    x, y = places(bed, count, design, rng)
    return x, y, bed.depth(x, y) + rng.normal(0.0, 0.1, len(x))


def promises(make: Maker, beds: Sequence[int], seed: int, *, full: bool, each: int = RUNS) -> Promises:
    """State runs of many beds of one kind, from few soundings without a word on the search, or from a full search."""
    rows = []
    for number in beds:
        rng = np.random.default_rng([seed, number, *make.__name__.encode()])
        bed = make(rng)
        lines = runs(bed, each, rng)
        held = [bed.least(Strip(line, STRIP_M)) >= bed.asked_m for line in lines]
        for count, design in ((0, "full"),) if full else SPARSE:
            search: BedSearch | None = search_of_order("special") if full else None
            x, y, depth = full_search(bed, rng) if full else sparse(bed, count, design, rng)
            sd = SPECIAL_SD_M if full else 0.1
            field = depth_field(
                bed.polygon,
                easting_m=x,
                northing_m=y,
                depth_m=depth,
                sd_m=sd,
                seed_text=bed.name,
                search=search,
            )
            stated = [run_depth_probability(field, line, STRIP_M, bed.asked_m) for line in lines]
            if stated and None not in stated:
                surest = int(np.argmax(stated))
                rows += [(p, h, k == surest) for k, (p, h) in enumerate(zip(stated, held, strict=True))]
    table = np.array(rows, float).reshape(-1, 3)
    return Promises(table[:, 0], table[:, 1] > 0, table[:, 2] > 0)
