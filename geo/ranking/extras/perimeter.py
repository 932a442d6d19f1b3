"""A line of the fire's edge split into stretches by their best source."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np
import shapely
from shapely.ops import substring

from geo.base.errors import BadArgument
from geo.records.extras import Stretch
from geo.records.geometry import LineM, PointM

SPACING_M = 200.0


@dataclass(frozen=True)
class Served:
    """The best source for one point of the edge, or None with the reason."""

    reason: str
    body_id: str | None = None
    name: str | None = None
    method: str | None = None
    round_trip_s: float | None = None
    litres_per_hour: float | None = None


def points_along(line: LineM, spacing_m: float = SPACING_M) -> tuple[PointM, ...]:
    """Give points every spacing_m [m] or a little less, each in the middle of an equal piece of the line.

    Raises: BadArgument for a line without length or a spacing that is not above 0.
    """
    if not (spacing_m > 0.0 and line.length > 0.0):
        raise BadArgument(
            f"line of {line.length} m, points every {spacing_m} m: both must be above 0. Fix: draw a line"
        )
    count = math.ceil(line.length / spacing_m)
    return tuple(shapely.line_interpolate_point(line, (np.arange(count) + 0.5) * line.length / count))


def stretches(line: LineM, served: Sequence[Served], first_number: int = 1) -> tuple[Stretch, ...]:
    """Give the stretches of a line whose points (see `points_along`) have the same best source.

    Parameters: line; served, one per point in order; the number of the first stretch.
    Notes: a stretch ends half-way between two points of different sources; on a closed line the first and the last
    stretch are one where their source is the same. The lengths add up to the line's.
    """
    keys = [(one.body_id, one.method, one.reason) for one in served]
    same = [list(run) for _, run in groupby(range(len(keys)), key=lambda i: keys[i])]
    spans = [(run[0], run[-1] + 1) for run in same]
    groups = [[span] for span in spans]
    if len(spans) > 1 and line.is_closed and keys[0] == keys[-1]:
        groups = [[spans[-1], spans[0]], *groups[1:-1]]
    step_m = line.length / len(served)
    return tuple(
        _stretch(number, _cut(line, group, step_m), [one for a, b in group for one in served[a:b]])
        for number, group in enumerate(groups, start=first_number)
    )


def _cut(line: LineM, group: list[tuple[int, int]], step_m: float) -> LineM:
    pieces = [substring(line, a * step_m, b * step_m) for a, b in group]
    coords = [c for k, piece in enumerate(pieces) for c in list(piece.coords)[1 if k else 0 :]]
    return shapely.LineString(coords)


def _stretch(number: int, line: LineM, served: Sequence[Served]) -> Stretch:
    first = served[0]
    times = [one.round_trip_s for one in served if one.round_trip_s is not None]
    rates = [one.litres_per_hour for one in served if one.litres_per_hour is not None]
    source = first.body_id, first.name, first.method, len(served)
    mean_s = sum(times) / len(times) if times else None
    trips_s = min(times, default=None), mean_s, max(times, default=None)
    return Stretch(
        number, line, float(line.length), *source, *trips_s, min(rates, default=None), first.reason
    )
