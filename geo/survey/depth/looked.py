"""Where surveys looked, and what they would have found there: soundings, swaths, full searches, drags."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from scipy.spatial import cKDTree

from geo.base.grid import Grid
from geo.records.bed_search import BedSearch

# A survey of everything between its lines looked as far from each sounding kept as this many mean distances between
# soundings, where it does not say how far apart its lines were: nearly no place among random ones lies further off.
# And no farther than MOST_REACH_M: who looked at everything and hands over depths farther apart than twice that has
# thinned away more than its features (both our choice, no source).
REACH_SPACINGS, MOST_REACH_M = 1.5, 100.0
# Fewer soundings have no extent: they looked where they are.
LEAST_EXTENT = 3


@dataclass(frozen=True, eq=False)
class Places:
    """What surveys saw at n places: gap_m, distance to the nearest sounding [m]; found_m, features of this height or
    more would have been found (inf: none would); swept_m, free down to this depth at the survey's level (-inf: not
    swept); crossed, whether a line of an unbroken sounder would have crossed what crosses the run there."""

    gap_m: np.ndarray
    found_m: np.ndarray
    swept_m: np.ndarray
    crossed: np.ndarray


@dataclass(frozen=True, eq=False)
class SoundedSurvey:
    """One survey of a body: the places of its soundings (n, 2) [m] and how it searched."""

    xy: np.ndarray
    search: BedSearch

    @cached_property
    def tree(self) -> cKDTree:
        """The places, ready for nearest-neighbour questions."""
        return cKDTree(self.xy)

    @cached_property
    def spacing_m(self) -> float:
        """Side of the square that each sounding has to itself inside their convex hull [m]; inf without an extent."""
        if len(self.xy) < LEAST_EXTENT:
            return np.inf
        hull = shapely.MultiPoint(self.xy).convex_hull
        return float(np.sqrt(hull.area / len(self.xy))) if hull.area > 0.0 else np.inf

    @property
    def between_m(self) -> float:
        """How far apart the survey's lines or soundings are, as declared or as they lie [m]."""
        declared_m = self.search.line_spacing_m
        return self.spacing_m if declared_m is None else declared_m

    def gap_m(self, xy: np.ndarray) -> np.ndarray:
        """Give the distance from places (k, 2) to the nearest sounding [m]."""
        return np.asarray(self.tree.query(xy)[0])

    def looked(self, gap_m: np.ndarray) -> np.ndarray:
        """Give whether the survey looked at places so far from its nearest sounding (k,)."""
        search = self.search
        if search.method in ("full", "dry") or (search.method == "swept" and search.swath_m is None):
            declared_m = search.line_spacing_m
            if declared_m is not None:
                return gap_m <= declared_m
            return gap_m <= (
                min(REACH_SPACINGS * self.spacing_m, MOST_REACH_M) if np.isfinite(self.spacing_m) else 0.0
            )
        if search.method in ("swath", "swept") and search.swath_m is not None:
            return gap_m <= 0.5 * search.swath_m
        return np.zeros(len(gap_m), bool)


@dataclass(frozen=True, eq=False)
class SearchedArea:
    """A survey that knows where it looked: the cells of a raster that are known, or a charted area."""

    where: Grid | shapely.Geometry
    search: BedSearch

    def looked(self, xy: np.ndarray) -> np.ndarray:
        """Give whether the survey looked at places (k, 2)."""
        if isinstance(self.where, Grid):
            return np.isfinite(self.where.nearest(xy[:, 0], xy[:, 1]))
        return shapely.contains_xy(self.where, xy)


@dataclass(frozen=True, eq=False)
class Looked:
    """Every survey of one body."""

    sounded: tuple[SoundedSurvey, ...] = ()
    areas: tuple[SearchedArea, ...] = ()

    def at(self, xy: np.ndarray) -> Places:
        """Give what was seen at places (k, 2)."""
        k = len(xy)
        seen = Places(np.full(k, np.inf), np.full(k, np.inf), np.full(k, -np.inf), np.zeros(k, bool))
        for survey in self.sounded:
            gap_m = survey.gap_m(xy)
            np.minimum(seen.gap_m, gap_m, out=seen.gap_m)
            _note(seen, survey.looked(gap_m), survey.search)
            spacing_m = survey.search.line_spacing_m
            if survey.search.method in ("lines", "swath") and spacing_m is not None:
                seen.crossed[gap_m <= spacing_m] = True
        for area in self.areas:
            _note(seen, area.looked(xy), area.search)
        return seen

    def finds(self, lattice_xy: np.ndarray, area_m2: float) -> tuple[int, list[tuple[float, float]]]:
        """Give how many features were found, and the areas searched [m2] with the least height found [m], where told.

        Parameters: places (k, 2) spread evenly over the body, and its area [m2].
        """
        found, searched = 0, []
        for survey in self.sounded:
            search = survey.search
            if search.features_found is None or search.feature_m is None:
                continue
            found += search.features_found
            share = float(survey.looked(survey.gap_m(lattice_xy)).mean())
            searched.append((share * area_m2, search.feature_m))
        return found, searched


def _note(seen: Places, there: np.ndarray, search: BedSearch) -> None:
    if search.method == "dry":
        seen.found_m[there] = 0.0
    elif search.method in ("full", "swath") and search.feature_m is not None:
        seen.found_m[there] = np.minimum(seen.found_m[there], search.feature_m)
    elif search.method == "swept" and search.swept_depth_m is not None:
        seen.swept_m[there] = np.maximum(seen.swept_m[there], search.swept_depth_m)
