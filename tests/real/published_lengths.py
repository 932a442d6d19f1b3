"""Published lengths of lakes, and what the open polygons give: two meanings of "length" are in print.

Maximum effective length is the longest unbroken straight stretch of open water, which a run is; others print the
longest line from shore to shore, across islands or along a bent axis, which is longer on bent lakes.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class PublishedLake:
    """A lake with a point inside it [deg], its published length [km] and source, and whether that length is straight
    over open water, so that a run must agree within 3 %."""

    name: str
    longitude_deg: float
    latitude_deg: float
    published_km: float
    source: str
    straight: bool


LAKES = (
    PublishedLake(
        "Tahoe", -120.04, 39.10, 35.41, "22 miles, US agencies' fact sheets (secondary copy)", True
    ),
    PublishedLake("Neuchatel", 6.85, 46.90, 38.3, "from memory", True),
    PublishedLake("Garda", 10.68, 45.60, 51.6, "from memory", True),
    PublishedLake("Crater (Oregon)", -122.10, 42.94, 9.7, "from memory", True),
    PublishedLake("Geneva", 6.55, 46.45, 73.0, "along its curved axis (secondary copy)", False),
    PublishedLake("Constance, upper", 9.40, 47.62, 63.0, "shore to shore (secondary copy)", False),
    PublishedLake("Balaton", 17.75, 46.83, 77.0, "from memory; shore to shore", False),
    PublishedLake("Galilee", 35.59, 32.82, 21.0, "from memory; level and year not stated", False),
    PublishedLake("Loch Ness", -4.45, 57.30, 36.2, "from memory; with its canal end, bent", False),
    PublishedLake("Taupo", 175.90, -38.80, 46.0, "from memory; measure not stated", False),
)
