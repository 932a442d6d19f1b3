"""What a wanted line takes: coverage level, line length, litres, loads, doors; the level recommended for a fuel."""

import math
from dataclasses import dataclass

from geo.base.errors import BadArgument
from geo.base.units import LITRE_PER_US_GALLON, SQUARE_METRE_PER_100_SQUARE_FEET
from geo.records.drop_run import DropRun

# A drop lies across its line as a Gaussian. At most this part of the liquid is a strip at the level, namely where the
# strip's edges, one standard deviation s out, just reach it: 2 s level / (sqrt(2 pi e) s level) = sqrt(2 / (pi e)).
GROUND_SHARE = math.sqrt(2.0 / (math.pi * math.e))
SHARE_SOURCE = (
    "a drop is densest in its middle and thin at its edges: of a Gaussian pattern (Int. J. Wildland Fire "
    f"23(2):272-280, 2014) at most {GROUND_SHARE:.0%} makes a strip of the level, so the drops take "
    f"{1.0 / GROUND_SHARE:.1f} times the litres of a uniform sheet"
)
SHARE_CAUTION = f"{SHARE_SOURCE}; wind, trees, evaporation and gaps between drops take more: plan more loads"
AVERAGE_CAUTION = "the table is for average fire intensity: adjust up or down to the fire that you see"


@dataclass(frozen=True)
class Recommendation:
    """The coverage level for a fuel. nfdrs are fuel-model letters, fire_behaviour the model number of 13; with `above`
    the level is more than the number given."""

    nfdrs: tuple[str, ...]
    fire_behaviour: int
    level: float
    above: bool
    description: str
    source: str


_READ = "USDA Forest Service, MTDC, Airtanker Drop Guides, Table 1"
_MEMORY = "from memory of the same table, not read: check before use"

# Letters that stand in several rows (F, O) are told apart by the fire-behaviour model.
RECOMMENDED: tuple[Recommendation, ...] = (
    Recommendation(("A", "L", "S"), 1, 1.0, False, "annual and perennial western grasses, tundra", _READ),
    Recommendation(("C",), 2, 2.0, False, "conifer with grass", _READ),
    Recommendation(("H", "R"), 8, 2.0, False, "short-needle closed conifer; summer hardwood", _READ),
    Recommendation(("E", "P", "U"), 9, 2.0, False, "long-needle conifer; fall hardwood", _READ),
    Recommendation(("T",), 2, 3.0, False, "sagebrush with grass", _READ),
    Recommendation(("N",), 3, 3.0, False, "sawgrass", _READ),
    Recommendation(("F",), 5, 3.0, False, "intermediate brush (green)", _READ),
    Recommendation(("K",), 11, 3.0, False, "light slash", _READ),
    Recommendation(("G",), 10, 4.0, False, "short-needle conifer (heavy dead litter)", _READ),
    Recommendation(("O",), 4, 6.0, False, "southern rough", _MEMORY),
    Recommendation(("F", "Q"), 6, 6.0, False, "intermediate brush (cured), black spruce", _MEMORY),
    Recommendation(("B", "O"), 4, 6.0, True, "mixed chaparral, high pocosin", _MEMORY),
    Recommendation(("J",), 12, 6.0, True, "medium slash", _MEMORY),
    Recommendation(("I",), 13, 6.0, True, "heavy slash", _MEMORY),
)


def _above_zero(**values: float) -> None:
    for name, value in values.items():
        if not (math.isfinite(value) and value > 0.0):
            raise BadArgument(
                f"{name} is {value}: it must be a finite number above 0. Fix: give it in its unit"
            )


def coverage_l_m2(level: float) -> float:
    """Give the liquid depth of a coverage level [L/m2, the same as mm].

    Parameters: level, US gallons per 100 square feet, above 0. Raises: BadArgument.
    Notes: 1 gal/100 ft2 = 3.785411784 L / 9.290304 m2 = 0.40746 L/m2.
    References: NWCG Glossary, coverage level: "level 2 represents 2 gallons of retardant per hundred square feet".
    """
    _above_zero(level=level)
    return level * LITRE_PER_US_GALLON / SQUARE_METRE_PER_100_SQUARE_FEET


def litres_for_line(length_m: float, level: float, width_m: float) -> float:
    """Give the volume [L] for a line as a uniform sheet: L/m2 x width x length.

    Parameters: length_m, width_m [m]; level [gal/100 ft2]; all above 0. Raises: BadArgument.
    Notes: what is needed on the ground; real patterns need more, see `litres_to_drop`.
    """
    _above_zero(length_m=length_m, width_m=width_m)
    return coverage_l_m2(level) * width_m * length_m


def litres_to_drop(length_m: float, level: float, width_m: float) -> float:
    """Give the volume [L] to be dropped for a line, of which GROUND_SHARE counts; see `litres_for_line`.

    Raises: BadArgument.
    References: Air tanker drop patterns, Int. J. Wildland Fire 23(2):272-280, 2014: ground liquid follows a Gaussian.
    """
    return litres_for_line(length_m, level, width_m) / GROUND_SHARE


def line_of_load_m(level: float, width_m: float, litres: float, drop: DropRun | None = None) -> float:
    """Give the length of line [m] that one load makes at a level and width; all above 0.

    Parameters: drop, the run that lays it; where its doors let out more than the level needs, the line is shorter.
    Raises: BadArgument.
    """
    _above_zero(litres=litres)
    length_m = litres / litres_to_drop(1.0, level, width_m)
    return length_m if drop is None else length_m / drop.too_much


def loads_for_line(length_m: float, line_of_load_m: float) -> int:
    """Give the whole loads for a line, rounded up; lengths [m] above 0. Raises: BadArgument."""
    _above_zero(length_m=length_m, line_of_load_m=line_of_load_m)
    return math.ceil(length_m / line_of_load_m - 1e-9)


def set_doors(
    level: float, width_m: float, ground_speed_ms: float, flows_l_s: tuple[float, float]
) -> tuple[float, float]:
    """Give the flow [L/s] of doors that lays a level over a width at a ground speed, and the level that it lays.

    Parameters: level [US gal/100 ft2], width_m [m], ground_speed_ms [m/s], least and greatest flow of the doors [L/s].
    Raises: BadArgument for what is not finite and above 0.
    Notes: flow = L/m2 x width x ground speed / GROUND_SHARE, kept between least and greatest. Faster over the ground
    the doors open wider; where the greatest is too little, one drop lays less than the level.
    """
    _above_zero(ground_speed_ms=ground_speed_ms)
    needed = litres_to_drop(ground_speed_ms, level, width_m)
    flow = min(max(needed, flows_l_s[0]), flows_l_s[1])
    return flow, level * flow / needed


def recommended_levels(
    nfdrs: str | None = None, fire_behaviour: int | None = None
) -> tuple[Recommendation, ...]:
    """Give the rows of the recommended coverage levels for a fuel.

    Parameters: nfdrs, letter of the fuel model; fire_behaviour, number 1 to 13; either or both.
    Returns: every row that fits; more than one where the model alone does not decide.
    Raises: BadArgument when neither is given or no row fits.
    References: USDA Forest Service, MTDC, Airtanker Drop Guides (2000), Table 1; rows from memory say so.
    """
    letter = nfdrs.strip().upper() if nfdrs is not None else None
    if letter is None and fire_behaviour is None:
        raise BadArgument(
            "no fuel model given. Fix: give an NFDRS letter or a fire-behaviour model of 1 to 13"
        )
    rows = tuple(
        row
        for row in RECOMMENDED
        if (letter is None or letter in row.nfdrs)
        and (fire_behaviour is None or fire_behaviour == row.fire_behaviour)
    )
    if not rows:
        asked = f"NFDRS {letter}, fire-behaviour model {fire_behaviour}"
        raise BadArgument(f"{asked}: no row of the table fits. Fix: give another model, or the level itself")
    return rows
