"""What it takes to build a wanted line: litres, loads and time from each ranked source."""

import math
import re
from collections.abc import Sequence

from geo.base.errors import BadArgument
from geo.ranking.extras.coverage import (
    AVERAGE_CAUTION,
    GROUND_SHARE,
    SHARE_CAUTION,
    Recommendation,
    line_of_load_m,
    litres_for_line,
    litres_to_drop,
    loads_for_line,
    recommended_levels,
)
from geo.records.drop_run import DropRun
from geo.records.extras import LineBuild, LineWanted, SourceBuild
from geo.records.ranking import RankedSource

ABOVE_CAUTION = (
    "the table asks for more than this level for the fuel: litres, loads and times are the least you need"
)


def line_wanted(
    length_m: float, width_m: float, level: float | None = None, fuel_model: str | None = None
) -> LineWanted:
    """Give the line asked for, its coverage level given or recommended for a fuel model.

    Parameters: length_m, width_m [m]; level [US gal/100 ft2] or fuel_model: an NFDRS letter, a fire-behaviour model
    of 1 to 13, or both ("F5"); one of the two.
    Raises: BadArgument with both or neither, for a model that no row fits, or that fits rows of different levels.
    """
    if (level is None) == (fuel_model is None):
        raise BadArgument(
            f"coverage level {level}, fuel model {fuel_model}: a line needs one of the two. "
            "Fix: give the coverage level, or the fuel model to look it up"
        )
    origin = "the level asked for"
    if fuel_model is not None:
        row = _recommended(fuel_model)
        above = "more than " if row.above else ""
        level = row.level
        origin = f"{above}{row.level:g} for {row.description} (fuel model {fuel_model}): {row.source}"
    assert level is not None
    litres_for_line(length_m, level, width_m)  # refuses what is not finite and above 0
    return LineWanted(length_m, width_m, level, origin)


def _recommended(fuel_model: str) -> Recommendation:
    match = re.fullmatch(r"\s*([A-Za-z]?)\s*(\d{0,2})\s*", fuel_model)
    if match is None or not (match[1] or match[2]):
        raise BadArgument(
            f"fuel model {fuel_model!r} is not understood. "
            "Fix: give an NFDRS letter, a fire-behaviour model of 1 to 13, or both: F5"
        )
    rows = recommended_levels(match[1] or None, int(match[2]) if match[2] else None)
    if len({(row.level, row.above) for row in rows}) > 1:
        told = "; ".join(
            f"{'/'.join(row.nfdrs)}{row.fire_behaviour} {row.description}: "
            f"{'more than ' if row.above else ''}{row.level:g}"
            for row in rows
        )
        raise BadArgument(
            f"fuel model {fuel_model!r} fits rows of different levels: {told}. "
            "Fix: give letter and number together, or the coverage level itself"
        )
    return rows[0]


def build_line(wanted: LineWanted, sources: Sequence[RankedSource], drop: DropRun | None = None) -> LineBuild:
    """Give the litres of a line and, for each ranked source, its loads and the time to build it.

    Parameters: drop, how the loads are dropped at the line's level and width; None where the profile does not tell.
    Raises: BadArgument as `litres_for_line`.

    Notes: n = ceil(length / line of one load), see `line_of_load_m`; time = n x round trip - the last empty leg + stops
    x (transit from + refuelling + transit to), stops = ceil(n / loads per fuel cycle) - 1, the first tank full; as in
    the fuel plan a stop does not save its empty leg. A water that holds fewer loads gets no time.
    """
    size = wanted.length_m, wanted.level, wanted.width_m
    cautions: tuple[str, ...] = (SHARE_CAUTION,)
    if "fuel model" in wanted.level_origin:
        cautions += (AVERAGE_CAUTION,)
        if wanted.level_origin.startswith("more than"):
            cautions += (ABOVE_CAUTION,)
    built = tuple(_from_source(wanted, one, drop) for one in sources)
    return LineBuild(
        wanted, litres_for_line(*size), built, cautions, litres_to_drop(*size), GROUND_SHARE, drop
    )


def _from_source(wanted: LineWanted, source: RankedSource, drop: DropRun | None) -> SourceBuild:
    cycle, fuel = source.cycle, source.fuel
    of_load_m = line_of_load_m(wanted.level, wanted.width_m, cycle.litres, drop)
    loads = loads_for_line(wanted.length_m, of_load_m)
    run_m = None if drop is None else drop.ground_speed_ms * cycle.drop_s
    lengths = of_load_m, cycle.drop_s, run_m, source.assessment.agent
    held = source.assessment.loads_available
    if held is not None and math.floor(held) < loads:
        note = f"the water holds {math.floor(held)} of the {loads} loads, then it is too shallow"
        return SourceBuild(source.body_id, source.name, cycle.litres, loads, None, None, note, *lengths)
    stops = math.ceil(loads / fuel.loads) - 1
    stop_s = fuel.transit_from_s + fuel.refuel_turn_s + fuel.transit_to_s
    time_s = loads * cycle.round_trip_s - cycle.empty_leg.time_s + stops * stop_s
    note = "on one tank of fuel"
    if stops:
        note = f"{stops} refuelling stop{'s' if stops > 1 else ''} of {stop_s / 60.0:.0f} min included"
    return SourceBuild(source.body_id, source.name, cycle.litres, loads, stops, time_s, note, *lengths)
