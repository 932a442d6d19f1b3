"""A fill station: a place that is no water, where an aircraft fills by hose on the ground, or out of an open tank."""

from dataclasses import dataclass
from datetime import date
from typing import Literal

from geo.records.geometry import PointM
from geo.records.region import Permission, within_days

StationKind = Literal["hydrant", "tanker", "portable tank", "dip tank", "mixing plant"]
Agent = Literal["water", "retardant", "foam"]

# Filled by a hose that is coupled to the aircraft on the ground.
HOSE_KINDS: tuple[StationKind, ...] = ("hydrant", "tanker", "portable tank", "mixing plant")
# Open at the top: filled from the hover.
OPEN_KINDS: tuple[StationKind, ...] = ("portable tank", "dip tank")
# What may stand elsewhere tomorrow is there only on the days that somebody states.
MOVED_KINDS: tuple[StationKind, ...] = ("tanker", "portable tank")
# Retardant and foam are kept this far from every water: USDA Forest Service, WFCS, Guidelines for aerial application of
# retardant or foam near waterways, 300 ft.
WATERWAY_M = 91.44
# The longest coupling time that a file may state [s]; it also counts where none is stated.
LONGEST_COUPLING_S = 600.0


@dataclass(frozen=True)
class FillStation:
    """One fill station as its keeper's file has it; None is unknown, and never counts as good.

    flow_l_s of its hose; coupling_s, from landing until the hose runs and from its end to lift-off; volume_l in store
    and refill_l_s, what runs into it meanwhile (a hydrant has neither: its main is not counted as limited);
    clear_radius_m round the place where the aircraft lands or dips, free of all that stands up; slope [rise/run] of the
    ground there; depth_m of the open tank when it is as full as it is kept. It stands there from valid_from to
    valid_to, both days counted (None: open-ended).
    """

    station_id: str
    name: str
    kind: StationKind | None
    point: PointM
    origin: str
    agent: Agent | None = None
    flow_l_s: float | None = None
    coupling_s: float | None = None
    volume_l: float | None = None
    refill_l_s: float | None = None
    clear_radius_m: float | None = None
    slope: float | None = None
    depth_m: float | None = None
    permission: Permission | None = None
    owner: str | None = None
    note: str | None = None
    valid_from: date | None = None
    valid_to: date | None = None

    def stands_on(self, day: date | None) -> bool | None:
        """Tell whether it stands there on a day; None: unknown, for want of the day or, of what is moved, of dates."""
        dated = self.valid_from is not None or self.valid_to is not None
        if self.kind in MOVED_KINDS and (self.valid_from is None or self.valid_to is None):
            return None
        if dated and day is None:
            return None
        return day is None or within_days(day, self.valid_from, self.valid_to)
