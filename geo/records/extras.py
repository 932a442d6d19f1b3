"""What is asked beside the order of the sources: a line to build, how sure the order is, daylight, perimeter, fleet."""

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from geo.records.drop_run import DropRun
from geo.records.geometry import LineM
from geo.records.station import Agent

# The rules by which authorities end the day of those who fly by sight.
EndOfDay = Literal["sunset", "sunset+30min", "civil dusk"]


@dataclass(frozen=True)
class LineWanted:
    """A line to be covered: length_m by width_m [m] at a coverage level [US gal/100 ft2]; level_origin: where from."""

    length_m: float
    width_m: float
    level: float
    level_origin: str


@dataclass(frozen=True)
class SourceBuild:
    """What the line takes from one source. time_s runs from the first fill to the last drop, refuelling stops counted;
    None, with the note, where the water does not hold the loads.

    line_per_load_m: the line that one load makes; drop_s, drop_run_m: how long the doors are open and how far the
    aircraft flies meanwhile (None where the profile says nothing of doors); agent: what is dropped."""

    body_id: str
    name: str
    litres_per_load: float
    loads: int
    refuel_stops: int | None
    time_s: float | None
    note: str
    line_per_load_m: float
    drop_s: float
    drop_run_m: float | None
    agent: Agent | None = "water"


@dataclass(frozen=True)
class LineBuild:
    """The line asked for, its litres as a uniform sheet, and what each ranked source needs for it.

    litres_dropped is what must be dropped for these litres to lie in the line: ground_share of it counts."""

    wanted: LineWanted
    litres: float
    sources: tuple[SourceBuild, ...]
    cautions: tuple[str, ...]
    litres_dropped: float
    ground_share: float
    drop: DropRun | None = None


@dataclass(frozen=True)
class SourceCertainty:
    """How often [0-1] a source is the best, is among the first three, and can be used at all, over all samples."""

    body_id: str
    name: str
    best: float
    first_three: float
    available: float


@dataclass(frozen=True)
class DecisiveFact:
    """A fact that would change the winner: how far it is off in standard deviations (None: a plain chance), and words.

    chance is the probability of the fact itself where it is one of yes or no."""

    fact: str
    deviations: float | None
    chance: float | None
    new_best: str | None
    text: str


@dataclass(frozen=True)
class Certainty:
    """How sure the order is: one entry per source considered, and the facts that would change the winner."""

    samples: int
    seed: int
    sources: tuple[SourceCertainty, ...]
    turns: tuple[DecisiveFact, ...]
    assumptions: dict[str, str]


@dataclass(frozen=True)
class SourceDaylight:
    """The last load of one source: begun at last_load_start it is dropped, and the aircraft on the ground at the base,
    by the end of the day. last_fill_start is the same moment, because a load begins with its fill.

    loads_left counts from the time asked, refuelling included, None without one; glare says where the low sun stands in
    a run, "" none; home_s: the flight from the drop to the base [s], None where unknown; the note says why."""

    body_id: str
    name: str
    last_fill_start: datetime | None
    last_load_start: datetime | None
    loads_left: int | None
    glare: str
    home_s: float | None = None
    note: str = ""


@dataclass(frozen=True)
class Daylight:
    """The end of the day by a rule, at fire or base, whichever is sooner, and what it means for each source. end None:
    the reason says why. dusk: the end of civil twilight at the fire, whatever the rule."""

    dusk: datetime | None
    reason: str
    asked_at: datetime | None
    sun_elevation_deg: float | None
    sun_azimuth_true_deg: float | None
    sources: tuple[SourceDaylight, ...]
    end: datetime | None = None
    rule: EndOfDay = "sunset"
    rule_origin: str = ""


@dataclass(frozen=True)
class Stretch:
    """A piece of the fire's edge with its best source; body_id None where no source can serve it, with the reason.

    Times are the round trips to the points of the piece [s]; litres_per_hour is the least of them."""

    number: int
    line: LineM
    length_m: float
    body_id: str | None
    name: str | None
    method: str | None
    points: int
    least_round_trip_s: float | None
    mean_round_trip_s: float | None
    most_round_trip_s: float | None
    litres_per_hour: float | None
    reason: str


@dataclass(frozen=True)
class FleetMember:
    """One aircraft of a fleet with the source that it is sent to (None: it would gain nothing)."""

    number: int
    aircraft: str
    body_id: str | None
    name: str | None
    method: str | None
    litres_per_hour: float
    gain_litres_per_hour: float
    note: str


@dataclass(frozen=True)
class SourceUse:
    """How many aircraft may work one source, how many do, and which limit holds."""

    body_id: str
    name: str
    seats: int
    used: int
    limited_by: Literal["slots", "water left"]


@dataclass(frozen=True)
class FleetPlan:
    """The fleet in the order asked, each with its source, the total [L/h], the sources in use, what was assumed.

    gain_litres_per_hour of a member is what the best plan gains by adding it to those before it."""

    members: tuple[FleetMember, ...]
    litres_per_hour: float
    sources: tuple[SourceUse, ...]
    assumptions: dict[str, str]


@dataclass(frozen=True)
class Target:
    """Where loads are counted as dropped: the nearest safe edge, the head, the flanks or one that was drawn (its
    middle), or the fire's middle ("centroid")."""

    kind: Literal["edge", "head", "flank", "centroid"] = "edge"
    flank: LineM | None = None


@dataclass(frozen=True)
class ExtrasRequest:
    """What to answer beside the order: a line, the time of day (with its zone), the supply of the perimeter.

    end_of_day: the rule that ends the day, None for that of the profile, else the earliest.
    hours: over how long the water is wanted, by which sources are ordered; None for one fuel cycle with refuelling.
    """

    line: LineWanted | None = None
    at: datetime | None = None
    perimeter: bool = False
    target: Target = Target()
    end_of_day: EndOfDay | None = None
    hours: float | None = None


@dataclass(frozen=True)
class Extras:
    """What was asked for beside the order; None where it was not asked."""

    line: LineBuild | None = None
    certainty: Certainty | None = None
    daylight: Daylight | None = None
    supply: tuple[Stretch, ...] | None = None
