"""What the sun allows: the end of the day by the authority's rule, the last load before it, and glare along a run."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from astral import Observer, SunDirection
from astral.sun import time_of_transit, zenith_and_azimuth

from geo.base.errors import BadArgument
from geo.base.positions import true_and_magnetic
from geo.records.extras import Daylight, EndOfDay, SourceDaylight
from geo.records.ranking import RankedSource

# The sun's centre, without refraction: Explanatory Supplement to the Astronomical Almanac.
CIVIL_TWILIGHT_DEG = -6.0
# The sun dazzles from the horizon up to this height and this far to either side: common practice, no source.
GLARE_HEIGHT_DEG = 20.0
GLARE_SIDE_DEG = 30.0
SET_DEG = -0.833  # upper limb on the horizon with mean refraction: almanacs' sunset, 50 minutes of arc
# Of the usual rules the one that ends the day first; what counts where neither question nor profile names a rule.
EARLIEST_RULE: EndOfDay = "sunset"
NO_WAY_HOME = "unknown: no flight home is known. Fix: name the base in region.toml ([base])"
MOST_LOADS = 1_000  # a day of the shortest round trips holds fewer
_HILLS = "over a level horizon; hills make it dark sooner"


@dataclass(frozen=True)
class _Rule:
    """The sun's height that a rule names [deg], and how long after it the day still lasts."""

    sun_deg: float
    after: timedelta
    words: str


RULES: dict[EndOfDay, _Rule] = {
    "sunset": _Rule(SET_DEG, timedelta(), "sunset"),
    # Common in fire contracts and in flying rules that let the night begin half an hour after sunset (from memory).
    "sunset+30min": _Rule(SET_DEG, timedelta(minutes=30), "30 minutes after sunset"),
    "civil dusk": _Rule(CIVIL_TWILIGHT_DEG, timedelta(), "the end of civil twilight"),
}


@dataclass(frozen=True)
class DayAsked:
    """The day or moment that is asked about, the rule that ends it, who set the rule, and where the base is [deg]."""

    day: date
    at: datetime | None = None
    rule: EndOfDay = EARLIEST_RULE
    rule_origin: str = "the earliest of the usual rules, because neither question nor profile names one"
    base_deg: tuple[float, float] | None = None


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


def end_of_day(
    longitude_deg: float, latitude_deg: float, day: date, rule: EndOfDay
) -> tuple[datetime | None, str]:
    """Give the end of the day by a rule in UTC, rounded down to the second, or None; and the reason in words.

    Parameters: position WGS 84 [deg]; day as the date at the place, by local mean time; the end of a bright day may
    come after that day's midnight.
    Raises: BadArgument for a position off the Earth.
    Notes: sunset is the sun's centre at -0.833 deg (semidiameter 16', mean refraction 34'), civil dusk at -6 deg
    without refraction, as almanacs define them; the library's own `dusk` would add refraction and be 12 s late at the
    equator, minutes near the poles. None where the sun stays above that height all night, or below it even at noon.
    Within 2 s of a bisection of the sun's height up to 60 deg of latitude, 15 s at 70 deg.
    References: Explanatory Supplement to the Astronomical Almanac, section 9.3 (from memory).
    """
    limit = RULES[rule]
    low = "sets" if limit.sun_deg == SET_DEG else f"sinks {-limit.sun_deg:.0f} degrees below the horizon"
    noon = datetime(day.year, day.month, day.day, 12, tzinfo=UTC)
    noon -= timedelta(hours=_eastern(longitude_deg) / 15.0)
    if sun(longitude_deg, latitude_deg, noon)[0] <= limit.sun_deg:
        up = "does not rise" if limit.sun_deg == SET_DEG else "stays more than 6 degrees below the horizon"
        return None, f"the sun {up} on {day}: no daylight at all"
    place = Observer(latitude_deg, _eastern(longitude_deg), 0.0)
    try:
        sunk = time_of_transit(place, day, 90.0 - limit.sun_deg, SunDirection.SETTING, with_refraction=False)
    except ValueError:
        return None, f"it stays light all night after {day}: the sun never {low}"
    return (sunk + limit.after).replace(microsecond=0), f"{limit.words} {_HILLS}"


def civil_dusk(longitude_deg: float, latitude_deg: float, day: date) -> tuple[datetime | None, str]:
    """Give the end of evening civil twilight in UTC, or None; and the reason: `end_of_day`.

    Raises: BadArgument for a position off the Earth.
    """
    return end_of_day(longitude_deg, latitude_deg, day, "civil dusk")


def day_at(longitude_deg: float, when: datetime) -> date:
    """Give the date at a longitude by its local mean time."""
    return (when.astimezone(UTC) + timedelta(hours=_eastern(longitude_deg) / 15.0)).date()


def _eastern(longitude_deg: float) -> float:
    """Give a longitude within -180 to 180 deg."""
    return (longitude_deg + 180.0) % 360.0 - 180.0


def glare(
    heading_true_deg: float,
    sun_elevation_deg: float,
    sun_azimuth_deg: float,
    variation_deg: float | None = None,
) -> str:
    """Give the caution for flying a heading towards a low sun; empty where there is none.

    Notes: from sunset (-0.833 deg) up to 20 deg of height and within 30 deg of the heading: common practice, no source.
    """
    aside = abs((sun_azimuth_deg - heading_true_deg + 180.0) % 360.0 - 180.0)
    if not (SET_DEG <= sun_elevation_deg <= GLARE_HEIGHT_DEG and aside <= GLARE_SIDE_DEG):
        return ""
    return (
        f"low sun ahead on the run: {sun_elevation_deg:.0f} degrees high, {aside:.0f} degrees off heading "
        f"{true_and_magnetic(heading_true_deg, variation_deg)}: glare hides the surface and wires"
    )


def daylight(
    sources: Sequence[RankedSource], longitude_deg: float, latitude_deg: float, asked: DayAsked
) -> Daylight:
    """Give the end of the day and, per source, the last load before it, the loads left and glare.

    Parameters: the fire's position WGS 84 [deg]; asked, whose `at` has its zone, or is None for no time: then neither
    loads left nor glare is said. All times come back in the zone of `at`, else in UTC.
    Raises: BadArgument for a time without a zone.

    Notes: the last load is dropped and the aircraft is on the ground at the base by the end of the day, at the fire or
    at the base, whichever is sooner: last load start = end - fill - manoeuvre at the water - loaded leg - manoeuvre at
    the fire - drop - flight home. Without a base that is unknown. Loads left: the first fill begins at the time asked
    with full tanks of fuel, each further tank costs the flights from and to the base and the refuelling; no more than
    the water holds, and none in the dark.
    """
    fire = (longitude_deg, latitude_deg)
    height, azimuth = (None, None) if asked.at is None else sun(*fire, asked.at)
    end, reason, dark = _end(fire, asked)
    dusk = _next_end(fire, asked.day, asked.at, "civil dusk")[0]
    if asked.at is not None:
        dark = dark or not _lit(fire, asked.at, asked.rule)
        end, dusk = (None if one is None else one.astimezone(asked.at.tzinfo) for one in (end, dusk))
    told = tuple(_of(source, end, asked, dark, (height, azimuth)) for source in sources)
    rule = asked.rule, asked.rule_origin
    return Daylight(dusk, reason, asked.at, height, azimuth, told, end, *rule)


def _end(fire: tuple[float, float], asked: DayAsked) -> tuple[datetime | None, str, bool]:
    """Give the end of the day at fire or base, whichever is sooner, why, and whether the sun does not rise at all."""
    end, reason = _next_end(fire, asked.day, asked.at, asked.rule)
    if asked.base_deg is not None and end is not None:
        at_base, why = _next_end(asked.base_deg, asked.day, asked.at, asked.rule)
        if at_base is None and "no daylight" in why:
            return None, f"{why}, at the base", True
        if at_base is not None and at_base < end:
            return at_base, f"{why}; at the base, where it is sooner than at the fire", False
    return end, reason, end is None and "no daylight" in reason


def _next_end(
    place: tuple[float, float], day: date, at: datetime | None, rule: EndOfDay
) -> tuple[datetime | None, str]:
    """Give the end of the day that is asked for: after midnight of a bright night still that of the day before."""
    if at is not None:
        before = end_of_day(*place, day - timedelta(days=1), rule)
        if before[0] is not None and before[0] >= at:
            return before
    return end_of_day(*place, day, rule)


def _lit(place: tuple[float, float], at: datetime, rule: EndOfDay) -> bool:
    """True between the morning's and the evening's limit of a rule, which lie as far from sunrise as from sunset."""
    limit = RULES[rule]
    around = (at - limit.after, at, at + limit.after)
    return any(sun(*place, one)[0] > limit.sun_deg for one in around)


def _of(
    source: RankedSource,
    end: datetime | None,
    asked: DayAsked,
    dark: bool,
    sun_at: tuple[float | None, float | None],
) -> SourceDaylight:
    height_deg, azimuth_deg = sun_at
    heading_deg, dazzled = source.assessment.run_heading_true_deg, ""
    if height_deg is not None and azimuth_deg is not None and heading_deg is not None:
        dazzled = glare(heading_deg, height_deg, azimuth_deg, source.conditions.variation_deg)
    named = source.body_id, source.name
    none_left = 0 if dark and asked.at is not None else None
    home_s = None if source.transit_from is None else source.transit_from.time_s
    if end is None or home_s is None:
        note = NO_WAY_HOME if end is not None else ""
        return SourceDaylight(*named, None, None, none_left, dazzled, home_s, note)
    cycle = source.cycle
    load_s = cycle.fill_s + cycle.manoeuvre_source_s + cycle.loaded_leg.time_s
    load_s += cycle.manoeuvre_fire_s + cycle.drop_s
    last = end - timedelta(seconds=math.ceil(load_s + home_s))
    left = none_left
    if asked.at is not None and not dark:
        left = _loads_left(source, (last - asked.at).total_seconds())
    return SourceDaylight(*named, last, last, left, dazzled, home_s)


def _loads_left(source: RankedSource, spare_s: float) -> int:
    """Give how many fills can begin within a time [s], the first at once; each tank of fuel costs its refuelling."""
    fuel, trip_s = source.fuel, source.cycle.round_trip_s
    held = source.assessment.loads_available
    most = math.inf if held is None else math.floor(held)
    # A stop leaves out the empty leg back to the water and flies to the base and from there instead.
    stop_s = fuel.transit_from_s + fuel.refuel_turn_s + fuel.transit_to_s - source.cycle.empty_leg.time_s
    begun, begins_s = 0, 0.0
    while begun < min(most, MOST_LOADS) and fuel.loads > 0 and begins_s <= spare_s + 1e-6:
        begun += 1
        begins_s += trip_s + (stop_s if begun % fuel.loads == 0 else 0.0)
    return begun
