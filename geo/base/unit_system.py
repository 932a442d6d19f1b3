"""The units in which paper shows quantities: those of the trade, SI, or US customary. Every figure comes in as SI."""

from dataclasses import dataclass

from geo.base.errors import BadArgument
from geo.base.units import (
    HPA_PER_INHG,
    LITRE_PER_US_GALLON,
    METRE_PER_FOOT,
    METRE_PER_NAUTICAL_MILE,
    MS_PER_KNOT,
)

UNKNOWN = "UNKNOWN"


@dataclass(frozen=True)
class Unit:
    """A unit of display: shown = value / size + shift, with so many decimals."""

    name: str
    size: float
    decimals: int = 0
    shift: float = 0.0

    def text(self, value: float | None, decimals: int | None = None) -> str:
        """Give a value (in SI) in this unit with its name; None is said to be unknown, never 0."""
        if value is None:
            return UNKNOWN
        places = self.decimals if decimals is None else decimals
        shown = round(value / self.size + self.shift, places) + 0.0  # no "-0"
        return f"{shown:,.{places}f} {self.name}"


@dataclass(frozen=True)
class UnitSystem:
    """One unit for each quantity. sentences: in what the survey's own words are measured, "" where in the same."""

    name: str
    distance: Unit
    length: Unit
    height: Unit
    depth: Unit
    speed: Unit
    volume: Unit
    temperature: Unit
    pressure: Unit
    sentences: str = ""


_METRE, _FOOT = Unit("m", 1.0), Unit("ft", METRE_PER_FOOT)
_DEPTH_M, _DEPTH_FT = Unit("m", 1.0, 1), Unit("ft", METRE_PER_FOOT, 1)
_NAUTICAL, _KNOT = Unit("NM", METRE_PER_NAUTICAL_MILE, 1), Unit("kt", MS_PER_KNOT)
_LITRE, _GALLON = Unit("L", 1.0), Unit("US gal", LITRE_PER_US_GALLON)
_CELSIUS, _FAHRENHEIT = Unit("°C", 1.0, 0), Unit("°F", 5.0 / 9.0, 0, 32.0)
_HPA, _INHG = Unit("hPa", 1.0), Unit("inHg", HPA_PER_INHG, 2)

TRADE = UnitSystem(
    "trade", _NAUTICAL, _METRE, _FOOT, _DEPTH_M, _KNOT, _LITRE, _CELSIUS, _HPA, "heights in sentences in m"
)
SI = UnitSystem(
    "si", Unit("km", 1000.0, 1), _METRE, _METRE, _DEPTH_M, Unit("m/s", 1.0, 1), _LITRE, _CELSIUS, _HPA
)
US = UnitSystem(
    "us",
    _NAUTICAL,
    _FOOT,
    _FOOT,
    _DEPTH_FT,
    _KNOT,
    _GALLON,
    _FAHRENHEIT,
    _INHG,
    "words in sentences in m and L",
)
SYSTEMS = {one.name: one for one in (TRADE, SI, US)}


def unit_system(name: str) -> UnitSystem:
    """Give the system of a name: trade, si or us, in any case.

    Raises: BadArgument for another name.
    """
    found = SYSTEMS.get(name.strip().lower())
    if found is None:
        raise BadArgument(f"units {name!r} are not known. Fix: {', '.join(SYSTEMS)}")
    return found
