"""The survey of one water body: every part that can be computed, and a remark for every part that cannot."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from geo.base.errors import BadArgument
from geo.base.grid import Grid
from geo.records.chart import DepthChart
from geo.records.region import DepthGrid, Obstacle, RegionFrame, SalinityClass, Soundings, WaterBody
from geo.records.survey import BodySurvey, HoverPoint, Measure, SurveySettings
from geo.survey.body_runs import BodyRuns, RunSurveyor, computed
from geo.survey.clearance import Surroundings, surroundings
from geo.survey.depth.model import DepthModel, depth_model
from geo.survey.ground import WaterMask, ground_round
from geo.survey.hover_points import HoverSurveyor
from geo.survey.morphometry import Morphometry, morphometry
from geo.survey.outlook import level_outlooks, places, sounding_advice, unsounded_depth
from geo.survey.salinity import salinity_caution, salinity_class
from geo.survey.sectors import Horizon
from geo.survey.water_today import WaterToday, water_today

# Words in a vertical datum's name that say heights count from an ellipsoid, not from about mean sea level.
ELLIPSOIDAL_WORDS = ("ellips", "wgs 84", "wgs84", "itrf", "grs80", "grs 80")
# A water surface is level. A wider quartile range of the terrain over it means that the terrain is no water level.
LEVEL_SPREAD_M = 5.0


@dataclass(frozen=True, eq=False)
class RegionEvidence:
    """What the region knows beside the outline of one water body.

    terrain [m] in the region's plane with its 90 % error [m]; covered, the same cells with the trees on them [m], which
    the surfaces beyond a run's ends must clear; soundings, chart and obstacles of the whole region; obstacles_listed,
    whether a list of obstacles was given at all.
    """

    frame: RegionFrame
    settings: SurveySettings
    terrain: Grid | None = None
    terrain_error_m: float | None = None
    covered: Grid | None = None
    soundings: Soundings | None = None
    depth_grid: DepthGrid | None = None
    chart: DepthChart | None = None
    obstacles: Sequence[Obstacle] = ()
    obstacles_listed: bool = True


def survey_body(body: WaterBody, region: RegionEvidence) -> BodySurvey:
    """Give the survey of one water body.

    Returns: BodySurvey; lengths and areas in the region's plane [m, m2], headings true and grid [deg].
    Raises: BadArgument: the polygon has no area; a level or sounding is not finite; as_of is no date, or evidence is
    younger.

    Notes: A part that cannot be computed is None, and a remark says why; the other parts stand. Headings run from 0 to
    below 180 degrees, because a line and its reverse are the same run. The depth along a run is the least one in the
    middle 20 m of its corridor (or in all of a narrower one). Where the level has fallen, runs and hover point are
    looked for in the water that is left; depths stay those of the model of the old outline. A water whose longest run
    reaches least_useful_m gets usable_runs, which are the ones to judge.
    """
    shape = morphometry(body.polygon)
    remarks: list[str] = []
    day = as_of_day(region.settings)
    model = depth_model(body, region.soundings, region.depth_grid, day, region.chart)
    today = water_today(model, remarks)
    elevation, around = _place(body, today, region, remarks)
    surveyor = RunSurveyor(model, today, region.frame, around) if today.water is not None else None
    runs = surveyor.runs(remarks) if surveyor is not None else BodyRuns()
    hovers = _hovers(surveyor, remarks) if surveyor is not None else ()
    hover = hovers[0] if hovers else None
    asked = places(runs.longest, runs.usable, hover, region.settings)
    salinity, salinity_reason = _salinity(body, elevation, region.frame, day)
    remarks += _notes(body, shape, day)
    return BodySurvey(
        body_id=body.body_id,
        name=body.name,
        kind=body.kind,
        area_m2=shape.area_m2,
        perimeter_m=shape.perimeter_m,
        shoreline_development=shape.shoreline_development,
        surface_elevation_m=elevation,
        level_change_m=_level_change(body),
        salinity_class=salinity,
        salinity_reason=salinity_reason,
        longest_run=runs.longest,
        heading_runs=runs.fan,
        hover_point=hover,
        volume_m3=_volume(body, model),
        mean_depth_m=model.mean_depth(),
        obstacles_listed=region.obstacles_listed,
        usable_runs=runs.usable,
        area_today_m2=today.area_m2,
        water_today=today.water if today.moved else None,
        level_outlooks=computed("levels", remarks, lambda: level_outlooks(model, asked)) or (),
        next_sounding=computed("next sounding", remarks, lambda: sounding_advice(model, asked)),
        greatest_depth=unsounded_depth(model, region.terrain, elevation.value),
        further_hover_points=hovers[1:],
        remarks=tuple(remarks),
    )


def _notes(body: WaterBody, shape: Morphometry, day: date | None) -> list[str]:
    """Remark on evidence of salinity too old for the day, and on islands."""
    stale = salinity_caution(body.kind, body.salinity, day)
    notes = [stale] if stale else []
    if shape.island_count > 0:
        notes.append(
            f"{shape.island_count} island(s) with {shape.island_perimeter_m:.0f} m of shore are left out of area and "
            "perimeter"
        )
    return notes


def _place(
    body: WaterBody, today: WaterToday, region: RegionEvidence, remarks: list[str]
) -> tuple[Measure, Surroundings]:
    """Give the surface elevation, and what stands round the water."""
    terrain, error_m = region.terrain, region.terrain_error_m
    mask = WaterMask(body.polygon, terrain) if terrain is not None else None
    elevation = surface_elevation(body, region.frame, mask)
    if elevation.value is None:
        remarks.append(f"surface elevation unknown: {elevation.origin}")
    elif mask is not None and body.surface_elevation_m is not None:
        remarks.extend(_strange_level(body, body.surface_elevation_m, mask, error_m or 0.0))
    # The bank that fell dry is land, as high as the terrain has it: the old level where it was measured full.
    water = today.water if today.water is not None else body.polygon
    ground = ground_round(water, terrain, elevation.value, error_m, region.covered)
    return elevation, surroundings(ground, region.obstacles, region.obstacles_listed, region.settings)


def _strange_level(body: WaterBody, stated_m: float, mask: WaterMask, error_m: float) -> list[str]:
    """Remark on a stated level far from the terrain over the water, today or at the level of the shoreline."""
    levels = mask.heights_m(mask.WATER)
    if levels.size == 0 or body.kind in ("sea", "estuary"):
        return []
    terrain_m = float(np.median(levels))
    # The terrain may have been measured before the level changed.
    held_m = (stated_m, stated_m - (body.level_change_m or 0.0))
    if min(abs(terrain_m - level_m) for level_m in held_m) <= LEVEL_SPREAD_M + error_m:
        return []
    return [
        f"stated surface elevation {stated_m:.1f} m, but the terrain has {terrain_m:.1f} m over this water: check the "
        "level, its unit and its datum"
    ]


def surface_elevation(body: WaterBody, frame: RegionFrame, mask: WaterMask | None) -> Measure:
    """Give the elevation of the water surface [m] with its origin, or None with the reason.

    Notes: in this order: stated; sea and estuary at 0 where the vertical datum is not ellipsoidal (the tide does not
    count; common practice, no source); the median of the terrain cells wholly in the water, which a few bad cells
    do not move; for a water smaller than that, the median of the cells on its shore.
    """
    if body.surface_elevation_m is not None:
        return Measure(float(body.surface_elevation_m), f"stated: {body.level_origin or body.origin}")
    datum = frame.vertical_datum
    if body.kind in ("sea", "estuary") and not any(word in datum.lower() for word in ELLIPSOIDAL_WORDS):
        return Measure(0.0, f"{body.kind}: taken as 0 m of {datum}; the tide is not counted")
    if mask is None:
        return Measure(None, "no level was stated and no terrain was given")
    for cover, where in ((WaterMask.WATER, "in the water"), (WaterMask.SHORE, "on its shore")):
        levels = mask.heights_m(cover)
        if levels.size:
            low, middle, high = np.percentile(levels, (25, 50, 75))
            if high - low > LEVEL_SPREAD_M and cover == WaterMask.WATER:
                return Measure(None, _not_level(float(low), float(high), levels.size))
            return Measure(float(middle), f"median of {levels.size} terrain cell(s) {where}")
    return Measure(None, "no level was stated and the terrain has no value at this water")


def _not_level(low_m: float, high_m: float, count: int) -> str:
    return (
        f"no level was stated, and the terrain over this water is not level (the middle half of its {count} cells "
        f"spans {low_m:.1f} to {high_m:.1f} m, more than {LEVEL_SPREAD_M:.0f} m apart): state surface_elevation"
    )


def _hovers(surveyor: RunSurveyor, remarks: list[str]) -> tuple[HoverPoint, ...]:
    today, horizon = surveyor.today, Horizon(surveyor.around, surveyor.skyline)
    measured = HoverSurveyor(surveyor.water, surveyor.model, lambda: surveyor.deep, horizon)
    points = computed("hover point", remarks, measured.points)
    if not points:
        remarks.append("no hover point: obstacles cover the whole water")
        return ()
    return tuple(replace(point, depth=today.with_shore_unknown(point.depth)) for point in points)


def _salinity(
    body: WaterBody, elevation: Measure, frame: RegionFrame, day: date | None
) -> tuple[SalinityClass | None, str]:
    """Give the salinity class and its reason; heights above an ellipsoid say nothing of the sea."""
    above_sea = not any(word in frame.vertical_datum.lower() for word in ELLIPSOIDAL_WORDS)
    height_m = elevation.value if above_sea else None
    try:
        return salinity_class(body.kind, body.salinity, elevation_m=height_m, as_of=day)
    except BadArgument as problem:
        return None, f"unknown: {problem}"


def _level_change(body: WaterBody) -> Measure:
    change_m, origin = body.level_change_m, body.level_origin
    if change_m is None:
        return Measure(None, origin or "no current level was given beside the level at which depths hold")
    return Measure(float(change_m), origin or body.origin)


def _volume(body: WaterBody, model: DepthModel) -> Measure:
    if body.volume_m3 is not None:
        return Measure(float(body.volume_m3), f"stated: {body.origin}")
    return model.volume()


def as_of_day(settings: SurveySettings) -> date | None:
    """Give the day for which evidence is aged, from the setting as_of; None without it.

    Raises: BadArgument for a text that is no date.
    """
    if settings.as_of is None:
        return None
    try:
        return date.fromisoformat(settings.as_of)
    except ValueError as problem:
        raise BadArgument(f"as_of {settings.as_of!r} is no date. Fix: write YYYY-MM-DD") from problem
