"""What a region holds, in short."""

from typing import Any

from geo.ingest.layers.aircraft import profile_names
from geo.records.region import Region
from geo.records.site_status import unplaced


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
        "aircraft": list(profile_names()),
        "cautions": [*(fault.sentence() for fault in region.cautions), *unplaced(region.sites)],
    }
