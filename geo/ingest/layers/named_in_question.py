"""What a question names, read in a region: its fire, where loads are dropped, the wind of the legs by place."""

from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np

from geo.base.errors import BadArgument
from geo.base.positions import magnetic_variation_deg
from geo.ingest.layers.drawn import flank_from_geojson, read_flank
from geo.ingest.layers.fires import fire_from_geojson, fire_of_region, read_fire
from geo.ingest.layers.wind_field import read_wind_field, wind_field_from_grid
from geo.records.conditions import Weather, WindReport
from geo.records.extras import Target
from geo.records.region import Fire, Region, Station

TARGETS = {
    "edge": Target("edge"),
    "head": Target("head"),
    "flank": Target("flank"),
    "middle": Target("centroid"),
    "centroid": Target("centroid"),
}


def fire(given: str | dict, region: Region) -> Fire:
    """Give the fire that is meant: an id or name of the region, a file, or a GeoJSON object.

    Raises: BadInput when it is none of these or its outline cannot be used.
    """
    return fire_from_geojson(given, region) if isinstance(given, dict) else read_fire(given, region)


def fire_asked(given: str | dict, region: Region) -> Fire:
    """Give the fire that a client of the service means: an id or name of the region, or a GeoJSON object; never a file.

    Raises: BadInput when it is neither or its outline cannot be used.
    """
    return fire_from_geojson(given, region) if isinstance(given, dict) else fire_of_region(given, region)


def target(given: str | dict, region: Region, *, files: bool = False) -> Target:
    """Give where loads are counted as dropped: a word of TARGETS, or a drawn flank as GeoJSON (a file if allowed).

    Raises: BadArgument for another word; BadInput for a flank that cannot be used.
    """
    if isinstance(given, dict):
        return Target("flank", flank_from_geojson(given, region))
    if given in TARGETS:
        return TARGETS[given]
    if files:
        return Target("flank", read_flank(Path(given), region))
    raise BadArgument(
        f"target {given!r} is not known. Fix: edge, head, flank, middle, or a GeoJSON LineString of the active flank"
    )


def true_wind(report: WindReport, day: date | None, region: Region) -> WindReport:
    """Give a wind against true north; a magnetic one turns by the variation at the region's centre on the day.

    Raises: BadArgument for a magnetic one where the variation is not known: no day, or outside the model's years.
    """
    if not report.magnetic:
        return report
    centre = region.frame.centre_longitude_deg, region.frame.centre_latitude_deg
    turned_deg = (report.from_deg + magnetic_variation_deg(*centre, day)) % 360.0
    return replace(report, from_deg=turned_deg, magnetic=False)


def station(given: str | None, region: Region) -> Station:
    """Give the station that is named, or without a name the region's own: its [station], else its base.

    Raises: BadArgument where no station of that name, or none at all, has a known height; it is never taken as 0.
    """
    known = [one for one in (region.station, _base_station(region)) if one is not None]
    found = [one for one in known if given is None or one.name.casefold() == given.strip().casefold()]
    if found:
        return found[0]
    names = ", ".join(one.name for one in known) or "none: it has no [station], and no base on known terrain"
    what = "where the temperature was read is not known" if given is None else f"station {given[:80]!r}"
    raise BadArgument(
        f"{what}: it must be a height with its unit, or a station of the region (it knows {names}). Fix: give it with "
        "the temperature, 34C@210m or 34C@700ft, or name a [station] with its elevation in region.toml"
    )


def _base_station(region: Region) -> Station | None:
    """Give the base as a station, with the height of the ground under it; None where that is unknown."""
    if region.base is None or region.terrain is None:
        return None
    place = region.base.point
    height_m = float(region.terrain.bilinear(np.asarray(place.x), np.asarray(place.y)))
    return Station(region.base.name, height_m, "the base, on the terrain") if np.isfinite(height_m) else None


def in_wind_field(weather: Weather, given: Path | dict, region: Region) -> Weather:
    """Give the weather with a wind field for the legs: a GeoTIFF of u and v, or a grid in degrees as a JSON object.

    Raises: BadInput when it cannot be used; BadArgument when the weather has a wind by height already.
    """
    field = wind_field_from_grid(given, region) if isinstance(given, dict) else read_wind_field(given, region)
    return replace(weather, wind_field=field)
