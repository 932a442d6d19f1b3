"""What the sun allows: the end of civil twilight, the last fill before it, and glare along a run."""

import math
from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta

from astral import Observer, SunDirection
from astral.sun import time_of_transit, zenith_and_azimuth

from geo.base.errors import BadArgument
from geo.records.extras import Daylight, SourceDaylight
from geo.records.ranking import RankedSource

# The sun's centre, without refraction: Explanatory Supplement to the Astronomical Almanac.
CIVIL_TWILIGHT_DEG = -6.0
# The sun dazzles from the horizon up to this height and this far to either side: common practice, no source.
GLARE_HEIGHT_DEG = 20.0
GLARE_SIDE_DEG = 30.0
SET_DEG = -0.833  # upper limb on the horizon with mean refraction


def sun(longitude_deg: float, latitude_deg: float, when: datetime) -> tuple[float, float]:
    """Give the sun's elevation (centre, no refraction) and true azimuth [deg] at a place and time.

    Parameters: position WGS 84 [deg]; when with its time zone.
    Raises: BadArgument for a time without a zone, or a position off the Earth.
    Notes: low-precision solar theory, about 0.01 deg from 1950 to 2050.
    """
    if when.tzinfo is None:
        raise BadArgument(
            f"time {when} has no zone. Fix: give it in UTC (15:30Z) or with its offset (+10:00)"
        )
    if not (-90.0 <= latitude_deg <= 90.0 and math.isfinite(longitude_deg)):
        raise BadArgument(
            f"position {longitude_deg}, {latitude_deg} is not on the Earth. Fix: longitude, latitude"
        )
    zenith_deg, azimuth_deg = zenith_and_azimuth(
        Observer(latitude_deg, _eastern(longitude_deg), 0.0), when.astimezone(UTC), with_refraction=False
    )
    return 90.0 - zenith_deg, azimuth_deg % 360.0


def civil_dusk(longitude_deg: float, latitude_deg: float, day: date) -> tuple[datetime | None, str]:
    """Give the end of evening civil twilight in UTC, rounded up to the second, or None; and the reason in words.

    Parameters: position WGS 84 [deg]; day as the date at the place, by local mean time; the dusk of a bright night may
    come after that day's midnight.
    Raises: BadArgument for a position off the Earth.
    Notes: the sun's centre at -6 deg without refraction, as almanacs define it; the library's own `dusk` would add
    refraction and be 12 s late at the equator, minutes near the poles. None where the sun stays above -6 deg all night,
    or below it even at noon. Within 2 s of a bisection of the sun's height up to 60 deg of latitude, 15 s at 70 deg.
    References: Explanatory Supplement to the Astronomical Almanac, section 9.3 (from memory).
    """
    noon = datetime(day.year, day.month, day.day, 12, tzinfo=UTC)
    noon -= timedelta(hours=_eastern(longitude_deg) / 15.0)
    if sun(longitude_deg, latitude_deg, noon)[0] <= CIVIL_TWILIGHT_DEG:
        return None, f"the sun stays more than 6 degrees below the horizon on {day}: no daylight at all"
    place = Observer(latitude_deg, _eastern(longitude_deg), 0.0)
    zenith_deg = 90.0 - CIVIL_TWILIGHT_DEG
    try:
        dusk = time_of_transit(place, day, zenith_deg, SunDirection.SETTING, with_refraction=False)
    except ValueError:
        return None, f"twilight lasts all night after {day}: the sun never sinks 6 degrees below the horizon"
    whole = (dusk + timedelta(microseconds=999_999)).replace(microsecond=0)
    return whole, "the sun's centre 6 degrees below a level horizon; hills make it dark sooner"


def day_at(longitude_deg: float, when: datetime) -> date:
    """Give the date at a longitude by its local mean time."""
    return (when.astimezone(UTC) + timedelta(hours=_eastern(longitude_deg) / 15.0)).date()


def _eastern(longitude_deg: float) -> float:
    """Give a longitude within -180 to 180 deg."""
    return (longitude_deg + 180.0) % 360.0 - 180.0


def glare(heading_true_deg: float, sun_elevation_deg: float, sun_azimuth_deg: float) -> str:
    """Give the caution for flying a heading towards a low sun; empty where there is none.

    Notes: from sunset (-0.833 deg) up to 20 deg of height and within 30 deg of the heading: common practice, no source.
    """
    aside = abs((sun_azimuth_deg - heading_true_deg + 180.0) % 360.0 - 180.0)
    if not (SET_DEG <= sun_elevation_deg <= GLARE_HEIGHT_DEG and aside <= GLARE_SIDE_DEG):
        return ""
    return (
        f"low sun ahead on the run: {sun_elevation_deg:.0f} degrees high, {aside:.0f} degrees off heading "
        f"{round(heading_true_deg) % 360:03d}: glare hides the surface and wires"
    )


def daylight(
    sources: Sequence[RankedSource],
    longitude_deg: float,
    latitude_deg: float,
    day: date,
    asked_at: datetime | None = None,
) -> Daylight:
    """Give the end of civil twilight at the fire and, per source, the last fill before it and glare.

    Parameters: the fire's position WGS 84 [deg]; day at the place; asked_at with its zone, None for no time: then
    neither loads left nor glare is said. All times come back in the zone of asked_at, else in UTC.
    Raises: BadArgument for a time without a zone.

    Notes: last fill start = dusk - fill; last load start = dusk - fill - manoeuvre - loaded leg - drop. The way home,
    refuelling and the law's own end of day are not counted. Loads left: no more than the water holds, and none before
    dawn or after dusk.
    """
    dusk, reason = civil_dusk(longitude_deg, latitude_deg, day)
    height = azimuth = None
    if asked_at is not None:
        height, azimuth = sun(longitude_deg, latitude_deg, asked_at)
        dusk = dusk.astimezone(asked_at.tzinfo) if dusk is not None else None
    told = tuple(_of(source, dusk, asked_at, height, azimuth) for source in sources)
    return Daylight(dusk, reason, asked_at, height, azimuth, told)


def _of(
    source: RankedSource,
    dusk: datetime | None,
    asked_at: datetime | None,
    height_deg: float | None,
    azimuth_deg: float | None,
) -> SourceDaylight:
    cycle, dazzled = source.cycle, ""
    if height_deg is not None and azimuth_deg is not None:
        heading_deg = source.assessment.run_heading_true_deg
        dazzled = glare(heading_deg, height_deg, azimuth_deg) if heading_deg is not None else ""
    if dusk is None:
        return SourceDaylight(source.body_id, source.name, None, None, None, dazzled)
    load_s = cycle.fill_s + cycle.manoeuvre_source_s + cycle.loaded_leg.time_s + cycle.drop_s
    last_load = dusk - timedelta(seconds=math.ceil(load_s))
    last_fill = dusk - timedelta(seconds=math.ceil(cycle.fill_s))
    left = None
    if asked_at is not None:
        spare_s = (last_load - asked_at).total_seconds()
        dark = height_deg is not None and height_deg <= CIVIL_TWILIGHT_DEG
        left = 0 if dark or spare_s < 0.0 else 1 + math.floor(spare_s / cycle.round_trip_s + 1e-9)
        held = source.assessment.loads_available
        left = left if held is None else min(left, math.floor(held))
    return SourceDaylight(source.body_id, source.name, last_fill, last_load, left, dazzled)
