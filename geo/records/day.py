"""What is known of one day beside the region's files: levels that were read, areas that were closed."""

from dataclasses import dataclass
from datetime import date, datetime

import shapely

from geo.records.region import ClosureKind


@dataclass(frozen=True)
class LevelReading:
    """A level of a water [m, elevation in the region's vertical datum] that was read at a moment.

    It counts until another is read, or until `until`: after that the present level is unknown. Moments carry a zone.
    """

    body_id: str
    level_m: float
    read_at: datetime
    until: datetime | None
    origin: str


@dataclass(frozen=True)
class ClosedArea:
    """A closed area in WGS 84 longitude and latitude [deg], or a whole water (body_id), with its days (None: open)."""

    closure_id: str
    name: str
    kind: ClosureKind
    reason: str
    outline: shapely.Geometry
    body_id: str | None = None
    valid_from: date | None = None
    valid_to: date | None = None
    origin: str = ""
