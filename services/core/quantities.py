"""Quantities as people type them ("300/18kt", "34C", "29.80inHg"), read into SI or refused with the fix."""

import re
from datetime import UTC, date, datetime, time, timedelta, timezone
from typing import get_args

from geo import pipeline
from geo.base.errors import BadArgument
from geo.base.units import HPA_PER_INHG, METRE_PER_FOOT, MS_PER_KMH, MS_PER_KNOT
from geo.records.conditions import Weather, WindProfile, WindReport, WindRow
from geo.records.extras import EndOfDay, LineWanted
from geo.records.region import Station

_NUMBER = r"([+-]?\d+(?:\.\d+)?)"
_SPEED_MS = {
    "kt": MS_PER_KNOT,
    "kn": MS_PER_KNOT,
    "m/s": 1.0,
    "ms": 1.0,
    "km/h": MS_PER_KMH,
    "kmh": MS_PER_KMH,
    "mps": 1.0,
}
_LENGTH_M = {"m": 1.0, "ft": METRE_PER_FOOT}
MOST_AIRCRAFT = 50


def _refuse(what: str, text: str, rule: str, cure: str) -> BadArgument:
    return BadArgument(f"{what} {text!r}: {rule}. Fix: {cure}")


def _read(
    what: str, text: str, pattern: str, cure: str, rule: str = "needs a number and a unit"
) -> re.Match[str]:
    """Give the parts of a quantity, in lower case. Raises: BadArgument where it has another form."""
    match = re.fullmatch(rf"\s*{pattern}\s*", text.lower())
    if match is None:
        raise _refuse(what, text, rule, cure)
    return match


def wind(text: str) -> tuple[float, float]:
    """Give wind_from_true_deg and wind_ms from "direction/speed unit", for example 300/18kt.

    Raises: BadArgument when the form, the unit or the range (0-360 deg, 0-60 m/s) is not met.
    """
    cure = "write where it blows FROM in degrees true, a slash, speed with unit: 300/18kt (kt, m/s, km/h)"
    match = _read("wind", text, rf"{_NUMBER}\s*/\s*{_NUMBER}\s*([a-z/]+)", cure, "not understood")
    direction, speed, unit = float(match[1]), float(match[2]), match[3]
    if unit not in _SPEED_MS:
        raise _refuse("wind", text, f"unit {unit!r} is not known", cure)
    if not 0.0 <= direction <= 360.0:
        raise _refuse("wind", text, "direction must be 0 to 360 degrees", cure)
    speed_ms = speed * _SPEED_MS[unit]
    if not 0.0 <= speed_ms <= 60.0:
        raise _refuse("wind", text, "speed must be 0 to 60 m/s (117 kt)", cure)
    return direction % 360.0, speed_ms


def wind_report(text: str) -> WindReport:
    """Give a wind as it was reported: "300/18kt", "300/18G35kt", "30018G35KT", "VRB05KT", "calm"; directions are true,
    magnetic where the direction ends in M: "300M/18kt".

    Raises: BadArgument when the form, the unit or a range (0-360 deg, 0-60 m/s, gust not below the mean) is not met.
    """
    cure = (
        "write where it blows FROM in degrees true (magnetic: 300M), a slash, speed with unit, gusts after G: "
        "300/18kt, 300/18G35kt, 30018G35KT, VRB/5kt or calm (kt, m/s, km/h)"
    )
    plain = text.strip().lower()
    if plain == "calm":
        return WindReport(0.0, 0.0)
    match = re.fullmatch(
        rf"(?:{_NUMBER}|vrb)(m|t|)\s*/\s*{_NUMBER}(?:\s*g\s*{_NUMBER})?\s*([a-z/]+)"
        r"|(?:(\d{3})|vrb)(m|t|)(\d{2,3})(?:g(\d{2,3}))?\s*(kt|mps|kmh)",
        plain,
    )
    if match is None:
        raise _refuse("wind", text, "not understood", cure)
    direction, north, mean, gust, unit = match.groups()[:5] if match[5] else match.groups()[5:]
    from_deg, speed_ms = wind(f"{direction or 0}/{mean}{unit}")
    gust_ms = None if gust is None else wind(f"0/{gust}{unit}")[1]
    if gust_ms is not None and gust_ms < speed_ms:
        raise _refuse("wind", text, "the gusts lie below the mean wind", cure)
    return WindReport(from_deg, speed_ms, gust_ms, direction is None and speed_ms > 0.0, north == "m")


def temperature_c(text: str) -> float:
    """Give degrees Celsius from "34C" or "93F"; a bare number is refused, because 93 could be either.

    Raises: BadArgument when there is no unit or the value lies outside -60 to 60 degrees Celsius.
    """
    match = _read("temperature", text, rf"{_NUMBER}\s*°?\s*([cf])", "write 34C or 93F")
    value = float(match[1])
    celsius = value if match[2] == "c" else (value - 32.0) / 1.8
    if not -60.0 <= celsius <= 60.0:
        raise _refuse(
            "temperature", text, f"{celsius:.0f} degC lies outside -60 to 60", "if it is Fahrenheit, write F"
        )
    return celsius


def qnh_hpa(text: str) -> float:
    """Give hectopascals from "1009", "1009hPa" or "29.80inHg".

    A bare number is hectopascals, the unit of most of the trade; a bare 20 to 35 is refused as likely inches.
    Raises: BadArgument outside 850 to 1100 hPa.
    """
    cure = "write 1009 or 1009hPa, or 29.80inHg"
    match = _read("QNH", text, rf"{_NUMBER}\s*(hpa|mb|inhg|in)?", cure, "not understood")
    value, unit = float(match[1]), match[2]
    if unit in ("inhg", "in"):
        value *= HPA_PER_INHG
    elif 20.0 <= value <= 35.0:
        raise _refuse("QNH", text, "looks like inches of mercury without a unit", cure)
    if not 850.0 <= value <= 1100.0:
        raise _refuse("QNH", text, f"{value:.0f} hPa lies outside 850 to 1100", cure)
    return value


def temperature_read(oat: str, station: str | None) -> tuple[str, str | None]:
    """Give the temperature and where it was read, from "34C@210m" or "34C@Airstrip", or from both apart.

    Raises: BadArgument when two places are given, or none after the "@".
    """
    value, given, place = oat.partition("@")
    cure = "write 34C@210m, or 34C with --station-elevation 210m (station_elevation)"
    if given and not place.strip():
        raise _refuse("temperature", oat, "no place follows the @", cure)
    if given and station is not None:
        raise _refuse("temperature", oat, f"the station is also given as {station!r}", cure)
    return value, place.strip() if given else station


def is_height(text: str) -> bool:
    """True for a number with metres or feet."""
    return re.fullmatch(rf"\s*{_NUMBER}\s*(m|ft)\s*", text.lower()) is not None


def length_m(text: str) -> float:
    """Give metres from "120m" or "400ft".

    Raises: BadArgument without a unit.
    """
    match = _read("height", text, rf"{_NUMBER}\s*(m|ft)", "write 120m or 400ft")
    return float(match[1]) * _LENGTH_M[match[2]]


def clock_time(text: str, day_given: date | None) -> datetime:
    """Give a moment from "15:30Z" or "15:30+10:00" on a day; the day is the date in that zone.

    Raises: BadArgument without a zone, without a day, or for no time of the clock.
    """
    cure = "write 15:30Z for UTC, or 15:30+10:00, with --day YYYY-MM-DD"
    form = r"(\d{1,2}):?(\d{2})\s*(?:(z)|([+-])(\d{1,2}):?(\d{2})?)"
    match = _read("time", text, form, cure, "needs hours, minutes and a zone")
    if day_given is None:
        raise _refuse("time", text, "needs a day", cure)
    hour, minute = int(match[1]), int(match[2])
    ahead = timedelta()
    if match[3] is None:
        ahead = timedelta(hours=int(match[5]), minutes=int(match[6] or 0)) * (1 if match[4] == "+" else -1)
    if hour > 23 or minute > 59 or abs(ahead) > timedelta(hours=14):
        raise _refuse("time", text, "is no time of the clock, or no zone on Earth", cure)
    return datetime(day_given.year, day_given.month, day_given.day, hour, minute, tzinfo=timezone(ahead))


def day_rule(text: str) -> EndOfDay:
    """Give the rule that ends the day from its words: sunset, sunset+30min (or sunset+30), civil dusk (or dusk).

    Raises: BadArgument for other words.
    """
    plain = re.sub(r"[\s_-]+", " ", text.strip().lower()).replace(" + ", "+").replace("30 min", "30min")
    rules: dict[str, EndOfDay] = {one: one for one in get_args(EndOfDay)}
    rules |= {"sunset+30": "sunset+30min", "dusk": "civil dusk"}
    if plain not in rules:
        raise _refuse("end of day", text, "not known", f"write {', '.join(get_args(EndOfDay))}")
    return rules[plain]


def asked_line(
    length: str | None, width: str | None, coverage: float | None, fuel_model: str | None
) -> LineWanted | None:
    """Give the line asked for; None where nothing of it is given.

    Raises: BadArgument when only a part is given, or a value cannot be used.
    """
    if length is None and width is None and coverage is None and fuel_model is None:
        return None
    if length is None or width is None:
        raise _refuse(
            "line", f"{length} by {width}", "needs a length and a width", "give --line 400m --width 18m"
        )
    return pipeline.line_wanted(length_m(length), length_m(width), coverage, fuel_model)


def fleet(text: str) -> tuple[str, ...]:
    """Give the aircraft of "heavy_tank_helicopter*2,light_bucket_helicopter", one entry each, in order.

    Raises: BadArgument for an empty entry, a count outside 1 to 50, or more than 50 aircraft.
    """
    cure = "write profiles with counts, separated by commas: heavy_tank_helicopter*2,light_bucket_helicopter"
    found: list[str] = []
    for part in text.split(","):
        match = re.fullmatch(r"\s*([^*,]*[^*,\s])\s*(?:\*\s*(\d{1,3}))?\s*", part)
        count = int(match[2] or 1) if match is not None else 0
        if match is None or not 1 <= count <= MOST_AIRCRAFT - len(found):
            raise _refuse(
                "fleet", text, f"entry {part!r}: needs a profile, 1 to {MOST_AIRCRAFT} in all", cure
            )
        found += [match[1]] * count
    return tuple(found)


def level(text: str) -> tuple[str, float]:
    """Give a water body's id or name and its level [m] from "BODY=212.4" (metres) or "BODY=696ft".

    Raises: BadArgument when the form or the unit is not understood.
    """
    body, sign, value = text.rpartition("=")
    cure = "write the water's id or name, =, its level: W04=212.4 (metres) or W04=696ft"
    if not sign or not body.strip():
        raise _refuse("level", text, "not understood", cure)
    if re.fullmatch(rf"\s*{_NUMBER}\s*", value):
        value = f"{value.strip()}m"
    try:
        return body.strip(), length_m(value)
    except BadArgument as error:
        raise _refuse("level", text, "needs a number, with m or ft", cure) from error


def wind_profile(text: str) -> WindProfile:
    """Give the wind by height from "power:0.14", "ground:300m=310/25kt,..." or "sea:5000ft=310/25kt,...".

    Raises: BadArgument when the form, a unit or a range is not met.
    """
    kind, _, rest = text.strip().lower().partition(":")
    cure = "write power:0.14, or ground: (or sea:) and rows: sea:3000ft=300/20kt,6000ft=310/30kt"
    if kind == "power" and re.fullmatch(_NUMBER, rest.strip()):
        return WindProfile(float(rest))
    if kind not in ("ground", "sea") or not rest:
        raise _refuse("wind profile", text, "not understood", cure)
    rows = []
    for part in rest.split(","):
        height, equals, blow = part.partition("=")
        if not equals:
            raise _refuse("wind profile", text, f"row {part!r} has no height=wind", cure)
        rows.append(WindRow(length_m(height), *wind(blow)))
    return WindProfile(rows=tuple(rows), above_ground=kind == "ground")


def weather(
    wind_text: str,
    oat_text: str,
    qnh_text: str,
    station: str | Station,
    day_text: str | None,
    wind_profile_text: str | None = None,
) -> Weather:
    """Give the day's weather from what was typed; station, a height with its unit or a station of the region.

    Raises: BadArgument for the first value that is not understood.
    """
    blown = wind_report(wind_text)
    height_m, name = (
        (station.elevation_m, station.name) if isinstance(station, Station) else (length_m(station), "")
    )
    return Weather(
        wind_from_true_deg=blown.from_deg,
        wind_ms=blown.speed_ms,
        gust_ms=blown.gust_ms,
        wind_variable=blown.variable,
        oat_c=temperature_c(oat_text),
        qnh_hpa=qnh_hpa(qnh_text),
        station_elevation_m=height_m,
        station=name,
        day=day(day_text) if day_text is not None else None,
        wind_profile=None if wind_profile_text is None else wind_profile(wind_profile_text),
    )


def end_of_day(text: str) -> datetime:
    """Give the end of a day in UTC from YYYY-MM-DD.

    Raises: BadArgument for anything else.
    """
    return datetime.combine(day(text), time(23, 59, 59), UTC)


def day(text: str) -> date:
    """Give a date from YYYY-MM-DD.

    Raises: BadArgument for anything else, other forms of ISO 8601 too: 20260131 may be another number.
    """
    cure = "write YYYY-MM-DD, for example 2026-01-31"
    if re.fullmatch(r"\d{4}-\d{2}-\d{2}", text, re.ASCII) is None:
        raise _refuse("day", text, "is no date in that form", cure)
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise _refuse("day", text, "is no date", cure) from error
