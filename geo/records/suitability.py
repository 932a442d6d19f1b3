"""How well one water body suits one way of filling, and why."""

import math
from dataclasses import dataclass
from typing import Literal

from geo.records.aircraft import METHOD_NAMES, FillMethod
from geo.records.geometry import LineM, PointM
from geo.records.station import Agent

# usable: every hard limit is met with evidence; survey first: no limit is known to be broken but evidence is missing
# or too weak; not usable: a hard limit is broken.
Verdict = Literal["usable", "survey first", "not usable"]
State = Literal["met", "not met", "unknown"]


@dataclass(frozen=True)
class Criterion:
    """One test. margin is (measured - required) in `unit`, or None; score is 0-100; weight is its share in the method's
    score; hard: not met means not usable, unknown means survey first.

    score_points: (measured, score) by rising measured: the score lies on the straight lines between them, and beyond
    them at the first and last; an unknown scores 0. Empty where the score follows from words.
    """

    name: str
    state: State
    hard: bool
    measured: float | None
    required: float | None
    unit: str
    margin: float | None
    score: float
    weight: float
    reason: str
    score_points: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True)
class LoadByFuel:
    """How much water can be taken, by the fuel aboard: the lesser of what no fuel changes (tank, run, structure, site
    notes) and what weight and power bear.

    constant_l, constant_by: the first, and what sets it; lifted_l, lifted_by: the second with full_fuel_l of fuel
    aboard (None: nothing of weight limits it); gain: litres of water more for each litre of fuel burned; water_kg_l:
    what a litre of this water weighs.
    """

    constant_l: float
    constant_by: str
    lifted_l: float | None
    lifted_by: str
    full_fuel_l: float
    gain: float
    water_kg_l: float

    def litres(self, fuel_l: float) -> float:
        """The load [L] with so much fuel aboard [L] when the fill begins."""
        return max(0.0, min(self.constant_l, self._lifted(fuel_l)))

    def ruled_by(self, fuel_l: float) -> str:
        """What sets the load with so much fuel aboard [L]; what no fuel changes wins a tie."""
        return self.constant_by if self.constant_l <= self._lifted(fuel_l) else self.lifted_by

    def _lifted(self, fuel_l: float) -> float:
        if self.lifted_l is None:
            return math.inf
        return self.lifted_l + self.gain * (self.full_fuel_l - fuel_l)


@dataclass(frozen=True)
class TwoPasses:
    """What a second pass over a run too short for a full tank would bring; nobody counts it silently.

    litres: both passes together [L]; extra_s: the second pass with the turn before it [s]; worth_above_cycle_s: where
    a cycle with one pass is longer than this, two passes bring more water per hour [s]; text says it all.
    """

    litres: float
    extra_s: float
    worth_above_cycle_s: float
    text: str


@dataclass(frozen=True)
class Ways:
    """How a hover point can be reached and left on the day: the directions, seen from it, that serve [deg, true].

    out_climb_m: how far up the aircraft climbs straight before it leaves [m]; 0 where it need not.
    """

    in_from_true_deg: tuple[float, ...]
    out_to_true_deg: tuple[float, ...]
    out_climb_m: float = 0.0


@dataclass(frozen=True)
class MethodAssessment:
    """The verdict on one method at one source.

    score = sum(weight x score) / sum(weight) over the criteria, 0 when not usable. litres is what can be taken today
    with full fuel aboard (None when it cannot be said), litres_ruled_by says which limit sets it: "tank", "run",
    "hover payload", "low-speed power", "gross weight", "maximum water load", or "site note" with the site's name; load
    says how it grows as fuel burns (None: it does not, or cannot be said), and fill_time_s grows with it but for
    fill_fixed_s, which no load changes: the coupling of a hose, the climb before leaving.
    loads_available counts loads of that size. alternatives are further places for the same method with the same
    verdict, clearly elsewhere or on other headings, the better first; their own alternatives are empty. two_passes says
    what a second pass on a short run would bring and cost (None: one pass fills the tank, or no load can be taken).
    agent is what is filled, None unknown: litres of different agents are never summed. run_heading_true_deg is the
    heading flown. ways: of a hover.
    """

    body_id: str
    method: FillMethod
    verdict: Verdict
    score: float
    criteria: tuple[Criterion, ...]
    cautions: tuple[str, ...]
    reason: str
    litres: float | None
    litres_ruled_by: str
    fill_time_s: float | None
    fill_point: PointM | None
    run_line: LineM | None = None
    run_heading_true_deg: float | None = None
    loads_available: float | None = None
    alternatives: tuple["MethodAssessment", ...] = ()
    two_passes: TwoPasses | None = None
    ways: Ways | None = None
    agent: Agent | None = "water"
    load: LoadByFuel | None = None
    fill_fixed_s: float = 0.0

    @property
    def lift_off_above_m(self) -> float:
        """How far above the water the loaded leg begins [m]: after a climb straight up, where that is the only way."""
        return 0.0 if self.ways is None else self.ways.out_climb_m

    @property
    def way(self) -> str:
        """How it is filled, in words; with what, where that is not water."""
        name = METHOD_NAMES[self.method]
        return name if self.agent == "water" else f"{name}, {self.agent or 'contents unknown'}"

    def litres_with(self, fuel_l: float) -> float | None:
        """The load [L] with so much fuel aboard [L] when the fill begins; None where it cannot be said."""
        return self.litres if self.load is None or self.litres is None else self.load.litres(fuel_l)

    @property
    def held_l(self) -> float | None:
        """The water [L] that can be taken before it is too shallow; None where that is not limited or not known."""
        if self.loads_available is None or self.litres is None:
            return None
        return self.loads_available * self.litres


@dataclass(frozen=True)
class BodyAssessment:
    """Both (all) methods of the aircraft at one source."""

    body_id: str
    name: str
    methods: tuple[MethodAssessment, ...]

    @property
    def verdict(self) -> Verdict:
        """The best verdict of any method."""
        order = ("usable", "survey first", "not usable")
        return min((m.verdict for m in self.methods), key=order.index, default="not usable")
