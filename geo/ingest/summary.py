"""What a region holds, in short."""

from dataclasses import asdict
from typing import Any

from geo.base.errors import BadArgument
from geo.ingest.layers.aircraft import profile_names
from geo.ingest.layers.named_in_question import station
from geo.records.region import Region
from geo.records.site_status import unplaced


def _station(region: Region) -> dict[str, Any] | None:
    """Give where the day's temperature is read unless a question says otherwise; None where nothing is known."""
    try:
        return asdict(station(None, region))
    except BadArgument:
        return None


def summary(region: Region) -> dict[str, Any]:
    """Give what a region holds: counts, datum, fires, aircraft and the cautions of its input."""
    return {
        "name": region.name,
        "vertical_datum": region.frame.vertical_datum,
        "centre": [region.frame.centre_longitude_deg, region.frame.centre_latitude_deg],
        "input_fingerprint": region.fingerprint,
        "water_bodies": len(region.bodies),
        "soundings": len(region.soundings) if region.soundings is not None else 0,
        "depth_contours": len(region.chart.contours) if region.chart is not None else 0,
        "depth_areas": len(region.chart.areas) if region.chart is not None else 0,
        "terrain": region.terrain is not None,
        "canopy": region.canopy is not None,
        "obstacles": len(region.obstacles) if region.obstacles_listed else None,
        "closures": len(region.closures),
        "sites": len(region.sites),
        "fires": [{"fire_id": one.fire_id, "name": one.name} for one in region.fires],
        "station": _station(region),
        "aircraft": list(profile_names()),
        "cautions": [*(fault.sentence() for fault in region.cautions), *unplaced(region.sites)],
    }
