"""Surveyed waters made for the suitability tests: everything good and known unless a test changes it."""

from dataclasses import replace
from datetime import date

import numpy as np
import shapely

from geo.ingest.layers.aircraft import load_profile
from geo.records.conditions import SourceConditions
from geo.records.region import WaterBody
from geo.records.survey import (
    DEPTH_PROBABILITIES,
    LATER_COUNT,
    BodySurvey,
    EndClearance,
    HoverPoint,
    LeastDepth,
    Measure,
    Run,
    Sectors,
)

HEAVY = load_profile("heavy_tank_helicopter")
AIR = SourceConditions(
    200.0, 200.0, 500.0, 20.0, 0.0, 0.0, 2.0, 11_000.0, 0.999, "density altitude 500 m", 0.08, 0.14
)


def known_depth(low_m: float, high_m: float, data_class: str = "soundings", **changes) -> LeastDepth:
    """A least depth spread evenly from low_m (no chance of less) to high_m (no chance of more)."""
    quantiles = tuple(float(low_m + (high_m - low_m) * p) for p in DEPTH_PROBABILITIES)
    made = LeastDepth(data_class, quantiles, "", "12 soundings", oldest_on=date(2024, 3, 1))
    return replace(made, **changes)


def unknown_depth(reason: str = "no depth evidence") -> LeastDepth:
    """A least depth of which nothing is known."""
    return LeastDepth("none", None, reason, "")


def clear_end(heading_deg: float, excess_m: float | None = -40.0, **changes) -> EndClearance:
    """A run's end with the named height above (or below, negative) its surface."""
    made = EndClearance(heading_deg, 0.125, excess_m, 400.0, "low hill 400 m beyond the end", 1500.0)
    if excess_m is not None and excess_m <= 0.0 and not changes.get("unknown_heights"):
        made = replace(made, steepest_slope=0.02, later_slopes=(0.02,) * LATER_COUNT)
    return replace(made, **changes)


def run(length_m: float = 2_000.0, heading_deg: float = 0.0, **changes) -> Run:
    """A straight run from the origin on a heading where grid and true north agree."""
    east, north = np.sin(np.radians(heading_deg)), np.cos(np.radians(heading_deg))
    line = shapely.LineString([(0.0, 0.0), (length_m * east, length_m * north)])
    made = Run(
        "longest",
        length_m,
        length_m,
        heading_deg,
        heading_deg,
        60.0,
        line,
        known_depth(5.0, 9.0),
        clear_end((heading_deg + 180.0) % 360.0),
        clear_end(heading_deg),
    )
    return replace(made, **changes)


def sectors(slope: float = 0.0, count: int = 36, **changes) -> Sectors:
    """What stands round a hover point: the same least slope in every direction, at once and after a climb."""
    row = (slope,) * count
    made = Sectors((0.0, 30.0), (row, row), (row, row), (None,) * count, ((),) * count, (), 30.0, 0.1, 1500.0)
    return replace(made, **changes)


def hover_point(radius_m: float = 60.0, **changes) -> HoverPoint:
    """A hover point in deep, open water."""
    made = HoverPoint(shapely.Point(0.0, 0.0), radius_m, "shore", known_depth(5.0, 9.0), sectors=sectors())
    return replace(made, **changes)


def survey(**changes) -> BodySurvey:
    """A long deep lake, surveyed; one run northward."""
    made = BodySurvey(
        "L1",
        "Test Lake",
        "lake",
        4.0e6,
        9_000.0,
        1.3,
        Measure(200.0, "terrain"),
        Measure(0.0, "gauge"),
        "fresh",
        "fresh: stated (water.gpkg)",
        run(),
        (),
        hover_point(),
        Measure(None, "not given"),
        Measure(None, "not given"),
        True,
    )
    return replace(made, **changes)


def body(**changes) -> WaterBody:
    """The lake as its owner describes it."""
    square = shapely.box(-1_000.0, -1_000.0, 1_000.0, 3_000.0)
    return replace(
        WaterBody("L1", "Test Lake", "lake", square, "water.gpkg", permission="granted"), **changes
    )


def criterion_of(assessment, name: str):
    """The criterion of an assessment by its name."""
    (found,) = [c for c in assessment.criteria if c.name == name]
    return found
