"""How a depth survey searched the bed between the depths that it handed over."""

from dataclasses import dataclass
from typing import Literal

# none: depths alone; lines: an unbroken sounder along lines; swath: a side scan or multibeam that saw so far beside its
# lines; full: everything between the lines; swept: a wire, a bar or a scoop was dragged; dry: the bed was seen dry.
SearchMethod = Literal["none", "lines", "swath", "full", "swept", "dry"]


@dataclass(frozen=True)
class BedSearch:
    """How one survey looked for what stands on the bed; what is not known is None and counts for nothing.

    feature_m: everything that stands so much above the bed was found where the survey looked [m]; swath_m: the whole
    width that it saw along a line [m]; line_spacing_m: between its lines [m]; swept_depth_m: down to this depth, below
    the level at which its depths hold, nothing stood in its way [m]; features_found: how many features it found in all.
    """

    method: SearchMethod = "none"
    origin: str = ""
    feature_m: float | None = None
    swath_m: float | None = None
    line_spacing_m: float | None = None
    swept_depth_m: float | None = None
    features_found: int | None = None


NOT_SEARCHED = BedSearch()


# IHO S-44 Ed. 6 (2020), table 1: full search for features, cubic ones larger than this [m]; 1a to 40 m of depth. Orders
# 1b and 2 ask for no full search.
ORDER_FEATURES_M = {"exclusive": 0.5, "special": 1.0, "1a": 2.0}
# Zones A1 and A2: "full area search undertaken, significant seafloor features detected" (IHO S-57 Ed. 3.1 Supp. 3). How
# large a significant feature is stands in S-44: order 1a's size is taken for both (no source).
ZONE_FEATURES_M = {"A1": 2.0, "A2": 2.0}


def search_of_order(order: str) -> BedSearch:
    """Give the search that an IHO S-44 order asks for."""
    size_m = ORDER_FEATURES_M.get(order)
    return BedSearch("none" if size_m is None else "full", f"S-44 order {order}", size_m)


def search_of_zone(zone: str) -> BedSearch:
    """Give the search that a zone of confidence (CATZOC) stands for."""
    size_m = ZONE_FEATURES_M.get(zone)
    return BedSearch("none" if size_m is None else "full", f"CATZOC {zone}", size_m)
