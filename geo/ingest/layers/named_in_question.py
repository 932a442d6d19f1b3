"""What a question names, read in a region: its fire, where loads are dropped, the wind of the legs by place."""

from dataclasses import replace
from pathlib import Path

from geo.base.errors import BadArgument
from geo.ingest.layers.drawn import flank_from_geojson, read_flank
from geo.ingest.layers.fires import fire_from_geojson, fire_of_region, read_fire
from geo.ingest.layers.wind_field import read_wind_field, wind_field_from_grid
from geo.records.conditions import Weather
from geo.records.extras import Target
from geo.records.region import Fire, Region

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


def in_wind_field(weather: Weather, given: Path | dict, region: Region) -> Weather:
    """Give the weather with a wind field for the legs: a GeoTIFF of u and v, or a grid in degrees as a JSON object.

    Raises: BadInput when it cannot be used; BadArgument when the weather has a wind by height already.
    """
    field = wind_field_from_grid(given, region) if isinstance(given, dict) else read_wind_field(given, region)
    return replace(weather, wind_field=field)
