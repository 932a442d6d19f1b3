"""The sheet of a ranking: what was asked, the first ten waters, the map, the cautions, the version."""

import re
from collections import Counter

from geo.base.errors import BadArgument
from geo.base.positions import degrees_minutes, duration_text, true_and_magnetic
from geo.base.unit_system import TRADE, UnitSystem
from geo.export.drawing.canvas import map_axes
from geo.export.drawing.ranking_map import LISTED, draw_ranking_map
from geo.export.layers.ranked_layer import wind_text
from geo.export.place_text import distance_between, variation
from geo.export.sheets.paper import TYPE_SIZES_PT, one_page, picture, picture_address
from geo.export.subjects import fire_of
from geo.records.conditions import UNIFORM_WIND
from geo.records.extras import Daylight, Extras
from geo.records.file_formats import Paper
from geo.records.geographic_shapes import geographic
from geo.records.ranking import RankedSource, Ranking
from geo.records.region import Fire, Region

MAP_HEIGHT_IN = {"A4": 6.5, "Letter": 5.3}
MAP_KEY = (
    "Number: rank. Five corners: a fill station. Filled: usable and ranked; slanting hatch: survey first; crossed "
    "hatch: not usable or left out. Crosses: the fire. Full black line: leg with the load; dashed: leg back, "
    "drawn beside it (first three). Pale line in a water: run of a ram intake. Three-armed mark or dotted line: "
    "mast or wire. Grid north is up."
)
WARNING = (
    "Advice only: the pilot in command decides. Look before the first fill. Wires may be missing from the data; levels "
    "change; local rules apply. An important unknown keeps a water off the list; any other is named."
)


CAUTIONS_SHOWN = 2  # beside a source; the rest is counted


def ranking_sheet(
    region: Region,
    ranking: Ranking,
    further: Extras | None = None,
    fire: Fire | None = None,
    *,
    paper: Paper = "A4",
    units: UnitSystem = TRADE,
    version: str = "",
    changed: str = "",
) -> bytes:
    """Give the sheet of a ranking as a PDF of one page.

    Parameters: fire, where it is not one of the region's; version, words on when and as what the answer is kept;
    changed, words where the region is no longer what the ranking was made from: they stand on the sheet, and the
    region is then the background of its map alone.
    Raises: BadArgument when region and ranking are not of one input and nothing says so, or for another paper.
    """
    if region.fingerprint != ranking.survey_fingerprint and not changed:
        raise BadArgument(
            f"region and ranking are not of one input ({region.fingerprint}, {ranking.survey_fingerprint}): rank again"
        )
    fire = fire or fire_of(region, ranking)
    certain, common = {}, _commonness(ranking)
    if further is not None and further.certainty is not None:
        certain = {one.body_id: one.best for one in further.certainty.sources}
    foot = (version, f"input {ranking.survey_fingerprint[:12]}", "positions WGS 84", units.sentences)
    values = {
        "title": f"Water for {ranking.fire_name}",
        "aircraft": ranking.aircraft,
        "asked": _asked(ranking, units),
        "warning": WARNING,
        "changed": changed,
        "beside": _beside(further),
        "rows": [_row(one, region, units, ranking, certain, common) for one in ranking.sources[:LISTED]],
        "left_out": _left_out(ranking),
        "map": _map(region, ranking, fire, paper),
        "map_key": MAP_KEY,
        "cautions": ranking.cautions,
        "foot": "; ".join(part for part in foot if part),
        "roomy": True,
    }
    return one_page("ranking.html", values, paper, [(lambda: {"roomy": False}, TYPE_SIZES_PT[-1])])


def _asked(ranking: Ranking, units: UnitSystem) -> list[str]:
    weather = ranking.weather
    read_at = units.height.text(weather.station_elevation_m) + (
        f" ({weather.station})" if weather.station else ""
    )
    return [
        f"wind {wind_text(weather, units)}, QNH {units.pressure.text(weather.qnh_hpa)}",
        *_legs_wind(ranking),
        f"{units.temperature.text(weather.oat_c)} at {read_at}",
        "no date given: all closures count" if weather.day is None else f"closures in force on {weather.day}",
        f"loads go to {ranking.assumptions.get('drop point', 'a place that was not stated')}",
        ranking.region_name,
    ]


def _legs_wind(ranking: Ranking) -> list[str]:
    """Say in which wind the legs were flown where it is another than that at the waters."""
    words = ranking.assumptions.get("wind", UNIFORM_WIND)
    return [] if words == UNIFORM_WIND else [f"legs in another wind: {words}"]


def _light(daylight: Daylight) -> str:
    """Say when the day ends, and when the last load of the first source begins."""
    if daylight.end is None:
        return f"End of the day: {daylight.reason}."
    said = f"The day ends {daylight.end:%Y-%m-%d %H:%M %Z} ({daylight.rule})."
    for first in daylight.sources[:1]:
        last = first.last_load_start
        begins = (
            first.note if last is None else f"begins {last:%H:%M} at the latest, to be on the ground by then"
        )
        said += f" The last load from {first.name} {begins}."
    return said


def _beside(further: Extras | None) -> list[str]:
    """Say what was answered beside the order: the daylight left, the line."""
    found = []
    if further is not None and further.daylight is not None:
        found.append(_light(further.daylight))
    if further is not None and further.line is not None and further.line.sources:
        first = further.line.sources[0]
        time = f"time UNKNOWN: {first.note}" if first.time_s is None else duration_text(first.time_s)
        wanted = further.line.wanted
        found.append(
            f"Line {wanted.length_m:,.0f} m x {wanted.width_m:,.0f} m at coverage level {wanted.level:g}: "
            f"{further.line.litres:,.0f} L; from {first.name} {first.loads} loads, {time}."
        )
    return found


def _kind(caution: str) -> str:
    """Give a caution without its figures: what it warns of."""
    return re.sub(r"\d[\d,.:-]*", "#", caution)


def _commonness(ranking: Ranking) -> Counter[str]:
    """Count how many of the ranked sources carry a caution of each kind."""
    return Counter(kind for one in ranking.sources for kind in {_kind(text) for text in one.cautions})


def _specific_first(cautions: tuple[str, ...], common: Counter[str]) -> list[str]:
    """Order cautions: those of the fewest sources first; what is to be mended in the files is not for a crew."""
    return sorted(cautions, key=lambda text: ("Fix: " in text, common[_kind(text)]))


def _row(
    source: RankedSource,
    region: Region,
    units: UnitSystem,
    ranking: Ranking,
    certain: dict[str, float],
    common: Counter[str],
) -> dict:
    best = certain.get(source.body_id)
    place = geographic(source.fill_point, region.frame)
    line = distance_between(source.drop_point, source.fill_point, region.frame)
    method = source.assessment.way
    heading = source.assessment.run_heading_true_deg
    more = len(source.cautions) - CAUTIONS_SHOWN
    partial = "" if source.assessment.litres_ruled_by == "tank" else " *"
    shown = _specific_first(source.cautions, common)[:CAUTIONS_SHOWN]
    shown += [f"and {more} more"] if more > 0 else []
    variation_deg, _ = variation(place, ranking.weather.compass_day)
    return {
        "rank": source.rank,
        "name": source.name,
        "method": method if heading is None else f"{method}, run {true_and_magnetic(heading, variation_deg)}",
        "place": degrees_minutes(place.x, place.y),
        "distance": units.distance.text(line.distance_m),
        "bearing": true_and_magnetic(line.start_bearing_deg, variation_deg),
        "round_trip": duration_text(source.cycle.round_trip_s),
        "load": units.volume.text(source.cycle.litres) + partial,
        "hour": units.volume.text(source.cycle.litres_per_hour),
        "loads": source.fuel.loads,
        "sustained": units.volume.text(source.fuel.sustained_litres_per_hour),
        "best": "" if best is None else f"{best:.0%}",
        "caution": "; ".join(shown),
    }


def _left_out(ranking: Ranking) -> str:
    more = len(ranking.sources) - LISTED
    survey = sum(one.verdict == "survey first" for one in ranking.excluded)
    parts = [f"{more} more are ranked." if more > 0 else ""]
    if ranking.unrefined_count:
        parts.append(f"{ranking.unrefined_count} were not evaluated: none of them can make the list.")
    parts.append(f"{len(ranking.excluded)} waters are left out, {survey} of them until they are surveyed.")
    hours = [one.fuel.hours for one in ranking.sources[:LISTED] if one.fuel.hours is not None]
    over = f"over {min(hours):g} h" if hours else "over one fuel cycle with refuelling"
    parts.append(
        f"Loads: of one tank of fuel, as far as the water holds. Sustained: {over}; the order is by it. "
        "*\u00a0A partial load. Best: share of 1,000 samples of wind, times, depth and unsourced aircraft figures in "
        "which it comes first."
    )
    return " ".join(part for part in parts if part)


def _map(region: Region, ranking: Ranking, fire: Fire | None, paper: Paper) -> str:
    figure = picture(MAP_HEIGHT_IN.get(paper, 5.3))
    draw_ranking_map(map_axes(figure, 0.0, 0.0, 1.0, 1.0), region, ranking, fire)
    return picture_address(figure)
