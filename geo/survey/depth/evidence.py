"""Soundings of one body made ready: checked, coincident ones settled, those at the shore set aside; said in words."""

from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from geo.base.errors import BadArgument
from geo.base.outliers import FACTOR, deep_outliers
from geo.records.bed_search import BedSearch
from geo.records.region import Soundings
from geo.survey.depth.looked import SoundedSurvey
from geo.survey.depth.shore import Shoreline

# Fewer soundings near a corridor than this say too little to learn a field from.
LEAST_SOUNDINGS = 8
NEAR_M = 1000.0
# Soundings this close to the shore (or beyond it) carry no depth: the field is zero at the shore anyway.
SHORE_STRIP_M = 1.0
# Soundings in one square of this size are one place; where they disagree by more than so many sigmas the shallowest
# counts.
SAME_PLACE_M = 1.0
DISAGREE_SIGMAS = 3.0


@dataclass(frozen=True, eq=False)
class Evidence:
    """Usable soundings of one body as arrays (n,); `set_aside` counts those at or beyond the shore.

    outliers: in words, the soundings that were kept out as far too deep (see geo.base.outliers), the deepest first.
    searches and survey: as in Soundings.
    """

    easting_m: np.ndarray
    northing_m: np.ndarray
    depth_m: np.ndarray
    sd_m: np.ndarray
    shore_m: np.ndarray
    measured_on: tuple[date | None, ...]
    set_aside: int = 0
    disagreeing: int = 0
    outliers: tuple[str, ...] = ()
    searches: tuple[BedSearch, ...] = ()
    survey: np.ndarray | None = None

    def surveys(self) -> tuple[SoundedSurvey, ...]:
        """Give the surveys that the soundings are from; those of no known one count as one that searched nothing."""
        of = np.full(len(self), -1) if self.survey is None else self.survey
        xy = np.column_stack((self.easting_m, self.northing_m))
        each = ((k, self.searches[k] if k >= 0 else BedSearch()) for k in np.unique(of))
        return tuple(SoundedSurvey(xy[of == k], search) for k, search in each)

    def __len__(self) -> int:
        return len(self.depth_m)

    def part(self, index: np.ndarray) -> "Evidence":
        """Give some of the soundings."""
        return Evidence(
            self.easting_m[index], self.northing_m[index], self.depth_m[index], self.sd_m[index], self.shore_m[index],
            tuple(self.measured_on[i] for i in index), self.set_aside, self.disagreeing, self.outliers, self.searches,
            None if self.survey is None else self.survey[index],
        )  # fmt: skip


def sounding_record(
    easting_m: np.ndarray,
    northing_m: np.ndarray,
    depth_m: np.ndarray,
    sd_m: np.ndarray | float,
    search: BedSearch | None = None,
) -> Soundings:
    """Give a Soundings record from plain arrays (n,) [m]; it has no dates and no body, and one survey or an unknown."""
    x, y, depth = (np.atleast_1d(np.asarray(each, float)) for each in (easting_m, northing_m, depth_m))
    sd, body = np.broadcast_to(np.asarray(sd_m, float), depth.shape), np.full(len(depth), "", dtype=object)
    origin = tuple(f"sounding {k + 1}" for k in range(len(depth)))
    record = Soundings(x, y, depth, sd, body, origin, (None,) * len(depth))
    if search is None:
        return record
    return replace(record, searches=(search,), survey=np.zeros(len(depth), int))


def usable_evidence(soundings: Soundings, shore: Shoreline) -> Evidence:
    """Give the soundings that a field can be learned from.

    Raises: BadArgument when a position, depth or sigma is not finite, a sigma is negative, or lengths differ.
    """
    check_soundings(soundings)
    distance = shore.distance_m(soundings.easting_m, soundings.northing_m)
    keep = np.flatnonzero(distance >= min(SHORE_STRIP_M, 0.05 * shore.greatest_m))
    x, y = np.asarray(soundings.easting_m, float)[keep], np.asarray(soundings.northing_m, float)[keep]
    depth, sd = np.asarray(soundings.depth_m, float)[keep], np.asarray(soundings.sd_m, float)[keep]
    first, depth, sd, disagreeing = _settled(x, y, depth, sd)
    out = deep_outliers(x[first], y[first], depth, distance[keep[first]])
    wild = sorted(np.flatnonzero(out), key=lambda k: -depth[k])
    said = tuple(f"{depth[k]:.1f} m ({soundings.origin[keep[first[k]]]})" for k in wild)
    first, depth, sd = first[~out], depth[~out], sd[~out]
    days = tuple(soundings.measured_on[i] for i in keep[first])
    aside = len(distance) - len(keep)
    survey = None if soundings.survey is None else soundings.survey[keep[first]]
    return Evidence(
        x[first],
        y[first],
        depth,
        sd,
        distance[keep[first]],
        days,
        aside,
        disagreeing,
        said,
        soundings.searches,
        survey,
    )


def _settled(
    x: np.ndarray, y: np.ndarray, depth: np.ndarray, sd: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray, int]:
    """One depth per place: index of its shallowest sounding, depth, sigma; and how many places disagree."""
    if len(depth) == 0:
        return np.zeros(0, int), depth, sd, 0
    column, row = np.floor(x / SAME_PLACE_M), np.floor(y / SAME_PLACE_M)
    place = (column - column.min()) * (np.ptp(row) + 1.0) + (row - row.min())
    order = np.lexsort((depth, place))
    start = np.flatnonzero(np.diff(place[order], prepend=-1.0))
    count = np.diff(np.append(start, len(order)))
    mean = np.add.reduceat(depth[order], start) / count
    spread = np.maximum.reduceat(depth[order], start) - depth[order][start]
    # One instrument's error does not average out at one place: keep the largest sigma.
    sigma = np.maximum.reduceat(sd[order], start)
    disagree = spread > DISAGREE_SIGMAS * np.sqrt(2.0) * np.maximum(sigma, 0.01)
    return order[start], np.where(disagree, depth[order][start], mean), sigma, int(disagree.sum())


def check_soundings(soundings: Soundings) -> None:
    """Check soundings.

    Raises: BadArgument where a value is not finite, a sigma is negative, or arrays have different lengths.
    """
    columns = {name: getattr(soundings, name) for name in ("easting_m", "northing_m", "depth_m", "sd_m")}
    lengths = {name: len(values) for name, values in columns.items()}
    if len(set(lengths.values())) > 1:
        raise BadArgument(f"soundings: arrays of different lengths {lengths}; give one value per sounding")
    for name, values in columns.items():
        bad = np.flatnonzero(~np.isfinite(np.asarray(values, float)))
        if len(bad):
            where = soundings.origin[bad[0]] if len(soundings.origin) > bad[0] else f"number {bad[0] + 1}"
            raise BadArgument(f"soundings: {name} of {where} is not a finite number; leave it out or mend it")
    if len(soundings.sd_m) and float(np.min(soundings.sd_m)) < 0.0:
        raise BadArgument(
            f"soundings: sd_m {float(np.min(soundings.sd_m))} is negative; give one sigma >= 0 in metres"
        )


def dates_text(days: tuple[date | None, ...]) -> tuple[str, date | None]:
    """Give the span of days in words, and the oldest known day."""
    known = sorted(day for day in days if day is not None)
    undated = len(days) - len(known)
    if not known:
        return "undated", None
    span = f"{known[0]}" if known[0] == known[-1] else f"{known[0]} to {known[-1]}"
    return (f"{span} ({undated} undated)" if undated else span), known[0]


def soundings_text(evidence: Evidence, nearest_m: float | None) -> str:
    """Say how many soundings, of which days, how near and how sure."""
    near = "" if nearest_m is None else f", nearest {nearest_m:.0f} m"
    text = f"{len(evidence)} soundings, {dates_text(evidence.measured_on)[0]}{near}"
    text += f", uncertainty (one sigma) {float(np.median(evidence.sd_m)):.2g} m"
    if evidence.set_aside:
        text += f"; {evidence.set_aside} at or beyond the shore left out"
    if evidence.outliers:
        text += f"; {len(evidence.outliers)} more than {FACTOR:g} times deeper than those round them left out, the "
        text += f"deepest {evidence.outliers[0]}"
    if evidence.disagreeing:
        text += f"; {evidence.disagreeing} places with soundings that disagree: the shallowest counts"
    return text


def level_text(level_change_m: float | None, level_origin: str | None) -> str:
    """Say what was done about today's level."""
    if level_change_m is None:
        return "today's level not known: depths are those at the level of the survey"
    return f"level {level_change_m:+.2f} m against the survey ({level_origin or 'origin not given'})"
