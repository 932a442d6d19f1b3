"""What may stand on a bed unseen: kinds of features by kind of water, with how many, how wide and how tall.

Every figure here is common practice, no source: nobody publishes how many trees, banks or rocks stand in a water. They
lean to the careful side, the finds of a declared search move them, and a water of unknown kind is taken for a valley
that was flooded with its wood, roads and walls.
"""

from dataclasses import dataclass

from geo.records.region import WaterKind


@dataclass(frozen=True)
class Feature:
    """One kind of feature narrower than soundings lie apart.

    words: what it is; width_m: a sounding within half of it from any place of it meets it [m]; line: True for what
    crosses a run from side to side, False for what stands alone; each: there is one for each so many square metres of
    bed (alone) or metres of run (line); shape: of the gamma law of that rate, the larger the surer; height_m: mean
    height above the bed, heights falling off exponentially [m].
    """

    words: str
    width_m: float
    line: bool
    each: float
    shape: float
    height_m: float


_FLOODED = (
    Feature("trees", 2.0, False, 1000.0, 4.0, 6.0),
    Feature("a bank or wall", 8.0, True, 500.0, 2.0, 5.0),
    Feature("a sill or terrace", 40.0, True, 500.0, 2.0, 5.0),
)
_LAKE = (
    Feature("rocks or sunken trees", 2.0, False, 4000.0, 1.0, 3.0),
    Feature("a bank or reef", 8.0, True, 1500.0, 1.0, 3.0),
    Feature("a sill", 40.0, True, 600.0, 2.0, 5.0),
)
_SMALL = (
    Feature("posts or stumps", 2.0, False, 2000.0, 1.0, 1.5),
    Feature("a bank or fence", 8.0, True, 500.0, 1.0, 1.5),
)
_RIVER = (
    Feature("snags or piles", 2.0, False, 1000.0, 2.0, 2.0),
    Feature("a bar", 20.0, True, 300.0, 2.0, 2.0),
)
_SEA = (
    Feature("rocks or wrecks", 3.0, False, 10_000.0, 1.0, 4.0),
    Feature("a ledge or bar", 30.0, True, 600.0, 2.0, 4.0),
)
FEATURES: dict[WaterKind, tuple[Feature, ...]] = {
    "unknown": _FLOODED,
    "reservoir": _FLOODED,
    "lake": _LAKE,
    "dam": _SMALL,
    "pond": _SMALL,
    "river": _RIVER,
    "estuary": _RIVER,
    "sea": _SEA,
}
