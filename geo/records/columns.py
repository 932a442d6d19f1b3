"""The columns of every exported layer: name, type, unit, meaning. Documents and files both read this, nothing else."""

from dataclasses import dataclass
from typing import Literal

Kind = Literal["text", "real", "whole"]


@dataclass(frozen=True)
class Column:
    """One column. unit "" means a plain text or count; an empty cell always means unknown or not applicable."""

    name: str
    kind: Kind
    unit: str
    meaning: str


def _columns(*rows: tuple[str, Kind, str, str]) -> tuple[Column, ...]:
    return tuple(Column(*row) for row in rows)


COLUMNS = _columns(
    ("rank", "whole", "", "place in the ranking, 1 is best; empty for a source that is left out"),
    ("body_id", "text", "", "the water body's stable id"),
    ("name", "text", "", "the water body's name"),
    ("kind", "text", "", "lake, reservoir, dam, pond, river, estuary, sea or unknown"),
    ("method", "text", "", "the fill method that the figures are for"),
    ("verdict", "text", "", "usable, survey first or not usable"),
    ("state", "text", "", "usable, survey first, or not usable or left out: what the map style shows"),
    ("score", "real", "0-100", "how well the water suits the method"),
    ("litres", "real", "L", "load that can be taken at each fill today"),
    (
        "litres_ruled_by",
        "text",
        "",
        "what limits the load: tank, run, hover payload, water load or site note",
    ),
    ("round_trip_s", "real", "s", "one cycle: the sum of the six times that follow"),
    ("fill_s", "real", "s", "filling"),
    ("manoeuvre_source_s", "real", "s", "approach and lift-off at the water"),
    ("loaded_leg_s", "real", "s", "flight from the water to the fire with the load, climb included"),
    ("drop_s", "real", "s", "the drop"),
    ("manoeuvre_fire_s", "real", "s", "manoeuvre at the fire"),
    ("empty_leg_s", "real", "s", "flight from the fire back to the water, climb included"),
    ("loads_per_hour", "real", "1/h", "loads in one hour without refuelling"),
    ("litres_per_hour", "real", "L/h", "water in one hour without refuelling"),
    ("loads_per_fuel", "whole", "", "whole loads per fuel cycle, with reserve and transits counted"),
    ("litres_per_fuel", "real", "L", "water per fuel cycle"),
    ("long_run_litres_per_hour", "real", "L/h", "water per hour with refuelling counted in"),
    ("best_share", "real", "0-1", "share of the certainty's samples in which the source is the best"),
    ("first_three_share", "real", "0-1", "share of the samples in which it is in the first three"),
    ("loads_available", "real", "", "loads that the water body holds before its level drops too far"),
    ("distance_m", "real", "m", "shortest distance from the drop point to the fill point on the ellipsoid"),
    ("distance_nmi", "real", "NM", "the same in nautical miles"),
    ("bearing_true_deg", "real", "deg true", "bearing of the fill point seen from the drop point"),
    ("bearing_magnetic_deg", "real", "deg magnetic", "the same against magnetic north at the drop point"),
    ("variation_deg", "real", "deg", "magnetic variation at the fill point on the day, east positive"),
    ("magnetic_note", "text", "", "why magnetic figures are missing, when they are"),
    ("loaded_leg_m", "real", "m", "distance flown with the load"),
    ("empty_leg_m", "real", "m", "distance flown empty"),
    ("safe_altitude_m", "real", "m above sea level", "highest point in both corridors plus clearance"),
    ("safe_altitude_ft", "real", "ft above sea level", "the same in feet"),
    ("highest_what", "text", "", "what sets that altitude"),
    ("position_ddm", "text", "deg, decimal min", "fill point, decimal minutes, latitude first, WGS 84"),
    ("longitude_deg", "real", "deg", "fill point, WGS 84, east positive"),
    ("latitude_deg", "real", "deg", "fill point, WGS 84, north positive"),
    ("elevation_m", "real", "m above sea level", "water surface"),
    ("elevation_ft", "real", "ft above sea level", "the same in feet"),
    ("density_altitude_m", "real", "m", "density altitude at the water"),
    ("density_altitude_ft", "real", "ft", "the same in feet"),
    ("temperature_c", "real", "degC", "air temperature at the water"),
    ("wind_from_true_deg", "real", "deg true", "where the wind blows from"),
    ("wind_kt", "real", "kt", "wind speed"),
    ("run_length_m", "real", "m", "length of the run that is flown, ram intake only"),
    ("run_heading_true_deg", "real", "deg true", "heading in which the run is flown"),
    ("run_heading_magnetic_deg", "real", "deg magnetic", "the same against magnetic north"),
    ("run_start_ddm", "text", "deg, decimal min", "start of the run as it is drawn"),
    ("run_end_ddm", "text", "deg, decimal min", "end of the run as it is drawn"),
    ("reason", "text", "", "why the source has its place, or why it is left out"),
    ("cautions", "text", "", "what to mind, separated by a bar"),
    ("other_methods", "text", "", "verdicts of the other fill methods"),
)

RUN_COLUMNS = _columns(
    ("rank", "whole", "", "place in the ranking of the source that the run is on"),
    ("body_id", "text", "", "the water body's stable id"),
    ("name", "text", "", "the water body's name"),
    ("length_m", "real", "m", "length of the run"),
    ("heading_true_deg", "real", "deg true", "heading in which the run is flown"),
    ("heading_magnetic_deg", "real", "deg magnetic", "the same against magnetic north"),
    ("start_ddm", "text", "deg, decimal min", "start of the run as it is drawn"),
    ("end_ddm", "text", "deg, decimal min", "end of the run as it is drawn"),
)

LEG_COLUMNS = _columns(
    ("rank", "whole", "", "place in the ranking of the source that the leg serves"),
    ("body_id", "text", "", "the water body's stable id"),
    ("name", "text", "", "the water body's name"),
    ("load", "text", "", "loaded (water to fire) or empty (fire to water)"),
    ("time_s", "real", "s", "flight time, climb included"),
    ("distance_m", "real", "m", "distance flown"),
    ("distance_nmi", "real", "NM", "the same in nautical miles"),
    ("climb_m", "real", "m", "height to be climbed"),
    ("safe_altitude_m", "real", "m above sea level", "highest point in the corridor plus the clearance"),
    ("safe_altitude_ft", "real", "ft above sea level", "the same in feet"),
    ("highest_what", "text", "", "what sets that altitude"),
    ("detour", "text", "", "yes where the leg goes round something, otherwise no"),
    ("cautions", "text", "", "what to mind, separated by a bar"),
)

WATER_COLUMNS = _columns(
    ("body_id", "text", "", "the water body's stable id"),
    ("name", "text", "", "the water body's name"),
    ("kind", "text", "", "lake, reservoir, dam, pond, river, estuary, sea or unknown"),
    ("verdict", "text", "", "verdict for the question asked; empty without a ranking"),
    ("state", "text", "", "usable, survey first, not usable or left out, not assessed: what the map shows"),
    ("area_m2", "real", "m2", "water surface without islands"),
    ("area_today_m2", "real", "m2", "water surface left at today's level; empty where unknown"),
    ("perimeter_m", "real", "m", "shoreline with islands"),
    ("shoreline_development", "real", "", "shoreline over that of a circle of the same area"),
    ("elevation_m", "real", "m above sea level", "water surface"),
    ("elevation_origin", "text", "", "where the elevation comes from, or why it is unknown"),
    ("level_change_m", "real", "m", "level today minus the level at which depths hold"),
    ("salinity_class", "text", "", "fresh, brackish or salt"),
    ("salinity_reason", "text", "", "what the salinity class rests on"),
    ("mean_depth_m", "real", "m", "mean depth"),
    ("volume_m3", "real", "m3", "volume"),
    ("longest_run_m", "real", "m", "longest straight run at the survey's corridor width"),
    ("longest_run_true_deg", "real", "deg true", "its heading as it is drawn; the reverse holds too"),
    ("run_depth_95_m", "real", "m", "depth exceeded on all of that run with probability 0.95"),
    ("hover_clear_radius_m", "real", "m", "clear radius at the best hover point"),
    ("hover_depth_95_m", "real", "m", "depth exceeded at the hover point with probability 0.95"),
    ("levels", "text", "", "how far the level may fall for 1 m and 2 m of water, separated by a bar"),
    ("next_sounding_ddm", "text", "deg, decimal min", "where to sound next; empty if nothing is uncertain"),
    ("next_sounding", "text", "", "what that sounding is for"),
    ("greatest_depth", "text", "", "range of the greatest depth of a water that nobody sounded; no evidence"),
    ("remarks", "text", "", "what the survey has to say, separated by a bar"),
)

SURVEY_RUN_COLUMNS = _columns(
    ("body_id", "text", "", "the water body's stable id"),
    ("name", "text", "", "the water body's name"),
    (
        "search",
        "text",
        "",
        "longest (of all headings), heading (longest in this one) or usable (to be flown)",
    ),
    ("length_m", "real", "m", "length of the run"),
    ("upper_bound_m", "real", "m", "no longer run exists; of a usable run: the run that it was cut from"),
    ("heading_true_deg", "real", "deg true", "heading as drawn; the reverse holds too"),
    ("corridor_width_m", "real", "m", "clear water kept across the run and, by half, beyond both ends"),
    ("depth_95_m", "real", "m", "depth exceeded on all of the run with probability 0.95"),
    ("depth_evidence", "text", "", "what the depth rests on, or why it is unknown"),
    ("start_excess_m", "real", "m", "height above the climb-out surface beyond the start; negative is clear"),
    ("end_excess_m", "real", "m", "the same beyond the end"),
    ("start_what", "text", "", "what stands beyond the start"),
    ("end_what", "text", "", "the same beyond the end"),
    ("usable_ahead_m", "real", "m", "longest run, usable length after obstacles, as drawn; 0 is none"),
    ("usable_back_m", "real", "m", "the same in the other direction"),
    ("limited_by", "text", "", "what limits these two lengths"),
)

HOVER_COLUMNS = _columns(
    ("body_id", "text", "", "the water body's stable id"),
    ("name", "text", "", "the water body's name"),
    ("clear_radius_m", "real", "m", "distance to the nearest shore or obstacle"),
    ("limited_by", "text", "", "what is nearest"),
    ("depth_95_m", "real", "m", "depth exceeded there with probability 0.95"),
    ("depth_evidence", "text", "", "what the depth rests on, or why it is unknown"),
    ("position_ddm", "text", "deg, decimal min", "degrees and decimal minutes, latitude first, WGS 84"),
)

SUPPLY_COLUMNS = _columns(
    ("number", "whole", "", "number of the stretch along the fire's edge, if the perimeter was asked for"),
    ("body_id", "text", "", "the best source for this stretch; empty where none can serve it"),
    ("name", "text", "", "its name"),
    ("method", "text", "", "the fill method that the figures are for"),
    ("length_m", "real", "m", "length of the stretch"),
    ("points", "whole", "", "places on the stretch to which the legs were flown"),
    ("least_round_trip_s", "real", "s", "shortest round trip to a place of the stretch"),
    ("mean_round_trip_s", "real", "s", "mean round trip"),
    ("most_round_trip_s", "real", "s", "longest round trip"),
    ("litres_per_hour", "real", "L/h", "water per hour at the worst place, refuelling not counted"),
    ("reason", "text", "", "why no source serves the stretch, where none does"),
)

QUESTION_COLUMNS = _columns(
    ("item", "text", "", "what was asked or assumed"),
    ("value", "text", "", "with which value"),
)

LAYERS: dict[str, tuple[Column, ...]] = {
    "ranked": COLUMNS,
    "runs": RUN_COLUMNS,
    "legs": LEG_COLUMNS,
    "water": WATER_COLUMNS,
    "survey_runs": SURVEY_RUN_COLUMNS,
    "hover_points": HOVER_COLUMNS,
    "supply": SUPPLY_COLUMNS,
    "question": QUESTION_COLUMNS,
}
