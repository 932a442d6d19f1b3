"""The fuel plans of many sources in many samples at once: the rule of `geo/ranking/fuel_plan.py` over arrays."""

import math
from collections.abc import Sequence

import numpy as np

from geo.ranking.fuel_plan import MOST_LOADS
from geo.records.aircraft import AircraftProfile
from geo.records.ranking import RankedSource

# As in the fuel plan: rounding never takes a load away.
_ROOM = 1e-9


class LoadsOfTanks:
    """What m sources deliver, load by load, from their assessments and plans; arrays (m,), litres and seconds."""

    def __init__(self, sources: Sequence[RankedSource], profile: AircraftProfile) -> None:
        self._profile = profile
        rows = [_row(one, profile) for one in sources]
        columns = np.array(rows, dtype=float).reshape(-1, 10).T
        self._constant_l, self._lifted_l, self._gain, self._whole_l, self._per_l = columns[:5]
        self._fixed_s, self._to_s, self._from_s, self._held_l, self._smallest_l = columns[5:]
        # Where a source refuels may differ; the time asked is the same for all sources of a ranking.
        self._fuel_l = np.array([one.fuel.endurance_s for one in sources]) * profile.fuel_burn_l_h / 3600.0
        self._turn_s = np.array([one.fuel.refuel_turn_s for one in sources])
        self._hours = sources[0].fuel.hours if sources else None

    def sustained(
        self,
        rest_s: np.ndarray,
        after_drop_s: np.ndarray,
        fill: np.ndarray | float,
        lift: np.ndarray,
        burn: np.ndarray,
    ) -> np.ndarray:
        """Give the sustained litres per hour (n, m).

        Parameters: rest_s (n, m), a round trip without its fill; after_drop_s (n, m), its part after the drop; factors
        on the fill times (n, m), and on the weight that can be lifted and on the burn (n, 1).
        """
        loads, cycle_s = self._tank(rest_s, fill, lift, burn)
        if self._hours is None:
            taken = self._within([litres for litres, _ in loads], np.inf)
            return 3600.0 * taken / cycle_s
        over_s, tanks = 3600.0 * self._hours, 0
        dropped: list[np.ndarray] = []
        while loads and np.any(tanks * cycle_s < over_s) and len(dropped) < MOST_LOADS:
            for litres, end_s in loads:
                in_time = tanks * cycle_s + end_s - after_drop_s <= over_s
                dropped.append(np.where(in_time, litres, 0.0))
            tanks += 1
        return self._within(dropped, np.inf) / self._hours if dropped else np.zeros(rest_s.shape)

    def _tank(
        self, rest_s: np.ndarray, fill: np.ndarray | float, lift: np.ndarray, burn: np.ndarray
    ) -> tuple[list[tuple[np.ndarray, np.ndarray]], np.ndarray]:
        """Give litres (0 where the fuel allows no more) and end of each load of a tank, and the fuel cycle [s]."""
        profile = self._profile
        burn_l_s = profile.fuel_burn_l_h / 3600.0 * burn
        until_s = self._fuel_l / burn_l_s - profile.reserve_s - self._from_s
        lifted_l = self._lifted_l + (lift - 1.0) * self._whole_l
        at_s = np.broadcast_to(self._to_s, rest_s.shape).copy()
        going = np.ones(rest_s.shape, dtype=bool)
        loads: list[tuple[np.ndarray, np.ndarray]] = []
        for _ in range(MOST_LOADS):
            fuel_l = self._fuel_l - np.minimum(burn_l_s * at_s, self._fuel_l)
            grown_l = self._gain * (profile.fuel_l - fuel_l)
            litres = np.clip(np.minimum(self._constant_l, lifted_l + grown_l), 0.0, None)
            fill_s = (self._fixed_s + self._per_l * litres) * fill
            end_s = at_s + fill_s + rest_s
            going &= (end_s <= until_s + _ROOM * (fill_s + rest_s)) & (litres > 0.0)
            if not going.any():
                break
            at_s = np.where(going, end_s, at_s)
            loads.append((np.where(going, litres, 0.0), end_s))
        return loads, at_s + self._from_s + self._turn_s

    def _within(self, loads: Sequence[np.ndarray], none: float) -> np.ndarray:
        """Give the sum of the loads that each water holds: whole loads, in their order (n, m)."""
        if not loads:
            return np.zeros(1)
        taken = np.zeros(loads[0].shape)
        open_ = np.ones(loads[0].shape, dtype=bool)
        for number, litres in enumerate(loads):
            most = litres
            if number == 0:
                just = (self._smallest_l <= self._held_l) & (self._held_l < litres)
                most = np.where(just, self._held_l, litres)
            open_ &= taken + most <= self._held_l * (1.0 + _ROOM)
            taken += np.where(open_, most, 0.0)
        return taken


def _row(source: RankedSource, profile: AircraftProfile) -> tuple[float, ...]:
    """Give constant and lifted load [L], gain, the whole weight that is lifted as litres, fill time per litre [s/L]
    and what of it no load changes [s], transits [s], and the water held with the load that it was judged with [L]."""
    judged, cycle, fuel = source.assessment, source.cycle, source.fuel
    load = judged.load
    held_l = math.inf if judged.held_l is None else judged.held_l
    after = (
        (cycle.fill_s - judged.fill_fixed_s) / cycle.litres,
        judged.fill_fixed_s,
        fuel.transit_to_s,
        fuel.transit_from_s,
        held_l,
        judged.litres or 0.0,
    )
    if load is None or load.lifted_l is None:
        return (cycle.litres if load is None else load.constant_l, math.inf, 0.0, 0.0, *after)
    aboard_kg = 0.0
    if profile.weights is not None:
        aboard_kg = profile.weights.operating_kg + profile.fuel_l * profile.weights.fuel_kg_l
    whole_l = max(0.0, load.lifted_l) + aboard_kg / load.water_kg_l
    return (load.constant_l, load.lifted_l, load.gain, whole_l, *after)
