"""A region after ingest: everything in one metric CRS, metres, depth positive down, None where unknown."""

from dataclasses import dataclass, field, replace
from datetime import date, time
from functools import cached_property
from typing import TYPE_CHECKING, Literal

import numpy as np
import shapely

from geo.base.errors import BadArgument
from geo.base.fault import Fault
from geo.base.grid import Grid
from geo.records.bed_search import NOT_SEARCHED, BedSearch
from geo.records.chart import DepthChart
from geo.records.geometry import AreaM, PointM, PolygonM, ShapeM

if TYPE_CHECKING:
    from geo.records.station import FillStation

WaterKind = Literal["lake", "reservoir", "dam", "pond", "river", "estuary", "sea", "unknown"]
SalinityClass = Literal["fresh", "brackish", "salt"]
Permission = Literal["granted", "not needed", "refused"]
ClosureKind = Literal["no filling", "no flying"]
SiteStatus = Literal["open", "closed", "seasonal", "unknown"]


# What counts as the 90 % vertical error of a terrain whose error nobody stated: about that of open 30 m terrain (from
# memory, no source). Unknown never counts as 0.
UNSTATED_TERRAIN_ERROR_M = 10.0
# The same of a canopy raster: about that of open canopy maps made from satellites (from memory, no source).
UNSTATED_CANOPY_ERROR_M = 10.0
# No tree is taller: the tallest ones measured stand some 116 m high (from memory, no source).
TALLEST_TREE_M = 120.0


@dataclass(frozen=True)
class RegionFrame:
    """The region's metric CRS and vertical datum.

    `crs_wkt` is WKT2 of a projected CRS in metres; the centre is WGS 84 [deg].
    """

    crs_wkt: str
    centre_longitude_deg: float
    centre_latitude_deg: float
    vertical_datum: str


@dataclass(frozen=True)
class StatedDepth:
    """One depth that somebody stated for a water body: the greatest depth [m, positive down]."""

    greatest_m: float
    sd_m: float | None
    origin: str
    stated_on: date | None


@dataclass(frozen=True)
class SalinityEvidence:
    """What is known of the salt: a stated class, or practical salinity S (PSS-78) from conductivity.

    mouth_distance_m: how far the water lies from where it meets the sea, along the water [m]; None: unknown or no tide.
    """

    stated_class: SalinityClass | None
    practical_salinity: float | None
    origin: str
    measured_on: date | None
    mouth_distance_m: float | None = None


@dataclass(frozen=True)
class WaterBody:
    """One water polygon (single part, holes are islands) with what its owner's files say of it.

    `level_change_m` is today's level minus the level at which depths and shoreline hold (negative: drawn down);
    `depth_level_m` is that level itself [m, elevation]. `current_ms` is a river's current [m/s], None where unknown.
    """

    body_id: str
    name: str
    kind: WaterKind
    polygon: PolygonM
    origin: str
    surface_elevation_m: float | None = None
    level_change_m: float | None = None
    level_origin: str | None = None
    stated_depth: StatedDepth | None = None
    salinity: SalinityEvidence | None = None
    volume_m3: float | None = None
    permission: Permission | None = None
    owner: str | None = None
    note: str | None = None
    depth_level_m: float | None = None
    current_ms: float | None = None


@dataclass(frozen=True, eq=False)
class Soundings:
    """Measured depths as parallel arrays of length n, already assigned to bodies.

    depth_m is positive down below the level at which the body's depths hold; sd_m is the one-sigma
    instrument uncertainty; body_id is an object array of str; origin is "file row k" per sounding. searches are the
    kinds of survey, and survey says which of them each sounding is from (n,): -1, or None for all, where it is unknown.
    """

    easting_m: np.ndarray
    northing_m: np.ndarray
    depth_m: np.ndarray
    sd_m: np.ndarray
    body_id: np.ndarray
    origin: tuple[str, ...]
    measured_on: tuple[date | None, ...]
    searches: tuple[BedSearch, ...] = ()
    survey: np.ndarray | None = None

    def of(self, body_id: str) -> "Soundings":
        """Give the soundings of one body, in file order."""
        index = np.flatnonzero(self.body_id == body_id)
        return Soundings(
            self.easting_m[index],
            self.northing_m[index],
            self.depth_m[index],
            self.sd_m[index],
            self.body_id[index],
            tuple(self.origin[i] for i in index),
            tuple(self.measured_on[i] for i in index),
            self.searches,
            None if self.survey is None else self.survey[index],
        )

    def __len__(self) -> int:
        return len(self.depth_m)


@dataclass(frozen=True, eq=False)
class DepthGrid:
    """A depth raster [m, positive down, below the level at which depths hold; NaN unknown].

    Total uncertainty at 95 % is sqrt(a^2 + (b d)^2) (the form of IHO S-44); one sigma is that / 1.96.
    """

    grid: Grid
    uncertainty_a_m: float
    uncertainty_b: float
    origin: str
    surveyed_on: date | None = None
    search: BedSearch = NOT_SEARCHED


@dataclass(frozen=True)
class Obstacle:
    """Something that stands up: mast, wire, trees. Both heights None means unknown, which is the worst case."""

    obstacle_id: str
    name: str
    kind: str
    shape: ShapeM
    top_elevation_m: float | None
    height_above_ground_m: float | None
    origin: str


def within_days(day: date, first: date | None, last: date | None) -> bool:
    """True for a day from the first to the last, both counted; None: open-ended."""
    return (first is None or first <= day) and (last is None or day <= last)


@dataclass(frozen=True)
class Closure:
    """An area where filling or flying is not allowed, with its reason and dates (None: open-ended)."""

    closure_id: str
    name: str
    kind: ClosureKind
    area: AreaM
    reason: str
    valid_from: date | None = None
    valid_to: date | None = None

    def in_force(self, day: date | None) -> bool:
        """True on `day`; with no day given every closure counts."""
        return day is None or within_days(day, self.valid_from, self.valid_to)


@dataclass(frozen=True)
class AnnotatedSite:
    """What a person wrote about a filling place; confirms, limits or vetoes what the survey computed.

    status holds on the days valid_from to valid_to (None: open-ended), or, where seasonal, between the days season_from
    and season_to of every year, written MM-DD. effect "veto" rules the water out whatever the status, "limit" caps the
    load at most_litres [L], "note" only warns, "confirm" says that the place was seen to be good. permission holds
    until permission_to. `geo/records/site_status.py` says what of it counts on a day.
    """

    site_id: str
    name: str
    point: PointM
    body_id: str | None
    method: str | None
    status: SiteStatus
    note: str
    inspected_on: date | None = None
    valid_from: date | None = None
    valid_to: date | None = None
    season_from: str | None = None
    season_to: str | None = None
    effect: Literal["confirm", "limit", "veto", "note"] = "confirm"
    most_litres: float | None = None
    hazards: str = ""
    wires: str = ""
    owner: str | None = None
    permission: Permission | None = None
    permission_to: date | None = None
    inspected_by: str | None = None
    revision: int | None = None


@dataclass(frozen=True)
class Fire:
    """A fire's outline; cautions, what its file's reader had to do to it."""

    fire_id: str
    name: str
    area: AreaM
    cautions: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.area.is_empty or not np.isfinite(shapely.get_coordinates(self.area)).all():
            raise BadArgument(
                f"fire {self.name}: its outline is empty, or holds a position that is no finite number. "
                "Fix: draw the outline as a polygon in the region's plane"
            )


@dataclass(frozen=True)
class Base:
    """Where the aircraft refuels: a base, or a fuel truck.

    fuel_left_l: the fuel that is left there [L]; fuel_flow_l_min: how fast it is pumped [L/min]; open_from_utc,
    open_until_utc: hours of the day, over midnight where the second is earlier. None: not stated, so not limited.
    """

    name: str
    point: PointM
    fuel_left_l: float | None = None
    fuel_flow_l_min: float | None = None
    open_from_utc: time | None = None
    open_until_utc: time | None = None


@dataclass(frozen=True)
class Station:
    """Where the temperature of a day is read; origin says where its height is from."""

    name: str
    elevation_m: float
    origin: str


@dataclass(frozen=True, eq=False)
class Region:
    """All of a region's input, checked. `fingerprint` is the SHA-256 over the input files and region.toml; `inputs`
    that of each file by its name."""

    name: str
    frame: RegionFrame
    bodies: tuple[WaterBody, ...]
    fingerprint: str
    terrain: Grid | None = None
    terrain_error_m: float | None = None
    depth_grid: DepthGrid | None = None
    soundings: Soundings | None = None
    chart: DepthChart | None = None
    obstacles: tuple[Obstacle, ...] = ()
    obstacles_listed: bool = False
    closures: tuple[Closure, ...] = ()
    sites: tuple[AnnotatedSite, ...] = ()
    fires: tuple[Fire, ...] = ()
    base: Base | None = None
    station: Station | None = None
    survey_settings: dict[str, float] = field(default_factory=dict)
    cautions: tuple[Fault, ...] = ()
    inputs: dict[str, str] = field(default_factory=dict)
    canopy: Grid | None = None
    canopy_error_m: float | None = None
    stations: tuple["FillStation", ...] = ()
    bases: tuple[Base, ...] = ()

    @property
    def refuel_places(self) -> tuple[Base, ...]:
        """Everywhere that the aircraft can refuel: the base and the further ones."""
        return self.bases if self.base is None else (self.base, *self.bases)

    @property
    def counted_terrain_error_m(self) -> float:
        """The terrain's stated 90 % error, or what counts where none is stated, and that of the canopy on it [m]."""
        terrain_m = self.terrain_error_m if self.terrain_error_m is not None else UNSTATED_TERRAIN_ERROR_M
        if self.canopy is None:
            return terrain_m
        return terrain_m + (
            self.canopy_error_m if self.canopy_error_m is not None else UNSTATED_CANOPY_ERROR_M
        )

    @cached_property
    def covered_terrain(self) -> Grid | None:
        """The terrain with its trees [m]; NaN where either is unknown. Without a canopy raster the bare terrain."""
        if self.terrain is None or self.canopy is None:
            return self.terrain
        return self.terrain.raised_by(self.canopy)

    @cached_property
    def flown_terrain(self) -> Grid | None:
        """The terrain with its trees for legs that pass above [m]: unknown trees are as tall as trees can be."""
        covered, bare = self.covered_terrain, self.terrain
        if bare is None or covered is None or self.canopy is None:
            return bare
        values = np.where(np.isnan(covered.values), bare.values + TALLEST_TREE_M, covered.values)
        return replace(bare, values=values)
