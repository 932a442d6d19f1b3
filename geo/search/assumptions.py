"""What a ranking assumes of its region, in words: a page of `geo/pipeline.py`."""

from geo.flight.winds import wind_words
from geo.records.aircraft import AircraftProfile
from geo.records.conditions import Weather
from geo.records.extras import Target
from geo.records.region import TALLEST_TREE_M, UNSTATED_CANOPY_ERROR_M, Region
from geo.search.drop_points import words as target_words


def _tree_words(region: Region) -> str:
    if region.canopy is None:
        return "not in the figures, unless the terrain is one of tree tops: no canopy was given"
    error_m = region.canopy_error_m if region.canopy_error_m is not None else UNSTATED_CANOPY_ERROR_M
    stated = "as stated" if region.canopy_error_m is not None else "counted because none is stated"
    return (
        f"as the canopy has them, with {error_m:.1f} m of error {stated}, within the terrain error; where it is "
        f"unknown, ends of runs are unknown and legs pass over trees of {TALLEST_TREE_M:.0f} m"
    )


def _heading_words(weather: Weather) -> str:
    if weather.compass_day is None:
        return "true (T); not magnetic, because no day was given"
    which = "" if weather.day is not None else ", today, because no day was given"
    return f"true (T), and magnetic (M) by the World Magnetic Model 2025 on {weather.compass_day}{which}"


def assumed(region: Region, profile: AircraftProfile, weather: Weather, target: Target) -> dict[str, str]:
    """Give what a ranking of this region assumes beside what every ranking does, as topic -> sentence."""
    error = region.terrain_error_m
    return {
        "drop point": f"{target_words(target)}, {profile.drop_height_m:.0f} m above the ground",
        "clearance": f"{profile.ground_clearance_m:.0f} m over ground and obstacles"
        + f" plus {region.counted_terrain_error_m:.1f} m terrain error"
        + (
            " as stated" if error is not None else ", counted because none is stated (from memory, no source)"
        ),
        "trees": _tree_words(region),
        "temperature": f"{weather.oat_c:.1f} degC read at {weather.read_at}, 6.5 K less per km above",
        "climb": "the profile's rate at density altitude 0, falling in a straight line to 100 ft/min at its ceiling",
        "routes": "straight, or the quickest found round no-fly areas and high ground (sought every 200 m or wider)",
        "routes from and to the base": "straight or round no-fly areas; where that is barred, a plain way round it",
        "wind": wind_words(weather)
        + ("; its direction varies, so legs are flown against it both ways" if weather.wind_variable else ""),
        "headings": _heading_words(weather),
        "closures": "all listed closures" if weather.day is None else f"closures in force on {weather.day}",
        "base": _base_words(region),
    }


def _base_words(region: Region) -> str:
    names = [base.name for base in region.refuel_places]
    if not names:
        return "no base given: transit counts 0"
    if len(names) == 1:
        return f"refuels at {names[0]}"
    return f"each source refuels where it delivers most: {', '.join(names[:-1])} or {names[-1]}"
