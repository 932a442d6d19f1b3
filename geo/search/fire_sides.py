"""The sides of a fire by the wind: its head and its flanks, as wedges of directions seen from its middle.

References: NWCG Glossary: head, "the side of the fire having the fastest rate of spread"; flanks, the parts "roughly
parallel to the main direction of spread". That a side is a quarter of all directions: common practice, no source.
"""

import numpy as np
import shapely

from geo.base.errors import BadArgument
from geo.base.units import MS_PER_KNOT
from geo.flight.legs.best_leg import grid_bearing_deg
from geo.records.conditions import Weather
from geo.records.region import Fire, RegionFrame

# A weaker wind is reported as calm (WMO-No. 306, FM 15: 00000KT), and drives no head.
CALM_MS = 1.0 * MS_PER_KNOT


def head(fire: Fire, frame: RegionFrame, weather: Weather) -> shapely.Geometry:
    """Give the area downwind of the fire's parts, within 45 degrees either way of where the wind blows.

    Raises: BadArgument in a calm.
    """
    return _wedges(fire, frame, weather, (180.0,))


def flanks(fire: Fire, frame: RegionFrame, weather: Weather) -> shapely.Geometry:
    """Give the areas beside the fire's parts, within 45 degrees of across the wind.

    Raises: BadArgument in a calm.
    """
    return _wedges(fire, frame, weather, (90.0, 270.0))


def _wedges(
    fire: Fire, frame: RegionFrame, weather: Weather, turns_deg: tuple[float, ...]
) -> shapely.Geometry:
    if weather.wind_ms < CALM_MS:
        raise BadArgument(
            f"wind {weather.wind_ms / MS_PER_KNOT:.1f} kt: in a calm nobody knows which side of fire {fire.name} is "
            "its head. Fix: choose edge or middle, or draw the active flank"
        )
    parts = shapely.get_parts(fire.area)
    found = []
    for part in parts:
        middle = part.centroid
        from_deg = grid_bearing_deg(frame.crs_wkt, (middle.x, middle.y), weather.wind_from_true_deg)
        # So far that the wedge's straight far side lies outside the part.
        reach_m = 2.0 * float(shapely.minimum_bounding_radius(part)) / np.cos(np.radians(45.0)) + 1.0
        for turn_deg in turns_deg:
            angles = np.radians(from_deg + turn_deg + np.array([-45.0, 45.0]))
            corners = [(middle.x + reach_m * np.sin(a), middle.y + reach_m * np.cos(a)) for a in angles]
            found.append(
                shapely.Polygon([(middle.x, middle.y), *corners]).intersection(part.envelope.buffer(1.0))
            )
    return shapely.union_all(found)
