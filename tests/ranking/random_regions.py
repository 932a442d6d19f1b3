"""Regions with many surveyed waters drawn at random, for tests and benchmarks of the ranking. Wholly invented.

Waters are made as records, not surveyed, because surveying 100,000 shapes is another job than ranking them.
"""

from dataclasses import dataclass, replace

import numpy as np
import shapely

from geo.base.geodesy import local_crs
from geo.base.grid import Grid
from geo.records.region import Base, Closure, Fire, Region, RegionFrame, WaterBody
from geo.records.survey import (
    DEPTH_PROBABILITIES,
    BodySurvey,
    DataClass,
    EndClearance,
    HoverPoint,
    LeastDepth,
    Measure,
    RegionSurvey,
    Run,
    Sectors,
    SurveySettings,
)

_OPEN = (0.0,) * 36
# Nothing rises round it in any direction.
OPEN = Sectors((0.0,), (_OPEN,), (_OPEN,), (None,) * 36, ((),) * 36, (), 30.0, 0.1, 1500.0)
KINDS = ("lake", "reservoir", "dam", "pond", "river", "sea", "unknown")
CENTRE = -120.0, -47.0
# A hill beyond a run's end that a surface clears which begins to rise up to this many hundreds of metres beyond it.
LATER = tuple(0.05 + 0.003 * k for k in range(15))


# Depths are few and shared: a table of its own for each of 100,000 waters would only fill the memory.
def _depth(sort: DataClass, low_m: float, high_m: float) -> LeastDepth:
    steps = np.linspace(low_m, high_m, len(DEPTH_PROBABILITIES))
    return LeastDepth(sort, tuple(steps.tolist()), "", "made for a test")


_DEPTHS = (
    _depth("soundings", 4.0, 9.0),
    _depth("soundings", 2.2, 5.0),
    _depth("depth grid", 0.3, 1.2),
    _depth("stated depth", 1.0, 6.0),
    LeastDepth("none", None, "no depth evidence", ""),
)


@dataclass(frozen=True)
class Recipe:
    """How a region is made: waters, cells along a side of the terrain, their size [m], relief [m], closed areas."""

    waters: int
    cells: int = 200
    cell_m: float = 100.0
    relief_m: float = 600.0
    closed: int = 3
    good_share: float = 0.5
    twins: int = 0


def relief(rng: np.random.Generator, cells: int, relief_m: float, roughness: float = 2.2) -> np.ndarray:
    """Give heights (cells, cells) from 0 to relief_m whose spectrum falls as a power, as that of real ground does."""
    frequency = np.hypot(*np.meshgrid(np.fft.fftfreq(cells), np.fft.fftfreq(cells), indexing="ij"))
    frequency[0, 0] = 1.0
    spectrum = np.fft.fft2(rng.standard_normal((cells, cells))) / frequency ** (0.5 * roughness + 0.5)
    spectrum[0, 0] = 0.0
    heights = np.real(np.fft.ifft2(spectrum))
    heights -= heights.min()
    return heights / heights.max() * relief_m


def made(recipe: Recipe, seed: int) -> tuple[Region, RegionSurvey]:
    """Give a region with a fire in its middle, a base and surveyed waters; the same seed gives the same."""
    rng = np.random.default_rng(seed)
    side_m = recipe.cells * recipe.cell_m
    heights = relief(rng, recipe.cells, recipe.relief_m)
    grid = Grid(heights.astype(np.float32), -0.5 * side_m, 0.5 * side_m, recipe.cell_m, recipe.cell_m)
    places = rng.uniform(-0.47, 0.47, (recipe.waters, 2)) * side_m
    if recipe.twins:
        places[-recipe.twins :] = places[: recipe.twins]
    levels = grid.bilinear(places[:, 0], places[:, 1])
    pairs = [_water(rng, i, *places[i], float(levels[i]), recipe) for i in range(recipe.waters)]
    for twin in range(recipe.twins):
        pairs[recipe.waters - recipe.twins + twin] = _twin(pairs[twin], recipe.waters - recipe.twins + twin)
    crs = local_crs(*CENTRE)
    region = Region(
        "made at random",
        RegionFrame(crs.to_wkt(), *CENTRE, "test datum"),
        tuple(water for water, _ in pairs),
        f"made-{seed}-{recipe}",
        terrain=grid,
        terrain_error_m=5.0,
        obstacles_listed=True,
        closures=tuple(_closed(rng, k, side_m) for k in range(recipe.closed)),
        fires=(Fire("F", "test fire", shapely.Point(0.0, 0.0).buffer(300.0)),),
        base=Base("test base", shapely.Point(0.2 * side_m, -0.25 * side_m)),
    )
    survey = RegionSurvey(region.name, region.fingerprint, SurveySettings(), tuple(body for _, body in pairs))
    return region, survey


def _water(
    rng: np.random.Generator, number: int, east: float, north: float, level_m: float, recipe: Recipe
) -> tuple[WaterBody, BodySurvey]:
    good = rng.random() < recipe.good_share
    kind = "dam" if good else KINDS[rng.integers(len(KINDS))]
    depth = _DEPTHS[0] if good else _DEPTHS[rng.integers(len(_DEPTHS))]
    radius = float(rng.choice([40.0, 60.0, 150.0, 400.0]))
    shape = shapely.Point(east, north).buffer(radius + 60.0, quad_segs=2)
    runs = tuple(
        _run(rng, east, north, float(rng.uniform(250.0, 1_400.0)), depth, level_m)
        for _ in range(rng.integers(0, 4))
    )
    salt = rng.choice(["fresh", "fresh", "salt", "unknown"]) if not good else "fresh"
    ident = f"N{number:06d}"
    measured = Measure(None if rng.random() < 0.03 else level_m, "made for a test")
    change = Measure(None if not good and rng.random() < 0.3 else 0.0, "made for a test")
    spot = HoverPoint(shapely.Point(east, north), radius, "shore", depth, sectors=OPEN)
    hover = None if rng.random() < 0.1 else spot
    nothing = Measure(None, "not given")
    allowed = "refused" if not good and rng.random() < 0.1 else None
    water = WaterBody(ident, f"water {number}", kind, shape, "made", permission=allowed)
    body = BodySurvey(
        ident, water.name, kind, shape.area, shape.length, 1.1, measured, change,
        None if salt == "unknown" else str(salt), f"{salt}: made", None, (), hover, nothing, nothing, True,
        usable_runs=runs,
    )  # fmt: skip
    return water, body


def _run(
    rng: np.random.Generator, east: float, north: float, length_m: float, depth: LeastDepth, level_m: float
) -> Run:
    heading = float(rng.uniform(0.0, 180.0))
    step = np.array([np.sin(np.radians(heading)), np.cos(np.radians(heading))]) * 0.5 * length_m
    line = shapely.LineString([(east - step[0], north - step[1]), (east + step[0], north + step[1])])
    excess = float(rng.choice([-30.0, -30.0, -30.0, 5.0]))
    known = {"steepest_slope": 0.05, "later_slopes": LATER[: 3 + int(length_m) % 13]}
    ends = [
        EndClearance(h % 360.0, 0.125, excess, 300.0, "made for a test", 1500.0, **known)
        for h in (heading + 180.0, heading)
    ]
    return Run("usable", length_m, length_m, heading, heading, 60.0, line, depth, *ends)


def _twin(pair: tuple[WaterBody, BodySurvey], number: int) -> tuple[WaterBody, BodySurvey]:
    """Give the same water again under another id: its rate ties with the first one's."""
    ident = f"N{number:06d}"
    return replace(pair[0], body_id=ident, name=f"water {number}"), replace(
        pair[1], body_id=ident, name=f"water {number}"
    )


def _closed(rng: np.random.Generator, number: int, side_m: float) -> Closure:
    at = rng.uniform(0.05, 0.4) * side_m
    angle = rng.uniform(0.0, 2.0 * np.pi)
    area = shapely.Point(at * np.sin(angle), at * np.cos(angle)).buffer(
        float(rng.uniform(0.01, 0.04)) * side_m, quad_segs=2
    )
    kind = "no flying" if rng.random() < 0.7 else "no filling"
    return Closure(f"C{number}", f"closed {number}", kind, area, "test")
